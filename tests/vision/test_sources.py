from __future__ import annotations

import io
import tracemalloc
import zipfile
import zlib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfWriter
from pypdf.generic import DecodedStreamObject, DictionaryObject, NameObject, NumberObject

from tests.stand_in import encoded, picture
from vision import errors, sources
from vision.photo import open_photo
from vision.sources import expand, find_photos, photo_count

JPEG = encoded(picture(), quality=95)


def zipped(members: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return out.getvalue()


def kinds(paths: list[Path]) -> list[tuple[str, str]]:
    return [
        (found.name, "bytes" if isinstance(found.content, bytes) else found.content.kind)
        for found in find_photos(paths)
    ]


def test_a_folder_is_walked_in_sorted_order_and_other_files_are_passed_over(tmp_path: Path) -> None:
    for name in ("b/2.JPG", "a.jpg", "b/1.png", "c.txt", ".hidden.jpg", "b/.git/x.jpg"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(JPEG)
    assert [name for name, _ in kinds([tmp_path])] == ["a.jpg", "b/1.png", "b/2.JPG"]
    assert photo_count([tmp_path, tmp_path / "a.jpg"]) == 4


def test_what_is_missing_takes_its_place_in_the_stream(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(JPEG)
    (tmp_path / "empty").mkdir()
    paths = [tmp_path / "no.jpg", tmp_path / "empty", tmp_path / "no.zip", tmp_path / "a.jpg"]
    assert [kind for _, kind in kinds(paths)] == ["not_found", "no_photos", "not_found", "bytes"]


def test_two_files_of_one_name_are_told_apart(tmp_path: Path) -> None:
    paths = [tmp_path / "x" / "a.jpg", tmp_path / "y" / "a.jpg", tmp_path / "b.jpg"]
    for path in paths:
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(JPEG)
    assert [name for name, _ in kinds(paths)] == [str(paths[0]), str(paths[1]), "b.jpg"]


def test_an_archive_gives_its_pictures_and_writes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "lot.zip"
    path.write_bytes(
        zipped({"in/b.jpg": JPEG, "../a.png": JPEG, "note.txt": b"", "__MACOSX/._b.jpg": b""})
    )
    assert kinds([path]) == [("lot.zip!../a.png", "bytes"), ("lot.zip!in/b.jpg", "bytes")]
    assert list(tmp_path.iterdir()) == [path]
    assert photo_count([path]) is None


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (b"no archive at all", "damaged_source"),
        (zipped({"a.txt": b"x"}), "no_photos"),
        (zipped({"a.jpg": JPEG})[:-30], "damaged_source"),
    ],
)
def test_a_bad_archive_gives_its_named_error(data: bytes, kind: str) -> None:
    (found,) = expand("lot.zip", data)
    assert isinstance(found.content, errors.SourceUnreadable)
    assert found.content.kind == kind


def test_a_damaged_member_costs_only_itself() -> None:
    data = bytearray(zipped({"a.jpg": JPEG, "b.jpg": JPEG}))
    data[60] ^= 0xFF
    first, second = expand("lot.zip", bytes(data))
    assert isinstance(first.content, errors.DamagedSource)
    assert second.content == JPEG


def test_archives_are_limited_in_bytes_and_number(monkeypatch: pytest.MonkeyPatch) -> None:
    data = zipped({f"{index}.jpg": b"\0" * 1000 for index in range(5)})
    monkeypatch.setattr(sources, "MAX_FILE_BYTES", 999)
    assert {f.content.kind for f in expand("z.zip", data)} == {"too_large"}  # type: ignore[union-attr]
    monkeypatch.setattr(sources, "MAX_FILE_BYTES", 1000)
    monkeypatch.setattr(sources, "MAX_ARCHIVE_PHOTOS", 2)
    *taken, last = expand("z.zip", data)
    assert len(taken) == 2
    assert isinstance(last.content, errors.SourceTooLarge)
    monkeypatch.setattr(sources, "MAX_ARCHIVE_PHOTOS", 99)
    monkeypatch.setattr(sources, "MAX_ARCHIVE_BYTES", 2500)
    *taken, last = expand("z.zip", data)
    assert len(taken) == 3
    assert isinstance(last.content, errors.SourceTooLarge)


def test_a_member_that_unpacks_to_too_much_is_not_unpacked(monkeypatch: pytest.MonkeyPatch) -> None:
    data = zipped({"a.jpg": bytes(60_000_000)})
    monkeypatch.setattr(sources, "MAX_FILE_BYTES", 1_000_000)
    tracemalloc.start()
    (found,) = expand("z.zip", data)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert isinstance(found.content, errors.PictureTooLarge)
    assert peak < 10_000_000


def test_the_photographs_in_a_document_are_found() -> None:
    first, second = expand("papers.pdf", document([jpeg_in_pdf(250), plain_in_pdf(20)]))
    assert (first.name, second.name) == (
        "papers.pdf!page 1 picture 1",
        "papers.pdf!page 2 picture 1",
    )
    assert first.content == encoded(picture(red=250), quality=95)  # the very JPEG put in
    for found, red in ((first, 250), (second, 20)):
        assert isinstance(found.content, bytes)
        pixels = open_photo(found.content, found.name).pixels
        assert np.abs(pixels.astype(int) - picture(red=red)).mean() < 4


def test_a_document_picture_in_an_odd_form_is_refused_by_name() -> None:
    odd = plain_in_pdf(20)
    odd[NameObject("/BitsPerComponent")] = NumberObject(4)
    (found,) = expand("papers.pdf", document([odd]))
    assert isinstance(found.content, errors.UnsupportedPicture)


def test_a_document_without_photographs_says_so() -> None:
    small = plain_in_pdf(20)
    small[NameObject("/Width")] = NumberObject(30)
    (found,) = expand("papers.pdf", document([small]))
    assert isinstance(found.content, errors.NoPhotosInside)


def in_pdf(data: bytes, compression: str) -> DecodedStreamObject:
    stream = DecodedStreamObject()
    stream._data = data
    stream.update(
        {
            NameObject("/Type"): NameObject("/XObject"),
            NameObject("/Subtype"): NameObject("/Image"),
            NameObject("/Width"): NumberObject(320),
            NameObject("/Height"): NumberObject(240),
            NameObject("/ColorSpace"): NameObject("/DeviceRGB"),
            NameObject("/BitsPerComponent"): NumberObject(8),
            NameObject("/Filter"): NameObject(compression),
        }
    )
    return stream


def jpeg_in_pdf(red: int) -> DecodedStreamObject:
    return in_pdf(encoded(picture(red=red), quality=95), "/DCTDecode")


def plain_in_pdf(red: int) -> DecodedStreamObject:
    return in_pdf(zlib.compress(picture(red=red).tobytes()), "/FlateDecode")


def document(pictures: list[DecodedStreamObject]) -> bytes:
    writer = PdfWriter()
    for image in pictures:
        page = writer.add_blank_page(300, 200)
        images = DictionaryObject({NameObject("/Im0"): writer._add_object(image)})
        page[NameObject("/Resources")] = DictionaryObject({NameObject("/XObject"): images})
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


@pytest.mark.parametrize("data", [b"%PDF-1.7 and nothing", b"no document"])
def test_a_bad_document_gives_its_named_error(data: bytes) -> None:
    (found,) = expand("papers.pdf", data)
    assert isinstance(found.content, errors.SourceUnreadable)


@given(st.sampled_from(["a.zip", "a.pdf", "a.jpg"]), st.binary(max_size=400))
def test_any_bytes_give_photos_or_our_errors(name: str, data: bytes) -> None:
    for found in expand(name, data):
        assert isinstance(found.content, bytes | errors.PhotoUnreadable)
