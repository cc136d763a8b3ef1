"""Bands of a map thinned to lines, and ways along them, with OpenCV and the standard library.

SciPy and scikit-image have all of this, but importing them takes longer than reading a photo does,
and reading needs nothing else of theirs. `tests/vision/test_thinning.py` holds each function here
against theirs.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from math import exp, hypot, inf

import cv2
import numpy as np
from numpy.typing import NDArray

Graph = tuple[tuple[tuple[int, float], ...], ...]
"""For each node its neighbours, each with the distance to it."""

_RING = ((1, 2), (0, 2), (0, 1), (0, 0), (1, 0), (2, 0), (2, 1), (2, 2))
"""The eight neighbours x1 to x8 in a 3 × 3 window: from the right, counter-clockwise."""


def followed_down(values: NDArray[np.floating], low: float, high: float) -> NDArray[np.bool_]:
    """(H, W) bool: values above `low` that touch, side by side, a region reaching above `high`.

    Canny (1986), "A computational approach to edge detection", section on hysteresis.
    """
    _, regions = cv2.connectedComponents((values > low).astype(np.uint8), connectivity=4)
    reach = np.zeros(int(regions.max()) + 1, np.bool_)
    reach[regions[values > high]] = True
    reach[0] = False
    return reach[regions]


def _removable() -> NDArray[np.uint8]:
    """(2, 256) uint8: which true pixels each half-step takes away, by the code of their ring.

    Guo and Hall (1989), "Parallel thinning with two-subiteration algorithms", algorithm A1,
    conditions (a) to (c).
    """
    table = np.zeros((2, 256), np.uint8)
    for code in range(256):
        x = [code >> (i % 8) & 1 for i in range(9)]  # x[0] is x1, x[8] is x1 again
        parts = sum(not x[i] and (x[i + 1] or x[i + 2]) for i in (0, 2, 4, 6))
        pairs = (
            sum(x[i] or x[i + 1] for i in (0, 2, 4, 6)),
            sum(x[i + 1] or x[i + 2] for i in (0, 2, 4, 6)),
        )
        if parts == 1 and 2 <= min(pairs) <= 3:
            table[0, code] = not ((x[1] or x[2] or not x[7]) and x[0])
            table[1, code] = not ((x[5] or x[6] or not x[3]) and x[4])
    return table


_REMOVABLE = _removable()
_WEIGHTS = np.zeros((3, 3), np.float32)
for _i, _place in enumerate(_RING):
    _WEIGHTS[_place] = 1 << _i


def thinned(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(H, W) bool: the mask's middle lines, one pixel wide, connected as the mask is."""
    image = np.pad(mask, 1).astype(np.uint8)
    while True:
        before = cv2.countNonZero(image)
        for table in _REMOVABLE:
            codes = cv2.filter2D(image, cv2.CV_8U, _WEIGHTS, borderType=cv2.BORDER_CONSTANT)
            image &= 1 - table[codes]
        if cv2.countNonZero(image) == before:
            return image[1:-1, 1:-1].astype(np.bool_)


def neighbours(thin: NDArray[np.bool_]) -> Graph:
    """Which true pixels touch, corners too, and how far apart they are.

    Numbered as `np.nonzero` lists them.
    """
    number = {(row, column): i for i, (row, column) in enumerate(np.argwhere(thin).tolist())}
    steps = [(dy, dx) for dy in (-1, 0, 1) for dx in (-1, 0, 1) if dy or dx]
    return tuple(
        tuple(
            (number[row + dy, column + dx], hypot(dy, dx))
            for dy, dx in steps
            if (row + dy, column + dx) in number
        )
        for row, column in number
    )


def reached(
    graph: Graph, start: int, without: Sequence[int] = ()
) -> tuple[NDArray[np.float64], list[int]]:
    """Distance of each node from `start` (inf where there is no way) and the node before it.

    The way may not pass through the nodes `without`. Dijkstra (1959), "A note on two problems in
    connexion with graphs".
    """
    distance = np.full(len(graph), inf)
    previous = [-1] * len(graph)
    distance[start] = 0.0
    done = np.zeros(len(graph), np.bool_)
    done[list(without)] = True
    waiting = [(0.0, start)]
    while waiting:
        so_far, node = heapq.heappop(waiting)
        if done[node]:
            continue
        done[node] = True
        for other, step in graph[node]:
            if not done[other] and so_far + step < distance[other]:
                distance[other] = so_far + step
                previous[other] = node
                heapq.heappush(waiting, (so_far + step, other))
    return distance, previous


def followed(previous: Sequence[int], node: int) -> list[int]:
    """The nodes from `node` back to where `reached` started."""
    way = [node]
    while previous[way[-1]] >= 0:
        way.append(previous[way[-1]])
    return way


def longest(graph: Graph) -> list[int]:
    """Nodes along the longest shortest path (two sweeps)."""
    first, _ = reached(graph, 0)
    start = int(np.where(np.isfinite(first), first, -1.0).argmax())
    distance, previous = reached(graph, start)
    end = int(np.where(np.isfinite(distance), distance, -1.0).argmax())
    return followed(previous, end)[::-1]


def smoothed(path: NDArray[np.float64], sigma: float, *, closed: bool) -> NDArray[np.float64]:
    """An (N, 2) path under a Gaussian of `sigma` points, cut off at four of them."""
    reach = int(4.0 * sigma + 0.5)
    weights = np.array([exp(-0.5 * (i / sigma) ** 2) for i in range(-reach, reach + 1)])
    longer = np.pad(path, ((reach, reach), (0, 0)), mode="wrap" if closed else "edge")
    columns = [np.convolve(axis, weights / weights.sum(), mode="valid") for axis in longer.T]
    return np.stack(columns, 1)
