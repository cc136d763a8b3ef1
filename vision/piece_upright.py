"""Which way up a photo shows the piece: what gravity says of which way round it was taken.

An elbow and a tee look the same after a half turn and a concentric reducer after any turn, so a
photo alone does not say which side it shows. But people hold a camera level, and a piece that
nobody moves lies the same way up in all its photos: the direction that is up, on the piece, must be
one and the same. A photo allows a half circle of directions (those that lie straight up in the
picture, from any camera height), and each turn of its coordinates moves that half circle; the turns
under which the photos' half circles meet are the likely ones.
"""

from __future__ import annotations

import numpy as np

from fittings.words import Kind
from vision.network import Maps
from vision.piece_form import PARTS, Field, Form
from vision.piece_seen import COLUMNS
from vision.surface import SURE_OF_PLACE

DIRECTIONS = 1500
"""Directions that are tried for up, about 5° apart."""

ROLL_DEG = 12.0
"""Standard deviation of a camera's roll together with the error of `axes_of`."""

STRAY = 0.1
"""Share of photos held any other way, upright ones without EXIF among them. This share and the
heights below are chosen by what people do, not fitted."""

MOVED = 0.02
"""How likely a photo is to be of a piece that was turned over before it: little, since all that is
made of this takes it, and says, that the piece lay the same way up. On 43 tuning pieces, which did,
131 of 133 turns that were put at 0.9 or more were right."""

_LOWEST_DEG = -12.0
_LOOKING_UP = 0.05
"""Odds of a camera that looks at a piece from farther below than `_LOWEST_DEG`."""

_LEAST_PIXELS = 40
_FITS = 3
_FAR = 2.5
"""Pixels farther off than this many times the median are left out of the next fit."""


def axes_of(maps: Maps, form: Form) -> Field | None:
    """(3, 3) rows right, down and forward of the camera in the piece's frame; None where the photo
    shows too little of it.

    A camera far away: pixels are an affine function of the points in space, here by least squares,
    and its orthogonal part is the camera's (R. Hartley and A. Zisserman, Multiple View Geometry,
    2nd edition 2004, section 6.3; the nearest matrix with orthonormal rows by singular values, as
    in the orthogonal Procrustes problem; both from memory).
    """
    points, pixels = [], []
    sure = np.hypot(maps.around_cos, maps.around_sin) >= SURE_OF_PLACE
    for part in PARTS[form.kind]:
        here = (maps.winner == part.label) & sure
        y, x = np.nonzero(here)
        turn = np.arctan2(maps.around_sin[here], maps.around_cos[here])
        points.append(form.points(part, maps.along[here], turn))
        pixels.append(np.stack([x, y], axis=1).astype(float))
    space, flat = np.concatenate(points), np.concatenate(pixels)
    if len(space) < _LEAST_PIXELS:
        return None
    known = np.column_stack([space, np.ones(len(space))])
    kept = np.ones(len(space), bool)
    for _ in range(_FITS):
        found, *_ = np.linalg.lstsq(known[kept], flat[kept], rcond=None)
        off = np.linalg.norm(known @ found - flat, axis=1)
        kept = off <= max(_FAR * float(np.median(off)), 1.0)
    left, _, right = np.linalg.svd(found[:3].T, full_matrices=False)
    across = left @ right
    return np.stack([*across, np.cross(across[0], across[1])])


def turn_matrix(kind: Kind, turn: int) -> Field:
    """(3, 3) what `vision.piece_seen.turned` does to points of the form: a half turn about an
    elbow's or a tee's axis of symmetry, or columns about a reducer's axis."""
    if kind is Kind.REDUCER:
        angle = 2 * np.pi * turn / COLUMNS
        cos, sin = np.cos(angle), np.sin(angle)
        # A point at `around` t lies at (sin t, -cos t) across the axis.
        return np.array([[1.0, 0.0, 0.0], [0.0, cos, -sin], [0.0, sin, cos]])
    if turn % 2 == 0:
        return np.eye(3)
    return np.diag([1.0, -1.0, -1.0] if kind is Kind.ELBOW else [-1.0, -1.0, 1.0])


def directions() -> Field:
    """(DIRECTIONS, 3) unit vectors spread evenly over the sphere, along a spiral of golden angles
    (common practice, no source)."""
    place = np.arange(DIRECTIONS) + 0.5
    z = 1.0 - 2.0 * place / DIRECTIONS
    angle = np.pi * (1.0 + np.sqrt(5.0)) * place
    across = np.sqrt(1.0 - z * z)
    return np.stack([across * np.cos(angle), across * np.sin(angle), z], axis=1)


def upright_odds(axes: Field, ups: Field) -> Field:
    """(N,) how much likelier a photo with these axes is, for each direction (N, 3) as the piece's
    up, than a photo held anyhow of a piece that was moved: 1 on the average over all directions."""
    right, down, forward = axes
    height = np.arcsin(np.clip(-(ups @ forward), -1.0, 1.0))
    cos = np.cos(height)
    roll_deg = np.degrees(np.arctan2(ups @ right, -(ups @ down)))
    # Seen from straight above, a small error turns the picture's up a long way.
    spread = np.hypot(ROLL_DEG, 10.0 / np.maximum(cos, 0.05))
    level = np.exp(-0.5 * (roll_deg / spread) ** 2) / (spread * np.sqrt(2 * np.pi))
    held = (1.0 - STRAY) * level + STRAY / 360.0
    # Camera heights are taken as evenly spread; the half circle narrows towards its ends.
    held = held * np.where(np.degrees(height) > _LOWEST_DEG, 1.0, _LOOKING_UP)
    held = held / np.maximum(cos, 0.15)
    return np.asarray((1.0 - MOVED) * held / held.mean() + MOVED)
