"""The renderer against other people's geometry: silhouettes of the same shape as trimesh makes it,
projected by OpenCV, and a straight pipe's maps against the analytic ray and cylinder."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray

from fittings.words import Kind, Part
from synthetic.native import native_stages
from synthetic.render import Picture, render
from synthetic.scene import Piece, Scene
from tests.synthetic.scenes import hits, one_piece_scene, posed

WIDTH, HEIGHT = 256, 192
SECTIONS = 256
FINER = 5

# Plain ends (no bevel) and, on the tee, hardly a crotch radius: what trimesh can make as exactly.
ELBOW = Piece(
    kind=Kind.ELBOW, radius_mm=84.0, wall_mm=7.0, length_mm=229.0, bend_deg=90.0, stub_mm=0.0,
    bevel=0.0,
)  # fmt: skip
TEE = Piece(
    kind=Kind.TEE, radius_mm=84.0, second_radius_mm=57.0, wall_mm=7.0, second_wall_mm=6.0,
    length_mm=143.0, second_length_mm=130.0, crotch_radius_mm=0.0, bevel=0.0,
)  # fmt: skip
CONE = Piece(
    kind=Kind.REDUCER, radius_mm=84.0, second_radius_mm=57.0, wall_mm=7.0, length_mm=200.0,
    stub_mm=40.0, second_stub_mm=30.0, steps=1.0, kinked=1.0, bevel=0.0,
)  # fmt: skip
PIPE = replace(CONE, second_radius_mm=84.0)
Mesh = trimesh.Trimesh


def circle(radius: float, centre: float) -> NDArray[np.float64]:
    """(N, 2) a closed circle about (centre, 0)."""
    turn = np.linspace(0.0, 2 * np.pi, SECTIONS + 1)
    return np.stack([centre + radius * np.cos(turn), radius * np.sin(turn)], axis=1)


def about_x(points: list[tuple[float, float]]) -> Mesh:
    """A profile of (x, radius) turned about the x axis, open at its ends."""
    turned = trimesh.creation.revolve([(r, x) for x, r in points], sections=SECTIONS)
    turned.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, [0, 1, 0]))
    return turned


def meshes(piece: Piece) -> list[Mesh]:
    """Inner and outer surfaces of the piece in its frame. A ray that goes through an end face meets
    one of them too, and one that goes through the bore from end to end meets neither."""
    if piece.kind is Kind.ELBOW:
        half = np.radians(piece.bend_deg) / 2
        back = trimesh.transformations.rotation_matrix(-half, [0, 0, 1])
        return [
            trimesh.creation.revolve(
                circle(radius, piece.length_mm), angle=2 * half, sections=SECTIONS, transform=back
            )
            for radius in (piece.radius_mm, piece.radius_mm - piece.wall_mm)
        ]
    if piece.kind is Kind.TEE:
        # Solid: where these views look into a bore, a wall is behind it.
        run = trimesh.creation.cylinder(piece.radius_mm, 2 * piece.length_mm, sections=SECTIONS)
        run.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, [0, 1, 0]))
        outlet = trimesh.creation.cylinder(
            piece.second_radius_mm, piece.second_length_mm, sections=SECTIONS
        )
        outlet.apply_translation([0, 0, piece.second_length_mm / 2])
        return [run, outlet]
    first, last = piece.stub_mm, piece.length_mm - piece.second_stub_mm
    return [
        about_x(
            [
                (0.0, piece.radius_mm - off),
                (first, piece.radius_mm - off),
                (last, piece.second_radius_mm - off),
                (piece.length_mm, piece.second_radius_mm - off),
            ]
        )
        for off in (0.0, piece.wall_mm)
    ]


def silhouette(scene: Scene) -> NDArray[np.bool_]:
    """(HEIGHT, WIDTH) where OpenCV's camera sees the meshes of the scene's piece, asked at the
    middles of the pixels."""
    piece, camera = scene.pieces[0], scene.camera
    turn = np.asarray(piece.rotation).reshape(3, 3)
    camera_from_world = np.asarray(camera.rotation).reshape(3, 3)
    focal = FINER * camera.focal * WIDTH
    middle = FINER * np.array([WIDTH, HEIGHT]) / 2 - 0.5  # its pixels' centres are whole numbers
    matrix = np.array([[focal, 0, middle[0]], [0, focal, middle[1]], [0, 0, 1]])
    shift = -camera_from_world @ np.asarray(camera.position_mm)
    canvas = np.zeros((FINER * HEIGHT, FINER * WIDTH), np.uint8)
    for mesh in meshes(piece):
        world = mesh.vertices @ turn.T + np.asarray(piece.position_mm)
        pixels, _ = cv2.projectPoints(
            world, cv2.Rodrigues(camera_from_world)[0], shift, matrix, None
        )
        for triangle in np.rint(pixels[:, 0][mesh.faces] * 256).astype(np.int32):
            cv2.fillConvexPoly(canvas, triangle, 1, cv2.LINE_8, 8)
    return canvas[FINER // 2 :: FINER, FINER // 2 :: FINER] > 0


def looked_at(piece: Piece, seed: int) -> tuple[Scene, Picture]:
    rng = np.random.default_rng([seed, 23])
    scene = one_piece_scene(posed(piece, rng), rng)
    return scene, render(scene, WIDTH, HEIGHT, native_stages())


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("piece", [ELBOW, TEE, CONE, PIPE], ids=("elbow", "tee", "cone", "pipe"))
def test_the_silhouette_is_trimeshs(piece: Piece, seed: int) -> None:
    """Within a pixel, but for a few rays along the limb that run out of steps."""
    scene, picture = looked_at(piece, seed)
    ours, theirs = picture.truth.part[0] > 0, silhouette(scene)
    assert 0.1 < theirs.mean() < 0.6
    core, rim = shrunk(theirs), grown(theirs)
    assert not (ours & ~rim).any()
    assert (core & ~ours).sum() <= 0.002 * theirs.sum()
    assert (ours ^ theirs).sum() < 0.015 * theirs.sum()


def shrunk(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return np.asarray(cv2.erode(mask.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0)


def grown(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return np.asarray(cv2.dilate(mask.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0)


@pytest.mark.parametrize("seed", range(4))
def test_a_straight_pipe_is_where_rays_meet_its_cylinder(seed: int) -> None:
    """|o + t d|² = r² across the axis, the nearer root: its place is `along` and `around`."""
    scene, picture = looked_at(PIPE, seed)
    piece, camera = scene.pieces[0], scene.camera
    turn = np.asarray(piece.rotation).reshape(3, 3)
    ys, xs = np.mgrid[0:HEIGHT, 0:WIDTH] + 0.5
    focal = camera.focal * WIDTH
    rays = np.stack([(xs - WIDTH / 2) / focal, (ys - HEIGHT / 2) / focal, np.ones_like(xs)], -1)
    rays /= np.linalg.norm(rays, axis=-1, keepdims=True)
    rays = rays @ np.asarray(camera.rotation).reshape(3, 3) @ turn
    eye = (np.asarray(camera.position_mm) - np.asarray(piece.position_mm)) @ turn
    a = (rays[..., 1:] ** 2).sum(-1)
    b = (rays[..., 1:] * eye[1:]).sum(-1)
    root = b**2 - a * ((eye[1:] ** 2).sum() - piece.radius_mm**2)
    meets = root > 0
    depth = (-b - np.sqrt(np.where(meets, root, 0.0))) / a
    point = eye + depth[..., None] * rays
    meets &= (point[..., 0] > 0.0) & (point[..., 0] < piece.length_mm)
    body = picture.truth.part[0] == Part.BODY.label
    assert (body & meets).sum() > 1500
    core, rim = shrunk(meets), grown(meets)
    assert (core & ~body).sum() <= 0.002 * meets.sum()
    # The very edge of an end face counts as outside: a pixel of it, no more.
    beyond = hits(scene, picture).local[body & ~rim]
    inward_mm = piece.radius_mm - np.hypot(beyond[:, 1], beyond[:, 2])
    assert np.abs(inward_mm).max(initial=0.0) < 1.5 * float(depth[core].max()) / focal
    # Off the limb, where a pixel is many millimetres of the surface.
    square = np.abs((point[..., 1:] * rays[..., 1:]).sum(-1)) / piece.radius_mm > 0.3
    on = core & body & square
    footprint_mm = float(depth[on].max()) / focal
    assert np.abs(picture.truth.depth_mm[0] - depth)[on].max() < footprint_mm
    along = picture.truth.along[0] - point[..., 0] / piece.length_mm
    assert np.abs(along)[on].max() * piece.length_mm < 2 * footprint_mm
    # A concentric piece's `around` counts from the side that faces the camera.
    datum = np.arctan2(eye[1], -eye[2])
    around = np.arctan2(point[..., 1], -point[..., 2]) - datum
    found = np.arctan2(picture.truth.around_sin[0], picture.truth.around_cos[0])
    off = np.abs(np.angle(np.exp(1j * (found - around))))[on]
    assert off.max() * piece.radius_mm < 4 * footprint_mm
