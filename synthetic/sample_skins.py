"""Chance for the surfaces that fittings come with."""

from __future__ import annotations

from dataclasses import replace
from typing import TypedDict

import numpy as np

from synthetic.draws import Rng, colour_near
from synthetic.scene import Skin, Triple

SKINS = (
    "mill scale", "rust", "blasted", "varnish", "primer", "paint", "galvanised", "pickled",
    "polished", "copper-nickel",
)  # fmt: skip

_SKIN_SHARES = (0.17, 0.13, 0.12, 0.12, 0.11, 0.11, 0.05, 0.1, 0.06, 0.03)
_COATED = ("varnish", "primer", "paint")
_BRIGHT = ("pickled", "polished", "copper-nickel")
_BORES: tuple[Triple, ...] = (
    (0.06, 0.062, 0.067),  # scale
    (0.1, 0.097, 0.092),  # oxidised
    (0.13, 0.062, 0.024),  # rust: brown, not pink
)
TURNED_SHARE = 0.33
"""How many pieces have a band of turned metal at their ends."""


def bore_colour(rng: Rng, name: str) -> Triple:
    """The colour of bore and end faces below a skin of that name."""
    if name in (*_BRIGHT, "galvanised"):
        return colour_near(rng, (0.26, 0.255, 0.25), 0.35, 0.03)
    return colour_near(rng, _BORES[int(rng.integers(3))], 0.4, 0.05)


def sample_skin(rng: Rng) -> Skin:
    """One of the surfaces that fittings come with."""
    name = SKINS[int(rng.choice(len(SKINS), p=_SKIN_SHARES))]
    u = rng.uniform
    if name == "mill scale":
        a, rough, metal, gloss, bump = (
            (0.07, 0.075, 0.085),
            u(0.35, 0.7),
            u(0.1, 0.5),
            0.05,
            u(0, 0.15),
        )
    elif name == "rust":
        a, rough, metal, gloss, bump = (0.15, 0.07, 0.032), u(0.7, 0.95), 0.0, 0.02, u(0.05, 0.3)
    elif name == "blasted":
        a, rough, metal, gloss, bump = (
            (0.33, 0.33, 0.34),
            u(0.55, 0.8),
            u(0.1, 0.5),
            0.04,
            u(0.02, 0.2),
        )
    elif name == "varnish":
        a, rough, metal, gloss, bump = (0.02, 0.02, 0.022), u(0.12, 0.5), 0.0, 0.05, u(0, 0.06)
    elif name == "primer":
        base: Triple = ((0.3, 0.07, 0.04), (0.3, 0.3, 0.31), (0.5, 0.46, 0.3))[int(rng.integers(3))]
        a, rough, metal, gloss, bump = base, u(0.6, 0.95), 0.0, 0.03, u(0, 0.1)
    elif name == "paint":
        hue = rng.random(3) ** 2
        a = (float(hue[0]) * 0.8 + 0.01, float(hue[1]) * 0.8 + 0.01, float(hue[2]) * 0.8 + 0.01)
        rough, metal, gloss, bump = u(0.1, 0.6), 0.0, 0.05, u(0, 0.06)
    elif name == "galvanised":
        a, rough, metal, gloss, bump = (0.5, 0.51, 0.53), u(0.3, 0.6), u(0.5, 0.9), 0.05, u(0, 0.05)
    elif name == "pickled":
        a, rough, metal, gloss, bump = (
            (0.5, 0.49, 0.48),
            u(0.35, 0.6),
            u(0.5, 0.9),
            0.05,
            u(0, 0.05),
        )
    elif name == "polished":
        a, rough, metal, gloss, bump = (
            (0.62, 0.61, 0.6),
            u(0.08, 0.3),
            u(0.85, 1.0),
            0.06,
            u(0, 0.02),
        )
    else:  # copper-nickel
        a, rough, metal, gloss, bump = (0.6, 0.36, 0.24), u(0.2, 0.5), u(0.6, 1.0), 0.06, u(0, 0.04)
    rgb = colour_near(rng, a, 0.3, 0.06)
    painted = name in _COATED
    rusting = name in ("mill scale", "rust", "blasted", "varnish", "primer", "paint")
    rust = 0.0
    if rusting and rng.random() < (0.85 if name == "rust" else 0.4):
        rust = float(rng.uniform(0.05, 0.9 if name == "rust" else 0.55))
    skin = Skin(
        name=name,
        rgb=rgb,
        second_rgb=colour_near(rng, rgb, 0.3, 0.05),
        patch_mm=float(np.exp(u(np.log(8), np.log(300)))),
        patch_contrast=float(u(0.0, 0.35) if painted else u(0.1, 1.0)),
        grain_mm=float(np.exp(u(np.log(0.6), np.log(8)))),
        grain_contrast=float(u(0.0, 0.2) if painted else u(0.0, 0.6)),
        rust_rgb=colour_near(rng, (0.24, 0.095, 0.035), 0.3, 0.12),
        rust_amount=rust,
        rust_patch_mm=float(np.exp(u(np.log(6), np.log(250)))),
        roughness=float(rough),
        metallic=float(metal),
        gloss=float(gloss),
        bump=float(bump),
        bump_mm=float(np.exp(u(np.log(1.0), np.log(10)))),
        wave=float(rng.exponential(0.025)),
        wave_mm=float(np.exp(u(np.log(25), np.log(300)))),
        dust=float(u(0.1, 0.9)) if rng.random() < 0.2 else 0.0,
        bore_rgb=bore_colour(rng, name),
    )
    return replace(skin, **_wear(rng, skin))


class _Wear(TypedDict, total=False):
    flakes: float
    flake_rgb: Triple
    pits: float
    pit_mm: float
    spangle: float
    spangle_mm: float
    brush: float
    brush_mm: float
    brush_along: float
    runs: float
    runs_rgb: Triple
    runs_roughness: float
    runs_mm: float
    worn: float
    worn_mm: float
    worn_rgb: Triple
    turned: float
    turned_mm: float
    turned_rgb: Triple


def _wear(rng: Rng, skin: Skin) -> _Wear:
    """What lies over a skin or was done to it, each in a share of the skins it happens to."""
    u, name = rng.uniform, skin.name

    def some(share: float, low: float, high: float) -> float:
        return float(u(low, high)) if rng.random() < share else 0.0

    # Dark enough that bright light does not wash it out to salmon.
    rusty: Triple = (0.14, 0.058, 0.022)
    scale: Triple = (0.14, 0.11, 0.095) if name == "mill scale" else rusty
    dirt: Triple = ((0.5, 0.49, 0.46), (0.12, 0.1, 0.08))[int(rng.integers(2))]
    drips = name in ("varnish", "paint") and rng.random() < 0.4
    # A coat's own drips have its colour, a little deeper; else rust runs down, or dirt.
    if drips:
        runs_rgb = colour_near(rng, skin.rgb, 0.25, 0.03)
    else:
        runs_rgb = colour_near(rng, dirt if name in _BRIGHT else rusty, 0.35, 0.1)
    return {
        "flakes": some({"mill scale": 0.5, "rust": 0.12, "varnish": 0.12}.get(name, 0.0), 0.1, 0.9),
        "flake_rgb": colour_near(rng, scale, 0.3, 0.08),
        "pits": some(0.45, 0.1, 0.7) if name == "rust" else some(0.08, 0.05, 0.3),
        "pit_mm": float(np.exp(u(np.log(1.0), np.log(6.0)))),
        "spangle": some(0.75, 0.3, 1.0) if name == "galvanised" else 0.0,
        "spangle_mm": float(np.exp(u(np.log(4.0), np.log(25.0)))),
        "brush": some(0.65, 0.2, 1.0) if name in _BRIGHT else some(0.08, 0.1, 0.5),
        "brush_mm": float(np.exp(u(np.log(0.3), np.log(1.2)))),
        "brush_along": float(rng.random() < 0.5),
        "runs": float(u(0.2, 0.6)) if drips else some(0.16, 0.1, 0.7),
        "runs_rgb": runs_rgb,
        "runs_roughness": skin.roughness * 0.8 if drips else float(u(0.6, 0.95)),
        "runs_mm": float(np.exp(u(np.log(5.0), np.log(60.0)))),
        "worn": some(0.35, 0.15, 0.7) if name in _COATED else 0.0,
        "worn_mm": float(np.exp(u(np.log(8.0), np.log(150.0)))),
        "worn_rgb": colour_near(rng, (0.3, 0.28, 0.26) if rng.random() < 0.5 else rusty, 0.3, 0.05),
        "turned": some(TURNED_SHARE, 0.6, 1.0),
        "turned_mm": float(np.exp(u(np.log(4.0), np.log(40.0)))),
        "turned_rgb": colour_near(rng, (0.5, 0.5, 0.5), 0.25, 0.03),
    }  # fmt: skip
