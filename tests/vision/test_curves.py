"""Directions on an unrolled surface, against curves whose angle is known in closed form."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fittings.words import Orientation, Part
from vision.curves import ShareOf, SurfaceCurve, angle_range_deg, direction, orientation_of

DEG = np.pi / 180.0


def cylinder(px: np.ndarray, radius_px: float) -> tuple[np.ndarray, np.ndarray]:
    """A cylinder seen square on, its axis along image x: at x, y pixels from the axis the unrolled
    surface is (x / r, asin(y / r)), and its derivative 1 / r and 1 / (r cos(asin(y / r)))."""
    x, y = px.T
    unrolled = np.stack([x / radius_px, np.arcsin(y / radius_px)], axis=1)
    slopes = np.zeros((len(px), 2, 2))
    slopes[:, 0, 0] = 1.0 / radius_px
    slopes[:, 1, 1] = 1.0 / np.sqrt(radius_px**2 - y**2)
    return unrolled, slopes


def helix_px(angle_deg: float, start_deg: float, turn_deg: float, radius_px: float) -> np.ndarray:
    """Image of a helix: y = r sin(around), x = r around / tan(angle)."""
    around = np.linspace(start_deg, start_deg + turn_deg, 60) * DEG
    x = radius_px * (around - around[0]) / np.tan(angle_deg * DEG)
    return np.stack([x, radius_px * np.sin(around)], axis=1)


@settings(max_examples=40)
@given(st.floats(8.0, 90.0), st.floats(-70.0, 20.0), st.booleans())
def test_a_helix_on_a_cylinder(angle_deg: float, start_deg: float, mirrored: bool) -> None:
    path = helix_px(angle_deg, start_deg, 50.0, 60.0)
    path[:, 0] *= -1.0 if mirrored else 1.0
    found = direction(*cylinder(path, 60.0), 80.0)
    wanted = -angle_deg if mirrored else angle_deg
    assert abs((found.signed_deg - wanted + 90.0) % 180.0 - 90.0) < 0.3
    assert found.residual_px < 0.05


@settings(max_examples=30)
@given(st.floats(-np.pi, np.pi), st.floats(0.2, 5.0))
def test_the_pictures_turn_and_scale_do_not_matter(turn: float, scale: float) -> None:
    """Points and derivatives carried to a turned and scaled picture give the same direction."""
    unrolled, slopes = cylinder(helix_px(35.0, -40.0, 60.0, 60.0), 60.0)
    turned = (
        slopes @ np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]) / scale
    )
    before, after = direction(unrolled, slopes, 80.0), direction(unrolled, turned, 80.0)
    assert after.signed_deg == pytest.approx(before.signed_deg, abs=0.1)


def test_a_limb_does_not_mislead() -> None:
    """A line along a cylinder three degrees from its limb, off by half a pixel to and fro: that is
    21 degrees of `around` there. Total least squares on the surface itself, which this replaced,
    is off by more than ten."""
    rng = np.random.default_rng(7)
    x = np.linspace(0.0, 40.0, 41)
    y = 60.0 * np.sin(75.0 * DEG) + rng.choice([-0.8, 0.8], 41)
    path = np.stack([x, y], axis=1)
    path[30:, 1] = 59.9
    unrolled, slopes = cylinder(path, 60.0)
    axis = np.linalg.svd(unrolled - unrolled.mean(axis=0), full_matrices=False)[2][0]
    plain_deg = np.degrees(np.arctan2(abs(axis[1]), abs(axis[0])))
    found = direction(unrolled, slopes, 40.0)
    assert plain_deg > 10.0
    assert abs(found.signed_deg) < 5.0
    assert abs(found.signed_deg) < 2.0 * found.uncertainty_deg


def test_the_shorter_of_two_seams_traced_as_one_is_outvoted() -> None:
    """Forty degrees around, then half as many points straight along."""
    around = helix_px(89.9, -30.0, 60.0, 60.0)
    along = np.stack([np.linspace(1, 30, 25), np.full(25, around[-1, 1])], axis=1)
    found = direction(*cylinder(np.concatenate([around, along]), 60.0), 90.0)
    assert abs(found.signed_deg) > 86.0
    assert found.uncertainty_deg > 5.0, "and the halves disagree"


def test_two_mitres_traced_as_one_are_still_around() -> None:
    """Up one, along the intrados to the next, and down that one: a fit that began from all points
    alike would end on the way between them."""
    up = helix_px(89.9, -20.0, 40.0, 60.0)
    between = np.stack([np.linspace(2, 58, 40), np.full(40, up[-1, 1])], axis=1)
    down = up[::-1] + np.array([60.0, 0.0])
    found = direction(*cylinder(np.concatenate([up, between, down]), 60.0), 140.0)
    assert abs(found.signed_deg) > 86.0


@pytest.mark.parametrize("noise_px", [0.5, 1.0])
def test_the_uncertainty_holds_what_it_says(noise_px: float) -> None:
    """Independent noise of a known size on a helix: within one deviation in about 68 of 100, within
    two in about 95 (normal distribution)."""
    rng = np.random.default_rng(3)
    path = helix_px(60.0, -30.0, 50.0, 60.0)[::2]
    length_px = 4.0 * len(path)  # one point for each stretch that errs by itself
    off, said = [], []
    for _ in range(150):
        found = direction(*cylinder(path + rng.normal(0.0, noise_px, path.shape), 60.0), length_px)
        off.append(abs(found.signed_deg - 60.0))
        said.append(found.uncertainty_deg)
    within = np.array(off) / np.array(said)
    assert 0.6 <= (within <= 1.0).mean() <= 0.97
    assert (within <= 2.0).mean() >= 0.9


def test_too_few_points_are_refused() -> None:
    with pytest.raises(ValueError, match="4 points, got 3"):
        direction(np.zeros((3, 2)), np.ones((3, 2, 2)), 9.0)


def test_an_orientation_needs_an_angle_that_is_sure() -> None:
    assert orientation_of(10.0, 5.0) is Orientation.LONGITUDINAL
    assert orientation_of(10.0, 11.0) is None
    assert orientation_of(85.0, 12.0) is Orientation.CIRCUMFERENTIAL
    assert orientation_of(85.0, 13.0) is None
    assert orientation_of(45.0, 0.1) is None, "neither: a scratch, or a mark"


@given(st.floats(0.0, 90.0), st.floats(1.0, 5.0))
def test_the_unknown_ratio_moves_slanting_lines_alone(angle_deg: float, ratio: float) -> None:
    """tan(angle) = turn / (along · ratio): by hand for 45 degrees, 0 at 0 and 90."""
    assert angle_range_deg(0.0, ratio, 0.5 * ratio, 2.0 * ratio) == 0.0
    assert angle_range_deg(90.0, ratio, 0.5 * ratio, 2.0 * ratio) == pytest.approx(0.0, abs=1e-4)
    by_hand = (np.degrees(np.arctan(2.0)) - np.degrees(np.arctan(0.5))) / 2.0
    assert angle_range_deg(45.0, ratio, 0.5 * ratio, 2.0 * ratio) == pytest.approx(by_hand)
    assert 0.0 <= angle_range_deg(angle_deg, ratio, 0.5 * ratio, 2.0 * ratio) <= by_hand + 1e-9


def test_a_curve_checks_itself() -> None:
    good = {
        "part": Part.BODY,
        "along": (0.1, 0.2),
        "around_deg": (0.0, 1.0),
        "angle_deg": 10.0,
        "angle_uncertainty_deg": 1.0,
        "orientation": None,
        "length_share": 0.5,
        "share_of": ShareOf.LENGTH,
    }
    SurfaceCurve(**good)
    for wrong in ({"along": (0.1,)}, {"angle_deg": 91.0}):
        with pytest.raises(ValueError, match=r"curve needs|0 to 90"):
            SurfaceCurve(**(good | wrong))
