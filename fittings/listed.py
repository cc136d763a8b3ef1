"""The tables of `fittings/tables/`: their names, their rows, and the error for a size they lack."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from enum import Enum
from fractions import Fraction
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from fittings.sizes import format_nps, nearest_nps, parse_nps

Row = Mapping[str, str]


class ElbowRadius(Enum):
    """The bend radius by name: about 1.5, 1 and 3 times the nominal size."""

    LONG = "long"
    SHORT = "short"
    THREE_D = "3d"


class SizeTable(Enum):
    """The tables that `fittings.dimensions` looks into; the value is the name that errors print."""

    PIPE = "ASME B36.10M and B36.19M pipe"
    ELBOW_LONG_90 = "ASME B16.9-2018 Table 6.1-1, long-radius 90° elbows"
    ELBOW_LONG_45 = "ASME B16.9-2018 Table 6.1-1, long-radius 45° elbows"
    ELBOW_SHORT_90 = "ASME B16.9-2018 Table 6.1-4, short-radius 90° elbows"
    ELBOW_3D_90 = "ASME B16.9-2018 Table 6.1-6, 3D 90° elbows"
    ELBOW_3D_45 = "ASME B16.9-2018 Table 6.1-6, 3D 45° elbows"
    STRAIGHT_TEE = "ASME B16.9-2018 Table 6.1-7, straight tees"
    REDUCING_TEE = "ASME B16.9-2018 Table 6.1-8, reducing outlet tees"
    REDUCER = "ASME B16.9-2018 Table 6.1-11, reducers"
    TOLERANCE = "ASME B16.9-2018 Table 11-1, tolerances"


class SizeNotListed(LookupError):
    """The table has no such size.

    The message names the size, the table and the nearest sizes that the table does list. It says
    nothing about whether somebody makes such a piece, only that the table has no row for it.
    """

    def __init__(self, size: str, table: SizeTable, nearest: Iterable[str]) -> None:
        self.size = size
        self.table = table
        self.nearest = tuple(nearest)
        # The arguments as they came, so that the error survives a trip between processes.
        super().__init__(size, table, self.nearest)

    def __str__(self) -> str:
        near = f"; nearest listed: {', '.join(self.nearest)}" if self.nearest else ""
        return f"{self.size} is not listed in {self.table.value}{near}"


ELBOW_TABLES = {
    (ElbowRadius.LONG, 90): SizeTable.ELBOW_LONG_90,
    (ElbowRadius.LONG, 45): SizeTable.ELBOW_LONG_45,
    (ElbowRadius.SHORT, 90): SizeTable.ELBOW_SHORT_90,
    (ElbowRadius.THREE_D, 90): SizeTable.ELBOW_3D_90,
    (ElbowRadius.THREE_D, 45): SizeTable.ELBOW_3D_45,
}


def listed_sizes(table: SizeTable) -> tuple[tuple[str, ...], ...]:
    """Every row of a table as the sizes that its look-up takes, in the table's order.

    PIPE gives (nps, schedule), elbows and tolerances (nps,), tees (run, outlet), reducers
    (large, small): `tee(*listed_sizes(SizeTable.REDUCING_TEE)[0])` is a real row.
    """
    return tuple(rows_by_size(table))


def not_listed(
    first: Fraction, table: SizeTable, second: Fraction | None = None, *, asked: str = ""
) -> SizeNotListed:
    """The error for a missing row, with neighbours that do exist."""
    keys = listed_sizes(table)
    if second is None:
        near = nearest_nps(first, (parse_nps(key[0]) for key in keys))
        return SizeNotListed(asked or f"NPS {format_nps(first)}", table, near)
    asked = f"NPS {format_nps(first)} x {format_nps(second)}"
    partners = [parse_nps(key[1]) for key in keys if key[0] == format_nps(first)]
    if partners:
        with_first = (f"{format_nps(first)} x {each}" for each in nearest_nps(second, partners))
        return SizeNotListed(asked, table, with_first)
    return SizeNotListed(asked, table, nearest_nps(first, (parse_nps(key[0]) for key in keys)))


@cache
def rows_by_size(table: SizeTable) -> Mapping[tuple[str, ...], Row]:
    """The table's rows by the sizes that name them.

    Tolerances are printed for ranges; here every size with a long-radius elbow gets its row.
    """
    if table is SizeTable.PIPE:
        return {(row["nps"], row["schedule"]): row for row in table_rows("pipe_b36")}
    if table is SizeTable.STRAIGHT_TEE:
        return {(row["nps"], row["nps"]): row for row in table_rows("b16_9_straight_tees")}
    if table is SizeTable.REDUCING_TEE:
        rows = table_rows("b16_9_reducing_tees")
        return {(row["run_nps"], row["outlet_nps"]): row for row in rows}
    if table is SizeTable.REDUCER:
        rows = table_rows("b16_9_reducers")
        return {(row["large_nps"], row["small_nps"]): row for row in rows}
    if table is SizeTable.TOLERANCE:
        sizes = rows_by_size(SizeTable.ELBOW_LONG_90)
        return {key: range_row("b16_9_tolerances", parse_nps(key[0])) for key in sizes}
    radius, angle_deg = next(key for key, value in ELBOW_TABLES.items() if value is table)
    return {
        (row["nps"],): row
        for row in table_rows("b16_9_elbows")
        if row["radius"] == radius.value and row["angle_deg"] == str(angle_deg)
    }


def range_row(name: str, size: Fraction) -> Row:
    """The row of `tables/<name>.csv` whose range holds `size`; LookupError where none does."""
    for row in table_rows(name):
        if parse_nps(row["nps_from"]) <= size <= parse_nps(row["nps_to"]):
            return row
    raise LookupError(f"tables/{name}.csv has no range that holds NPS {format_nps(size)}")


@cache
def table_rows(name: str) -> tuple[Mapping[str, str], ...]:
    """The rows of `tables/<name>.csv` as read-only mappings, in the file's order, read once."""
    text = files("fittings").joinpath("tables", f"{name}.csv").read_text(encoding="utf-8")
    return tuple(MappingProxyType(row) for row in csv.DictReader(text.splitlines()))
