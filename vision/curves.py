"""A seam as a curve on the surface: its direction there, and what that direction makes of it.

A curve is a line of points (`along`, `around`). The surface is unrolled by a length over radius,
u = (along · length / radius, around in radians), so that an angle in u is an angle on the surface.
A direction is fitted in u, but its misfit is measured where the noise is: in pixels of the map.
Near a piece's limb one pixel is many degrees of `around`, and an unweighted fit would believe it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from fittings.words import Orientation, Part

Floats = NDArray[np.float64]

LONGITUDINAL_BELOW_DEG, CIRCUMFERENTIAL_ABOVE_DEG = 30.0, 60.0
"""A curve counts as along or around the part when its angle, with twice its uncertainty, stays on
that side. Between them it is neither: a scratch, a mark, or a map that cannot tell."""

MOST_UNCERTAIN_DEG = 7.0
"""An angle less certain than this is not given. Of those that are, one in twenty is then off by 6
degrees or more (81 of 311 lines on a seam in 560 tuning pictures with a piece, seed 916 001); up to
10 it would be 28 more angles, and one in twenty off by 9. Surfaces and light that training never
had make it about half as much again."""

TRACING_PX = 0.5
"""Least error of a traced point across its seam, map pixels: a thinned band has whole ones."""

CORRELATED_PX = 4.0
"""Points of a traced path nearer than this err together: the path is smoothed over about as much
(`vision.tracing`)."""

_FAR_PX = 1.5
"""A point this far off the line has half a near one's weight: three times `TRACING_PX`."""

_ROUNDS = 4
_GRID_DEG = np.arange(-90.0, 90.0, 1.0)


class ShareOf(Enum):
    """What a curve's length is a share of: as much of it as the photo shows."""

    LENGTH = "visible length"
    GIRTH = "visible girth"
    ROOT = "visible root of the outlet"


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceCurve:
    """A seam in its part's own coordinates.

    `along` (0 to 1) and `around_deg` (unwrapped, so that neighbours differ by less than 180) have
    one number for each point, in the order of the seam's path. `angle_deg` is 0 along the part's
    centreline and 90 around it, with one standard deviation of uncertainty; None where that is more
    than `MOST_UNCERTAIN_DEG`. `orientation` is what the coordinates alone make of the curve, None
    where they cannot tell. `length_share` is the curve's extent over that of what the photo shows
    of the same line, 0 to 1, and `share_of` which line that is; None without an angle or a root.
    """

    part: Part
    along: tuple[float, ...]
    around_deg: tuple[float, ...]
    angle_deg: float | None
    angle_uncertainty_deg: float
    orientation: Orientation | None
    length_share: float | None
    share_of: ShareOf | None

    def __post_init__(self) -> None:
        if len(self.along) != len(self.around_deg) or len(self.along) < 2:
            raise ValueError("a curve needs two points or more, each with along and around_deg")
        if self.angle_deg is not None and not 0.0 <= self.angle_deg <= 90.0:
            raise ValueError(f"an angle on the surface is 0 to 90 degrees, not {self.angle_deg}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Direction:
    """A straight line fitted on the unrolled surface.

    `signed_deg` is from `along` towards `around`, -90 to 90; `uncertainty_deg` one standard
    deviation; `residual_px` the spread of the points about the line, map pixels.
    """

    signed_deg: float
    uncertainty_deg: float
    residual_px: float


def direction(unrolled: Floats, per_pixel: Floats, length_px: float) -> Direction:
    """The direction of a curve on the unrolled surface.

    `unrolled` is (N, 2) and `per_pixel` (N, 2, 2) its derivative by image x and y at each point;
    `length_px` is the traced length. A point's distance to the line n · u = c is, to first order,
    (n · u - c) / |∇(n · u)| pixels (Sampson's distance). Points count by Cauchy's weight
    1 / (1 + (distance / scale)²), and of the lines that several starts lead to, the one with the
    most weight is the answer: where two seams were traced as one, as mitres are at a tight
    intrados, the shorter is outvoted. As in any least-squares fit the weighted curvature there is
    the inverse variance.

    The uncertainty adds the fit's own and half the difference between the halves of the curve.
    ValueError for fewer than 4 points.
    """
    if len(unrolled) < 4:
        raise ValueError(f"a direction needs 4 points, got {len(unrolled)}")
    whole = _fitted(unrolled, per_pixel, length_px)
    half = len(unrolled) // 2
    bend_deg = 0.0
    if half >= 4:
        parts = [
            _fitted(unrolled[side], per_pixel[side], length_px / 2)
            for side in (slice(None, half), slice(half, None))
        ]
        bend_deg = 0.5 * abs(_turn_deg(parts[0].signed_deg - parts[1].signed_deg))
        # What the halves' own uncertainty explains is in the whole's already.
        own = 0.5 * np.hypot(parts[0].uncertainty_deg, parts[1].uncertainty_deg)
        bend_deg = float(np.sqrt(max(0.0, bend_deg**2 - own**2)))
    return Direction(
        signed_deg=whole.signed_deg,
        uncertainty_deg=float(np.hypot(whole.uncertainty_deg, bend_deg)),
        residual_px=whole.residual_px,
    )


def _turn_deg(difference_deg: float) -> float:
    """The difference of two undirected lines, -90 to 90."""
    return (difference_deg + 90.0) % 180.0 - 90.0


def _fitted(unrolled: Floats, per_pixel: Floats, length_px: float) -> Direction:
    across = _seen_across(unrolled, per_pixel, _GRID_DEG)
    kept = _starts(len(unrolled))
    for _ in range(_ROUNDS):
        residuals = across.distances(across.misfits(kept).argmin(axis=1), kept)
        kept = 1.0 / (1.0 + (residuals / _FAR_PX) ** 2)
    best = int((1.0 - kept).sum(axis=1).argmin())
    kept = kept[best : best + 1]
    signed_deg, curvature = _valley(across.misfits(kept)[0])
    there = _seen_across(unrolled, per_pixel, np.array([signed_deg]))
    residuals = there.distances(np.array([0]), kept)
    spread_px = float(np.sqrt((kept * residuals**2).sum() / kept.sum()))
    # Points that err together count once; two of them any line would fit.
    count = length_px / CORRELATED_PX
    if count <= 2.0:
        variance = np.inf
    else:
        noise = max(TRACING_PX, spread_px) ** 2 * count / (count - 2.0)
        variance = 2.0 * noise / (max(curvature, 1e-12) * count / len(unrolled))
    return Direction(
        signed_deg=signed_deg,
        uncertainty_deg=float(min(90.0, np.sqrt(variance))),
        residual_px=spread_px,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Across:
    """N points seen across lines at G angles, (G, N): `height` is n · u of each, `per_height` how
    many pixels a unit of it is. `sums` (3, G, N) is the square of that, times 1, the height, and
    its square: the terms of a weighted least-squares fit.

    What follows takes S sets of the points' weights at once, (S, N).
    """

    height: Floats
    per_height: Floats
    sums: Floats

    def misfits(self, kept: Floats) -> Floats:
        """(S, G) the weighted sum of squared pixel distances of the best line at each angle:
        Σ w h² - (Σ w h)² / Σ w."""
        weight, first, second = np.einsum("kgn,sn->ksg", self.sums, kept)
        return np.asarray(second - first**2 / weight)

    def distances(self, angles: NDArray[np.intp], kept: Floats) -> Floats:
        """(S, N) pixel distances to the best line at the angle of each set, numbers of the G."""
        height, weight = self.height[angles], kept * self.sums[0, angles]
        offset = (weight * height).sum(axis=1) / weight.sum(axis=1)
        return np.asarray((height - offset[:, None]) * self.per_height[angles])


def _seen_across(unrolled: Floats, per_pixel: Floats, angles_deg: Floats) -> _Across:
    """The points of `direction` seen across lines at those angles."""
    angle = np.radians(angles_deg)
    normal = np.stack([-np.sin(angle), np.cos(angle)])
    by_x, by_y = ((per_pixel[:, :, axis] @ normal).T for axis in range(2))
    per_height = 1.0 / np.maximum(np.sqrt(by_x**2 + by_y**2), 1e-6)
    # From the middle of the points, so that the sums lose nothing to rounding.
    height = ((unrolled - unrolled.mean(axis=0)) @ normal).T
    sums = per_height**2 * np.stack([np.ones_like(height), height, height**2])
    return _Across(height=height, per_height=per_height, sums=sums)


def _starts(count: int) -> Floats:
    """(S, N) weights to begin from: all points alike, and each overlapping third of them."""
    window = max(4, count // 3)
    starts = [np.ones(count)]
    if window < count:
        for first in range(0, count - window + 1, max(1, window // 2)):
            only = np.full(count, 1e-3)
            only[first : first + window] = 1.0
            starts.append(only)
    return np.stack(starts)


def _valley(costs: Floats) -> tuple[float, float]:
    """Where the costs on the grid are least (a parabola through the three about it), degrees, and
    their second derivative there, per square degree."""
    least = int(costs.argmin())
    before, at, after = (costs[(least + step) % len(costs)] for step in (-1, 0, 1))
    bend = before - 2.0 * at + after
    shift = 0.5 * (before - after) / bend if bend > 1e-12 else 0.0
    return _turn_deg(float(_GRID_DEG[least] + np.clip(shift, -0.5, 0.5))), float(bend)


def orientation_of(angle_deg: float, uncertainty_deg: float) -> Orientation | None:
    """Along or around the part, where the angle is sure enough to say."""
    if angle_deg + 2.0 * uncertainty_deg <= LONGITUDINAL_BELOW_DEG:
        return Orientation.LONGITUDINAL
    if angle_deg - 2.0 * uncertainty_deg >= CIRCUMFERENTIAL_ABOVE_DEG:
        return Orientation.CIRCUMFERENTIAL
    return None


def angle_range_deg(angle_deg: float, ratio: float, low: float, high: float) -> float:
    """Half the range that an angle has when the length over radius, put at `ratio`, may be anything
    from `low` to `high`: tan(angle) is inverse to it. 0 for an angle of 0 or 90."""
    slope = np.tan(np.radians(min(angle_deg, 89.999999))) * ratio
    ends = np.degrees(np.arctan(slope / np.array([low, high])))
    return float(0.5 * abs(ends[0] - ends[1]))


def place_error_deg(unrolled: Floats, fitted: Direction, sureness: float) -> float:
    """What a network's doubt about the place adds to an angle.

    The mean of a unit vector spread about its direction has length R, and the circular standard
    deviation is sqrt(-2 ln R) (Mardia and Jupp, Directional Statistics, 2000, section 2.3; from
    memory). An error of that size from one end of the curve to the other turns it by its angle over
    the curve's extent. `along` is taken to err by as much of surface.
    """
    spread = np.sqrt(max(0.0, -2.0 * np.log(min(1.0, max(sureness, 1e-6)))))
    angle = np.radians(fitted.signed_deg)
    extent = np.ptp(unrolled @ np.array([np.cos(angle), np.sin(angle)]))
    return float(np.degrees(np.arctan2(spread, max(extent, 1e-6))))
