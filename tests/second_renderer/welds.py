"""A weld on a surface: its relief, and what it does to the look of the metal about it.

Nominal crowns stay below 3 mm, as ASME B31.3-2016 Table 341.3.2 allows walls of 6 to 13 mm (1.5 mm
up to a wall of 6; checked against a digest of the table, not a bought edition). Width 1.5 to 3
times the wall and ripples of 1 to 3 mm with crescents: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fittings.words import Orientation
from tests.second_renderer.noise import Noise, step

Array = NDArray[np.float64]

FINISHES = ("as welded", "brushed", "ground flush", "painted over")


@dataclass(frozen=True, slots=True, kw_only=True)
class Weld:
    """`height_mm` is the crown as deposited, `left` the share of it that the grinder left,
    `cover` how far the skin has grown back over the bare metal (paint: 1)."""

    width_mm: float
    height_mm: float
    pitch_mm: float
    left: float
    cover: float
    finish: str

    def __post_init__(self) -> None:
        if self.finish not in FINISHES:
            raise ValueError(f"finish must be one of {', '.join(FINISHES)}, got {self.finish!r}")
        if self.width_mm <= 0 or self.pitch_mm <= 0:
            raise ValueError("a weld needs a width and a pitch above 0")


@dataclass(frozen=True, slots=True, kw_only=True)
class Seam:
    """A weld on some surface: for each of its vertices the distance from the seam's middle and the
    way along it, both (N,) mm."""

    orientation: Orientation
    weld: Weld
    off_mm: Array
    way_mm: Array


def draw_weld(rng: np.random.Generator, wall_mm: float, *, painted: bool) -> Weld:
    """A weld of a piece with this wall; under paint it may have been ground or not."""
    highest = 1.5 if wall_mm <= 6 else 3.0
    ground = rng.random() < (0.6 if painted else 0.4)
    finish = "painted over" if painted else "ground flush"
    if not painted and not ground:
        finish = str(rng.choice(["as welded", "brushed"], p=[0.65, 0.35]))
    left = 1.0 if finish == "as welded" else float(rng.uniform(0.5, 0.9))
    if ground:
        left = float(rng.uniform(0.06, 0.3))
    return Weld(
        width_mm=float(np.clip(wall_mm * rng.uniform(1.5, 3.0), 6.0, 30.0)),
        height_mm=float(rng.uniform(0.6, 1.0) * highest),
        pitch_mm=float(rng.uniform(1.5, 3.5)),
        left=left,
        cover=1.0 if painted else float(rng.uniform(0.0, 0.6)),
        finish=finish,
    )


def half_width_mm(seam: Seam, points: Array, noise: Noise) -> Array:
    """(N,) half of the bead's width, which wavers by a sixth."""
    return np.asarray(seam.weld.width_mm / 2 * (1 + 0.16 * noise.cloudy(points, 40.0, 3, layer=5)))


def relief_mm(seam: Seam, points: Array, noise: Noise) -> Array:
    """(N,) how far the weld stands out of the surface: a parabolic crown with crescent ripples and
    a slight undercut along its toes, less what the grinder took, which cuts to a level and leaves
    its own waves."""
    weld = seam.weld
    half = half_width_mm(seam, points, noise)
    across = seam.off_mm / half
    inside = np.clip(1.0 - across**2, 0.0, None)
    wavering = 1.0 + 0.25 * noise.cloudy(points, 25.0, 3, layer=8)
    crown = weld.height_mm * inside * wavering
    lag_mm = 0.35 * weld.width_mm * across**2
    phase = (seam.way_mm + lag_mm) / weld.pitch_mm + 0.5 * noise.at(points, 12.0, 11)
    ripple = np.abs(np.sin(np.pi * phase)) - 0.64
    bead = crown + 0.22 * weld.height_mm * ripple * np.sqrt(inside)
    bead -= 0.12 * weld.height_mm * np.exp(-(((np.abs(across) - 1.05) / 0.12) ** 2))
    if weld.left >= 1.0:
        return np.asarray(bead)
    level = weld.left * weld.height_mm * (1.0 + 0.6 * noise.cloudy(points, 18.0, 3, layer=3))
    # The disc also dishes the metal beside the bead a little.
    dish = 0.08 * weld.height_mm * np.exp(-((np.abs(across) - 1.4) ** 2) / 0.3)
    return np.asarray(np.minimum(bead, level) - dish * (weld.left < 0.4))


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What the eye meets at each vertex: as in `Mesh`."""

    color: Array
    rough: Array
    metal: Array


def welded_look(seam: Seam, points: Array, noise: Noise, skin: Look) -> Look:
    """The skin with the weld's own metal, its heat-affected band, or the grinder's band on it."""
    weld = seam.weld
    if weld.finish == "painted over":
        return skin
    half = half_width_mm(seam, points, noise)
    across = np.abs(seam.off_mm) / half
    grain = noise.cloudy(points, 6.0, 3, layer=2)
    if weld.finish == "ground flush":
        reach = 1.7 + 0.35 * noise.cloudy(points, 30.0, 3, layer=7)
        band = 1.0 - step(across, reach - 0.25, reach + 0.1)
        # Scratches across the seam: a pattern that is long across and fine along.
        streaks = np.stack([seam.way_mm, 0.06 * seam.off_mm, np.zeros_like(across)], -1)
        scratch = noise.at(streaks, 1.1, 4) + 0.6 * noise.at(streaks, 0.5, 6)
        tone = 0.5 + 0.12 * scratch + 0.06 * grain
        color = np.stack([tone, 0.985 * tone, 0.96 * tone], -1)
        rough, metal = 0.34 + 0.08 * scratch, np.full(len(across), 0.9)
    else:
        band = 1.0 - step(across, 0.97, 1.08)
        brushed = weld.finish == "brushed"
        tone = (0.42 if brushed else 0.2) + 0.07 * grain
        color = np.stack([tone, 0.98 * tone, 0.96 * tone], -1)
        rough = np.full(len(across), 0.38 if brushed else 0.5) + 0.06 * grain
        metal = np.full(len(across), 0.85 if brushed else 0.6)
        burnt = (1.0 - step(across, 1.1, 2.4)) * (0.2 if brushed else 0.55)
        skin = Look(
            color=skin.color * (1 - burnt[:, None] * [0.5, 0.58, 0.62]),
            rough=skin.rough,
            metal=skin.metal,
        )
    # What the weather put back since: in patches, as the skin lies everywhere else.
    share = np.clip(weld.cover + 0.5 * noise.cloudy(points, 22.0, 4, layer=9), 0.0, 1.0)
    band = band * (1.0 - share * (weld.cover > 0.0))
    wide = band[:, None]
    return Look(
        color=np.clip(skin.color * (1 - wide) + color * wide, 0.01, 0.95),
        rough=np.clip(skin.rough * (1 - band) + rough * band, 0.08, 1.0),
        metal=np.clip(skin.metal * (1 - band) + metal * band, 0.0, 1.0),
    )
