"""Chance for thick coats: paint laid on by brush or roller, and what it leaves of the seams below.

A coat comes on every make alike. Under it a seam has no colour of its own: what tells of it is
relief, which the coat rounds off, and the light that falls along it. The shares are by choice, so
that enough such pieces are seen; the colours are common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fittings.welds import bead_half_width_mm
from fittings.words import Kind
from synthetic.draws import Rng, colour_near
from synthetic.sample_skins import bore_colour
from synthetic.sample_welds import branch_half_width_mm, crown_limit_mm
from synthetic.scene import Finish, Piece, Skin, Triple, Weld

COATED_SHARE = 0.22
"""Of pieces of every make, how many are under a thick coat."""

_COATS: tuple[tuple[str, Triple, tuple[float, float], float], ...] = (
    ("primer", (0.28, 0.065, 0.04), (0.55, 0.95), 0.24),  # red oxide
    ("primer", (0.3, 0.3, 0.31), (0.5, 0.95), 0.14),
    ("paint", (0.27, 0.28, 0.29), (0.25, 0.6), 0.14),
    ("paint", (0.04, 0.16, 0.07), (0.25, 0.7), 0.1),
    ("paint", (0.03, 0.1, 0.32), (0.25, 0.7), 0.1),
    ("paint", (0.025, 0.025, 0.027), (0.35, 0.9), 0.14),
    ("varnish", (0.018, 0.018, 0.02), (0.12, 0.4), 0.14),  # lacquer, the mill scale dim below it
)
"""The skin's name, its colour, the ends of its roughness (matt to semi-gloss), its share."""

ROUNDED = (0.35, 1.0)
"""How far a coat rounds a bead off."""

_LEFT_SHARES = {"unground": 0.5, "half ground": 0.28, "filled": 0.22}
"""What was done to the weld before it was coated."""


def sample_coat(rng: Rng) -> Skin:
    """A coat in one of the colours above, thick: even in colour, small relief filled, with strokes
    of the brush or runs on some."""
    u = rng.uniform
    shares = [share for *_, share in _COATS]
    name, base, rough, _ = _COATS[int(rng.choice(len(_COATS), p=shares))]
    rgb = colour_near(rng, base, 0.25, 0.05)
    lacquer = name == "varnish"
    stroked, dripping = rng.random() < 0.3, rng.random() < 0.25
    return Skin(
        name=name,
        rgb=rgb,
        second_rgb=colour_near(rng, (0.05, 0.052, 0.06) if lacquer else rgb, 0.15, 0.03),
        patch_mm=float(np.exp(u(np.log(8), np.log(200)))),
        patch_contrast=float(u(0.0, 0.6) if lacquer else u(0.0, 0.2)),
        grain_mm=float(np.exp(u(np.log(0.6), np.log(8)))),
        grain_contrast=float(u(0.0, 0.12)),
        roughness=float(u(*rough)),
        metallic=0.0,
        gloss=float(u(0.03, 0.06)),
        bump=float(u(0.0, 0.08)),  # as on an orange's peel
        bump_mm=float(np.exp(u(np.log(1.5), np.log(8)))),
        wave=float(rng.exponential(0.02)),
        wave_mm=float(np.exp(u(np.log(25), np.log(200)))),
        dust=float(u(0.05, 0.6)) if rng.random() < 0.25 else 0.0,
        bore_rgb=bore_colour(rng, name),
        brush=float(u(0.08, 0.35)) if stroked else 0.0,
        brush_mm=float(u(0.8, 3.0)),
        brush_along=float(rng.random() < 0.5),
        runs=float(u(0.2, 0.55)) if dripping else 0.0,
        runs_rgb=colour_near(rng, rgb, 0.2, 0.03),
        runs_roughness=0.8 * rough[0],
        runs_mm=float(np.exp(u(np.log(6.0), np.log(40.0)))),
        worn=float(u(0.1, 0.4)) if rng.random() < 0.15 else 0.0,
        worn_mm=float(np.exp(u(np.log(8.0), np.log(60.0)))),
        worn_rgb=colour_near(rng, (0.2, 0.12, 0.08), 0.3, 0.06),
    )


def coated_weld(rng: Rng, wall_mm: float, weld: Weld) -> Weld:
    """The butt weld of such a wall below a thick coat, whatever was done to it before: unground,
    half ground, or ground and filled, when a low and broad swell is all that is left."""
    u = rng.uniform
    left = _left(rng)
    half = bead_half_width_mm(wall_mm) * float(u(0.7, 1.2))
    height = {"unground": u(0.6, 1.0), "half ground": u(0.3, 0.6), "filled": u(0.2, 0.4)}[left]
    broad = {"unground": u(0.9, 1.1), "half ground": u(1.0, 1.2), "filled": u(1.2, 1.6)}[left]
    return replace(
        _plain(rng, weld, left),
        crown_mm=crown_limit_mm(wall_mm) * float(height),
        half_width_mm=half * float(broad),
        rounded=1.0 if left == "filled" else float(u(*ROUNDED)),
        hilo_mm=weld.hilo_mm * float(u(0.1, 1.0)),
    )


def coated_branch(rng: Rng, piece: Piece, weld: Weld) -> tuple[Piece, Weld]:
    """The outlet's weld below a thick coat, and the piece with its corner filled where it was. A
    bead shows above a filled corner of radius R from (√2 - 1) R up, the way from the corner to the
    middle of its arc."""
    u = rng.uniform
    left = _left(rng)
    leg = piece.second_wall_mm * float(u(0.6, 1.1))
    bare = _plain(rng, weld, left)
    if left == "filled":
        corner = leg * float(u(1.0, 1.8))
        bead = corner * float(u(0.45, 0.7))
        piece = replace(piece, crotch_radius_mm=corner)
        return piece, replace(
            bare, crown_mm=bead, half_width_mm=branch_half_width_mm(bead, 1.0), rounded=1.0
        )
    bead = leg * float(u(0.7, 1.1) if left == "unground" else u(0.4, 0.7))
    piece = replace(piece, crotch_radius_mm=bead * float(u(0.2, 1.0)))
    rounded = float(u(*ROUNDED))
    half = branch_half_width_mm(bead, rounded)
    return piece, replace(bare, crown_mm=bead, half_width_mm=half, rounded=rounded)


def _left(rng: Rng) -> str:
    return tuple(_LEFT_SHARES)[int(rng.choice(len(_LEFT_SHARES), p=list(_LEFT_SHARES.values())))]


def _plain(rng: Rng, weld: Weld, left: str) -> Weld:
    """Nothing but a little relief, and on some a rougher or smoother stretch of coat."""
    u = rng.uniform
    ripple = {"unground": float(u(0.0, 0.6)), "half ground": float(u(0.0, 0.2)), "filled": 0.0}[
        left
    ]
    rough = float(u(-0.15, 0.2)) if rng.random() < 0.3 else 0.0
    return replace(
        weld,
        finish=Finish.PAINTED_OVER,
        ripple_mm=min(weld.ripple_pitch_mm * 0.1, 0.3) * ripple,
        uneven=float(u(0.0, 0.3)) if left == "unground" else 0.0,
        passes=1.0,
        pass_mm=0.0,
        toe_mm=0.0,
        crater_mm=weld.crater_mm * 0.5 if left == "unground" else 0.0,
        bead_mix=0.0,
        band_mix=0.0,
        zone_mix=0.0,
        spatter=0.0,
        trace_roughness=rough,
    )


def under_coat(rng: Rng, piece: Piece) -> Piece:
    """The piece with a thick coat for a skin, and its welds below it."""
    along = coated_weld(rng, piece.wall_mm * float(rng.uniform(0.7, 1.0)), piece.along_weld)
    piece = replace(piece, skin=sample_coat(rng), along_weld=along)
    if piece.kind is Kind.TEE and piece.cross_weld.present > 0.5:
        piece, cross = coated_branch(rng, piece, piece.cross_weld)
        return replace(piece, cross_weld=cross)
    return replace(piece, cross_weld=coated_weld(rng, piece.wall_mm, piece.cross_weld))
