"""Chance for the surfaces that fittings come with."""

from __future__ import annotations

import numpy as np

from synthetic.draws import Rng, colour_near
from synthetic.scene import Skin, Triple

SKINS = (
    "mill scale", "rust", "blasted", "varnish", "primer", "paint", "galvanised", "pickled",
    "polished", "copper-nickel",
)  # fmt: skip  # fmt: skip


_SKIN_SHARES = (0.17, 0.13, 0.12, 0.12, 0.11, 0.11, 0.05, 0.1, 0.06, 0.03)


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
        a, rough, metal, gloss, bump = (0.16, 0.08, 0.045), u(0.7, 0.95), 0.0, 0.02, u(0.05, 0.3)
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
    painted = name in ("paint", "varnish", "primer")
    rusting = name in ("mill scale", "rust", "blasted", "varnish", "primer", "paint")
    rust = 0.0
    if rusting and rng.random() < (0.85 if name == "rust" else 0.4):
        rust = float(rng.uniform(0.05, 0.9 if name == "rust" else 0.55))
    return Skin(
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
        bore_rgb=colour_near(rng, (0.07, 0.06, 0.055), 0.5, 0.1),
    )
