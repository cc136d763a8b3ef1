"""Chance for the ground: what pieces lie on in a yard, a hall, a store or a catalogue."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from synthetic.draws import Rng, colour_near, grey, triple
from synthetic.scene import Ground, Skin, Triple

# Name, two colours that are mixed, and how often it is drawn against the others.
_GROUNDS: tuple[tuple[str, Triple, Triple, float], ...] = (
    ("concrete", (0.34, 0.33, 0.31), (0.22, 0.21, 0.2), 3.0),
    ("soil", (0.2, 0.13, 0.08), (0.11, 0.08, 0.05), 1.5),
    ("gravel", (0.32, 0.3, 0.27), (0.17, 0.16, 0.15), 1.5),
    ("timber", (0.38, 0.26, 0.14), (0.22, 0.14, 0.08), 1.0),
    ("pallet", (0.42, 0.31, 0.19), (0.28, 0.2, 0.12), 1.5),
    ("rack", (0.2, 0.12, 0.05), (0.16, 0.16, 0.17), 1.0),
    ("grating", (0.25, 0.25, 0.26), (0.16, 0.13, 0.11), 0.8),
    ("cardboard", (0.42, 0.29, 0.17), (0.36, 0.24, 0.14), 0.8),
    ("sand", (0.5, 0.4, 0.27), (0.36, 0.28, 0.18), 0.7),
    ("grass", (0.1, 0.16, 0.04), (0.2, 0.2, 0.08), 0.8),
    ("steel", (0.16, 0.16, 0.17), (0.1, 0.09, 0.08), 1.0),
    ("painted floor", (0.15, 0.3, 0.22), (0.2, 0.33, 0.27), 0.8),
    ("tarpaulin", (0.06, 0.16, 0.4), (0.05, 0.12, 0.3), 0.8),
)
_WEIGHTS = np.array([weight for *_, weight in _GROUNDS])
_HUES: dict[str, tuple[Triple, ...]] = {
    "tarpaulin": ((0.06, 0.16, 0.4), (0.07, 0.2, 0.1), (0.6, 0.6, 0.58), (0.45, 0.2, 0.04)),
    "painted floor": ((0.15, 0.3, 0.22), (0.35, 0.08, 0.05), (0.3, 0.32, 0.35), (0.5, 0.42, 0.1)),
    "rack": ((0.5, 0.16, 0.03), (0.05, 0.12, 0.35), (0.25, 0.25, 0.26), (0.14, 0.1, 0.08)),
}


ALIKE_SHARE = 0.12
"""Of pieces outdoors and in halls, how many lie on ground of about their own colour."""

_DARK = ("steel", "rack", "painted floor", "tarpaulin")
"""What may be as dark as a black piece; dark gravel would be asphalt."""


def sample_ground(rng: Rng, studio: bool, skin: Skin | None = None) -> Ground:
    """What the pieces lie on; a studio has an even backdrop, white in three of four. `skin` is that
    of the piece in view, which the ground is sometimes much like."""
    ground = _any_ground(rng, studio)
    alike = rng.random() < ALIKE_SHARE
    return _like(rng, ground, skin) if alike and skin is not None and not studio else ground


def _like(rng: Rng, ground: Ground, skin: Skin) -> Ground:
    """The ground in the skin's colours (rust on soil, black on a steel floor), a little off."""
    rusty = skin.rust_amount > 0.45
    first, second = (skin.rust_rgb, skin.rgb) if rusty else (skin.rgb, skin.second_rgb)
    if max(first) < 0.16 and ground.name not in _DARK:
        return ground
    level = float(np.exp(rng.normal(0.0, 0.15)))
    first, second = (triple(level * c for c in rgb) for rgb in (first, second))
    return replace(
        ground,
        rgb=colour_near(rng, first, 0.08, 0.05),
        second_rgb=colour_near(rng, second, 0.15, 0.06),
        contrast=ground.contrast * float(rng.uniform(0.3, 1.0)),
    )


def _any_ground(rng: Rng, studio: bool) -> Ground:
    u = rng.uniform
    if studio:
        level = float(u(0.75, 1.0)) if rng.random() < 0.75 else float(u(0.02, 0.6))
        rgb = grey(rng, level, 0.02)
        return Ground(
            name="studio", rgb=rgb, second_rgb=rgb, contrast=0.0, studio=1.0,
            contact=float(u(0.05, 0.6)),
        )  # fmt: skip
    name, a, b, _ = _GROUNDS[int(rng.choice(len(_GROUNDS), p=_WEIGHTS / _WEIGHTS.sum()))]
    if name in _HUES:
        a = _HUES[name][int(rng.integers(len(_HUES[name])))]
        if name != "rack":
            b = triple(0.75 * c for c in a)
    level = np.exp(rng.normal(0, 0.3))

    def jitter(c: Triple) -> Triple:
        return triple(np.clip(v * level * np.exp(rng.normal(0, 0.12)), 0, 1) for v in c)

    ground = Ground(
        name=name,
        rgb=jitter(a),
        second_rgb=jitter(b),
        patch_mm=float(np.exp(u(np.log(20), np.log(800)))),
        contrast=float(u(0.1, 1.0)),
        stone_mm=float(np.exp(u(np.log(8), np.log(90)))),
        stones=float(u(0, 0.7)) if rng.random() < 0.2 else 0.0,
        plank_mm=float(u(70, 220)),
        turn_deg=float(u(0, 360)),
        gloss=float(u(0, 0.08)),
    )
    return _wet(rng, _made_of(rng, ground))


def _made_of(rng: Rng, ground: Ground) -> Ground:
    """What is told by the ground's name, at sizes as they are in the trade."""
    u, name = rng.uniform, ground.name
    if name == "gravel":
        return replace(ground, stones=float(u(0.7, 1.0)))
    if name == "concrete":
        return replace(
            ground,
            cracks=float(u(0.3, 1.0)) if rng.random() < 0.45 else 0.0,
            crack_mm=float(np.exp(u(np.log(80), np.log(900)))),
            joints=float(u(0.4, 1.0)) if rng.random() < 0.5 else 0.0,
            joint_mm=float(np.exp(u(np.log(200), np.log(4000)))),
        )
    if name == "soil":
        return replace(
            ground,
            cracks=float(u(0.2, 0.8)) if rng.random() < 0.3 else 0.0,
            crack_mm=float(u(40, 300)),
            blades=float(u(0.1, 0.5)) if rng.random() < 0.25 else 0.0,
        )
    if name == "timber":
        return replace(ground, planks=1.0, gap=float(u(0.01, 0.09)), stones=0.0)
    if name == "pallet":
        return replace(
            ground, planks=1.0, plank_mm=float(u(120, 190)), gap=float(u(0.15, 0.45)),
            gap_tone=float(u(0.03, 0.25)), stones=0.0,
        )  # fmt: skip
    if name == "rack":
        return replace(
            ground, planks=1.0, plank_mm=float(u(250, 1200)), gap=float(u(0.5, 0.85)),
            gap_tone=float(u(0.05, 0.5)), stones=0.0,
        )  # fmt: skip
    if name == "grating":
        return replace(ground, grate=1.0, grate_mm=float(u(22, 70)), stones=0.0)
    if name == "cardboard":
        return replace(
            ground, ribs=float(u(0.05, 1.0)), ribs_mm=float(u(4, 9)), contrast=float(u(0.05, 0.4)),
            stones=0.0,
        )  # fmt: skip
    if name == "grass":
        return replace(ground, blades=float(u(0.5, 1.0)), stones=0.0)
    if name == "tarpaulin":
        return replace(
            ground, folds=float(u(0.05, 0.4)), fold_mm=float(np.exp(u(np.log(50), np.log(500)))),
            contrast=float(u(0.05, 0.5)), stones=0.0,
        )  # fmt: skip
    if name == "steel":
        return replace(ground, joints=float(u(0, 1)), joint_mm=float(u(500, 2500)), stones=0.0)
    return ground


def _wet(rng: Rng, ground: Ground) -> Ground:
    """Rain or spilt water on 12 % of all grounds but cardboard: patches of it, or all over."""
    wet = float(rng.uniform(0.2, 1.0))
    if rng.random() >= 0.12 or ground.name == "cardboard":
        return ground
    return replace(ground, wet=wet, patch_mm=max(ground.patch_mm, 150.0))
