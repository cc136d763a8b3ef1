"""Looks that training never sees: skins, grounds, a light, marks and a seam's finish that are kept
for the exam.

`with_held_out` changes a drawn scene in about half of each of these factors; everything else in it
stays, so that the same scene can be read with and without. `tags` says what a scene holds.
"""

from __future__ import annotations

from dataclasses import replace
from math import cos, radians, sin

import numpy as np

from fittings.words import Kind
from synthetic.draws import Rng, colour_near, direction_to, grey
from synthetic.sample_welds import touched_up
from synthetic.scene import (
    Effects,
    Finish,
    Ground,
    Lamp,
    Light,
    Mark,
    Piece,
    Scene,
    Skin,
    Triple,
    Weld,
)

SKINS = ("aluminium", "two-coat paint")
GROUNDS = ("asphalt", "snow")
LIGHTS = ("dusk",)
MARKS = ("label", "rope")
FINISHES = (Finish.TOUCHED_UP.value,)

_SHARE = 0.5
"""How often each factor is one of those held out."""


def with_held_out(rng: Rng, scene: Scene) -> Scene:
    """The scene with, each in about half of all cases, another skin, ground, light and marks, and
    its seams touched up.

    A studio keeps its ground and light, which are what makes it one.
    """
    pieces = tuple(_piece(rng, piece) for piece in scene.pieces)
    new_ground, new_light = rng.random() < _SHARE, rng.random() < _SHARE
    ground, light, effects = scene.ground, scene.light, scene.effects
    if new_ground and ground.studio < 0.5:
        ground = _ground(rng, ground)
    if new_light and ground.studio < 0.5:
        light, effects = _dusk(rng, light, effects)
    pieces = tuple(_seams_touched_up(rng, piece) for piece in pieces)
    return replace(scene, pieces=pieces, ground=ground, light=light, effects=effects)


def tags(scene: Scene) -> dict[str, tuple[str, ...]]:
    """The names of what a scene holds by factor, sorted, and under "held_out" those of them that
    training never sees."""
    marks = {mark.name for piece in scene.pieces for mark in piece.marks}
    finishes = {weld.finish.value for piece in scene.pieces for weld in _welds(piece)}
    out = {
        "skin": tuple(sorted({piece.skin.name for piece in scene.pieces})),
        "ground": (scene.ground.name,),
        "light": (scene.light.name,),
        "mark": tuple(sorted(marks - {"none"})),
        "finish": tuple(sorted(finishes)),
    }
    kept = {
        "skin": SKINS, "ground": GROUNDS, "light": LIGHTS, "mark": MARKS, "finish": FINISHES,
    }  # fmt: skip
    found = [name for factor, names in out.items() for name in names if name in kept[factor]]
    return out | {"held_out": tuple(found)}


def _welds(piece: Piece) -> list[Weld]:
    return [weld for weld in (piece.along_weld, piece.cross_weld) if weld.present > 0.5]


def _seams_touched_up(rng: Rng, piece: Piece) -> Piece:
    """All seams of a piece, as the yard that hides one hides all."""
    if not _welds(piece) or rng.random() >= _SHARE:
        return piece
    return replace(
        piece,
        along_weld=touched_up(rng, piece.along_weld, piece.skin),
        cross_weld=touched_up(rng, piece.cross_weld, piece.skin),
    )


def _piece(rng: Rng, piece: Piece) -> Piece:
    new_skin, new_marks = rng.random() < _SHARE, rng.random() < _SHARE
    if new_skin:
        piece = replace(piece, skin=_skin(rng, piece.skin, piece.radius_mm))
    if new_marks:
        pair = _label(rng, piece) if rng.random() < 0.5 else _rope(rng, piece)
        piece = replace(piece, marks=(*pair, piece.marks[2]))
    return piece


def _skin(rng: Rng, skin: Skin, radius_mm: float) -> Skin:
    name, u = SKINS[int(rng.integers(len(SKINS)))], rng.uniform
    # What belongs to the skin that was drawn first goes with it.
    skin = replace(skin, flakes=0.0, pits=0.0, spangle=0.0, worn=0.0)
    if name == "aluminium":
        rgb = colour_near(rng, (0.78, 0.79, 0.81), 0.08, 0.02)
        return replace(
            skin,
            name=name,
            rgb=rgb,
            second_rgb=colour_near(rng, rgb, 0.12, 0.02),
            patch_contrast=float(u(0.0, 0.4)),
            grain_contrast=float(u(0.0, 0.3)),
            rust_amount=0.0,
            roughness=float(u(0.25, 0.6)),
            metallic=float(u(0.7, 1.0)),
            gloss=0.05,
            bump=float(u(0.0, 0.06)),
        )
    # The rust's place is taken by the coat below, bared in patches.
    hue = rng.random(3) ** 2 * 0.8 + 0.02
    top: Triple = (float(hue[0]), float(hue[1]), float(hue[2]))
    below: Triple = ((0.3, 0.07, 0.04), (0.35, 0.35, 0.36), (0.6, 0.55, 0.35))[int(rng.integers(3))]
    rgb = colour_near(rng, top, 0.2, 0.05)
    return replace(
        skin,
        name=name,
        rgb=rgb,
        second_rgb=colour_near(rng, rgb, 0.15, 0.04),
        patch_contrast=float(u(0.0, 0.3)),
        grain_contrast=float(u(0.0, 0.15)),
        rust_rgb=colour_near(rng, below, 0.2, 0.05),
        rust_amount=float(u(0.35, 0.6)),
        rust_patch_mm=radius_mm * float(u(0.3, 1.5)),
        roughness=float(u(0.2, 0.6)),
        metallic=0.0,
        gloss=0.05,
        bump=float(u(0.0, 0.06)),
    )


def _ground(rng: Rng, ground: Ground) -> Ground:
    name, u = GROUNDS[int(rng.integers(len(GROUNDS)))], rng.uniform
    # Of the ground that was drawn, only how it lies is kept: no grating or slabs under the snow.
    ground = Ground(
        patch_mm=ground.patch_mm, contrast=ground.contrast, stone_mm=ground.stone_mm,
        turn_deg=ground.turn_deg, contact=ground.contact,
    )  # fmt: skip
    if name == "asphalt":
        return replace(
            ground,
            name=name,
            rgb=colour_near(rng, (0.06, 0.06, 0.062), 0.3, 0.03),
            second_rgb=colour_near(rng, (0.12, 0.118, 0.115), 0.3, 0.03),
            stone_mm=float(u(6.0, 14.0)),
            stones=float(u(0.5, 0.9)),
            gloss=float(u(0.0, 0.06)),
        )
    return replace(
        ground,
        name=name,
        rgb=colour_near(rng, (0.86, 0.89, 0.94), 0.06, 0.01),
        second_rgb=colour_near(rng, (0.72, 0.77, 0.85), 0.08, 0.01),
        contrast=float(u(0.1, 0.6)),
        gloss=float(u(0.0, 0.05)),
    )


def _dusk(rng: Rng, light: Light, effects: Effects) -> tuple[Light, Effects]:
    """After sunset: a dim blue sky, an orange horizon, and one coloured lamp in the sun's place."""
    u = rng.uniform
    lamp: Triple = ((1.0, 0.55, 0.18), (1.0, 0.75, 0.45), (0.55, 0.8, 1.0))[int(rng.integers(3))]
    power, sky_power = float(u(0.6, 2.0)), float(u(0.25, 0.6))
    sky = colour_near(rng, (0.12, 0.16, 0.38), 0.2, 0.08)
    window = Lamp(
        direction=direction_to(float(u(0, 2 * np.pi)), float(np.radians(u(5, 40)))),
        size=float(u(0.05, 0.2)),
        power=float(u(1.0, 4.0)),
    )
    # The exposure that a phone would choose, by the same rule as for other lights.
    level = 0.45 * power + 0.6 * sky_power * float(np.mean(sky)) + window.power * window.size**2 / 2
    exposure = float(np.clip(0.8 / max(level, 0.1) * np.exp(rng.normal(0, 0.35)), 0.05, 8.0))
    dusk = replace(
        light,
        name="dusk",
        sun=direction_to(float(u(0, 2 * np.pi)), float(np.radians(u(25, 70)))),
        sun_rgb=colour_near(rng, lamp, 0.05, 0.05),
        sun_power=power,
        sun_softness=float(u(0.03, 0.15)),
        sky_rgb=sky,
        horizon_rgb=colour_near(rng, (0.75, 0.35, 0.2), 0.25, 0.1),
        ground_rgb=grey(rng, float(u(0.05, 0.2)), 0.1),
        sky_power=sky_power,
        lamps=(window, Lamp(), Lamp()),
        bars=0.0,
        leaves=0.0,
        clouds=0.0,
        windows=0.0,
        rows=0.0,
        door=0.0,
        flash=0.0,
    )
    return dusk, replace(effects, exposure=exposure)


def _label(rng: Rng, piece: Piece) -> tuple[Mark, Mark]:
    """A stuck-on label with a printed code: a pale patch, and dark cells within it."""
    r, u = piece.radius_mm, rng.uniform
    turn = float(u(0, 2 * np.pi))
    along: Triple
    if piece.kind is Kind.ELBOW:
        a = float(u(-0.35, 0.35)) * radians(piece.bend_deg)
        along, gate = (-sin(a), cos(a), 0.0), (cos(a) * cos(turn), sin(a) * cos(turn), sin(turn))
        at, centre = 0.0, piece.length_mm * cos(turn)
    else:
        at = float(u(0.3, 0.8)) * piece.length_mm
        along, gate = (1.0, 0.0, 0.0), (0.0, cos(turn), sin(turn))
        centre = 0.0
    label = Mark(
        name="label",
        normal=along,
        offset_mm=at,
        half_width_mm=r * float(u(0.15, 0.35)),
        gate=gate,
        gate_offset_mm=centre + r * float(u(0.72, 0.92)),
        rgb=colour_near(rng, (0.9, 0.9, 0.87), 0.05, 0.03),
        opacity=1.0,
        roughness=float(u(0.3, 0.6)),
    )
    code = replace(
        label,
        half_width_mm=label.half_width_mm * float(u(0.55, 0.8)),
        gate_offset_mm=label.gate_offset_mm + 0.02 * r,
        rgb=grey(rng, 0.02, 0.1),
        dashes=1.0,
    )
    return label, code


def _rope(rng: Rng, piece: Piece) -> tuple[Mark, Mark]:
    """A turn of rope about the piece, about square to its centreline: dark, with pale strands."""
    r, u = piece.radius_mm, rng.uniform
    if piece.kind is Kind.ELBOW:
        a, offset = float(u(-0.4, 0.4)) * radians(piece.bend_deg), 0.0
        square = np.array([-sin(a), cos(a), 0.0])
    else:
        square, offset = np.array([1.0, 0.0, 0.0]), float(u(0.15, 0.85)) * piece.length_mm
    slack = square + rng.normal(0.0, 0.03, 3)
    normal = slack / np.linalg.norm(slack)
    rope = Mark(
        name="rope",
        normal=(float(normal[0]), float(normal[1]), float(normal[2])),
        offset_mm=offset,
        half_width_mm=r * float(u(0.03, 0.08)),
        gate_offset_mm=-1.0e5,
        wobble_mm=0.03 * r,
        wobble_length_mm=r,
        rgb=colour_near(rng, (0.16, 0.11, 0.06), 0.2, 0.05),
        opacity=1.0,
        roughness=0.95,
    )
    strands = replace(rope, rgb=colour_near(rng, (0.5, 0.38, 0.22), 0.15, 0.05), dashes=1.0)
    return rope, strands
