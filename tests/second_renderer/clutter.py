"""Everything in view that is no fitting: pipes, flanges, drums, boxes, plates, timber, cables."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import trimesh
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from tests.second_renderer.meshes import (
    Mesh,
    box,
    grid_faces,
    lathe,
    merged,
    moved,
    plain,
    rotation,
    tube,
)
from tests.second_renderer.noise import Noise, step
from tests.second_renderer.skins import draw_skin, skin_look

Array = NDArray[np.float64]

THINGS = ("pipe", "flange", "drum", "box", "plate", "timber", "cable", "bucket", "beam", "bolts")


def thing(name: str, rng: np.random.Generator, size_mm: float) -> Mesh:
    """A thing of about that size standing on z = 0 about the origin. ValueError for a name not in
    `THINGS`."""
    if name not in THINGS:
        raise ValueError(f"no thing called {name!r}; there are {', '.join(THINGS)}")
    made = globals()[f"_{name}"](rng, size_mm)
    turned = moved(made, rotation([0, 0, 1], rng.uniform(0, 360)), np.zeros(3))
    middle = turned.points.mean(0)
    return moved(turned, np.eye(3), np.array([-middle[0], -middle[1], -turned.points[:, 2].min()]))


def _skinned(points: Array, faces: NDArray[np.int64], rng: np.random.Generator) -> Mesh:
    skin = draw_skin(rng)
    look = skin_look(skin, points, rng, Noise(rng))
    bare = plain(points, faces, (0.5, 0.5, 0.5), 0.5)
    return Mesh(
        points=points,
        faces=faces,
        color=look.color,
        rough=look.rough,
        metal=look.metal,
        seam=bare.seam,
        piece=bare.piece,
    )


def _fine(profile: list[tuple[float, float]], step_mm: float) -> list[tuple[float, float]]:
    """The profile with more points along it, so that a skin's pattern shows."""
    out = [profile[0]]
    for (x0, r0), (x1, r1) in pairwise(profile):
        count = int(np.clip(np.hypot(x1 - x0, r1 - r0) / step_mm, 1, 120))
        share = np.linspace(0, 1, count + 1)[1:]
        out += [(x0 + (x1 - x0) * s, r0 + (r1 - r0) * s) for s in share]
    return out


def _upright(rng: np.random.Generator, mesh: Mesh, chance: float) -> Mesh:
    return moved(mesh, rotation([0, 1, 0], -90), np.zeros(3)) if rng.random() < chance else mesh


def _pipe(rng: np.random.Generator, size_mm: float) -> Mesh:
    radius = size_mm * rng.uniform(0.12, 0.5)
    length = size_mm * rng.uniform(2.0, 8.0)
    wall = max(3.0, 0.06 * radius)
    profile = _fine(
        [
            (0, radius - wall),
            (0, radius),
            (length, radius),
            (length, radius - wall),
            (0, radius - wall),
        ],
        12,
    )
    first = _skinned(*lathe(profile, 160), rng)
    if rng.random() < 0.5:
        return _upright(rng, first, 0.1)
    row = [moved(first, np.eye(3), np.array([0.0, 2.02 * radius * i, 0.0])) for i in range(3)]
    return merged(row)


def _flange(rng: np.random.Generator, size_mm: float) -> Mesh:
    outer = size_mm * rng.uniform(0.4, 0.7)
    bore, thick, hub = 0.55 * outer, 0.16 * outer, 0.5 * outer
    profile = [
        (0, bore),
        (0, 0.75 * outer),
        (-0.02 * outer, 0.75 * outer),
        (-0.02 * outer, outer),
        (-thick, outer),
        (-thick, 0.72 * outer),
        (-thick - hub, bore * 1.12),
        (-thick - hub, bore),
        (0, bore),
    ]
    meshes = [_skinned(*lathe(_fine(profile, 8), 160), rng)]
    for turn in np.linspace(0, 2 * np.pi, 8, endpoint=False):
        points, faces = lathe([(-0.021 * outer, 0.0), (-0.021 * outer, 0.06 * outer)], 24)
        place = 0.87 * outer * np.array([0, np.cos(turn), np.sin(turn)])
        meshes.append(plain(points + place + [0.5, 0, 0], faces, (0.01, 0.01, 0.01), 0.9))
        points, faces = lathe([(-thick - 0.5, 0.0), (-thick - 0.5, 0.06 * outer)], 24)
        meshes.append(plain(points + place, faces, (0.01, 0.01, 0.01), 0.9))
    return _upright(rng, merged(meshes), 0.6)


def _drum(rng: np.random.Generator, size_mm: float) -> Mesh:
    radius = size_mm * rng.uniform(0.4, 0.7)
    height = 3.0 * radius
    profile = [
        (0, 0.001),
        (0, radius),
        (height * 0.33, radius),
        (height * 0.345, 1.03 * radius),
        (height * 0.36, radius),
        (height * 0.66, radius),
        (height * 0.675, 1.03 * radius),
        (height * 0.69, radius),
        (height, radius),
        (height, 0.97 * radius),
        (height - 15, 0.96 * radius),
        (height - 15, 0.001),
    ]
    return _upright(rng, _skinned(*lathe(_fine(profile, 14), 160), rng), 0.75)


def _bucket(rng: np.random.Generator, size_mm: float) -> Mesh:
    radius = size_mm * rng.uniform(0.2, 0.4)
    height = 2.2 * radius
    profile = [
        (0, 0.001),
        (0, 0.8 * radius),
        (height, radius),
        (height, 1.05 * radius),
        (height, 0.97 * radius),
        (5, 0.78 * radius),
        (5, 0.001),
    ]
    color = [(0.02, 0.02, 0.02), (0.55, 0.2, 0.02), (0.05, 0.12, 0.4), (0.6, 0.6, 0.58)][
        rng.integers(4)
    ]
    return _upright(rng, plain(*lathe(profile, 96), color, 0.4), 1.0)


def _box(rng: np.random.Generator, size_mm: float) -> Mesh:
    size = size_mm * rng.uniform(0.3, 1.4, 3)
    color = [(0.42, 0.28, 0.15), (0.5, 0.5, 0.48), (0.1, 0.2, 0.35), (0.03, 0.03, 0.03)][
        rng.integers(4)
    ]
    return plain(*box(size), color, 0.8)


def _plate(rng: np.random.Generator, size_mm: float) -> Mesh:
    size = size_mm * np.array([rng.uniform(0.6, 2.0), rng.uniform(0.6, 2.0), 0.03])
    line = [np.linspace(-s / 2, s / 2, 90) for s in size[:2]]
    x, y = np.meshgrid(*line, indexing="ij")
    top = np.stack([x.ravel(), y.ravel(), np.full(x.size, size[2] / 2 + 0.2)], -1)
    mesh = merged(
        [
            _skinned(top, grid_faces(90, 90, closed=False), rng),
            plain(*box(size), (0.1, 0.09, 0.08), 0.6),
        ]
    )
    return moved(mesh, rotation([1, 0, 0], rng.choice([0, 0, 70])), np.zeros(3))


def _timber(rng: np.random.Generator, size_mm: float) -> Mesh:
    long = size_mm * rng.uniform(1.5, 4.0)
    meshes = []
    for row in range(int(rng.integers(1, 5))):
        points, faces = box([long, 0.18 * size_mm, 0.16 * size_mm])
        points, faces = trimesh.remesh.subdivide_to_size(points, faces, max_edge=long / 40)
        noise = Noise(rng)
        grain = noise.cloudy(points * [0.05, 1, 1], 0.02 * size_mm, 4)
        tone = rng.uniform(0.7, 1.1) * (1 + 0.3 * grain)
        mesh = plain(
            points + np.array([0.0, 0.25 * size_mm * row, 0.0]), faces, (0.4, 0.27, 0.14), 0.8
        )
        color = np.clip(tone[:, None] * mesh.color, 0.02, 0.9)
        meshes.append(
            Mesh(
                points=mesh.points,
                faces=mesh.faces,
                color=color,
                rough=mesh.rough,
                metal=mesh.metal,
                seam=mesh.seam,
                piece=mesh.piece,
            )
        )
    return merged(meshes)


def _beam(rng: np.random.Generator, size_mm: float) -> Mesh:
    long, side = size_mm * rng.uniform(2.0, 6.0), size_mm * rng.uniform(0.2, 0.4)
    parts = [
        box([long, side, 0.08 * side]),
        box([long, 0.06 * side, side]),
        box([long, side, 0.08 * side]),
    ]
    shifts = [(0, 0, 0.5 * side), (0, 0, 0), (0, 0, -0.5 * side)]
    color = [(0.2, 0.05, 0.03), (0.14, 0.13, 0.12), (0.5, 0.33, 0.03)][rng.integers(3)]
    return merged(
        [plain(p + np.array(s), f, color, 0.6) for (p, f), s in zip(parts, shifts, strict=True)]
    )


def _cable(rng: np.random.Generator, size_mm: float) -> Mesh:
    knots = np.cumsum(rng.normal(0, 0.5 * size_mm, (7, 2)), 0)
    share = np.linspace(0, 6, 160)
    flat = CubicSpline(np.arange(7), knots)(share)
    path = np.concatenate([flat, np.full((160, 1), 8.0)], 1)
    color = [(0.01, 0.01, 0.01), (0.5, 0.2, 0.01), (0.4, 0.02, 0.02), (0.5, 0.5, 0.1)][
        rng.integers(4)
    ]
    return plain(*tube(path, 0.02 * size_mm + 3), color, 0.45)


def _bolts(rng: np.random.Generator, size_mm: float) -> Mesh:
    meshes = []
    for _ in range(int(rng.integers(3, 12))):
        r = 0.035 * size_mm
        points, faces = lathe(
            [
                (0, 0.001),
                (0, 1.7 * r),
                (1.4 * r, 1.7 * r),
                (1.4 * r, r),
                (9 * r, r),
                (9 * r, 0.001),
            ],
            6 + 18,
        )
        turn = rotation([0, 0, 1], rng.uniform(0, 360))
        place = np.append(rng.normal(0, 0.3 * size_mm, 2), 1.7 * r)
        tone = rng.uniform(0.1, 0.5)
        meshes.append(plain(points @ turn.T + place, faces, (tone, tone, tone), 0.4, 0.8))
    return merged(meshes)


def wall(rng: np.random.Generator, wide_mm: float, high_mm: float) -> Mesh:
    """An upright wall in the plane x = 0: plain, of bricks, or of corrugated sheet."""
    y, z = np.meshgrid(
        np.linspace(-wide_mm / 2, wide_mm / 2, 520), np.linspace(0, high_mm, 260), indexing="ij"
    )
    kind = rng.integers(3)
    x = np.zeros_like(y)
    noise = Noise(rng)
    points = np.stack([x.ravel(), y.ravel(), z.ravel()], -1)
    tone = 1 + 0.2 * noise.cloudy(points, 900.0, 5)
    base = np.array([(0.45, 0.43, 0.4), (0.3, 0.12, 0.07), (0.3, 0.36, 0.4)][kind])
    if kind == 1:
        row = np.floor(z / 75)
        shift = y + 110 * (row % 2)
        joint = ((z % 75 < 12) | (shift % 220 < 12)).ravel()
        brick = np.random.default_rng(3).uniform(0.7, 1.2, 4096)[
            (row * 61 + np.floor(shift / 220)).astype(int).ravel() % 4096
        ]
        color = np.where(joint[:, None], 0.4, base * (tone * brick)[:, None])
    else:
        color = base * tone[:, None]
        if kind == 2:
            points[:, 0] = 18 * np.sin(2 * np.pi * y.ravel() / 150)
    stain = step(noise.cloudy(points * [1, 1, 0.2], 300.0, 4, layer=7), 0.2, 0.9)
    color = np.clip(color * (1 - 0.5 * stain[:, None]), 0.01, 0.9)
    mesh = plain(points, grid_faces(520, 260, closed=False), (0, 0, 0), 0.8)
    return Mesh(
        points=points,
        faces=mesh.faces,
        color=color,
        rough=mesh.rough,
        metal=mesh.metal,
        seam=mesh.seam,
        piece=mesh.piece,
    )
