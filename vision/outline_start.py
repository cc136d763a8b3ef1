"""Where a fit begins: the camera and the shape that the surface coordinates ask for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from fittings.words import Part
from vision.network import Maps
from vision.outline_fit import (
    POSE,
    Number,
    Places,
    camera_priors,
    limits,
    pose_from_points,
    projected,
)
from vision.outline_surfaces import Surface
from vision.surface import SURE_OF_PLACE

Array = NDArray[np.float64]

_SAMPLES = 200
FIRST_STEPS, MORE_STEPS = 7, 20

_FOCALS = (0.5, 0.95, 2.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Start:
    """`numbers` pose then shape, `off_px` the median distance of the places from where they put
    them. `cost` is that of the outline and the places together, None where only the places were
    asked."""

    numbers: Array
    off_px: float
    cost: float | None = None


def places(maps: Maps, mask: NDArray[np.bool_]) -> Places | None:
    """A sample of the mask's sure pixels; None where there are hardly any."""
    sure = mask & (np.hypot(maps.around_cos, maps.around_sin) >= SURE_OF_PLACE)
    rows, columns = np.nonzero(sure)
    if len(rows) < 30:
        return None
    some = np.linspace(0, len(rows) - 1, min(_SAMPLES, len(rows))).astype(int)
    rows, columns = rows[some], columns[some]
    h, w = mask.shape
    at = np.stack([columns, rows], axis=-1) + 0.5 - 0.5 * np.array([w, h])
    parts = maps.part[rows, columns]
    parts = np.where(np.arange(parts.shape[1]) == Part.FACE.label, 0.0, parts)
    around = np.arctan2(maps.around_sin[rows, columns], maps.around_cos[rows, columns])
    return Places(
        at=at / max(h, w),
        part=parts.argmax(axis=-1).astype(np.float64),
        along=maps.along[rows, columns].astype(np.float64),
        around=around.astype(np.float64),
        size=(h, w),
    )


def start(
    known: Places, surface: Surface, guesses: Sequence[Sequence[float]], shape: Sequence[Number]
) -> Start | None:
    """The best camera and shape for the places: perspective-n-point from each guess of the shape's
    numbers and a few focal lengths, then least squares with a soft loss from the best."""
    found = poses(known, surface, guesses)
    return None if not found else refined(known, surface, found[0], shape, steps=FIRST_STEPS)


def poses(known: Places, surface: Surface, guesses: Sequence[Sequence[float]]) -> list[Array]:
    """Pose and guessed shape, by perspective-n-point from every guess and focal length, those that
    meet the places best first."""
    found: list[tuple[float, Array]] = []
    for guess in guesses:
        points = surface(known.part, known.along, known.around, np.array(guess))
        for focal in _FOCALS:
            pose = pose_from_points(points, known.at, focal)
            if pose is not None:
                off = float(np.median(np.hypot(*(projected(points, pose) - known.at).T)))
                found.append((off, np.concatenate([pose, np.array(guess)])))
    return [numbers for _, numbers in sorted(found, key=lambda each: each[0])]


def refined(
    known: Places, surface: Surface, numbers: Array, shape: Sequence[Number], *, steps: int
) -> Start:
    """Pose and shape moved, in so many steps at most, to where the places are met best."""
    low, high = limits(shape)
    held = [(POSE + i, number) for i, number in enumerate(shape) if np.isfinite(number.spread)]

    def off(x: Array) -> Array:
        points = surface(known.part, known.along, known.around, x[POSE:])
        return (projected(points, x) - known.at).ravel() * max(known.size)

    def residuals(x: Array) -> Array:
        priors = [(x[i] - number.middle) / number.spread for i, number in held]
        return np.concatenate([off(x), camera_priors(x), priors])

    begin = np.clip(numbers, low + 1e-6, high - 1e-6)
    done = least_squares(
        residuals,
        begin,
        bounds=(low, high),
        loss="soft_l1",
        x_scale="jac",
        max_nfev=steps,
        ftol=1e-3,
        xtol=1e-5,
    )
    distance = np.hypot(*off(done.x).reshape(-1, 2).T)
    return Start(numbers=done.x, off_px=float(np.median(distance)))
