"""The direction of a traced line on the surface of a piece whose pose is known."""

from __future__ import annotations

import numpy as np

from fittings.words import Part
from vision.curves import Direction, direction
from vision.outline_surfaces import Array
from vision.pose import Places, Pose
from vision.tracing import Band

LEAST_ELONGATION = 4.0
"""A band shorter than this many of its widths is a patch whose middle line may run any way."""

ON_PIECE_SHARE = 0.7
"""Of a band's pixels, how many must lie on the piece whose pose it is: in a picture of several, a
line on another is not measured by it."""

_LEAST_POINTS, _LEAST_KNOWN = 4, 0.5

LINE_SPREADS, POSE_SPREADS = 1.25, 6.0
"""What the fits' own standard deviations of the line and of the pose are multiplied by. The second
is large because no piece is the usual shape exactly, nor its outline drawn without a bias.
Likeliest (by Student's distribution with 3 degrees of freedom) for the errors of 115 lines in 400
tuning scenes (seed 910 101) were 0.93 and 5.6; with somewhat more, 95 % keep within twice of it."""

_UNKNOWN = (45.0, 90.0)


def posed_direction(band: Band, part: Part, pose: Pose) -> tuple[float, float] | None:
    """A band's angle on that part, 0 along it to 90 around it, and its standard deviation, degrees:
    90 where the band is no line on the part's surface. None where it lies off the piece."""
    if pose.mask[band.rows, band.columns].mean() < ON_PIECE_SHARE:
        return None
    width_px = len(band.rows) / max(band.length, 1.0)
    points = band.path[:: max(1, len(band.path) // 80)]
    places = pose.places(part, points)
    enough = max(_LEAST_POINTS, _LEAST_KNOWN * len(points))
    if band.length < LEAST_ELONGATION * width_px or places.known.sum() < enough:
        return _UNKNOWN
    ratio = pose.ratio(part)
    unrolled = np.stack([places.along * ratio, np.unwrap(places.around)], axis=1)
    per_pixel = places.per_pixel * np.array([[ratio], [1.0]])
    fitted = direction(unrolled, per_pixel, band.length)
    own = LINE_SPREADS * fitted.uncertainty_deg
    by_pose = POSE_SPREADS * pose_error_deg(unrolled, per_pixel, fitted, places, part, pose)
    return abs(fitted.signed_deg), float(min(90.0, np.hypot(own, by_pose)))


def pose_error_deg(
    unrolled: Array, per_pixel: Array, fitted: Direction, places: Places, part: Part, pose: Pose
) -> float:
    """How much the covariance of the pose turns a line (N, 2) on the unrolled surface, one standard
    deviation.

    Where a number of the fit moves the shape by some pixels, the line's point comes to lie as many
    pixels the other way. The turn is that of the least-squares line through the moved points, each
    weighed as `vision.curves.direction` does. What the error of the length over radius adds is left
    out: nothing at 0 and 90 degrees.
    """
    angle = np.radians(fitted.signed_deg)
    course, normal = (
        np.array([np.cos(angle), np.sin(angle)]),
        np.array([-np.sin(angle), np.cos(angle)]),
    )
    across = per_pixel.transpose(0, 2, 1) @ normal  # (N, 2) of n · u by image x and y
    weight = 1.0 / np.maximum((across**2).sum(axis=1), 1e-12)
    at = unrolled @ course
    lever = weight * (at - np.average(at, weights=weight))
    moved = -(across[:, None] @ pose.moved_by(part, places.along, places.around))[:, 0]  # (N, K)
    turns = lever @ moved / max(float(lever @ at), 1e-12)
    return float(np.degrees(np.sqrt(max(0.0, turns @ pose.covariance @ turns))))
