"""The sizes and schedules that can be chosen for a form: those that the tables list."""

from __future__ import annotations

from functools import cache

from fittings.listed import ELBOW_TABLES, SizeTable, listed_sizes
from fittings.order.lines import ELBOWS, FittingForm
from fittings.words import Kind


@cache
def sizes_of(form: FittingForm) -> tuple[str, ...]:
    """The sizes that ASME B16.9 lists for a form: of the run or the large end, small to large."""
    return tuple(dict.fromkeys(row[0] for row in listed_sizes(_table(form))))


@cache
def second_sizes_of(form: FittingForm, nps: str) -> tuple[str, ...]:
    """The outlets or small ends listed with a size; empty for a form of one size."""
    if not form.two_sizes:
        return ()
    return tuple(row[1] for row in listed_sizes(_table(form)) if row[0] == nps)


@cache
def schedules_of(nps: str) -> tuple[str, ...]:
    """The schedules that pipe of a size comes in."""
    return tuple(schedule for size, schedule in listed_sizes(SizeTable.PIPE) if size == nps)


def _table(form: FittingForm) -> SizeTable:
    if form in ELBOWS:
        return ELBOW_TABLES[ELBOWS[form]]
    if form is FittingForm.STRAIGHT_TEE:
        return SizeTable.STRAIGHT_TEE
    return SizeTable.REDUCING_TEE if form.kind is Kind.TEE else SizeTable.REDUCER
