"""Standard dimensions of pipe and of butt-welding fittings, NPS 1/2 to 48, in millimetres.

ASME B36.10M and B36.19M for pipe, ASME B16.9 for fittings. The rows lie in `fittings/tables/`; each
cites its table and says how the value was checked, and every result carries that text on as
`source`. No bought edition of a standard was at hand: rows said to be "from memory" (reducing tees
and reducers NPS 26 to 48, 45° 3D elbows) are good for a picture or a question to the supplier, not
for a rejection. NPS 1/4 and 3/8 are here because some outlets and small ends have those sizes.

Dimensions do not depend on the wall. Every look-up raises `SizeNotListed` for a size that its table
lacks and ValueError for a text that is no size at all.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from fittings.listed import (
    ELBOW_TABLES,
    ElbowRadius,
    SizeNotListed,
    SizeTable,
    listed_sizes,
    not_listed,
    range_row,
    rows_by_size,
)
from fittings.sizes import Nps, format_nps, parse_nps

__all__ = [
    "SAME_WALL_MM",
    "ElbowDimensions",
    "ElbowRadius",
    "PipeDimensions",
    "ReducerDimensions",
    "SizeNotListed",
    "SizeTable",
    "TeeDimensions",
    "Tolerances",
    "elbow",
    "format_nps",
    "listed_sizes",
    "outlets",
    "outside_diameter_mm",
    "parse_nps",
    "pipe",
    "reducer",
    "small_ends",
    "tee",
    "tolerances",
]


# Rounded inch tables and rounded metric ones differ by less than this.
SAME_WALL_MM = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class PipeDimensions:
    """One pipe: outside diameter and nominal wall of a schedule."""

    nps: str
    schedule: str
    od_mm: float
    wall_mm: float
    source: str

    @property
    def bore_mm(self) -> float:
        """Nominal inside diameter."""
        return self.od_mm - 2 * self.wall_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class ElbowDimensions:
    """One elbow. `centre_to_end_mm` is A of a 90° elbow, B of a 45° one."""

    nps: str
    od_mm: float
    centre_to_end_mm: float
    bend_radius_mm: float
    angle_deg: int
    source: str

    @property
    def tangent_mm(self) -> float:
        """Straight length at each end, between the bevel and the beginning of the arc."""
        half_angle = math.radians(self.angle_deg) / 2
        # Where the arc fills the elbow, rounding would leave a last bit below 0.
        return max(0.0, self.centre_to_end_mm - self.bend_radius_mm * math.tan(half_angle))


@dataclass(frozen=True, slots=True, kw_only=True)
class TeeDimensions:
    """One tee, straight or reducing: C from the centre to a run end, M to the outlet end.

    `outlet_m_required` is False where the standard only recommends M.
    """

    run_nps: str
    outlet_nps: str
    run_od_mm: float
    outlet_od_mm: float
    run_c_mm: float
    outlet_m_mm: float
    outlet_m_required: bool
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReducerDimensions:
    """One reducer, concentric or eccentric alike: H is the length from end to end."""

    large_nps: str
    small_nps: str
    large_od_mm: float
    small_od_mm: float
    end_to_end_mm: float
    source: str

    @property
    def eccentric_offset_mm(self) -> float:
        """How far the two centrelines lie apart when one side is flat."""
        return (self.large_od_mm - self.small_od_mm) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerances:
    """What B16.9 allows at one size. Lengths in mm; "pm" is plus or minus.

    `wall_min_fraction` is of the nominal wall. `off_angle_q_mm` is how far an end face may lean
    out of square, `off_plane_p_mm` how far one end plane may be twisted or offset from the other.
    """

    nps: str
    od_plus_mm: float
    od_minus_mm: float
    id_pm_mm: float
    wall_min_fraction: float
    centre_to_end_pm_mm: float
    centre_to_end_3d_pm_mm: float
    end_to_end_pm_mm: float
    off_angle_q_mm: float
    off_plane_p_mm: float
    source: str

    @property
    def out_of_round_mm(self) -> float:
        """Largest less smallest OD at the bevel: the sum of the plus and the minus figure."""
        return self.od_plus_mm + self.od_minus_mm


def pipe(nps: Nps, schedule: str | int) -> PipeDimensions:
    """OD and wall by schedule: "40", "STD", "XS", "XXS" (B36.10M), "10S" (B36.19M).

    An S schedule takes the OD of B36.19M, which is 0.1 mm larger at NPS 10 and 12.
    """
    size = parse_nps(nps)
    name = str(schedule).upper().removeprefix("SCHEDULE").removeprefix("SCH").strip(" .-")
    row = rows_by_size(SizeTable.PIPE).get((format_nps(size), name))
    if row is None:
        asked = f"NPS {format_nps(size)} schedule {name}"
        known = [each for text, each in rows_by_size(SizeTable.PIPE) if text == format_nps(size)]
        if known:
            raise SizeNotListed(asked, SizeTable.PIPE, (f"schedule {each}" for each in known))
        raise not_listed(size, SizeTable.PIPE, asked=asked)
    return PipeDimensions(
        nps=row["nps"],
        schedule=row["schedule"],
        od_mm=float(row["od_mm"]),
        wall_mm=float(row["wall_mm"]),
        source=row["source"],
    )


def outside_diameter_mm(nps: Nps) -> float:
    """OD of pipe to B36.10M, which is the OD at the bevels of a fitting of that size."""
    return pipe(nps, "STD").od_mm


def elbow(nps: Nps, radius: ElbowRadius = ElbowRadius.LONG, angle_deg: int = 90) -> ElbowDimensions:
    """A 90° or 45° elbow; short-radius elbows are listed at 90° only.

    B16.9 gives the centre-to-end and leaves the arc to the maker. `bend_radius_mm` is the radius
    that goes with it: A of the 90° elbow of the same size, or, where that arc would not fit into B
    of a 45° elbow, the largest that does. What is left over is the straight `tangent_mm`.
    ValueError for a radius and angle that B16.9 does not pair.
    """
    table = ELBOW_TABLES.get((radius, angle_deg))
    if table is None:
        raise ValueError(f"no table for {radius.value} radius elbows of {angle_deg}°")
    size = parse_nps(nps)
    row = rows_by_size(table).get((format_nps(size),))
    if row is None:
        raise not_listed(size, table)
    quarter = rows_by_size(ELBOW_TABLES[radius, 90])[row["nps"],]
    centre_to_end_mm = float(row["centre_to_end_mm"])
    quarter_mm = float(quarter["centre_to_end_mm"])
    fits_mm = centre_to_end_mm / math.tan(math.radians(angle_deg) / 2)
    return ElbowDimensions(
        nps=row["nps"],
        od_mm=outside_diameter_mm(size),
        centre_to_end_mm=centre_to_end_mm,
        bend_radius_mm=quarter_mm if angle_deg == 90 else min(quarter_mm, fits_mm),
        angle_deg=angle_deg,
        source=row["source"],
    )


def tee(run_nps: Nps, outlet_nps: Nps | None = None) -> TeeDimensions:
    """A straight tee, or a reducing one when the outlet is a smaller size than the run."""
    run = parse_nps(run_nps)
    outlet = run if outlet_nps is None else parse_nps(outlet_nps)
    table = SizeTable.STRAIGHT_TEE if outlet == run else SizeTable.REDUCING_TEE
    row = rows_by_size(table).get((format_nps(run), format_nps(outlet)))
    if row is None:
        raise not_listed(run, table, outlet) if outlet != run else not_listed(run, table)
    return TeeDimensions(
        run_nps=format_nps(run),
        outlet_nps=format_nps(outlet),
        run_od_mm=outside_diameter_mm(run),
        outlet_od_mm=outside_diameter_mm(outlet),
        run_c_mm=float(row["run_c_mm"]),
        outlet_m_mm=float(row["outlet_m_mm"]),
        outlet_m_required=row["outlet_m_status"] == "required",
        source=row["source"],
    )


def reducer(large_nps: Nps, small_nps: Nps) -> ReducerDimensions:
    """A reducer from the large end to the small one."""
    large, small = parse_nps(large_nps), parse_nps(small_nps)
    row = rows_by_size(SizeTable.REDUCER).get((format_nps(large), format_nps(small)))
    if row is None:
        raise not_listed(large, SizeTable.REDUCER, small)
    return ReducerDimensions(
        large_nps=row["large_nps"],
        small_nps=row["small_nps"],
        large_od_mm=outside_diameter_mm(large),
        small_od_mm=outside_diameter_mm(small),
        end_to_end_mm=float(row["end_to_end_mm"]),
        source=row["source"],
    )


def tolerances(nps: Nps) -> Tolerances:
    """Table 11-1 and the angularity limits at one size; only sizes that B16.9 has elbows of."""
    size = parse_nps(nps)
    row = rows_by_size(SizeTable.TOLERANCE).get((format_nps(size),))
    if row is None:
        raise not_listed(size, SizeTable.TOLERANCE)
    angular = range_row("b16_9_angularity", size)
    return Tolerances(
        nps=format_nps(size),
        od_plus_mm=float(row["od_plus_mm"]),
        od_minus_mm=float(row["od_minus_mm"]),
        id_pm_mm=float(row["id_pm_mm"]),
        wall_min_fraction=float(row["wall_min_fraction"]),
        centre_to_end_pm_mm=float(row["centre_to_end_pm_mm"]),
        centre_to_end_3d_pm_mm=float(row["centre_to_end_3d_pm_mm"]),
        end_to_end_pm_mm=float(row["end_to_end_pm_mm"]),
        off_angle_q_mm=float(angular["off_angle_q_mm"]),
        off_plane_p_mm=float(angular["off_plane_p_mm"]),
        source=f"{row['source']}; {angular['source']}",
    )


def small_ends(large_nps: Nps) -> tuple[str, ...]:
    """The small ends that reducers of this large end are listed with, largest first."""
    return _partners(SizeTable.REDUCER, parse_nps(large_nps))


def outlets(run_nps: Nps) -> tuple[str, ...]:
    """The outlets that reducing tees of this run are listed with, largest first."""
    return _partners(SizeTable.REDUCING_TEE, parse_nps(run_nps))


def _partners(table: SizeTable, first: Fraction) -> tuple[str, ...]:
    found = [key[1] for key in rows_by_size(table) if key[0] == format_nps(first)]
    if not found:
        raise not_listed(first, table)
    return tuple(sorted(found, key=parse_nps, reverse=True))
