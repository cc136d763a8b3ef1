"""What one picture shows, by chance: pieces, what lies about them, ground, light, camera.

All chance comes from the generator that is passed in, made of seed and picture number.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fittings.words import Construction, Kind
from tests.second_renderer.cladding import Dress, clad, joined_pipe
from tests.second_renderer.clutter import THINGS, thing, wall
from tests.second_renderer.draw_pieces import KINDS, draw_construction, draw_piece
from tests.second_renderer.meshes import Mesh, merged, moved, rotation
from tests.second_renderer.photographs import Phone, draw_phone
from tests.second_renderer.places import GROUNDS, SKIES, ground_bitmap, sky_bitmap, stones
from tests.second_renderer.rendering import Lamp, View, mitsuba
from tests.second_renderer.skins import PAINTED, draw_skin
from tests.second_renderer.welds import draw_weld

Array = NDArray[np.float64]

NO_FITTING_SHARE = 0.15
GROUP_SHARE = 0.18
JOINED_SHARE = 0.12


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One fitting in a picture; `finish` is that of its cross welds or, without any, its long ones,
    None of a seamless piece."""

    kind: Kind
    construction: Construction
    text: str
    skin: str
    finish: str | None
    joined: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """All that a picture is made from. `bare` is the mesh with every seam of the fittings left out,
    None where there is none to leave out."""

    mesh: Mesh
    bare: Mesh | None
    shown: tuple[Shown, ...]
    things: int
    ground: Array
    sky: Array
    place: str
    view: View
    lamp: Lamp | None
    phone: Phone


def draw_scene(rng: np.random.Generator, environments: Path | None = None) -> Scene:
    """A picture's scene; `environments` is a folder of measured skies (EXR) to choose from too."""
    count = 1
    chance = rng.random()
    if chance < NO_FITTING_SHARE:
        count = 0
    elif chance < NO_FITTING_SHARE + GROUP_SHARE:
        count = int(rng.integers(2, 5))
    pieces, bares, shown = [], [], []
    size = float(rng.uniform(150, 700))
    for number in range(1, count + 1):
        mesh, bare, facts = _piece(rng, number)
        pieces.append(mesh)
        bares.append(bare)
        shown.append(facts)
    if pieces:
        size = max(float(np.ptp(mesh.points[mesh.piece > 0], axis=0).max()) for mesh in pieces)
        shifts = _spread(rng, pieces)
        pieces = [moved(m, np.eye(3), s) for m, s in zip(pieces, shifts, strict=True)]
        bares = [moved(m, np.eye(3), s) for m, s in zip(bares, shifts, strict=True)]
    view, turn = _camera(rng, pieces, size)
    others, things = _surroundings(rng, size, turn, view, none=not pieces)
    ground = str(rng.choice(GROUNDS))
    if ground == "gravel" or rng.random() < 0.1:
        others.append(stones(rng, 1.6 * size, rng.uniform(8, 30), 900))
    place, sky = _light(rng, environments)
    welded = any(facts.construction is not Construction.SEAMLESS for facts in shown)
    return Scene(
        mesh=merged([*pieces, *others]),
        bare=merged([*bares, *others]) if welded else None,
        shown=tuple(shown),
        things=things,
        ground=ground_bitmap(ground, rng),
        sky=sky,
        place=f"{ground}, {place}",
        view=view,
        lamp=_lamp(rng, view, size) if rng.random() < 0.2 else None,
        phone=draw_phone(rng),
    )


def _piece(rng: np.random.Generator, number: int) -> tuple[Mesh, Mesh, Shown]:
    kind, make, skin = KINDS[rng.integers(3)], draw_construction(rng), draw_skin(rng)
    painted = skin in PAINTED
    piece = draw_piece(rng, kind, make, painted=painted)
    dress = Dress(
        skin=skin,
        seed=int(rng.integers(2**31)),
        marks=int(rng.choice([0, 1, 2, 3], p=[0.5, 0.25, 0.15, 0.1])),
    )
    meshes = list(clad(piece, dress, number))
    joined = rng.random() < JOINED_SHARE
    if joined:
        end = int(rng.integers(len(piece.ends)))
        weld = draw_weld(rng, piece.wall_mm, painted=painted)
        pipe = joined_pipe(piece, end, piece.ends[end][2] * rng.uniform(3, 9), weld, dress)
        meshes = [merged([mesh, pipe]) for mesh in meshes]
    turn = _resting(rng, kind)
    meshes = [moved(mesh, turn, np.zeros(3)) for mesh in meshes]
    low = meshes[1].points.min(0)
    middle = 0.5 * (low + meshes[1].points.max(0))
    shift = np.array([-middle[0], -middle[1], -low[2]])
    meshes = [moved(mesh, np.eye(3), shift) for mesh in meshes]
    finishes = [
        s.weld.finish for b in piece.blanks for s in b.seams if s.orientation.speaks_of_fabrication
    ]
    finishes += [s.weld.finish for b in piece.blanks for s in b.seams]
    return (
        meshes[0],
        meshes[1],
        Shown(
            kind=kind,
            construction=make,
            text=piece.text,
            skin=skin,
            finish=finishes[0] if finishes else None,
            joined=joined,
        ),
    )


def _resting(rng: np.random.Generator, kind: Kind) -> Array:
    """A turn as pieces lie about: flat, on an end, on edge, or leaning on something unseen."""
    flat = {
        Kind.ELBOW: [([1, 0, 0], 0.0), ([1, 0, 0], 90.0), ([1, 0, 0], -90.0), ([1, 0, 0], 180.0)],
        Kind.TEE: [([1, 0, 0], 0.0), ([1, 0, 0], 90.0), ([1, 0, 0], -90.0), ([0, 1, 0], 90.0)],
        Kind.REDUCER: [([1, 0, 0], 0.0), ([0, 1, 0], 90.0), ([0, 1, 0], -90.0), ([1, 0, 0], 90.0)],
    }[kind]
    axis, angle_deg = flat[rng.integers(4)]
    turn = rotation(axis, angle_deg)
    if rng.random() < 0.3:
        turn = rotation(rng.normal(size=3), rng.uniform(5, 40)) @ turn
    return rotation([0, 0, 1], rng.uniform(0, 360)) @ turn


def _spread(rng: np.random.Generator, meshes: list[Mesh]) -> list[Array]:
    """Where to put pieces so that none stands in another: along a line, each after the last."""
    shifts, at = [], 0.0
    line = rng.uniform(0, 2 * np.pi)
    way = np.array([np.cos(line), np.sin(line), 0.0])
    aside = np.array([-way[1], way[0], 0.0])
    for i, mesh in enumerate(meshes):
        along = mesh.points @ way
        at += 0.0 if i == 0 else -float(along.min()) + 20.0
        shifts.append(way * at + aside * (0.0 if i == 0 else rng.normal(0, 0.2) * np.ptp(along)))
        at += float(along.max())
    return shifts


def _camera(rng: np.random.Generator, pieces: list[Mesh], size: float) -> tuple[View, float]:
    """The view and its compass direction from the pieces, in radians."""
    fov_deg = float(rng.uniform(25, 70))
    if pieces:
        which = pieces[rng.integers(len(pieces))]
        points = which.points[which.piece > 0]
        reach = float(np.linalg.norm(points - points.mean(0), axis=1).max())
        # The pixels that a piece covers grow with the square of this.
        fill = float(rng.uniform(0.3, 1.15)) if len(pieces) == 1 else float(rng.uniform(0.3, 0.7))
        target = 0.5 * (points.min(0) + points.max(0))
    else:
        reach, fill, target = size, float(rng.uniform(0.3, 1.0)), np.array([0, 0, 0.3 * size])
    away = reach / (fill * np.tan(np.deg2rad(fov_deg) / 2) * 0.75)
    high = np.deg2rad(rng.uniform(10, 62))
    turn = float(rng.uniform(0, 2 * np.pi))
    offset = np.array([np.cos(turn) * np.cos(high), np.sin(turn) * np.cos(high), np.sin(high)])
    eye = target + max(away, 1.25 * reach) * offset
    eye[2] = max(eye[2], 60.0)
    aim = target + rng.normal(0, 0.22, 3) * reach * [1, 1, 0.6]
    up = rotation(aim - eye, rng.normal(0, 6)) @ np.array([0, 0, 1.0])
    return View(eye=eye, target=aim, up=up, fov_deg=fov_deg), turn


def _surroundings(
    rng: np.random.Generator, size: float, turn: float, view: View, *, none: bool
) -> tuple[list[Mesh], int]:
    """Things on the ground and perhaps a wall, none between the camera and what it looks at."""
    meshes: list[Mesh] = []
    middle = view.target * [1, 1, 0]
    count = (
        int(rng.integers(3, 9))
        if none
        else int(rng.choice([0, 1, 2, 4, 7], p=[0.2, 0.2, 0.2, 0.25, 0.15]))
    )
    placed = 0
    for _ in range(count):
        made = thing(str(rng.choice(THINGS)), rng, size * rng.uniform(0.6, 1.6))
        reach = float(np.linalg.norm(made.points[:, :2], axis=1).max())
        near = 0.0 if none and placed == 0 else 0.75 * size + reach
        away = near + rng.uniform(0.0, 1.0) * size * (1 if none else 2)
        about = turn + np.pi + rng.normal(0, 0.75 if not none else 1.0)
        place = middle + away * np.array([np.cos(about), np.sin(about), 0])
        if np.linalg.norm(place[:2] - view.eye[:2]) < reach + 0.3 * size:
            continue
        meshes.append(moved(made, np.eye(3), place))
        placed += 1
    if rng.random() < 0.35:
        far = size * rng.uniform(1.5, 6.0)
        upright = wall(rng, 14 * size + 4000, 5 * size + 2500)
        back = turn + np.pi + rng.normal(0, 0.3)
        place = middle + far * np.array([np.cos(back), np.sin(back), 0])
        meshes.append(moved(upright, rotation([0, 0, 1], np.rad2deg(back)), place))
    return meshes, placed


def _light(rng: np.random.Generator, environments: Path | None) -> tuple[str, Array]:
    """A name and a sky's radiance: one of the folder's in a third of the pictures, if given."""
    found = sorted(environments.glob("*.exr")) if environments is not None else []
    if found and rng.random() < 0.35:
        path = found[rng.integers(len(found))]
        sky = np.asarray(mitsuba().Bitmap(str(path)), float)[..., :3]
        return path.stem, np.roll(sky, rng.integers(sky.shape[1]), axis=1)
    name = str(rng.choice(SKIES))
    return name, sky_bitmap(name, rng)


def _lamp(rng: np.random.Generator, view: View, size: float) -> Lamp:
    """A flash beside the lens or a work lamp to one side."""
    away = view.eye - view.target
    far = float(np.linalg.norm(away))
    flash = rng.random() < 0.4
    side = rotation([0, 0, 1], rng.uniform(-100, 100) if not flash else 3) @ away
    place = view.target + side * (1.0 if flash else rng.uniform(0.8, 1.6)) + [0, 0, 0.05 * far]
    place[2] = max(place[2], 0.3 * size)
    radius = 0.02 * far if flash else 0.12 * far
    power = float(rng.uniform(2, 8) * (np.linalg.norm(place - view.target) / radius) ** 2 / np.pi)
    warm = rng.uniform(0.75, 1.0)
    return Lamp(
        place=place,
        target=view.target,
        radius_mm=radius,
        radiance=(power, power * (0.5 + 0.5 * warm), power * warm),
    )
