"""Proportions of the fitting in a photo: what its shape must be for the coordinates to lie so.

The network says of each pixel where on the surface it lies. A fitting of the right proportions,
seen by the right camera, brings each such place to its pixel; so pose, focal length and proportions
are found together, by least squares over the pixels (a bundle adjustment of one photo with known
correspondences). The focal length is not known: it goes in as an expectation with a spread, and how
much the proportions hang on it, and on a view that foreshortens them, comes out as their
uncertainty. Where that is large nothing is said.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from fittings.words import Kind
from vision.network import Maps
from vision.piece_form import PARTS, Form, usual_form
from vision.proportion_shapes import ENDS, ENDS_SPREAD, Shape, numbers_of, shape_of, values_of

FOCAL, FOCAL_SPREAD = 0.85, 0.35
"""Expected focal length over the picture's long side, and the spread of its logarithm: phones' main
lenses 0.67 to 0.78, twice that zoomed, half of it ultra-wide (common practice, no source)."""

SURE = 0.9
"""Length of (cosine, sine) of `around` from which on a pixel's place is taken: a network that is
torn between places answers their mean, which is shorter than 1."""

MOST_POINTS, LEAST_POINTS = 200, 60
MOST_TRIES = 500
PATCH, CORRELATED_PX = 0.7, 6.0
"""Outside radii, and map pixels, within which misfits go together: a patch of the larger counts as
one independent point."""

OWN_ERROR = 0.03
"""Relative error that no fit goes below: welds, bevels and unround pieces, lens distortion."""

LARGEST_ERROR = 0.12
"""A ratio less certain than this, relatively, is not given: rows of the standard differ by less."""

LARGEST_MISFIT = 0.12
"""Root mean square distance of pixels from where the form puts them, in outside radii, beyond which
the coordinates belong to no such form."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ratio:
    """One proportion with its standard error; `name` as in `vision.proportion_shapes`."""

    name: str
    value: float
    error: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Proportions:
    """What the piece's coordinates say of its shape.

    `form` are the proportions found, `ratios` those that are certain enough to be given.
    `diameter_px` is the outside diameter (of run or large end) at the middle of the piece, in
    pixels of the map, `focal` the focal length over the long side, `misfit` the root mean square
    distance of pixels from where the form puts them, in outside radii. `middle_px` is where the
    piece's middle lies in the map. `turn` (a rotation vector) and `shift` (outside radii) take the
    form's points into the camera's frame: x right, y down, z forward.
    """

    form: Form
    ratios: tuple[Ratio, ...]
    diameter_px: float
    focal: float
    misfit: float
    middle_px: tuple[float, float]
    turn: tuple[float, float, float]
    shift: tuple[float, float, float]

    def outside(self) -> NDArray[np.float64]:
        """(N, 3) points all over the piece's outside in the camera's frame, outside radii."""
        along, around = np.meshgrid(np.linspace(0.0, 1.0, 13), np.linspace(-np.pi, np.pi, 25))
        points = [
            self.form.points(part, along, around)[self.form.exists(part, along, around)]
            for part in PARTS[self.form.kind]
        ]
        rotation = cv2.Rodrigues(np.array(self.turn))[0]
        return np.asarray(np.concatenate(points) @ rotation.T + np.array(self.shift))

    def ratio(self, name: str) -> Ratio | None:
        """The ratio of that name, None where it is not certain enough."""
        return next((each for each in self.ratios if each.name == name), None)


def measure(maps: Maps, kind: Kind) -> Proportions | None:
    """The proportions of the largest piece in view; None where the maps are too poor to tell."""
    places = _places(maps, kind)
    if places is None:
        return None
    fits = []
    for start in _starts(kind):
        fit = _fitted(places, start)
        if fit is not None:
            fits.append(fit)
    if not fits:
        return None
    best = min(fits, key=lambda fit: fit.misfit)
    return best if best.misfit <= LARGEST_MISFIT else None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Places:
    """Pixels with their places: `at` (N, 2) from the picture's middle in long sides, `part` (N,)
    labels, `along` and `around` (N,); `long_side` and `middle` of the map in pixels, `area` of the
    piece in them."""

    at: NDArray[np.float64]
    part: NDArray[np.int64]
    along: NDArray[np.float64]
    around: NDArray[np.float64]
    long_side: int
    middle: NDArray[np.float64]
    area: int

    @property
    def on(self) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
        """Where on the surface the pixels lie: part, along, around."""
        return self.part, self.along, self.around


def _places(maps: Maps, kind: Kind) -> _Places | None:
    labels = [part.label for part in PARTS[kind]]
    winner = maps.winner
    sure = np.isin(winner, labels) & (np.hypot(maps.around_cos, maps.around_sin) >= SURE)
    count, areas, stats, _ = cv2.connectedComponentsWithStats(sure.astype(np.uint8))
    if count < 2:
        return None
    largest = 1 + int(stats[1:, cv2.CC_STAT_AREA].argmax())
    inside = cv2.erode((areas == largest).astype(np.uint8), np.ones((3, 3), np.uint8))
    rows, columns = np.nonzero(inside)
    if len(rows) < LEAST_POINTS:
        return None
    chosen = np.linspace(0, len(rows) - 1, min(MOST_POINTS, len(rows))).astype(int)
    # Neighbours in reading order lie in rows: a fixed shuffle spreads the choice over the piece.
    order = np.random.default_rng(0).permutation(len(rows))[chosen]
    rows, columns = rows[order], columns[order]
    height, width = winner.shape
    middle = np.array([(width - 1) / 2.0, (height - 1) / 2.0])
    return _Places(
        at=(np.stack([columns, rows], 1) - middle) / max(height, width),
        part=winner[rows, columns],
        along=maps.along[rows, columns].astype(np.float64),
        around=np.arctan2(maps.around_sin[rows, columns], maps.around_cos[rows, columns]).astype(
            np.float64
        ),
        long_side=max(height, width),
        middle=middle,
        area=int(inside.sum()),
    )


def _starts(kind: Kind) -> list[Form]:
    usual = usual_form(kind)
    if kind is Kind.ELBOW:
        return [usual, replace(usual, bend_deg=45.0)]
    if kind is Kind.REDUCER:
        return [usual, replace(usual, eccentric=True)]
    return [usual]


def _projected(points: NDArray[np.float64], camera: NDArray[np.float64]) -> NDArray[np.float64]:
    """(N, 2) in long sides; `camera` holds a rotation vector, a translation, and log focal."""
    rotation = cv2.Rodrigues(camera[:3])[0]
    local = points @ rotation.T + camera[3:6]
    depth = np.maximum(local[:, 2:], 0.05)
    return np.asarray(np.exp(camera[6]) * local[:, :2] / depth)


def _fitted(places: _Places, start: Form) -> Proportions | None:
    camera = _first_camera(places, start)
    if camera is None:
        return None
    px = 1.0 / places.long_side
    ends = np.full(2, ENDS[start.kind])

    def misses(numbers: NDArray[np.float64]) -> NDArray[np.float64]:
        points = shape_of(start, numbers[7:]).points(*places.on)
        off = (_projected(points, numbers[:7]) - places.at) / px
        # Beyond a pixel or two a miss counts by its size, no longer by its square (soft L1).
        size = np.hypot(off[:, 0], off[:, 1]) / 2.0
        weight = np.sqrt(2.0 * (np.sqrt(1.0 + size**2) - 1.0)) / np.maximum(size, 1e-9)
        expected = [
            (numbers[6] - np.log(FOCAL)) / FOCAL_SPREAD,
            *(numbers[-2:] - ends) / ENDS_SPREAD,
        ]
        return np.append((off * weight[:, None]).ravel(), expected)

    from scipy.optimize import least_squares  # takes longer to import than most readings do

    try:
        found = least_squares(
            misses,
            np.concatenate([camera, numbers_of(start)]),
            method="lm",
            max_nfev=MOST_TRIES,
            ftol=1e-7,
            xtol=1e-7,
        )
    except (ValueError, np.linalg.LinAlgError):
        return None
    return _result(places, start, found)


def _first_camera(places: _Places, form: Form) -> NDArray[np.float64] | None:
    """Rotation vector, translation and log focal that suit the form roughly."""
    matrix = np.diag([FOCAL, FOCAL, 1.0])
    solved, turn, shift = cv2.solvePnP(
        Shape(form=form, second_radius=form.second_radius).points(*places.on),
        places.at,
        matrix,
        None,
        flags=cv2.SOLVEPNP_SQPNP,
    )
    if not solved or not np.isfinite(turn).all() or not np.isfinite(shift).all():
        return None
    return np.concatenate([turn.ravel(), shift.ravel(), [np.log(FOCAL)]])


def _result(places: _Places, start: Form, found: Any) -> Proportions | None:
    shape = shape_of(start, found.x[7:])
    points = shape.points(*places.on)
    camera = found.x[:7]
    rotation = cv2.Rodrigues(camera[:3])[0]
    middle = rotation @ shape.middle + camera[3:6]
    if middle[2] <= 1.0 or not np.isfinite(found.x).all() or np.abs(found.x[7:9]).max() > 5.5:
        return None  # within the piece, or nothing held the numbers
    focal = float(np.exp(camera[6]))
    radius_px = focal / float(middle[2]) * places.long_side
    off_px = (_projected(points, camera) - places.at) * places.long_side
    rms_px = float(np.sqrt((off_px**2).sum(axis=1).mean()))
    at = focal * middle[:2] / middle[2] * places.long_side + places.middle
    return Proportions(
        form=shape.form,
        ratios=_ratios(start, found, _covariance(places, found, rms_px, radius_px)),
        diameter_px=2.0 * radius_px,
        focal=focal,
        misfit=rms_px / radius_px,
        middle_px=(float(at[0]), float(at[1])),
        turn=_three(camera[:3]),
        shift=_three(camera[3:6]),
    )


def _three(values: NDArray[np.float64]) -> tuple[float, float, float]:
    return float(values[0]), float(values[1]), float(values[2])


def _covariance(
    places: _Places, found: Any, rms_px: float, radius_px: float
) -> NDArray[np.float64]:
    """Of the numbers found: the inverse of the normal matrix, with as many independent points as
    the piece has patches of PATCH radii, and at least half a pixel of noise."""
    jacobian, prior = found.jac[:-3], found.jac[-3:]
    independent = max(6.0, places.area / max(PATCH * radius_px, CORRELATED_PX) ** 2)
    weight = min(1.0, independent / len(places.at)) / max(rms_px**2 / 2.0, 0.25)
    normal = weight * jacobian.T @ jacobian + prior.T @ prior
    # What nothing depends on (an outlet that is not in view) is known to a factor of e to the 30th.
    return np.asarray(np.linalg.inv(normal + 1e-3 * np.eye(len(normal))))


def _ratios(start: Form, found: Any, covariance: NDArray[np.float64]) -> tuple[Ratio, ...]:
    """The ratios that are certain enough, errors by propagation (numerical derivatives)."""
    numbers = found.x[7:]
    values = values_of(shape_of(start, numbers))
    slopes = {name: np.zeros(len(numbers)) for name in values}
    for i, step in enumerate(1e-4 * np.eye(len(numbers))):
        above, below = (values_of(shape_of(start, numbers + side * step)) for side in (1, -1))
        for name in values:
            slopes[name][i] = (above[name] - below[name]) / 2e-4
    own = covariance[7:, 7:]
    given = []
    for name, value in values.items():
        error = float(np.hypot(np.sqrt(slopes[name] @ own @ slopes[name]), OWN_ERROR * value))
        if error <= LARGEST_ERROR * value:
            given.append(Ratio(name=name, value=value, error=error))
    return tuple(given)
