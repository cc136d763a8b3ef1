"""One ordered piece with the sizes that a strength sum needs: diameters, walls, radius, length."""

from __future__ import annotations

from dataclasses import dataclass

from fittings.dimensions import (
    SAME_WALL_MM,
    PipeDimensions,
    SizeNotListed,
    elbow,
    outside_diameter_mm,
    pipe,
    reducer,
    tee,
)
from fittings.order.lines import ELBOWS, FittingForm, OrderLine
from fittings.sizes import format_nps, parse_nps
from fittings.strength.flexibility import mean_radius_mm
from fittings.strength.steps import StrengthError
from fittings.words import Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderedPiece:
    """What was ordered, in mm. `second_…` is the outlet of a tee or the small end of a reducer.

    A straight tee has an outlet of the run's size. `bend_radius_mm` and `angle_deg` are those of an
    elbow, `length_mm` the H of a reducer. `sources` say where the sizes are from.
    """

    form: FittingForm
    nps: str
    second_nps: str | None
    schedule: str | None
    outside_mm: float
    wall_mm: float
    second_outside_mm: float | None
    second_wall_mm: float | None
    bend_radius_mm: float | None
    angle_deg: float | None
    length_mm: float | None
    sources: tuple[str, ...]

    @property
    def title(self) -> str:
        """ "NPS 12 x 6 reducing tee, schedule STD (12.7 mm)"."""
        sizes = self.nps if self.second_nps is None else f"{self.nps} x {self.second_nps}"
        wall = f"{self.wall_mm:g} mm wall"
        if self.schedule is not None:
            listed_mm = pipe(self.nps, self.schedule).wall_mm
            wall = (
                f"schedule {self.schedule} ({wall})"
                if abs(listed_mm - self.wall_mm) <= SAME_WALL_MM
                else f"{wall} as given (schedule {self.schedule} is {listed_mm:g} mm)"
            )
        return f"NPS {sizes} {self.form.value}, {wall}"


def piece_of_line(line: OrderLine, *, second_wall_mm: float | None = None) -> OrderedPiece:
    """The piece of an order line. Errors as `ordered_piece`."""
    return ordered_piece(
        line.form,
        line.nps,
        line.second_nps,
        schedule=line.schedule,
        wall_mm=line.wall_mm,
        second_wall_mm=second_wall_mm,
    )


def ordered_piece(
    form: FittingForm,
    nps: str,
    second_nps: str | None = None,
    *,
    schedule: str | None = None,
    wall_mm: float | None = None,
    second_schedule: str | None = None,
    second_wall_mm: float | None = None,
) -> OrderedPiece:
    """The piece with its sizes looked up.

    A given wall outranks the schedule's. The wall of the outlet or the small end is
    `second_wall_mm`, or that of `second_schedule`, or else that of the first size's schedule.
    SizeNotListed for a size that the tables lack, StrengthError naming the field for what is
    missing or cannot be, ValueError for a text that is no size.
    """
    size = format_nps(nps)
    second = None if second_nps is None else format_nps(second_nps)
    _check_sizes(form, size, second)
    if form.kind is Kind.ELBOW and not (second_schedule is None and second_wall_mm is None):
        raise StrengthError("second wall", f"a {form.value} has one size; leave the second out")
    sources = []
    if wall_mm is None:
        if schedule is None:
            raise StrengthError("wall", "give a schedule such as STD, or a wall such as 9.53 mm")
        run = pipe(size, schedule)
        wall_mm, schedule = run.wall_mm, run.schedule
        sources.append(f"wall NPS {size}: {run.source}")
    else:
        sources.append(f"wall NPS {size}: as given")
    outside = outside_diameter_mm(size)
    mean_radius_mm(outside, wall_mm)
    radius = angle = length = None
    second_outside = second_wall = None
    if form.kind is Kind.ELBOW:
        bend = elbow(size, *ELBOWS[form])
        radius, angle = bend.bend_radius_mm, float(bend.angle_deg)
        sources.append(f"bend radius: {bend.source}")
    elif form.kind is Kind.TEE:
        sources.append(f"tee: {tee(size, second).source}")
        second_outside = outside_diameter_mm(second or size)
    else:
        cone = reducer(size, second or size)
        length, second_outside = cone.end_to_end_mm, cone.small_od_mm
        sources.append(f"length: {cone.source}")
    if second_outside is not None:
        second_wall = second_wall_mm
        if second_wall is None:
            both = second is None and second_schedule is None
            second_wall = wall_mm
            if not both:
                end = _second_pipe(second or size, second_schedule or schedule)
                second_wall = end.wall_mm
                sources.append(f"wall NPS {end.nps}: {end.source}")
        mean_radius_mm(second_outside, second_wall, "second wall")
    return OrderedPiece(
        form=form,
        nps=size,
        second_nps=second,
        schedule=schedule,
        outside_mm=outside,
        wall_mm=wall_mm,
        second_outside_mm=second_outside,
        second_wall_mm=second_wall,
        bend_radius_mm=radius,
        angle_deg=angle,
        length_mm=length,
        sources=tuple(sources),
    )


def _check_sizes(form: FittingForm, size: str, second: str | None) -> None:
    if form.two_sizes and second is None:
        raise StrengthError("second size", f"a {form.value} needs two sizes, such as 12 and 8")
    if not form.two_sizes and second is not None:
        raise StrengthError("second size", f"a {form.value} has one size only; leave it out")
    if second is not None and parse_nps(second) >= parse_nps(size):
        raise StrengthError(
            "second size", f"NPS {second} must be smaller than NPS {size}; give the larger first"
        )


def _second_pipe(second: str, schedule: str | None) -> PipeDimensions:
    """The pipe that the outlet or the small end is for."""
    if schedule is None:
        raise StrengthError(
            "second wall", f"give the wall at NPS {second} too, as no schedule says it"
        )
    try:
        return pipe(second, schedule)
    except SizeNotListed as error:
        raise StrengthError("second wall", f"{error}; give the wall at NPS {second}") from None
