"""The pressure that a mitred bend can hold, after ASME B31.3-2016 304.2.3.

Symbols: T measured or least wall, c allowances, r2 mean radius by the nominal wall, R1 effective
bend radius, θ cut angle. A published handbook appendix and a published sheet print the formulas and
agree; the constant of the last line of the table of A, and paragraphs 306.3.2 and 306.3.3, are from
memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fittings.strength.flexibility import check_bend, mean_radius_mm, mitre_angle_deg
from fittings.strength.pressure import PIPE_CLAUSE, Design, pipe_pressure, wall_left_mm
from fittings.strength.steps import Step, StrengthError, Working

CLAUSE = "ASME B31.3-2016 304.2.3"
_STEEPEST_DEG = 22.5
# Allowance for cut angles from decimal text: 22.5 must count as 22.5.
_ROUNDING_DEG = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class MitrePressure:
    """Pressures in MPa, lengths in mm, `share_of_pipe` of straight pipe with the same least wall.

    `by_radius_mpa` is None for a single mitre. `end_straight_mm` is M, how much straight pipe must
    follow the last weld. `covered` is False where the bend is tighter than 304.2.3 allows with so
    many pieces; the pressures do not count then.
    """

    pressure_mpa: float
    by_weld_mpa: float
    by_radius_mpa: float | None
    share_of_pipe: float
    least_radius_mm: float | None
    end_straight_mm: float
    steps: tuple[Step, ...]
    notes: tuple[str, ...]
    covered: bool


def mitre_pressure(
    outside_mm: float,
    nominal_mm: float,
    bend_radius_mm: float,
    pieces: int,
    design: Design,
    *,
    angle_deg: float = 90,
    least_wall_mm: float | None = None,
) -> MitrePressure:
    """Pm of a bend of `pieces` cut pieces, beside straight pipe of the same least wall.

    `least_wall_mm` is a measured wall; without one it is the nominal wall less the mill tolerance.
    StrengthError for several mitres steeper than 22.5°, which 304.2.3 has no formula for.
    """
    r2 = mean_radius_mm(outside_mm, nominal_mm)
    check_bend(outside_mm, bend_radius_mm)
    theta = mitre_angle_deg(pieces, angle_deg)
    steep = theta > _STEEPEST_DEG + _ROUNDING_DEG
    if steep and pieces > 2:
        raise StrengthError(
            "pieces",
            f"{pieces} pieces make a cut angle of {theta:.4g}°; {CLAUSE} covers several mitres "
            f"up to {_STEEPEST_DEG}° only, so give more pieces",
        )
    wall = design.least_wall_mm(nominal_mm) if least_wall_mm is None else least_wall_mm
    t = wall_left_mm(outside_mm, wall, design)
    work = Working(
        CLAUSE,
        {
            **{"D": outside_mm, "T̄": nominal_mm, "T": wall, "R1": bend_radius_mm},
            **{"α": angle_deg, "n": pieces, "m": design.mill_tolerance},
            **design.symbols,
        },
    )
    if least_wall_mm is None:
        work.line("T", "least wall", "T̄·(1 − m)", wall, "mm")
    work.line("T − c", "least wall less allowances", "T − c", t, "mm")
    work.line("r2", "mean radius by the nominal wall", "(D − T̄)/2", r2, "mm")
    work.line("θ", "cut angle of n pieces in a bend of α", "α/(2·(n − 1))", theta, "°")
    tan = math.tan(math.radians(theta))
    basic = design.stress_mpa * t / r2
    factor = 1.25 if steep else 0.643
    by_weld = basic * t / (t + factor * tan * math.sqrt(r2 * t))
    by_weld_text = f"S·E·W·(T − c)/r2·(T − c)/((T − c) + {factor:g}·tan(θ)·√(r2·(T − c)))"
    work.line("Pa", "by the mitre weld", by_weld_text, by_weld, "MPa")
    most, by_radius, least_radius = by_weld, None, None
    if pieces > 2:
        by_radius = basic * (bend_radius_mm - r2) / (bend_radius_mm - 0.5 * r2)
        by_radius_text = "S·E·W·(T − c)/r2·(R1 − r2)/(R1 − 0.5·r2)"
        work.line("Pb", "by the bend radius", by_radius_text, by_radius, "MPa")
        most = min(by_weld, by_radius)
        least_radius = _least_radius(work, outside_mm, t, tan)
    formula = "Pa" if by_radius is None else "min(Pa, Pb)"
    work.line("Pm", "most pressure of the mitred bend", formula, most, "MPa")
    end_mm = max(2.5 * math.sqrt(r2 * wall), tan * (bend_radius_mm - r2))
    end_text = "max(2.5·√(r2·T), tan(θ)·(R1 − r2))"
    work.line("M", "least straight length after the last weld", end_text, end_mm, "mm")
    pipe = pipe_pressure(outside_mm, wall, design).pressure_mpa
    pipe_text = "2·S·E·W·(T − c)/(D − 2·Y·(T − c))"
    source = f"{PIPE_CLAUSE}, solved for P"
    work.line("P", "most pressure of straight pipe", pipe_text, pipe, "MPa", source)
    part = work.line("Pm/P", "share of straight pipe", "Pm/P", most / pipe, "", "division")
    return MitrePressure(
        pressure_mpa=most,
        by_weld_mpa=by_weld,
        by_radius_mpa=by_radius,
        share_of_pipe=part,
        least_radius_mm=least_radius,
        end_straight_mm=end_mm,
        steps=work.steps,
        notes=_notes(theta, bend_radius_mm, least_radius),
        covered=least_radius is None or bend_radius_mm >= least_radius,
    )


def _least_radius(work: Working, outside_mm: float, t: float, tan: float) -> float:
    """R1 must be at least A/tan θ + D/2, A by the wall (table of 304.2.3, millimetres)."""
    if t <= 13:
        work.line("A", "by the table, for (T − c) up to 13 mm", "25", a := 25.0, "mm")
    elif t < 22:
        work.line("A", "by the table, for (T − c) up to 22 mm", "2·(T − c)", a := 2 * t, "mm")
    else:
        a = 2 / 3 * t + 30
        source = f"{CLAUSE}, constant from memory"
        work.line("A", "by the table, from 22 mm", "2/3·(T − c) + 30", a, "mm", source)
    least = a / tan + outside_mm / 2
    return work.line("R1 least", "least effective radius", "A/tan(θ) + D/2", least, "mm")


def _notes(theta: float, bend_radius_mm: float, least_radius: float | None) -> tuple[str, ...]:
    notes = []
    if least_radius is not None and bend_radius_mm < least_radius:
        notes.append(
            f"R1 of {bend_radius_mm:g} mm is less than the {least_radius:.0f} mm that 304.2.3 asks "
            "for with so many pieces, so the pressure does not count"
        )
    turn = 2 * theta
    if turn > 45 + _ROUNDING_DEG:
        notes.append(
            f"each joint turns by {turn:.4g}°; above 45° a mitre is for Category D fluid service "
            "only (306.3.2, from memory)"
        )
    elif turn > _STEEPEST_DEG + _ROUNDING_DEG:
        notes.append(
            f"each joint turns by {turn:.4g}°; under severe cyclic conditions 22.5° is the most "
            "(306.3.3, from memory)"
        )
    return tuple(notes)
