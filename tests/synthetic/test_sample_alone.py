"""Things that are no fitting: how they lie, what they wear, and that they are labelled nothing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fittings.words import Kind
from synthetic.assembly import dropped, moved, outline, resized
from synthetic.held_out import SKINS as HELD_OUT_SKINS
from synthetic.packing import Numbers, pack
from synthetic.sample import sample_scene
from synthetic.sample_alone import ALONE_SHARE, THINGS, alone, beside, thing
from synthetic.sample_skins import SKINS
from synthetic.sample_yard import any_look
from synthetic.scene import MOST_PROPS, Prop, Scene, Skin, Wear
from synthetic.shapes import props_distance
from tests.synthetic.scenes import small


def solid(props: list[Prop], points: np.ndarray) -> np.ndarray:
    """(N,) whether world points (N, 3) lie within one of the props, by the renderer's distance."""
    n = Numbers(pack([(Scene(props=tuple(props)), None)]).astype(np.float64))
    return np.asarray(props_distance(np, n, tuple(points.T[:, None]))[0][0]) < -1e-6  # type: ignore[arg-type]


def drawn(name: str, index: int) -> list[Prop]:
    rng = np.random.default_rng([3, index])
    return thing(rng, any_look(rng), any_look(rng), name)


@pytest.mark.parametrize("name", THINGS)
def test_a_thing_stands_on_the_ground_within_its_outline(name: str) -> None:
    rng = np.random.default_rng(4)
    for index in range(6):
        props = drawn(name, index)
        assert 1 <= len(props) <= MOST_PROPS
        points = outline(props)
        low, high = points.min(axis=0), points.max(axis=0)
        assert low[2] == pytest.approx(0.0, abs=1e-6 * np.ptp(points))
        assert low[:2] + high[:2] == pytest.approx(0.0, abs=1e-3 * np.ptp(points))
        # A circle is known by 24 of its points, which lie up to 1 % of its radius within it.
        room = 0.02 * (high - low).max()
        anywhere = rng.uniform(low - 0.5 * (high - low), high + 0.5 * (high - low), (1500, 3))
        inside = anywhere[solid(props, anywhere)]
        assert ((inside > low - room) & (inside < high + room)).all()


def test_resizing_and_moving_keep_a_things_form() -> None:
    props = drawn("welding-neck flange", 1)
    low, high = outline(props).min(axis=0), outline(props).max(axis=0)
    anywhere = np.random.default_rng(5).uniform(low, high, (3000, 3))
    turn = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    by = np.array([30.0, -20.0, 10.0])
    changed = moved(resized(props, 1.7), turn, by)
    before, after = solid(props, anywhere), solid(changed, 1.7 * anywhere @ turn.T + by)
    assert before.sum() > 100
    assert (before == after).mean() > 0.999
    assert outline(dropped(changed))[:, 2].min() == pytest.approx(0.0, abs=1e-6)


def test_a_third_of_scenes_without_a_piece_show_one_thing_large() -> None:
    count, single, wear = 400, 0, set()
    for index in range(count):
        scene = sample_scene(np.random.default_rng([6, index]), ())
        assert not scene.pieces
        single += any(mark.half_width_mm > 0.0 for mark in scene.wear.marks)
        if any(prop.own_skin < 0.5 for prop in scene.props):
            wear.add(scene.wear.skin.name)
    # Every skin that fittings come with, and none that is kept for the exam; some with marks.
    assert wear == set(SKINS)
    assert not wear & set(HELD_OUT_SKINS)
    assert 0.25 * ALONE_SHARE < single / count < 0.75 * ALONE_SHARE


def test_a_camera_sees_what_stands_alone() -> None:
    shares = []
    for index in range(12):
        single = alone(np.random.default_rng([7, index]))
        assert len(single.props) <= MOST_PROPS
        away = np.linalg.norm(single.points - single.target, axis=1)
        assert away.max() == pytest.approx(single.extent_mm)
    for index in range(40):
        scene = sample_scene(np.random.default_rng([8, index]), ())
        if not any(mark.half_width_mm > 0.0 for mark in scene.wear.marks):
            continue
        with_all = small(scene).truth.depth_mm
        shares.append((with_all != small(replace(scene, props=())).truth.depth_mm).mean())
    assert len(shares) > 4
    assert np.median(shares) > 0.08


def test_things_wear_the_scenes_skin_and_are_still_nothing() -> None:
    pipe = Prop(half_length_mm=150, half_height_mm=80, wall_mm=9, position_mm=(0.0, 0.0, 80.0))
    green = Skin(rgb=(0.0, 0.5, 0.0), second_rgb=(0.0, 0.5, 0.0))
    shown = []
    for own in (0.0, 1.0):
        worn = replace(pipe, own_skin=own, rgb=(0.5, 0.0, 0.0))
        scene = Scene(props=(worn,), wear=Wear(radius_mm=80.0, skin=green))
        picture = small(replace(scene, camera=replace(scene.camera, position_mm=(0, -900.0, 150.0),
                                rotation=(1, 0, 0, 0, 0, -1, 0, 1, 0))))  # fmt: skip
        assert (picture.truth.part == 0).all()
        assert (picture.truth.seam == 0).all()
        shown.append(picture.rgb[0, :, 48, 64])
    assert shown[0][1] > shown[0][0]
    assert shown[1][0] > shown[1][1]


def test_a_thing_beside_a_piece_leaves_it_its_kind() -> None:
    found = [
        props
        for index in range(100)
        if (props := beside(np.random.default_rng([9, index]), 200.0, (0.3, 0.3, 0.3)))
    ]
    assert 8 <= len(found) <= 35
    for props in found:
        points = outline(props)
        assert points[:, 2].min() > -1e-6
        assert np.hypot(*points.mean(axis=0)[:2]) > 100.0  # beside, not on, the pieces
    piece_scene = sample_scene(np.random.default_rng([10, 1]), (Kind.TEE,))
    assert [piece.kind for piece in piece_scene.pieces] == [Kind.TEE]
