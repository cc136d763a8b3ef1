"""Values of an array between its pixels.

By NumPy alone: a reading needs no more of SciPy than this, and importing that takes longer than the
reading does.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray


def median(values: NDArray[Any]) -> np.float64:
    """The median of finite values, at least one.

    `np.median` gives the same, but asks for NumPy's masked arrays first: their import is a large
    part of what a command needs before its first reading.
    """
    ordered = np.sort(values, axis=None)
    return np.float64(ordered[[(ordered.size - 1) // 2, ordered.size // 2]].mean())


def bilinear(
    array: NDArray[Any], points: NDArray[np.float64], *, beyond: float | None = None
) -> NDArray[np.float64]:
    """Bilinear values of an (H, W) array at points (..., 2), x then y, pixel centres whole numbers.

    NaN beside a NaN that has weight. Points beyond the array take the nearest value, or `beyond`.
    """
    height, width = array.shape
    x, y = points[..., 0], points[..., 1]
    inside = (x >= 0) & (x <= width - 1) & (y >= 0) & (y <= height - 1)
    x, y = np.clip(x, 0, width - 1), np.clip(y, 0, height - 1)
    left, top = np.floor(x).astype(int), np.floor(y).astype(int)
    right, bottom = np.minimum(left + 1, width - 1), np.minimum(top + 1, height - 1)
    fx, fy = x - left, y - top
    out = np.zeros(x.shape)
    for rows, columns, weight in (
        (top, left, (1 - fx) * (1 - fy)),
        (top, right, fx * (1 - fy)),
        (bottom, left, (1 - fx) * fy),
        (bottom, right, fx * fy),
    ):
        out += np.where(weight > 0, weight * array[rows, columns], 0.0)
    return out if beyond is None else np.where(inside, out, beyond)
