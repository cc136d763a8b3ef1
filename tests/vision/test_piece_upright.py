"""What a camera held level says of the piece: axes against the renderer's camera, turns against the
surface's own coordinates."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.words import Kind, Part
from tests.vision.pieces import tube_maps
from tests.vision.test_piece_seen import pictured
from vision.piece_form import PARTS, usual_form
from vision.piece_seen import COLUMNS
from vision.piece_truth import half_turned, true_form
from vision.piece_upright import axes_of, directions, turn_matrix, upright_odds
from vision.truth import truth_maps


@pytest.mark.parametrize(
    ("kind", "eye"),
    [
        (Kind.ELBOW, (1.0, -2.0, 7.0)),
        (Kind.ELBOW, (6.0, 3.0, 1.5)),
        (Kind.TEE, (1.5, -6.0, 2.0)),
        (Kind.TEE, (5.0, 2.0, 4.5)),
    ],
)
def test_the_axes_are_the_renderers_cameras(kind: Kind, eye: tuple[float, float, float]) -> None:
    """The piece is not turned in these scenes, so its frame is the world's; the rows of the scene's
    rotation are its camera's right, down and forward there."""
    scene, picture = pictured(kind, eye)
    maps = truth_maps(picture, kind, fabricated=False)
    camera = np.reshape(scene.camera.rotation, (3, 3))
    for form in (true_form(scene.pieces[0]), usual_form(kind)):
        for own, turn in ((maps, 0), (half_turned(maps, kind), 1)):
            axes = axes_of(own, form)
            assert axes is not None
            found = axes @ turn_matrix(kind, turn).T
            off = np.degrees(np.arccos(np.clip((found * camera).sum(axis=1), -1.0, 1.0)))
            assert off.max() < 12.0, off


def test_too_small_a_piece_has_no_axes() -> None:
    maps = tube_maps(radius_px=0.4)
    assert axes_of(maps, usual_form(Kind.REDUCER)) is None


@pytest.mark.parametrize("kind", [Kind.ELBOW, Kind.TEE, Kind.REDUCER])
def test_turns_move_points_as_they_renumber_the_surface(kind: Kind) -> None:
    """A half turn swaps the ends and mirrors `around` (an outlet's moves by 180°); columns add to a
    reducer's `around`: as `vision.piece_seen.turned` moves cells."""
    form, rng = usual_form(kind), np.random.default_rng(3)
    turn = 7 if kind is Kind.REDUCER else 1
    for part in PARTS[kind]:
        along, around = rng.uniform(size=9), rng.uniform(-np.pi, np.pi, 9)
        if kind is Kind.REDUCER:
            new = along, around + 2 * np.pi * turn / COLUMNS
        elif part is Part.OUTLET:
            new = along, around + np.pi
        else:
            new = 1.0 - along, -around
        moved = form.points(part, along, around) @ turn_matrix(kind, turn).T
        np.testing.assert_allclose(moved, form.points(part, *new), atol=1e-9)
    assert np.allclose(turn_matrix(kind, 0), np.eye(3))


def test_directions_are_spread_evenly() -> None:
    found = directions()
    assert np.allclose(np.linalg.norm(found, axis=1), 1.0)
    assert np.allclose(found.mean(axis=0), 0.0, atol=2e-3)
    # A cap of 30° holds (1 - cos 30°) / 2 of the sphere, wherever it is (Archimedes).
    for pole in np.eye(3):
        share = (found @ pole > np.cos(np.radians(30.0))).mean()
        assert share == pytest.approx((1 - np.cos(np.radians(30.0))) / 2, abs=0.004)


@given(st.floats(0.0, 80.0), st.floats(-180.0, 180.0), st.floats(0.0, 3.0))
def test_what_is_straight_up_in_the_picture_is_likeliest(
    height_deg: float, azimuth_deg: float, roll_deg: float
) -> None:
    """A camera held level `height_deg` above the piece: up is likelier than nine in ten other
    directions, and straight down is not."""
    e, a, r = np.radians([height_deg, azimuth_deg, roll_deg])
    toward = np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])
    right = np.array([-np.sin(a), np.cos(a), 0.0])
    down = np.cross(-toward, right)
    rolled = np.cos(r) * right + np.sin(r) * down, np.cos(r) * down - np.sin(r) * right
    axes = np.stack([*rolled, -toward])
    others = upright_odds(axes, directions())
    assert others.mean() == pytest.approx(1.0)
    both = np.array([[0.0, 0.0, 1.0], [0.0, 0.0, -1.0]])
    up, under = upright_odds(axes, np.concatenate([both, directions()]))[:2]
    assert up > np.quantile(others, 0.9)
    assert under < 1.0
