"""Fitting a shape and a camera to an outline: least squares with a robust loss.

The camera is a pinhole with one term of radial distortion. Its pose comes first from the surface
coordinates of the map (perspective-n-point, OpenCV), then everything is fitted to the outline
alone: the coordinates only say where to begin.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.spatial import cKDTree

from vision.outline_surfaces import Surface

Array = NDArray[np.float64]
Points = Array
Outline = Callable[[Points, NDArray[np.float64]], Points]
"""Camera (3,) and shape numbers → strokes (N, 3) in the piece's frame."""

POSE = 8
"""Numbers of the camera: rotation vector (3), direction of the piece's middle (2), log size, log
distance, distortion. Sizes are in the shape's unit, pictures in shares of the map's long side."""

NOISE_PX = 0.35
"""An outline's scatter in map pixels: a hard edge sampled on whole pixels is off by 1/√12 = 0.29
(uniform distribution), and as much again along the curve for what the shapes leave out."""

_FAR_PX = 2.5
"""A point off by more than this weighs less and less (soft L1 from NOISE_PX on, Cauchy-like)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Places:
    """Pixels of the piece that know where on the surface they lie: `at` (N, 2) in shares of the
    long side about the picture's middle, `part` labels, `along`, `around` in radians, all (N,);
    `size` (height, width) of the map."""

    at: NDArray[np.float64]
    part: NDArray[np.float64]
    along: NDArray[np.float64]
    around: NDArray[np.float64]
    size: tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Model:
    """One supposed shape: its outline and its surface, by the same numbers."""

    outline: Outline
    surface: Surface


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """One free number of a shape: its bounds, and how firmly it is held to its middle (`spread`,
    one standard deviation; infinite for free)."""

    low: float
    high: float
    middle: float = 0.0
    spread: float = np.inf


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """`numbers` pose then shape, `covariance` of them. Half a cost is minus a log likelihood:
    `outline_cost` of the outline's points, `surface_cost` of the surface coordinates, `prior_cost`
    of what is held. `off_px` (N,) are the signed distances of the points, `outline_px` the strokes
    in map pixels."""

    numbers: NDArray[np.float64]
    covariance: NDArray[np.float64]
    outline_cost: float
    surface_cost: float
    prior_cost: float
    off_px: NDArray[np.float64]
    outline_px: Points

    @property
    def shape(self) -> NDArray[np.float64]:
        """The shape's own numbers."""
        return self.numbers[POSE:]

    @property
    def cost(self) -> float:
        """All costs together: what was made least."""
        return self.outline_cost + self.surface_cost + self.prior_cost

    @property
    def root_mean_square_px(self) -> float:
        """Of the points' distances, those beyond `_FAR_PX` counted as that: they lie on something
        else."""
        return float(np.sqrt(np.mean(np.minimum(np.abs(self.off_px), _FAR_PX) ** 2)))

    @property
    def inliers(self) -> float:
        """Share of points within 3 noise of the outline."""
        return float((np.abs(self.off_px) < 3.0 * NOISE_PX).mean())


def camera_of(pose: NDArray[np.float64]) -> tuple[Points, Points, float, float]:
    """Rotation (3, 3), translation (3,), focal length and distortion."""
    turn = np.asarray(cv2.Rodrigues(pose[:3])[0], np.float64)
    distance = float(np.exp(pose[6]))
    shift = distance * np.array([pose[3], pose[4], 1.0])
    return turn, shift, float(np.exp(pose[5]) * distance), float(pose[7])


def projected(points: Points, numbers: NDArray[np.float64]) -> Points:
    """(N, 3) points of the piece → (N, 2) in shares of the long side about the picture's middle, by
    the pose that `numbers` begin with."""
    turn, shift, focal, k1 = camera_of(numbers)
    local = points @ turn.T + shift
    flat = local[:, :2] / np.maximum(local[:, 2:], 1e-3)
    return flat * (1.0 + k1 * (flat**2).sum(axis=1, keepdims=True)) * focal


def camera_place(numbers: NDArray[np.float64]) -> Points:
    """The camera (3,) in the piece's frame, by the pose that `numbers` begin with."""
    turn, shift, _, _ = camera_of(numbers)
    return -shift @ turn


def pose_from_points(points: Points, places: Points, focal: float) -> NDArray[np.float64] | None:
    """The pose that brings surface points (N, 3) to their places (N, 2), and nothing where OpenCV
    finds none in front of the camera."""
    matrix = np.diag([focal, focal, 1.0])
    try:
        done, turn, shift = cv2.solvePnP(points, places, matrix, None, flags=cv2.SOLVEPNP_SQPNP)
    except cv2.error:
        return None
    if not done or shift is None or float(shift.ravel()[2]) <= 1.0:
        return None
    t = shift.ravel()
    return np.array(
        [*turn.ravel(), t[0] / t[2], t[1] / t[2], np.log(focal / t[2]), np.log(t[2]), 0.0]
    )


def signed_distances(points: Points, strokes: Points) -> NDArray[np.float64]:
    """(N,) distances of points (N, 2) to the nearest stroke of (K, 2), NaN rows between strokes."""
    known = np.isfinite(strokes[:, 0])
    index = np.flatnonzero(known)
    _, nearest = cKDTree(strokes[index]).query(points)
    at = index[nearest]
    best = np.full(len(points), np.inf)
    for other in (-1, 1):
        start, end = strokes[at], strokes[np.clip(at + other, 0, len(strokes) - 1)]
        way = end - start
        length = (way**2).sum(axis=1)
        usable = np.isfinite(length) & (length > 1e-18)
        way = np.where(usable[:, None], way, 0.0)
        share = ((points - start) * way).sum(axis=1) / np.where(usable, length, 1.0)
        off = points - start - np.clip(share, 0.0, 1.0)[:, None] * way
        size = np.hypot(off[:, 0], off[:, 1])
        side = np.sign(way[:, 0] * off[:, 1] - way[:, 1] * off[:, 0]) * other
        signed = np.where(side == 0.0, 1.0, side) * size
        best = np.where(np.abs(signed) < np.abs(best), signed, best)
    return best


def limits(shape: Sequence[Number]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lower and upper bounds of pose (none) and shape."""
    free = np.full(POSE, np.inf)
    return (
        np.concatenate([-free, [number.low for number in shape]]),
        np.concatenate([free, [number.high for number in shape]]),
    )


def camera_priors(numbers: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far focal length and distortion are from usual ones, in standard deviations."""
    focal = numbers[5] + numbers[6]
    return np.array([(focal - _LOG_FOCAL) / _LOG_FOCAL_SPREAD, numbers[7] / _DISTORTION_SPREAD])


def centred(points_px: Points, size: tuple[int, int]) -> Points:
    """Map pixels as shares of the long side about the middle of a map of (height, width)."""
    h, w = size
    return (points_px + 0.5 - 0.5 * np.array([w, h])) / max(h, w)


def to_map(points: Points, numbers: NDArray[np.float64], size: tuple[int, int]) -> Points:
    """(N, 3) points of the piece → (N, 2) pixels of a map of (height, width)."""
    h, w = size
    return projected(points, numbers) * max(h, w) + 0.5 * np.array([w, h]) - 0.5


def only(fitted: Fitted, keep: NDArray[np.bool_]) -> Fitted:
    """The same fit with only those points counted in its cost."""
    off = fitted.off_px[keep]
    cost = float((_softened(off / NOISE_PX, _FAR_PX / NOISE_PX) ** 2).sum())
    return replace(fitted, off_px=off, outline_cost=cost)


def fit(
    points_px: Points,
    known: Places,
    model: Model,
    shape: Sequence[Number],
    start: NDArray[np.float64],
    *,
    surface_noise_px: float,
    steps: int = 12,
) -> Fitted:
    """Pose and shape that bring the outline to points (N, 2) in map pixels and the surface's places
    to theirs, which count as known to `surface_noise_px`."""
    long_side = max(known.size)
    points = centred(points_px, known.size)
    low, high = limits(shape)
    held = [(POSE + i, number) for i, number in enumerate(shape) if np.isfinite(number.spread)]

    def strokes_of(numbers: NDArray[np.float64]) -> Points:
        return projected(model.outline(camera_place(numbers), numbers[POSE:]), numbers)

    def parts(numbers: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
        off = signed_distances(points, strokes_of(numbers)) * (long_side / NOISE_PX)
        surface = model.surface(known.part, known.along, known.around, numbers[POSE:])
        moved = (projected(surface, numbers) - known.at).ravel() * (long_side / surface_noise_px)
        priors = [(numbers[i] - number.middle) / number.spread for i, number in held]
        return (
            _softened(off, _FAR_PX / NOISE_PX),
            _softened(moved, 4.0),
            np.concatenate([camera_priors(numbers), priors]),
        )

    done = least_squares(
        lambda numbers: np.concatenate(parts(numbers)),
        np.clip(start, low + 1e-6, high - 1e-6),
        bounds=(low, high),
        x_scale="jac",
        max_nfev=steps,
        xtol=1e-5,
        ftol=1e-3,
        diff_step=_STEP,
    )
    costs = [float((part**2).sum()) for part in parts(done.x)]
    strokes = strokes_of(done.x)
    drawn = model.outline(camera_place(done.x), done.x[POSE:])
    return Fitted(
        numbers=done.x,
        covariance=_covariance(done.jac),
        outline_cost=costs[0],
        surface_cost=costs[1],
        prior_cost=costs[2],
        off_px=signed_distances(points, strokes) * long_side,
        outline_px=to_map(drawn, done.x, known.size),
    )


_LOG_FOCAL, _LOG_FOCAL_SPREAD = float(np.log(0.95)), 0.6
"""Focal length over the picture's long side: a phone's main lens (26 mm over 36 mm is 0.72) to a
short telephoto, one standard deviation either way 0.52 to 1.7. Common practice, no source."""
_DISTORTION_SPREAD = 0.04
_STEP = 1e-5
"""Relative step of the derivatives: wide enough that a point that goes over to another stroke does
not look like a cliff."""


def _softened(off: NDArray[np.float64], far: float) -> NDArray[np.float64]:
    """Residuals whose squares are Cauchy's loss of width `far`: what is on something else must not
    pull. The same as `off` near zero."""
    return np.sign(off) * far * np.sqrt(np.log1p((off / far) ** 2))


def _covariance(jacobian: NDArray[np.float64]) -> NDArray[np.float64]:
    """Inverse of JᵀJ, columns brought to one length first: numbers that nothing speaks of get a
    large variance, not none. Residuals that jump, where a point goes over to another stroke, have
    no derivative there and are left out."""
    steep = np.linalg.norm(jacobian, axis=1)
    jacobian = jacobian[steep <= 20.0 * max(float(np.median(steep)), 1e-9)]
    size = np.sqrt((jacobian**2).sum(axis=0))
    size = np.where(size > 0.0, size, 1e-6)
    scaled = jacobian / size
    information = scaled.T @ scaled + 1e-9 * np.eye(len(size))
    return np.asarray(np.linalg.inv(information) / np.outer(size, size))
