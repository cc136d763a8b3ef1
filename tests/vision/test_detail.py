"""What a photo could have shown: against edges of known blur, and pieces of known size."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import erf

from fittings.words import Kind, Part
from vision.detail import (
    FWHM,
    SAMPLING_PX,
    Detail,
    blur_spread_px,
    measure,
    outline_diameter_px,
    usual_cap_mm,
)
from vision.network import Maps
from vision.quality import judge

EVERYWHERE = np.ones((192, 192), bool)


def edge(spread_px: float, turn_deg: float, noise: float = 0.0, step: float = 120.0) -> np.ndarray:
    """A straight step blurred by a Gaussian: its cumulative normal, closed form."""
    y, x = np.mgrid[:192, :192]
    turn = np.radians(turn_deg)
    across = (x - 96) * np.cos(turn) + (y - 96) * np.sin(turn)
    grey = 125 + 0.5 * step * erf(across / (np.sqrt(2) * spread_px))
    grey = grey + np.random.default_rng(3).normal(0, noise, grey.shape)
    return np.clip(np.rint(grey), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("turn_deg", [0, 20, 45, 80])
@pytest.mark.parametrize("spread_px", [0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 4.0])
def test_the_blur_of_an_edge_is_its_spread(spread_px: float, turn_deg: float) -> None:
    found = blur_spread_px(edge(spread_px, turn_deg), EVERYWHERE)
    assert found == pytest.approx(spread_px, rel=0.1, abs=0.08)


@pytest.mark.parametrize("spread_px", [0.7, 1.0, 1.5, 2.0])
def test_noise_makes_it_little_sharper(spread_px: float) -> None:
    found = blur_spread_px(edge(spread_px, 30, noise=4.0), EVERYWHERE)
    assert found == pytest.approx(spread_px, rel=0.15)


@settings(max_examples=20)
@given(st.floats(0.5, 3.0), st.floats(0.0, 179.0), st.sampled_from((60.0, 120.0, 200.0)))
def test_contrast_and_direction_do_not_matter(spread: float, turn: float, step: float) -> None:
    found = blur_spread_px(edge(spread, turn, step=step), EVERYWHERE)
    assert found == pytest.approx(spread, rel=0.2, abs=0.08)


def test_a_shaken_photo_is_as_blurred_as_its_worst_direction() -> None:
    """Motion along x by 9 pixels: a box of variance 81 / 12 across upright edges, none across
    level ones."""
    squares = np.full((192, 192), 60, np.uint8)
    squares[40:150, 40:150] = 190
    shaken = cv2.blur(squares, (9, 1))
    assert blur_spread_px(squares, EVERYWHERE) < 0.5
    assert blur_spread_px(shaken, EVERYWHERE) > np.sqrt(81 / 12)


def test_more_blur_never_shows_more() -> None:
    """On the sharpest sample, a tee on grass (rendered with a blur of 0.3 pixels, so that what it
    had before hardly counts): what was added is what is found."""
    whole = cv2.imread("ui/samples/piece-08.jpg", cv2.IMREAD_GRAYSCALE)
    grey = cv2.resize(whole, (512, 384), interpolation=cv2.INTER_AREA)
    everywhere = np.ones(grey.shape, bool)
    added = (0.8, 1.2, 1.8, 2.7, 4.0)
    found = [blur_spread_px(cv2.GaussianBlur(grey, (0, 0), s), everywhere) for s in added]
    assert found == sorted(found)
    for spread, truth in zip(found[1:], added[1:], strict=True):
        assert truth / 1.35 < spread < 1.35 * truth


def maps_of(part: np.ndarray, kind: Kind = Kind.ELBOW) -> Maps:
    hot = np.where(part[..., None] == np.arange(len(Part)), 0.98, 0.005).astype(np.float32)
    flat = np.zeros(part.shape, np.float32)
    seam = np.zeros((*part.shape, 4), np.float32)
    seam[..., 0] = 1
    return Maps(
        part=hot, seam=seam, along=flat, around_cos=flat, around_sin=flat,
        kind=(np.arange(4) == kind.label).astype(np.float32), fabricated_logit=0.0,
    )  # fmt: skip


def band(width_px: int, spread_px: float = 0.6) -> tuple[np.ndarray, Maps]:
    """A light pipe across a dark picture of 512 × 384, `width_px` wide, and its maps."""
    grey = np.full((384, 512), 50.0, np.float32)
    top = 192 - width_px // 2
    grey[top : top + width_px, 60:450] = 180.0
    grey = cv2.GaussianBlur(grey, (0, 0), spread_px)
    part = np.zeros((192, 256), int)
    part[top // 2 : (top + width_px) // 2, 30:225] = Part.BODY.label
    return np.repeat(np.rint(grey)[..., None], 3, axis=2).astype(np.uint8), maps_of(part)


def test_the_narrowest_seam_in_millimetres() -> None:
    """NPS 12 is 323.8 mm (ASME B36.10M); 108 pixels across make 3.0 mm a pixel."""
    pixels, maps = band(108)
    detail = measure(pixels, maps, Kind.ELBOW, photo_px=512, nps="12")
    assert detail.diameter_px == pytest.approx(108, abs=2)
    narrowest_px = np.hypot(SAMPLING_PX, FWHM * 0.6)
    assert detail.narrowest_px == pytest.approx(narrowest_px, rel=0.1)
    assert detail.narrowest_mm == pytest.approx(3.0 * narrowest_px, rel=0.12)
    assert detail.usual_cap_mm == pytest.approx(19.2, abs=0.1)
    assert detail.could_show_a_seam
    assert "mm" in detail.sentence


def test_lengths_are_in_pixels_of_the_whole_photo() -> None:
    pixels, maps = band(108)
    small = measure(pixels, maps, Kind.ELBOW, photo_px=512)
    large = measure(pixels, maps, Kind.ELBOW, photo_px=4096)
    assert large.narrowest_px == pytest.approx(8 * small.narrowest_px)
    assert large.diameter_px == pytest.approx(8 * small.diameter_px)
    assert large.share_of_cap == pytest.approx(small.share_of_cap)


@pytest.mark.parametrize(
    ("width_px", "spread_px", "nps", "shown"),
    [
        (108, 0.6, None, True),
        (108, 5.0, None, False),  # 12 pixels of blur against a cap of 6
        (30, 0.6, None, False),  # a cap of 1.8 pixels
        (30, 0.6, "2", True),  # on 60.3 mm a cap of 10.6 is a sixth of the diameter
        (108, 0.6, "48", False),  # on 1219 mm one of 19 is a sixty-fourth
    ],
)
def test_a_photo_that_could_not_show_a_cap_is_not_usable(
    width_px: int, spread_px: float, nps: str | None, shown: bool
) -> None:
    pixels, maps = band(width_px, spread_px)
    detail = measure(pixels, maps, Kind.ELBOW, photo_px=512, nps=nps)
    quality = judge(pixels, maps, Kind.ELBOW, detail)
    assert detail.could_show_a_seam is shown
    assert quality.usable is shown
    if not shown:
        assert any("could not have been seen" in problem for problem in quality.problems)


def test_a_picture_without_an_edge_shows_nothing() -> None:
    _, maps = band(108)
    fog = np.full((384, 512, 3), 130, np.uint8)
    detail = measure(fog, maps, Kind.ELBOW, photo_px=512)
    assert detail.blur_px is None
    assert not detail.could_show_a_seam
    assert not judge(fog, maps, Kind.ELBOW, detail).usable


def test_glare_and_darkness_are_said_with_their_share() -> None:
    pixels, maps = band(108)
    fine = measure(pixels, maps, Kind.ELBOW, photo_px=512)
    assert judge(pixels, maps, Kind.ELBOW, fine).problems == ()
    burnt, dark = replace(fine, burnt_share=0.7), replace(fine, dark_share=0.8)
    for detail, said in (
        (burnt, "70 % of the fitting is burnt out"),
        (dark, "80 % of the fitting"),
    ):
        quality = judge(pixels, maps, Kind.ELBOW, detail)
        assert not quality.usable
        assert any(problem.startswith(said) for problem in quality.problems)


@pytest.mark.parametrize(("wall_mm", "cap_mm"), [(6.0, 15.0), (9.5, 20.0), (12.7, 25.0)])
def test_usual_caps(wall_mm: float, cap_mm: float) -> None:
    """Rounded values for a one-sided V by the same bevel (geometry and common practice)."""
    assert usual_cap_mm(wall_mm) == pytest.approx(cap_mm, abs=1.5)


def test_the_outline_of_a_disc_and_of_a_tee() -> None:
    disc = np.zeros((200, 200), np.uint8)
    cv2.circle(disc, (100, 100), 40, Part.BODY.label, -1)
    assert outline_diameter_px(disc, Kind.ELBOW) == pytest.approx(81, abs=2.5)
    tee = np.zeros((200, 300), np.uint8)
    tee[100:160, 20:280] = Part.RUN.label
    tee[20:100, 110:190] = Part.OUTLET.label
    assert outline_diameter_px(tee, Kind.TEE) == pytest.approx(60, abs=1.5)
    assert outline_diameter_px(np.zeros((50, 50), np.uint8), Kind.ELBOW) is None
    assert outline_diameter_px(disc, Kind.NONE) is None


def test_without_a_diameter_the_doubt_is_the_photos_benefit() -> None:
    detail = Detail(
        blur_px=1.0, narrowest_px=3.0, diameter_px=None, usual_cap_px=None, narrowest_mm=None,
        usual_cap_mm=None, burnt_share=0.0, dark_share=0.0,
    )  # fmt: skip
    assert detail.could_show_a_seam
    assert not replace(detail, narrowest_px=None).could_show_a_seam
