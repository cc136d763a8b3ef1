"""Tees: formed, with a rounded crotch, or an outlet welded onto a run, with a sharp root.

The formed one is a level of a distance field of our own (two cylinders joined with a fillet of the
crotch's radius), sampled with scikit-image's marching cubes and drawn onto the level. The run lies
along x, the outlet along z.
"""

from __future__ import annotations

import numpy as np
import trimesh
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from skimage.measure import marching_cubes

from fittings.words import Construction, Kind, Orientation
from tests.second_renderer.meshes import Sheet, grid_sheet, pointing
from tests.second_renderer.sweeps import AROUND, BEVEL, LAND_MM, Blank, Piece
from tests.second_renderer.welds import Seam, Weld

Array = NDArray[np.float64]


def _field(points: Array, run_mm: float, outlet_mm: float, crotch_mm: float) -> Array:
    """Signed distance, roughly, to run and outlet joined by a fillet: where both are near, a circle
    of radius `crotch_mm` touches both (for cylinders that meet at right angles)."""
    run = np.hypot(points[..., 1], points[..., 2]) - run_mm
    outlet = np.hypot(points[..., 0], points[..., 1]) - outlet_mm
    outlet = np.where(points[..., 2] > 0, outlet, np.maximum(outlet, 1e3))
    # Along the flanks of an equal tee both walls run together: a fillet would make it swell there.
    flank = np.clip(np.abs(points[..., 1]) / min(run_mm, outlet_mm), 0.0, 1.0)
    size = crotch_mm * (1.0 - 0.85 * flank**4)
    a, b = np.maximum(size - run, 0.0), np.maximum(size - outlet, 0.0)
    return np.asarray(np.maximum(size, np.minimum(run, outlet)) - np.hypot(a, b))


def _slope(points: Array, *sizes: float) -> Array:
    """(N, 3) gradient of the field by central differences."""
    parts = []
    for axis in range(3):
        shift = np.zeros(3)
        shift[axis] = 0.05
        parts.append((_field(points + shift, *sizes) - _field(points - shift, *sizes)) / 0.1)
    return np.stack(parts, -1)


def _fillet_sheet(
    run_mm: float, outlet_mm: float, crotch_mm: float, c_mm: float, m_mm: float
) -> Sheet:
    """The formed outside between its three end planes."""
    sizes = (run_mm, outlet_mm, crotch_mm)
    pitch = c_mm / 95
    counts = [
        int(2 * c_mm / pitch) | 1,
        int(2.1 * run_mm / pitch) | 1,
        int((m_mm + 1.05 * run_mm) / pitch),
    ]
    axes = [
        np.linspace(-c_mm, c_mm, counts[0]),
        np.linspace(-1.05 * run_mm, 1.05 * run_mm, counts[1]),
        np.linspace(-1.05 * run_mm, m_mm, counts[2]),
    ]
    values = _field(np.stack(np.meshgrid(*axes, indexing="ij"), -1), *sizes)
    spacing = tuple(float(axis[1] - axis[0]) for axis in axes)
    points, faces, _, _ = marching_cubes(values.astype(np.float32), 0.0, spacing=spacing)
    points = points.astype(float) + [axis[0] for axis in axes]
    points, faces = trimesh.remesh.subdivide(points, faces)
    ends = np.stack(
        [np.abs(np.abs(points[:, 0]) - c_mm) < 1e-3, np.abs(points[:, 2] - m_mm) < 1e-3], -1
    )
    for _ in range(3):
        slope = _slope(points, *sizes)
        slope[ends[:, 0], 0] = 0.0
        slope[ends[:, 1], 2] = 0.0
        length = np.maximum((slope**2).sum(1, keepdims=True), 0.2)
        points = points - np.clip(_field(points, *sizes)[:, None], -2, 2) * slope / length
    normals = _slope(points, *sizes)
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-6)
    return Sheet(points=points, normals=normals, faces=faces.astype(np.int64))


def formed_tee(
    text: str,
    run_mm: float,
    outlet_mm: float,
    c_mm: float,
    m_mm: float,
    wall_mm: float,
    crotch_mm: float,
    split: str | None = None,
    weld: Weld | None = None,
) -> Piece:
    """A formed tee; with a `weld`, of two halves split in the plane of run and outlet ("in plane")
    or along both sides of the run ("sides")."""
    back = max(wall_mm - LAND_MM, 0.2) * BEVEL
    sheet = _fillet_sheet(run_mm, outlet_mm, crotch_mm, c_mm - back, m_mm - back)
    seams: tuple[Seam, ...] = ()
    x, y, z = sheet.points.T
    if weld is not None and split == "in plane":
        way = np.where(z > run_mm, z, x)
        seams = (Seam(orientation=Orientation.LONGITUDINAL, weld=weld, off_mm=y, way_mm=way),)
    elif weld is not None:
        seams = (Seam(orientation=Orientation.LONGITUDINAL, weld=weld, off_mm=z, way_mm=x),)
    return Piece(
        kind=Kind.TEE,
        construction=Construction.WELDED if seams else Construction.SEAMLESS,
        text=text,
        wall_mm=wall_mm,
        ends=_ends(run_mm, outlet_mm, c_mm, m_mm),
        blanks=(
            Blank(sheet=sheet, region="outside", seams=seams),
            *_inside(run_mm, outlet_mm, c_mm, m_mm, wall_mm),
        ),
    )


def fabricated_tee(
    text: str,
    run_mm: float,
    outlet_mm: float,
    c_mm: float,
    m_mm: float,
    wall_mm: float,
    weld: Weld,
    along: Weld | None = None,
) -> Piece:
    """Pipe for an outlet, cut to the run's shape and welded on; `along` is a seam of the run's
    pipe, on the side away from the outlet."""
    back = max(wall_mm - LAND_MM, 0.2) * BEVEL
    angle = np.linspace(0.0, 2 * np.pi, AROUND, endpoint=False)
    root = _root(run_mm, outlet_mm, angle)
    steps = np.linalg.norm(np.diff(root, axis=0, append=root[:1]), axis=1)
    way = np.concatenate([[0.0], np.cumsum(steps)[:-1]])
    tree = cKDTree(root)

    rows = np.linspace(-c_mm + back, c_mm - back, int(np.clip(2 * c_mm / 0.9, 200, 520)))
    at, around = np.meshgrid(rows, angle, indexing="ij")
    points = np.stack([at, run_mm * np.sin(around), run_mm * np.cos(around)], -1)
    run = pointing(grid_sheet(points), points.reshape(-1, 3) * [0, 1, 1])
    inside = (np.hypot(run.points[:, 0], run.points[:, 1]) < outlet_mm - 1.0) & (
        run.points[:, 2] > 0
    )
    run = Sheet(points=run.points, normals=run.normals, faces=run.faces[~inside[run.faces].all(1)])

    share = np.linspace(0.0, 1.0, 260)[:, None]
    foot, top = root, root.copy()
    top[:, 2] = m_mm - back
    outlet = grid_sheet(foot[None] * (1 - share[..., None]) + top[None] * share[..., None])
    outlet = pointing(outlet, outlet.points * [1, 1, 0])

    def branch(sheet: Sheet) -> Seam:
        off, nearest = tree.query(sheet.points)
        return Seam(orientation=Orientation.BRANCH, weld=weld, off_mm=off, way_mm=way[nearest])

    run_seams: tuple[Seam, ...] = (branch(run),)
    if along is not None:
        off = np.where(run.points[:, 2] < 0, run.points[:, 1], 1e3)
        run_seams += (
            Seam(
                orientation=Orientation.LONGITUDINAL,
                weld=along,
                off_mm=off,
                way_mm=run.points[:, 0],
            ),
        )
    blanks = [
        Blank(sheet=run, region="outside", seams=run_seams),
        Blank(sheet=outlet, region="outside", seams=(branch(outlet),)),
        *_inside(run_mm, outlet_mm, c_mm, m_mm, wall_mm),
    ]
    blanks.append(_bead(root, way, run_mm, outlet_mm, weld))
    return Piece(
        kind=Kind.TEE,
        construction=Construction.FABRICATED,
        text=text,
        wall_mm=wall_mm,
        ends=_ends(run_mm, outlet_mm, c_mm, m_mm),
        blanks=tuple(blanks),
    )


def _root(run_mm: float, outlet_mm: float, angle: Array) -> Array:
    """(N, 3) where the outlet meets the run: z² + y² = run², x² + y² = outlet²."""
    x, y = outlet_mm * np.cos(angle), outlet_mm * np.sin(angle)
    return np.stack([x, y, np.sqrt(np.maximum(run_mm**2 - y**2, 0.0))], -1)


def _bead(root: Array, way: Array, run_mm: float, outlet_mm: float, weld: Weld) -> Blank:
    """The fillet along the root, from a toe on the run to a toe on the outlet: bulging as
    deposited, hollow and smooth where it was ground."""
    tangent = np.roll(root, -1, 0) - np.roll(root, 1, 0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    from_run = root * [0, 1, 1] / run_mm
    from_outlet = root * [1, 1, 0] / outlet_mm
    on_run = np.cross(from_run, tangent)
    on_run *= np.sign((on_run * from_outlet).sum(1, keepdims=True) + 1e-9)
    on_outlet = np.cross(tangent, from_outlet)
    on_outlet *= np.sign(on_outlet[:, 2:] + 1e-9)
    outward = from_run + from_outlet
    outward /= np.linalg.norm(outward, axis=1, keepdims=True)
    leg = 0.62 * weld.width_mm
    across = np.linspace(-1.0, 1.0, 41)[:, None, None]
    toe_run = root + leg * on_run
    toe_run[:, 1:] *= (run_mm / np.linalg.norm(toe_run[:, 1:], axis=1))[:, None]
    toe_outlet = root + leg * on_outlet
    flat = toe_run[None] * (1 - across) / 2 + toe_outlet[None] * (1 + across) / 2
    # Ground: between the chord and the corner, so that a small radius is left.
    hollow = (1.0 - 0.75 * weld.left) * 0.32 * leg * (weld.left < 0.4)
    bulge = 0.25 * leg * weld.left - hollow
    closing = 1.0 - across**2
    open_angle = np.linalg.norm(toe_run - toe_outlet, axis=1) / (2 * leg)
    # Where run and outlet run on into each other there is no corner to hollow out.
    grid = (
        flat
        + bulge
        * closing
        * outward
        * np.clip(np.where(bulge > 0, 1.0, 1.6 - 1.6 * open_angle), 0.0, 1.0)[None, :, None]
    )
    grid -= 0.25 * outward[None]
    sheet = grid_sheet(grid)
    sheet = pointing(sheet, np.tile(outward, (41, 1)))
    off = np.broadcast_to(across[..., 0] * weld.width_mm / 2, (41, len(root))).ravel()
    seam = Seam(orientation=Orientation.BRANCH, weld=weld, off_mm=off, way_mm=np.tile(way, 41))
    return Blank(sheet=sheet, region="outside", all_weld=seam)


def _inside(
    run_mm: float, outlet_mm: float, c_mm: float, m_mm: float, wall_mm: float
) -> tuple[Blank, ...]:
    """Bevels and lands of the three ends, and both bores."""
    depth = max(wall_mm - LAND_MM, 0.2)
    back = depth * BEVEL
    angle = np.linspace(0.0, 2 * np.pi, 240, endpoint=False)

    def ring(axis: int, at_mm: float, radius_mm: float) -> Array:
        points = np.zeros((len(angle), 3))
        others = [i for i in range(3) if i != axis]
        points[:, axis] = at_mm
        points[:, others[0]] = radius_mm * np.cos(angle)
        points[:, others[1]] = radius_mm * np.sin(angle)
        return points

    def band(*rings: Array, region: str, out: Array | None = None) -> Blank:
        sheet = grid_sheet(np.stack(rings))
        return Blank(sheet=sheet if out is None else pointing(sheet, out), region=region)

    blanks = []
    for axis, end, radius in ((0, -c_mm, run_mm), (0, c_mm, run_mm), (2, m_mm, outlet_mm)):
        inner = end - np.sign(end) * back
        blanks.append(
            band(ring(axis, inner, radius), ring(axis, end, radius - depth), region="face")
        )
        rings = ring(axis, end, radius - depth), ring(axis, end, radius - wall_mm)
        blanks.append(band(*rings, region="face"))
    bore = band(
        *(ring(0, at, run_mm - wall_mm) for at in np.linspace(-c_mm, c_mm, 120)), region="bore"
    )
    points = bore.sheet.points
    hole = (np.hypot(points[:, 0], points[:, 1]) < outlet_mm - wall_mm) & (points[:, 2] > 0)
    faces = bore.sheet.faces[~hole[bore.sheet.faces].any(1)]
    blanks.append(
        Blank(sheet=Sheet(points=points, normals=bore.sheet.normals, faces=faces), region="bore")
    )
    root = _root(run_mm - wall_mm, outlet_mm - wall_mm, angle)
    blanks.append(band(root, ring(2, m_mm, outlet_mm - wall_mm), region="bore"))
    return tuple(blanks)


def _ends(
    run_mm: float, outlet_mm: float, c_mm: float, m_mm: float
) -> tuple[tuple[Array, Array, float], ...]:
    return (
        (np.array([-c_mm, 0, 0]), np.array([-1.0, 0, 0]), run_mm),
        (np.array([c_mm, 0, 0]), np.array([1.0, 0, 0]), run_mm),
        (np.array([0, 0, m_mm]), np.array([0, 0, 1.0]), outlet_mm),
    )
