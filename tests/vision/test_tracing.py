"""Bands become paths: on shapes whose answer is known."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fittings.words import Kind, Orientation, Part
from tests.stand_in import encoded, picture
from vision import judging
from vision.known import NOTHING_KNOWN
from vision.network import Maps
from vision.photo import open_photo
from vision.surface import seen_fraction
from vision.tracing import path_length, trace


def flat_maps(seam: np.ndarray, *, part: Part = Part.BODY) -> Maps:
    """Maps of an unrolled piece: `along` grows to the right, `around` downwards (half a turn)."""
    h, w = seam.shape
    one = np.full((h, w, len(Part)), 0.005, np.float32)
    one[..., part.label] = 0.98
    hot = np.where(seam[..., None] == np.arange(4), 0.97, 0.01).astype(np.float32)
    y, x = np.mgrid[:h, :w].astype(np.float32)
    around = (y + 0.5) / h * np.pi
    return Maps(
        part=one,
        seam=hot,
        along=(x + 0.5) / w,
        around_cos=np.cos(around),
        around_sin=np.sin(around),
        kind=np.array([0.01, 0.97, 0.01, 0.01], np.float32),
        fabricated_logit=0.0,
    )


def test_a_straight_band_keeps_its_length_and_orientation() -> None:
    seam = np.zeros((96, 128))
    seam[20:80, 60:64] = Orientation.CIRCUMFERENTIAL.label
    (band,) = trace(flat_maps(seam))
    assert band.orientation is Orientation.CIRCUMFERENTIAL
    assert not band.closed
    assert band.length == pytest.approx(60, abs=6)
    assert np.abs(band.path[:, 0] - 61.5).max() < 1.0


def test_a_ring_closes_and_has_its_whole_girth() -> None:
    y, x = np.mgrid[:128, :128]
    seam = np.where(np.abs(np.hypot(x - 64, y - 64) - 40) < 2, Orientation.BRANCH.label, 0)
    (band,) = trace(flat_maps(seam))
    assert band.closed
    assert band.length == pytest.approx(2 * np.pi * 40, rel=0.06)


def test_crossing_bands_of_two_orientations_are_two_seams() -> None:
    seam = np.zeros((96, 128))
    seam[46:50, 10:120] = Orientation.LONGITUDINAL.label
    seam[10:90, 60:64] = Orientation.CIRCUMFERENTIAL.label
    found = [band.orientation for band in trace(flat_maps(seam))]
    assert found.count(Orientation.CIRCUMFERENTIAL) == 1
    assert found.count(Orientation.LONGITUDINAL) == 2  # one on each side of the crossing


def _weaker(maps: Maps, where: np.ndarray, to: float) -> Maps:
    """The maps with a seam's probability lowered to `to` at some (h, w) pixels."""
    seam = maps.seam.copy()
    channel = Orientation.CIRCUMFERENTIAL.label
    seam[where] = (1.0 - to) / 3.0
    seam[where, channel] = to
    seam[where, 0] = 1.0 - to - 2 * 0.01
    seam[where, 1], seam[where, 3] = 0.01, 0.01
    return dataclasses.replace(maps, seam=seam)


def test_two_girth_seams_joined_along_the_silhouette_are_two() -> None:
    seam = np.zeros((96, 128))
    seam[20:80, 40:44] = seam[20:80, 70:74] = seam[20:23, 44:70] = Orientation.CIRCUMFERENTIAL.label
    joint = np.zeros(seam.shape, bool)
    joint[20:23, 44:70] = True
    bands = trace(_weaker(flat_maps(seam), joint, 0.5))
    middles = sorted(float(band.path[:, 0].mean()) for band in bands)
    assert middles == [pytest.approx(41.5, abs=1.0), pytest.approx(71.5, abs=1.0)]
    assert all(band.length == pytest.approx(60, abs=8) for band in bands)
    # As sure of the joint as of the seams, there is nothing to cut by.
    assert len(trace(flat_maps(seam))) == 1


def test_a_seam_that_fades_in_its_middle_stays_one() -> None:
    seam = np.zeros((96, 128))
    seam[10:86, 60:64] = Orientation.CIRCUMFERENTIAL.label
    faded = np.zeros(seam.shape, bool)
    faded[40:56, 60:64] = True
    (band,) = trace(_weaker(flat_maps(seam), faded, 0.45))
    assert band.length == pytest.approx(76, abs=7)


@pytest.mark.parametrize(("sure", "told"), [(0.40, 0), (0.55, 1)])
def test_a_line_that_the_map_hardly_believes_in_is_not_told(sure: float, told: int) -> None:
    seam = np.zeros((96, 128))
    seam[20:80, 60:64] = Orientation.CIRCUMFERENTIAL.label
    faint = seam > 0
    faint[20:22] = False
    maps = _weaker(flat_maps(seam), faint, sure)
    photo = open_photo(encoded(picture(256, 192), "PNG"), "x.png")
    look = judging.look(photo, photo.pixels, maps, kind_threshold=0.6, known=NOTHING_KNOWN)
    assert len(trace(maps)) == 1
    assert len(look.own) == told


def test_specks_and_seams_on_the_ground_are_no_seams() -> None:
    speck = np.zeros((96, 128))
    speck[40:42, 40:42] = 2
    assert trace(flat_maps(speck)) == ()
    line = np.zeros((96, 128))
    line[40:44, 20:100] = 2
    assert trace(flat_maps(line, part=Part.BACKGROUND)) == ()
    assert len(trace(flat_maps(line))) == 1


@settings(max_examples=30)
@given(st.integers(0, 3), st.booleans(), st.integers(0, 10_000))
def test_turning_and_mirroring_keep_orientation_and_length(
    turns: int, mirrored: bool, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    seam = np.zeros((96, 96))
    x0, x1 = sorted(rng.choice(np.arange(10, 86), 2, replace=False))
    label = int(rng.integers(1, 4))
    y0 = int(rng.integers(10, 80))
    seam[y0 : y0 + 4, x0 : x1 + 12] = label
    other = np.rot90(seam, turns)
    other = other[:, ::-1] if mirrored else other
    before, after = trace(flat_maps(seam)), trace(flat_maps(other))
    assert [b.orientation for b in before] == [b.orientation for b in after]
    assert [b.length for b in before] == pytest.approx([b.length for b in after], abs=2.5)


def test_seen_fraction_counts_cells() -> None:
    """Half a turn of the whole length is half the surface; half of that length a quarter."""
    whole = flat_maps(np.zeros((96, 128)))
    assert seen_fraction(whole, Kind.ELBOW) == pytest.approx(0.5, abs=0.03)
    left = Maps(
        part=np.where(np.arange(128)[None, :, None] < 64, whole.part, [[[1, 0, 0, 0, 0]]]),
        seam=whole.seam,
        along=whole.along,
        around_cos=whole.around_cos,
        around_sin=whole.around_sin,
        kind=whole.kind,
        fabricated_logit=0.0,
    )
    assert seen_fraction(left, Kind.ELBOW) == pytest.approx(0.25, abs=0.03)
    assert seen_fraction(whole, Kind.NONE) == 0.0


def test_length_of_a_path() -> None:
    assert path_length(np.array([[0.0, 0.0], [3.0, 4.0], [3.0, 10.0]])) == pytest.approx(11.0)
