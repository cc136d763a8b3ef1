"""Random patterns as functions of the place, by our own value noise.

A pattern is drawn once (`Noise(rng)`) and can then be asked at any points, so that colour,
roughness and relief of one surface agree.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

Array = NDArray[np.float64]

_SIDE = 32


class Noise:
    """Smooth random values, about −1 to 1, that repeat only after 32 cells of a lattice."""

    def __init__(self, rng: np.random.Generator) -> None:
        self._lattice = rng.uniform(-1.0, 1.0, (_SIDE, _SIDE, _SIDE))
        self._shifts = rng.uniform(0.0, _SIDE, (16, 3))

    def at(self, points: Array, cell_mm: float, layer: int = 0) -> Array:
        """(N,) values at (N, 3) points, one lattice cell `cell_mm` wide; layers are unrelated."""
        places = points / cell_mm + self._shifts[layer % 16]
        low = np.floor(places)
        # Linear between lattice points would show creases in a highlight.
        part = places - low
        eased = low + part * part * (3.0 - 2.0 * part)
        return np.asarray(map_coordinates(self._lattice, eased.T, order=1, mode="grid-wrap"))

    def cloudy(self, points: Array, cell_mm: float, octaves: int = 4, layer: int = 0) -> Array:
        """(N,) sum of finer and finer values, each half as strong, scaled to about −1 to 1."""
        total = np.zeros(len(points))
        for octave in range(octaves):
            total += 0.5**octave * self.at(points, cell_mm / 2.03**octave, layer + octave)
        return total / 1.2


def step(values: Array, low: Array | float, high: Array | float) -> Array:
    """0 below `low`, 1 above `high`, smooth between."""
    part = np.clip((values - low) / (high - low), 0.0, 1.0)
    return np.asarray(part * part * (3.0 - 2.0 * part))
