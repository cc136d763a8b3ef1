from __future__ import annotations

import io
from pathlib import Path

import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from pypdf import PdfReader

from fittings.words import ADVISORY
from tests.stand_in import encoded, picture
from ui.reports import as_pdf, as_text, lettering
from ui.reports.blocks import (
    Blank,
    Block,
    Document,
    Facts,
    Heading,
    NewPage,
    Picture,
    Pictures,
    Points,
    Table,
    Words,
)


def a_document(*blocks: Block, about: str = "Delivery 3") -> Document:
    return Document(
        title="Lot report",
        about=about,
        as_of="2026-03-05T07:08:09.000010Z",
        advisory=ADVISORY,
        blocks=blocks,
    )


def pages(data: bytes) -> list[str]:
    """The words of each page."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(data)).pages]


@pytest.fixture
def no_other_fonts(monkeypatch: pytest.MonkeyPatch) -> None:
    """A computer without any font of its own."""
    monkeypatch.setattr(lettering, "fallbacks", lambda _wanted: ())


def test_every_page_has_its_number_its_head_and_the_advisory() -> None:
    told = pages(as_pdf(a_document(Words(text="a"), NewPage(), Words(text="b"), NewPage())))
    assert len(told) == 3
    for number, page in enumerate(told, start=1):
        assert f"Page {number} of 3" in page
        assert ADVISORY in page
        assert "Lot report" in page
        assert "Delivery 3" in page


def test_every_kind_of_block_comes_out_on_paper_and_as_text() -> None:
    jpeg = encoded(picture())
    document = a_document(
        Heading(text="Heading here"),
        Words(text="Words here"),
        Points(texts=("Point here",)),
        Facts(rows=(("Name here", "Value here"), ("Left open", ""))),
        Table(columns=("Column A", "Column B"), widths=(0.5, 0.5), rows=(("Cell A", "Cell B"),)),
        Pictures(pictures=(Picture(data=jpeg, caption="Caption here", fine="fine print"),)),
        Picture(data=None, caption="Nothing to show"),
        Blank(label="Signed here", lines=2),
    )
    (page,) = pages(as_pdf(document))
    text = " ".join(as_text(document).split())
    for said in (
        "Heading here",
        "Words here",
        "Point here",
        "Name here",
        "Value here",
        "Left open",
        "Column A",
        "Cell B",
        "Caption here",
        "fine print",
        "Nothing to show",
        "Signed here",
        ADVISORY,
    ):
        assert said in page
        assert said in text
    assert "Left open: ____" in text


def test_the_same_document_gives_the_same_bytes() -> None:
    document = a_document(Words(text="same"), Picture(data=encoded(picture()), caption="one"))
    assert as_pdf(document) == as_pdf(document)


def test_names_in_greek_turkish_and_cyrillic_come_out_whole() -> None:
    names = "Νότια Αυλή, Şükrü İğneci, Северный двор, Đặng Văn Lâm"
    (page,) = pages(as_pdf(a_document(Words(text=names))))
    assert names in page


@pytest.mark.usefixtures("no_other_fonts")
def test_a_letter_that_no_font_has_is_shown_by_its_number() -> None:
    (page,) = pages(as_pdf(a_document(Words(text="弯头 5"), about="泵房")))
    assert "[U+5F2F][U+5934] 5" in page
    assert "[U+6CF5][U+623F]" in page


def test_a_font_of_the_computer_is_taken_for_what_the_own_one_lacks(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Another font that comes with matplotlib stands in for one of the computer's."""
    other = lettering.FONTS / "STIXGeneral.ttf"
    only_there = sorted(lettering.covered(other) - lettering.covered(lettering.REGULAR))
    letter = next(chr(each) for each in only_there if chr(each).isalpha())
    assert lettering.fallbacks(frozenset([ord(letter)]), [lettering.BOLD, other]) == (other,)
    monkeypatch.setattr(lettering, "fallbacks", lambda _wanted: (other,))
    (page,) = pages(as_pdf(a_document(Words(text=f"here: {letter}"))))
    assert f"here: {letter}" in page


def test_a_damaged_font_has_no_letters(tmp_path: Path) -> None:
    (tmp_path / "bad.ttf").write_bytes(b"no font")
    assert lettering.covered(tmp_path / "bad.ttf") == frozenset()


def test_right_to_left_text_is_put_in_the_order_in_which_it_is_read() -> None:
    """Unicode Standard Annex 9: letters from right to left, numbers in them left to right."""
    known = lettering.covered(lettering.REGULAR)
    assert lettering.spelled("P-07 שלום 12", known) == "P-07 12 םולש"
    assert lettering.spelled("P-07 left", known) == "P-07 left"


def test_no_text_of_a_user_is_taken_for_the_number_of_pages() -> None:
    (page,) = pages(as_pdf(a_document(Words(text="{nb} §pages§"))))
    assert "{nb} pages" in page
    assert "Page 1 of 1" in page


@pytest.mark.parametrize("lines", range(59, 63))
def test_a_point_and_its_text_stand_on_one_page(lines: int) -> None:
    """At the foot of a page the dash took a page for itself, and left it empty."""
    filling = Words(text="\n".join(["filled"] * lines))
    told = pages(as_pdf(a_document(filling, Points(texts=("the point",)), Words(text="end"))))
    assert len(told) <= 2
    (page,) = [page for page in told if "the point" in page]
    assert "– the point" in page


def test_a_text_longer_than_a_page_goes_on_over_the_next() -> None:
    long = " ".join(f"word{number}" for number in range(1500))
    row = ("P-07", long)
    table = Table(columns=("Piece", "Note"), widths=(0.2, 0.8), rows=(row,))
    for block in (table, Facts(rows=(row,)), Points(texts=(long,)), Words(text=long)):
        told = pages(as_pdf(a_document(block)))
        assert len(told) > 1
        said = " ".join(told)
        assert all(f"word{number}" in said for number in range(1500))


def test_pictures_stay_on_one_page_with_their_words() -> None:
    tall = encoded(picture(200, 700))
    picked = tuple(Picture(data=tall, caption=f"caption {number}") for number in range(9))
    data = as_pdf(a_document(Pictures(pictures=picked)))
    shown = [len(page.images) for page in PdfReader(io.BytesIO(data)).pages]
    captions = [page.count("caption") for page in pages(data)]
    assert sum(captions) == 9
    assert [count > 0 for count in shown] == [count > 0 for count in captions]


def test_it_is_printed_in_black_but_for_the_photos() -> None:
    """Rendered to pixels, every one is grey: what colour says would be lost in print."""
    document = a_document(
        Heading(text="Heading"),
        Table(columns=("A",), widths=(1.0,), rows=(("b",),)),
        Facts(rows=(("Name", ""),)),
        Picture(data=None, caption="none"),
    )
    page = pypdfium2.PdfDocument(as_pdf(document))[0].render(scale=1).to_pil().convert("RGB")
    red, green, blue = (channel.tobytes() for channel in page.split())
    assert red == green == blue
    assert Image.frombytes("L", page.size, red).getextrema()[0] < 60


@given(st.text(max_size=40))
def test_any_text_is_spelled_in_letters_that_the_font_has(text: str) -> None:
    known = lettering.covered(lettering.REGULAR)
    assert all(each == "\n" or ord(each) in known for each in lettering.spelled(text, known))


@settings(max_examples=4)
@given(st.lists(st.text(max_size=60), min_size=12, max_size=12))
@pytest.mark.usefixtures("no_other_fonts")
def test_any_texts_give_a_report(texts: list[str]) -> None:
    first, second, *others = texts
    document = a_document(
        Heading(text=first),
        Words(text=second),
        Points(texts=tuple(others)),
        Facts(rows=((first, second), (second, ""))),
        Table(columns=("a", "b"), widths=(0.3, 0.7), rows=((first, second),)),
        Picture(data=None, caption=first),
        about=first,
    )
    assert ADVISORY in pages(as_pdf(document))[0]
    assert as_text(document).endswith("required.\n")


def test_a_table_wants_a_cell_for_every_column() -> None:
    with pytest.raises(ValueError, match="1 cells for 2 columns"):
        Table(columns=("a", "b"), widths=(0.5, 0.5), rows=(("x",),))
    with pytest.raises(ValueError, match="2 columns have 1 widths"):
        Table(columns=("a", "b"), widths=(0.5,), rows=())
