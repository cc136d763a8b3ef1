"""Chance for groups of things that a pipe yard is full of and that are no fittings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from synthetic.draws import Rng, any_rotation, clipped_rgb, grey, nine, rotation_about
from synthetic.sample_joined import flange, girth_weld, tube
from synthetic.scene import Prop

Group = Callable[[Rng, float, float, bool], list[Prop]]
"""Things for a scene whose pieces are of that size (a radius) and extent in mm, and whether there
is a piece at all: without one they stand in the middle."""


def any_rgb(rng: Rng) -> np.ndarray:
    """A colour of paint, or mostly a grey of metal."""
    if rng.random() < 0.4:
        return np.asarray(rng.random(3) ** 2 * 0.8 + 0.02)
    return np.asarray(grey(rng, float(rng.uniform(0.05, 0.5)), 0.12))


def any_look(rng: Rng) -> dict[str, Any]:
    return {
        "rgb": clipped_rgb(any_rgb(rng)),
        "roughness": float(rng.uniform(0.15, 0.9)),
        "metallic": float(rng.uniform(0.5, 1.0)) if rng.random() < 0.25 else 0.0,
    }


def _place(rng: Rng, extent: float, with_piece: bool, near: float, far: float) -> np.ndarray:
    """A spot on the ground: about the pieces, or without any near the middle."""
    away = extent * (rng.uniform(near, far) if with_piece else rng.uniform(0.0, 0.4))
    heading = rng.uniform(0, 2 * np.pi)
    return np.array([away * np.cos(heading), away * np.sin(heading), 0.0])


def _level(rng: Rng) -> np.ndarray:
    turn = rng.uniform(0, 2 * np.pi)
    return np.array([np.cos(turn), np.sin(turn), 0.0])


def pipe_line(rng: Rng, size: float, extent: float, with_piece: bool) -> list[Prop]:
    """Plain pipe with girth welds, a collar or a pair of flanges on it: jointed, but no fitting."""
    radius = size * float(rng.uniform(0.5, 1.2))
    axis = any_rotation(rng)[:, 0] if rng.random() < 0.3 else _level(rng)
    centre = _place(rng, extent, with_piece, 1.2, 2.5)
    centre[2] = radius * rng.uniform(1.0, 2.0)
    look = any_look(rng)
    half = radius * float(rng.uniform(2.5, 10.0))
    wall = radius * float(rng.uniform(0.04, 0.12))
    out = [tube(axis, centre, radius, half, wall_mm=wall if rng.random() < 0.6 else 0.0, **look)]
    for _ in range(int(rng.integers(1, 4))):
        at = centre + axis * half * float(rng.uniform(-0.8, 0.8))
        tone = look | {"rgb": clipped_rgb(np.asarray(look["rgb"]) * np.exp(rng.normal(0, 0.4)))}
        what = rng.random()
        if what < 0.5:
            bead = radius * float(rng.uniform(0.03, 0.1))
            out.append(
                girth_weld(axis, at, radius, bead, bead * float(rng.uniform(0.05, 0.4)), **tone)
            )
        elif what < 0.75:
            wide = radius * float(rng.uniform(1.03, 1.5))
            out.append(tube(axis, at, wide, radius * float(rng.uniform(0.05, 0.4)), **tone))
        else:
            for side in (-1.0, 1.0):
                disc, _ = flange(rng, side * axis, at, radius, wall, **look)
                out.append(_shifted(disc, side * axis * disc.half_length_mm))
    return out


def _shifted(prop: Prop, by: np.ndarray) -> Prop:
    x, y, z = (float(a + b) for a, b in zip(prop.position_mm, by, strict=True))
    return replace(prop, position_mm=(x, y, z))


def valve(rng: Rng, size: float, extent: float, with_piece: bool) -> list[Prop]:
    """A valve: a drum or a round body between two flanges, a bonnet, a stem and a hand wheel."""
    radius = size * float(rng.uniform(0.35, 0.9))
    axis = _level(rng)
    up = np.array([0.0, 0.0, 1.0])
    look = any_look(rng)
    rim = 1.9 * radius
    centre = _place(rng, extent, with_piece, 1.2, 2.2) + up * rim
    half = radius * float(rng.uniform(1.0, 1.6))
    out = [tube(axis, centre, radius * float(rng.uniform(1.0, 1.3)), half, **look)]
    for side in (-1.0, 1.0):
        disc, _ = flange(
            rng, -side * axis, centre + side * axis * half, radius, 0.12 * radius, **look
        )
        out.append(disc)
    bonnet = radius * float(rng.uniform(1.2, 2.2))
    out.append(tube(up, centre + up * bonnet, 0.7 * radius, 0.6 * radius, **look))
    top = centre + up * (bonnet + radius * float(rng.uniform(1.0, 2.0)))
    steel = look | {"rgb": grey(rng, 0.3, 0.1), "metallic": 0.6}
    out.append(tube(up, (centre + up * bonnet + top) / 2, 0.12 * radius, bonnet, **steel))
    wheel = radius * float(rng.uniform(0.9, 1.4))
    hoop = {"shape": 3.0, "half_depth_mm": 0.1 * radius, "dome_mm": 0.1 * radius}
    red = look | {"rgb": clipped_rgb(any_rgb(rng))}
    out.append(tube(up, top, wheel, 0.01 * radius, **hoop, **red))
    return out


def rack(rng: Rng, size: float, extent: float, with_piece: bool) -> list[Prop]:
    """Pipe of one size side by side, or in two layers, behind the pieces."""
    radius = size * float(np.exp(rng.uniform(np.log(0.25), np.log(0.9))))
    axis = _level(rng)
    aside = np.cross(axis, (0.0, 0.0, 1.0))
    start = _place(rng, extent, with_piece, 1.0, 1.8) if not with_piece else (
        aside * (extent * float(rng.uniform(1.0, 1.6)) + radius)
    )  # fmt: skip
    look = any_look(rng)
    pitch = 2 * radius * (1.0 if rng.random() < 0.5 else float(rng.uniform(1.02, 1.5)))
    half = radius * float(rng.uniform(5.0, 16.0))
    wall = radius * float(rng.uniform(0.05, 0.14))
    shelf = 0.0 if rng.random() < 0.5 else float(rng.uniform(0.2, 1.0)) * extent
    out = []
    count = int(rng.integers(3, 7))
    for number in range(count):
        layer, place = divmod(number, (count + 1) // 2 + 1) if rng.random() < 0.5 else (0, number)
        lift = shelf + radius * (1.0 + 1.74 * layer)
        at = start + aside * pitch * (place + 0.5 * layer) + np.array([0.0, 0.0, lift])
        slid = axis * radius * float(rng.normal(0, 0.6))
        tone = look | {"rgb": clipped_rgb(np.asarray(look["rgb"]) * np.exp(rng.normal(0, 0.15)))}
        out.append(tube(axis, at + slid, radius, half, wall_mm=wall, **tone))
    return out


def crate(rng: Rng, _size: float, extent: float, with_piece: bool) -> list[Prop]:
    """Boards round the pieces: the sides of a crate or pallet box."""
    turn = float(rng.uniform(0, 2 * np.pi))
    half = extent * float(rng.uniform(0.9, 1.4)) * (1.0 if with_piece else 0.7)
    height = extent * float(rng.uniform(0.15, 0.6))
    thick = max(0.02 * extent, 6.0)
    timber = np.array([0.42, 0.29, 0.16]) * np.exp(rng.normal(0, 0.25))
    out = []
    for side in range(4):
        yaw = rotation_about((0, 0, 1), turn + side * np.pi / 2)
        at = yaw @ np.array([0.0, half, height])
        out.append(
            Prop(
                shape=1.0,
                half_length_mm=half + thick,
                half_height_mm=thick,
                half_depth_mm=height,
                rotation=nine(yaw),
                position_mm=(float(at[0]), float(at[1]), float(at[2])),
                rgb=clipped_rgb(timber * np.exp(rng.normal(0, 0.12))),
                roughness=0.85,
                stripe_mm=float(rng.uniform(0.2, 0.6)) * half,
                stripe=float(rng.uniform(0.5, 0.9)),
            )
        )
    return out


def kit(rng: Rng, size: float, extent: float, with_piece: bool) -> list[Prop]:
    """Flanges, caps, rings and short pipe of about the pieces' size, lying about them."""
    out = []
    for _ in range(int(rng.integers(2, 6))):
        radius = size * float(np.exp(rng.uniform(np.log(0.4), np.log(1.2))))
        far = 2.2 if with_piece else 1.4
        at = _place(rng, extent, True, 0.9 if with_piece else 0.0, far)
        out.append(lying(rng, radius, at))
    return out


def lying(rng: Rng, radius: float, at: np.ndarray) -> Prop:
    """One flange, cap, ring or stub of pipe on the ground at `at`: on its face, edge or askew."""
    look = any_look(rng)
    up = np.array([0.0, 0.0, 1.0])
    flat = rng.random()
    axis = up if flat < 0.5 else _level(rng) if flat < 0.75 else any_rotation(rng)[:, 0]
    upright = abs(float(axis[2]))
    what = rng.random()
    if what < 0.4:
        wall = 0.0 if rng.random() < 0.25 else radius * float(rng.uniform(0.05, 0.15))
        disc, _ = flange(rng, axis if axis[2] >= 0 else -axis, at, radius, wall, **look)
        low = upright * disc.half_length_mm + (1 - upright) * disc.half_height_mm
        return _shifted(disc, up * low)
    if what < 0.65:  # 2:1 ellipsoidal is the usual cap
        dome = radius * float(rng.choice([0.5, 0.5, 0.25, 1.0]))
        skirt = radius * float(rng.uniform(0.05, 0.3))
        low = upright * skirt + (1 - upright) * radius
        return tube(
            axis if rng.random() < 0.7 else -axis,
            at + up * (low if axis[2] >= 0 else low + dome),
            0.0,
            skirt,
            shape=2.0,
            half_depth_mm=radius,
            dome_mm=dome,
            wall_mm=radius * float(rng.uniform(0.04, 0.12)),
            **look,
        )
    if what < 0.8:
        section = radius * float(rng.uniform(0.06, 0.3))
        turns = section * float(rng.choice([0.05, 0.05, 1.0, 3.0]))
        low = upright * (section + turns) + (1 - upright) * (radius + section)
        return tube(
            axis, at + up * low, radius, turns, shape=3.0, half_depth_mm=section, dome_mm=section,
            stripe_mm=2 * section, stripe=0.5 * float(rng.random() < 0.3), **look,
        )  # fmt: skip
    half = radius * float(rng.uniform(0.2, 1.5))
    low = upright * half + (1 - upright) * radius
    wall = radius * float(rng.uniform(0.04, 0.15)) if rng.random() < 0.8 else 0.0
    return tube(axis, at + up * low, radius, half, wall_mm=wall, **look)


GROUPS: tuple[Group, ...] = (pipe_line, valve, rack, crate, kit)
