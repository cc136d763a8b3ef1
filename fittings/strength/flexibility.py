"""Flexibility characteristic h, flexibility factor k and stress intensification i of a piece.

ASME B31.3-2016 Appendix D, Table D300, with its symbols: T nominal wall, r2 = (D − T)/2 mean radius
of the matching pipe, R1 bend radius, θ half the angle between adjacent mitre axes, s the mitre
spacing on the centreline; ii and io the stress intensification in plane and out of plane. Neither k
nor i is below 1. Tees and outlets are in `fittings.strength.tee_flexibility`.

How the rows were checked: two published worked sheets (elbow; closely spaced mitre) and an
independent public implementation of the h column agree. The row of widely spaced mitres and the
wording of the notes are from memory. ASME B31.3-2020 and later refer to ASME B31J instead of this
table (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fittings.strength.steps import Step, StrengthError, Working, positive

TABLE = "ASME B31.3-2016 Table D300"
_WIDE = f"{TABLE}, row from memory"
_REDUCER_B31_1 = "ASME B31.1 Appendix D, from memory"
LARGEST_RATIO = 100  # D/T, as far as the table reaches


@dataclass(frozen=True, slots=True, kw_only=True)
class Flexibility:
    """h, k, ii and io of one piece, with the steps that lead to them and what to keep in mind.

    `h` is None where the table gives the factors without one.
    """

    piece: str
    h: float | None
    k: float
    i_in: float
    i_out: float
    steps: tuple[Step, ...]
    notes: tuple[str, ...] = ()

    @property
    def largest(self) -> float:
        """The larger of ii and io."""
        return max(self.i_in, self.i_out)


def mean_radius_mm(outside_mm: float, wall_mm: float, field: str = "wall") -> float:
    """r2 = (D − T)/2. StrengthError naming `field` unless 0 < T < D/2."""
    positive(outside_mm, "outside diameter", "mm")
    positive(wall_mm, field, "mm")
    if wall_mm >= outside_mm / 2:
        raise StrengthError(
            field,
            f"{wall_mm:g} mm is not less than the outside radius of {outside_mm / 2:g} mm; "
            "check wall, size and unit",
        )
    return (outside_mm - wall_mm) / 2


def check_bend(outside_mm: float, bend_radius_mm: float) -> None:
    """StrengthError where a bend radius is no larger than the outside radius of the pipe."""
    if not outside_mm / 2 < positive(bend_radius_mm, "bend radius", "mm"):
        raise StrengthError(
            "bend radius",
            f"{bend_radius_mm:g} mm is not more than the outside radius of {outside_mm / 2:g} mm",
        )


def elbow(
    outside_mm: float, wall_mm: float, bend_radius_mm: float, piece: str = "formed elbow"
) -> Flexibility:
    """A welding elbow or pipe bend: h = T·R1/r2², k = 1.65/h, ii = 0.9/h^⅔, io = 0.75/h^⅔."""
    work, r2 = begin(outside_mm, wall_mm, R1=bend_radius_mm)
    check_bend(outside_mm, bend_radius_mm)
    h = work.line("h", H_MEANING, "T·R1/r2²", wall_mm * bend_radius_mm / r2**2)
    k = work.line("k", K_MEANING, "max(1, 1.65/h)", max(1.0, 1.65 / h))
    i_in = work.line("ii", IN_MEANING, "max(1, 0.9/h^(2/3))", max(1.0, 0.9 / h ** (2 / 3)))
    i_out = work.line("io", OUT_MEANING, "max(1, 0.75/h^(2/3))", max(1.0, 0.75 / h ** (2 / 3)))
    notes = validity(outside_mm, wall_mm)
    return Flexibility(piece=piece, h=h, k=k, i_in=i_in, i_out=i_out, steps=work.steps, notes=notes)


def mitre_angle_deg(pieces: int, angle_deg: float = 90) -> float:
    """θ = angle/(2·(pieces − 1)), the cut angle of a mitred bend of equal steps.

    StrengthError for fewer than two pieces or an angle outside 0° to 180°.
    """
    if pieces < 2:
        raise StrengthError("pieces", f"a mitred bend has at least 2 pieces, not {pieces}")
    if not 0 < angle_deg < 180:
        raise StrengthError("angle", f"must be between 0° and 180°, not {angle_deg:g}°")
    return angle_deg / (2 * (pieces - 1))


def mitred_bend(
    outside_mm: float,
    wall_mm: float,
    bend_radius_mm: float,
    pieces: int,
    angle_deg: float = 90,
) -> Flexibility:
    """A bend of `pieces` cut pieces (one weld fewer), spaced so that its effective radius is R1.

    Closely spaced where s < r2(1 + tan θ), s = 2·R1·tan θ: h = s·cot θ·T/(2·r2²). Otherwise, and
    with a single weld, widely spaced: h = (1 + cot θ)·T/(2·r2). k = 1.52/h^⅚, ii = io = 0.9/h^⅔. A
    single weld has no spacing, and R1 does not enter.
    """
    theta = mitre_angle_deg(pieces, angle_deg)
    work, r2 = begin(outside_mm, wall_mm, R1=bend_radius_mm, α=angle_deg, n=pieces)
    check_bend(outside_mm, bend_radius_mm)
    tan = math.tan(math.radians(theta))
    work.line("θ", "cut angle of n pieces in a bend of α", "α/(2·(n − 1))", theta, "°")
    close, spacing = False, math.inf
    if pieces > 2:
        spacing = 2 * bend_radius_mm * tan
        limit = r2 * (1 + tan)
        close = spacing < limit
        verdict = "s is less, so closely spaced" if close else "s is not less, so widely spaced"
        work.line("s", "mitre spacing on the centreline", "2·R1·tan(θ)", spacing, "mm")
        work.line("limit of s", verdict, "r2·(1 + tan(θ))", limit, "mm")
    if close:
        source, formula = TABLE, "s·T/(2·tan(θ)·r2²)"
        h = spacing * wall_mm / (2 * tan * r2**2)
        note = "closely spaced mitres by the standard's own test"
    else:
        source, formula = _WIDE, "(1 + 1/tan(θ))·T/(2·r2)"
        h = (1 + 1 / tan) * wall_mm / (2 * r2)
        note = "widely spaced mitres by the standard's own test; the row is from memory"
    if pieces == 2:
        note = "single mitre; the row is from memory"
    work.line("h", H_MEANING, formula, h, source=source)
    k = max(1.0, 1.52 / h ** (5 / 6))
    i = max(1.0, 0.9 / h ** (2 / 3))
    work.line("k", K_MEANING, "max(1, 1.52/h^(5/6))", k, source=source)
    work.line("ii", IN_MEANING, "max(1, 0.9/h^(2/3))", i, source=source)
    work.line("io", OUT_MEANING, "max(1, 0.9/h^(2/3))", i, source=source)
    return Flexibility(
        piece=f"mitred bend of {pieces} pieces",
        h=h,
        k=k,
        i_in=i,
        i_out=i,
        steps=work.steps,
        notes=(note, *validity(outside_mm, wall_mm)),
    )


def reducer() -> Flexibility:
    """A reducer: k = 1 and i = 1.0 in both planes, as for a girth butt weld."""
    work = Working(TABLE, {})
    for symbol, meaning in (("k", K_MEANING), ("ii", IN_MEANING), ("io", OUT_MEANING)):
        work.line(symbol, meaning, "1", 1.0)
    return Flexibility(piece="formed reducer", h=None, k=1.0, i_in=1.0, i_out=1.0, steps=work.steps)


def reducer_b31_1(
    large_od_mm: float, small_od_mm: float, small_wall_mm: float, length_mm: float
) -> Flexibility:
    """The reducer by ASME B31.1: i = 0.5 + 0.01·α·√(D2/t2), 1.0 to 2.0 (from memory).

    α is the cone angle in degrees, here that of a straight cone over the whole length, at most 60°;
    D2 and t2 are those of the small end. One factor serves both planes.
    """
    positive(length_mm, "length", "mm")
    mean_radius_mm(small_od_mm, small_wall_mm)
    if not small_od_mm < large_od_mm < math.inf:
        raise StrengthError("second size", "the small end must be smaller than the large end")
    given = {"D1": large_od_mm, "D2": small_od_mm, "t2": small_wall_mm, "H": length_mm}
    work = Working(_REDUCER_B31_1, given)
    alpha = math.degrees(math.atan((large_od_mm - small_od_mm) / (2 * length_mm)))
    meaning = "cone angle of a straight cone"
    work.line("α", meaning, "atan((D1 − D2)/(2·H))", alpha, "°", "geometry")
    i = min(2.0, max(1.0, 0.5 + 0.01 * alpha * math.sqrt(small_od_mm / small_wall_mm)))
    formula = "min(2, max(1, 0.5 + 0.01·α·√(D2/t2)))"
    work.line("i", "stress intensification, both planes", formula, i)
    return Flexibility(
        piece="formed reducer by ASME B31.1, from memory",
        h=None,
        k=1.0,
        i_in=i,
        i_out=i,
        steps=work.steps,
        notes=("ASME B31.1 has a factor of its own for reducers; its formula is from memory",),
    )


# What the rows of the table have in common.

H_MEANING = "flexibility characteristic"
K_MEANING = "flexibility factor"
IN_MEANING = "stress intensification in plane"
OUT_MEANING = "stress intensification out of plane"


def begin(outside_mm: float, wall_mm: float, **given: float) -> tuple[Working, float]:
    """A sum that knows D, T and what else is given, with r2 as its first line; and r2 in mm."""
    work = Working(TABLE, {"D": outside_mm, "T": wall_mm, **given})
    r2 = mean_radius_mm(outside_mm, wall_mm)
    return work, work.line("r2", "mean radius", "(D − T)/2", r2, "mm")


def validity(outside_mm: float, wall_mm: float) -> tuple[str, ...]:
    """A note where D/T is beyond the reach of the table, otherwise nothing."""
    ratio = outside_mm / wall_mm
    if ratio <= LARGEST_RATIO:
        return ()
    return (
        f"D/T is {ratio:.0f}; Table D300 is valid up to {LARGEST_RATIO}, so these factors lie "
        "outside it",
    )
