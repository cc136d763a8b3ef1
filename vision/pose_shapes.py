"""The usual shapes of a fitting, and the outline that each shows to a camera.

Lengths are in outside radii, frames and shape numbers those of `vision.outline_surfaces`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from fittings.dimensions import ElbowRadius, elbow, tee
from fittings.words import Kind, Part
from vision.outline_surfaces import Array, Surface, elbow_surface, reducer_surface, tee_surface
from vision.piece_form import PARTS

_GRID = (21, 40)
"""Stations along and around a part at which its outline is looked for."""

_STEP = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Free:
    """One number of a shape that is sought: its place among them, one standard deviation of it
    about the usual, and the range it is kept in."""

    place: int
    spread: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Supposed:
    """A usual shape of a kind: its surface, its numbers, and which of them are free."""

    kind: Kind
    surface: Surface
    usual: Array
    free: tuple[Free, ...]

    def numbers(self, off: Array) -> Array:
        """The shape's numbers, the free ones `off` (F,) from the usual."""
        numbers = self.usual.copy()
        for each, by in zip(self.free, off, strict=True):
            numbers[each.place] = min(max(numbers[each.place] + by, each.low), each.high)
        return numbers

    def points(self, part: Array, along: Array, around: Array, off: Array) -> Array:
        """(N, 3) points of the surface at part labels and coordinates (N,)."""
        return self.surface(part, along, around, self.numbers(off))

    def exists(self, part: Part, along: Array, around: Array, off: Array) -> NDArray[np.bool_]:
        """(N,) whether the part has a surface there: a tee's run has none under its outlet, the
        outlet none below the branch curve, at a height of √(1 − r² sin²) over the run's axis
        (`fittings.geometry.branch_curve`)."""
        if self.kind is not Kind.TEE:
            return np.ones(along.shape, np.bool_)
        outlet, half_run, height = self.numbers(off)[:3]
        if part is Part.OUTLET:
            root = np.sqrt(np.maximum(1.0 - (outlet * np.sin(around)) ** 2, 0.0))
            return np.asarray(along * height >= root)
        reach = np.hypot((2.0 * along - 1.0) * half_run, np.sin(around))
        return np.asarray((reach >= outlet) | (np.cos(around) <= 0.0))

    def ratio(self, part: Part, off: Array) -> float:
        """Centreline length over outside radius of a part."""
        numbers = self.numbers(off)
        if self.kind is Kind.ELBOW:
            return float(numbers[0] * np.radians(numbers[1]) + 2.0 * numbers[2])
        if self.kind is Kind.REDUCER:
            return float(numbers[1])
        return float(2.0 * numbers[1] if part is Part.RUN else numbers[2] / numbers[0])


@cache
def usual_shapes(kind: Kind) -> tuple[Supposed, ...]:
    """The shapes to begin from; none without a fitting.

    Elbows and tees are the NPS 6 rows of ASME B16.9. From NPS 2 to 24 an elbow's bend radius over
    OD/2 is 2.5 to 3.0 (long) or 1.7 to 2.0 (short), a straight tee's C and M 1.4 to 2.1, a
    reducer's length H 1.2 to 2.5, and its small end 0.4 to 0.9 of the large one. Two spreads cover
    those; straight ends, and what a fabrication is longer, are the maker's choice.
    """
    if kind is Kind.ELBOW:
        rows = ((ElbowRadius.LONG, 90), (ElbowRadius.SHORT, 90), (ElbowRadius.LONG, 45))
        return tuple(_elbow(radius, angle_deg) for radius, angle_deg in rows)
    if kind is Kind.TEE:
        row = tee("6")
        c, m = (2.0 * length_mm / row.run_od_mm for length_mm in (row.run_c_mm, row.outlet_m_mm))
        return tuple(
            Supposed(
                kind=kind,
                surface=tee_surface,
                usual=np.array([outlet, c, m, 0.15, 0.0, 0.0]),
                free=(
                    Free(place=0, spread=0.15, low=0.2, high=1.0),
                    Free(place=1, spread=0.25, low=1.0, high=4.0),
                    Free(place=2, spread=0.25, low=1.05, high=4.0),
                ),
            )
            for outlet in (0.95, 0.6)
        )
    if kind is Kind.REDUCER:
        return tuple(
            Supposed(
                kind=kind,
                surface=reducer_surface(eccentric),
                usual=np.array([small, 1.8, 0.12, 0.12, 0.0, 0.0, 0.2, 0.5]),
                free=(
                    Free(place=0, spread=0.15, low=0.2, high=0.98),
                    Free(place=1, spread=0.4, low=0.5, high=4.0),
                    Free(place=2, spread=0.08, low=0.0, high=0.4),
                    Free(place=3, spread=0.08, low=0.0, high=0.4),
                ),
            )
            for eccentric in (0.0, 1.0)
            for small in (0.8, 0.5)
        )
    return ()


def _elbow(radius: ElbowRadius, angle_deg: int) -> Supposed:
    row = elbow("6", radius, angle_deg)
    return Supposed(
        kind=Kind.ELBOW,
        surface=elbow_surface(1),
        usual=np.array([2.0 * row.bend_radius_mm / row.od_mm, float(angle_deg), 0.05, 0.0]),
        free=(
            Free(place=0, spread=0.25, low=1.05, high=5.0),
            Free(place=2, spread=0.15, low=0.0, high=2.0),
        ),
    )


def outline(supposed: Supposed, off: Array, camera: Array) -> tuple[Array, Array, Array]:
    """Part labels, `along` and `around` (K,) of points on the outline that a camera at (3,) sees.

    Between neighbours on a grid, that is where the surface turns away (normal · ray = 0), and on
    the ends' rims all that faces the camera. What is hidden behind other surface is among them.
    """
    found = []
    for part in PARTS[supposed.kind]:
        facing, along, around = _facing(supposed, part, off, camera)
        row, column = np.nonzero((facing[:, 1:] > 0.0) != (facing[:, :-1] > 0.0))
        here, beyond = facing[row, column], facing[row, column + 1]
        turn = around[column] + here / (here - beyond) * (around[1] - around[0])
        rims = (len(along) - 1,) if part is Part.OUTLET else (0, len(along) - 1)
        ends = [around[facing[rim] > 0.0] for rim in rims]
        stations = [np.full(len(end), along[rim]) for end, rim in zip(ends, rims, strict=True)]
        at = np.concatenate([along[row], *stations]), np.concatenate([turn, *ends])
        there = supposed.exists(part, *at, off)
        found.append((np.full(there.sum(), float(part.label)), at[0][there], at[1][there]))
    labels, along, around = (np.concatenate(each) for each in zip(*found, strict=True))
    return labels, along, around


def _facing(
    supposed: Supposed, part: Part, off: Array, camera: Array
) -> tuple[Array, Array, Array]:
    """(A, T) how much the surface faces the camera, with the stations along (A,) and around (T,);
    positive on the side that is seen. Normals are ∂P/∂around × ∂P/∂along, outwards."""
    along, around = np.linspace(0.0, 1.0, _GRID[0]), np.linspace(-np.pi, np.pi, _GRID[1] + 1)
    a, t = (each.ravel() for each in np.meshgrid(along, around, indexing="ij"))
    labels = np.full(a.shape, float(part.label))
    points = supposed.points(labels, a, t, off).reshape(len(along), len(around), 3)
    by_along, ringed = np.gradient(points, axis=0), points[:, :-1]
    by_around = np.roll(ringed, -1, axis=1) - np.roll(ringed, 1, axis=1)
    by_around = np.concatenate([by_around, by_around[:, :1]], axis=1)
    facing = ((camera - points) * np.cross(by_around, by_along)).sum(axis=2)
    return facing, along, around


def tangents(
    supposed: Supposed, part: Part, along: Array, around: Array, off: Array
) -> tuple[Array, Array, Array]:
    """(N, 3) points of the surface, and their derivatives by `along` and by `around`."""
    labels = np.full(along.shape, float(part.label))
    points = supposed.points(labels, along, around, off)
    by_along = supposed.points(labels, along + _STEP, around, off) - points
    by_around = supposed.points(labels, along, around + _STEP, off) - points
    return points, by_along / _STEP, by_around / _STEP
