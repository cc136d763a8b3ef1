"""Plain scenes for tests: one piece, no props, no lens distortion, and their surface points."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from fittings.words import Construction, Kind
from synthetic.camera import looking_at
from synthetic.draws import any_rotation, nine, triple
from synthetic.native import native_stages
from synthetic.render import Picture, render
from synthetic.sample_pieces import outside_points, sample_piece
from synthetic.scene import Camera, Ground, Piece, Scene, Skin

WIDTH, HEIGHT = 128, 96
FOCAL = 1.2


def posed(piece: Piece, rng: np.random.Generator) -> Piece:
    """The piece turned anyhow, its lowest point a little above the ground."""
    rotation = any_rotation(rng)
    points = outside_points(piece) @ rotation.T
    middle = points.mean(axis=0)
    position = (-middle[0], -middle[1], 0.1 * piece.radius_mm - points[:, 2].min())
    return replace(piece, rotation=nine(rotation), position_mm=triple(position))


def one_piece_scene(piece: Piece, rng: np.random.Generator) -> Scene:
    """The posed piece, filling most of the frame, seen from anywhere above."""
    rotation = np.asarray(piece.rotation).reshape(3, 3)
    points = outside_points(piece) @ rotation.T + np.asarray(piece.position_mm)
    target = points.mean(axis=0)
    extent = float(np.linalg.norm(points - target, axis=1).max())
    azimuth, height = rng.uniform(0, 2 * np.pi), rng.uniform(0.2, 1.2)
    toward = np.array([np.cos(azimuth), np.sin(azimuth), height])
    position = target + toward / np.linalg.norm(toward) * extent * FOCAL / 0.34
    camera = Camera(
        position_mm=triple(position),
        rotation=looking_at(position, target, float(rng.uniform(-20, 20))),  # type: ignore[arg-type]
        focal=FOCAL,
    )
    return Scene(pieces=(piece,), camera=camera)


def drawn(kind: Kind, construction: Construction, seed: int) -> tuple[Scene, Piece]:
    """A scene of one drawn piece of that make."""
    rng = np.random.default_rng([seed, 17])
    piece = posed(sample_piece(rng, kind, construction), rng)
    return one_piece_scene(piece, rng), piece


class Hits(NamedTuple):
    """What a picture's pixels show, worked out from its depth by the pinhole's own formula.

    `point` (H, W, 3) world, `local` (H, W, 3) in the first piece's frame, `footprint_mm` (H, W).
    """

    point: np.ndarray
    local: np.ndarray
    footprint_mm: np.ndarray


def hits(scene: Scene, picture: Picture) -> Hits:
    """Surface points of all pixels; the camera must be free of distortion."""
    assert scene.camera.k1 == scene.camera.k2 == 0.0
    height, width = picture.truth.part.shape[-2:]
    focal_px = scene.camera.focal * max(width, height)
    ys, xs = np.mgrid[0:height, 0:width] + 0.5
    rays = np.stack([(xs - width / 2) / focal_px, (ys - height / 2) / focal_px, 1 + 0 * xs], -1)
    rays /= np.linalg.norm(rays, axis=-1, keepdims=True)
    depth = picture.truth.depth_mm[0].astype(np.float64)
    world = rays @ np.asarray(scene.camera.rotation).reshape(3, 3)
    point = np.asarray(scene.camera.position_mm) + depth[..., None] * world
    piece = scene.pieces[0]
    local = (point - np.asarray(piece.position_mm)) @ np.asarray(piece.rotation).reshape(3, 3)
    return Hits(point, local, depth / focal_px)


def small(scene: Scene) -> Picture:
    """The scene at the tests' size, by the compiled renderer where there is a compiler.

    It runs the same stages as numpy does, in a sixteenth of the time; `test_native` holds the two
    against each other, and `test_render` and the golden pictures are numpy's.
    """
    return render(scene, WIDTH, HEIGHT, native_stages())


MATT = Skin(
    rgb=(0.5, 0.4, 0.3),
    second_rgb=(0.5, 0.4, 0.3),
    patch_contrast=0.0,
    grain_contrast=0.0,
    roughness=1.0,
    metallic=0.0,
    gloss=0.0,
)
EVEN_GROUND = Ground(rgb=(0.4, 0.3, 0.2), second_rgb=(0.4, 0.3, 0.2), contrast=0.0)
