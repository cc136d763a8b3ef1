"""Chance for marks that are no seams: paint, straps, chalk, stencils, scratches."""

from __future__ import annotations

from math import cos, radians, sin

import numpy as np

from fittings.words import Kind
from synthetic.draws import Rng, colour_near, unit
from synthetic.scene import Mark, Piece


def sample_mark(rng: Rng, piece: Piece) -> Mark:
    """Usually nothing; else a paint line, band, strap, tape, chalk, stencil or scratch."""
    if rng.random() < 0.6:
        return Mark(normal=unit(rng))
    r = piece.radius_mm
    square_on = rng.random()
    normal = unit(rng)
    offset = float(rng.uniform(-0.8, 0.8)) * r
    if piece.kind is Kind.ELBOW:
        a = float(rng.uniform(-0.5, 0.5)) * radians(piece.bend_deg)
        middle = (piece.length_mm * cos(a), piece.length_mm * sin(a), 0.0)
        if square_on < 0.45:
            normal, offset = (-sin(a), cos(a), 0.0), 0.0
        elif square_on < 0.6:
            normal, offset = (0.0, 0.0, 1.0), float(rng.uniform(-0.7, 0.7)) * r
        else:
            offset += float(np.dot(normal, middle))
        gate_at = middle
    elif piece.kind is Kind.TEE:
        middle = (float(rng.uniform(-0.8, 0.8)) * piece.length_mm, 0.0, 0.0)
        if square_on < 0.3:
            normal, offset = (1.0, 0.0, 0.0), middle[0]
        elif square_on < 0.45:
            normal, offset = (0.0, 0.0, 1.0), float(rng.uniform(1.0, 1.4)) * r
        elif square_on < 0.6:
            normal, offset = (0.0, 1.0, 0.0), float(rng.uniform(-0.7, 0.7)) * r
        gate_at = middle
    else:
        middle = (float(rng.uniform(0.1, 0.9)) * piece.length_mm, 0.0, 0.0)
        if square_on < 0.45:
            normal, offset = (1.0, 0.0, 0.0), middle[0]
        elif square_on < 0.6:
            normal, offset = (0.0, 1.0, 0.0), float(rng.uniform(-0.7, 0.7)) * r
        else:
            offset += float(np.dot(normal, middle))
        gate_at = middle
    gate = unit(rng)
    gate_offset = float(np.dot(gate, gate_at)) + float(rng.uniform(-1.5, 0.6)) * r
    what = ("line", "band", "strap", "tape", "chalk", "stencil", "scratch", "streak")[
        int(rng.integers(8))
    ]
    u = rng.uniform
    strong = (
        (0.85, 0.85, 0.82),
        (0.8, 0.7, 0.05),
        (0.6, 0.04, 0.03),
        (0.03, 0.12, 0.5),
        (0.02, 0.02, 0.02),
        (0.05, 0.35, 0.1),
    )[int(rng.integers(6))]
    rgb = colour_near(rng, strong, 0.2, 0.1)
    width, opacity, patchy, wobble, dashes = (
        r * float(u(0.01, 0.03)),
        float(u(0.6, 1.0)),
        0.2,
        0.03 * r,
        0.0,
    )
    if what == "band":
        width, opacity, wobble = r * float(u(0.05, 0.3)), float(u(0.7, 1.0)), 0.01 * r
    elif what in ("strap", "tape"):
        width, opacity, patchy, wobble = r * float(u(0.03, 0.12)), 1.0, 0.0, 0.0
        rgb = colour_near(rng, strong if what == "tape" else (0.2, 0.2, 0.21), 0.3, 0.05)
    elif what == "chalk":
        width, opacity, patchy = r * float(u(0.008, 0.03)), float(u(0.3, 0.9)), float(u(0.4, 1.0))
        wobble, rgb = r * float(u(0.02, 0.2)), colour_near(rng, (0.8, 0.8, 0.76), 0.15, 0.05)
    elif what == "stencil":
        width, opacity, dashes, wobble = r * float(u(0.05, 0.16)), float(u(0.6, 1.0)), 1.0, 0.0
    elif what == "scratch":
        width, opacity, patchy = r * float(u(0.003, 0.01)), float(u(0.3, 0.9)), float(u(0.2, 0.8))
        rgb = colour_near(rng, (0.45, 0.45, 0.45), 0.3, 0.03)
    elif what == "streak":
        width, opacity, patchy = r * float(u(0.02, 0.12)), float(u(0.2, 0.7)), float(u(0.5, 1.0))
        rgb, wobble = colour_near(rng, (0.22, 0.09, 0.03), 0.4, 0.1), r * float(u(0.05, 0.3))
    return Mark(
        name=what,
        normal=normal,
        offset_mm=offset,
        half_width_mm=width,
        gate=gate,
        gate_offset_mm=gate_offset,
        wobble_mm=wobble,
        wobble_length_mm=r * float(u(0.2, 1.0)),
        rgb=rgb,
        opacity=opacity,
        patchiness=patchy,
        dashes=dashes,
        roughness=float(u(0.3, 0.9)),
    )
