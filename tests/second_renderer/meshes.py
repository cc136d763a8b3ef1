"""Triangle meshes of our own, with what a surface looks like kept at every vertex.

The second renderer shares no code with `synthetic/`: it is there to judge what was learnt from that
generator's pictures. Lengths are millimetres, z is up.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Faces = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mesh:
    """`points` (N, 3) mm, `faces` (F, 3) indices, `color` (N, 3) linear 0 to 1, `rough` and `metal`
    (N,) 0 to 1, `seam` (N,) the orientation's label and 0 elsewhere, `piece` (N,) the number of the
    fitting from 1 and 0 for anything else."""

    points: Array
    faces: Faces
    color: Array
    rough: Array
    metal: Array
    seam: NDArray[np.int64]
    piece: NDArray[np.int64]

    def __post_init__(self) -> None:
        count = len(self.points)
        if self.faces.size and not 0 <= self.faces.min() <= self.faces.max() < count:
            raise ValueError(f"a face names a vertex that is not among the {count}")
        for name in ("color", "rough", "metal", "seam", "piece"):
            if len(getattr(self, name)) != count:
                raise ValueError(f"{name} needs {count} values, got {len(getattr(self, name))}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A bare surface: `points` and outward `normals` (N, 3), `faces` (F, 3)."""

    points: Array
    normals: Array
    faces: Faces


def plain(points: Array, faces: Faces, color: ArrayLike, rough: float, metal: float = 0.0) -> Mesh:
    """A mesh of one look that is no fitting."""
    count = len(points)
    return Mesh(
        points=np.asarray(points, float),
        faces=np.asarray(faces, np.int64),
        color=np.tile(np.asarray(color, float), (count, 1)),
        rough=np.full(count, rough),
        metal=np.full(count, metal),
        seam=np.zeros(count, np.int64),
        piece=np.zeros(count, np.int64),
    )


def merged(meshes: Sequence[Mesh]) -> Mesh:
    """All of them as one; ValueError without any."""
    if not meshes:
        raise ValueError("no meshes to merge")
    starts = np.cumsum([0, *(len(mesh.points) for mesh in meshes[:-1])])
    pairs = zip(meshes, starts, strict=True)
    return Mesh(
        points=np.concatenate([mesh.points for mesh in meshes]),
        faces=np.concatenate([mesh.faces + start for mesh, start in pairs]),
        color=np.concatenate([mesh.color for mesh in meshes]),
        rough=np.concatenate([mesh.rough for mesh in meshes]),
        metal=np.concatenate([mesh.metal for mesh in meshes]),
        seam=np.concatenate([mesh.seam for mesh in meshes]),
        piece=np.concatenate([mesh.piece for mesh in meshes]),
    )


def moved(mesh: Mesh, turn: Array, shift_mm: Array) -> Mesh:
    """Turned by the (3, 3) rotation about the origin, then shifted."""
    return replace(mesh, points=mesh.points @ turn.T + shift_mm)


def rotation(axis: ArrayLike, angle_deg: float) -> Array:
    """(3, 3) rotation about an axis by the right hand; Rodrigues' formula."""
    x, y, z = np.asarray(axis, float) / np.linalg.norm(axis)
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    angle = np.deg2rad(angle_deg)
    return np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross


def grid_faces(rows: int, columns: int, *, closed: bool) -> Faces:
    """Two triangles for each cell of a grid whose vertices count row by row; `closed` joins the
    last column to the first."""
    across = np.arange(columns if closed else columns - 1)
    down = np.arange(rows - 1)
    i, j = np.meshgrid(down, across, indexing="ij")
    a, b = i * columns + j, i * columns + (j + 1) % columns
    c, d = a + columns, b + columns
    first, second = np.stack([a, b, c], -1), np.stack([b, d, c], -1)
    return np.concatenate([first.reshape(-1, 3), second.reshape(-1, 3)])


def grid_sheet(points: Array, *, closed: bool = True) -> Sheet:
    """The surface of a (rows, columns, 3) grid, normals by differences; `pointing` says
    which way."""
    rows, columns = points.shape[:2]
    if closed:
        around = np.roll(points, -1, 1) - np.roll(points, 1, 1)
    else:
        around = np.gradient(points, axis=1)
    along = np.gradient(points, axis=0)
    normals = np.cross(around, along)
    normals /= np.maximum(np.linalg.norm(normals, axis=-1, keepdims=True), 1e-9)
    return Sheet(
        points=points.reshape(-1, 3),
        normals=normals.reshape(-1, 3),
        faces=grid_faces(rows, columns, closed=closed),
    )


def pointing(sheet: Sheet, outward: Array) -> Sheet:
    """The sheet with normals that point along `outward` (N, 3)."""
    flip = np.where((sheet.normals * outward).sum(1, keepdims=True) < 0, -1.0, 1.0)
    return replace(sheet, normals=sheet.normals * flip)


def lathe(profile_mm: Sequence[tuple[float, float]], columns: int = 128) -> tuple[Array, Faces]:
    """Points and faces of a profile of (x, radius) turned about the x axis; each of its stretches
    has vertices of its own, so that the edges between them stay sharp."""
    angle = np.linspace(0.0, 2 * np.pi, columns, endpoint=False)
    circle = np.stack([np.zeros(columns), np.cos(angle), np.sin(angle)], -1)
    points, faces, start = [], [], 0
    for (x0, r0), (x1, r1) in itertools.pairwise(profile_mm):
        for x, r in ((x0, r0), (x1, r1)):
            ring = r * circle
            ring[:, 0] = x
            points.append(ring)
        faces.append(grid_faces(2, columns, closed=True) + start)
        start += 2 * columns
    return np.concatenate(points), np.concatenate(faces)


def box(size_mm: ArrayLike) -> tuple[Array, Faces]:
    """Points and faces of a box about the origin, each side with vertices of its own."""
    points: list[Array] = []
    faces: list[Faces] = []
    half = np.asarray(size_mm, float) / 2
    for axis in range(3):
        for sign in (-1.0, 1.0):
            u, v = (axis + 1) % 3, (axis + 2) % 3
            corners = np.zeros((4, 3))
            corners[:, axis] = sign * half[axis]
            corners[:, u] = half[u] * np.array([-1, 1, 1, -1]) * sign
            corners[:, v] = half[v] * np.array([-1, -1, 1, 1])
            faces.append(np.array([[0, 1, 2], [0, 2, 3]]) + 4 * len(points))
            points.append(corners)
    return np.concatenate(points), np.concatenate(faces)


def tube(path_mm: Array, radius_mm: float, columns: int = 12) -> tuple[Array, Faces]:
    """Points and faces of a round tube about a (N, 3) path, as for a cable or a strap."""
    along = np.gradient(path_mm, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    side = np.cross(along, [0.3, 0.2, 0.93])
    side /= np.maximum(np.linalg.norm(side, axis=1, keepdims=True), 1e-9)
    other = np.cross(along, side)
    angle = np.linspace(0.0, 2 * np.pi, columns, endpoint=False)[:, None, None]
    rings = path_mm + radius_mm * (np.cos(angle) * side + np.sin(angle) * other)
    points = rings.transpose(1, 0, 2)
    return points.reshape(-1, 3), grid_faces(len(path_mm), columns, closed=True)
