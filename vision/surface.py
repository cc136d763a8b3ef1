"""From a traced band and a network's maps to a curve on the surface, and how much a photo shows."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from fittings.words import Kind, Orientation, Part
from vision.curves import (
    MOST_UNCERTAIN_DEG,
    ShareOf,
    SurfaceCurve,
    angle_range_deg,
    direction,
    orientation_of,
    place_error_deg,
)
from vision.network import Maps
from vision.pose import SURE_OF_PLACE, Pose
from vision.posed_line import posed_direction
from vision.sampling import bilinear, median
from vision.tracing import Band

LENGTH_OVER_RADIUS = {
    (Kind.ELBOW, Part.BODY): 4.4,
    (Kind.REDUCER, Part.BODY): 1.9,
    (Kind.TEE, Part.RUN): 3.2,
    (Kind.TEE, Part.OUTLET): 1.9,
}
"""Centreline length over outside radius, to turn `along` and `around` into one measure. Middle
values of the rows of ASME B16.9: long-radius 90° elbows R·π/2 ÷ (OD/2) for NPS 4 to 24 are 4.19 to
4.71; straight tees 2C ÷ (OD/2) 2.8 to 3.7; reducers H ÷ (OD/2) 1.2 to 2.0. One photo cannot decide
the row, so an angle halfway between along and across is uncertain by some degrees; 0 and 90 are
not."""

RATIO_RANGE = {
    (Kind.ELBOW, Part.BODY): (2.1, 4.7),
    (Kind.REDUCER, Part.BODY): (1.2, 2.0),
    (Kind.TEE, Part.RUN): (2.8, 3.7),
    (Kind.TEE, Part.OUTLET): (1.8, 3.5),
}
"""Least and most that the same ratio may be, from the same rows: elbows from 45° long radius (half
of 4.19) to 90° long radius, tees' outlets M ÷ (OD/2) from equal ones to those of half the run."""

LEAST_ELONGATION = 2.5
"""A band shorter than this many of its widths is a patch, such as is left of a seam where others
cross it: its middle line has no direction."""

MAPS_SPREADS = 1.5
"""What the standard deviation of an angle from the maps alone is multiplied by: without it 88 % of
such angles, of 454 lines in 800 tuning scenes (seed 910 101), were off by at most twice what was
claimed, and one in twenty by more than 27 degrees."""

LEAST_SHARE = 0.1
"""A curve that covers less than this of the visible girth or length is too short a piece of a line
to say which line that is: it has no angle."""

ON_ROOT_SHARE = 0.6
"""A curve lies on the outlet's root when this share of its points does; from half of that on it is
too near to be called anything else."""

_CELLS = 24
_SMOOTH_PX = 1.0
_AROUND_BIN_DEG = 5.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartFields:
    """One part's coordinates as smooth fields (h, w), NaN off the part: `along`, cosine and sine of
    `around`, and the derivatives by image x and y, (h, w, 2), of `along` and of `around` (rad)."""

    along: NDArray[np.float32]
    cosine: NDArray[np.float32]
    sine: NDArray[np.float32]
    along_slope: NDArray[np.float32]
    around_slope: NDArray[np.float32]


@lru_cache(maxsize=3)  # the parts of one picture: each of its seams and ends asks for them
def part_fields(maps: Maps, part: Part) -> PartFields:
    """The coordinates of one part, carried a few pixels beyond it: each side of an outlet's root is
    another part with other coordinates, and a seam there lies on both."""
    mask = (maps.winner == part.label).astype(np.float32)
    along, cosine, sine = _spread((maps.along, maps.around_cos, maps.around_sin), mask)
    with np.errstate(invalid="ignore"):
        turn = (cosine[..., None] * _slope(sine) - sine[..., None] * _slope(cosine)) / (
            cosine**2 + sine**2
        )[..., None]
    return PartFields(
        along=along,
        cosine=cosine,
        sine=sine,
        along_slope=_slope(along),
        around_slope=turn.astype(np.float32),
    )


def seam_curve(band: Band, maps: Maps, kind: Kind, pose: Pose | None = None) -> SurfaceCurve | None:
    """A band as a curve on the surface; None where the maps are too poor to say where it lies.

    A branch seam is measured on the outlet, where it runs around. Where the line lies on the piece
    whose `pose` is known, its angle is measured on that shape, else on the maps.
    """
    part = _part_under(band, maps)
    ratio = LENGTH_OVER_RADIUS.get((kind, part))
    width_px = len(band.rows) / max(band.length, 1.0)
    if ratio is None or band.length < max(6.0, LEAST_ELONGATION * width_px):
        return None
    fields = part_fields(maps, part)
    points = band.path[:: max(1, len(band.path) // 80)]
    along, cosine, sine = (
        bilinear(field, points) for field in (fields.along, fields.cosine, fields.sine)
    )
    slopes = [
        np.stack([bilinear(field[..., axis], points) for axis in range(2)], axis=1)
        for field in (fields.along_slope, fields.around_slope)
    ]
    known = np.isfinite(along) & np.isfinite(slopes[0] + slopes[1]).all(axis=1)
    if known.sum() < max(4, 0.3 * len(points)):
        return None
    along, cosine, sine = along[known], cosine[known], sine[known]
    sureness = float(median(np.hypot(cosine, sine)))
    if sureness < SURE_OF_PLACE:
        return None
    around = np.unwrap(np.arctan2(sine, cosine))
    posed = None
    if pose is not None and band.orientation is not Orientation.BRANCH:
        posed = posed_direction(band, part, pose)
    if posed is not None:
        angle_deg, uncertainty_deg = posed
    else:
        unrolled = np.stack([along * ratio, around], axis=1)
        per_pixel = np.stack([slopes[0][known] * ratio, slopes[1][known]], axis=1)
        fitted = direction(unrolled, per_pixel, band.length)
        angle_deg = abs(fitted.signed_deg)
        uncertainty_deg = MAPS_SPREADS * float(
            np.sqrt(
                fitted.uncertainty_deg**2
                + angle_range_deg(angle_deg, ratio, *RATIO_RANGE[kind, part]) ** 2
                + place_error_deg(unrolled, fitted, sureness) ** 2
            )
        )
    certain = uncertainty_deg <= MOST_UNCERTAIN_DEG
    orientation = orientation_of(angle_deg, uncertainty_deg)
    if kind is Kind.TEE:
        on_root = _share_on_root(band, maps)
        if on_root >= ON_ROOT_SHARE / 2:
            orientation = Orientation.BRANCH if on_root >= ON_ROOT_SHARE else None
    share_of, share = None, None
    if certain or orientation is not None:
        share_of, share = _length_share(along, around, angle_deg, orientation, maps, part)
        if share < LEAST_SHARE:
            certain, orientation = False, None
    return SurfaceCurve(
        part=part,
        along=tuple(np.clip(along, 0.0, 1.0).tolist()),
        around_deg=tuple(np.degrees(around).tolist()),
        angle_deg=angle_deg if certain else None,
        angle_uncertainty_deg=uncertainty_deg,
        orientation=orientation,
        length_share=share,
        share_of=share_of,
    )


def _part_under(band: Band, maps: Maps) -> Part:
    sums = maps.part[band.rows, band.columns].sum(axis=0)
    if band.orientation is Orientation.BRANCH:
        return Part.OUTLET
    return max((Part.BODY, Part.RUN, Part.OUTLET), key=lambda part: sums[part.label])


def _spread(
    fields: tuple[NDArray[np.float32], ...], mask: NDArray[np.float32]
) -> list[NDArray[np.float32]]:
    """The fields smoothed within `mask` and carried a few pixels beyond it; NaN farther out."""
    inside = mask > 0.5
    near, far = (_weighted(fields, mask, sigma) for sigma in (_SMOOTH_PX, 2.0 * _SMOOTH_PX))
    return [np.where(inside, a, b) for a, b in zip(near, far, strict=True)]


def _weighted(
    fields: tuple[NDArray[np.float32], ...], mask: NDArray[np.float32], sigma: float
) -> list[NDArray[np.float32]]:
    weight = cv2.GaussianBlur(mask, (0, 0), sigma)
    weight[weight <= 0.02] = np.nan
    blurred = (cv2.GaussianBlur(field * mask, (0, 0), sigma) for field in fields)
    return [np.asarray(each / weight, np.float32) for each in blurred]


def _slope(field: NDArray[np.float32]) -> NDArray[np.float32]:
    """(h, w, 2) derivatives by x and y."""
    by_row, by_column = np.gradient(field)
    return np.stack([by_column, by_row], axis=-1).astype(np.float32)


PLACE_LENGTH = 0.95
"""Median length of (cosine, sine) over a piece from which on its shape is measured by them: a
spread of sqrt(-2 ln 0.95) = 18° (circular standard deviation; Mardia and Jupp 2000, chapter 2)."""


def place_is_known(maps: Maps) -> bool:
    """Whether the network is sure enough, over the whole piece, where on it the pixels lie."""
    outside = [part.label for part in (Part.BODY, Part.RUN, Part.OUTLET)]
    on = np.isin(maps.winner, outside)
    lengths = np.hypot(maps.around_cos[on], maps.around_sin[on])
    return bool(on.any() and median(lengths) >= PLACE_LENGTH)


# --------------------------------------------------------------------------- the outlet's root


def root_pixels(maps: Maps) -> NDArray[np.bool_]:
    """(h, w) bool: the outlet's pixels beside the run's, where the two surfaces meet."""
    winner = maps.winner
    run = (winner == Part.RUN.label).astype(np.uint8)
    beside = cv2.dilate(run, np.ones((3, 3), np.uint8)) > 0
    return np.asarray(beside & (winner == Part.OUTLET.label))


def _share_on_root(band: Band, maps: Maps) -> float:
    """Share of a band's path that lies on the root, within the band's own half width and 2 px."""
    root = root_pixels(maps)
    if not root.any():
        return 0.0
    away = cv2.distanceTransform((~root).astype(np.uint8), cv2.DIST_L2, 5)
    half_width = 0.5 * len(band.rows) / max(band.length, 1.0)
    return float((bilinear(away, band.path) <= half_width + 2.0).mean())


# -------------------------------------------------------------------------- shares of the visible


def _length_share(
    along: NDArray[np.float64],
    around: NDArray[np.float64],
    angle_deg: float,
    orientation: Orientation | None,
    maps: Maps,
    part: Part,
) -> tuple[ShareOf, float]:
    """What share of the line that it lies on, as far as the photo shows it, a curve covers."""
    here = maps.winner == part.label
    all_around = np.arctan2(maps.around_sin, maps.around_cos)
    if orientation is Orientation.BRANCH and part is Part.OUTLET:
        share_of, shown = ShareOf.ROOT, all_around[root_pixels(maps)]
    elif angle_deg >= 45.0:
        near = np.abs(maps.along - median(along)) <= 1.5 / _CELLS
        share_of, shown = ShareOf.GIRTH, all_around[here & near]
    else:
        off = np.angle(np.exp(1j * (all_around - median(around))))
        near = np.abs(off) <= np.radians(1.5 * _AROUND_BIN_DEG)
        step = 1.0 / (2 * _CELLS)
        seen = _bins(maps.along[here & near], step)
        return ShareOf.LENGTH, _covered(_bins(_denser(along), step), seen)
    step = np.radians(_AROUND_BIN_DEG)
    turns = np.mod(_denser(around), 2 * np.pi)
    return share_of, _covered(_bins(turns, step), _bins(np.mod(shown, 2 * np.pi), step))


def _denser(values: NDArray[np.float64]) -> NDArray[np.float64]:
    places = np.linspace(0, len(values) - 1, 8 * len(values))
    return np.interp(places, np.arange(len(values)), values)


def _bins(values: NDArray, step: float) -> set[int]:
    return set(np.floor(np.asarray(values) / step).astype(int).tolist())


def _covered(own: set[int], seen: set[int]) -> float:
    return len(own) / max(1, len(own | seen))


def seen_fraction(maps: Maps, kind: Kind) -> float:
    """Share of the outside surface that the photo shows, 0 to 1, from the cells of (along, around)
    that some pixel surely lies in. 0 without a fitting."""
    if kind is Kind.NONE:
        return 0.0
    parts = (Part.RUN, Part.OUTLET) if kind is Kind.TEE else (Part.BODY,)
    winner = maps.winner
    seen, whole = 0.0, 0.0
    sure = np.hypot(maps.around_cos, maps.around_sin) >= SURE_OF_PLACE
    for part in parts:
        here = (winner == part.label) & sure
        share = LENGTH_OVER_RADIUS[kind, part]
        whole += share
        if not here.any():
            continue
        along = np.clip(maps.along[here], 0.0, 1.0 - 1e-6)
        around = np.arctan2(maps.around_sin[here], maps.around_cos[here]) / (2 * np.pi) + 0.5
        rows = (along * _CELLS).astype(int)
        columns = np.clip((around * _CELLS).astype(int), 0, _CELLS - 1)
        cells = np.zeros((_CELLS, _CELLS), np.bool_)
        cells[rows, columns] = True
        seen += share * float(cells.mean())
    return seen / whole
