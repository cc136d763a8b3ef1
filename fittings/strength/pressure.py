"""Wall for internal pressure of straight pipe, and of a bend, after ASME B31.3-2016.

Symbols: P internal design gauge pressure, D outside diameter, S allowable stress, E quality factor,
W weld joint strength reduction factor, Y the coefficient of Table 304.1.1 (0.4 for ferritic and
austenitic steel below 482 °C), c the sum of allowances, T measured or least wall.

Sources: 304.1.2 as two public texts of the standard print it; 304.2.1 from memory; that 304.1.2
needs t < D/6 and P/(S·E) at most 0.385 is from memory. Mitred bends are in
`fittings.strength.mitre_pressure`.
"""

from __future__ import annotations

from dataclasses import dataclass

from fittings.strength.flexibility import check_bend, mean_radius_mm
from fittings.strength.steps import Step, StrengthError, Working, not_negative, positive, share

PIPE_CLAUSE = "ASME B31.3-2016 304.1.2"
_BEND_CLAUSE = "ASME B31.3-2016 304.2.1, from memory"
_MILL = "usual mill tolerance, ASME B16.9-2018 Table 11-1 for fittings"
_LARGEST_STRESS_SHARE = 0.385


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """What the wall must carry, and with what. Stress in MPa, allowance in mm.

    `mill_tolerance` is the share of the nominal wall that may be missing. StrengthError for an
    allowable stress of 0 or less, factors outside 0 to 1, or a negative allowance.
    """

    allowable_mpa: float
    quality_factor: float = 1.0
    weld_factor: float = 1.0
    y: float = 0.4
    corrosion_mm: float = 0.0
    mill_tolerance: float = 0.125

    def __post_init__(self) -> None:
        positive(self.allowable_mpa, "allowable", "MPa")
        share(self.quality_factor, "quality factor E")
        share(self.weld_factor, "weld factor W")
        not_negative(self.corrosion_mm, "corrosion", "mm")
        if not 0 <= self.y <= 1:
            raise StrengthError("coefficient Y", f"must lie between 0 and 1, not {self.y:g}")
        if not 0 <= self.mill_tolerance < 1:
            raise StrengthError(
                "mill tolerance",
                "must be from 0 % to below 100 % of the nominal wall, not "
                f"{100 * self.mill_tolerance:g} %",
            )

    @property
    def stress_mpa(self) -> float:
        """S·E·W."""
        return self.allowable_mpa * self.quality_factor * self.weld_factor

    @property
    def symbols(self) -> dict[str, float]:
        """S, E, W, Y and c by their symbols, to put into a step."""
        return {
            "S": self.allowable_mpa,
            "E": self.quality_factor,
            "W": self.weld_factor,
            "Y": self.y,
            "c": self.corrosion_mm,
        }

    def least_wall_mm(self, nominal_mm: float) -> float:
        """The nominal wall less the mill tolerance."""
        return (1 - self.mill_tolerance) * positive(nominal_mm, "wall", "mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class WallForPressure:
    """The wall that pressure asks for, in mm.

    `t_mm` is for pressure alone, `tm_mm` with the allowances, `order_mm` the least nominal wall to
    order so that tm is left after the mill tolerance.
    """

    t_mm: float
    tm_mm: float
    order_mm: float
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BendWall:
    """The wall that pressure alone asks for at the intrados and the extrados of a formed bend."""

    intrados_mm: float
    extrados_mm: float
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PipePressure:
    """The pressure that straight pipe of a given least wall can hold, in MPa."""

    pressure_mpa: float
    steps: tuple[Step, ...]


def pressure_thickness_mm(
    pressure_mpa: float, outside_mm: float, design: Design, factor: float = 1.0
) -> float:
    """t = P·D/(2(S·E·W/I + P·Y)); I = `factor` is 1 for straight pipe.

    StrengthError for a negative pressure, or one beyond the reach of 304.1.2.
    """
    if pressure_mpa < 0:
        raise StrengthError(
            "pressure",
            f"must not be negative, not {pressure_mpa:g} MPa; outside pressure is another sum",
        )
    not_negative(pressure_mpa, "pressure", "MPa")
    positive(outside_mm, "outside diameter", "mm")
    stress = design.stress_mpa / factor
    t_mm = pressure_mpa * outside_mm / (2 * (stress + pressure_mpa * design.y))
    share_of_stress = pressure_mpa / (design.allowable_mpa * design.quality_factor)
    if t_mm >= outside_mm / 6 or share_of_stress > _LARGEST_STRESS_SHARE:
        raise StrengthError(
            "pressure",
            f"{pressure_mpa:g} MPa is too much for {PIPE_CLAUSE}, which needs t below D/6 and P/SE "
            f"of at most {_LARGEST_STRESS_SHARE} (from memory); check pressure, allowable and unit",
        )
    return t_mm


def wall_for_pressure(pressure_mpa: float, outside_mm: float, design: Design) -> WallForPressure:
    """304.1.2: t, tm = t + c, and the nominal wall that leaves tm after the mill tolerance."""
    t = pressure_thickness_mm(pressure_mpa, outside_mm, design)
    work = Working(
        PIPE_CLAUSE,
        {"P": pressure_mpa, "D": outside_mm, "m": design.mill_tolerance, **design.symbols},
    )
    work.line("t", "pressure wall", "P·D/(2·(S·E·W + P·Y))", t, "mm")
    tm = work.line("tm", "pressure wall with allowances", "t + c", t + design.corrosion_mm, "mm")
    order = tm / (1 - design.mill_tolerance)
    work.line("T̄ least", "least nominal wall", "tm/(1 − m)", order, "mm", _MILL)
    return WallForPressure(t_mm=t, tm_mm=tm, order_mm=order, steps=work.steps)


def pipe_pressure(outside_mm: float, wall_mm: float, design: Design) -> PipePressure:
    """The equation of 304.1.2 solved for P: 2·S·E·W·t/(D − 2·Y·t) with t = T − c.

    `wall_mm` is the measured or least wall. StrengthError when the allowances leave none of it.
    """
    t = wall_left_mm(outside_mm, wall_mm, design)
    work = Working(PIPE_CLAUSE, {"D": outside_mm, "T": wall_mm, **design.symbols})
    work.line("t", "least wall less allowances", "T − c", t, "mm")
    value = 2 * design.stress_mpa * t / (outside_mm - 2 * design.y * t)
    formula = "2·S·E·W·t/(D − 2·Y·t)"
    source = f"{PIPE_CLAUSE}, solved for P"
    work.line("P", "most pressure of straight pipe", formula, value, "MPa", source)
    return PipePressure(pressure_mpa=value, steps=work.steps)


def bend_wall(
    pressure_mpa: float, outside_mm: float, bend_radius_mm: float, design: Design
) -> BendWall:
    """304.2.1 (from memory): t = P·D/(2(S·E·W/I + P·Y)) at the intrados and the extrados.

    I is (4·R1/D − 1)/(4·R1/D − 2) at the intrados, (4·R1/D + 1)/(4·R1/D + 2) at the extrados.
    """
    check_bend(outside_mm, bend_radius_mm)
    given = {"P": pressure_mpa, "D": outside_mm, "R1": bend_radius_mm, **design.symbols}
    work = Working(_BEND_CLAUSE, given)
    ratio = 4 * bend_radius_mm / outside_mm
    walls = []
    for place, sign, factor in (
        ("intrados", "−", (ratio - 1) / (ratio - 2)),
        ("extrados", "+", (ratio + 1) / (ratio + 2)),
    ):
        t = pressure_thickness_mm(pressure_mpa, outside_mm, design, factor)
        work.line("I", f"factor at the {place}", f"(4·R1/D {sign} 1)/(4·R1/D {sign} 2)", factor)
        meaning = f"pressure wall at the {place}"
        walls.append(work.line("t", meaning, "P·D/(2·(S·E·W/I + P·Y))", t, "mm"))
    return BendWall(intrados_mm=walls[0], extrados_mm=walls[1], steps=work.steps)


def wall_left_mm(
    outside_mm: float, wall_mm: float, design: Design, part: str = "the pipe"
) -> float:
    """T − c; StrengthError when the allowances leave nothing or the wall exceeds the radius."""
    mean_radius_mm(outside_mm, wall_mm)
    left = wall_mm - design.corrosion_mm
    if left <= 0:
        raise StrengthError(
            "corrosion",
            f"{design.corrosion_mm:g} mm leaves nothing of the least wall of {part}, "
            f"{wall_mm:.4g} mm",
        )
    return left
