"""What a written report is made of, apart from how it is put on paper.

A `Document` is a title and a row of blocks. `ui.reports.paper` makes a PDF of it and
`ui.reports.plain` plain text; both say the same.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """A heading; level 1 begins a section, 2 a part of it."""

    text: str
    level: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """A paragraph."""

    text: str
    strong: bool = False
    small: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Points:
    """A list of sentences."""

    texts: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Names with their values; an empty value is a blank to be filled in by hand."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows under a heading line. `widths` are shares of the page's width."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.columns) != len(self.widths):
            raise ValueError(f"{len(self.columns)} columns have {len(self.widths)} widths")
        for row in self.rows:
            if len(row) != len(self.columns):
                raise ValueError(f"a row of {len(row)} cells for {len(self.columns)} columns")


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A JPEG or PNG with the words under it; `fine` are smaller words, such as a hash.

    `data` is None for a photo of which no picture can be shown; the words then say why.
    """

    data: bytes | None = field(repr=False)
    caption: str
    fine: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictures:
    """Pictures, two beside each other."""

    pictures: tuple[Picture, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """Lines to write on by hand."""

    label: str
    lines: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class NewPage:
    """What follows begins a page."""


Block = Heading | Words | Points | Facts | Table | Picture | Pictures | Blank | NewPage


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A report. `about` stands at the head of every page, `advisory` at its foot.

    `as_of` is the UTC time of the newest entry that the report rests on, as the records have it:
    a report says nothing of when it was printed, so the same records give the same report.
    """

    title: str
    about: str
    as_of: str
    advisory: str
    blocks: Iterable[Block]
