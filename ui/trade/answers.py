"""Answers of the trade as rows for a table and as sentences.

What cannot be answered raises TradeTrouble, whose text a page shows as it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from fittings.dimensions import SizeNotListed
from fittings.order.check import findings_of, seam_allowed
from fittings.order.lines import FittingForm, OrderError, OrderLine
from fittings.order.rows import ReadLine
from fittings.receiving.end_limits import Limit
from fittings.receiving.limits import limits
from fittings.receiving.measured import Deviation, MeasurementError, compare, limit_named
from fittings.receiving.settle import PhysicalCheck
from fittings.strength.consequence import Consequence, Fabrication, consequence
from fittings.strength.flexibility import Flexibility
from fittings.strength.ordered_piece import ordered_piece
from fittings.strength.pressure import Design
from fittings.strength.steps import Step, StrengthError
from fittings.units import QuantityError, length_mm, pressure_mpa
from ui.dims_command import measurement_entered
from ui.dims_output import title_of
from ui.strength_output import value_in_words

Row = dict[str, str]

SEAM_WORDS = {
    True: "A longitudinal seam is allowed; no other.",
    False: "No seam is allowed.",
    None: "The order contradicts itself about seams.",
}


class TradeTrouble(ValueError):
    """What is wrong with what was entered, and what to do, in one line."""


def made_line(
    form: FittingForm, nps: str, second_nps: str | None, schedule: str | None
) -> OrderLine:
    """An order line made by hand from what the tables list."""
    try:
        return OrderLine(row=0, form=form, nps=nps, second_nps=second_nps, schedule=schedule)
    except OrderError as error:
        raise TradeTrouble(str(error)) from None


# ------------------------------------------------------------------------------------------ order


def order_title(line: OrderLine) -> str:
    """ "90° long-radius elbow, NPS 6 (DN 150), schedule 40, A234 WPB, seamless"."""
    construction = line.construction.value if line.construction else ""
    return ", ".join(filter(None, (title_of(line), line.material, construction)))


def seam_sentence(line: OrderLine) -> str:
    """Whether the ordered grade and class allow a seam."""
    return SEAM_WORDS[seam_allowed(line)]


def finding_rows(read: ReadLine) -> list[Row]:
    """What was found about an order line, worst first, each with its source."""
    return [
        {"Finding": each.level.value, "What": each.sentence, "Source": each.source}
        for each in findings_of(read)
    ]


# ------------------------------------------------------------------------------------- dimensions


def limit_rows(line: OrderLine) -> list[Row]:
    """What ASME B16.9 prints for the fitting, in mm."""
    return [
        {
            "Name": each.name,
            "What": each.label if each.required else f"{each.label} (recommended only)",
            "Nominal mm": _number(each.nominal_mm),
            "Least mm": _number(each.low_mm),
            "Most mm": _number(each.high_mm),
        }
        for each in limits_of(line)
    ]


def limit_sources(line: OrderLine) -> list[str]:
    """Where each of them stands: too long for a column of a narrow page."""
    return [f"{each.name}: {each.source}" for each in limits_of(line)]


def limits_of(line: OrderLine) -> tuple[Limit, ...]:
    """TradeTrouble where the tables have no such size."""
    try:
        return limits(line)
    except (SizeNotListed, OrderError) as error:
        raise TradeTrouble(str(error)) from None


def dimension_names(line: OrderLine) -> tuple[str, ...]:
    """The names of the dimensions that can be measured on the fitting."""
    return tuple(each.name for each in limits_of(line))


def compared_rows(line: OrderLine, text: str) -> list[Row]:
    """Measurements, one a line as `centre_to_end = 229.5mm`, against their limits."""
    allowed = limits_of(line)
    pairs = []
    for entry in filter(None, (part.strip() for part in text.splitlines())):
        try:
            name, length = measurement_entered(entry)
            pairs.append((limit_named(name, allowed).name, length_mm(length, name)))
        except (MeasurementError, QuantityError) as error:
            raise TradeTrouble(str(error)) from None
    return deviation_rows(_compared(allowed, pairs))


def deviation_rows(found: Iterable[Deviation]) -> list[Row]:
    """Measured dimensions against their limits, in words."""
    return [
        {
            "Measured": each.limit.name,
            "Worst mm": _number(each.worst_mm),
            "Against the limit": each.in_words,
        }
        for each in found
    ]


def measured_rows(line: OrderLine, pairs: Sequence[tuple[str, float]]) -> list[Row]:
    """Recorded measurements, (name, mm), against the limits of an order line."""
    return deviation_rows(_compared(limits_of(line), pairs))


def _compared(
    allowed: Sequence[Limit], pairs: Sequence[tuple[str, float]]
) -> tuple[Deviation, ...]:
    try:
        return compare(allowed, pairs)
    except MeasurementError as error:
        raise TradeTrouble(str(error)) from None


def length_entered(text: str) -> float:
    """A length with its unit in mm."""
    try:
        return length_mm(text, "length")
    except QuantityError as error:
        raise TradeTrouble(str(error)) from None


# ----------------------------------------------------------------------------------------- checks


def check_lines(check: PhysicalCheck) -> list[str]:
    """Where and how to do a check and what it shows, a labelled line each."""
    lines = [
        f"**Where:** {check.where}",
        f"**How:** {check.how}" if check.how else "",
        *(f"**Figures:** {each}" for each in check.figures),
        f"**A formed piece shows:** {check.formed}",
        f"**A fabricated piece shows:** {check.fabricated}",
        f"**It cannot tell:** {check.cannot_tell}",
        *(f"**Caution:** {hazard.value}" for hazard in check.hazards),
        f"**Source:** {check.source}",
    ]
    return [line for line in lines if line]


# --------------------------------------------------------------------------------------- strength


def strength_found(
    line: OrderLine, *, pieces: int | None, pressure: str, allowable: str, corrosion: str
) -> Consequence:
    """What it costs in strength if the piece is a fabrication; empty texts are not given."""
    try:
        piece = ordered_piece(line.form, line.nps, line.second_nps, schedule=line.schedule)
        design = None
        if allowable:
            design = Design(
                allowable_mpa=pressure_mpa(allowable, "allowable stress"),
                corrosion_mm=length_mm(corrosion, "corrosion allowance") if corrosion else 0.0,
            )
        asked = pressure_mpa(pressure, "pressure") if pressure else None
        return consequence(piece, Fabrication(pieces=pieces), design, asked)
    except (StrengthError, QuantityError, SizeNotListed) as error:
        raise TradeTrouble(str(error)) from None


def factor_rows(found: Consequence) -> list[Row]:
    """Flexibility and stress intensification of the ordered and of each fabricated piece."""
    rows = [_factors(f"Ordered: {found.ordered.piece}", found.ordered)]
    if found.ordered_otherwise is not None:
        rows.append(_factors(f"Or: {found.ordered_otherwise.piece}", found.ordered_otherwise))
    for way in found.fabricated:
        rows.append(
            {
                **_factors(f"Fabricated: {way.flexibility.piece}", way.flexibility),
                "ii, times": f"{way.times_in:.2f}",
                "io, times": f"{way.times_out:.2f}",
            }
        )
    return rows


def _factors(name: str, each: Flexibility) -> Row:
    return {
        "Piece": name,
        "h": "–" if each.h is None else f"{each.h:.4f}",
        "k": f"{each.k:.2f}",
        "ii in plane": f"{each.i_in:.2f}",
        "io out of plane": f"{each.i_out:.2f}",
        "ii, times": "",
        "io, times": "",
    }


def step_rows(steps: Iterable[Step]) -> list[Row]:
    """A sum step by step: formula, numbers put in, value and source."""
    return [
        {
            "": each.symbol,
            "Meaning": each.meaning,
            "Formula": each.formula,
            "Numbers": "" if each.numbers == each.formula else each.numbers,
            "Value": f"{value_in_words(each.value)} {each.unit}".rstrip(),
            "Source": each.source,
        }
        for each in steps
    ]


def _number(value_mm: float | None) -> str:
    return "–" if value_mm is None else f"{value_mm:.4g}"
