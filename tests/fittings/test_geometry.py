"""Closed formulas against values worked out elsewhere and against each other."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fittings.geometry import (
    branch_curve,
    branch_curve_length_mm,
    branch_saddle_depth_mm,
    elbow_area_mm2,
    extrados_length_mm,
    intrados_length_mm,
    mitre_cut_angle_deg,
    mitre_kink_deg,
    mitre_pieces,
)

# The same examples on every machine, and no clock: other work may slow a test down.
HOUSE = settings(derandomize=True, deadline=None)
RADII = st.floats(min_value=5, max_value=700)
SHARES = st.floats(min_value=0.05, max_value=1)


def test_mitre_angle_of_three_pieces() -> None:
    # Plain geometry: 90° by 3 pieces (2 welds) is a cut of 22.5° and a kink of 45°.
    assert mitre_cut_angle_deg(90, 3) == 22.5
    assert mitre_kink_deg(90, 3) == 45
    assert mitre_kink_deg(90, 4) == 30


def test_mitre_pieces_of_a_twelve_inch_bend() -> None:
    # NPS 12, R = 1.5 x 12 in = 457.2 mm, OD 323.8 mm, 3 welds: worked by hand from the formulas.
    pieces = mitre_pieces(457.2, 323.8, 90, 4)
    assert pieces.end_centreline_mm == pytest.approx(122.5, abs=0.05)
    assert pieces.middle_centreline_mm == pytest.approx(245.0, abs=0.05)
    assert pieces.middle_extrados_mm == pytest.approx(331.8, abs=0.05)
    assert pieces.middle_intrados_mm == pytest.approx(158.3, abs=0.05)
    assert pieces.weld_major_mm == pytest.approx(335.2, abs=0.05)
    assert pieces.corner_beyond_arc_mm == pytest.approx(21.8, abs=0.05)
    corners_mm = [mitre_pieces(457.2, 323.8, 90, n).corner_beyond_arc_mm for n in (2, 3, 4, 5)]
    assert corners_mm == pytest.approx([256, 51, 21.8, 12.1], abs=0.5)


@HOUSE
@given(angle_deg=st.floats(min_value=1, max_value=180), pieces=st.integers(3, 12))
def test_the_kinks_of_a_mitred_bend_add_up_to_the_bend(angle_deg: float, pieces: int) -> None:
    assert (pieces - 1) * mitre_kink_deg(angle_deg, pieces) == pytest.approx(angle_deg)


@HOUSE
@given(angle_deg=st.floats(min_value=1, max_value=170), pieces=st.integers(2, 12))
def test_mitre_pieces_walk_along_the_corners_of_the_bend(angle_deg: float, pieces: int) -> None:
    """Walk the centreline piece by piece: it ends where the arc does, in the arc's direction."""
    radius_mm = 300.0
    lengths = mitre_pieces(radius_mm, 100, angle_deg, pieces)
    kink = math.radians(mitre_kink_deg(angle_deg, pieces))
    middles = [lengths.middle_centreline_mm] * (pieces - 2)
    at = np.zeros(2)
    for turned, length_mm in enumerate([lengths.end_centreline_mm, *middles]):
        at += length_mm * np.array([math.cos(turned * kink), math.sin(turned * kink)])
    last = math.radians(angle_deg)
    at += lengths.end_centreline_mm * np.array([math.cos(last), math.sin(last)])
    # The arc starts at the origin towards +x and turns left about (0, R).
    end = np.array([radius_mm * math.sin(last), radius_mm * (1 - math.cos(last))])
    assert at == pytest.approx(end, abs=1e-6)


@pytest.mark.parametrize(("angle_deg", "pieces"), [(90, 1), (0, 3), (-45, 3), (181, 3)])
def test_an_impossible_mitre_is_refused(angle_deg: float, pieces: int) -> None:
    with pytest.raises(ValueError, match="bend"):
        mitre_cut_angle_deg(angle_deg, pieces)


def test_a_bend_tighter_than_its_pipe_is_refused() -> None:
    with pytest.raises(ValueError, match="pipe radius < bend radius"):
        mitre_pieces(100, 200, 90, 3)
    with pytest.raises(ValueError, match="pipe radius < bend radius"):
        elbow_area_mm2(100, 100)
    with pytest.raises(ValueError, match="cannot be cut from 2 pieces"):
        mitre_pieces(300, 100, 180, 2)
    with pytest.raises(ValueError, match="at most 360"):
        extrados_length_mm(300, 100, 361)


def test_branch_curve_of_a_twelve_by_six_tee() -> None:
    # R 161.9, r 84.15: adaptive quadrature and the closed form, worked out apart from this code.
    assert branch_curve_length_mm(161.9, 84.15) == pytest.approx(538.97, abs=0.01)
    assert branch_saddle_depth_mm(161.9, 84.15) == pytest.approx(23.59, abs=0.01)
    assert 2 * math.pi * 84.15 == pytest.approx(528.73, abs=0.01)


def test_equal_cylinders_meet_in_two_half_ellipses() -> None:
    # Classical: the planes z = ±x, semi-axes 1 and √2, perimeter 7.64040.
    points = branch_curve(1, 1, 400)
    assert points[:, 2] == pytest.approx(np.abs(points[:, 0]), abs=1e-7)
    assert branch_curve_length_mm(1, 1) == pytest.approx(7.64040, abs=1e-5)
    assert branch_saddle_depth_mm(1, 1) == 1


@HOUSE
@given(run_mm=RADII, share=SHARES, count=st.integers(3, 80))
def test_every_branch_point_lies_on_both_cylinders(run_mm: float, share: float, count: int) -> None:
    points = branch_curve(run_mm, share * run_mm, count)
    assert points.shape == (count, 3)
    x, y, z = points.T
    assert np.hypot(x, y) == pytest.approx(share * run_mm)
    assert np.hypot(y, z) == pytest.approx(run_mm)
    assert (z >= 0).all()


@HOUSE
@given(run_mm=RADII, share=SHARES)
def test_length_and_depth_agree_with_the_points(run_mm: float, share: float) -> None:
    points = branch_curve(run_mm, share * run_mm, 4000)
    chords = np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1)
    length_mm = branch_curve_length_mm(run_mm, share * run_mm)
    # Chords are shorter than the curve, and only a little with 4000 of them.
    assert length_mm * (1 - 1e-4) <= chords.sum() <= length_mm * (1 + 1e-9)
    depth_mm = branch_saddle_depth_mm(run_mm, share * run_mm)
    assert np.ptp(points[:, 2]) == pytest.approx(depth_mm, abs=1e-6 * run_mm)


@pytest.mark.parametrize(("run_mm", "branch_mm"), [(100, 101), (100, 0), (100, -5), (0, 0)])
def test_a_branch_larger_than_its_run_is_refused(run_mm: float, branch_mm: float) -> None:
    for formula in (branch_curve, branch_curve_length_mm, branch_saddle_depth_mm):
        with pytest.raises(ValueError, match="branch radius <= run radius"):
            formula(run_mm, branch_mm)
    with pytest.raises(ValueError, match="at least 3 points"):
        branch_curve(100, 50, 2)


def test_a_twelve_inch_elbow_as_a_torus() -> None:
    # R 457.2, r 161.9: quarter of 4π²Rr, and the two arcs, worked by hand.
    assert elbow_area_mm2(457.2, 161.9) == pytest.approx(730_555, abs=0.5)
    assert extrados_length_mm(457.2, 161.9) == pytest.approx(972.5, abs=0.05)
    assert intrados_length_mm(457.2, 161.9) == pytest.approx(463.9, abs=0.05)


def test_torus_area_agrees_with_a_sum_over_patches() -> None:
    bend_mm, pipe_mm, angle_deg = 305.0, 109.55, 45.0
    v = (np.arange(1000) + 0.5) * 2 * np.pi / 1000
    strip_mm = (bend_mm + pipe_mm * np.cos(v)) * math.radians(angle_deg)
    by_patches = float(np.sum(strip_mm) * pipe_mm * 2 * np.pi / 1000)
    assert elbow_area_mm2(bend_mm, pipe_mm, angle_deg) == pytest.approx(by_patches)
