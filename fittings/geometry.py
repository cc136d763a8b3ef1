"""Closed formulas for the shapes that welds follow: mitres, branch curves, the elbow's torus.

Lengths in millimetres, angles in degrees. Radii of a surface are outside radii unless the caller
wants the curve on the bore.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

_QUADRATURE_NODES = 256


@dataclass(frozen=True, slots=True, kw_only=True)
class MitrePieces:
    """Lengths of the pieces of a mitred bend, in mm.

    The two end pieces are half as long as a middle one everywhere. `weld_major_mm` is the long axis
    of the elliptical cut (its short axis is the OD); `corner_beyond_arc_mm` is how far the outer
    corner stands out beyond the extrados of a formed bend of the same radius.
    """

    end_centreline_mm: float
    middle_centreline_mm: float
    middle_extrados_mm: float
    middle_intrados_mm: float
    weld_major_mm: float
    corner_beyond_arc_mm: float


def mitre_cut_angle_deg(bend_angle_deg: float, pieces: int) -> float:
    """Cut angle θ of a mitred bend: bend angle / (2 (pieces − 1)).

    Plain geometry: `pieces` straight pieces meet in `pieces` − 1 equal mitre planes, and each turns
    the axis by 2θ. The same θ as in ASME B31.3-2016, 304.2.3. ValueError for fewer than 2 pieces
    or a bend outside 0° to 180°.
    """
    if pieces < 2:
        raise ValueError(f"a mitred bend has at least 2 pieces, not {pieces}")
    if not 0 < bend_angle_deg <= 180:
        raise ValueError(f"a bend turns by more than 0° and at most 180°, not {bend_angle_deg}°")
    return bend_angle_deg / (2 * (pieces - 1))


def mitre_kink_deg(bend_angle_deg: float, pieces: int) -> float:
    """Kink of the outline at each weld, at extrados and intrados: 2θ.

    Seen square on to the bend plane. At the two sides the surface turns without a corner in the
    outline. Plain geometry; errors as `mitre_cut_angle_deg`.
    """
    return 2 * mitre_cut_angle_deg(bend_angle_deg, pieces)


def mitre_pieces(
    bend_radius_mm: float, od_mm: float, bend_angle_deg: float, pieces: int
) -> MitrePieces:
    """Piece lengths of a mitred bend whose centreline segments touch a circle of the bend radius.

    End piece R tan θ, middle piece 2 R tan θ, at extrados and intrados 2 (R ± D/2) tan θ, cut
    ellipse D by D / cos θ, outer corner beyond the arc (R + D/2)(1 / cos θ − 1). Plain geometry;
    R = s cot θ / 2 with s the middle piece is how ASME B31.3-2016, Appendix D writes it.
    ValueError where the intrados would have no length, and as `mitre_cut_angle_deg`.
    """
    theta = math.radians(mitre_cut_angle_deg(bend_angle_deg, pieces))
    radius_mm = od_mm / 2
    _check_bend(bend_radius_mm, radius_mm)
    if theta >= math.pi / 2:
        raise ValueError("a bend of 180° cannot be cut from 2 pieces")
    return MitrePieces(
        end_centreline_mm=bend_radius_mm * math.tan(theta),
        middle_centreline_mm=2 * bend_radius_mm * math.tan(theta),
        middle_extrados_mm=2 * (bend_radius_mm + radius_mm) * math.tan(theta),
        middle_intrados_mm=2 * (bend_radius_mm - radius_mm) * math.tan(theta),
        weld_major_mm=od_mm / math.cos(theta),
        corner_beyond_arc_mm=(bend_radius_mm + radius_mm) * (1 / math.cos(theta) - 1),
    )


def branch_curve(
    run_radius_mm: float, branch_radius_mm: float, count: int = 256
) -> NDArray[np.float64]:
    """Points of the curve where a branch meets a run at 90°: (count, 3) float, mm, x y z.

    The run's axis is x, the branch's axis is z, the axes cross at the origin, and the branch points
    towards +z. Point k is (r cos t, r sin t, √(R² − r² sin² t)) at t = 2π k / count: the curve is
    closed and the first point is not repeated. Classical intersection of two cylinders, which holds
    for r ≤ R; ValueError otherwise.
    """
    _check_branch(run_radius_mm, branch_radius_mm)
    if count < 3:
        raise ValueError(f"a closed curve needs at least 3 points, not {count}")
    turn = 2 * np.pi * np.arange(count) / count
    across = branch_radius_mm * np.sin(turn)
    # max: at r = R rounding can take the difference below zero.
    height = np.sqrt(np.maximum(run_radius_mm**2 - across**2, 0.0))
    return np.stack([branch_radius_mm * np.cos(turn), across, height], axis=-1)


def branch_saddle_depth_mm(run_radius_mm: float, branch_radius_mm: float) -> float:
    """Height between the crotch and the sides of the branch curve: R − √(R² − r²).

    The curve is highest at the crotches (t = 0 and π, in the run's direction) and lowest at the
    sides. ValueError unless 0 < r ≤ R.
    """
    _check_branch(run_radius_mm, branch_radius_mm)
    return run_radius_mm - math.sqrt(run_radius_mm**2 - branch_radius_mm**2)


def branch_curve_length_mm(run_radius_mm: float, branch_radius_mm: float) -> float:
    """Length of the whole branch curve, by Gauss–Legendre quadrature over a quarter of it.

    ds² = (r² + (r² sin t cos t)² / (R² − r² sin² t)) dt², four equal quarters. For r = R the curve
    is two half ellipses with semi-axes R and √2 R and the length 7.64040 R. ValueError unless
    0 < r ≤ R.
    """
    _check_branch(run_radius_mm, branch_radius_mm)
    nodes, weights = _quadrature()
    turn = (nodes + 1) * np.pi / 4
    across = branch_radius_mm * np.sin(turn)
    # The nodes stay off the end of the quarter, where r = R would divide 0 by 0.
    slope = across * branch_radius_mm * np.cos(turn) / np.sqrt(run_radius_mm**2 - across**2)
    speed = np.hypot(branch_radius_mm, slope)
    return float(4 * np.pi / 4 * np.sum(weights * speed))


def elbow_area_mm2(bend_radius_mm: float, pipe_radius_mm: float, angle_deg: float = 90) -> float:
    """Outside area of a formed bend, a piece of torus: 2π r R φ, φ the bend angle in radians.

    Pappus's theorem; a quarter is π² R r. ValueError unless 0 < r < R and 0 < angle ≤ 360.
    """
    return 2 * math.pi * pipe_radius_mm * _arc_mm(bend_radius_mm, pipe_radius_mm, angle_deg, 0)


def extrados_length_mm(
    bend_radius_mm: float, pipe_radius_mm: float, angle_deg: float = 90
) -> float:
    """Arc along the outside of a formed bend: (R + r) φ. Errors as `elbow_area_mm2`."""
    return _arc_mm(bend_radius_mm, pipe_radius_mm, angle_deg, 1)


def intrados_length_mm(
    bend_radius_mm: float, pipe_radius_mm: float, angle_deg: float = 90
) -> float:
    """Arc along the inside of a formed bend: (R − r) φ. Errors as `elbow_area_mm2`."""
    return _arc_mm(bend_radius_mm, pipe_radius_mm, angle_deg, -1)


@cache
def _quadrature() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return np.polynomial.legendre.leggauss(_QUADRATURE_NODES)


def _arc_mm(bend_radius_mm: float, pipe_radius_mm: float, angle_deg: float, side: int) -> float:
    _check_bend(bend_radius_mm, pipe_radius_mm)
    if not 0 < angle_deg <= 360:
        raise ValueError(f"a bend turns by more than 0° and at most 360°, not {angle_deg}°")
    return (bend_radius_mm + side * pipe_radius_mm) * math.radians(angle_deg)


def _check_bend(bend_radius_mm: float, pipe_radius_mm: float) -> None:
    if not 0 < pipe_radius_mm < bend_radius_mm < math.inf:
        raise ValueError(
            f"a bend needs 0 < pipe radius < bend radius, "
            f"not {pipe_radius_mm} mm and {bend_radius_mm} mm"
        )


def _check_branch(run_radius_mm: float, branch_radius_mm: float) -> None:
    if not 0 < branch_radius_mm <= run_radius_mm < math.inf:
        raise ValueError(
            f"a branch curve needs 0 < branch radius <= run radius, "
            f"not {branch_radius_mm} mm and {run_radius_mm} mm"
        )
