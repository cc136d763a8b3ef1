"""Measuring on the surface: the angle of a seam there, and how much of the piece a photo shows."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from fittings.words import Kind, Orientation, Part
from vision.network import Maps
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

SURE_OF_PLACE = 0.7
"""Length of (cosine, sine) of `around` from which on a network knows where on the surface a pixel
lies: a network that is torn between places answers their mean, which is shorter than 1."""

SURE_OF_ANGLE = 0.9
"""The same for a seam's angle. On tuning scenes the angles of version 2 that pass are off by 12° in
the median, all of them by 16°."""

_CELLS = 24


def surface_direction_deg(
    along: NDArray[np.float64], around_rad: NDArray[np.float64], length_over_radius: float
) -> float:
    """Angle on the surface, 0 (along) to 90 (around), of a curve given by its coordinates (N,).

    The median over overlapping sixths of the curve of each one's best straight line (total least
    squares on the unrolled surface): wiggles across the seam cancel within a piece, and where two
    seams meet, as mitres do at a tight intrados, the short way between them is outvoted.
    """
    unrolled = np.stack([along * length_over_radius, np.unwrap(around_rad)], 1)
    window = min(len(unrolled), max(6, len(unrolled) // 6))
    starts = range(0, len(unrolled) - window + 1, max(1, window // 2))
    angles = []
    for start in starts:
        piece = unrolled[start : start + window]
        axis = np.linalg.svd(piece - piece.mean(axis=0), full_matrices=False)[2][0]
        angles.append(np.degrees(np.arctan2(abs(axis[1]), abs(axis[0]))))
    return float(np.median(angles))


def seam_angle_deg(band: Band, maps: Maps, kind: Kind) -> float | None:
    """A band's angle to the part's centreline on the surface; None where the map is too poor.

    A branch seam is measured on the outlet, where it runs around.
    """
    part = _part_under(band, maps)
    ratio = LENGTH_OVER_RADIUS.get((kind, part))
    if ratio is None or band.length < 6:
        return None
    on_part = (maps.part.argmax(axis=-1) == part.label).astype(np.float32)
    points = band.path[:: max(1, len(band.path) // 60)]
    # Each side of an outlet's root is another part with other coordinates: step onto this one.
    values = [
        _sampled(_spread(field, on_part), points)
        for field in (maps.along, maps.around_cos, maps.around_sin)
    ]
    known = np.isfinite(values[0])
    if known.sum() < 4:
        return None
    along, c, s = (v[known] for v in values)
    if np.median(np.hypot(c, s)) < SURE_OF_ANGLE:
        return None
    return surface_direction_deg(along, np.arctan2(s, c), ratio)


def _part_under(band: Band, maps: Maps) -> Part:
    sums = maps.part[band.rows, band.columns].sum(axis=0)
    if band.orientation is Orientation.BRANCH:
        return Part.OUTLET
    return max((Part.BODY, Part.RUN, Part.OUTLET), key=lambda part: sums[part.label])


def _spread(field: NDArray[np.float32], mask: NDArray[np.float32]) -> NDArray[np.float32]:
    """`field` smoothed within `mask` and carried a few pixels beyond it; NaN farther out."""
    weight = cv2.GaussianBlur(mask, (0, 0), 2.0)
    value = cv2.GaussianBlur(field.astype(np.float32) * mask, (0, 0), 2.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(weight > 0.02, value / weight, np.nan).astype(np.float32)


def _sampled(field: NDArray[np.float32], points: NDArray[np.float64]) -> NDArray[np.float64]:
    columns = np.clip(np.rint(points[:, 0]).astype(int), 0, field.shape[1] - 1)
    rows = np.clip(np.rint(points[:, 1]).astype(int), 0, field.shape[0] - 1)
    return field[rows, columns].astype(np.float64)


def seen_fraction(maps: Maps, kind: Kind) -> float:
    """Share of the outside surface that the photo shows, 0 to 1, from the cells of (along, around)
    that some pixel surely lies in. 0 without a fitting."""
    if kind is Kind.NONE:
        return 0.0
    parts = (Part.RUN, Part.OUTLET) if kind is Kind.TEE else (Part.BODY,)
    winner = maps.part.argmax(axis=-1)
    seen, whole = 0.0, 0.0
    for part in parts:
        sure = np.hypot(maps.around_cos, maps.around_sin) >= SURE_OF_PLACE
        here = (winner == part.label) & sure
        share = LENGTH_OVER_RADIUS[kind, part]
        whole += share
        if not here.any():
            continue
        along = np.clip(maps.along[here], 0.0, 1.0 - 1e-6)
        around = np.arctan2(maps.around_sin[here], maps.around_cos[here]) / (2 * np.pi) + 0.5
        rows = (along * _CELLS).astype(int)
        columns = np.clip((around * _CELLS).astype(int), 0, _CELLS - 1)
        counts = np.zeros((_CELLS, _CELLS))
        np.add.at(counts, (rows, columns), 1)
        seen += share * float((counts >= 1).mean())
    return seen / whole
