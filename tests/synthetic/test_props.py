"""Props: their distances, what they hide, and that they are no seam of a piece."""

from __future__ import annotations

import shutil
from dataclasses import replace

import numpy as np
import pytest

from fittings.words import Construction, Kind
from synthetic.draws import any_rotation, nine
from synthetic.native import native_stages
from synthetic.packing import Numbers, pack
from synthetic.render import render
from synthetic.sample import HELD_RADIUS_MM, sample_scene
from synthetic.sample_joined import girth_weld, hand, spool
from synthetic.sample_pieces import piece_ends, sample_piece
from synthetic.scene import MOST_PROPS, Piece, Prop, Scene, Skin
from synthetic.shapes import props_distance
from synthetic.sight import in_the_way, within, within_piece
from tests.synthetic.scenes import drawn, small

FORMS = {
    "pipe": Prop(half_length_mm=80, half_height_mm=40, wall_mm=6),
    "box": Prop(shape=1, half_length_mm=80, half_height_mm=40, half_depth_mm=20),
    "cap": Prop(shape=2, half_length_mm=10, half_depth_mm=60, dome_mm=30, wall_mm=5),
    "tall cap": Prop(shape=2, half_length_mm=10, half_depth_mm=40, dome_mm=70),
    "ring": Prop(shape=3, half_length_mm=1, half_height_mm=60, half_depth_mm=12, dome_mm=12),
    "bead": Prop(shape=3, half_length_mm=1, half_height_mm=60, half_depth_mm=3, dome_mm=12),
    "rod": Prop(shape=3, half_length_mm=60, half_depth_mm=9, dome_mm=9),
    "flange": Prop(
        shape=4, half_length_mm=10, half_height_mm=90, wall_mm=50, hub_mm=60, hub_radius_mm=65,
        holes=8, hole_mm=7, hole_circle_mm=78,
    ),
    "cone": Prop(shape=5, half_length_mm=80, half_height_mm=70, half_depth_mm=10, dome_mm=0),
    "bucket": Prop(
        shape=5, half_length_mm=60, half_height_mm=45, half_depth_mm=90, wall_mm=6, dome_mm=9
    ),
    "sleeve": Prop(
        shape=5, half_length_mm=60, half_height_mm=50, half_depth_mm=50, wall_mm=6, dome_mm=0
    ),
}  # fmt: skip


def distance_mm(prop: Prop, points: np.ndarray) -> np.ndarray:
    """Distance to the prop at (N, 3) points, the prop lying at the origin."""
    scene = Scene(props=(replace(prop, position_mm=(0.0, 0.0, 0.0)),))
    n = Numbers(pack([(scene, None)]).astype(np.float64))
    return np.asarray(props_distance(np, n, tuple(points.T[:, None]))[0][0])  # type: ignore[arg-type]


@pytest.mark.parametrize("name", FORMS)
def test_a_props_distance_is_never_more_than_the_true_one(name: str) -> None:
    """No two points differ in distance by more than they lie apart, so that a ray that steps by it
    passes through nothing."""
    rng = np.random.default_rng(3)
    a = rng.normal(size=(4000, 3)) * 80
    b = a + rng.normal(size=a.shape) * rng.choice([2.0, 40.0], (4000, 1))
    apart = np.linalg.norm(a - b, axis=1)
    assert (np.abs(distance_mm(FORMS[name], a) - distance_mm(FORMS[name], b)) <= apart + 1e-6).all()


@pytest.mark.parametrize(
    ("name", "point", "expected"),
    [
        ("pipe", (0, 45, 0), 5.0), ("pipe", (0, 0, 0), 34.0), ("box", (0, 0, 27), 7.0),
        ("cap", (45, 0, 0), 5.0), ("cap", (0, 60, 0), 0.0), ("cap", (-14, 0, 57), 4.0),
        ("cap", (-5, 0, 0), 25.0), ("tall cap", (80, 0, 0), 0.0), ("ring", (0, 0, 77), 5.0),
        ("ring", (0, 0, 0), 48.0), ("bead", (0, 0, 63), 0.0), ("bead", (13, 0, 60), 0.0),
        ("rod", (74, 0, 0), 5.0), ("rod", (0, 9, 0), 0.0), ("flange", (15, 80, 0), 5.0),
        ("flange", (0, 100, 0), 10.0), ("flange", (0, 0, 0), 40.0), ("flange", (70, 45, 0), 10.0),
        # 3 down for every 8 along: 40 mm off the slant at its middle, times 8 / sqrt(73).
        ("cone", (0, 80, 0), 40 * 8 / 73**0.5), ("cone", (90, 0, 0), 10.0), ("cone", (0, 0, 40), 0),
        # Down to the floor at -60 + 9; above it the wall is 6 thick across; open at the top.
        ("bucket", (-40, 0, 0), 11.0), ("bucket", (-65, 0, 0), 5.0), ("bucket", (70, 90, 0), 10.0),
        ("bucket", (0, 0, 0), 51.0), ("sleeve", (0, 50, 0), 0.0), ("sleeve", (-60, 0, 0), 44.0),
        ("sleeve", (0, 0, 0), 44.0),
    ],
)  # fmt: skip
def test_a_props_distance_at_hand_checked_points(
    name: str, point: tuple[float, ...], expected: float
) -> None:
    # Within a cap of half the height all counts at half, which is safe.
    assert distance_mm(FORMS[name], np.array([point], float))[0] == pytest.approx(expected, abs=0.2)


@pytest.mark.parametrize("holes", [4, 8])
def test_a_flange_has_its_bolt_holes(holes: int) -> None:
    prop = replace(FORMS["flange"], holes=float(holes))
    turn = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    circle = np.stack([0 * turn, 78 * np.cos(turn), 78 * np.sin(turn)], 1)
    empty = distance_mm(prop, circle) > 0
    assert (np.diff(empty.astype(int), append=empty[0]) == 1).sum() == holes


def test_a_scene_holds_so_many_props_and_no_more() -> None:
    Scene(props=(Prop(),) * MOST_PROPS)
    with pytest.raises(ValueError, match="props"):
        Scene(props=(Prop(),) * (MOST_PROPS + 1))


def some_forms(forms: list[Prop]) -> Scene:
    """Those forms of prop in one picture, beside a piece."""
    scene, piece = drawn(Kind.ELBOW, Construction.SEAMLESS, 2)
    size, rng = piece.radius_mm, np.random.default_rng(4)
    props = []
    for number, prop in enumerate(forms):
        k = 1.3 * size / 60
        lengths = {
            name: getattr(prop, name) * k
            for name in Prop.__dataclass_fields__
            if name.endswith("_mm") and name != "position_mm"
        }
        turn = 2 * np.pi * number / len(forms)
        x, y = 1.3 * piece.length_mm * np.cos(turn), 1.3 * piece.length_mm * np.sin(turn)
        place = (float(x), float(y), size)
        props.append(replace(prop, **lengths, rotation=nine(any_rotation(rng)), position_mm=place))
    camera = replace(scene.camera, focal=0.7)
    return replace(scene, props=tuple(props), camera=camera)


@pytest.mark.parametrize("start", [0, 1])
def test_compiled_props_are_those_of_numpy(start: int) -> None:
    if not any(map(shutil.which, ("cc", "gcc", "clang"))):
        pytest.skip("no C compiler here")
    scene = some_forms(list(FORMS.values())[start::2])
    a, b = render(scene, 128, 96), render(scene, 128, 96, native_stages())
    bare = small(replace(scene, props=()))
    assert (np.abs(bare.truth.depth_mm - a.truth.depth_mm) > 1.0).mean() > 0.05
    near = np.abs(a.truth.depth_mm - b.truth.depth_mm) < 0.01 * a.truth.depth_mm
    assert near.mean() > 0.995
    assert (np.abs(a.rgb - b.rgb).max(axis=1) < 0.05).mean() > 0.985


@pytest.mark.parametrize("kind", [Kind.ELBOW, Kind.TEE, Kind.REDUCER])
def test_pipe_welded_to_a_sound_piece_is_no_seam_of_it(kind: Kind) -> None:
    scene, piece = drawn(kind, Construction.SEAMLESS, 6)
    for index in range(4):
        props = spool(np.random.default_rng([7, index]), piece)
        assert len(props) <= MOST_PROPS
        truth = small(replace(scene, props=tuple(props))).truth
        assert (truth.seam == 0).all()
        centres = [c for c, _, _ in piece_ends(piece)]
        rotation = np.asarray(piece.rotation).reshape(3, 3)
        ends = [rotation @ c + np.asarray(piece.position_mm) for c in centres]
        # Joints, every second prop or so, lie at the ends of the piece or beyond.
        for prop in props:
            if prop.shape == 3.0:
                gap = min(np.linalg.norm(np.asarray(prop.position_mm) - end) for end in ends)
                assert gap < 1e-6 * piece.radius_mm or gap > 0.5 * piece.second_radius_mm


def test_pipe_may_wear_the_pieces_skin() -> None:
    scene, piece = drawn(Kind.REDUCER, Construction.SEAMLESS, 2)
    green = replace(piece, skin=Skin(rgb=(0.0, 0.5, 0.0), second_rgb=(0.0, 0.5, 0.0)))
    centre, out, radius = piece_ends(piece)[0]
    rotation = np.asarray(piece.rotation).reshape(3, 3)
    at = rotation @ centre + np.asarray(piece.position_mm)
    ring = girth_weld(rotation @ out, at, radius, 0.2 * radius, 0.2 * radius, rgb=(0.5, 0.0, 0.0))
    pictures = [
        small(replace(scene, pieces=(green,), props=(replace(ring, own_skin=own),)))
        for own in (0.0, 1.0)
    ]
    shown = pictures[0].truth.part[0] != small(replace(scene, pieces=(green,))).truth.part[0]
    assert shown.sum() > 30
    red, green_ = (p.rgb[0][:, shown].mean(axis=1) for p in reversed(pictures))
    assert red[0] > red[1]
    assert green_[1] > green_[0]


def test_hands_fit_into_a_scene() -> None:
    for index in range(30):
        rng = np.random.default_rng([8, index])
        piece = sample_piece(rng, (Kind.ELBOW, Kind.TEE, Kind.REDUCER)[index % 3])
        props = hand(rng, replace(piece, radius_mm=min(piece.radius_mm, HELD_RADIUS_MM)))
        assert 4 <= len(props) <= MOST_PROPS
        assert all(prop.shape == 3.0 for prop in props)


def test_no_camera_is_in_a_prop_or_piece_nor_looks_at_one_alone() -> None:
    for index in range(250):
        scene = sample_scene(np.random.default_rng([9, index]))
        at = np.asarray(scene.camera.position_mm)[None]
        assert not any(within(prop, at)[0] for prop in scene.props)
        if len(scene.pieces) == 1:
            assert not within_piece(scene.pieces[0], at)[0]
        away = 2.0 * float(np.linalg.norm(at))
        assert not in_the_way(scene.camera, scene.props, np.zeros((0, 3)), away / 40)


@pytest.mark.parametrize("name", FORMS)
def test_what_stands_in_the_way_is_no_smaller_than_the_prop(name: str) -> None:
    points = np.random.default_rng(5).normal(size=(3000, 3)) * 60
    solid = distance_mm(FORMS[name], points) < -1e-6
    at_origin = replace(FORMS[name], position_mm=(0.0, 0.0, 0.0))
    assert within(at_origin, points)[solid].all()


@pytest.mark.parametrize("kind", [Kind.ELBOW, Kind.TEE, Kind.REDUCER])
def test_a_piece_lies_within_what_is_taken_for_it(kind: Kind) -> None:
    _, piece = drawn(kind, Construction.SEAMLESS, 4)
    truth_points = np.random.default_rng(6).normal(size=(20000, 3)) * piece.length_mm
    from_piece = Numbers(pack([(Scene(), piece)]).astype(np.float64))
    from synthetic.shapes import SHAPES

    shape = SHAPES[kind](np, from_piece, tuple(truth_points.T[:, None]), None)  # type: ignore[arg-type]
    solid = np.asarray(shape.distance_mm[0]) < -1e-3
    here = within_piece(Piece(**{f: getattr(piece, f) for f in Piece.__dataclass_fields__}
                                 | {"rotation": Piece().rotation, "position_mm": (0.0, 0.0, 0.0)}),
                        truth_points, 0.6 * piece.radius_mm)  # fmt: skip
    assert here[solid].all()
