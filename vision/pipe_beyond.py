"""Does a pipe go on beyond an end of the fitting? Told by the end itself, without any traced line.

The picture about the end is laid out flat, across it and outward from it, in widths of the end.
Where a pipe goes on, the two sides of the piece go on as edges, light falls across as before, and
what lies there is unlike the ground on either side. The fourth figure is which way the end bulges:
where a bare end bulges inward its face is turned to the camera and would show, so that without a
face it bulges outward; a joined one may do either.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.end_joints import End
from vision.network import Maps

FIGURES = ("sides", "light", "ground", "bulge")
"""In the order of `figures` and of `WEIGHTS`."""

WEIGHTS = (0.75, 2.56, 1.14, -6.8)
OFFSET = -4.12
"""Log-odds of a pipe by logistic regression on 320 ends, 86 of them joined, that version 5's maps
show in 680 tuning scenes of seed 910 201, drawn with pipe more often than others are."""

TOLD_FROM = 0.8
"""Probability from which on an end is told for joined. In scenes that the regression was not fitted
to (8 folds) 39 of the 86 reach it, and 1 of the 234 bare ends. At 0.7 those were 49 and 2, but of
other tuning scenes (seed 910 401) 9 of 196 bare ends reached that, most with a shadow beyond."""

_ACROSS = np.linspace(-0.4, 1.4, 73)
_OUTWARD = np.linspace(-0.32, 0.4, 37)
_INSIDE = _OUTWARD <= -0.08
_BEYOND = _OUTWARD >= 0.1
_ON = (_ACROSS > 0.05) & (_ACROSS < 0.95)
_SIDES = np.array([0.0, 1.0])
_SHEARS = np.linspace(-0.2, 0.2, 5)
_SHIFTS = np.linspace(-0.06, 0.06, 5)

_LEAST_IN_FRAME = 0.9
_FLOOR_LEVELS = 2.0
"""Differences of CIELAB below about this are noise and dirt."""


def pipe_probability(pixels: NDArray[np.uint8], maps: Maps, end: End) -> float:
    """The probability that a pipe goes on beyond an end; 0 where the frame hides what is there.

    `pixels` is the picture (H, W, 3) uint8 RGB that the maps were made of.
    """
    found = figures(pixels, maps, end)
    if found is None:
        return 0.0
    log_odds = OFFSET + sum(w * f for w, f in zip(WEIGHTS, found, strict=True))
    return 1.0 / (1.0 + math.exp(-min(max(log_odds, -30.0), 30.0)))


def figures(
    pixels: NDArray[np.uint8], maps: Maps, end: End
) -> tuple[float, float, float, float] | None:
    """The evidence in the order of `FIGURES`; None where the frame cuts off what lies beyond.

    `sides`: log of the mean contrast, CIELAB per sample, along the two lines on which the piece's
    sides go on, each where it is strongest within a few degrees. `light`: correlation of lightness
    across the end just inside with just beyond, differences under 2 counting as none. `ground`: log
    of how far what lies beyond is from what lies on either side of it. `bulge`: how far the end's
    middle lies out over its chord, in widths.
    """
    flat = _laid_out(end)
    scale = np.array(pixels.shape[1::-1]) / np.array(maps.shape[::-1])
    at = (flat + 0.5) * scale - 0.5
    edge = np.array(pixels.shape[1::-1]) - 1.0
    framed = ((at >= 0.0) & (at <= edge)).all(axis=-1)
    if (framed[_INSIDE | _BEYOND][:, _ON].mean(axis=1) < _LEAST_IN_FRAME).any():
        return None
    colour = _lab(pixels, at)
    beyond = colour[_BEYOND].mean(axis=0)
    inside_light, beyond_light = colour[_INSIDE][:, _ON, 0].mean(axis=0), beyond[_ON, 0]
    here = beyond[_ON].mean(axis=0)
    beside = [beyond[_ACROSS < -0.1].mean(axis=0), beyond[_ACROSS > 1.1].mean(axis=0)]
    off_ground = float(np.mean([np.linalg.norm(here - ground) for ground in beside]))
    return (
        float(np.log(_side_contrasts(colour) + 0.2).mean()),
        _alike(inside_light, beyond_light),
        math.log(off_ground + _FLOOR_LEVELS),
        _bulge(end),
    )


def _laid_out(end: End) -> NDArray[np.float64]:
    """(T, S, 2) map points about the end: T outward, S across, both in its widths."""
    at, out = end.path @ end.across, end.path @ end.outward
    place = at.min() + _ACROSS * end.width_px
    edge = np.interp(place, at, out) + _OUTWARD[:, None] * end.width_px
    return np.asarray(place[:, None] * end.across + edge[..., None] * end.outward)


def _lab(pixels: NDArray[np.uint8], at: NDArray[np.float64]) -> NDArray[np.float32]:
    """(T, S, 3) CIELAB at those points (T, S, 2), a little smoothed; beyond the frame the nearest
    pixel's."""
    points = at.astype(np.float32)
    rgb = cv2.remap(
        pixels, points[..., 0], points[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    lab = cv2.cvtColor(rgb.astype(np.float32) / 255.0, cv2.COLOR_RGB2LAB)
    return np.asarray(cv2.GaussianBlur(lab, (0, 0), 0.8), np.float32)


def _side_contrasts(colour: NDArray[np.float32]) -> NDArray[np.float64]:
    """(2,) contrast along each side's line beyond the end, the strongest of some that lean a little
    or lie a little beside it: a change that keeps its sign and place along the line."""
    change = np.gradient(colour[_BEYOND], axis=1)
    outward = _OUTWARD[_BEYOND]
    lines = _SIDES[:, None, None, None] + _SHIFTS[:, None, None] + _SHEARS[:, None] * outward
    columns = np.rint((lines - _ACROSS[0]) / (_ACROSS[1] - _ACROSS[0])).astype(int)
    columns = np.clip(columns, 0, len(_ACROSS) - 1)
    along = change[np.arange(len(outward)), columns].mean(axis=-2)
    return np.asarray(np.linalg.norm(along, axis=-1).max(axis=(1, 2)), np.float64)


def _alike(one: NDArray[np.floating], other: NDArray[np.floating]) -> float:
    """Correlation, -1 to 1, in which `_FLOOR_LEVELS` of spread on both sides agree in nothing."""
    a, b = one - one.mean(), other - other.mean()
    floor = _FLOOR_LEVELS**2
    return float((a * b).mean() / np.sqrt(((a**2).mean() + floor) * ((b**2).mean() + floor)))


def _bulge(end: End) -> float:
    """How far a parabola through the end's path stands out over its chord, in widths of the end."""
    at, out = end.path @ end.across, end.path @ end.outward
    share = (at - at.min()) / end.width_px
    basis = np.stack([np.ones_like(share), share, share**2], axis=1)
    weights, *_ = np.linalg.lstsq(basis, out / end.width_px, rcond=None)
    return float(-weights[2] / 4.0)
