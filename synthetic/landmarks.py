"""The places on a piece that an inspector goes up to: crotch, extrados, intrados, ends."""

from __future__ import annotations

from math import cos, pi, radians, sin

import numpy as np

from fittings.words import Kind
from synthetic.sample_pieces import piece_ends
from synthetic.scene import Piece


def landmarks(piece: Piece) -> np.ndarray:
    """Points (N, 3) on the outside surface, in the piece's frame, mm: four on the rim of every end,
    and an elbow's extrados and intrados at the middle and quarters of its bend, a tee's outlet root
    at four places, a reducer's shoulders at four places each."""
    quarter = np.arange(4) * 0.5 * pi
    found = [_rim(*end) for end in piece_ends(piece)]
    r, s = piece.radius_mm, piece.second_radius_mm
    if piece.kind is Kind.ELBOW:
        for share in (-0.25, 0.0, 0.25):
            turn = share * radians(piece.bend_deg)
            out = np.array([cos(turn), sin(turn), 0.0])
            found.append(np.stack([(piece.length_mm + r) * out, (piece.length_mm - r) * out]))
    elif piece.kind is Kind.TEE:
        # On the run, where the outlet's outside meets it.
        x, y = s * np.cos(quarter), s * np.sin(quarter)
        found.append(np.stack([x, y, np.sqrt(np.maximum(r * r - y * y, 0.0))], 1))
    else:
        for at, radius in (
            (piece.stub_mm, r),
            (piece.length_mm - piece.second_stub_mm, s),
        ):
            drop = piece.eccentric * (radius - r)
            ring = [0.0 * quarter + at, radius * np.sin(quarter), drop + radius * np.cos(quarter)]
            found.append(np.stack(ring, 1))
    return np.concatenate(found)


def _rim(centre: np.ndarray, out: np.ndarray, radius: float) -> np.ndarray:
    """Four points (4, 3) on the outer edge of an end."""
    aside = np.cross(out, [0.0, 0.0, 1.0] if abs(out[2]) < 0.9 else [1.0, 0.0, 0.0])
    aside /= np.linalg.norm(aside)
    both = np.stack([aside, np.cross(out, aside)])
    return np.asarray(centre + radius * np.concatenate([both, -both]))
