"""What pieces are covered with: colour, roughness, metal as patterns of the place, linear light.

The colours are our own choice by eye ("common practice, no source"): no other generator's.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tests.second_renderer.noise import Noise, step
from tests.second_renderer.welds import Look

Array = NDArray[np.float64]

BARE = ("mill scale", "light rust", "heavy rust", "blasted", "galvanised", "stainless")
PAINTED = ("primer", "paint")
SKINS = BARE + PAINTED

_PRIMERS = ((0.23, 0.045, 0.03), (0.22, 0.23, 0.24), (0.36, 0.30, 0.16), (0.07, 0.12, 0.10))
_PAINTS = (
    (0.02, 0.02, 0.022),
    (0.52, 0.53, 0.52),
    (0.03, 0.10, 0.28),
    (0.60, 0.36, 0.03),
    (0.05, 0.20, 0.09),
    (0.38, 0.03, 0.025),
    (0.24, 0.26, 0.28),
)
_RUST = np.array([0.24, 0.085, 0.03])
_DARK_RUST = np.array([0.09, 0.035, 0.018])


def draw_skin(rng: np.random.Generator) -> str:
    """One of `SKINS`."""
    return str(rng.choice(SKINS, p=[0.2, 0.16, 0.08, 0.08, 0.08, 0.12, 0.13, 0.15]))


def skin_look(name: str, points: Array, rng: np.random.Generator, noise: Noise) -> Look:
    """The look of a skin at (N, 3) points in millimetres. ValueError for a name not in `SKINS`."""
    if name not in SKINS:
        raise ValueError(f"skin must be one of {', '.join(SKINS)}, got {name!r}")
    cloud = noise.cloudy(points, 90.0, 5)
    fine = noise.cloudy(points, 7.0, 4, layer=3)
    count = len(points)
    if name == "mill scale":
        tone = 0.055 * (1 + 0.35 * cloud + 0.25 * fine)
        color = tone[:, None] * np.array([0.95, 1.0, 1.1])
        color = _rusted(color, step(cloud + 0.5 * fine, 0.35 + rng.uniform(-0.2, 0.3), 0.9))
        return _look(color, 0.42 + 0.12 * fine + 0.1 * cloud, 0.35)
    if name in ("light rust", "heavy rust"):
        heavy = name == "heavy rust"
        tone = (0.10 if heavy else 0.14) * (1 + 0.3 * fine)
        share = step(cloud + 0.6 * fine, *((-0.9, 0.1) if heavy else (-0.6, 0.7)))
        color = _rusted(np.repeat(tone[:, None], 3, 1), share)
        streaks = noise.cloudy(points * [1.0, 1.0, 0.15], 20.0, 3, layer=6)
        color = color * (1 - 0.35 * step(streaks, 0.1, 0.6))[:, None]
        return _look(color, 0.75 + 0.1 * fine, 0.15 * (1 - share))
    if name == "blasted":
        tone = rng.uniform(0.25, 0.38) * (1 + 0.08 * cloud + 0.12 * fine)
        return _look(tone[:, None] * np.array([1.0, 0.99, 0.97]), np.full(count, 0.62), 0.8)
    if name == "galvanised":
        # Spangle: each crystal its own grey.
        crystal = np.round(2.5 * noise.at(points, 16.0, 1)) / 2.5
        tone = rng.uniform(0.36, 0.5) * (1 + 0.14 * crystal + 0.08 * fine)
        return _look(tone[:, None] * np.array([0.97, 1.0, 1.02]), 0.42 + 0.1 * crystal, 0.75)
    if name == "stainless":
        tone = rng.uniform(0.42, 0.6) * (1 + 0.05 * cloud + 0.05 * fine)
        rough = rng.uniform(0.2, 0.5) * (1 + 0.25 * cloud + 0.15 * fine)
        return _look(tone[:, None] * np.array([1.0, 0.975, 0.94]), rough, 0.97)
    palette = _PRIMERS if name == "primer" else _PAINTS
    base = np.array(palette[rng.integers(len(palette))])
    color = base * (1 + 0.07 * cloud + 0.05 * fine)[:, None]
    worn = step(cloud + 0.7 * fine, rng.uniform(0.8, 1.3), 1.4)
    color = _rusted(color, worn)
    dust = rng.uniform(0.0, 0.3) * step(cloud, -0.5, 0.8)
    color = color * (1 - dust[:, None]) + dust[:, None] * np.array([0.32, 0.28, 0.23])
    rough = (0.7 if name == "primer" else rng.uniform(0.2, 0.55)) + 0.2 * dust + 0.3 * worn
    return _look(color, rough, 0.0)


def grain_mm(name: str, points: Array, noise: Noise) -> Array:
    """(N,) fine relief of a skin."""
    strength = {"heavy rust": 0.25, "light rust": 0.1, "galvanised": 0.05, "paint": 0.04}
    waves = 0.12 * noise.cloudy(points, 70.0, 2, layer=12)
    return np.asarray(waves + strength.get(name, 0.06) * noise.cloudy(points, 5.0, 3, layer=10))


def _rusted(color: Array, share: Array) -> Array:
    rust = _DARK_RUST + (_RUST - _DARK_RUST) * share[:, None]
    return np.asarray(color * (1 - share[:, None]) + rust * share[:, None])


def _look(color: Array, rough: Array | float, metal: Array | float) -> Look:
    count = len(color)
    return Look(
        color=np.clip(color, 0.008, 0.92),
        rough=np.clip(np.broadcast_to(rough, count), 0.1, 1.0),
        metal=np.clip(np.broadcast_to(metal, count), 0.0, 1.0),
    )
