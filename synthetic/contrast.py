"""How visible a seam is in the file: its contrast is what JPEG and noise leave of it."""

from __future__ import annotations

from types import ModuleType
from typing import NamedTuple

import numpy as np

from synthetic import effects
from synthetic.fields import Array
from synthetic.packing import Numbers

NOISE_RATIO = (2.0, 5.0)
"""Signal-to-noise ratio of a whole seam below which nothing of it is left, and from which all is:
an eye is certain from about 5 on (A. Rose, J. Opt. Soc. Am. 38, 1948; from memory)."""


class Trace(NamedTuple):
    """What the file keeps of a difference in luma, all (B, H, W): the difference itself, as blur,
    denoising and scaling leave it; how far the file differs, JPEG's rounding included; and the
    square of the difference over the noise's, whose sum over an area is the square of the
    signal-to-noise ratio that an eye has there."""

    difference: Array
    in_file: Array
    squared_ratio: Array


def trace_of(
    xp: ModuleType,
    n: Numbers,
    picture: Array,
    exposed: Array,
    difference: Array,
    fixed: dict[str, Array],
) -> Trace:
    """The trace that a difference in luma (B, H, W) leaves, given the picture (B, 3, H, W) before
    and after `effects.expose`. So a seam's contrast is that of the file, not of the scene."""
    seen = effects.lens(xp, n, difference[:, None])
    taken = effects.processed(xp, n, seen)
    with_it = effects.luma(exposed)
    change = _filed(xp, n, with_it, fixed) - _filed(xp, n, with_it - taken[:, 0], fixed)
    # Sharpening and denoising do the same to noise and difference, and are left out of the ratio.
    scale = max(exposed.shape[-2], exposed.shape[-1]) / effects.REFERENCE_LONG_SIDE_PX
    white = _power(n, "noise", "colour_noise")
    # Along a line each blotch counts once, however many pixels long it is.
    soft = _power(n, "blotch", "colour_blotch")
    soft = soft * (1.0 + (2.0 * float(np.sqrt(np.pi))) * scale * n["effects.blotch_px"][:, :, None])
    strength = effects.noise_at(xp, effects.luma(picture))
    noise = (white + soft) * strength * strength + 1e-6  # a file's whole levels are noise too
    return Trace(effects.rescaled(xp, n, taken)[:, 0], change, seen[:, 0] * seen[:, 0] / noise)


def _power(n: Numbers, common: str, own: str) -> Array:
    """(B, 1, 1) mean square of noise in luma, by the weights of `luma` for the colours' own."""
    colours = 0.299**2 + 0.587**2 + 0.114**2
    return n["effects." + common][:, :, None] ** 2 + colours * n["effects." + own][:, :, None] ** 2


def _filed(xp: ModuleType, n: Numbers, x: Array, fixed: dict[str, Array]) -> Array:
    """`effects.finished` for luma alone (B, H, W), without bars and stamp."""
    x = x[:, None]
    across, down = n["effects.grid_across_px"], n["effects.grid_down_px"]
    first, last = n["effects.first_jpeg_quality"], n["effects.jpeg_quality"]
    coded = _coded_luma(xp, first, effects.rolled(xp, x, across, down)[:, 0], fixed)[:, None]
    x = xp.where(first[:, :, None, None] > 1.0, effects.rolled(xp, coded, -across, -down), x)
    x = effects.rescaled(xp, n, x)[:, 0]
    return xp.where(last[:, :, None] > 1.0, _coded_luma(xp, last, x, fixed), x)


def _coded_luma(xp: ModuleType, quality: Array, x: Array, fixed: dict[str, Array]) -> Array:
    y = effects.block_round(
        xp, x * 255.0 - 128.0, fixed["luma"], effects.table_factor(xp, quality), fixed["dct"]
    )
    return (y + 128.0) / 255.0


def contrast_of(xp: ModuleType, trace: Trace, here: Array) -> Array:
    """The contrast (B,) that a seam makes `here`, 1 on its pixels: the mean difference in 8-bit
    luma, times the share of it that JPEG kept, times how far it stands out of the noise."""

    def total(values: Array) -> Array:
        return (here * values).sum(-1).sum(-1)

    left = trace.difference
    mean = 255.0 * total(xp.abs(left)) / xp.clip(here.sum(-1).sum(-1), min=1.0)
    kept = total(left * trace.in_file) / xp.clip(total(left * left), min=1e-9)
    ratio = xp.sqrt(total(trace.squared_ratio))
    lost, certain = NOISE_RATIO
    stands_out = (ratio - lost) / (certain - lost)
    return mean * xp.clip(kept, 0.0, 1.0) * xp.clip(stands_out, 0.0, 1.0)
