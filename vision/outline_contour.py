"""The outline of the biggest piece in a network's part map, in map pixels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.measure import find_contours

from fittings.words import Kind, Part
from vision.network import Maps

OWN_PARTS = {
    Kind.ELBOW: (Part.BODY,),
    Kind.TEE: (Part.RUN, Part.OUTLET),
    Kind.REDUCER: (Part.BODY,),
}
EDGE_PX = 1.5
"""A contour point so near the map's edge is the frame's doing, not the piece's."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Contour:
    """`points` (N, 2) float, x then y, map pixels with pixel centres at whole numbers: the outside
    edge of the piece's surface, without what lies on the frame's edge. `mask` (H, W) bool is the
    piece, `frame_share` the share of its edge that the frame cuts off. `edge_px` is how wide the
    edge is in the map, from surely piece to surely none: corners are rounded by about as much."""

    points: NDArray[np.float64]
    mask: NDArray[np.bool_]
    frame_share: float
    edge_px: float


def biggest_piece(maps: Maps, kind: Kind) -> Contour | None:
    """The outline of the largest connected piece of that kind; None without one.

    The edge lies where the probability of the piece's own parts is one half, found between pixels
    (marching squares).
    """
    labels = [part.label for part in OWN_PARTS[kind]]
    chance = maps.part[..., labels].sum(axis=-1).astype(np.float64)
    numbered, count = ndimage.label(chance >= 0.5)
    if count == 0:
        return None
    sizes = np.bincount(numbered.ravel())[1:]
    mask = numbered == 1 + int(sizes.argmax())
    # What is no part of this piece, and not beside it either, is no edge of it.
    own = np.where(ndimage.binary_dilation(mask, iterations=2), chance, 0.0)
    h, w = mask.shape
    contours = find_contours(np.pad(own, 1), 0.5)
    if not contours:
        return None
    whole = max(contours, key=len)[:, ::-1] - 1.0
    cut = (whole < EDGE_PX).any(axis=1) | (whole > np.array([w, h]) - 1.0 - EDGE_PX).any(axis=1)
    points = whole[~cut]
    return Contour(
        points=points,
        mask=mask,
        frame_share=float(cut.mean()),
        edge_px=_edge_px(chance, points) if len(points) else np.inf,
    )


def _edge_px(chance: NDArray[np.float64], points: NDArray[np.float64]) -> float:
    """One over the median slope of the probability along the outline."""
    slope = np.hypot(*np.gradient(chance))
    columns, rows = np.rint(points).astype(int).T
    inside = slope[np.clip(rows, 0, chance.shape[0] - 1), np.clip(columns, 0, chance.shape[1] - 1)]
    return float(1.0 / max(np.median(inside), 1e-3))


def thinned(points: NDArray[np.float64], most: int) -> NDArray[np.float64]:
    """At most that many of the points, evenly."""
    step = max(1, -(-len(points) // most))
    return points[::step]
