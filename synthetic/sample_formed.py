"""Chance for what forming leaves in a sound piece that may look like a seam, on every make
alike: swells and die lines about an outlet's root, sized ends, forming steps, bright skins.

The shares are by choice, so that enough such pieces are seen. Where the marks lie is common
practice, no source: dies part where a radius runs out, ends are sized over a short straight length.
"""

from __future__ import annotations

from dataclasses import replace

from fittings.words import Kind
from synthetic.draws import Rng
from synthetic.sample_skins import sample_skin
from synthetic.scene import Piece, Skin

RIDGE_SHARE = 0.25
"""Of pieces of every make, how many bear a ridge or a step of forming."""

BRIGHT_SHARE = 0.12
"""Of pieces of every make, how many are drawn until their skin is a shiny one."""

TIGHT_SHARE = 0.4
"""Of formed tees, how many have a crotch radius of TIGHT_OF_OD of the outlet's outside diameter."""
TIGHT_OF_OD = (0.05, 0.2)

_BRIGHT = ("pickled", "polished", "galvanised", "varnish")


def bright_skin(rng: Rng) -> Skin:
    """One of the skins that mirror what is about them."""
    skin = sample_skin(rng)
    for _ in range(20):
        skin = skin if skin.name in _BRIGHT else sample_skin(rng)
    return skin


def formed_ridge(rng: Rng, piece: Piece) -> Piece:
    """The piece, perhaps with a ridge or a step: about a tee's root or near the ends."""
    # On a pad there is nothing formed, and its own edges are enough.
    if rng.random() >= RIDGE_SHARE or piece.pad_width_mm > 0.0:
        return piece
    return _about_root(rng, piece) if piece.kind is Kind.TEE else _near_ends(rng, piece)


def _about_root(rng: Rng, piece: Piece) -> Piece:
    """Half a broad swell of the whole crotch, half the thin line of a die beyond its radius."""
    u, r = rng.uniform, piece.second_radius_mm
    crotch = max(piece.crotch_radius_mm, 0.12 * r)
    if rng.random() < 0.5:
        half = r * float(u(0.25, 0.5))
        return replace(
            piece,
            ridge_at_mm=crotch * float(u(0.4, 1.2)),
            ridge_half_mm=half,
            ridge_mm=half * float(u(0.02, 0.07)),
        )
    half = r * float(u(0.012, 0.04))
    return replace(
        piece,
        ridge_at_mm=crotch * float(u(1.0, 1.5)) + half,
        ridge_half_mm=half,
        ridge_mm=half * float(u(0.04, 0.12)) * (1.0 if rng.random() < 0.7 else -1.0),
    )


def _near_ends(rng: Rng, piece: Piece) -> Piece:
    """A ridge where a die ended, or a step where an end was sized or machined."""
    u, r = rng.uniform, min(piece.radius_mm, piece.second_radius_mm)
    if piece.kind is Kind.ELBOW:
        r = piece.radius_mm
        at = r * float(u(0.1, 0.6))
    else:
        at = min(piece.stub_mm, piece.second_stub_mm) * float(u(0.5, 1.3))
    half = min(r * float(u(0.012, 0.08)), 0.8 * at)
    stepped = rng.random() < 0.5
    step = min(half * float(u(0.08, 0.3)), 0.3 * piece.wall_mm)
    return replace(
        piece,
        ridge_at_mm=at,
        ridge_half_mm=half,
        ridge_step_mm=step * (1.0 if rng.random() < 0.75 else -1.0) if stepped else 0.0,
        ridge_mm=0.0
        if stepped
        else half * float(u(0.05, 0.15)) * (1.0 if rng.random() < 0.7 else -1.0),
    )
