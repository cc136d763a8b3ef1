"""A table of measured pieces, one row per piece, from a CSV file.

Columns that say what was ordered: fitting, nps (or DN), second, schedule, second schedule, nominal
wall, second nominal wall, tag. Every other column is a dimension; its unit stands in the heading,
"od (mm)", or in the cell, "6.66 in". The same dimension may have several columns ("wall 1 (mm)",
"wall 2 (mm)") and a cell several values with semicolons between them. A comma between digits is a
decimal comma where the columns are parted by semicolons or tabs, as spreadsheets do it.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from vision.errors import SeamtriageError

MAX_BYTES = 5_000_000

_ORDERED = {
    **dict.fromkeys(("fitting", "form", "type"), "fitting"),
    **dict.fromkeys(("nps", "size"), "nps"),
    **dict.fromkeys(("second", "second nps", "outlet", "small end"), "second"),
    **dict.fromkeys(("schedule", "sch"), "schedule"),
    "second schedule": "second_schedule",
    "nominal wall": "wall",
    "second nominal wall": "second_wall",
    **dict.fromkeys(("tag", "piece", "mark"), "tag"),
    "dn": "dn",
    "second dn": "second_dn",
}
# Columns of DN sizes, and the field that each of them fills.
_METRIC = {"dn": "nps", "second_dn": "second"}
# One comma between digits in a cell without a point; "1,234.5" stays, and is refused.
_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d)(?![^;]*[.,])")
_UNIT = re.compile(r"[\s(\[_,]+(mm|cm|m|in|inch|inches)[)\]]?$")


class DimsFileError(SeamtriageError):
    """A file that gives no rows; one line with its name, what is wrong and what to do."""


@dataclass(frozen=True, slots=True)
class _Heading:
    """What a column holds: something that was ordered, or a dimension; its unit or ""."""

    name: str
    unit: str
    ordered: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredRow:
    """One row as texts: what was ordered, and (dimension, length with unit) as measured."""

    row: int
    ordered: dict[str, str]
    measured: tuple[tuple[str, str], ...]


def read_measured(path: Path) -> tuple[MeasuredRow, ...]:
    """The rows of a CSV with commas, semicolons or tabs; DimsFileError when it has none."""
    try:
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except OSError as error:
        reason = error.strerror or "cannot be read"
        raise DimsFileError(f"{path}: {reason}; check the name.") from None
    if len(data) > MAX_BYTES:
        raise DimsFileError(f"{path}: more than {MAX_BYTES // 10**6} MB; split it.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
    if "\0" in text:
        raise DimsFileError(f"{path}: not a text file; save the table as CSV.")
    first = next((line for line in text.splitlines() if line.strip()), "")
    # The cells of one row hold semicolons too, so the heading line alone decides.
    delimiter = max(",;\t", key=first.count)
    rows = tuple(_rows(text, delimiter, path))
    if not rows:
        raise DimsFileError(f"{path}: no rows below the heading line; add one per piece.")
    return rows


def _rows(text: str, delimiter: str, path: Path) -> Iterator[MeasuredRow]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    headings: list[_Heading] = []
    begins = 1
    try:
        for cells in reader:
            row, begins = begins, reader.line_num + 1
            if not any(cell.strip() for cell in cells):
                continue
            if not headings:
                headings = [_heading(cell) for cell in cells]
                names = {each.name for each in headings if each.ordered}
                if "fitting" not in names or not names & {"nps", "dn"}:
                    raise DimsFileError(
                        f"{path}: the heading line needs the columns fitting and nps (or DN)."
                    )
                continue
            yield _row(row, headings, cells, decimal_comma=delimiter != ",")
    except csv.Error as error:
        raise DimsFileError(f"{path}, row {begins}: {error}; export it again.") from None


def _row(
    row: int, headings: list[_Heading], cells: list[str], *, decimal_comma: bool
) -> MeasuredRow:
    ordered: dict[str, str] = {}
    measured: list[tuple[str, str]] = []
    for heading, cell in zip(headings, cells, strict=False):
        value = cell.strip()
        if not value or not heading.name:
            continue
        if decimal_comma and (not heading.ordered or heading.name in ("wall", "second_wall")):
            value = _DECIMAL_COMMA.sub(".", value)
        if not heading.ordered:
            parts = (part.strip() for part in value.split(";"))
            measured += [(heading.name, _with_unit(part, heading.unit)) for part in parts if part]
        elif heading.name in _METRIC:
            is_named = value.upper().startswith("DN")
            ordered[_METRIC[heading.name]] = value if is_named else f"DN{value}"
        elif heading.name in ("wall", "second_wall"):
            ordered[heading.name] = _with_unit(value, heading.unit)
        else:
            ordered[heading.name] = value
    return MeasuredRow(row=row, ordered=ordered, measured=tuple(measured))


def _heading(text: str) -> _Heading:
    """A heading read freely. "wall" alone is a measured wall; what was ordered says nominal."""
    plain = " ".join(text.lower().replace("_", " ").split())
    unit = ""
    if match := _UNIT.search(plain):
        unit, plain = match[1], plain[: match.start()]
    if plain in _ORDERED:
        return _Heading(_ORDERED[plain], unit, ordered=True)
    return _Heading(re.sub(r"[\s#.]*\d+$", "", plain), unit, ordered=False)


def _with_unit(value: str, unit: str) -> str:
    """The cell with the heading's unit, unless it brings its own."""
    return value if re.search(r"[a-z\"”″']\s*$", value, re.IGNORECASE) else f"{value} {unit}"
