"""Bringing a supposed shape before a camera so that it looks as the maps do.

Levenberg and Marquardt's method with Cauchy's weights. An edge pixel's misfit is its distance,
across the edge, from the nearest point of the shape's own outline, found anew in each round
(iterative closest point, point to line). Image points are in shares of the map's long side about
its middle.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.outline_surfaces import Array
from vision.pose_shapes import Supposed, outline
from vision.sampling import median

CAMERA = 7
"""Numbers of the camera: rotation vector (3), translation (3), logarithm of the focal length over
the map's long side. After them come the shape's free numbers, as differences from the usual."""

_FOCAL, _LOG_FOCAL_SPREAD = 0.95, 0.6
"""As in `vision.outline_fit`: phones' lenses, one standard deviation either way 0.52 to 1.7. Common
practice, no source."""

_PLACE_NOISE, _PLACES_ALONE = 0.12, 5.0
"""How far the maps put a pixel wrong, in outside radii, and how many of all pixels err by
themselves: a network errs smoothly, over whole sides of a piece."""

_EDGE_NOISE_PX, _EDGES_ALONE = 0.5, 40.0
"""The same of the edge."""

_FAR_PX = 3.0
"""Beyond this an edge pixel counts less than half: it is another thing's that stands before the
piece. The places have three times their own noise."""

ON_OUTLINE_PX = 2.0
_APART_PX = 5.0
"""The shape's outline is known at points; along the edge one may be so far away and is still on
it."""

_STEP = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """What the maps show of a piece.

    `mask` (h, w) is the piece; `at` (N, 2) are the image points of pixels whose `part`, `along` and
    `around` (N,) are known; `edge` (M, 2) those of its edge away from the picture's frame, and
    `outward` (M, 2) unit vectors across it.
    """

    mask: NDArray[np.bool_]
    at: Array
    part: Array
    along: Array
    around: Array
    edge: Array
    outward: Array

    @property
    def long_side(self) -> int:
        """Of the map, pixels."""
        return max(self.mask.shape)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """A supposed shape before a camera, `numbers` as said at `CAMERA`. `cost` is twice the negative
    log likelihood of edge and places, or while there is only a beginning the places' median misfit;
    `on_outline` the share of the edge within `ON_OUTLINE_PX` of the shape's outline; `normal` the
    inverse of the numbers' covariance."""

    seen: Seen
    supposed: Supposed
    numbers: Array
    cost: float
    on_outline: float = 0.0
    normal: Array | None = None

    def improved(self, rounds: int) -> Fit:
        """The fit after so many rounds at most; of infinite cost where nothing of the shape is in
        front of the camera."""
        numbers, damping = self.numbers, 1e-3
        terms = _Terms.at(self.seen, self.supposed, numbers)
        if terms is None:
            return replace(self, cost=np.inf)
        for _ in range(rounds):
            off, slopes = terms.off, terms.slopes
            normal = slopes.T @ slopes
            damped = normal + damping * np.diag(np.diag(normal) + 1e-9)
            step = np.clip(-np.linalg.solve(damped, slopes.T @ off), -_MOST, _MOST)
            there = _Terms.at(self.seen, self.supposed, numbers + step)
            if there is not None and there.cost < terms.cost:
                numbers, terms, damping = numbers + step, there, max(damping / 5.0, 1e-5)
            else:
                damping *= 10.0
            if np.abs(step).max() < _ENOUGH:
                break
        return replace(
            self,
            numbers=numbers,
            cost=terms.cost,
            on_outline=terms.on_outline,
            normal=terms.slopes.T @ terms.slopes,
        )


_MOST, _ENOUGH = 0.3, 1e-3
"""No number moves by more than the first in one round; when none moves by the second, all is
done."""


def begun(seen: Seen, supposed: Supposed) -> Fit | None:
    """The camera that suits the places alone, by perspective-n-point (OpenCV) with the expected
    focal length; None where it finds none."""
    still = np.zeros(len(supposed.free))
    points = supposed.points(seen.part, seen.along, seen.around, still)
    matrix = np.diag([_FOCAL, _FOCAL, 1.0])
    try:
        done, turn, shift = cv2.solvePnP(points, seen.at, matrix, None, flags=cv2.SOLVEPNP_SQPNP)
    except cv2.error:
        return None
    if not done or not np.isfinite(turn).all() or shift[2, 0] <= 1.0:
        return None
    numbers = np.concatenate([turn.ravel(), shift.ravel(), [np.log(_FOCAL)], still])
    off = projected(points, numbers)[0] - seen.at
    cost = float(median(np.hypot(off[:, 0], off[:, 1])))
    return Fit(seen=seen, supposed=supposed, numbers=numbers, cost=cost)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Terms:
    """Weighted residuals `off` (R,) at some numbers, their derivatives `slopes` (R, K), and the
    robust cost, which the weights belong to."""

    off: Array
    slopes: Array
    cost: float
    on_outline: float

    @staticmethod
    def at(seen: Seen, supposed: Supposed, numbers: Array) -> _Terms | None:
        """None where the piece lies about or behind the camera."""
        if numbers[5] <= 1.0:
            return None
        labels, along, around = outline(supposed, numbers[CAMERA:], camera_place(numbers))
        if not len(labels):
            return None
        drawn = projected(supposed.points(labels, along, around, numbers[CAMERA:]), numbers)[0]
        nearest = nearest_of(seen.edge, drawn)
        gap_px = np.hypot(*(seen.edge - drawn[nearest]).T) * seen.long_side
        placed = np.concatenate([seen.part, labels[nearest]])
        at = (
            np.concatenate([seen.along, along[nearest]]),
            np.concatenate([seen.around, around[nearest]]),
        )
        shown, slopes = seen_from(supposed, placed, *at, numbers)
        count = len(seen.at)
        off_px = (shown - np.concatenate([seen.at, seen.edge])) * seen.long_side
        slopes *= seen.long_side
        across_px = (off_px[count:] * seen.outward).sum(axis=1)
        across_slopes = (slopes[count:] * seen.outward[..., None]).sum(axis=1)
        # The outline's points stand some pixels apart: beside the edge is not off it.
        beside_px = np.sqrt(np.maximum(gap_px**2 - across_px**2, 0.0))
        away_px = np.hypot(across_px, np.maximum(beside_px - _APART_PX, 0.0))
        radius_px = float(np.exp(numbers[6]) / numbers[5] * seen.long_side)
        noise_px = max(1.0, _PLACE_NOISE * radius_px)
        astray = (np.hypot(*off_px[:count].T) / (3.0 * noise_px)) ** 2
        missed = (away_px / _FAR_PX) ** 2
        by_place = np.sqrt(_PLACES_ALONE / count / (1.0 + astray)) / noise_px
        by_edge = np.sqrt(_EDGES_ALONE / len(missed) / (1.0 + missed)) / _EDGE_NOISE_PX
        spreads = np.array([_LOG_FOCAL_SPREAD, *(free.spread for free in supposed.free)])
        held = np.concatenate([[numbers[6] - np.log(_FOCAL)], numbers[CAMERA:]]) / spreads
        held_slopes = np.concatenate([np.zeros((len(held), 6)), np.diag(1.0 / spreads)], axis=1)
        return _Terms(
            off=np.concatenate(
                [(off_px[:count] * by_place[:, None]).ravel(), across_px * by_edge, held]
            ),
            slopes=np.concatenate(
                [
                    (slopes[:count] * by_place[:, None, None]).reshape(2 * count, -1),
                    across_slopes * by_edge[:, None],
                    held_slopes,
                ]
            ),
            cost=float(
                9.0 * _PLACES_ALONE * np.log1p(astray).mean()
                + (_FAR_PX / _EDGE_NOISE_PX) ** 2 * _EDGES_ALONE * np.log1p(missed).mean()
                + (held**2).sum()
            ),
            on_outline=float((away_px < ON_OUTLINE_PX).mean()),
        )


def nearest_of(points: Array, others: Array) -> NDArray[np.intp]:
    """(N,) for each of the points (N, 2) the number of the nearest of the others (M, 2)."""
    # |p - q|² less |p|², which is the same for all of them.
    return np.asarray(((others**2).sum(axis=1) - 2.0 * points @ others.T).argmin(axis=1))


def projected(points: Array, numbers: Array) -> tuple[Array, Array]:
    """(N, 3) points of the piece as image points (N, 2), and their derivatives by the camera's
    numbers (N, 2, 7)."""
    focal = float(np.exp(numbers[6]))
    matrix = np.diag([focal, focal, 1.0])
    shown, slopes = cv2.projectPoints(points, numbers[:3], numbers[3:6], matrix, None)
    # OpenCV's columns: rotation (3), translation (3), focal lengths by x and y, …
    slopes = slopes.reshape(len(points), 2, -1)
    by_focal = (slopes[..., 6] + slopes[..., 7]) * focal
    by_camera = np.concatenate([slopes[..., :6], by_focal[..., None]], axis=2)
    return np.asarray(shown[:, 0], np.float64), np.asarray(by_camera, np.float64)


def seen_from(
    supposed: Supposed, part: Array, along: Array, around: Array, numbers: Array
) -> tuple[Array, Array]:
    """Image points (N, 2) of places on the surface, and their derivatives by all numbers
    (N, 2, K)."""
    points = supposed.points(part, along, around, numbers[CAMERA:])
    shown, by_camera = projected(points, numbers)
    by_point = by_camera[..., 3:6] @ cv2.Rodrigues(numbers[:3])[0]
    by_shape = []
    for step in _STEP * np.eye(len(supposed.free)):
        moved = supposed.points(part, along, around, numbers[CAMERA:] + step) - points
        by_shape.append((by_point @ (moved / _STEP)[..., None])[..., 0])
    return shown, np.concatenate([by_camera, np.stack(by_shape, axis=2)], axis=2)


def camera_place(numbers: Array) -> Array:
    """(3,) the camera in the piece's frame."""
    return np.asarray(-numbers[3:6] @ cv2.Rodrigues(numbers[:3])[0])
