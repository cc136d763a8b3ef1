"""A seam found in two photos counts once, whichever way round the photos show the piece."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import circmean

from fittings.words import Kind, Orientation, Part
from tests.vision.pieces import girth, lengthwise
from vision.piece_seams import PieceSeam, PlacedCurve, gathered, merged_lines, turned_curve
from vision.piece_seen import COLUMNS


def test_one_girth_seam_in_two_photos_counts_once() -> None:
    curves = [girth(0.24), girth(0.26, photo=1), girth(0.75, photo=1)]
    seams = gathered(curves, Kind.ELBOW, [0, 0], [True, True])
    assert [seam.photos for seam in seams] == [(0, 1), (1,)]
    assert seams[0].place == pytest.approx(0.25)


def test_a_photo_from_the_other_end_shows_the_same_seam() -> None:
    """Seen after a half turn the weld at 0.3 lies at 0.7."""
    curves = [girth(0.3), girth(0.7, photo=1)]
    assert len(gathered(curves, Kind.ELBOW, [0, 1], [True, True])) == 1
    assert len(gathered(curves, Kind.ELBOW, [0, 0], [True, True])) == 2


def test_an_unsure_photo_adds_no_seam_that_may_be_the_same() -> None:
    curves = [girth(0.3), girth(0.7, photo=1), girth(0.5, photo=1)]
    seams = gathered(curves, Kind.ELBOW, [0, 0], [True, False])
    assert sorted(len(seam.curves) for seam in seams) == [1, 2]
    assert [seam.place_sure for seam in seams if len(seam.curves) == 1] == [False]


def test_lengthwise_seams_meet_across_the_cut_at_180_degrees() -> None:
    seams = gathered([lengthwise(176), lengthwise(-178, photo=1)], Kind.ELBOW, [0, 0], [True] * 2)
    (seam,) = seams
    assert abs(seam.place) == pytest.approx(179.0)


@given(st.lists(st.floats(-40.0, 40.0), min_size=2, max_size=30), st.floats(-360.0, 360.0))
def test_the_middle_of_lengthwise_lines_is_scipys_mean_of_directions(
    offsets: list[float], about: float
) -> None:
    """Also across the cut at 180 degrees, of one curve and of a seam of many."""
    turns = np.array(offsets) + about
    curve = PlacedCurve(
        photo=0,
        orientation=Orientation.LONGITUDINAL,
        part=Part.BODY,
        confidence=0.9,
        along=np.linspace(0.1, 0.9, len(turns)),
        around_deg=turns,
    )
    each = tuple(lengthwise(float(turn)) for turn in turns)
    seam = PieceSeam(
        orientation=Orientation.LONGITUDINAL, part=Part.BODY, curves=each, place_sure=True
    )
    theirs = circmean(turns, high=180.0, low=-180.0)
    for ours in (curve.place, seam.place):
        assert abs((ours - theirs + 180.0) % 360.0 - 180.0) < 1e-6


def test_a_reducers_girth_seam_needs_no_turn() -> None:
    curves = [girth(0.2), girth(0.22, photo=1)]
    seams = gathered(curves, Kind.REDUCER, [0, 0], [True, False])
    assert len(seams) == 1
    assert seams[0].place_sure


def test_lines_of_another_part_or_direction_stay_apart() -> None:
    curves = [
        girth(0.5, part=Part.RUN),
        girth(0.5, photo=1, part=Part.OUTLET),
        lengthwise(0.0, photo=1, part=Part.RUN),
    ]
    seams = gathered(curves, Kind.TEE, [0, 0], [True, True])
    assert len(seams) == 3
    assert seams[-1].orientation is Orientation.LONGITUDINAL  # the least telling comes last


@given(
    st.sampled_from([(Kind.ELBOW, Part.BODY), (Kind.TEE, Part.RUN), (Kind.TEE, Part.OUTLET)]),
    st.floats(0.0, 1.0),
    st.floats(-180.0, 180.0),
)
def test_two_half_turns_are_none(where: tuple[Kind, Part], at: float, around_deg: float) -> None:
    kind, part = where
    for curve in (girth(at, part=part), lengthwise(around_deg, part=part)):
        twice = turned_curve(turned_curve(curve, kind, 1), kind, 1)
        assert twice.along == pytest.approx(curve.along)
        apart = (twice.around_deg - curve.around_deg + 180.0) % 360.0 - 180.0
        assert np.abs(apart).max() < 1e-9


@given(st.integers(0, COLUMNS - 1), st.floats(-180.0, 180.0))
def test_a_reducers_turn_moves_its_seams_round(columns: int, around_deg: float) -> None:
    moved = turned_curve(lengthwise(around_deg), Kind.REDUCER, columns)
    apart = (moved.around_deg - around_deg - columns * 5.0 + 180.0) % 360.0 - 180.0
    assert np.abs(apart).max() < 1e-9


def test_curves_are_drawn_as_one_and_broken_where_nobody_saw_them() -> None:
    one, other = girth(0.24), girth(0.26, photo=1)
    (seam,) = gathered([one, other], Kind.ELBOW, [0, 0], [True, True])
    (line,) = merged_lines(seam)
    assert line[0] == pytest.approx(np.full(len(line[0]), 0.25))
    far = girth(0.25, photo=1)
    far = type(far)(
        **{name: getattr(far, name) for name in far.__dataclass_fields__ if name != "around_deg"},
        around_deg=far.around_deg + 180.0,
    )
    (seam,) = gathered([one, far], Kind.ELBOW, [0, 0], [True, True])
    # The far side's stretch crosses the sheet's edge, where it is cut too.
    assert len(merged_lines(seam)) == 3
