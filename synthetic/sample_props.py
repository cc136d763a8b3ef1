"""Chance for the other things in view, most of them from a pipe yard."""

from __future__ import annotations

from typing import Any

import numpy as np

from synthetic.draws import Rng, any_rotation, clipped_rgb, grey, nine, rotation_about, triple
from synthetic.sample_pieces import piece_ends
from synthetic.scene import Piece, Prop


def sample_props(
    rng: Rng, size: float, extent: float, pieces: list[Piece], studio: bool
) -> tuple[Prop, Prop, Prop, Prop, Prop]:
    """Pipes, bars, cables, boxes and plates about the place; bigger and closer without a piece."""
    with_piece = bool(pieces)
    if studio and with_piece:
        count = int(rng.integers(0, 2))
    else:
        count = int(rng.choice(6, p=[0.22, 0.2, 0.18, 0.16, 0.12, 0.12]))
        if not with_piece:
            count = max(count, int(rng.integers(0, 5)))
    props: list[Prop] = []
    if pieces and rng.random() < 0.14:
        props += _joined_pipe(rng, pieces[0])
    elif rng.random() < (0.06 if with_piece else 0.4):
        props += _pipe_line(rng, size, extent, with_piece)
    props += [_prop(rng, size, extent, with_piece) for _ in range(count)]
    props = (props + [Prop()] * 5)[:5]
    return props[0], props[1], props[2], props[3], props[4]


def _axis_rotation(axis: np.ndarray) -> np.ndarray:
    """(3, 3) rotation that takes the x axis to `axis` (unit)."""
    x = np.array([1.0, 0.0, 0.0])
    normal = np.cross(x, axis)
    if np.linalg.norm(normal) < 1e-6:
        return np.eye(3) if axis[0] > 0 else rotation_about((0, 0, 1), np.pi)
    return rotation_about(normal, float(np.arccos(np.clip(axis[0], -1, 1))))


def _tube(
    axis: np.ndarray, centre: np.ndarray, radius: float, half_length: float, **more: Any
) -> Prop:
    return Prop(
        half_length_mm=float(half_length),
        half_height_mm=float(radius),
        rotation=nine(_axis_rotation(axis)),
        position_mm=triple(centre),
        **more,
    )


def _joined_pipe(rng: Rng, piece: Piece) -> list[Prop]:
    """Pipe welded to an end of the piece: a girth weld that is none of the fitting's own."""
    rotation = np.asarray(piece.rotation).reshape(3, 3)
    ends = piece_ends(piece)
    point, out, radius = ends[int(rng.integers(len(ends)))]
    axis = rotation @ out
    start = rotation @ point + np.asarray(piece.position_mm)
    half = radius * float(rng.uniform(1.0, 8.0))
    own = np.asarray(piece.skin.rgb)
    shade = own * np.exp(rng.normal(0, 0.25 if rng.random() < 0.6 else 0.8))
    look = {"roughness": piece.skin.roughness, "metallic": piece.skin.metallic}
    bead = radius * float(rng.uniform(0.025, 0.08))
    raised = radius * float(rng.uniform(0.005, 0.025))
    bead_rgb = (
        clipped_rgb(own * 1.2)
        if rng.random() < 0.5
        else grey(rng, float(rng.uniform(0.05, 0.6)), 0.1)
    )
    return [
        _tube(axis, start + axis * half, radius, half, rgb=clipped_rgb(shade), **look),
        _tube(axis, start, radius + raised, bead, rgb=bead_rgb, wall_mm=raised * 2.0, **look),
    ]


def _pipe_line(rng: Rng, size: float, extent: float, with_piece: bool) -> list[Prop]:
    """Plain pipe with a girth weld, a flange or a collar on it: jointed, but no fitting."""
    radius = size * float(rng.uniform(0.5, 1.2))
    axis = rotation_about((0, 0, 1), rng.uniform(0, 2 * np.pi)) @ np.array([1.0, 0.0, 0.0])
    if rng.random() < 0.3:
        axis = any_rotation(rng)[:, 0]
    away = extent * (rng.uniform(1.2, 2.5) if with_piece else rng.uniform(0.0, 0.4))
    heading = rng.uniform(0, 2 * np.pi)
    centre = np.array(
        [away * np.cos(heading), away * np.sin(heading), radius * rng.uniform(1.0, 2.0)]
    )
    base = (
        rng.random(3) ** 2 * 0.8
        if rng.random() < 0.4
        else np.asarray(grey(rng, float(rng.uniform(0.05, 0.5)), 0.12))
    )
    look = {"roughness": float(rng.uniform(0.2, 0.9)), "metallic": float(rng.random() < 0.2) * 0.8}
    half = radius * float(rng.uniform(2.5, 10.0))
    wall = radius * 0.08 if rng.random() < 0.6 else 0.0
    out = [_tube(axis, centre, radius, half, rgb=clipped_rgb(base), wall_mm=wall, **look)]
    for _ in range(int(rng.integers(1, 4))):
        at = centre + axis * half * float(rng.uniform(-0.8, 0.8))
        if rng.random() < 0.5:
            wide, long = (
                radius * float(rng.uniform(1.006, 1.03)),
                radius * float(rng.uniform(0.03, 0.1)),
            )
        else:
            wide, long = (
                radius * float(rng.uniform(1.05, 1.8)),
                radius * float(rng.uniform(0.05, 0.4)),
            )
        tone = base * np.exp(rng.normal(0, 0.4))
        out.append(_tube(axis, at, wide, long, rgb=clipped_rgb(tone), **look))
    return out


def _prop(rng: Rng, size: float, extent: float, with_piece: bool) -> Prop:
    shape = ("pipe", "bar", "box", "plate", "drum", "cable")[int(rng.integers(6))]
    yaw = rotation_about((0, 0, 1), rng.uniform(0, 2 * np.pi))
    heading = rng.uniform(0, 2 * np.pi)
    away = extent * (rng.uniform(1.0, 3.0) if with_piece else rng.uniform(0.0, 1.2))
    x, y = away * np.cos(heading), away * np.sin(heading)
    wall, kind, rotation = 0.0, 0.0, yaw
    if shape in ("pipe", "drum"):
        radius = size * float(np.exp(rng.uniform(np.log(0.3), np.log(1.3))))
        length = (
            radius * float(rng.uniform(2.0, 14.0))
            if shape == "pipe"
            else radius * float(rng.uniform(0.15, 1.6))
        )
        wall = radius * float(rng.uniform(0.04, 0.15)) if rng.random() < 0.7 else 0.0
        upright = shape == "drum" and rng.random() < 0.6
        if upright:
            rotation = yaw @ rotation_about((0, 1, 0), np.pi / 2)
        z = length if upright else radius
        height = depth = radius
        if not with_piece and rng.random() < 0.4:
            rotation = any_rotation(rng)
            z = extent * float(rng.uniform(0.3, 1.0))
    elif shape in ("bar", "cable"):
        radius = size * float(np.exp(rng.uniform(np.log(0.015), np.log(0.12))))
        length, height, depth = size * float(rng.uniform(1.0, 12.0)), radius, radius
        kind = 1.0 if shape == "bar" and rng.random() < 0.5 else 0.0
        rotation = any_rotation(rng) if rng.random() < 0.5 else yaw
        near = extent * (rng.uniform(0.6, 1.5) if with_piece else rng.uniform(0.0, 1.0))
        x, y = near * np.cos(heading), near * np.sin(heading)
        z = radius if rng.random() < 0.5 else float(rng.uniform(0.0, 1.6)) * extent
    else:
        kind = 1.0
        length = size * float(rng.uniform(0.3, 4.0))
        height = size * float(rng.uniform(0.2, 2.5))
        depth = size * float(rng.uniform(0.02, 0.2) if shape == "plate" else rng.uniform(0.1, 1.5))
        z = depth
        if rng.random() < 0.3:
            rotation = yaw @ rotation_about((1, 0, 0), np.pi / 2)
            z = height
    hue = rng.random(3) ** 1.5 * rng.uniform(0.1, 0.9)
    if rng.random() < 0.5:
        hue = np.asarray(grey(rng, float(rng.uniform(0.03, 0.6)), 0.12))
    metallic = float(rng.uniform(0.5, 1.0)) if rng.random() < 0.2 else 0.0
    return Prop(
        shape=kind,
        half_length_mm=length,
        half_height_mm=height,
        half_depth_mm=depth,
        wall_mm=wall,
        rotation=nine(rotation),
        position_mm=(float(x), float(y), float(z)),
        rgb=(float(hue[0]), float(hue[1]), float(hue[2])),
        roughness=float(rng.uniform(0.15, 0.9)),
        metallic=metallic,
        stripe_mm=size * float(np.exp(rng.uniform(np.log(0.1), np.log(2.0)))),
        stripe=float(rng.uniform(0.2, 1.0)) if rng.random() < 0.3 else 0.0,
    )
