"""What a photo shows of the surface: on a tube whose answer is known, and on rendered pieces
against points of their exact surface seen past the picture's depth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.ndimage import maximum_filter

from fittings.words import Construction, Kind, Part
from synthetic.camera import looking_at, project
from synthetic.native import native_stages
from synthetic.render import Picture, render
from synthetic.scene import Camera, Light, Piece, Scene, Skin
from tests.vision.pieces import tube_maps
from vision.piece_form import PARTS, Form, usual_form
from vision.piece_seen import COLUMNS, ROWS, cell_centres, seen_map, seen_share, turned, union
from vision.piece_truth import true_form
from vision.truth import truth_maps

TUBE = Form(kind=Kind.REDUCER, length=3.0)


@pytest.mark.parametrize("facing_deg", [0.0, 90.0, 180.0, -130.0])
def test_a_tube_seen_from_far_away_shows_half_of_itself(facing_deg: float) -> None:
    seen = seen_map(tube_maps(facing_deg=facing_deg), TUBE, 192.0)
    share = seen[Part.BODY].share
    # At a limb the last half pixel is 8 degrees of a tube of radius 50: not all of it is claimed.
    assert 0.47 <= seen_share(TUBE, {Part.BODY: share}) <= 0.5
    _, around = cell_centres()
    off = np.abs(np.angle(np.exp(1j * (around[0] - np.radians(facing_deg)))))
    assert (share[:, off < np.radians(80)] == 1.0).all()
    assert (share[:, off > np.radians(100)] == 0.0).all()


def test_pixels_on_a_radius_fall_with_the_slant() -> None:
    """At the middle a radius of 50 pixels has 50; at 60° to the eye cos 60° of them."""
    sharp = seen_map(tube_maps(), TUBE, 192.0)[Part.BODY].px_per_radius
    _, around = cell_centres()
    middle = np.abs(around[0]) < np.radians(5)
    slant = np.abs(np.abs(around[0]) - np.radians(57.5)) < np.radians(1)
    assert np.median(sharp[:, middle]) == pytest.approx(50.0, rel=0.08)
    assert np.median(sharp[:, slant]) == pytest.approx(50.0 * np.cos(np.radians(57.5)), rel=0.15)
    twice = seen_map(tube_maps(), TUBE, 384.0)[Part.BODY].px_per_radius
    assert twice == pytest.approx(2.0 * sharp)


def test_an_unsure_map_shows_nothing() -> None:
    maps = tube_maps()
    unsure = replace(maps, around_cos=0.5 * maps.around_cos, around_sin=0.5 * maps.around_sin)
    assert seen_map(unsure, TUBE, 192.0)[Part.BODY].share.max() == 0.0


RADIUS_MM = 84.0
BASE = {"radius_mm": RADIUS_MM, "wall_mm": 7.0, "bevel": 0.0, "skin": Skin()}
PIECES = {
    Kind.ELBOW: Piece(kind=Kind.ELBOW, length_mm=229.0, **BASE),
    Kind.TEE: Piece(
        kind=Kind.TEE,
        second_radius_mm=57.0,
        second_wall_mm=6.0,
        length_mm=143.0,
        second_length_mm=130.0,
        construction=Construction.FABRICATED,
        **BASE,
    ),
}


def pictured(kind: Kind, eye: tuple[float, float, float]) -> tuple[Scene, Picture]:
    """The piece hung in the air, from `eye`, in radii from its middle."""
    piece = replace(PIECES[kind], position_mm=(0.0, 0.0, 1000.0))
    middle = np.array([0.8 * 229.0 if kind is Kind.ELBOW else 0.0, 0.0, 1000.0])
    at = middle + RADIUS_MM * np.array(eye)
    camera = Camera(
        position_mm=tuple(float(v) for v in at),  # type: ignore[arg-type]
        rotation=looking_at(at, middle, 0.0),  # type: ignore[arg-type]
        focal=1.1,
    )
    scene = Scene(pieces=(piece,), camera=camera, light=Light())
    return scene, render(scene, 256, 192, run=native_stages())


def truly_seen(scene: Scene, picture: Picture, form: Form) -> float:
    """Share of the surface's area whose points face the camera, lie in the frame and are not behind
    what the picture shows there (its depth is that of the ray's first hit)."""
    piece, camera, count = scene.pieces[0], scene.camera, 3
    height, width = picture.truth.part.shape[1:]
    front = np.where(picture.truth.piece[0] == 1, picture.truth.depth_mm[0], -np.inf)
    front = maximum_filter(front, 3)
    along = ((np.arange(ROWS * count) + 0.5) / (ROWS * count))[:, None]
    around = ((np.arange(COLUMNS * count) + 0.5) / (COLUMNS * count) * 2 - 1)[None] * np.pi
    shares = {}
    for part in PARTS[form.kind]:
        world = form.points(part, along, around) * RADIUS_MM + np.array(piece.position_mm)
        to_eye = np.array(camera.position_mm) - world
        away = np.linalg.norm(to_eye, axis=-1)
        faces = (form.normals(part, along, around) * to_eye).sum(-1) > 0
        pixel = project(
            world.reshape(-1, 3),
            position_mm=camera.position_mm,
            rotation=camera.rotation,
            focal_px=camera.focal * width,
            centre_px=(width / 2, height / 2),
        ).reshape(*away.shape, 2)
        x, y = (np.floor(pixel[..., axis]).astype(int) for axis in (0, 1))
        framed = (x >= 0) & (x < width) & (y >= 0) & (y < height)
        ahead = front[np.clip(y, 0, height - 1), np.clip(x, 0, width - 1)]
        visible = faces & framed & (away < ahead + 0.1 * RADIUS_MM)
        shares[part] = visible.reshape(ROWS, count, COLUMNS, count).mean(axis=(1, 3))
    return seen_share(form, shares)


@pytest.mark.parametrize(
    ("kind", "eye"),
    [
        (Kind.ELBOW, (1.0, -2.0, 7.0)),
        (Kind.ELBOW, (6.0, 3.0, 1.5)),
        (Kind.TEE, (1.5, -6.0, 2.0)),
        (Kind.TEE, (5.0, 2.0, 4.5)),
    ],
)
def test_the_seen_fraction_is_that_of_the_exact_surface(
    kind: Kind, eye: tuple[float, float, float]
) -> None:
    scene, picture = pictured(kind, eye)
    maps = truth_maps(picture, kind, fabricated=False)
    form = true_form(scene.pieces[0])
    for tried in (form, usual_form(kind)):
        seen = seen_map(maps, tried, 256.0)
        fraction = seen_share(form, {part: view.share for part, view in seen.items()})
        assert fraction == pytest.approx(truly_seen(scene, picture, form), abs=0.05)


cells = st.integers(0, 2**32 - 1).map(
    lambda seed: (np.random.default_rng(seed).random((ROWS, COLUMNS)) < 0.4).astype(float)
)


@given(st.sampled_from([Kind.ELBOW, Kind.TEE, Kind.REDUCER]), cells, st.integers(0, COLUMNS - 1))
def test_a_turn_moves_the_seen_and_leaves_how_much(kind: Kind, own: np.ndarray, turn: int) -> None:
    form = usual_form(kind)
    shares = dict.fromkeys(PARTS[kind], own)
    moved = {part: turned(kind, part, own, turn) for part in PARTS[kind]}
    assert seen_share(form, moved) == pytest.approx(seen_share(form, shares), abs=1e-9)
    for part in PARTS[kind]:
        back = turned(kind, part, moved[part], -turn)
        assert np.array_equal(back, own)


@given(cells, cells)
def test_another_photo_never_takes_anything_from_what_is_seen(
    one: np.ndarray, other: np.ndarray
) -> None:
    both = union([one, other])
    assert (both >= one).all()
    assert (both >= other).all()
    assert seen_share(usual_form(Kind.ELBOW), {Part.BODY: np.ones((ROWS, COLUMNS))}) == 1.0
