"""Scenes drawn by chance: the one place where chance lives.

`sample_scene(rng, kinds)` draws a scene with one piece per entry of `kinds`. Give it
`np.random.default_rng([seed, index])`, so that picture `index` does not depend on order or workers.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from fittings.words import Kind
from synthetic.camera import looking_at
from synthetic.sample_pieces import outside_points, piece_ends, sample_piece
from synthetic.scene import (
    IDENTITY,
    Camera,
    Effects,
    Ground,
    Lamp,
    Light,
    Matrix,
    Piece,
    Prop,
    Scene,
    Triple,
)

Rng = np.random.Generator

PIECE_KINDS = (Kind.ELBOW, Kind.TEE, Kind.REDUCER)


def sample_kinds(rng: Rng) -> tuple[Kind, ...]:
    """What is in view: mostly one fitting, sometimes several, sometimes none."""
    u = rng.random()
    if u < 0.18:
        return ()
    count = 1 if u < 0.85 else int(rng.integers(2, 5))
    return tuple(PIECE_KINDS[i] for i in rng.integers(0, 3, count))


def sample_scene(rng: Rng, kinds: tuple[Kind, ...] | None = None) -> Scene:
    """A scene with one piece per entry of `kinds` (drawn too when None)."""
    if kinds is None:
        kinds = sample_kinds(rng)
    studio = rng.random() < 0.12
    pieces = _placed(rng, [sample_piece(rng, kind) for kind in kinds])
    if pieces:
        points = np.concatenate([_world(piece) for piece in pieces])
        first = _world(pieces[0])
        target, extent = first.mean(axis=0), np.linalg.norm(first - first.mean(axis=0), axis=1).max()
        if len(pieces) > 1 and rng.random() < 0.6:
            target = points.mean(axis=0)
            extent = np.linalg.norm(points - target, axis=1).max() * 0.8
        size = pieces[0].radius_mm
    else:
        size = float(np.exp(rng.uniform(np.log(20), np.log(500))))
        target, extent = np.array([0.0, 0.0, size]), size * rng.uniform(1.2, 3.0)
    camera, effects = _camera(rng, target, float(extent), studio)
    light, exposure = _light(rng, camera, studio)
    return Scene(
        pieces=tuple(pieces),
        props=_props(rng, size, float(extent), pieces, studio),
        ground=_ground(rng, size, studio),
        light=light,
        camera=camera,
        effects=replace(effects, exposure=exposure),
        noise_seed=float(rng.uniform(0.0, 279.0)),
    )


def rotation_about(axis: Any, angle_rad: float) -> np.ndarray:
    """(3, 3) rotation matrix by Rodrigues' formula; `axis` need not be of unit length."""
    x, y, z = np.asarray(axis, np.float64) / np.linalg.norm(axis)
    k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + np.sin(angle_rad) * k + (1 - np.cos(angle_rad)) * k @ k


def any_rotation(rng: Rng) -> np.ndarray:
    """(3, 3) rotation, uniform over all (QR of a normal matrix)."""
    q, r = np.linalg.qr(rng.normal(size=(3, 3)))
    q = q * np.sign(np.diag(r))
    if np.linalg.det(q) < 0:
        q[:, 0] = -q[:, 0]
    return q


def _nine(matrix: np.ndarray) -> Matrix:
    return tuple(float(v) for v in matrix.reshape(-1))  # type: ignore[return-value]


def _world(piece: Piece) -> np.ndarray:
    rotation = np.asarray(piece.rotation).reshape(3, 3)
    return outside_points(piece) @ rotation.T + np.asarray(piece.position_mm)


def _placed(rng: Rng, pieces: list[Piece]) -> list[Piece]:
    """Lay each piece down: on a side, on an end, or anyhow (held, hung, in a heap)."""
    placed: list[Piece] = []
    for number, piece in enumerate(pieces):
        quarter = np.pi / 2
        if rng.random() < 0.65:
            axis = ((1, 0, 0), (0, 1, 0), (0, 0, 1))[int(rng.integers(3))]
            rotation = rotation_about(axis, quarter * int(rng.integers(4)))
            if rng.random() < 0.5:
                rotation = rotation_about((1, 0, 0), quarter * int(rng.integers(4))) @ rotation
            tilt = rng.normal(0.0, 0.06)
            rotation = rotation_about(rng.normal(size=3), tilt) @ rotation
        else:
            rotation = any_rotation(rng)
        rotation = rotation_about((0, 0, 1), rng.uniform(0, 2 * np.pi)) @ rotation
        points = outside_points(piece) @ rotation.T
        middle = points.mean(axis=0)
        reach = float(np.linalg.norm(points - middle, axis=1).max())
        lift = 0.0 if rng.random() < 0.7 else float(rng.uniform(0.0, 1.5)) * reach
        sideways = np.zeros(2)
        if number:
            heading = rng.uniform(0, 2 * np.pi)
            sideways = (
                np.array([np.cos(heading), np.sin(heading)]) * reach * rng.uniform(0.7, 1.8)
            )
            if rng.random() < 0.4:
                lift += float(rng.uniform(0.2, 1.0)) * reach
        position = np.array([sideways[0] - middle[0], sideways[1] - middle[1], lift - points[:, 2].min()])
        placed.append(
            replace(
                piece, rotation=_nine(rotation), position_mm=tuple(float(v) for v in position)
            )
        )
    return placed


def _camera(
    rng: Rng, target: np.ndarray, extent: float, studio: bool
) -> tuple[Camera, Effects]:
    focal = float(rng.uniform(0.68, 1.1)) if rng.random() < 0.7 else float(rng.uniform(1.1, 3.5))
    if studio and rng.random() < 0.6:
        focal = float(rng.uniform(1.5, 4.0))
    how_near = rng.random()
    fill = float(rng.uniform(0.45, 1.05))
    if how_near < 0.2:
        fill = float(rng.uniform(0.18, 0.5))
    elif how_near < 0.38:
        fill = float(rng.uniform(1.0, 3.2))  # close-ups
    distance = extent * focal / (0.375 * fill)
    if distance < 1.35 * extent:  # no camera inside a piece: step back and zoom in
        focal *= 1.35 * extent / distance
        distance = 1.35 * extent
    elevation = np.radians(rng.uniform(3, 55) if rng.random() < 0.75 else rng.uniform(-5, 88))
    azimuth = rng.uniform(0, 2 * np.pi)
    toward = np.array(
        [
            np.cos(elevation) * np.cos(azimuth),
            np.cos(elevation) * np.sin(azimuth),
            np.sin(elevation),
        ]
    )
    position = target + distance * toward
    position[2] = max(position[2], 0.15 * extent)
    aim = target + rng.normal(0.0, 0.18 if fill < 1.1 else 0.35, 3) * extent
    roll = rng.normal(0, 5) if rng.random() < 0.8 else rng.uniform(-180, 180)
    k1 = float(rng.normal(0.0, 0.03))
    camera = Camera(
        position_mm=tuple(float(v) for v in position),
        rotation=looking_at(position, aim, float(roll)),  # type: ignore[arg-type]
        focal=focal,
        k1=k1,
        k2=float(rng.normal(0.0, 0.01)),
    )
    blur = float(np.exp(rng.normal(np.log(0.6), 0.35)))
    if rng.random() < 0.08:
        blur = float(rng.uniform(1.2, 2.5))
    smear = 1.0 if rng.random() < 0.85 else float(rng.uniform(1.5, 3.0))
    wide = rng.random() < 0.5
    warm = float(rng.normal(0.0, 0.08))
    return camera, Effects(
        balance=(1.0 + warm, 1.0 + float(rng.normal(0, 0.03)), 1.0 - warm),
        saturation=float(rng.uniform(0.6, 1.3)) if rng.random() < 0.93 else float(rng.uniform(0.0, 0.5)),
        contrast=float(rng.uniform(0.85, 1.3)),
        vignette=float(rng.uniform(0.0, 0.5)) if rng.random() < 0.4 else 0.0,
        blur_x_px=min(blur * (smear if wide else 1.0), 2.5),
        blur_y_px=min(blur * (1.0 if wide else smear), 2.5),
        sharpen=float(rng.uniform(0.0, 1.5)) if rng.random() < 0.6 else 0.0,
        noise=float(rng.exponential(0.008)),
        colour_noise=float(rng.exponential(0.005)),
        jpeg_quality=float(rng.uniform(25, 97)) if rng.random() < 0.8 else 0.0,
    )


def _grey(rng: Rng, level: float, spread: float) -> Triple:
    tint = rng.normal(0.0, spread, 3)
    r, g, b = (float(np.clip(level * (1.0 + t), 0.0, 1.0)) for t in tint)
    return r, g, b


def _direction(azimuth: float, elevation: float) -> Triple:
    c = np.cos(elevation)
    return float(c * np.cos(azimuth)), float(c * np.sin(azimuth)), float(np.sin(elevation))


def _light(rng: Rng, camera: Camera, studio: bool) -> tuple[Light, float]:
    """Light and the exposure that a phone would choose for it."""
    place = "studio" if studio else ("sun", "low sun", "overcast", "hall", "flash")[
        int(rng.choice(5, p=[0.34, 0.16, 0.2, 0.2, 0.1]))
    ]
    azimuth = rng.uniform(0, 2 * np.pi)
    sun_rgb: Triple = (1.0, float(rng.uniform(0.88, 1.0)), float(rng.uniform(0.75, 1.0)))
    lamps = [Lamp(), Lamp(), Lamp()]
    softness, skyline = 0.02, float(rng.uniform(0.2, 1.4))
    sky: Triple = (float(rng.uniform(0.2, 0.6)), float(rng.uniform(0.4, 0.7)), float(rng.uniform(0.7, 1.0)))
    horizon = _grey(rng, float(rng.uniform(0.5, 1.0)), 0.08)
    if place == "sun":
        sun, power = _direction(azimuth, np.radians(rng.uniform(20, 80))), float(rng.uniform(1.5, 5.0))
        sky_power, softness = float(rng.uniform(0.4, 1.2)), float(rng.uniform(0.0, 0.05))
    elif place == "low sun":
        sun, power = _direction(azimuth, np.radians(rng.uniform(4, 20))), float(rng.uniform(2.0, 5.0))
        sky_power, softness = float(rng.uniform(0.4, 1.0)), float(rng.uniform(0.0, 0.05))
        sun_rgb = (1.0, float(rng.uniform(0.7, 0.95)), float(rng.uniform(0.45, 0.85)))
    elif place == "overcast":
        sun, power = _direction(azimuth, np.radians(rng.uniform(40, 85))), float(rng.uniform(0.0, 0.6))
        sky_power, softness = float(rng.uniform(1.0, 1.8)), 0.3
        sky = _grey(rng, float(rng.uniform(0.7, 1.0)), 0.05)
    else:
        if place == "flash":
            toward = np.asarray(camera.position_mm) + rng.normal(0, 0.03, 3) * np.linalg.norm(
                camera.position_mm
            )
            toward = toward / np.linalg.norm(toward)
            toward[2] = max(toward[2], 0.05)
            sun = tuple(float(v) for v in toward / np.linalg.norm(toward))  # type: ignore[assignment]
            power = float(rng.uniform(1.5, 4.0))
            sky_power, softness = float(rng.uniform(0.1, 0.5)), 0.03
        else:
            sun = _direction(azimuth, np.radians(rng.uniform(25, 85)))
            power = float(rng.uniform(0.2, 2.0))
            sky_power, softness = float(rng.uniform(0.5, 1.3)), float(rng.uniform(0.05, 0.3))
        sky = _grey(rng, float(rng.uniform(0.15, 0.8)), 0.08)
        horizon = _grey(rng, float(rng.uniform(0.2, 0.9)), 0.12)
        for i in range(int(rng.integers(0, 4))):
            lamps[i] = Lamp(
                direction=_direction(
                    float(rng.uniform(0, 2 * np.pi)), float(np.radians(rng.uniform(10, 85)))
                ),
                size=float(rng.uniform(0.08, 0.6)),
                power=float(rng.uniform(0.5, 5.0)),
            )
    if studio:
        skyline = 0.0
        sky = horizon = _grey(rng, float(rng.uniform(0.8, 1.0)), 0.02)
        softness = float(rng.uniform(0.15, 0.5))
    bars = float(rng.uniform(0.3, 0.9)) if rng.random() < 0.12 and place in ("sun", "low sun") else 0.0
    light = Light(
        sun=sun,
        sun_rgb=sun_rgb,
        sun_power=power,
        sun_softness=softness,
        sky_rgb=sky,
        horizon_rgb=horizon,
        ground_rgb=_grey(rng, float(rng.uniform(0.08, 0.4)), 0.1),
        sky_power=sky_power,
        lamps=(lamps[0], lamps[1], lamps[2]),
        bars=bars,
        bars_mm=float(np.exp(rng.uniform(np.log(30), np.log(500)))),
        bars_duty=float(rng.uniform(0.1, 0.6)),
        bars_deg=float(rng.uniform(0, 180)),
        skyline=skyline,
    )
    lamp_light = sum(lamp.power * lamp.size**2 * 0.5 for lamp in lamps)
    level = 0.45 * power + 0.6 * sky_power * float(np.mean(sky)) + lamp_light
    return light, float(np.clip(0.8 / max(level, 0.1) * np.exp(rng.normal(0, 0.35)), 0.05, 8.0))


_GROUNDS: tuple[tuple[str, Triple, Triple], ...] = (
    ("concrete", (0.34, 0.33, 0.31), (0.22, 0.21, 0.2)),
    ("soil", (0.2, 0.13, 0.08), (0.11, 0.08, 0.05)),
    ("gravel", (0.32, 0.3, 0.27), (0.17, 0.16, 0.15)),
    ("timber", (0.38, 0.26, 0.14), (0.22, 0.14, 0.08)),
    ("sand", (0.5, 0.4, 0.27), (0.36, 0.28, 0.18)),
    ("grass", (0.1, 0.16, 0.04), (0.2, 0.2, 0.08)),
    ("steel", (0.16, 0.16, 0.17), (0.1, 0.09, 0.08)),
    ("painted floor", (0.15, 0.3, 0.22), (0.2, 0.33, 0.27)),
    ("tarpaulin", (0.06, 0.16, 0.4), (0.05, 0.12, 0.3)),
)


def _ground(rng: Rng, size: float, studio: bool) -> Ground:
    if studio:
        level = float(rng.uniform(0.75, 1.0)) if rng.random() < 0.75 else float(rng.uniform(0.02, 0.6))
        rgb = _grey(rng, level, 0.02)
        return Ground(name="studio", rgb=rgb, second_rgb=rgb, contrast=0.0, studio=1.0)
    name, a, b = _GROUNDS[int(rng.integers(len(_GROUNDS)))]
    level = np.exp(rng.normal(0, 0.3))
    jitter = lambda c: tuple(float(np.clip(v * level * np.exp(rng.normal(0, 0.12)), 0, 1)) for v in c)  # noqa: E731
    return Ground(
        name=name,
        rgb=jitter(a),  # type: ignore[arg-type]
        second_rgb=jitter(b),  # type: ignore[arg-type]
        patch_mm=float(np.exp(rng.uniform(np.log(20), np.log(800)))),
        contrast=float(rng.uniform(0.1, 1.0)),
        stone_mm=float(np.exp(rng.uniform(np.log(8), np.log(90)))),
        stones=1.0 if name == "gravel" else (float(rng.uniform(0, 0.7)) if rng.random() < 0.2 else 0.0),
        plank_mm=float(rng.uniform(70, 220)),
        planks=1.0 if name == "timber" else 0.0,
        turn_deg=float(rng.uniform(0, 360)),
        gloss=float(rng.uniform(0, 0.08)),
    )


def _props(
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
        rotation=_nine(_axis_rotation(axis)),
        position_mm=tuple(float(v) for v in centre),
        **more,
    )


def _rgb(values: Any) -> Triple:
    r, g, b = (float(np.clip(v, 0.0, 1.0)) for v in values)
    return r, g, b


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
    bead_rgb = _rgb(own * 1.2) if rng.random() < 0.5 else _grey(rng, float(rng.uniform(0.05, 0.6)), 0.1)
    return [
        _tube(axis, start + axis * half, radius, half, rgb=_rgb(shade), **look),
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
    centre = np.array([away * np.cos(heading), away * np.sin(heading), radius * rng.uniform(1.0, 2.0)])
    base = rng.random(3) ** 2 * 0.8 if rng.random() < 0.4 else np.asarray(_grey(rng, float(rng.uniform(0.05, 0.5)), 0.12))
    look = {"roughness": float(rng.uniform(0.2, 0.9)), "metallic": float(rng.random() < 0.2) * 0.8}
    half = radius * float(rng.uniform(2.5, 10.0))
    wall = radius * 0.08 if rng.random() < 0.6 else 0.0
    out = [_tube(axis, centre, radius, half, rgb=_rgb(base), wall_mm=wall, **look)]
    for _ in range(int(rng.integers(1, 4))):
        at = centre + axis * half * float(rng.uniform(-0.8, 0.8))
        if rng.random() < 0.5:
            wide, long = radius * float(rng.uniform(1.006, 1.03)), radius * float(rng.uniform(0.03, 0.1))
        else:
            wide, long = radius * float(rng.uniform(1.05, 1.8)), radius * float(rng.uniform(0.05, 0.4))
        tone = base * np.exp(rng.normal(0, 0.4))
        out.append(_tube(axis, at, wide, long, rgb=_rgb(tone), **look))
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
        length = radius * float(rng.uniform(2.0, 14.0)) if shape == "pipe" else radius * float(rng.uniform(0.15, 1.6))
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
        hue = np.asarray(_grey(rng, float(rng.uniform(0.03, 0.6)), 0.12))
    metallic = float(rng.uniform(0.5, 1.0)) if rng.random() < 0.2 else 0.0
    return Prop(
        shape=kind,
        half_length_mm=length,
        half_height_mm=height,
        half_depth_mm=depth,
        wall_mm=wall,
        rotation=_nine(rotation),
        position_mm=(float(x), float(y), float(z)),
        rgb=(float(hue[0]), float(hue[1]), float(hue[2])),
        roughness=float(rng.uniform(0.15, 0.9)),
        metallic=metallic,
        stripe_mm=size * float(np.exp(rng.uniform(np.log(0.1), np.log(2.0)))),
        stripe=float(rng.uniform(0.2, 1.0)) if rng.random() < 0.3 else 0.0,
    )


__all__ = ["IDENTITY", "PIECE_KINDS", "sample_kinds", "sample_scene"]
