"""Where a picture is taken: the ground's bitmap, loose stones, the light of sky or shed."""

from __future__ import annotations

import numpy as np
import trimesh
from numpy.typing import NDArray

from tests.second_renderer.meshes import Mesh, merged, plain
from tests.second_renderer.noise import Noise, step

Array = NDArray[np.float64]

GROUNDS = ("concrete", "asphalt", "soil", "gravel", "timber", "steel plate", "sheet", "tiles")
SKIES = ("clear", "cloudy", "overcast", "shed", "workshop")

TILE_MM = 3000.0
"""The ground's bitmap repeats after this."""

_TILE_PX = 700


def ground_bitmap(name: str, rng: np.random.Generator) -> Array:
    """(H, W, 3) linear colour of `TILE_MM` of ground. ValueError for a name not in `GROUNDS`."""
    if name not in GROUNDS:
        raise ValueError(f"ground must be one of {', '.join(GROUNDS)}, got {name!r}")
    noise = Noise(rng)
    line = (np.arange(_TILE_PX) + 0.5) / _TILE_PX * TILE_MM
    y, x = np.meshgrid(line, line, indexing="ij")
    points = np.stack([x.ravel(), y.ravel(), np.zeros(x.size)], -1)
    cloud = noise.cloudy(points, 700.0, 6).reshape(x.shape)
    fine = noise.cloudy(points, 22.0, 3, layer=5).reshape(x.shape)
    tone = 1 + 0.22 * cloud + 0.1 * fine
    base = {
        "concrete": (0.36, 0.35, 0.32),
        "asphalt": (0.075, 0.075, 0.08),
        "soil": (0.2, 0.13, 0.075),
        "gravel": (0.22, 0.2, 0.17),
        "timber": (0.36, 0.25, 0.14),
        "steel plate": (0.16, 0.15, 0.145),
        "sheet": (0.75, 0.75, 0.74),
        "tiles": (0.5, 0.48, 0.44),
    }[name]
    if name in ("asphalt", "soil", "gravel"):
        tone = tone * (1 + 0.5 * rng.uniform(-1, 1, x.shape) * (1 if name != "soil" else 0.5))
    if name == "concrete":
        crack = np.abs(noise.cloudy(points, 900.0, 5, layer=9).reshape(x.shape))
        tone = tone * (1 - 0.5 * (1 - step(crack, 0.0, 0.012)))
        tone = tone * (1 - 0.35 * step(cloud, 0.35, 0.8))
    if name == "timber":
        board = np.floor(y / rng.uniform(110, 190))
        lengthwise = np.stack([0.03 * x.ravel(), y.ravel(), 313.0 * board.ravel()], -1)
        grain = noise.cloudy(lengthwise, 9.0, 4).reshape(x.shape)
        gap = np.abs(np.diff(board, axis=0, append=board[-1:])) > 0
        own = np.random.default_rng(7).uniform(0.75, 1.2, 64)[board.astype(int) % 64]
        tone = own * (1 + 0.28 * grain + 0.1 * cloud) * np.where(gap, 0.2, 1.0)
    if name == "steel plate":
        tone = tone * (1 + 0.4 * step(fine + cloud, 0.3, 1.0))
    if name == "tiles":
        side = rng.uniform(200, 400)
        joint = np.minimum(x % side, y % side) < 6
        tone = np.where(joint, 0.45, 0.4 * tone + 0.6)
    if name == "sheet":
        tone = 0.15 * tone + 0.85
    return np.clip(tone[..., None] * np.array(base), 0.01, 0.9)


def stones(rng: np.random.Generator, reach_mm: float, size_mm: float, count: int) -> Mesh:
    """Loose stones on the ground about the origin: bent octahedra, twice divided."""
    ball = trimesh.creation.icosphere(subdivisions=2)
    meshes = []
    kinds = []
    for _ in range(6):
        noise = Noise(rng)
        points = ball.vertices * (1 + 0.35 * noise.at(ball.vertices, 0.9)[:, None])
        kinds.append(points * rng.uniform(0.6, 1.0, 3))
    for _ in range(count):
        shape = kinds[rng.integers(6)]
        turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
        size = size_mm * rng.uniform(0.4, 1.0)
        place = np.append(rng.uniform(-reach_mm, reach_mm, 2), 0.25 * size)
        tone = rng.uniform(0.12, 0.38)
        color = tone * np.array([1.0, rng.uniform(0.92, 1.0), rng.uniform(0.8, 0.97)])
        meshes.append(plain(shape @ turn * size + place, ball.faces, color, 0.85))
    return merged(meshes)


def sky_bitmap(name: str, rng: np.random.Generator) -> Array:
    """(H, W, 3) radiance by direction, longitude across and height from zenith down; its sun or its
    brightest lamp is small and strong. ValueError for a name not in `SKIES`."""
    if name not in SKIES:
        raise ValueError(f"sky must be one of {', '.join(SKIES)}, got {name!r}")
    height, width = 300, 600
    down = (np.arange(height) + 0.5) / height * np.pi
    turn = (np.arange(width) + 0.5) / width * 2 * np.pi
    theta, phi = np.meshgrid(down, turn, indexing="ij")
    ways = np.stack([np.sin(theta) * np.cos(phi), np.sin(theta) * np.sin(phi), np.cos(theta)], -1)
    noise = Noise(rng)
    up = ways[..., 2]
    flat = ways.reshape(-1, 3)
    if name in ("shed", "workshop"):
        return _indoors(name, rng, ways, noise)
    clear = np.clip(up, 0, 1)[..., None] ** 0.45
    zenith, horizon = np.array([0.16, 0.32, 0.75]), np.array([0.75, 0.82, 0.92])
    sky = horizon * (1 - clear) + zenith * clear
    spread = flat / np.maximum(np.abs(flat[:, 2:]) + 0.18, 0.18)
    cloud = noise.cloudy(spread, 0.9, 5).reshape(up.shape)
    low = {"clear": 0.55, "cloudy": -0.1, "overcast": -1.2}[name]
    share = step(cloud, low, low + 0.7)[..., None]
    grey = (0.75 + 0.25 * cloud)[..., None] * np.array([0.92, 0.95, 1.0])
    sky = sky * (1 - share) + grey * share
    if name != "overcast":
        height_deg = rng.uniform(12, 65)
        sun = _way(rng.uniform(0, 2 * np.pi), np.deg2rad(height_deg))
        near = ways @ sun
        warm = np.array([1.0, 0.9, 0.75]) if height_deg < 25 else np.array([1.0, 0.97, 0.9])
        strong = rng.uniform(12_000, 30_000) if name == "clear" else rng.uniform(2_000, 12_000)
        sky = sky + (near > np.cos(np.deg2rad(0.6)))[..., None] * strong * warm
        sky = sky + 1.5 * np.exp((near - 1) * 60)[..., None] * warm
    else:
        sky = sky * (0.6 + 0.6 * np.clip(up, 0, 1))[..., None]
    # Sheds, racks and trees along the horizon.
    lines = noise.at(np.stack([3 * np.cos(phi[0]), 3 * np.sin(phi[0]), 0 * phi[0]], -1), 0.5, 3)
    roof = 0.05 + 0.11 * np.round(3 * lines) / 3 + rng.uniform(0, 0.08)
    dark = rng.uniform(0.05, 0.3) * np.array([1.0, 0.97, 0.9])
    sky = np.where((up < roof[None, :])[..., None], dark * (0.8 + 0.3 * cloud)[..., None], sky)
    return np.where((up < 0)[..., None], np.array([0.2, 0.18, 0.15]), sky)


def _indoors(name: str, rng: np.random.Generator, ways: Array, noise: Noise) -> Array:
    """A hall with rows of lamps on its ceiling, or a workshop with windows along one side."""
    up = np.clip(ways[..., 2], 1e-3, None)
    wall = 0.12 + 0.1 * noise.cloudy(ways.reshape(-1, 3), 0.5, 4).reshape(up.shape)
    color = wall[..., None] * rng.uniform(0.7, 1.0, 3)
    u, v = ways[..., 0] / up, ways[..., 1] / up
    gap = rng.uniform(0.7, 1.6)
    long, wide = rng.uniform(0.1, 0.45), rng.uniform(0.03, 0.12)
    cell_u, cell_v = (u / gap) % 1.0 - 0.5, (v / (1.4 * gap)) % 1.0 - 0.5
    lamp = (np.abs(cell_u) < wide) & (np.abs(cell_v) < long) & (ways[..., 2] > 0.25)
    tint = np.array([1.0, rng.uniform(0.85, 1.0), rng.uniform(0.65, 1.0)])
    color = np.where(lamp[..., None], rng.uniform(10, 35) * tint, color)
    if name == "workshop":
        phi = np.arctan2(ways[..., 1], ways[..., 0])
        pane = (np.abs(phi) < 0.9) & ((phi / 0.22) % 1.0 > 0.15)
        pane &= (ways[..., 2] > 0.15) & (ways[..., 2] < 0.6)
        color = np.where(pane[..., None], rng.uniform(4, 12) * np.array([0.85, 0.93, 1.0]), color)
    return np.where((ways[..., 2] < 0)[..., None], 0.1, color)


def _way(turn: float, height: float) -> Array:
    return np.array([np.cos(turn) * np.cos(height), np.sin(turn) * np.cos(height), np.sin(height)])
