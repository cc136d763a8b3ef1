"""How a fitting lies before the camera, and where on it a pixel of the map is by that.

The network draws a piece's outline far more exactly than it says where on the piece a pixel lies.
So a usual shape is put before a camera where its outline is the one in the picture; the network's
coordinates only say which part of the surface that outline belongs to. What a line's direction is
on the surface is then read off the shape.

This takes some hundredths of a second and no SciPy. It asks which way the surface faces, not what
the piece's proportions are: for those, and for their uncertainty, see `vision.proportions`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from fittings.words import Kind, Part
from vision.network import Maps
from vision.outline_surfaces import Array
from vision.piece_form import PARTS
from vision.pose_fit import CAMERA, Fit, Seen, begun, camera_place, nearest_of, projected, seen_from
from vision.pose_shapes import tangents, usual_shapes

SURE_OF_PLACE = 0.7
"""Length of (cosine, sine) of `around` from which on a network knows where on the surface a pixel
lies: a network that is torn between places answers their mean, which is shorter than 1."""

ON_OUTLINE_SHARE = 0.7
"""A pose is believed when at least this share of the piece's edge lies on the shape's outline. What
stands before the piece, or another piece that the maps run into, spoils it."""

_OUTSIDE = (Part.BODY, Part.RUN, Part.OUTLET)

_PLACES, _EDGES = 150, 120
"""Pixels of the surface and of the edge that a fit takes, at most."""

_GOLDEN = (5.0**0.5 - 1.0) / 2.0
_LEAST_PLACES, _LEAST_EDGES = 60, 24
_TRIED, _FIRST_ROUNDS, _MORE_ROUNDS = 3, 4, 10
"""So many shapes are fitted for some rounds, and the best of them for more."""

_OFF_SURFACE_PX = 4.0
"""A pixel farther than this from all of the surface that faces the camera is not on the piece."""

_CELLS = (40, 80)
"""Of a part along and around, from whose middles the search for a pixel's place begins."""

_STEP_ALONG, _STEP_AROUND = 0.05, 0.15


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Places:
    """Where on a part pixels of the map lie: `known` (N,) of those asked for, and of the M known
    ones `along` and `around` (M,), radians, and the derivatives of both by image x and y
    (M, 2, 2)."""

    known: NDArray[np.bool_]
    along: Array
    around: Array
    per_pixel: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pose:
    """A piece's shape before the camera; `covariance` is that of the fit's numbers."""

    fit: Fit
    covariance: Array

    @property
    def mask(self) -> NDArray[np.bool_]:
        """(h, w) the piece's pixels."""
        return self.fit.seen.mask

    def ratio(self, part: Part) -> float:
        """Centreline length over outside radius of a part."""
        return self.fit.supposed.ratio(part, self.fit.numbers[CAMERA:])

    def places(self, part: Part, pixels: Array) -> Places:
        """Where on that part pixels (N, 2) of the map lie.

        The nearest of a grid of points that face the camera, then two steps of Newton's method.
        """
        off = self.fit.numbers[CAMERA:]
        along, around = _cells()
        points, by_along, by_around = tangents(self.fit.supposed, part, along, around, off)
        rays = camera_place(self.fit.numbers) - points
        faces = (rays * np.cross(by_around, by_along)).sum(axis=1) > 0.0
        faces &= self.fit.supposed.exists(part, along, around, off)
        if not faces.any():
            none = np.zeros(0)
            known = np.zeros(len(pixels), np.bool_)
            return Places(known=known, along=none, around=none, per_pixel=np.zeros((0, 2, 2)))
        along, around = along[faces], around[faces]
        drawn = self._to_map(points[faces])
        nearest = nearest_of(pixels, drawn)
        along, around = along[nearest], around[nearest]
        for _ in range(2):
            shown, per_pixel = self._around(part, along, around)
            step = (per_pixel @ (pixels - shown)[..., None])[..., 0]
            along = along + np.clip(step[:, 0], -_STEP_ALONG, _STEP_ALONG)
            along = np.clip(along, -_STEP_ALONG, 1.0 + _STEP_ALONG)
            around = around + np.clip(step[:, 1], -_STEP_AROUND, _STEP_AROUND)
        shown, per_pixel = self._around(part, along, around)
        known = np.hypot(*(pixels - shown).T) <= _OFF_SURFACE_PX
        return Places(
            known=known, along=along[known], around=around[known], per_pixel=per_pixel[known]
        )

    def moved_by(self, part: Part, along: Array, around: Array) -> Array:
        """(N, 2, K) how places (N,) of a part move in the map, pixels, with each number of the
        fit."""
        labels = np.full(along.shape, float(part.label))
        slopes = seen_from(self.fit.supposed, labels, along, around, self.fit.numbers)[1]
        return slopes * self.fit.seen.long_side

    def _to_map(self, points: Array) -> Array:
        """(N, 3) points of the piece as (N, 2) pixels of the map."""
        return projected(points, self.fit.numbers)[0] * self.fit.seen.long_side + _middle(self.mask)

    def _around(self, part: Part, along: Array, around: Array) -> tuple[Array, Array]:
        """Pixels (N, 2) of places on a part, and the derivatives (N, 2, 2) of `along` and `around`
        by image x and y there. Those are damped near the limb, where they would be infinite."""
        points, *slopes = tangents(
            self.fit.supposed, part, along, around, self.fit.numbers[CAMERA:]
        )
        shown, by_camera = projected(points, self.fit.numbers)
        turn = cv2.Rodrigues(self.fit.numbers[:3])[0]
        by_point = by_camera[..., 3:6] @ turn * self.fit.seen.long_side
        jacobian = by_point @ np.stack(slopes, axis=2)
        square = jacobian.transpose(0, 2, 1) @ jacobian
        usual = np.einsum("nii->ni", square).mean(axis=0)
        inverse = np.linalg.inv(square + 1e-4 * np.diag(usual)) @ jacobian.transpose(0, 2, 1)
        long_side = self.fit.seen.long_side
        return shown * long_side + _middle(self.mask), inverse


def find_pose(maps: Maps, kind: Kind) -> Pose | None:
    """The pose of the largest piece in the maps, taken for one of that kind; None where they show
    too little of it, or where no usual shape has such an outline."""
    seen = _seen(maps, kind)
    if seen is None:
        return None
    starts = [fit for each in usual_shapes(kind) if (fit := begun(seen, each)) is not None]
    tried = [
        start.improved(_FIRST_ROUNDS) for start in sorted(starts, key=lambda fit: fit.cost)[:_TRIED]
    ]
    if not tried:
        return None
    fit = min(tried, key=lambda fit: fit.cost).improved(_MORE_ROUNDS)
    if fit.normal is None or fit.on_outline < ON_OUTLINE_SHARE:
        return None
    return Pose(
        fit=fit, covariance=np.asarray(np.linalg.inv(fit.normal + 1e-6 * np.eye(len(fit.normal))))
    )


def posed_maps(maps: Maps, kind: Kind) -> Maps:
    """The maps with the coordinates of the posed piece on its pixels; those maps themselves where
    no pose was found. A pixel that the posed shape does not reach keeps what the network said."""
    pose = find_pose(maps, kind)
    if pose is None:
        return maps
    along, cosine, sine = maps.along.copy(), maps.around_cos.copy(), maps.around_sin.copy()
    for part in PARTS[kind]:
        rows, columns = np.nonzero(pose.mask & (maps.winner == part.label))
        if not len(rows):
            continue
        places = pose.places(part, np.stack([columns, rows], axis=1).astype(np.float64))
        rows, columns = rows[places.known], columns[places.known]
        along[rows, columns] = np.clip(places.along, 0.0, 1.0)
        cosine[rows, columns] = np.cos(places.around)
        sine[rows, columns] = np.sin(places.around)
    return replace(maps, along=along, around_cos=cosine, around_sin=sine)


def _seen(maps: Maps, kind: Kind) -> Seen | None:
    """The largest piece in the maps; None where there is hardly any."""
    winner = maps.winner
    # The outline of all that is outside: where the parts are confused, it goes on all the same.
    outside = np.isin(winner, [part.label for part in _OUTSIDE]).astype(np.uint8)
    count, numbered, stats, _ = cv2.connectedComponentsWithStats(outside)
    if count < 2:
        return None
    mask = numbered == 1 + int(stats[1:, cv2.CC_STAT_AREA].argmax())
    inside = cv2.erode(mask.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    sure = np.hypot(maps.around_cos, maps.around_sin) >= SURE_OF_PLACE
    own = np.isin(winner, [part.label for part in PARTS[kind]])
    rows, columns = np.nonzero(inside & sure & own)
    edge, outward = _edge(mask)
    if len(rows) < _LEAST_PLACES or len(edge) < _LEAST_EDGES:
        return None
    # Neighbours in reading order lie in rows: steps by the golden ratio spread the choice over the
    # piece.
    order = np.argsort(np.arange(len(rows)) * _GOLDEN % 1.0)[:_PLACES]
    rows, columns = rows[order], columns[order]
    around = np.arctan2(maps.around_sin[rows, columns], maps.around_cos[rows, columns])
    return Seen(
        mask=mask,
        at=(np.stack([columns, rows], axis=1) - _middle(mask)) / max(mask.shape),
        part=winner[rows, columns].astype(np.float64),
        along=maps.along[rows, columns].astype(np.float64),
        around=around.astype(np.float64),
        edge=(edge - _middle(mask)) / max(mask.shape),
        outward=outward,
    )


def _edge(mask: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Points (M, 2) in map pixels on the mask's outer edge, and unit vectors out of it. Where the
    frame cuts the piece off it has no edge."""
    whole = mask.astype(np.uint8)
    contours, _ = cv2.findContours(whole, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    points = max(contours, key=len)[:, 0]
    height, width = mask.shape
    points = points[((points > 2) & (points < (width - 3, height - 3))).all(axis=1)]
    points = points[np.linspace(0, len(points) - 1, min(_EDGES, len(points))).astype(int)]
    x, y = points.T
    by_row, by_column = np.gradient(cv2.GaussianBlur(whole.astype(np.float32), (0, 0), 1.5))
    outward = -np.stack([by_column[y, x], by_row[y, x]], axis=1).astype(np.float64)
    outward /= np.maximum(np.hypot(*outward.T), 1e-6)[:, None]
    # The edge runs half a pixel beyond the middle of the last pixel.
    return points + 0.5 * outward, outward


def _middle(mask: NDArray[np.bool_]) -> Array:
    """Of the map, x and y in pixels."""
    height, width = mask.shape
    return np.array([width - 1.0, height - 1.0]) / 2.0


def _cells() -> tuple[Array, Array]:
    """Middles of a grid of cells over a part: `along`, `around` (N,)."""
    along = (np.arange(_CELLS[0]) + 0.5) / _CELLS[0]
    around = ((np.arange(_CELLS[1]) + 0.5) / _CELLS[1] - 0.5) * 2.0 * np.pi
    a, t = np.meshgrid(along, around, indexing="ij")
    return a.ravel(), t.ravel()
