"""The second renderer's pieces against tables, closed formulas and each other."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from fittings.dimensions import elbow
from fittings.words import Construction, Kind, Orientation
from tests.second_renderer.cladding import Dress, clad
from tests.second_renderer.draw_pieces import KINDS, draw_piece
from tests.second_renderer.meshes import box, lathe, merged, moved, plain, rotation
from tests.second_renderer.noise import Noise
from tests.second_renderer.sweeps import Piece, formed_elbow, mitred_elbow, reducer
from tests.second_renderer.tees import fabricated_tee, formed_tee
from tests.second_renderer.welds import FINISHES, Weld, draw_weld, relief_mm

BEAD = Weld(width_mm=16.0, height_mm=2.0, pitch_mm=2.5, left=1.0, cover=0.0, finish="as welded")


def outside(piece: Piece) -> np.ndarray:
    """(N, 3) the points of its outer surface."""
    return np.concatenate([b.sheet.points for b in piece.blanks if b.region == "outside"])


def test_a_formed_elbow_has_the_area_of_a_torus() -> None:
    # Pappus: 2π r · R θ; the wall is so thin here that no bevel is left to miss.
    piece = formed_elbow("", 84.15, 228.6, 90, 1.6)
    sheet = piece.blanks[0].sheet
    area = trimesh.Trimesh(sheet.points, sheet.faces, process=False).area
    assert area == pytest.approx(2 * np.pi * 84.15 * 228.6 * np.pi / 2, rel=2e-3)


def test_an_elbow_ends_where_b16_9_says() -> None:
    # ASME B16.9: NPS 6 long radius A = 229 mm; B36.10M: OD 168.3 mm (tables in fittings/).
    drawn = elbow("6")
    piece = formed_elbow("", drawn.od_mm / 2, drawn.bend_radius_mm, 90, 7.11)
    assert outside(piece)[:, 1].max() == pytest.approx(229 + 168.3 / 2, abs=0.5)
    every = np.concatenate([blank.sheet.points for blank in piece.blanks])
    assert every.min(0)[:2] == pytest.approx([0.0, 0.0], abs=1e-6)


@pytest.mark.parametrize("welds", [2, 3, 4])
def test_a_mitred_elbow_is_made_of_straight_pipe(welds: int) -> None:
    piece = mitred_elbow("", 84.15, 228.6, 90, 7.1, [BEAD] * welds)
    half = np.pi / 4 / welds
    corners = half * (1 + 2 * np.arange(welds))
    far = 228.6 / np.cos(half)
    knots = [(228.6, 0.0), *((far * np.cos(a), far * np.sin(a)) for a in corners), (0.0, 228.6)]
    points = outside(piece)
    off = np.full(len(points), np.inf)
    for (x0, y0), (x1, y1) in pairwise(knots):
        start = np.array([x0, y0, 0.0])
        way = np.array([x1 - x0, y1 - y0, 0.0])
        away = np.linalg.norm(np.cross(points - start, way / np.linalg.norm(way)), axis=1)
        off = np.minimum(off, np.abs(away - 84.15))
    assert off.max() < 1e-6
    for seam, angle in zip(piece.blanks[0].seams, corners, strict=True):
        on_it = points[np.abs(seam.off_mm) < 1e-6]
        assert len(on_it) > 100
        assert np.abs(np.arctan2(on_it[:, 1], on_it[:, 0]) - angle).max() < 1e-6


def test_a_formed_tee_has_the_crotch_radius_asked_for() -> None:
    piece = formed_tee("", 84.15, 84.15, 143, 143, 7.1, 25.0)
    sheet = piece.blanks[0].sheet
    cut = sheet.points[np.abs(sheet.points[:, 1]) < 0.8]
    # The middle of the fillet lies one radius out from both walls.
    away = np.hypot(cut[:, 0] - (84.15 + 25), cut[:, 2] - (84.15 + 25))
    corner = cut[(cut[:, 0] < 84.15 + 20) & (cut[:, 2] < 84.15 + 20) & (away < 40)]
    fitted = np.hypot(corner[:, 0] - 109.15, corner[:, 2] - 109.15)
    assert len(corner) > 10
    assert np.abs(fitted - 25.0).max() < 1.0


def test_a_welded_on_outlet_meets_the_run_sharply_on_the_curve_of_two_cylinders() -> None:
    piece = fabricated_tee("", 84.15, 57.15, 143, 124, 7.1, BEAD)
    outlet = piece.blanks[1]
    root = outlet.sheet.points[outlet.seams[0].off_mm < 1e-6]
    assert len(root) > 100
    assert np.hypot(root[:, 1], root[:, 2]) == pytest.approx(84.15)
    assert np.hypot(root[:, 0], root[:, 1]) == pytest.approx(57.15)
    bead = next(blank for blank in piece.blanks if blank.all_weld is not None)
    assert bead.all_weld is not None
    assert bead.all_weld.orientation is Orientation.BRANCH


@pytest.mark.parametrize("eccentric", [False, True])
def test_a_reducer_keeps_its_flat_side_only_when_eccentric(eccentric: bool) -> None:
    knees = [(0.2, 0.0, BEAD), (0.8, 1.0, BEAD)]
    points = outside(reducer("", 109.55, 84.15, 152, 8.2, eccentric=eccentric, knees=knees))
    flat = points[np.abs(points[:, 2]) < 1e-6]
    lowest = flat[flat[:, 1] < 0]
    # The side at −y is the flat one: B16.9's eccentric reducer keeps one generatrix straight.
    assert np.ptp(lowest[:, 1]) == pytest.approx(0.0 if eccentric else 25.4, abs=1e-6)


def test_relief_stays_at_the_seam_and_grinding_takes_it_down() -> None:
    noise = Noise(np.random.default_rng(1))
    piece = reducer("", 109.55, 84.15, 152, 8.2, eccentric=False, knees=[(0.5, 0.5, BEAD)])
    blank = piece.blanks[0]
    seam = blank.seams[0]
    high = relief_mm(seam, blank.sheet.points, noise)
    assert np.abs(high[np.abs(seam.off_mm) > 1.5 * BEAD.width_mm]).max() < 0.01
    assert 1.5 < np.percentile(high[np.abs(seam.off_mm) < 2], 50) < 2.6
    ground = replace(BEAD, left=0.1, finish="ground flush")
    low = relief_mm(replace(seam, weld=ground), blank.sheet.points, noise)
    assert low.max() < 0.5


@pytest.mark.parametrize("kind", KINDS)
def test_labels_say_how_a_piece_is_made(kind: Kind) -> None:
    for make in Construction:
        rng = np.random.default_rng(3)
        piece = draw_piece(rng, kind, make, painted=False)
        assert piece.kind is kind
        assert piece.construction is make
        every = [s for b in piece.blanks for s in (*b.seams, *([b.all_weld] if b.all_weld else []))]
        crossing = any(s.orientation.speaks_of_fabrication for s in every)
        assert crossing is (make is Construction.FABRICATED)
        assert bool(every) is (make is not Construction.SEAMLESS)


def test_the_same_seed_dresses_a_piece_the_same_and_a_bare_one_has_no_seam() -> None:
    piece = reducer("", 44.45, 30.15, 89, 5.5, eccentric=False, knees=[(0.5, 0.5, BEAD)])
    dress = Dress(skin="mill scale", seed=5, marks=2)
    first, bare = clad(piece, dress, 1)
    second, _ = clad(piece, dress, 1)
    assert np.array_equal(first.points, second.points)
    assert np.array_equal(first.color, second.color)
    assert set(np.unique(first.seam)) == {0, Orientation.CIRCUMFERENTIAL.label}
    assert not bare.seam.any()
    away = np.abs(first.points[:, 0] - 44.5) > 3 * BEAD.width_mm
    assert len(bare.points) == len(first.points)
    assert np.array_equal(first.points[away], bare.points[away])


@given(st.integers(0, 2**32 - 1), st.floats(2.0, 30.0), st.booleans())
def test_nominal_crowns_stay_within_the_code(seed: int, wall_mm: float, painted: bool) -> None:
    # ASME B31.3-2016 Table 341.3.2: wall ≤ 6 mm 1.5 mm, 6 to 13 mm 3 mm (by a digest).
    weld = draw_weld(np.random.default_rng(seed), wall_mm, painted=painted)
    assert 0 < weld.height_mm <= (1.5 if wall_mm <= 6 else 3.0)
    assert weld.finish in FINISHES
    assert (weld.finish == "painted over") is painted


@given(st.floats(-180, 180), st.tuples(*[st.floats(0.1, 1)] * 3))
def test_a_turn_keeps_lengths_and_its_axis(angle_deg: float, axis: tuple[float, ...]) -> None:
    turn = rotation(axis, angle_deg)
    assert turn @ turn.T == pytest.approx(np.eye(3), abs=1e-9)
    assert turn @ np.array(axis) == pytest.approx(np.array(axis))


def test_meshes_merge_and_move_and_refuse_bad_faces() -> None:
    first = plain(*box([2, 4, 6]), (0.1, 0.2, 0.3), 0.5)
    second = plain(*lathe([(0, 1), (5, 1)], 64), (0.5, 0.5, 0.5), 0.5)
    both = merged([first, moved(second, np.eye(3), np.array([10.0, 0, 0]))])
    assert len(both.points) == len(first.points) + len(second.points)
    assert both.points[:, 0].max() == pytest.approx(15.0)
    parts = trimesh.Trimesh(both.points, both.faces, process=False)
    # A box has 2 (ab + bc + ca), a turned cylinder 2πrh.
    assert parts.area == pytest.approx(88 + 2 * np.pi * 5, rel=2e-3)
    with pytest.raises(ValueError, match="a face names a vertex"):
        plain(first.points, first.faces + 30, (0, 0, 0), 0.5)
    with pytest.raises(ValueError, match="no meshes"):
        merged([])
