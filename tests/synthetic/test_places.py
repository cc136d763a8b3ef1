"""Places on a piece against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from fittings.words import Construction, Kind
from synthetic.draws import nine
from synthetic.packing import Numbers, pack
from synthetic.places import Place, place_on, place_on_prop
from synthetic.scene import Piece, Prop, Scene, Wear
from synthetic.shapes import SHAPES


def places(piece: Piece, points: np.ndarray) -> Place:
    """The places of (N, 3) points of the piece's frame, each field (1, N)."""
    n = Numbers(pack([(Scene(), piece)]).astype(np.float64))
    local = (points[None, :, 0], points[None, :, 1], points[None, :, 2])
    shape = SHAPES[piece.kind](np, n, local, None)
    return place_on(np, piece.kind, n, local, shape.part, shape.along, shape.around)


def axis_of(place: Place) -> np.ndarray:
    return np.stack([c + 0.0 * place.axial_mm for c in place.axis], -1)[0]


def test_an_elbow_is_laid_out_along_its_arc() -> None:
    piece = Piece(kind=Kind.ELBOW, radius_mm=100.0, length_mm=300.0, bend_deg=90.0, stub_mm=20.0)
    a = np.radians(np.array([-45.0, -10.0, 0.0, 30.0, 45.0]))
    extrados = 400.0 * np.stack([np.cos(a), np.sin(a), 0 * a], 1)
    place = places(piece, extrados)
    arc = 300.0 * (a + np.pi / 4)
    assert place.axial_mm[0] == pytest.approx(20.0 + arc, abs=1e-3)
    length = 300.0 * np.pi / 2 + 40.0
    assert place.length_mm[0] == pytest.approx(np.full(5, length), abs=1e-3)
    assert place.end_mm[0] == pytest.approx(np.minimum(20 + arc, length - 20 - arc), abs=1e-3)
    tangent = np.stack([-np.sin(a), np.cos(a), 0 * a], 1)
    assert axis_of(place) == pytest.approx(tangent, abs=1e-6)
    beyond = extrados[-1] + 15.0 * tangent[-1]  # on the straight end
    assert axis_of(places(piece, beyond[None])) == pytest.approx(tangent[-1:], abs=1e-6)
    assert places(piece, beyond[None]).end_mm[0, 0] == pytest.approx(5.0, abs=1e-3)


def test_a_tee_has_three_open_ends_and_two_directions() -> None:
    piece = Piece(
        kind=Kind.TEE, radius_mm=100.0, second_radius_mm=60.0, length_mm=200.0,
        second_length_mm=180.0, crotch_radius_mm=0.0,
    )  # fmt: skip
    points = np.array([[-190.0, 0, -100.0], [50.0, 0, -100.0], [60.0, 0.0, 150.0]])
    place = places(piece, points)
    assert place.end_mm[0] == pytest.approx([10.0, 150.0, 30.0], abs=1e-3)
    assert place.radius_mm[0] == pytest.approx([100.0, 100.0, 60.0])
    assert axis_of(place) == pytest.approx(np.array([[1, 0, 0], [1, 0, 0], [0, 0, 1.0]]))


def test_a_reducers_marks_stay_where_the_camera_is_moved() -> None:
    piece = Piece(
        kind=Kind.REDUCER, radius_mm=100.0, second_radius_mm=60.0, length_mm=200.0, stub_mm=30.0,
        second_stub_mm=40.0,
    )  # fmt: skip
    t = np.linspace(-3.0, 3.0, 7)
    points = np.stack([0 * t + 10.0, 100.0 * np.sin(t), -100.0 * np.cos(t)], 1)
    place = places(piece, points)
    assert place.around[0] == pytest.approx(t, abs=1e-6)
    assert place.end_mm[0] == pytest.approx(np.full(7, 10.0), abs=1e-3)
    small = places(piece, np.array([[170.0, 0.0, -60.0], [195.0, 0.0, -60.0]]))
    assert small.radius_mm[0] == pytest.approx([60.0, 60.0], abs=1e-3)
    assert small.end_mm[0] == pytest.approx([30.0, 5.0], abs=1e-3)


@pytest.mark.parametrize("kind", [Kind.ELBOW, Kind.TEE, Kind.REDUCER])
def test_around_grows_with_axis_cross_normal(kind: Kind) -> None:
    """Right-handed about the direction in which `along` grows: what bends of normals rely on."""
    piece = Piece(
        kind=kind, construction=Construction.SEAMLESS, radius_mm=100.0, second_radius_mm=60.0,
        length_mm=300.0, second_length_mm=200.0, stub_mm=30.0, second_stub_mm=30.0,
    )  # fmt: skip
    t = np.linspace(0.3, 5.9, 9)
    if kind is Kind.ELBOW:
        ring = np.stack([300.0 + 100.0 * np.cos(t), 0 * t, -100.0 * np.sin(t)], 1)
        normal = np.stack([np.cos(t), 0 * t, -np.sin(t)], 1)
    else:
        at = -250.0 if kind is Kind.TEE else 10.0
        ring = np.stack([0 * t + at, 100.0 * np.sin(t), 100.0 * np.cos(t)], 1)
        normal = np.stack([0 * t, np.sin(t), np.cos(t)], 1)
    here = places(piece, ring)
    step = 0.5 * np.cross(axis_of(here), normal)
    there = places(piece, ring + step)
    turned = (there.around - here.around)[0]
    turned = turned - 2 * np.pi * np.round(turned / (2 * np.pi))
    assert (turned > 0.003).all()
    ahead = places(piece, ring + 0.5 * axis_of(here))
    assert (ahead.axial_mm - here.axial_mm > 0.3).all()


def test_places_on_a_prop_at_hand_checked_points() -> None:
    """A pipe of radius 40, its axis up from z = 0 to 160: points outside, within, and on top."""
    turn = np.array([[0.0, 0.0, -1.0], [0.0, 1.0, 0.0], [1.0, 0.0, 0.0]])  # x becomes z
    pipe = Prop(
        half_length_mm=80, half_height_mm=40, wall_mm=6, rotation=nine(turn),
        position_mm=(7.0, 5.0, 80.0),
    )  # fmt: skip
    scene = Scene(props=(Prop(), pipe), wear=Wear(radius_mm=40.0))
    n = Numbers(pack([(scene, None)]).astype(np.float64))
    points = np.array([[47.0, 5.0, 20.0], [7.0, 39.0, 150.0], [7.0, 42.0, 160.0]])
    normals = np.array([[1.0, 0.0, 0.0], [0.0, -1.0, 0.0], [0.0, 0.0, 1.0]])
    which = np.ones((1, 3))
    local, place, outside = place_on_prop(
        np, n, which, tuple(points.T[:, None]), tuple(normals.T[:, None])
    )
    assert local[0][0] == pytest.approx([20.0, 150.0, 160.0], abs=1e-3)
    assert place.axial_mm[0] == pytest.approx([20.0, 150.0, 160.0], abs=1e-3)
    assert place.end_mm[0] == pytest.approx([20.0, 10.0, 0.0], abs=1e-3)
    assert place.length_mm[0] == pytest.approx(160.0)
    assert place.radius_mm[0] == pytest.approx(40.0)
    assert np.abs(place.around[0][0] - place.around[0][1]) == pytest.approx(np.pi / 2, abs=1e-3)
    axes = np.stack([a[0] for a in place.axis]).T
    assert np.abs(axes - [0.0, 0.0, 1.0]).max() < 1e-6
    assert outside[0].tolist() == [1.0, 0.0, 1.0]  # the bore faces its axis
