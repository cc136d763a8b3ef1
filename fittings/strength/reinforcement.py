"""Area replacement at a welded-on outlet, after ASME B31.3-2016 304.3.3.

Symbols: subscript h for the run (header), b for the branch; T̄ nominal wall, T wall less the mill
tolerance, t pressure wall of 304.1.2, c allowances, β angle between the axes, Tr and S_r least
thickness and allowable stress of a pad. Areas in mm².

    A1 = th·d1·(2 − sin β)             asked for
    A2 = (2·d2 − d1)·(Th − th − c)     spare in the run
    A3 = 2·L4·(Tb − tb − c)/sin β      spare in the branch
    A4                                 welds and pad inside the zone

The formulas, their nomenclature and the code's own first sample (Appendix H, H301) were read in
public copies of the 2012 and 2016 editions; two published samples agree. From memory: the size of
the outer weld of a pad, that a weaker pad counts in proportion to its allowable stress, and the
limits of 304.3.2 on where the method applies.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fittings.strength.flexibility import mean_radius_mm
from fittings.strength.pressure import PIPE_CLAUSE, Design, pressure_thickness_mm, wall_left_mm
from fittings.strength.steps import Step, StrengthError, Working, not_negative, positive

CLAUSE = "ASME B31.3-2016 304.3.3"
_WELD_CLAUSE = "ASME B31.3-2016 328.5.4, as Appendix H300 retells it"
_OUTER_WELD = "ASME B31.3-2016 Figure 328.5.4D, from memory"
_PAD_STRESS = f"{CLAUSE}(f), from memory"
_THROAT_PER_LEG = 0.707


@dataclass(frozen=True, slots=True, kw_only=True)
class Pad:
    """A reinforcing ring: thickness Tr and width on each side of the branch, in mm.

    `allowable_mpa` is S of its material, where that differs from the run's.
    """

    thickness_mm: float
    width_mm: float
    allowable_mpa: float | None = None

    def __post_init__(self) -> None:
        positive(self.thickness_mm, "pad", "mm")
        positive(self.width_mm, "pad width", "mm")
        if self.allowable_mpa is not None:
            positive(self.allowable_mpa, "pad allowable", "MPa")


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlet:
    """The pipes of an outlet welded onto a run, in mm; walls are nominal.

    `least_run_wall_mm` and `least_branch_wall_mm` take the place of nominal wall less mill
    tolerance where they are known, `leg_mm` that of the least leg of the branch weld. StrengthError
    for a branch larger than the run, or an angle outside 45° to 90°.
    """

    run_od_mm: float
    run_wall_mm: float
    branch_od_mm: float
    branch_wall_mm: float
    angle_deg: float = 90.0
    least_run_wall_mm: float | None = None
    least_branch_wall_mm: float | None = None
    leg_mm: float | None = None
    pad: Pad | None = None

    def __post_init__(self) -> None:
        mean_radius_mm(self.run_od_mm, self.run_wall_mm)
        mean_radius_mm(self.branch_od_mm, self.branch_wall_mm, "branch wall")
        if self.branch_od_mm > self.run_od_mm:
            raise StrengthError("branch", "must not be larger than the run")
        if not 45 <= self.angle_deg <= 90:
            raise StrengthError(
                "angle", f"the method takes 45° to 90° (from memory), not {self.angle_deg:g}°"
            )
        if self.leg_mm is not None:
            not_negative(self.leg_mm, "weld leg", "mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reinforcement:
    """Areas in mm². `spare_mm2` is negative where the reinforcement is short."""

    asked_mm2: float  # A1
    run_mm2: float  # A2
    branch_mm2: float  # A3
    added_mm2: float  # A4
    steps: tuple[Step, ...]
    notes: tuple[str, ...]

    @property
    def found_mm2(self) -> float:
        """A2 + A3 + A4."""
        return self.run_mm2 + self.branch_mm2 + self.added_mm2

    @property
    def spare_mm2(self) -> float:
        return self.found_mm2 - self.asked_mm2

    @property
    def in_words(self) -> str:
        """ "short by 310 mm²" or "95 mm² to spare"; whole mm², never rounded to enough."""
        if self.spare_mm2 < 0:
            return f"short by {max(1, math.ceil(-self.spare_mm2 - 0.5)):d} mm²"
        return f"{math.floor(self.spare_mm2):d} mm² to spare"


def reinforcement(outlet: Outlet, pressure_mpa: float, design: Design) -> Reinforcement:
    """A1 to A4 with every step; StrengthError where the allowances use up a wall."""
    sin = math.sin(math.radians(outlet.angle_deg))
    pad = outlet.pad
    work = Working(
        CLAUSE,
        {
            **{"Dh": outlet.run_od_mm, "Db": outlet.branch_od_mm},
            **{"T̄h": outlet.run_wall_mm, "T̄b": outlet.branch_wall_mm},
            **{"β": outlet.angle_deg, "P": pressure_mpa, "m": design.mill_tolerance},
            **design.symbols,
        },
    )
    run = _wall(work, "h", outlet, pressure_mpa, design)
    branch = _wall(work, "b", outlet, pressure_mpa, design)
    d1 = (outlet.branch_od_mm - 2 * branch.left) / sin
    work.line("d1", "length taken out of the run", "(Db − 2·(Tb − c))/sin(β)", d1, "mm")
    d2 = min(max(d1, branch.left + run.left + d1 / 2), outlet.run_od_mm)
    d2_text = "min(max(d1, (Tb − c) + (Th − c) + d1/2), Dh)"
    work.line("d2", "half width of the zone", d2_text, d2, "mm")
    l4_text = "min(2.5·(Th − c), 2.5·(Tb − c))"
    if pad:
        work.line("Tr", "thickness of the pad", f"{pad.thickness_mm:g}", pad.thickness_mm, "mm")
        l4_text = "min(2.5·(Th − c), 2.5·(Tb − c) + Tr)"
    l4 = min(2.5 * run.left, 2.5 * branch.left + (pad.thickness_mm if pad else 0))
    work.line("L4", "height of the zone", l4_text, l4, "mm")
    a1 = run.pressure * d1 * (2 - sin)
    work.line("A1", "area asked for", "th·d1·(2 − sin(β))", a1, "mm²")
    a2 = (2 * d2 - d1) * (run.left - run.pressure)
    work.line("A2", "spare in the run", "(2·d2 − d1)·(Th − th − c)", a2, "mm²")
    a3 = 2 * l4 * (branch.left - branch.pressure) / sin
    work.line("A3", "spare in the branch", "2·L4·(Tb − tb − c)/sin(β)", a3, "mm²")
    a4, notes = _added(work, outlet, d2, sin, design)
    work.line("ΣA", "area found", "A2 + A3 + A4", a2 + a3 + a4, "mm²")
    work.line("ΣA − A1", "spare, or short if negative", "ΣA − A1", a2 + a3 + a4 - a1, "mm²")
    return Reinforcement(
        asked_mm2=a1,
        run_mm2=a2,
        branch_mm2=a3,
        added_mm2=a4,
        steps=work.steps,
        notes=(*_too_thin(run, branch), *_limits(outlet), *notes),
    )


def least_leg_mm(branch_wall_mm: float) -> float:
    """The least leg of the weld round the branch: throat of 0.7·T̄b or 6 mm, whichever is less."""
    return min(0.7 * branch_wall_mm, 6.0) / _THROAT_PER_LEG


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wall:
    """Of one pipe: the least wall less allowances, and the pressure wall, in mm."""

    part: str
    left: float
    pressure: float


def _wall(work: Working, letter: str, outlet: Outlet, pressure_mpa: float, design: Design) -> _Wall:
    """T and t of the run ("h") or the branch ("b"), with their lines."""
    if letter == "h":
        part, od_mm, nominal = "run", outlet.run_od_mm, outlet.run_wall_mm
        least = outlet.least_run_wall_mm
    else:
        part, od_mm, nominal = "branch", outlet.branch_od_mm, outlet.branch_wall_mm
        least = outlet.least_branch_wall_mm
    if least is None:
        least = design.least_wall_mm(nominal)
        formula = f"T̄{letter}·(1 − m)"
    else:
        formula = f"{least:g}"
    left = wall_left_mm(od_mm, least, design, f"the {part}")
    work.line(f"T{letter}", f"least wall of the {part}", formula, least, "mm")
    t = pressure_thickness_mm(pressure_mpa, od_mm, design)
    formula = f"P·D{letter}/(2·(S·E·W + P·Y))"
    work.line(f"t{letter}", f"pressure wall of the {part}", formula, t, "mm", PIPE_CLAUSE)
    return _Wall(part=part, left=left, pressure=t)


def _added(
    work: Working, outlet: Outlet, d2: float, sin: float, design: Design
) -> tuple[float, tuple[str, ...]]:
    """A4: the weld round the branch on both sides, and what of a pad lies inside the zone."""
    leg = outlet.leg_mm
    if leg is None:
        leg = least_leg_mm(outlet.branch_wall_mm)
        formula = f"min(0.7·T̄b, 6)/{_THROAT_PER_LEG}"
        work.line("leg", "least leg of the branch weld", formula, leg, "mm", _WELD_CLAUSE)
    else:
        work.line("leg", "leg of the branch weld, given", f"{leg:g}", leg, "mm")
    pad = outlet.pad
    if pad is None:
        return work.line("A4", "branch weld, both sides", "leg²", leg**2, "mm²"), ()
    room = d2 - outlet.branch_od_mm / 2 / sin
    width = max(0.0, min(pad.width_mm, room))
    work.line("w", "width of the pad", f"{pad.width_mm:g}", pad.width_mm, "mm")
    width_text = "max(0, min(w, d2 − Db/(2·sin(β))))"
    work.line("w zone", "width of the pad inside the zone", width_text, width, "mm")
    pad_allowable = pad.allowable_mpa or design.allowable_mpa
    ratio = min(1.0, pad_allowable / design.allowable_mpa)
    ratio_text = f"min(1, {pad_allowable:g}/S)"
    work.line("f", "strength of the pad beside the run", ratio_text, ratio, "", _PAD_STRESS)
    outer = 0.0
    notes: tuple[str, ...] = ()
    if pad.width_mm < room:
        outer = 0.5 * pad.thickness_mm / _THROAT_PER_LEG
        formula = f"0.5·Tr/{_THROAT_PER_LEG}"
        work.line("leg r", "least leg of the pad's outer weld", formula, outer, "mm", _OUTER_WELD)
        notes = ("the outer weld of the pad is counted at its least size, which is from memory",)
    else:
        work.line("leg r", "the pad's outer weld lies outside the zone", "0", 0.0, "mm")
    a4 = leg**2 + outer**2 + 2 * width * pad.thickness_mm * ratio
    formula = "leg² + leg r² + 2·w zone·Tr·f"
    return work.line("A4", "welds and pad inside the zone", formula, a4, "mm²"), notes


def _too_thin(*walls: _Wall) -> tuple[str, ...]:
    return tuple(
        f"the least wall of the {wall.part} less allowances is {wall.left:.2f} mm, below its "
        f"pressure wall of {wall.pressure:.2f} mm: the pipe itself is too thin for the pressure"
        for wall in walls
        if wall.left < wall.pressure
    )


def _limits(outlet: Outlet) -> tuple[str, ...]:
    """304.3.2, from memory: Dh/Th below 100, or the branch less than half of the run."""
    ratio = outlet.run_od_mm / outlet.run_wall_mm
    if ratio < 100 or outlet.branch_od_mm < outlet.run_od_mm / 2:
        return ()
    return (
        f"Dh/T̄h is {ratio:.0f}; from 100 on the method takes branches below half of the run only "
        "(304.3.2, from memory)",
    )
