"""The cells of one row of an order file, and the findings that gather while they are read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fittings.order.columns import Column
from fittings.order.findings import THE_FILE, Finding, Level
from fittings.order.lines import OrderError

_MAX_LENGTH = 1000
_EMPTY = frozenset(("", "-", "–", "n/a", "na", "none", "tba", "tbd", "?"))


def plain_text(text: str) -> str:
    """A text on one line, without the control characters that a terminal would obey."""
    printable = "".join(sign if sign.isprintable() else " " for sign in text)
    return " ".join(printable.split())


def _empty(column: Column, text: str) -> bool:
    """Whether a cell says nothing. "None" says something where it is about examination."""
    if column.field == "examination" and text.casefold() == "none":
        return False
    return text.casefold() in _EMPTY


class Cells:
    """One row's texts by the field that their column holds. `findings` grows as fields are read."""

    def __init__(self, columns: Sequence[Column], cells: Mapping[int, str]) -> None:
        self.findings: list[Finding] = []
        texts = [(each, plain_text(cells.get(each.index, ""))) for each in columns]
        for column, text in texts:
            if len(text) > _MAX_LENGTH:
                raise OrderError(
                    column.field, f"{column.heading} has more than {_MAX_LENGTH} characters; cut it"
                )
        self._given = [(column, text) for column, text in texts if not _empty(column, text)]

    def of(self, field: str) -> list[tuple[Column, str]]:
        """Every column that holds `field` and says something in this row, with its text."""
        return [(column, text) for column, text in self._given if column.field == field]

    def text(self, field: str) -> str | None:
        """The one text of the columns that hold a field; OrderError where two columns differ."""
        found = [(column.heading, text) for column, text in self.of(field)]
        if len({text.casefold() for _, text in found}) > 1:
            both = " but ".join(f"{heading} says {text!r}" for heading, text in found)
            raise OrderError(field, f"{both}; keep one")
        return found[0][1] if found else None

    def note(self, level: Level, field: str, sentence: str) -> None:
        """Adds a finding whose source is the file itself."""
        self.findings.append(Finding(level=level, field=field, sentence=sentence, source=THE_FILE))

    def from_description(self, field: str, value: str) -> None:
        """A note that a field stood in the description only."""
        name = field.removesuffix("_mm").replace("_", " ").replace("nps", "size")
        self.note(Level.NOTE, field, f"The {name} was read from the description: {value}.")

    def agreed(self, field: str, column: object, described: object, words: str) -> None:
        """A finding for a column and a description that differ, or for one that stood in."""
        if described is None or described == ():
            return
        if column is None or column == ():
            self.from_description(field, words)
        elif column != described:
            self.note(
                Level.CONTRADICTION,
                field,
                f"The description says {words}, the column says otherwise; the column was used.",
            )
