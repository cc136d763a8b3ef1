"""Outlines in closed form, against the scenes' own signed distances and against plain geometry.

The signed distances (`synthetic.shapes`) know nothing of outlines: a point of an outline must lie
on their surface, and a ray from the camera must graze it there.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from skimage.measure import CircleModel

from fittings.geometry import mitre_cut_angle_deg, mitre_kink_deg, mitre_pieces
from fittings.words import Kind, Part
from synthetic.packing import Numbers, pack
from synthetic.scene import Piece, Scene
from synthetic.shapes import SHAPES
from vision.outline_fit import signed_distances
from vision.outline_shapes import elbow, mitre_edge, reducer, tee
from vision.outline_surfaces import (
    chord_profile,
    elbow_surface,
    formed_profile,
    reducer_surface,
    tee_surface,
)

FAR = 1.0e5
cameras = st.tuples(st.floats(-np.pi, np.pi), st.floats(-1.2, 1.2), st.floats(8.0, 40.0)).map(
    lambda t: (
        t[2] * np.array([np.cos(t[0]) * np.cos(t[1]), np.sin(t[0]) * np.cos(t[1]), np.sin(t[1])])
    )
)


def heights(piece: Piece, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Height over the outside surface, and the unit normal there, at points (N, 3) in outside radii
    (by central differences)."""
    n = Numbers(pack([(Scene(pieces=(piece,)), piece)]))

    def height(p: np.ndarray) -> np.ndarray:
        x, y, z = (p * piece.radius_mm).T
        shape = SHAPES[piece.kind](np, n, (x[None], y[None], z[None]), None)
        return shape.outside_mm[0] / piece.radius_mm

    step = 1e-4
    gradient = np.stack(
        [(height(points + step * e) - height(points - step * e)) / (2 * step) for e in np.eye(3)],
        axis=-1,
    )
    return height(points), gradient / np.linalg.norm(gradient, axis=-1, keepdims=True)


def grazing(piece: Piece, points: np.ndarray, camera: np.ndarray) -> tuple[float, float]:
    """The largest height over the surface, and the largest sine between ray and surface."""
    height, normal = heights(piece, points)
    ray = points - camera
    ray /= np.linalg.norm(ray, axis=-1, keepdims=True)
    return float(np.abs(height).max()), float(np.abs((ray * normal).sum(-1)).max())


def inner(strokes: np.ndarray, rings: int, count: int = 49) -> np.ndarray:
    """The points after the first `rings` closed circles, without breaks."""
    rest = strokes[rings * (count + 1) :]
    return rest[np.isfinite(rest).all(axis=1)]


ELBOW = Piece(kind=Kind.ELBOW, radius_mm=100.0, length_mm=250.0, stub_mm=30.0, bend_deg=90.0)
TEE = Piece(
    kind=Kind.TEE,
    radius_mm=100.0,
    second_radius_mm=60.0,
    length_mm=180.0,
    second_length_mm=170.0,
    crotch_radius_mm=20.0,
)
REDUCER = Piece(
    kind=Kind.REDUCER,
    radius_mm=100.0,
    second_radius_mm=60.0,
    length_mm=200.0,
    stub_mm=20.0,
    second_stub_mm=30.0,
    corner=0.2,
    bell=0.4,
)


@settings(max_examples=25)
@given(cameras)
def test_a_formed_elbows_outline_is_where_rays_graze_it(camera: np.ndarray) -> None:
    strokes = elbow(camera, bend_radius=2.5, half_rad=np.pi / 4, stub=0.3, pieces=1)
    points = inner(strokes, 2)
    assert len(points) > 40
    height, sine = grazing(ELBOW, points, camera)
    assert height < 1e-6
    assert sine < 1e-3


def _off_its_chord(line: np.ndarray) -> float:
    """How far (N, 3) points lie off the straight line through the first and the last, at most."""
    chord = (line[-1] - line[0]) / np.linalg.norm(line[-1] - line[0])
    return float(np.linalg.norm(np.cross(line - line[0], chord), axis=-1).max())


@settings(max_examples=25)
@given(cameras, st.integers(2, 5))
@example(np.array([-2.99533506, 9.54085782, 0.0]), 2)
def test_a_mitred_elbows_outline_is_where_rays_graze_its_pieces(
    camera: np.ndarray, pieces: int
) -> None:
    piece = replace(
        ELBOW, pieces=float(pieces), cut_deg=mitre_cut_angle_deg(90, pieces), kinked=1.0
    )
    strokes = elbow(camera, bend_radius=2.5, half_rad=np.pi / 4, stub=0.3, pieces=pieces)
    lines = np.split(strokes, np.flatnonzero(np.isnan(strokes[:, 0])))
    lines = [line[~np.isnan(line[:, 0])] for line in lines]
    # Only the pieces' own lines (9 points, straight: a stretch of a mitre may have as many), not
    # where they end: at a mitre there are two normals.
    points = np.concatenate(
        [line[2:-2] for line in lines if len(line) == 9 and _off_its_chord(line) < 1e-6]
    )
    height, sine = grazing(piece, points, camera)
    assert height < 1e-6
    assert sine < 1e-3


@pytest.mark.parametrize("pieces", [2, 3, 4, 5])
def test_kinks_follow_the_cut_angle_relation(pieces: int) -> None:
    """Seen square on, neighbouring straight stretches turn by twice the cut angle of
    `fittings.geometry` (ASME B31.3-2016, 304.2.3: θ = bend / (2 (n - 1)))."""
    camera = np.array([0.0, 0.0, FAR])
    strokes = elbow(camera, bend_radius=2.5, half_rad=np.pi / 4, stub=0.3, pieces=pieces)
    lines = np.split(strokes, np.flatnonzero(np.isnan(strokes[:, 0])))
    ways = [
        np.degrees(np.arctan2(*(line[-1] - line[-2])[1::-1]))
        for line in (each[~np.isnan(each[:, 0])] for each in lines)
        if len(line) == 9
    ]
    for side in (ways[0::2], ways[1::2]):
        assert np.diff(side) == pytest.approx(mitre_kink_deg(90, pieces), abs=1e-6)
        assert len(side) == pieces


def test_the_mitres_edge_is_the_ellipse_of_the_cut() -> None:
    wanted = mitre_pieces(2.5, 2.0, 90.0, 3)
    edge = mitre_edge(2.5, 0.0, np.radians(mitre_kink_deg(90, 3)))
    across = np.linalg.norm(edge[0] - edge[24])
    assert across == pytest.approx(wanted.weld_major_mm, rel=1e-9)
    from_axis = np.hypot(*edge[0, :2])
    assert from_axis - 3.5 == pytest.approx(wanted.corner_beyond_arc_mm, rel=1e-9)


def test_a_formed_elbow_seen_square_on_shows_two_circles() -> None:
    """Extrados and intrados of a torus: radius R + r and R - r, by scikit-image's circle fit."""
    camera = np.array([0.0, 0.0, FAR])
    strokes = elbow(camera, bend_radius=2.5, half_rad=np.pi / 4, stub=0.3, pieces=1)
    points = inner(strokes, 2)[:, :2]
    for side, line in zip((1.0, -1.0), np.split(points, 2), strict=True):
        bent = np.abs(np.arctan2(line[:, 1], line[:, 0])) < 0.7
        circle = CircleModel.from_estimate(line[bent])
        radii = sorted((circle.radius, 2.5 + side))
        assert min(abs(circle.radius - 3.5), abs(circle.radius - 1.5)) < 1e-3, radii
        assert np.hypot(*circle.center) < 1e-3


@settings(max_examples=25)
@given(cameras)
def test_a_tees_outline_is_where_rays_graze_it(camera: np.ndarray) -> None:
    strokes = tee(camera, outlet_radius=0.6, crotch=0.2, half_run=1.8, height=1.7)
    points = inner(strokes, 3)
    height, normal = heights(TEE, points)
    ray = points - camera
    ray /= np.linalg.norm(ray, axis=-1, keepdims=True)
    assert np.abs(height).max() < 0.005
    # Between the grid's points, and where rounding and run touch, the contour is less exact.
    assert np.quantile(np.abs((ray * normal).sum(-1)), 0.9) < 0.05


def test_a_crotch_seen_square_on_is_an_arc_of_its_radius() -> None:
    """The rounding of radius r between two straight sides: scikit-image's circle fit finds r."""
    camera = np.array([0.3, -1.0, 0.2]) * [1.0, FAR, 1.0]
    strokes = tee(camera, outlet_radius=0.6, crotch=0.2, half_run=1.8, height=1.7)
    points = inner(strokes, 3)
    rounded = (points[:, 0] > 0.601) & (points[:, 0] < 0.799) & (points[:, 2] > 1.001)
    assert rounded.sum() >= 6
    circle = CircleModel.from_estimate(points[rounded][:, [0, 2]])
    assert circle.radius == pytest.approx(0.2, abs=2e-3)
    assert np.array(circle.center) == pytest.approx([0.8, 1.2], abs=2e-3)


@pytest.mark.parametrize("size", [0.05, 0.15])
def test_a_bead_stands_out_by_its_size(size: float) -> None:
    camera = np.array([0.3, -1.0, 0.2]) * [1.0, FAR, 1.0]
    strokes = tee(camera, outlet_radius=0.6, crotch=size, half_run=1.8, height=1.7, bead=True)
    points = inner(strokes, 3)
    beside = np.hypot(points[:, 0] - 0.6, points[:, 2] - 1.0)
    bead = (points[:, 0] > 0.61) & (points[:, 2] > 1.01) & (beside < 1.5 * size)
    assert bead.sum() >= 4
    assert beside[bead] == pytest.approx(size, abs=0.01 * size)


@settings(max_examples=25)
@given(cameras, st.sampled_from([0.0, 1.0]))
def test_a_formed_reducers_outline_is_where_rays_graze_it(
    camera: np.ndarray, eccentric: float
) -> None:
    shape = np.array([0.6, 2.0, 0.1, 0.15, 0.0, 0.0, 0.2, 0.4])
    at = np.linspace(0.0, 1.0, 81)
    radius, slope = formed_profile(at, shape)
    strokes = reducer(camera, at=at * 2.0, radius=radius, slope=slope, eccentric=eccentric)
    points = inner(strokes, 2)
    # Where the straight ends begin, the scenes' profile has a small corner of its own.
    ends = np.min(np.abs(points[:, :1] - [0.2, 1.7]), axis=1) < 0.03
    points = points[~ends]
    if len(points) == 0:
        return
    height, sine = grazing(replace(REDUCER, eccentric=eccentric), points, camera)
    assert height < 1e-6
    assert sine < 2e-3


@pytest.mark.parametrize("steps", [1, 2, 3])
def test_cones_are_chords_of_the_scenes_reducer(steps: int) -> None:
    shape = np.array([0.6, 2.0, 0.1, 0.15, 0.0, 0.0])
    at, radius, _ = chord_profile(steps, shape)
    piece = replace(REDUCER, steps=float(steps), kinked=1.0)
    points = np.stack([at * 2.0, radius, 0.0 * at], axis=-1)
    assert np.abs(heights(piece, points)[0]).max() < 1e-6


COORDINATES = st.tuples(st.floats(0.02, 0.98), st.floats(-3.1, 3.1))


@settings(max_examples=40)
@given(COORDINATES, st.sampled_from([1, 2, 3, 4, 5]))
def test_an_elbows_coordinates_lead_to_its_surface(place: tuple[float, float], pieces: int) -> None:
    piece = ELBOW
    if pieces > 1:
        piece = replace(piece, pieces=float(pieces), cut_deg=mitre_cut_angle_deg(90, pieces))
    along, around = (np.array([v]) for v in place)
    point = elbow_surface(pieces)(np.array([1.0]), along, around, np.array([2.5, 90.0, 0.3, 0.0]))
    n = Numbers(pack([(Scene(pieces=(piece,)), piece)]))
    x, y, z = (point * piece.radius_mm).T
    shape = SHAPES[piece.kind](np, n, (x[None], y[None], z[None]), None)
    assert shape.part[0] == Part.BODY.label
    assert shape.outside_mm[0] == pytest.approx(0.0, abs=1e-6 * piece.radius_mm)
    assert shape.along[0] == pytest.approx(along, abs=1e-6)
    assert np.cos(shape.around[0] - around) == pytest.approx(1.0, abs=1e-6)


@settings(max_examples=40)
@given(COORDINATES, st.sampled_from([0.0, 1.0]))
def test_a_reducers_coordinates_lead_to_its_surface(
    place: tuple[float, float], eccentric: float
) -> None:
    along, around = (np.array([v]) for v in place)
    shape = np.array([0.6, 2.0, 0.1, 0.15, 0.0, 0.0, 0.2, 0.4])
    point = reducer_surface(eccentric)(np.array([1.0]), along, around, shape)
    assert np.abs(heights(replace(REDUCER, eccentric=eccentric), point)[0]).max() < 1e-6


@settings(max_examples=60)
@given(st.floats(0.69, 0.98), st.floats(-3.1, 3.1), st.booleans())
def test_a_tees_coordinates_lead_to_its_surface(along: float, around: float, up: bool) -> None:
    """Also in the rounding, where the scenes' smooth union lies outside of both cylinders. Run and
    outlet are followed down to 0.08 and 0.17 from each other."""
    shape = np.array([0.6, 1.8, 1.7, 0.2, 0.0, 0.0])
    part = np.array([3.0 if up else 2.0])
    point = tee_surface(part, np.array([along]), np.array([around]), shape)
    assert heights(TEE, point)[0] == pytest.approx(0.0, abs=1e-3)


def test_distances_to_strokes_against_opencv() -> None:
    """A closed polygon in one stroke; cv2.pointPolygonTest measures the same distances."""
    rng = np.random.default_rng(3)
    turn = np.sort(rng.uniform(0, 2 * np.pi, 40))
    polygon = np.stack([50 + 30 * np.cos(turn), 50 + 20 * np.sin(turn)], -1).astype(np.float32)
    # Near the polygon, so that its nearest corner belongs to its nearest side.
    points = polygon[:-1] + 0.4 * np.diff(polygon, axis=0) + rng.normal(0, 0.3, (39, 2))
    strokes = np.concatenate([polygon, polygon[:1], [[np.nan, np.nan]]]).astype(float)
    found = signed_distances(points, strokes)
    wanted = [
        cv2.pointPolygonTest(polygon.reshape(-1, 1, 2), (float(x), float(y)), True)
        for x, y in points
    ]
    assert np.abs(found) == pytest.approx(np.abs(wanted), abs=1e-3)
