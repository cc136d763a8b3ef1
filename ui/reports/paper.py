"""A report as a PDF: A4, black on white, so that it prints well in grey.

fpdf2 puts it on paper: a well-kept library in plain Python, which embeds its fonts, knows the order
of right-to-left text, and needs little that matplotlib has not brought already. The same document
gives the same file, byte for byte, on the same computer.
"""

from __future__ import annotations

import io
from datetime import UTC, datetime
from typing import cast

from fpdf import FPDF, FontFace
from fpdf.enums import TableBordersLayout, WrapMode, XPos, YPos
from PIL import Image

from ui.reports import lettering
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
from vision.errors import one_line

MARGIN_MM = 18.0
HEAD_MM = 24.0
FOOT_MM = 24.0
_FAMILY = "report"
_GAP_MM = 5.0  # between pictures
_HALF_MM = 84.5  # width of one of two pictures
_TALLEST_MM = 88.0  # height of one, so that two rows of them fit on a page
_LABEL_SHARE = 0.25  # of the width, for the names of facts
_LONGEST_CELL = 400  # characters; a row with more might be taller than a page
_EMPTY_MM = 18.0  # height of the frame that stands for a picture that can't be shown
_PAGES_SIGN = "§pages§"  # replaced by the number of pages, so no text of a user's may hold it
_LINE = 1.2  # from line to line, in heights of the letters
_SIZES_PT = {"title": 18.0, 1: 13.0, 2: 10.5, "words": 9.0, "small": 7.5, "fine": 5.3}


def as_pdf(document: Document) -> bytes:
    """The document as the bytes of a PDF file."""
    paper = _Paper(document)
    for block in document.blocks:
        paper.set_block(block)
    return bytes(paper.output())


class _Paper(FPDF):
    """One document on its way to paper."""

    def __init__(self, document: Document) -> None:
        super().__init__(format="A4")
        self._document = document
        self._known = lettering.covered(lettering.REGULAR) & lettering.covered(lettering.BOLD)
        self._sought: frozenset[int] = frozenset()
        self._more: list[str] = []
        self.add_font(_FAMILY, fname=lettering.REGULAR)
        self.add_font(_FAMILY, "B", fname=lettering.BOLD)
        self.alias_nb_pages(_PAGES_SIGN)
        self.set_image_filter("DCTDecode")
        self.set_creation_date(_time(document.as_of))
        self.set_title(one_line(f"{document.title}: {document.about}"))
        self.set_lang("en")
        self.set_margins(MARGIN_MM, HEAD_MM, MARGIN_MM)
        self.c_margin = 0.0
        self.set_auto_page_break(True, FOOT_MM)
        self.add_page()
        self._write(document.title, "title", strong=True)
        self.ln(1.5)
        self._write(document.about, "words")
        self.ln(3)

    # ------------------------------------------------------------------------- every page

    def header(self) -> None:
        if self.page_no() == 1:
            return  # the title says it there
        self.set_y(11)
        self._write(f"{self._document.title}: {self._document.about}", "small")
        self.set_line_width(0.2)
        self.line(MARGIN_MM, self.get_y() + 1, self.w - MARGIN_MM, self.get_y() + 1)
        self.set_y(HEAD_MM)

    def footer(self) -> None:
        self.set_y(-FOOT_MM + 5)
        self.line(MARGIN_MM, self.get_y() - 1.5, self.w - MARGIN_MM, self.get_y() - 1.5)
        self._write(self._document.advisory, "small", strong=True)
        self._font("small")
        self.ln(0.5)
        self.cell(0, 4, f"Page {self.page_no()} of {_PAGES_SIGN}")

    # ------------------------------------------------------------------------- the blocks

    def set_block(self, block: Block) -> None:
        """Puts one block on paper, below the one before."""
        match block:
            case Heading():
                self._keep_together(30)
                self.ln(3 if block.level == 1 else 1.5)
                self._write(block.text, block.level, strong=True)
                self.ln(1)
            case Words():
                self._write(block.text, "small" if block.small else "words", strong=block.strong)
                self.ln(1.5)
            case Points():
                for text in block.texts:
                    self._hanging("–", text, 4.0)
                self.ln(1.5)
            case Facts():
                for name, value in block.rows:
                    self._fact(name, value)
                self.ln(1.5)
            case Table():
                self._table(block)
            case Picture():
                self._picture_row((block,), self.epw)
            case Pictures():
                width_mm = (self.epw - _GAP_MM) / 2
                for at in range(0, len(block.pictures), 2):
                    self._picture_row(block.pictures[at : at + 2], width_mm)
            case Blank():
                self._fact(block.label, "")
                for _ in range(block.lines - 1):
                    self._rule(MARGIN_MM)
                self.ln(1.5)
            case NewPage():
                self.add_page()

    def _fact(self, name: str, value: str) -> None:
        self._keep_together(8)
        if value:
            self._hanging(name, value, self.epw * _LABEL_SHARE)
            return
        self._font("words")
        name = self._spelled(name)
        width_mm = max(
            self.epw * _LABEL_SHARE, min(0.7 * self.epw, self.get_string_width(name) + 3)
        )
        self.cell(width_mm, 7, name)
        self._rule(MARGIN_MM + width_mm)

    def _rule(self, left_mm: float) -> None:
        """A line to write on, and the space above it."""
        self._keep_together(8)
        self.set_line_width(0.2)
        bottom = self.get_y() + 6
        self.line(left_mm, bottom, self.w - MARGIN_MM, bottom)
        self.set_xy(MARGIN_MM, bottom + 1)

    def _hanging(self, first: str, text: str, indent_mm: float) -> None:
        """`first` at the margin, `text` beside it, both as long as need be."""
        self._font("words")
        # Both begin on one page, or the second would look for its place at the foot of the next.
        self._keep_together(self._height(first, indent_mm - 1))
        page, top = self.page, self.get_y()
        self.multi_cell(
            indent_mm - 1,
            self._line_mm,
            self._spelled(first),
            align="L",
            new_x=XPos.LMARGIN,
            new_y=YPos.NEXT,
        )
        below = self.get_y() if self.page == page else top
        self.set_xy(MARGIN_MM + indent_mm, top)
        self.multi_cell(
            self.epw - indent_mm,
            self._line_mm,
            self._spelled(text),
            align="L",
            new_x=XPos.LMARGIN,
            new_y=YPos.NEXT,
        )
        if self.page == page:
            self.set_y(max(below, self.get_y()))
        self.ln(0.8)

    def _table(self, table: Table) -> None:
        if any(len(cell) > _LONGEST_CELL for row in table.rows for cell in row):
            for row in table.rows:
                self.set_block(Facts(rows=tuple(zip(table.columns, row, strict=True))))
            return
        self._font("small")
        with super().table(
            col_widths=tuple(100 * width for width in table.widths),
            text_align="L",
            v_align="T",
            borders_layout=TableBordersLayout.HORIZONTAL_LINES,
            line_height=3.6,
            padding=1.0,
            headings_style=FontFace(emphasis="BOLD", fill_color=(232, 232, 232)),
            wrapmode=WrapMode.WORD,
        ) as rows:
            for row in (table.columns, *table.rows):
                line = rows.row()
                for cell in row:
                    line.cell(self._spelled(cell))
        self.ln(2.5)

    def _picture_row(self, pictures: tuple[Picture, ...], width_mm: float) -> None:
        heights = [self._picture_height(each, width_mm) for each in pictures]
        words = [self._under_height(each, width_mm) for each in pictures]
        self._keep_together(max(heights) + max(words) + 2)
        top = self.get_y()
        for at, (picture, height) in enumerate(zip(pictures, heights, strict=True)):
            left = MARGIN_MM + at * (width_mm + _GAP_MM)
            if picture.data is None:
                self.rect(left, top, width_mm, max(heights))
            else:
                self.image(
                    picture.data,
                    left,
                    top,
                    width_mm,
                    height,
                    keep_aspect_ratio=True,
                    alt_text=self._spelled(one_line(picture.caption)),
                )
            self.set_xy(left, top + max(heights) + 1)
            self._under(picture, width_mm, left)
        self.set_xy(MARGIN_MM, top + max(heights) + max(words) + 3)

    def _picture_height(self, picture: Picture, width_mm: float) -> float:
        if picture.data is None:
            return _EMPTY_MM
        columns, rows = Image.open(io.BytesIO(picture.data)).size
        return min(_TALLEST_MM * width_mm / _HALF_MM, width_mm * rows / columns)

    def _under(self, picture: Picture, width_mm: float, left_mm: float) -> None:
        for text, size in ((picture.caption, "small"), (picture.fine, "fine")):
            if text:
                self._font(size)
                self.set_x(left_mm)
                self.multi_cell(
                    width_mm,
                    self._line_mm,
                    self._spelled(text),
                    align="L",
                    new_x=XPos.LEFT,
                    new_y=YPos.NEXT,
                )

    def _under_height(self, picture: Picture, width_mm: float) -> float:
        height = 0.0
        for text, size in ((picture.caption, "small"), (picture.fine, "fine")):
            if text:
                self._font(size)
                height += self._height(text, width_mm)
        return height

    def _height(self, text: str, width_mm: float) -> float:
        measured = self.multi_cell(
            width_mm, self._line_mm, self._spelled(text), align="L", dry_run=True, output="HEIGHT"
        )
        return cast(float, measured)

    # ------------------------------------------------------------------------- the letters

    def _write(self, text: str, size: str | int, *, strong: bool = False) -> None:
        self._font(size, strong=strong)
        self.multi_cell(
            0, self._line_mm, self._spelled(text), align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT
        )

    def _font(self, size: str | int, *, strong: bool = False) -> None:
        self.set_font(_FAMILY, "B" if strong else "", _SIZES_PT[size])
        self._line_mm = _LINE * self.font_size

    def _keep_together(self, height_mm: float) -> None:
        """Begins a page where less than `height_mm` is left on this one."""
        if self.will_page_break(height_mm) and self.get_y() > HEAD_MM + 1:
            self.add_page()

    def _spelled(self, text: str) -> str:
        """`text` in letters that this paper has; a font is looked for where one is missing."""
        text = text.replace(_PAGES_SIGN, "pages")
        wanted = lettering.missing([text]) - self._known - self._sought
        if wanted:
            self._sought |= wanted
            for path in lettering.fallbacks(wanted):
                family = f"more{len(self.fonts)}"
                self.add_font(family, fname=path)
                self._known |= lettering.covered(path)
                self._more.append(family)
            self.set_fallback_fonts(self._more, exact_match=False)
        # A share stays on one line with its sign.
        return lettering.spelled(text, self._known).replace(" %", "\u00a0%")


def _time(as_of: str) -> datetime:
    """The time of the newest entry; the beginning of time where there is none."""
    try:
        return datetime.fromisoformat(as_of)
    except ValueError:
        return datetime(1970, 1, 1, tzinfo=UTC)
