"""Proportions against the rows of ASME B16.9: which of them fit, and what fits none.

A photo has no scale, so a row is known by its ratios alone, and neighbouring sizes often share
them. Rows come from `fittings.dimensions`, where each names its source; some are from memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from fittings import dimensions
from fittings.dimensions import SizeTable, listed_sizes, parse_nps
from fittings.listed import ELBOW_TABLES, ElbowRadius
from fittings.words import Kind
from vision.proportion_shapes import (
    BEND,
    CENTRE_TO_END,
    END_TO_END,
    OUTLET_M,
    OUTLET_OD,
    RUN_C,
    SMALL_OD,
)
from vision.proportions import Proportions, Ratio

FITS_WITHIN, FAR_BEYOND = 2.0, 4.0
"""Standard errors: a row fits when no ratio is farther off than the first; no row fits when in the
nearest one some ratio is farther off than the second. Between them nothing is said of the piece."""

TRUSTED_MISFIT = 0.015
"""Misfit (see `Proportions`) up to which a piece is said to fit no row: with a larger one its shape
is none of those that its proportions were taken from (a mitred elbow), or the lens bends lines."""

RADIUS_WORDS = {
    ElbowRadius.LONG: "long-radius",
    ElbowRadius.SHORT: "short-radius",
    ElbowRadius.THREE_D: "3D",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StandardRow:
    """One row: what it is called ("long-radius 90° elbow"), its size, and its ratios by name."""

    form: str
    size: str
    nps: str
    ratios: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AgainstRows:
    """What the rows make of a piece's proportions.

    `fits` is True with a row within FITS_WITHIN, False with none within FAR_BEYOND, None between.
    `forms` are the forms of the rows that fit with the sizes of the first and last of them,
    `nearest` the row that fits best, `off` its largest distance in standard errors. `sentence` says
    it with the figures.
    """

    fits: bool | None
    forms: tuple[tuple[str, str, str], ...]
    nearest: StandardRow
    off: float
    sentence: str


@cache
def standard_rows(kind: Kind) -> tuple[StandardRow, ...]:
    """Every row of B16.9 for that kind; none for no fitting."""
    rows = {Kind.ELBOW: _elbows, Kind.TEE: _tees, Kind.REDUCER: _reducers}
    return tuple(rows[kind]()) if kind in rows else ()


def _elbows() -> Iterator[StandardRow]:
    for (radius, angle_deg), table in ELBOW_TABLES.items():
        for (nps,) in listed_sizes(table):
            row = dimensions.elbow(nps, radius, angle_deg)
            yield StandardRow(
                form=f"{RADIUS_WORDS[radius]} {angle_deg}° elbow",
                size=f"NPS {nps}",
                nps=nps,
                ratios=(
                    (BEND, float(angle_deg)),
                    (CENTRE_TO_END, row.centre_to_end_mm / row.od_mm),
                ),
            )


def _tees() -> Iterator[StandardRow]:
    for table in (SizeTable.STRAIGHT_TEE, SizeTable.REDUCING_TEE):
        for run, outlet in listed_sizes(table):
            row = dimensions.tee(run, outlet)
            yield StandardRow(
                form="straight tee" if run == outlet else "reducing tee",
                size=f"NPS {run}" if run == outlet else f"NPS {run} x {outlet}",
                nps=run,
                ratios=(
                    (RUN_C, row.run_c_mm / row.run_od_mm),
                    (OUTLET_M, row.outlet_m_mm / row.run_od_mm),
                    (OUTLET_OD, row.outlet_od_mm / row.run_od_mm),
                ),
            )


def _reducers() -> Iterator[StandardRow]:
    for large, small in listed_sizes(SizeTable.REDUCER):
        row = dimensions.reducer(large, small)
        yield StandardRow(
            form="reducer",
            size=f"NPS {large} x {small}",
            nps=large,
            ratios=(
                (END_TO_END, row.end_to_end_mm / row.large_od_mm),
                (SMALL_OD, row.small_od_mm / row.large_od_mm),
            ),
        )


def against_rows(found: Proportions, nps: str | None = None) -> AgainstRows | None:
    """The proportions found against every row, or against those of one size (of a tee's run, a
    reducer's large end). None where too few ratios are certain enough to tell, or no row has that
    size. ValueError for an `nps` that names no size.
    """
    kind = found.form.kind
    rows = standard_rows(kind)
    if nps is not None:
        rows = tuple(row for row in rows if parse_nps(row.nps) == parse_nps(nps))
    given = {ratio.name: ratio for ratio in found.ratios}
    # An elbow's length says nothing without its bend; one ratio alone fits too much.
    if not rows or len(given) < 2:
        return None
    offs = [(_off(row, given), place) for place, row in enumerate(rows)]
    off, place = min(offs)
    fitting = [row for row, (each, _) in zip(rows, offs, strict=True) if each <= FITS_WITHIN]
    beyond = off > FAR_BEYOND and found.misfit <= TRUSTED_MISFIT
    fits = True if off <= FITS_WITHIN else False if beyond else None
    forms = _forms(fitting)
    return AgainstRows(
        fits=fits,
        forms=forms,
        nearest=rows[place],
        off=off,
        sentence=_sentence(found.ratios, fits, forms, rows[place], nps),
    )


def _off(row: StandardRow, given: dict[str, Ratio]) -> float:
    """Largest distance of a ratio from the row's, in standard errors."""
    return max(
        abs(given[name].value - value) / given[name].error
        for name, value in row.ratios
        if name in given
    )


def _forms(rows: list[StandardRow]) -> tuple[tuple[str, str, str], ...]:
    ordered = sorted(rows, key=lambda row: parse_nps(row.nps))
    names = dict.fromkeys(row.form for row in ordered)
    sizes = {name: [row.size for row in ordered if row.form == name] for name in names}
    return tuple((name, of[0], of[-1]) for name, of in sizes.items())


def _sentence(
    ratios: tuple[Ratio, ...],
    fits: bool | None,
    forms: tuple[tuple[str, str, str], ...],
    nearest: StandardRow,
    nps: str | None,
) -> str:
    figures = ", ".join(_figure(each) for each in ratios)
    listed = "ASME B16.9" if nps is None else f"ASME B16.9 for NPS {nps}"
    if fits:
        which = "; ".join(
            f"{form} ({low})" if low == high else f"{form} ({low} to {high})"
            for form, low, high in forms
        )
        return f"Proportions: {figures}; this fits rows of {listed}: {which}."
    row = dict(nearest.ratios)
    would = ", ".join(_plain(each.name, row[each.name]) for each in ratios if each.name in row)
    near = f"the nearest, {nearest.form} {nearest.size}, has {would}"
    if fits is None:
        return f"Proportions: {figures}; whether this fits a row of {listed} can't be told: {near}."
    return f"Proportions: {figures}; this fits no row of {listed}: {near}. Measure it with a tape."


def _plain(name: str, value: float) -> str:
    return f"{name} {value:.0f}" if name == BEND else f"{name} {value:.2f}"


def _figure(ratio: Ratio) -> str:
    digits = 0 if ratio.name == BEND else 2
    return f"{ratio.name} {ratio.value:.{digits}f} ± {2.0 * ratio.error:.{digits}f}"
