"""What is printed for one end of a fitting: outside diameter, out-of-round, bore and wall.

Pipe sizes to ASME B36.10M and B36.19M, tolerances to ASME B16.9-2018 Table 11-1; every figure comes
from `fittings.dimensions`, with its source.
"""

from __future__ import annotations

from dataclasses import dataclass

from fittings.dimensions import (
    SizeTable,
    Tolerances,
    outside_diameter_mm,
    pipe,
    tolerances,
)
from fittings.listed import rows_by_size
from fittings.order.lines import OrderError

# ASME B16.9-2018 Table 11-1: the same for every size, so also for the ends that it has no row for.
WALL_MIN_FRACTION = 0.875


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One dimension: what is printed, and the least and the most that the tolerance leaves.

    None is "nothing printed". `letter` is the standard's own (A, B, C, M, H, Q, P) or "". Where
    `required` is False the standard only recommends the figure.
    """

    name: str
    label: str
    nominal_mm: float | None
    low_mm: float | None
    high_mm: float | None
    source: str
    letter: str = ""
    required: bool = True
    note: str = ""

    @property
    def from_memory(self) -> bool:
        """Whether any part of the figure was put down from memory."""
        return "from memory" in self.source


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """One end size of a fitting; `prefix` tells two sizes apart, "" where there is one."""

    prefix: str
    nps: str
    schedule: str | None
    wall_mm: float | None

    def named(self, name: str) -> str:
        return f"{self.prefix}_{name}" if self.prefix else name

    def labelled(self, label: str) -> str:
        where = f"{self.prefix} end" if self.prefix in ("large", "small") else self.prefix
        return f"{label}, {where}" if where else label


def roundness(end: End) -> tuple[Limit, ...]:
    """OD at the bevel and out-of-round, which is what the two OD figures add up to."""
    od_mm, od_source = _od(end)
    allowed = tolerances_or_none(end.nps)
    if allowed is None:
        bare = f"Table 11-1 has no row for NPS {end.nps}"
        return (_bare(end, "od", "outside diameter at the bevel", od_mm, od_source, bare),)
    source = tolerance_source(end.nps)
    return (
        Limit(
            name=end.named("od"),
            label=end.labelled("outside diameter at the bevel"),
            nominal_mm=od_mm,
            low_mm=od_mm - allowed.od_minus_mm,
            high_mm=od_mm + allowed.od_plus_mm,
            source=f"{od_source}; tolerance {source}",
        ),
        Limit(
            name=end.named("out_of_round"),
            label=end.labelled("out-of-round at the bevel"),
            nominal_mm=0.0,
            low_mm=0.0,
            high_mm=allowed.out_of_round_mm,
            note="largest less smallest OD at one end; the plus and the minus figure of the OD",
            source=source,
        ),
    )


def _od(end: End) -> tuple[float, str]:
    """OD in mm and its source. An S schedule brings B36.19M's, 0.1 mm more at NPS 10 and 12."""
    if end.schedule is not None:
        row = pipe(end.nps, end.schedule)
        return row.od_mm, row.source
    rows = rows_by_size(SizeTable.PIPE)
    source = next(row["source"] for (nps, _), row in rows.items() if nps == end.nps)
    return outside_diameter_mm(end.nps), source


def wall_and_bore(end: End) -> tuple[Limit, ...]:
    """Bore at the end and wall; nothing where neither a schedule nor a wall is known."""
    if end.wall_mm is None and end.schedule is None:
        return ()
    od_mm, source = _od(end)
    wall_mm = 0.0
    if end.schedule is not None:
        wall_mm = pipe(end.nps, end.schedule).wall_mm
    if end.wall_mm is not None and end.wall_mm != wall_mm:
        wall_mm, source = end.wall_mm, "wall as entered"
    if 2 * wall_mm >= od_mm:
        raise OrderError(
            end.named("wall_mm"),
            f"a wall of {wall_mm:g} mm leaves no bore in an OD of {od_mm:g} mm",
        )
    allowed = tolerances_or_none(end.nps)
    bore_mm = od_mm - 2 * wall_mm
    wall = Limit(
        name=end.named("wall"),
        label=end.labelled("wall"),
        nominal_mm=wall_mm,
        low_mm=WALL_MIN_FRACTION * wall_mm,
        high_mm=None,
        note="nowhere below 87.5 % of nominal; no upper limit away from the ends",
        source=f"{source}; tolerance {tolerance_source(end.nps)}",
    )
    if allowed is None:
        bare = f"Table 11-1 has no row for NPS {end.nps}"
        return (_bare(end, "bore", "bore at the end", bore_mm, source, bare), wall)
    bore = Limit(
        name=end.named("bore"),
        label=end.labelled("bore at the end"),
        nominal_mm=bore_mm,
        low_mm=bore_mm - allowed.id_pm_mm,
        high_mm=bore_mm + allowed.id_pm_mm,
        note="OD less two walls; not toleranced away from the ends (ASME B16.9 6.2.2)",
        source=f"{source}; tolerance {tolerance_source(end.nps)}",
    )
    return (bore, wall)


def _bare(end: End, name: str, label: str, nominal_mm: float, source: str, note: str) -> Limit:
    return Limit(
        name=end.named(name),
        label=end.labelled(label),
        nominal_mm=nominal_mm,
        low_mm=None,
        high_mm=None,
        note=note,
        source=source,
    )


def tolerances_or_none(nps: str | None) -> Tolerances | None:
    """NPS 1/4 and 3/8 are outlets and small ends only, and the tolerance table lacks them."""
    if nps is None or (nps,) not in rows_by_size(SizeTable.TOLERANCE):
        return None
    return tolerances(nps)


def tolerance_source(nps: str) -> str:
    row = rows_by_size(SizeTable.TOLERANCE).get((nps,))
    return row["source"] if row else "ASME B16.9-2018 Table 11-1, two public tables agree"
