"""A small part of the hostile corpus, fuzzed openers, and the mistakes that both have found.

The whole corpus: `python -m tests.hostile.run --count 2000`. Many more fuzzed cases:
`pytest tests/hostile --hypothesis-profile=fuzz` (5 000 of each).
"""

from __future__ import annotations

import io
import os
import sys
import zipfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.hostile import corpus
from tests.hostile.check import answer_to, put
from tests.hostile.corpus import Case, case
from tests.stand_in import StandInReader
from ui.order_files import OrderFileError, read_order_bytes
from vision.errors import PhotoUnreadable
from vision.sources import Found, expand, shown


@pytest.mark.usefixtures("reader")
@pytest.mark.parametrize("index", range(16))
def test_each_family_is_accounted_for(index: int, tmp_path: Path) -> None:
    """Three files of each family but the bombs, which take seconds."""
    for round_ in range(3):
        made = case(index + round_ * len(corpus.FAMILIES))
        answer = answer_to(made, put(made, tmp_path))
        assert answer.readings + len(answer.errors) >= 1


def test_the_corpus_is_the_same_every_time() -> None:
    assert case(23) == case(23)
    assert case(23) != case(23, seed=1)
    assert {case(i).is_order for i in range(16)} == {True, False}


@pytest.mark.usefixtures("reader")
def test_a_harmed_archive_hides_no_sound_photo(tmp_path: Path) -> None:
    """A member without a name stopped the whole batch: ZipInfo.is_dir() fails on it."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        nameless = zipfile.ZipInfo("x")
        nameless.filename = ""
        made.writestr(nameless, b"")
        made.writestr("good.jpg", corpus.photos()["plain.jpg"])
    made_case = Case(name="a.zip", data=out.getvalue())
    assert answer_to(made_case, put(made_case, tmp_path)).readings == 1


@pytest.mark.usefixtures("reader")
def test_a_member_packed_by_lzma_and_damaged_stops_nothing(tmp_path: Path) -> None:
    """The unpacker's own LZMAError came through."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_LZMA) as made:
        made.writestr("bad.jpg", corpus.photos()["plain.bmp"])
        made.writestr("good.jpg", corpus.photos()["plain.jpg"])
    data = bytearray(out.getvalue())
    data[60:80] = bytes(20)
    made_case = Case(name="a.zip", data=bytes(data))
    answer = answer_to(made_case, put(made_case, tmp_path))
    assert (answer.readings, answer.errors) == (1, ("damaged_source",))


@pytest.mark.skipif(sys.platform != "linux", reason="other systems refuse such names")
@pytest.mark.usefixtures("reader")
def test_a_name_that_is_no_text_stops_nothing(tmp_path: Path) -> None:
    """A name in Latin-1, as old cameras and disks have them, could not be printed."""
    name = os.fsdecode("bögen.jpg".encode("latin-1"))
    made = Case(name=name, data=corpus.photos()["plain.jpg"])
    assert answer_to(made, put(made, tmp_path)).readings == 1


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("колено 3.jpg", "колено 3.jpg"),
        ("عکس‌ها.jpg", "عکس‌ها.jpg"),  # its zero-width non-joiner is spelling
        ("a\x1b[31m\nb.jpg", "a�[31m�b.jpg"),
        ("\u202egpj.exe", "�gpj.exe"),
        ("\udce4.jpg", "�.jpg"),
    ],
)
def test_names_are_shown_without_what_works_a_terminal(name: str, expected: str) -> None:
    assert shown(name) == expected


def test_a_workbook_packed_in_an_odd_way_is_named() -> None:
    """The archive's own NotImplementedError came through."""
    data = bytearray(corpus.workbook())
    at = data.rindex(b"PK\1\2")
    data[at + 10 : at + 12] = b"\x63\0"
    with pytest.raises(OrderFileError, match=r"order\.xlsx: not an Excel workbook"):
        read_order_bytes(bytes(data), "order.xlsx")


def is_order_or_named_error(data: bytes) -> bool:
    """Whether it has lines, or the error begins with the file's name; any other error comes out."""
    try:
        return bool(read_order_bytes(data, "order.x").results)
    except OrderFileError as error:
        return str(error).startswith("order.x")


@given(st.binary(max_size=2000))
def test_any_bytes_are_an_order_or_a_named_error(data: bytes) -> None:
    assert is_order_or_named_error(data)


@given(st.text(max_size=400), st.sampled_from(["utf-8", "utf-16", "utf-16-le", "cp1252", "gbk"]))
def test_any_text_below_a_heading_is_an_order_or_a_named_error(text: str, encoding: str) -> None:
    assert is_order_or_named_error(
        f"Fitting,Size,Schedule,Material\n{text}".encode(encoding, errors="replace")
    )


def harmed(sound: bytes) -> st.SearchStrategy[bytes]:
    """A sound file with up to six bytes changed, and perhaps cut."""

    def change(places: list[tuple[int, int]], cut: int) -> bytes:
        out = bytearray(sound)
        for place, value in places:
            out[place] = value
        return bytes(out[:cut])

    place = st.tuples(st.integers(0, len(sound) - 1), st.integers(0, 255))
    whole_or_cut = st.just(len(sound)) | st.integers(0, len(sound))
    return st.builds(change, st.lists(place, min_size=1, max_size=6), whole_or_cut)


@given(harmed(corpus.workbook()))
def test_a_harmed_workbook_is_an_order_or_a_named_error(data: bytes) -> None:
    assert is_order_or_named_error(data)


def sound_archive() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name in ("plain.jpg", "still.gif"):
            made.writestr(name, corpus.photos()[name])
    return out.getvalue()


def is_accounted_for(each: Found, name: str) -> bool:
    """Whether a photo of the file gives a reading or an error, one of them, or is a named error."""
    if isinstance(each.content, bytes):
        outcome = StandInReader().read_bytes(each.content, each.name)
        return (outcome.reading is None) != (outcome.error is None)
    return isinstance(each.content, PhotoUnreadable) and each.content.message.startswith(name)


def all_accounted_for(name: str, data: bytes) -> bool:
    found = list(expand(name, data))
    return bool(found) and all(is_accounted_for(each, name) for each in found)


@given(harmed(sound_archive()))
def test_a_harmed_archive_gives_photos_or_named_errors(data: bytes) -> None:
    assert all_accounted_for("a.zip", data)


@given(st.integers(0, 2**32 - 1))
def test_a_harmed_document_gives_photos_or_named_errors(seed: int) -> None:
    rng = corpus.np.random.default_rng([1, seed])
    assert all_accounted_for("d.pdf", corpus.document(rng).data)


@given(st.sampled_from(sorted(corpus.photos())).flatmap(lambda n: harmed(corpus.photos()[n])))
def test_a_harmed_photo_is_read_or_gives_a_named_error(data: bytes) -> None:
    assert all_accounted_for("p.jpg", data)
