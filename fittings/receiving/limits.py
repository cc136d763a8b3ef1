"""What ASME B16.9 prints for one fitting, dimension by dimension, with the least and the most.

Lengths in millimetres, from the metric columns of the tables: the inch columns are rounded apart
from them, by up to half a millimetre (NPS 12 long radius: 457 mm beside 18.00 in, which is
457.2 mm). Dimensions, tolerances and how each was checked come from `fittings.dimensions`; nothing
here adds a figure of its own.

Where the standard prints one tolerance by size and a fitting has two sizes, the larger size's is
taken and the other is named in the note: which of the two governs was not found.
"""

from __future__ import annotations

from fittings.dimensions import (
    ElbowRadius,
    SizeNotListed,
    elbow,
    parse_nps,
    pipe,
    reducer,
    tee,
    tolerances,
)
from fittings.listed import range_row
from fittings.order.lines import ELBOWS, OrderError, OrderLine
from fittings.receiving.end_limits import (
    End,
    Limit,
    roundness,
    tolerance_source,
    tolerances_or_none,
    wall_and_bore,
)
from fittings.words import Kind

INCH_NOTE = (
    "Limits are those of the metric columns; the inch columns are rounded apart from them, by up "
    "to 0.5 mm, so look at both before a measurement that close to a limit is held against a piece."
)


def limits(
    line: OrderLine, *, second_schedule: str | None = None, second_wall_mm: float | None = None
) -> tuple[Limit, ...]:
    """Every dimension that B16.9 prints for the fitting of an order line, lengths first.

    The second size has the line's own schedule unless one of the other arguments says otherwise.
    Walls and bores are there only where a schedule or a wall is given. SizeNotListed for a size
    that the tables lack, OrderError for a schedule that the second size does not come in.
    """
    lengths = {Kind.ELBOW: _elbow, Kind.TEE: _tee, Kind.REDUCER: _reducer}[line.form.kind](line)
    ends = [
        limit
        for end in _ends(line, second_schedule, second_wall_mm)
        for limit in (*roundness(end), *wall_and_bore(end))
    ]
    return (*lengths, *ends, *_angularity(line))


def _elbow(line: OrderLine) -> tuple[Limit, ...]:
    radius, angle_deg = ELBOWS[line.form]
    size = elbow(line.nps, radius, angle_deg)
    allowed = tolerances(line.nps)
    is_3d = radius is ElbowRadius.THREE_D
    letter = "A" if angle_deg == 90 else "B"
    return (
        _length(
            "centre_to_end",
            "centre to end",
            letter,
            size.centre_to_end_mm,
            allowed.centre_to_end_3d_pm_mm if is_3d else allowed.centre_to_end_pm_mm,
            f"{size.source}; tolerance {tolerance_source(allowed.nps)}",
        ),
    )


def _tee(line: OrderLine) -> tuple[Limit, ...]:
    size = tee(line.nps, line.second_nps)
    allowed = tolerances(line.nps)
    source = f"{size.source}; tolerance {tolerance_source(allowed.nps)}"
    pm_mm = allowed.centre_to_end_pm_mm
    notes = []
    if not size.outlet_m_required:
        notes.append("M is recommended at this size, not required")
    if (other := tolerances_or_none(line.second_nps)) and other.centre_to_end_pm_mm != pm_mm:
        notes.append(f"the outlet's own size has ± {other.centre_to_end_pm_mm:g} mm")
    return (
        _length("run_centre_to_end", "centre to end, run", "C", size.run_c_mm, pm_mm, source),
        _length(
            "outlet_centre_to_end",
            "centre to end, outlet",
            "M",
            size.outlet_m_mm,
            pm_mm,
            source,
            required=size.outlet_m_required,
            note="; ".join(notes),
        ),
    )


def _reducer(line: OrderLine) -> tuple[Limit, ...]:
    size = reducer(line.nps, line.second_nps or line.nps)
    pm_mm = tolerances(line.nps).end_to_end_pm_mm
    source = f"{size.source}; tolerance {tolerance_source(line.nps)}"
    return (_length("end_to_end", "end to end", "H", size.end_to_end_mm, pm_mm, source),)


def _length(
    name: str,
    label: str,
    letter: str,
    nominal_mm: float,
    pm_mm: float,
    source: str,
    *,
    required: bool = True,
    note: str = "",
) -> Limit:
    return Limit(
        name=name,
        label=f"{label}, {letter}",
        letter=letter,
        nominal_mm=nominal_mm,
        low_mm=nominal_mm - pm_mm,
        high_mm=nominal_mm + pm_mm,
        required=required,
        note=note,
        source=source,
    )


def _ends(
    line: OrderLine, second_schedule: str | None, second_wall_mm: float | None
) -> tuple[End, ...]:
    if line.second_nps is None:
        if second_schedule is not None or second_wall_mm is not None:
            field = "second_schedule" if second_wall_mm is None else "second_wall"
            raise OrderError(field, f"a {line.form.value} has one size; leave the second out")
        return (End(prefix="", nps=line.nps, schedule=line.schedule, wall_mm=line.wall_mm),)
    first, second = ("run", "outlet") if line.form.kind is Kind.TEE else ("large", "small")
    other = second_schedule
    if other is None and second_wall_mm is None and line.schedule is not None:
        other = line.schedule
        try:
            pipe(line.second_nps, other)
        except SizeNotListed as error:
            raise OrderError(
                "second_schedule", f"{error}; give the {second} a schedule or a wall of its own"
            ) from None
    return (
        End(prefix=first, nps=line.nps, schedule=line.schedule, wall_mm=line.wall_mm),
        End(prefix=second, nps=line.second_nps, schedule=other, wall_mm=second_wall_mm),
    )


def _angularity(line: OrderLine) -> tuple[Limit, ...]:
    allowed, other = tolerances(line.nps), tolerances_or_none(line.second_nps)
    source = range_row("b16_9_angularity", parse_nps(line.nps))["source"]
    rows = (
        ("off_angle", "end face out of square", "Q", allowed.off_angle_q_mm, "off_angle_q_mm"),
        ("off_plane", "end plane twisted or offset", "P", allowed.off_plane_p_mm, "off_plane_p_mm"),
    )
    return tuple(
        Limit(
            name=name,
            label=f"{label}, {letter}",
            letter=letter,
            nominal_mm=0.0,
            low_mm=0.0,
            high_mm=most_mm,
            note=(
                f"NPS {other.nps} alone has {getattr(other, field):g} mm"
                if other and getattr(other, field) != most_mm
                else ""
            ),
            source=source,
        )
        for name, label, letter, most_mm, field in rows
    )
