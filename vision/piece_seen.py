"""What one photo shows of each part's surface, and what several photos show together.

A part's surface is cut into cells of equal steps in `along` (rows) and `around` (columns, from
-180° to 180°). A cell of a photo's seen map holds the share of it that the photo shows and how many
pixels of the photo lie on one outside radius there, across the worse direction: a seam as wide as
a fiftieth of the radius needs more than fifty of them to be a pixel wide.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from fittings.words import Kind, Part
from vision.network import Maps
from vision.piece_form import PARTS, Field, Form
from vision.surface import SURE_OF_PLACE

ROWS, COLUMNS = 36, 72
"""Cells along and around: 5° around, and on common fittings about as long as that is wide."""

_FINER = 2
_BEYOND = 0.25
"""How far beyond the outermost pixels' middles the surface is taken to go on, as what is left of
their weight. At a quarter exact maps show what three times finer pictures do, to 0.01 of the
outside; at a half, 0.02 less."""

_LARGEST_STEP_RAD = 0.9
_LARGEST_STEP_ALONG = 0.25
"""Neighbouring pixels farther apart on the surface than this do not lie on one stretch of it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeenPart:
    """One part in one photo: `share` (ROWS, COLUMNS) 0 to 1 of each cell seen, `px_per_radius`
    (ROWS, COLUMNS) photo pixels on one outside radius, 0 where unseen."""

    share: Field
    px_per_radius: Field


SeenMap = Mapping[Part, SeenPart]


def cell_centres() -> tuple[Field, Field]:
    """`along` (ROWS, 1) and `around` in radians (1, COLUMNS) of the cells' middles."""
    along = (np.arange(ROWS) + 0.5) / ROWS
    around = (np.arange(COLUMNS) + 0.5) / COLUMNS * 2 * np.pi - np.pi
    return along[:, None], around[None, :]


@cache
def cell_areas(form: Form) -> Mapping[Part, Field]:
    """(ROWS, COLUMNS) area of each cell of each part in square radii, 0 where there is none.

    Middle-point rule with |∂P/∂along × ∂P/∂around| from central differences, on a grid four times
    as fine, so that a cell that the branch curve cuts counts by its share.
    """
    fine = 4
    along = ((np.arange(ROWS * fine) + 0.5) / (ROWS * fine))[:, None]
    around = ((np.arange(COLUMNS * fine) + 0.5) / (COLUMNS * fine) * 2 * np.pi - np.pi)[None, :]
    h = 1e-4
    areas = {}
    for part in PARTS[form.kind]:
        by_along = form.points(part, along + h, around) - form.points(part, along - h, around)
        by_around = form.points(part, along, around + h) - form.points(part, along, around - h)
        density = np.linalg.norm(np.cross(by_along, by_around), axis=-1) / (2 * h) ** 2
        density = density * form.exists(part, along, around)
        cells = density.reshape(ROWS, fine, COLUMNS, fine).sum(axis=(1, 3))
        areas[part] = cells * (2 * np.pi / (ROWS * fine * COLUMNS * fine))
        areas[part].flags.writeable = False  # it is kept, and shared
    return areas


def seen_map(maps: Maps, form: Form, photo_width_px: float) -> dict[Part, SeenPart]:
    """What a photo, so wide, shows of each part."""
    winner = maps.winner
    sure = np.hypot(maps.around_cos, maps.around_sin) >= SURE_OF_PLACE
    scale = photo_width_px / maps.shape[1]
    return {
        part: _seen_part(maps, form, part, (winner == part.label) & sure, scale)
        for part in PARTS[form.kind]
    }


def _seen_part(
    maps: Maps, form: Form, part: Part, here: NDArray[np.bool_], scale: float
) -> SeenPart:
    along = maps.along.astype(np.float64)
    around = np.arctan2(maps.around_sin, maps.around_cos).astype(np.float64)
    sharp = scale * _pixels_per_radius(form.points(part, along, around), here)
    fine = np.zeros((ROWS * _FINER, COLUMNS * _FINER), bool)
    best = np.zeros((ROWS, COLUMNS))
    for u, t, pixel in _samples(*_with_rim(along, around, here)):
        rows = np.clip((u * ROWS * _FINER).astype(int), 0, ROWS * _FINER - 1)
        columns = np.floor((t / (2 * np.pi) + 0.5) * COLUMNS * _FINER).astype(int)
        columns %= COLUMNS * _FINER
        fine[rows, columns] = True
        np.maximum.at(best, (rows // _FINER, columns // _FINER), sharp[pixel])
    share = fine.reshape(ROWS, _FINER, COLUMNS, _FINER).mean(axis=(1, 3))
    return SeenPart(share=share, px_per_radius=best)


def _with_rim(
    along: Field, around: Field, here: NDArray[np.bool_]
) -> tuple[Field, Field, NDArray[np.bool_], NDArray[np.bool_]]:
    """Both fields (H + 2, W + 2) carried one pixel beyond `here` in a straight line, where they are
    known then, and where they were known before: a pixel shows what lies half a pixel beyond its
    middle too, which at an outline is a good part of the surface."""
    u, t, inside = np.pad(along, 1), np.pad(around, 1), np.pad(here, 1)
    sum_u, sum_t, count = np.zeros_like(u), np.zeros_like(u), np.zeros_like(u)
    known = inside.astype(np.float64)
    for dy in (-1, 0, 1):
        for dx in (-1, 0, 1):
            if not (dy or dx):
                continue
            near_u, near_t, near = (np.roll(f, (dy, dx), (0, 1)) for f in (u, t, inside))
            far_u, far_t, far = (np.roll(f, (2 * dy, 2 * dx), (0, 1)) for f in (u, t, inside))
            step_t = (near_t - far_t + np.pi) % (2 * np.pi) - np.pi
            step_u = near_u - far_u
            usable = ~inside & (near > 0) & (far > 0)
            usable &= (np.abs(step_t) < _LARGEST_STEP_RAD) & (np.abs(step_u) < _LARGEST_STEP_ALONG)
            # Angles are averaged as differences from one of them, the first that was found.
            base = np.where(count > 0, sum_t / np.maximum(count, 1), near_t)
            value_t = base + (near_t + step_t - base + np.pi) % (2 * np.pi) - np.pi
            sum_u += np.where(usable, near_u + step_u, 0.0)
            sum_t += np.where(usable, value_t, 0.0)
            count += usable
    rim = count > 0
    u = np.where(rim, sum_u / np.maximum(count, 1), u)
    t = np.where(rim, sum_t / np.maximum(count, 1), t)
    return u, t, inside | rim, known > 0


def _samples(
    along: Field, around: Field, here: NDArray[np.bool_], inside: NDArray[np.bool_]
) -> Iterable[tuple[Field, Field, tuple[NDArray[np.intp], NDArray[np.intp]]]]:
    """(along, around, the pixel they belong to) at places between neighbouring pixels, so close
    that no cell between two of them is passed over, and no farther out than three quarters of a
    pixel."""
    whole = here[:-1, :-1] & here[1:, :-1] & here[:-1, 1:] & here[1:, 1:]
    y, x = np.nonzero(whole)
    corners = [(y, x), (y, x + 1), (y + 1, x), (y + 1, x + 1)]
    u = np.stack([along[c] for c in corners])
    first = around[corners[0]]
    t = np.stack([first + (around[c] - first + np.pi) % (2 * np.pi) - np.pi for c in corners])
    real = np.stack([inside[c] for c in corners]).astype(np.float64)
    spread_u, spread_t = np.ptp(u, axis=0), np.ptp(t, axis=0)
    near = (spread_u < _LARGEST_STEP_ALONG) & (spread_t < _LARGEST_STEP_RAD) & (real.sum(0) > 0)
    steps = np.maximum(spread_u * ROWS * _FINER, spread_t / (2 * np.pi) * COLUMNS * _FINER)
    for low, high, count in ((0.0, 1.5, 4), (1.5, 6.0, 9), (6.0, np.inf, 32)):
        some = near & (steps >= low) & (steps < high)
        if not some.any():
            continue
        middles = (np.arange(count) + 0.5) / count
        for p, q in itertools.product(middles, middles):
            # Bilinear between the four pixel centres.
            w = np.array([(1 - p) * (1 - q), (1 - p) * q, p * (1 - q), p * q])
            shown = w @ real[:, some] >= _BEYOND
            pixel = (
                np.clip(y[some][shown] - 1 + round(p), 0, along.shape[0] - 3),
                np.clip(x[some][shown] - 1 + round(q), 0, along.shape[1] - 3),
            )
            yield w @ u[:, some][:, shown], w @ t[:, some][:, shown], pixel


def _pixels_per_radius(points: Field, here: NDArray[np.bool_]) -> Field:
    """(H, W) pixels on one radius, across the direction in which the surface is most foreshortened:
    the inverse of the largest singular value of the surface's Jacobian, (3, 2) radii per pixel."""
    down, across = np.gradient(points, axis=(0, 1))
    a, b = (across * across).sum(-1), (down * down).sum(-1)
    c = (across * down).sum(-1)
    # Largest eigenvalue of the 2 x 2 matrix J'J, in closed form.
    largest = 0.5 * (a + b) + np.sqrt(0.25 * (a - b) ** 2 + c * c)
    inner = cv2.erode(here.astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool)
    return np.where(inner & (largest > 0), 1.0 / np.sqrt(np.maximum(largest, 1e-12)), 0.0)


def seen_share(form: Form, shares: Mapping[Part, Field]) -> float:
    """Share of the outside's area that is seen, 0 to 1; `shares` holds (ROWS, COLUMNS) by part."""
    areas = cell_areas(form)
    whole = sum(float(area.sum()) for area in areas.values())
    return sum(float((areas[part] * shares[part]).sum()) for part in areas) / whole


def union(shares: Iterable[Field]) -> Field:
    """The most of each cell that any photo shows: a lower bound of what they show together."""
    return np.max(np.stack(list(shares)), axis=0)


def turned(kind: Kind, part: Part, cells: Field, turn: int) -> Field:
    """Cells of a part, (…ROWS, …COLUMNS), as they are numbered after the fitting is turned.

    Elbow and tee: `turn` half turns, which leave them looking the same and swap the ends (an
    outlet's `around` moves by 180°). Reducer: `turn` columns of COLUMNS about its axis.
    """
    columns = cells.shape[1]
    if kind is Kind.REDUCER:
        return np.roll(cells, turn * columns // COLUMNS, axis=1)
    if turn % 2 == 0:
        return cells
    if part is Part.OUTLET:
        return np.roll(cells, columns // 2, axis=1)
    return cells[::-1, ::-1]
