"""From a seam map to seams: connected bands of one orientation, each thinned to a path."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from fittings.words import Orientation, Part
from vision.network import Maps
from vision.thinning import (
    followed,
    followed_down,
    longest,
    neighbours,
    reached,
    smoothed,
    thinned,
)

LOW, HIGH = 0.35, 0.6
"""Hysteresis: a band reaches `HIGH` somewhere and is followed down to `LOW`. On 960 tuning scenes,
read with two looks, 0.6 gave 438 lines on a seam and 180 on none, 0.7 399 and 139."""

CUTS = (0.6, 0.8)
"""Two seams near each other run together at `LOW`, mostly along the body's silhouette: a band that
falls, where the map is surer, into long ones that run beside each other is those. On 150 tuning
scenes with 183 seams, 109 instead of 100 had a line of their own."""

MIN_LENGTH_SHARE = 0.04
"""A shorter band, as a share of the map's long side, is no seam but a speck."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Band:
    """One traced band in map pixels: `path` (N, 2) float x, y; `rows`, `columns` its pixels."""

    orientation: Orientation
    confidence: float
    path: NDArray[np.float64]
    closed: bool
    rows: NDArray[np.intp]
    columns: NDArray[np.intp]

    @property
    def length(self) -> float:
        """Length of the path in map pixels."""
        return path_length(self.path)


def path_length(path: NDArray[np.float64]) -> float:
    """Summed length of the steps of an (N, 2) path."""
    return float(np.hypot(*np.diff(path, axis=0).T).sum()) if len(path) > 1 else 0.0


def seam_strength(maps: Maps) -> NDArray[np.float32]:
    """(h, w, 3) probability of each orientation, 0 off the piece's outside."""
    on_piece = 1.0 - maps.part[..., Part.BACKGROUND.label]
    return maps.seam[..., 1:] * np.clip(2.0 * on_piece, 0.0, 1.0)[..., None]


def trace(maps: Maps) -> tuple[Band, ...]:
    """The seams of a picture, longest first."""
    strength = seam_strength(maps)
    total = strength.sum(axis=-1)
    present = followed_down(total, LOW, HIGH)
    if not present.any():
        return ()
    winner = strength.argmax(axis=-1)
    shortest = MIN_LENGTH_SHARE * max(maps.shape)
    bands = []
    for orientation in Orientation:
        channel = orientation.label - 1
        mask = (present & (winner == channel)).astype(np.uint8)
        _, numbered, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
        for number, (x, y, width, height, _) in enumerate(stats[1:], start=1):
            if np.hypot(width, height) < shortest:
                continue
            whole = numbered[y : y + height, x : x + width] == number
            sure = total[y : y + height, x : x + width]
            for own_mask in _cut(whole, sure, CUTS, shortest):
                path, closed = _path(own_mask)
                path += np.array([x, y])
                if path_length(path) < shortest:
                    continue
                rows, columns = np.nonzero(own_mask)
                rows, columns = rows + y, columns + x
                own = strength[rows, columns, channel]
                bands.append(
                    Band(
                        orientation=orientation,
                        confidence=float(np.sort(own)[len(own) // 4 :].mean()),
                        path=path,
                        closed=closed,
                        rows=rows,
                        columns=columns,
                    )
                )
    return tuple(sorted(bands, key=lambda band: -band.length))


def _cut(
    mask: NDArray[np.bool_], sure: NDArray[np.float32], levels: tuple[float, ...], shortest: float
) -> list[NDArray[np.bool_]]:
    """The (h, w) masks of the long bands that a band falls into at the first of the levels where
    two of them run beside each other; the band itself where none do."""
    for place, level in enumerate(levels):
        strong = (mask & (sure >= level)).astype(np.uint8)
        _, numbered, stats, _ = cv2.connectedComponentsWithStats(strong, connectivity=8)
        sizes = np.hypot(stats[1:, cv2.CC_STAT_WIDTH], stats[1:, cv2.CC_STAT_HEIGHT])
        parts = [numbered == number for number in np.flatnonzero(sizes >= shortest) + 1]
        paths = [_path(part)[0] for part in parts] if len(parts) > 1 else []
        if any(_beside(*pair) for pair in combinations(paths, 2)):
            rest = levels[place + 1 :]
            return [finer for part in parts for finer in _cut(part, sure, rest, shortest)]
    return [mask]


def _beside(one: NDArray[np.float64], other: NDArray[np.float64]) -> bool:
    """Whether two (N, 2) paths run side by side, neither going on where the other ends: most of
    the shorter has its nearest point within the longer, not at its ends."""
    short, long = sorted((one, other), key=len)
    offsets = short[:, None] - long[None]  # (n, m, 2)
    nearest = np.hypot(offsets[..., 0], offsets[..., 1]).argmin(axis=1)
    within = (nearest > 0.05 * len(long)) & (nearest < 0.95 * len(long))
    return bool(within.mean() >= 0.5)


def _path(mask: NDArray[np.bool_]) -> tuple[NDArray[np.float64], bool]:
    """The middle line (N, 2) x, y of a band, and whether it closes on itself."""
    thin = thinned(mask)
    rows, columns = np.nonzero(thin)
    if len(rows) < 2:
        rows, columns = np.nonzero(mask)
        middle = np.array([[columns.mean(), rows.mean()]])
        return np.repeat(middle, 2, axis=0), False
    graph = neighbours(thin)
    order = longest(graph)
    if len(order) < 2:
        return np.stack([columns[:1], rows[:1]], 1).repeat(2, axis=0).astype(float), False
    # A ring's longest shortest path is half of it: look for the way back through what is left.
    distance, previous = reached(graph, order[0], without=order[1:-1])
    closed = 0.4 * len(order) < distance[order[-1]] < np.inf
    if closed:
        order = [*order, *followed(previous, order[-1])[1:]]
    path = np.stack([columns[order], rows[order]], 1).astype(np.float64)
    return smoothed(path, 1.5, closed=closed), closed
