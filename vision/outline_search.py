"""Where a fit begins when a network knows the places on the surface only roughly.

A network draws a piece's edge to a pixel or two while the places it gives are off by a tenth of the
piece: camera and shape from the places alone then lie outside the reach of a fit to the outline,
which ends in some other shape and is sure of it. So the outline is fitted a little from several
cameras, and the best of them is where the rest begins.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from vision.outline_contour import thinned
from vision.outline_fit import POSE, Array, Model, Number, Places, fit, projected
from vision.outline_start import Start

POOR_START_PX = 1.0
"""Median distance of the places from where the start puts them, map pixels, from which on it is
searched for with the outline. Exact maps begin at 0.02 to 0.8 (26 of 29 tuning tees), those of
version 4's network at 0.8 to 17."""

MOST_STARTS = 6
_POINTS = 60
_STEPS = 14
_LEAST_NOISE_PX = 4.0
_HELD_LOOSELY = 3.0
"""The places only say which way round: they count as known to three times what they miss by."""


def searched(
    outline_px: Array,
    known: Places,
    model: Model,
    shape: Sequence[Number],
    starts: Sequence[Array],
    *,
    off_px: float,
) -> Start | None:
    """The best of some short fits to outline points (N, 2) in map pixels, each from one of `starts`
    (pose then shape). `off_px` is how far places lie from where the best start puts them. None
    without starts."""
    points = thinned(outline_px, _POINTS)
    noise = max(_LEAST_NOISE_PX, _HELD_LOOSELY * off_px)
    tried = [
        fit(points, known, model, shape, numbers, surface_noise_px=noise, steps=_STEPS)
        for numbers in starts[:MOST_STARTS]
    ]
    if not tried:
        return None
    best = min(tried, key=lambda fitted: fitted.cost)
    there = model.surface(known.part, known.along, known.around, best.numbers[POSE:])
    off = np.hypot(*(projected(there, best.numbers) - known.at).T) * max(known.size)
    return Start(numbers=best.numbers, off_px=float(np.median(off)), cost=best.cost)
