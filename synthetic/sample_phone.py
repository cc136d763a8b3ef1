"""Chance for what lens, phone, screenshot and messenger do to a picture; ranges and shares stand
here and nowhere else."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from synthetic.draws import Rng
from synthetic.scene import Effects, Triple

MOST_BAR = 0.18  # of a side

GOOD_SHARE, BAD_SHARE = 0.5, 0.2
"""Of pictures that are sharp and clean, and of those that are bad by quota; of the rest, which lie
between, some are bad by chance, so that about a quarter of all are."""

TROUBLES = ("focus", "motion", "grain", "blotches", "night", "messenger")
"""What makes a picture bad, one or several at once."""

MOST_NOISE = 20.0 / 255.0
"""Of each kind of noise, as a share of white at a middle tone."""


def sample_effects(rng: Rng, *, plain: bool = False) -> Effects:
    """A phone and the picture's way from it. A `plain` picture comes straight from the phone:
    without motion, stray light, bars, stamp or messenger."""
    u = rng.uniform

    def some(share: float, low: float, high: float, otherwise: float = 0.0) -> float:
        """A number of that range in `share` of all pictures."""
        value = float(u(low, high))
        return value if rng.random() < share else otherwise

    kind = rng.random()
    good, bad = kind < GOOD_SHARE, kind > 1.0 - BAD_SHARE
    blur = float(np.exp(rng.normal(np.log(0.6), 0.35)))
    blur = some(0.08, 1.0, 1.8, blur)  # out of focus
    motion, motion_deg = some(0.15, 1.0, 4.0), float(u(0, 180))
    cast = 0.18 if rng.random() < 0.1 else 0.08  # a phone that took the lamp's colour for white
    warm, green = float(rng.normal(0.0, cast)), float(rng.normal(0.0, 0.3 * cast))
    dim = rng.random() < 0.2  # little light: more noise, and more denoising against it
    colour = float(u(0.6, 1.35))
    kind = rng.random()
    if kind < 0.04:
        colour = 0.0  # black and white
    elif kind < 0.12:
        colour = float(u(0.15, 0.6))  # faded
    bars = _bars(rng)
    stamped = rng.random() < 0.05
    corner_x, corner_y = rng.choice([-1.0, 1.0]), rng.choice([-1.0, 1.0])
    sent = rng.random() < 0.3  # through a messenger, a page or a document
    again = rng.random() < 0.45
    quality = float(u(20, 70)) if sent else float(u(30, 97))
    effects = Effects(
        balance=(_gain(1.0 + warm), _gain(1.0 + green), _gain(1.0 - warm)),
        veil=some(0.1, 0.02, 0.25),
        smudge=some(0.08, 0.1, 0.6),
        smudge_across=float(u(-0.5, 0.5)),
        smudge_down=float(u(-0.5, 0.5)),
        smudge_size=float(u(0.12, 0.5)),
        hard_clip=some(0.3, 0.3, 1.0),
        lift=some(0.35, 0.1, 1.2),
        saturation=colour,
        contrast=float(u(0.8, 1.3)),
        fade=some(0.07, 0.03, 0.16),
        vignette=some(0.4, 0.0, 0.6),
        blur_px=blur,
        motion_px=motion,
        motion_deg=motion_deg,
        noise=min(float(rng.exponential(0.022 if dim else 0.007)), MOST_NOISE),
        colour_noise=min(float(rng.exponential(0.015 if dim else 0.004)), 0.06),
        smear=some(0.85 if dim else 0.35, 0.3, 1.0),
        chroma_smear=some(0.9 if dim else 0.4, 0.3, 1.0),
        sharpen=some(0.65, 0.0, 2.2),
        sharpen_px=float(u(0.7, 2.6)),
        first_jpeg_quality=float(u(40, 95)) if again else 0.0,
        grid_across_px=float(rng.integers(0, 8)),
        grid_down_px=float(rng.integers(0, 8)),
        bar_left=bars[0],
        bar_right=bars[1],
        bar_top=bars[2],
        bar_bottom=bars[3],
        bar_rgb=_bar_colour(rng),
        stamp=float(u(0.6, 1.0)) if stamped else 0.0,
        stamp_across=float(corner_x * u(0.25, 0.33)),
        stamp_down=float(corner_y * u(0.4, 0.46)),
        stamp_size=float(u(0.018, 0.04)),
        stamp_rgb=_STAMPS[int(rng.integers(len(_STAMPS)))],
        stamp_box=1.0 if stamped and rng.random() < 0.3 else 0.0,
        scale=float(u(0.4, 0.95)) if sent else some(0.1, 0.6, 0.98, 1.0),
        jpeg_quality=quality if sent or rng.random() < 0.75 else 0.0,
    )
    if plain:
        return _straight(effects)
    return _good(effects) if good else _bad(rng, effects) if bad else effects


def _good(e: Effects) -> Effects:
    """The same phone held still, in enough light: what a later hand did to the picture stays."""
    return replace(
        e, blur_px=min(e.blur_px, 0.9), motion_px=min(e.motion_px, 1.2), noise=min(e.noise, 0.012),
        colour_noise=min(e.colour_noise, 0.008), smear=0.6 * e.smear, scale=max(e.scale, 0.65),
        jpeg_quality=max(e.jpeg_quality, 40.0) if e.jpeg_quality else 0.0,
    )  # fmt: skip


def _bad(rng: Rng, e: Effects) -> Effects:
    """One, two or three of TROUBLES on top, each from slight to drowning."""
    u = rng.uniform

    def long_tail(middle: float, spread: float) -> float:
        return min(float(np.exp(rng.normal(np.log(middle), spread))), MOST_NOISE)

    count = int(rng.choice([1, 2, 3], p=[0.55, 0.33, 0.12]))
    for which in rng.choice(len(TROUBLES), count, replace=False):
        what = TROUBLES[int(which)]
        if what == "focus":
            e = replace(e, blur_px=float(u(1.2, 2.1) if rng.random() < 0.85 else u(2.1, 3.0)))
        elif what == "motion":
            # A line of this length has the spread of a Gaussian of 0.29 times it.
            e = replace(e, motion_px=float(u(2.5, 7.0) if rng.random() < 0.85 else u(7.0, 10.0)))
        elif what == "grain":
            e = replace(
                e, noise=long_tail(0.032, 0.6), colour_noise=long_tail(0.012, 0.8),
                sharpen=min(e.sharpen, 0.8),
                smear=e.smear * float(rng.random() < 0.5),
            )  # fmt: skip
        elif what == "blotches":
            e = _blotched(rng, e, long_tail(0.026, 0.6), long_tail(0.012, 0.8))
        elif what == "night":
            # Many frames laid over each other: faint detail is gone, edges are drawn anew.
            e = _blotched(rng, e, long_tail(0.014, 0.6), long_tail(0.01, 0.8))
            e = replace(
                e, noise=long_tail(0.025, 0.5), smear=float(u(0.75, 1.0)),
                chroma_smear=float(u(0.8, 1.0)), sharpen=float(u(0.2, 1.2)),
                sharpen_px=float(u(1.6, 3.2)), lift=float(u(0.2, 1.2)),
            )  # fmt: skip
        else:
            e = replace(
                e, scale=float(u(0.4, 0.7)), jpeg_quality=float(u(10, 30)),
                first_jpeg_quality=float(u(25, 75)),
            )  # fmt: skip
    return e


def _blotched(rng: Rng, e: Effects, strength: float, colour: float) -> Effects:
    size = float(np.exp(rng.uniform(np.log(0.9), np.log(5.0))))
    # Sharpened, blotches would be more than the most.
    sharpen = min(e.sharpen, 0.5)
    return replace(e, blotch=strength, colour_blotch=colour, blotch_px=size, sharpen=sharpen)


_STAMPS: tuple[Triple, ...] = ((1.0, 0.55, 0.1), (1.0, 1.0, 1.0), (1.0, 0.9, 0.2), (0.9, 0.1, 0.1))


def _gain(value: float) -> float:
    return float(np.clip(value, 0.5, 1.6))


def _bars(rng: Rng) -> tuple[float, float, float, float]:
    """Left, right, top, bottom: a screenshot's or a letterbox's, in 8 % of pictures."""
    u = rng.random()
    if u >= 0.08:
        return 0.0, 0.0, 0.0, 0.0
    first = float(rng.uniform(0.03, MOST_BAR))
    second = first if rng.random() < 0.6 else float(rng.uniform(0.0, MOST_BAR))
    return (first, second, 0.0, 0.0) if u < 0.03 else (0.0, 0.0, first, second)


def _bar_colour(rng: Rng) -> Triple:
    kind = rng.random()
    level = 0.0 if kind < 0.45 else 1.0 if kind < 0.75 else float(rng.uniform(0.05, 0.9))
    return level, level, level


def _straight(e: Effects) -> Effects:
    """The same phone, its picture as it was taken in good light with a steady hand."""
    return Effects(
        balance=e.balance, saturation=e.saturation, contrast=e.contrast, vignette=e.vignette,
        blur_px=min(e.blur_px, 1.0), noise=min(e.noise, 0.01), sharpen=min(e.sharpen, 1.0),
        sharpen_px=e.sharpen_px, jpeg_quality=max(e.jpeg_quality, 60.0),
    )  # fmt: skip
