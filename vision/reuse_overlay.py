"""Two small grey copies laid over each other: do they show the same, patch by patch?"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

WINDOW_PX = 11
"""Side of the patches whose grey values are correlated."""

FLAT_LEVELS = 2.0
"""Spread (8-bit levels) below which a patch of both pictures has nothing to compare."""

CLIPPED_LEVELS = (6.0, 249.0)
"""A patch whose mean lies beyond these is clipped in one of the two: its detail is lost, which
says nothing."""

ALIKE, UNLIKE = 0.5, 0.4
"""Correlation of two patches from which on they agree, and below which they disagree."""

STRONG_LEVELS = 20.0
"""A patch counts by its spread, up to this one: what JPEG leaves of a faint one is worth little."""

MIN_AGREEING = 0.72
"""Share of the textured common area, counted so, that has to agree."""

CLEAR_LEVELS = 6.0
"""Spread from which on a patch may disagree: what noise and JPEG make of a fainter one says
nothing."""

MAX_BLOB = 0.02
"""Largest connected area that may disagree, as a share of the common area: on 120 tuning scenes
copies stayed below 0.005 (99 %), and another thing on a tenth of the picture came to 0.026 and more
(98 %). A large stamp drawn across a copy may hide it."""

MIN_OVERLAP = 0.3
"""Share of the smaller picture that has to be in both."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """Shares from 0 to 1; see the constants of this module for what they are shares of."""

    overlap: float
    agreeing: float
    blob: float

    @property
    def same(self) -> bool:
        """Whether the two show the same picture."""
        return (
            self.overlap >= MIN_OVERLAP and self.agreeing >= MIN_AGREEING and self.blob <= MAX_BLOB
        )


def agreement(
    a: NDArray[np.uint8],
    a_size: tuple[int, int],
    b: NDArray[np.uint8],
    b_size: tuple[int, int],
    b_from_a: NDArray[np.float64],
) -> Agreement:
    """How far two grey pictures agree when one is laid over the other.

    `b_from_a` (2, 3) maps pixel centres between copies of `a_size` and `b_size` (width, height);
    `a` and `b` are such copies at sizes of their own. The finer of the two is brought to the
    coarser one's pixels, so that both are equally blurred.
    """
    to_b = _resized(b_size, b.shape) @ _square(b_from_a) @ np.linalg.inv(_resized(a_size, a.shape))
    if np.sqrt(abs(np.linalg.det(to_b[:2, :2]))) > 1.0:
        a, b, to_b = b, a, np.linalg.inv(to_b)
    height, width = b.shape
    scale = float(np.sqrt(abs(np.linalg.det(to_b[:2, :2]))))
    sigma = 0.5 * np.sqrt(max(1.0 / scale**2 - 1.0, 0.0))
    fine = (
        a.astype(np.float32)
        if sigma < 0.2
        else cv2.GaussianBlur(a.astype(np.float32), (0, 0), sigma)
    )
    moved = cv2.warpAffine(fine, to_b[:2], (width, height), flags=cv2.INTER_LINEAR)
    common = cv2.warpAffine(np.ones_like(fine), to_b[:2], (width, height)) > 0.999
    # The other picture may cover only a part of this one: what counts is the smaller of the two.
    smaller = min(float(b.size), float(a.size) * scale**2)
    overlap = min(1.0, float(common.sum()) / max(smaller, 1.0))
    if common.sum() < 4 * WINDOW_PX**2:
        return Agreement(overlap=overlap, agreeing=0.0, blob=1.0)
    correlation, spread = _correlation(np.asarray(moved, np.float32), b.astype(np.float32), common)
    textured = common & (spread > FLAT_LEVELS)
    if textured.sum() < 2 * WINDOW_PX**2:
        return Agreement(overlap=overlap, agreeing=0.0, blob=1.0)
    weight = np.minimum(spread[textured], STRONG_LEVELS)
    unlike = cv2.morphologyEx(
        (common & (spread > CLEAR_LEVELS) & (correlation < UNLIKE)).astype(np.uint8),
        cv2.MORPH_OPEN,
        np.ones((5, 5), np.uint8),
    )
    areas = cv2.connectedComponentsWithStats(unlike)[2][1:, cv2.CC_STAT_AREA]
    return Agreement(
        overlap=overlap,
        agreeing=float(weight[correlation[textured] > ALIKE].sum() / weight.sum()),
        blob=float(areas.max(initial=0) / common.sum()),
    )


def _square(matrix: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.concatenate([matrix, [[0.0, 0.0, 1.0]]])


def _resized(size: tuple[int, int], shape: tuple[int, ...]) -> NDArray[np.float64]:
    """(3, 3) from pixel centres of a copy of `size` to those of one of `shape` (rows, columns)."""
    x, y = shape[1] / size[0], shape[0] / size[1]
    return np.array([[x, 0.0, 0.5 * x - 0.5], [0.0, y, 0.5 * y - 0.5], [0.0, 0.0, 1.0]])


def _correlation(
    a: NDArray[np.float32], b: NDArray[np.float32], common: NDArray[np.bool_]
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """(h, w) each: the correlation of the patches around every pixel, and the larger of their two
    spreads in 8-bit levels, what lies outside `common` left out."""
    weight = common.astype(np.float32)
    count = np.maximum(cv2.blur(weight, (WINDOW_PX, WINDOW_PX)), 1e-6)

    def mean(values: NDArray[np.float32]) -> NDArray[np.float32]:
        return np.asarray(cv2.blur(values * weight, (WINDOW_PX, WINDOW_PX)) / count, np.float32)

    a_mean, b_mean = mean(a), mean(b)
    a_variance = np.maximum(mean(a * a) - a_mean**2, 0.0)
    b_variance = np.maximum(mean(b * b) - b_mean**2, 0.0)
    together = mean(a * b) - a_mean * b_mean
    # Half a level of spread is rounding, not texture.
    correlation = together / np.sqrt((a_variance + 0.25) * (b_variance + 0.25))
    spread = np.sqrt(np.maximum(a_variance, b_variance))
    darkest, lightest = np.minimum(a_mean, b_mean), np.maximum(a_mean, b_mean)
    clipped = (darkest < CLIPPED_LEVELS[0]) | (lightest > CLIPPED_LEVELS[1])
    return correlation, np.where(clipped, 0.0, spread).astype(np.float32)
