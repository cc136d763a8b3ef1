"""From a bare piece to a mesh with its skin, its welds, and the marks that people leave on it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fittings.words import Orientation
from tests.second_renderer.meshes import Mesh, grid_sheet, merged, pointing
from tests.second_renderer.noise import Noise, step
from tests.second_renderer.skins import BARE, grain_mm, skin_look
from tests.second_renderer.sweeps import Blank, Piece
from tests.second_renderer.welds import (
    Look,
    Seam,
    Weld,
    half_width_mm,
    relief_mm,
    welded_look,
)

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Dress:
    """How a piece is covered. `seed` fixes every pattern; `marks` counts the lines, bands and dabs
    on it that are no seams."""

    skin: str
    seed: int
    marks: int


def clad(piece: Piece, dress: Dress, number: int) -> tuple[Mesh, Mesh]:
    """The mesh of a piece, fitting `number` of its picture; and of the same piece as if none of
    its seams had left a trace."""
    noise = Noise(np.random.default_rng([dress.seed, 1]))
    pairs = [_part(blank, dress, number, noise) for blank in piece.blanks]
    return (
        merged([welded for welded, _ in pairs]),
        merged([bare for _, bare in pairs if bare is not None]),
    )


def _part(blank: Blank, dress: Dress, number: int, noise: Noise) -> tuple[Mesh, Mesh | None]:
    """One surface with its seams and without them; the latter None where it is all weld."""
    points, normals = blank.sheet.points, blank.sheet.normals
    look = skin_look(dress.skin, points, np.random.default_rng([dress.seed, 2]), noise)
    label = np.zeros(len(points), np.int64)
    if blank.region == "face" and dress.skin in BARE:
        look = _machined(look, points, noise, np.random.default_rng([dress.seed, 3]))
    elif blank.region == "bore":
        look = replace(look, color=look.color * 0.8)
    if blank.region != "outside":
        mesh = _mesh(points, blank, look, label, number)
        return mesh, mesh
    out = grain_mm(dress.skin, points, noise)
    look = _marked(look, points, dress)
    if blank.all_weld is not None:
        seam = blank.all_weld
        look = welded_look(replace(seam, off_mm=0.7 * seam.off_mm), points, noise, look)
        # Its crown is in the mesh already: only the ripples are left to add.
        out = out + relief_mm(seam, points, noise) * _rippling(seam)
        label = np.full(len(points), seam.orientation.label)
        return _mesh(points + out[:, None] * normals, blank, look, label, number), None
    bare = _mesh(points + out[:, None] * normals, blank, look, label, number)
    if not blank.seams:
        return bare, bare
    out, label = out.copy(), label.copy()
    color, rough, metal = look.color.copy(), look.rough.copy(), look.metal.copy()
    for seam in blank.seams:
        near = np.flatnonzero(np.abs(seam.off_mm) < 2.2 * seam.weld.width_mm)
        if not near.size:
            continue
        here = replace(seam, off_mm=seam.off_mm[near], way_mm=seam.way_mm[near])
        if seam.orientation is not Orientation.BRANCH:  # whose bead is a surface of its own
            out[near] += relief_mm(here, points[near], noise)
        inside = np.abs(here.off_mm) < half_width_mm(here, points[near], noise)
        label[near[inside]] = seam.orientation.label
        old = Look(color=color[near], rough=rough[near], metal=metal[near])
        new = welded_look(here, points[near], noise, old)
        color[near], rough[near], metal[near] = new.color, new.rough, new.metal
    look = Look(color=color, rough=rough, metal=metal)
    return _mesh(points + out[:, None] * normals, blank, look, label, number), bare


def _mesh(points: Array, blank: Blank, look: Look, label: NDArray[np.int64], number: int) -> Mesh:
    return Mesh(
        points=points,
        faces=blank.sheet.faces,
        color=look.color,
        rough=look.rough,
        metal=look.metal,
        seam=label,
        piece=np.full(len(points), number),
    )


def _rippling(seam: Seam) -> float:
    """How much of a fillet's own relief comes on top of its shape."""
    return 0.5 if seam.weld.left > 0.4 else 0.15


def _machined(look: Look, points: Array, noise: Noise, rng: np.random.Generator) -> Look:
    """A bevel as the lathe left it, more or less rusted since."""
    share = step(
        noise.cloudy(points, 30.0, 4, layer=2),
        *sorted(rng.uniform(-1.2, 1.2, 2) + np.array([0.0, 0.4])),
    )
    bright = np.array([0.5, 0.49, 0.47])
    return Look(
        color=look.color * share[:, None] + bright * (1 - share[:, None]),
        rough=look.rough * share + 0.35 * (1 - share),
        metal=look.metal * share + 0.9 * (1 - share),
    )


def _marked(look: Look, points: Array, dress: Dress) -> Look:
    """Paint-marker strokes, colour bands and dabs, in the colours that a yard has at hand."""
    rng = np.random.default_rng([dress.seed, 4])
    color, rough, metal = look.color.copy(), look.rough.copy(), look.metal.copy()
    middle, spread = points.mean(0), points.std(0).max()
    size = spread * 2
    for _ in range(dress.marks):
        ink = np.array(
            [(0.75, 0.74, 0.7), (0.8, 0.6, 0.03), (0.5, 0.03, 0.02), (0.02, 0.02, 0.02)][
                rng.integers(4)
            ]
        )
        what = rng.choice(["stroke", "band", "dab", "writing"], p=[0.3, 0.2, 0.2, 0.3])
        axis = rng.normal(size=3)
        axis /= np.linalg.norm(axis)
        place = middle + rng.normal(size=3) * spread * 0.7
        away = points - place
        if what == "band":
            across = np.zeros(3)
            across[rng.integers(2)] = 1.0
            inside = np.abs(away @ across) < rng.uniform(0.02, 0.06) * size
        elif what == "stroke":
            nearest = np.clip(away @ axis, -0.3 * size, 0.3 * size)
            inside = np.linalg.norm(away - nearest[:, None] * axis, axis=1) < _reach(
                points, place, rng
            )
        elif what == "dab":
            inside = np.linalg.norm(away, axis=1) < _reach(points, place, rng) + 0.02 * size
        else:
            # Letters as a row of short strokes on and off, seen from the side that they face.
            other = np.cross(axis, rng.normal(size=3))
            other /= np.linalg.norm(other)
            u, v = away @ axis / (0.05 * size), away @ other / (0.05 * size)
            cell = np.floor(u).astype(int)
            pick = rng.integers(0, 8, 64)[cell % 64]
            du, dv = u - cell - 0.4, v
            strokes = np.stack(
                [
                    np.abs(du) < 0.09,
                    np.abs(dv) < 0.09,
                    np.abs(du - 0.6 * dv) < 0.1,
                    np.abs(np.hypot(du, dv) - 0.3) < 0.08,
                ]
            )
            inside = (
                strokes[pick % 4, np.arange(len(u))] | strokes[(pick // 2) % 4, np.arange(len(u))]
            )
            inside &= (np.abs(u) < 5) & (np.abs(v) < 0.5) & (np.abs(du) < 0.36)
            third = np.cross(axis, other)
            inside &= away @ third > 0
        color[inside] = ink
        rough[inside], metal[inside] = 0.5, 0.0
    return Look(color=color, rough=rough, metal=metal)


def _reach(points: Array, place: Array, rng: np.random.Generator) -> float:
    """A little more than the way from a place to the surface, so that a mark there shows."""
    return float(np.linalg.norm(points - place, axis=1).min() + rng.uniform(2.0, 5.0))


def joined_pipe(piece: Piece, end: int, length_mm: float, weld: Weld, dress: Dress) -> Mesh:
    """A pipe welded to one end of a piece: the joint is no seam of the fitting and has no label."""
    centre, direction, radius = piece.ends[end]
    side = np.cross(direction, [0.31, 0.52, 0.79])
    side /= np.linalg.norm(side)
    up = np.cross(direction, side)
    angle = np.linspace(0.0, 2 * np.pi, 480, endpoint=False)
    circle = np.cos(angle)[:, None] * side + np.sin(angle)[:, None] * up
    noise = Noise(np.random.default_rng([dress.seed, 1]))
    meshes = []
    for start, stop, count in (
        (-0.7 * weld.width_mm, 0.7 * weld.width_mm, 60),
        (weld.width_mm * 0.7, length_mm, 240),
    ):
        at = np.linspace(start, stop, count)
        grid = centre + at[:, None, None] * direction + radius * circle[None]
        outward = np.tile(circle, (count, 1))
        sheet = pointing(grid_sheet(grid), outward)
        off = np.repeat(at, len(angle))
        seam = Seam(
            # Never labelled: see above.
            orientation=Orientation.CIRCUMFERENTIAL,
            weld=weld,
            off_mm=off,
            way_mm=np.tile(radius * angle, count),
        )
        blank = Blank(sheet=sheet, region="outside", seams=(seam,))
        part, _ = _part(blank, dress, 0, noise)
        meshes.append(replace(part, seam=np.zeros(len(part.points), np.int64)))
    return merged(meshes)
