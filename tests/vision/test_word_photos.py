"""Word documents: a .docx is a ZIP whose parts and relations are those of ECMA-376 (Office Open
XML), parts 1 (17.3.3.9, 20.1.8.13) and 2, written out here by hand."""

from __future__ import annotations

import io
import tracemalloc
import zipfile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.stand_in import encoded, picture
from vision import errors, sources, word_photos
from vision.sources import Found, expand

RED = encoded(picture(red=250))
DARK = encoded(picture(red=20))
ICON = encoded(picture()[:20, :20], "PNG")

_NAMESPACES = (
    'xmlns:w="http://schemas.openxmlformats.org/wordprocessingml/2006/main" '
    'xmlns:a="http://schemas.openxmlformats.org/drawingml/2006/main" '
    'xmlns:v="urn:schemas-microsoft-com:vml" '
    'xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"'
)


def words(text: str) -> str:
    return f"<w:p><w:r><w:t>{text}</w:t></w:r></w:p>"


def drawing(relation: str) -> str:
    return f'<w:p><w:r><w:drawing><a:blip r:embed="{relation}"/></w:drawing></w:r></w:p>'


def old_drawing(relation: str) -> str:
    return f'<w:p><w:r><w:pict><v:imagedata r:id="{relation}"/></w:pict></w:r></w:p>'


def docx(body: str, relations: dict[str, str], members: dict[str, bytes]) -> bytes:
    """A .docx with that body; `relations` is relation → target as it stands in the .rels part."""
    links = "".join(
        f'<Relationship Id="{key}" Type="image" Target="{target}"/>'
        for key, target in relations.items()
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(
            "word/document.xml", f"<w:document {_NAMESPACES}><w:body>{body}</w:body></w:document>"
        )
        archive.writestr("word/_rels/document.xml.rels", f"<Relationships>{links}</Relationships>")
        for name, data in members.items():
            archive.writestr(name, data)
    return out.getvalue()


REPORT = docx(
    words("Loading photos, piece E-104")
    + drawing("rId9")
    + drawing("rId2")
    + words("Piece T-7, both ends")
    + old_drawing("rId5")
    + drawing("rId9")
    + drawing("rId8")
    + words("End of report"),
    {
        "rId2": "media/image1.png",
        "rId9": "media/image2.jpeg",
        "rId5": "/word/media/image3.jpeg",
        "rId8": "media/drawing.emf",
    },
    {
        "word/media/image1.png": ICON,
        "word/media/image2.jpeg": RED,
        "word/media/image3.jpeg": DARK,
        "word/media/drawing.emf": b"vectors",
        "word/media/logo.jpeg": RED,  # of a header: no relation of the body's names it
    },
)


def test_pictures_come_in_the_order_of_the_text_each_once_without_icons_and_logos() -> None:
    found = list(expand("yard report.docx", REPORT))
    assert [(each.name, each.content) for each in found] == [
        ("yard report.docx!picture 1", RED),
        ("yard report.docx!picture 3", DARK),
    ]


def test_the_words_beside_a_picture_come_with_it() -> None:
    first, second = expand("yard report.docx", REPORT)
    assert (first.above, first.below) == ("Loading photos, piece E-104", "Piece T-7, both ends")
    assert (second.above, second.below) == ("Piece T-7, both ends", "End of report")


def test_a_document_without_photographs_says_so() -> None:
    (found,) = expand("a.docx", docx(words("No photos today"), {}, {}))
    assert isinstance(found.content, errors.NoPhotosInside)


@pytest.mark.parametrize(
    "body",
    [
        "<w:p>",  # not closed
        '<!DOCTYPE x [<!ENTITY a "aaaa">]>',
    ],
)
def test_a_damaged_document_gives_its_named_error(body: str) -> None:
    (found,) = expand("a.docx", docx(body, {"rId1": "media/a.jpg"}, {"word/media/a.jpg": RED}))
    assert isinstance(found.content, errors.DamagedSource)


def test_an_archive_that_is_no_word_document_gives_its_named_error() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("a.jpg", RED)
    (found,) = expand("a.docx", out.getvalue())
    assert isinstance(found.content, errors.DamagedSource)


def test_a_body_that_unpacks_to_too_much_is_not_unpacked(monkeypatch: pytest.MonkeyPatch) -> None:
    data = docx(words("a" * 40_000_000), {}, {})
    monkeypatch.setattr(word_photos, "MAX_TEXT_BYTES", 1_000_000)
    tracemalloc.start()
    (found,) = expand("a.docx", data)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert isinstance(found.content, errors.DamagedSource)
    assert peak < 10_000_000


def test_entities_are_refused_before_they_are_followed() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("word/_rels/document.xml.rels", "<Relationships/>")
        archive.writestr("word/document.xml", '<!DOCTYPE d [<!ENTITY a "aaaa">]><d><t>&a;</t></d>')
    (found,) = expand("a.docx", out.getvalue())
    assert isinstance(found.content, errors.DamagedSource)
    assert "entities" in str(found.content)


def test_a_document_is_limited_like_an_archive(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sources, "MAX_ARCHIVE_PHOTOS", 1)
    first, second = expand("a.docx", REPORT)
    assert first.content == RED
    assert isinstance(second.content, errors.SourceTooLarge)


@given(st.integers(0, len(REPORT) - 1), st.integers(1, 255))
def test_one_wrong_byte_never_ends_in_anything_but_photos_or_our_errors(
    place: int, change: int
) -> None:
    data = bytearray(REPORT)
    data[place] ^= change
    found = list(expand("a.docx", bytes(data)))
    assert found
    assert all(isinstance(each, Found) for each in found)
    assert all(isinstance(each.content, bytes | errors.PhotoUnreadable) for each in found)
