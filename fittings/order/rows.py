"""One row of an order file, cell by cell, into an `OrderLine`.

A column outranks the description; where both speak and differ, the line is still read and a finding
says so. What only the description says is used, and a finding names it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fittings.dimensions import SAME_WALL_MM, outside_diameter_mm, pipe
from fittings.form_names import form_in, no_form
from fittings.listed import SizeNotListed
from fittings.order.cells import Cells
from fittings.order.columns import Column
from fittings.order.description import Described, describe
from fittings.order.findings import Finding, Level
from fittings.order.grades import GradeNotListed
from fittings.order.lines import OrderError, OrderLine
from fittings.order.material import material_of
from fittings.order.phrases import (
    certificate_name,
    constructions_in,
    dimension_standard_in,
    may_be_dn,
    says_unit,
    schedule_in,
    sizes_in,
    start_in,
    wall_in,
)
from fittings.words import Construction

_NOTHING = Described()


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadLine:
    """A line as it was read, with what there is to say about the reading of it."""

    line: OrderLine
    findings: tuple[Finding, ...] = ()


def read_row(columns: Sequence[Column], cells: Mapping[int, str], row: int) -> ReadLine:
    """The order line of one row; `cells` holds its texts by the index of their column.

    OrderError names the field and the row of what cannot be used.
    """
    try:
        return _Row(Cells(columns, cells), row).read()
    except OrderError as error:
        raise OrderError(error.field, error.message, row) from None


class _Row:
    """The reading of one row."""

    def __init__(self, cells: Cells, row: int) -> None:
        self.cells = cells
        self.row = row

    def read(self) -> ReadLine:
        said = self._described()
        sizes = self._sizes(said)
        if len(sizes) == 2 and sizes[0] == sizes[1]:
            sizes = sizes[:1]
        material = material_of(self.cells, said.material)
        form_text = self.cells.text("form") or ""
        form = (form_in(form_text, two_sizes=len(sizes) == 2) if form_text else None) or said.form(
            two_sizes=len(sizes) == 2
        )
        if form is None:
            raise no_form(form_text or self.cells.text("description") or "")
        if not self.cells.text("form"):
            self.cells.from_description("form", form.value)
        wall_text, schedule_text = self.cells.text("wall"), self.cells.text("schedule")
        schedule = self._schedule(said, schedule_text, wall_text)
        wall_mm = self._wall(said, schedule_text, wall_text)
        if wall_mm is not None:
            _check_wall(wall_mm, sizes)
        if schedule is not None:
            wall_mm = self._looked_up(sizes, schedule, wall_mm)
        construction, start = self._construction(said)
        line = OrderLine(
            row=self.row,
            form=form,
            nps=sizes[0],
            second_nps=sizes[1] if len(sizes) == 2 else None,
            schedule=schedule,
            wall_mm=wall_mm,
            spec=material.spec,
            grade=material.grade,
            suffix=material.suffix,
            construction=construction,
            quantity=self._quantity(),
            dimension_standard=self._dimension_standard(said),
            start_material=self._plain("start_material", start),
            certificate=self._certificate(said),
            examination=self._plain("examination", said.examination),
        )
        return ReadLine(line=line, findings=tuple(self.cells.findings))

    def _described(self) -> Described:
        text = self.cells.text("description")
        if text is None:
            return _NOTHING
        try:
            return describe(text)
        except GradeNotListed as error:
            raise OrderError("grade", f"in the description, {error}") from None

    def _sizes(self, said: Described) -> tuple[str, ...]:
        first = self.cells.of("size")
        read = {column.heading: sizes_in(text, column.unit) for column, text in first}
        if len(set(read.values())) > 1:
            both = " but ".join(f"{column.heading} says {text!r}" for column, text in first)
            raise OrderError("nps", f"{both}, which are different sizes; correct one of them")
        sizes = next(iter(read.values()), ())
        second = self.cells.of("second")
        if second:
            sizes = self._with_second(sizes, second[0], {c.unit for c, _ in first})
        for column, text in first:
            if column.unit is None and may_be_dn(text):
                self.cells.note(
                    Level.LEFT_OPEN,
                    "nps",
                    f"The size {text} was read as NPS {text}, but DN {text} is a size too; write "
                    "NPS or DN in the heading or the cell.",
                )
        self.cells.agreed("nps", sizes, said.sizes, " x ".join(said.sizes))
        if not (sizes or said.sizes):
            unit = "in" if self.cells.text("description") else ""  # a bare 6 is no size there
            raise OrderError("nps", f"no size is given; write it like 6{unit}, 6 x 4 or DN150")
        return sizes or said.sizes

    @staticmethod
    def _with_second(
        sizes: tuple[str, ...], second: tuple[Column, str], units: set[str | None]
    ) -> tuple[str, ...]:
        column, text = second
        unit = column.unit
        if unit is None and not says_unit(text):
            unit = next(iter(units), None)  # one heading's unit speaks for both sizes
        elif unit is not None and units - {None} and unit not in units:
            raise OrderError("second_nps", "one heading says NPS (inch), the other DN (mm)")
        other = sizes_in(text, unit, "second_nps")
        if len(sizes) != 1 or len(other) != 1:
            if sizes[1:] == other:
                return sizes
            raise OrderError("second_nps", f"{text!r} does not fit the other size column")
        return (*sizes, *other)

    def _schedule(self, said: Described, schedule: str | None, wall: str | None) -> str | None:
        read = None
        if schedule is not None and not _is_length(schedule):
            read = schedule_in(schedule)
            if read is None:
                raise OrderError(
                    "schedule", f"{schedule!r} is no schedule; write it like 40, STD, XS or 10S"
                )
        elif wall is not None and _is_schedule(wall):
            read = schedule_in(wall)
        self.cells.agreed("schedule", read, said.schedule, said.schedule or "")
        return read or said.schedule

    def _wall(self, said: Described, schedule: str | None, wall: str | None) -> float | None:
        read = None
        if wall is not None and not _is_schedule(wall):
            unit = next((column.unit for column, _ in self.cells.of("wall")), None)
            read = wall_in(wall, unit)
        elif schedule is not None and _is_length(schedule):
            read = wall_in(schedule)
        self.cells.agreed("wall_mm", read, said.wall_mm, f"{said.wall_mm} mm")
        return read if read is not None else said.wall_mm

    def _looked_up(self, sizes: tuple[str, ...], schedule: str, wall_mm: float | None) -> float:
        """The wall, by schedule where it is not given; a finding where the two differ."""
        try:
            listed, *_ = [pipe(size, schedule).wall_mm for size in sizes]
        except SizeNotListed as error:
            raise OrderError("schedule", str(error)) from None
        if wall_mm is None:
            return listed
        if abs(wall_mm - listed) > SAME_WALL_MM:
            self.cells.note(
                Level.CONTRADICTION,
                "wall_mm",
                f"Schedule {schedule} of NPS {sizes[0]} is {listed} mm, but the line asks for "
                f"{wall_mm:g} mm.",
            )
        return wall_mm

    def _construction(self, said: Described) -> tuple[Construction | None, str | None]:
        text = self.cells.text("construction")
        extra = self.cells.text("form") or ""
        start = said.start_material or start_in(f"{text or ''} {extra}")
        if text is None:
            named = constructions_in(extra)
            if not named and said.constructions:
                named = said.constructions
                self.cells.from_description(
                    "construction", " or ".join(each.value for each in named)
                )
            return self._one_construction(named), start
        letters = {"S": (Construction.SEAMLESS,), "W": (Construction.WELDED,)}
        named = letters.get(text.upper(), constructions_in(text))
        if not named:
            raise OrderError(
                "construction", f"{text!r} is none of seamless, welded and fabricated; write one"
            )
        if said.constructions:
            words = " or ".join(each.value for each in said.constructions)
            self.cells.agreed("construction", named, said.constructions, words)
        return self._one_construction(named), start

    def _one_construction(self, named: tuple[Construction, ...]) -> Construction | None:
        if len(named) > 1:
            words = " or ".join(each.value for each in named)
            self.cells.note(
                Level.LEFT_OPEN,
                "construction",
                f"The line names {words}, which leaves the construction to the supplier.",
            )
            return None
        return named[0] if named else None

    def _quantity(self) -> int:
        text = self.cells.text("quantity")
        if text is None:
            self.cells.note(Level.NOTE, "quantity", "No quantity is given; it was read as 1.")
            return 1
        match = re.fullmatch(
            r"(\d{1,7})(?:[.,]0+)?\s*(?:pcs?|pieces?|ea|each|nos?|off|st|x)?\.?",
            text.lower(),
            re.ASCII,
        )
        if match is None or int(match[1]) < 1:
            raise OrderError("quantity", f"{text!r} is no number of pieces; write it like 4")
        return int(match[1])

    def _dimension_standard(self, said: Described) -> str | None:
        text = self.cells.text("dimension_standard")
        standard = self.cells.text("standard")
        if text is None and standard is not None and dimension_standard_in(standard)[0]:
            text = standard
        read = (dimension_standard_in(text)[0] or text) if text else None
        self.cells.agreed(
            "dimension_standard", read, said.dimension_standard, str(said.dimension_standard)
        )
        return read or said.dimension_standard

    def _certificate(self, said: Described) -> str | None:
        text = self._plain("certificate", said.certificate)
        return None if text is None else certificate_name(text)

    def _plain(self, field: str, described: str | None) -> str | None:
        text = self.cells.text(field)
        if text is None and described is not None:
            self.cells.from_description(field, described)
        return text or described


def _is_schedule(text: str) -> bool:
    """Whether a cell of a wall column names a schedule: STD or Sch 40, but never a bare number."""
    return re.fullmatch(r"[-+−\d.,]+", text) is None and schedule_in(text) is not None


def _is_length(text: str) -> bool:
    """Whether a cell of a schedule column is a wall with its unit."""
    return re.fullmatch(r"(?i)[\d.,/ -]+\s*(?:mm|in|inch|inches|\"|″|”)\.?", text) is not None


def _check_wall(wall_mm: float, sizes: tuple[str, ...]) -> None:
    smallest = sizes[-1]
    radius_mm = outside_diameter_mm(smallest) / 2
    if wall_mm >= radius_mm:
        raise OrderError(
            "wall_mm",
            f"a wall of {wall_mm:g} mm is no less than the outside radius of NPS {smallest}, "
            f"{radius_mm:g} mm; correct the wall, its unit or the size",
        )
