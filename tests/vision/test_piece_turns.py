"""Which way round a photo shows the piece: told by which way up it lay, or left to chance."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fittings.words import Kind, Part
from tests.vision.pieces import window
from vision.piece_form import usual_form
from vision.piece_seen import COLUMNS, seen_share, turned, union
from vision.piece_turns import has_datum, least_shown, resolved
from vision.piece_upright import turn_matrix


def held(eye: tuple[float, float, float], up: tuple[float, float, float]) -> np.ndarray:
    """(3, 3) axes of a camera held level at `eye` that looks at the origin."""
    forward = -np.asarray(eye, float) / np.linalg.norm(eye)
    right = np.cross(forward, up)
    right /= np.linalg.norm(right)
    return np.stack([right, np.cross(forward, right), forward])


ELBOW_EYES = [(4, 1, 3), (-3, 4, 2), (1, -5, 1.5), (2, 3, 4)]


@pytest.mark.parametrize("flips", list(itertools.product((0, 1), repeat=4)))
def test_an_elbow_that_lies_flat_tells_its_half_turns(flips: tuple[int, ...]) -> None:
    """Its side z > 0 is up in every photo, whichever end each photo's coordinates start from."""
    axes = [
        held(eye, (0, 0, 1)) @ turn_matrix(Kind.ELBOW, flip).T
        for eye, flip in zip(ELBOW_EYES, flips, strict=True)
    ]
    turns = resolved(Kind.ELBOW, axes, datum=False)
    assert turns.sure == (True,) * 4
    # All are turned to the first, whichever way round that is.
    assert [t ^ f for t, f in zip(turns.columns, flips, strict=True)] == [flips[0]] * 4
    assert (turns.drawn == turns.columns).mean() > 0.85


def test_a_tee_with_its_outlet_up_tells_nothing() -> None:
    """A half turn about the outlet's axis leaves up where it is."""
    eyes = [(4, 1, 3), (-3, 4, 2), (1, -5, 1.5)]
    turns = resolved(Kind.TEE, [held(eye, (0, 0, 1)) for eye in eyes], datum=False)
    assert turns.sure == (True, False, False)
    assert turns.drawn[:, 1:].mean() == pytest.approx(0.5, abs=0.1)


def test_a_reducer_that_stands_on_its_end_tells_nothing() -> None:
    eyes = [(1.5, 4, 1), (2, -3, 3), (1, 0.5, -5)]
    turns = resolved(Kind.REDUCER, [held(eye, (1, 0, 0)) for eye in eyes], datum=False)
    assert turns.sure == (True, False, False)
    counts = np.bincount(turns.drawn[:, 1], minlength=COLUMNS)
    assert np.count_nonzero(counts) > COLUMNS / 2


def test_a_reducer_that_lies_down_tells_how_far_round_it_was_walked() -> None:
    """From near its ends, where the picture's up is the piece's whatever the camera's height."""
    eyes = [(5, 1.5, 1), (5, -1.5, 1.2), (-5, 1, 1)]
    walked = [0, 20, 50]
    axes = [
        held(eye, (0, 0, 1)) @ turn_matrix(Kind.REDUCER, -columns).T
        for eye, columns in zip(eyes, walked, strict=True)
    ]
    turns = resolved(Kind.REDUCER, axes, datum=False)
    off = np.abs((turns.drawn[:, 1:] - walked[1:] + 36) % COLUMNS - 36)
    # By chance half of the draws would lie within a quarter turn, 18 columns.
    assert np.median(off) < 9


def test_one_photo_of_a_piece_turned_over_leaves_the_others_sure() -> None:
    axes = [held(eye, (0, 0, 1)) for eye in ELBOW_EYES]
    axes.append(held((3, 2, 3), (0.7, 0.7, 0)))  # stood on an end meanwhile
    turns = resolved(Kind.ELBOW, axes, datum=False)
    assert turns.columns[:4] == (0, 0, 0, 0)
    assert turns.sure[:4] == (True,) * 4


@pytest.mark.parametrize("kind", [Kind.ELBOW, Kind.TEE, Kind.REDUCER])
def test_photos_of_which_nothing_is_known_are_unsure(kind: Kind) -> None:
    turns = resolved(kind, [None] * 3, datum=False)
    assert turns.sure == (True, False, False)
    assert resolved(kind, [None] * 3, datum=True).sure == (True, True, True)
    again = resolved(kind, [None] * 3, datum=False)
    assert np.array_equal(turns.drawn, again.drawn)
    assert not turns.drawn[:, 0].any()


def test_an_eccentric_reducers_datum_is_its_own() -> None:
    assert has_datum(Kind.REDUCER, [100.0, -80.0, 10.0, 170.0])
    assert not has_datum(Kind.REDUCER, [3.0, -8.0, 10.0, 0.0])
    assert not has_datum(Kind.REDUCER, [30.0])  # one photo a little aside is no proof
    assert not has_datum(Kind.ELBOW, [100.0, -80.0])


@settings(max_examples=25)
@given(st.lists(st.floats(-180.0, 90.0), min_size=2, max_size=5), st.data())
def test_the_least_that_is_shown_is_less_than_any_other(
    lows: list[float], data: st.DataObject
) -> None:
    form = usual_form(Kind.ELBOW)
    maps = [{Part.BODY: window(low, low + 90.0)} for low in lows]

    def shown(columns: tuple[int, ...]) -> float:
        moved = [
            turned(Kind.ELBOW, Part.BODY, m[Part.BODY].share, c)
            for m, c in zip(maps, columns, strict=True)
        ]
        return seen_share(form, {Part.BODY: union(moved)})

    first = data.draw(st.integers(0, len(maps) - 1))
    worst = least_shown(form, maps, first=first)
    assert worst[first] == 0
    other = data.draw(st.tuples(*[st.integers(0, 1)] * len(maps)))
    assert shown(worst) <= shown(other) + 1e-9


def test_many_photos_are_taken_one_after_the_other() -> None:
    """Three photos of a concentric reducer, two of unknown turn: 72² ways are too many to try."""
    form = usual_form(Kind.REDUCER)
    maps = [{Part.BODY: window(-85, 85)}, {Part.BODY: window(-60, 60)}, {Part.BODY: window(0, 90)}]
    moved = [
        turned(Kind.REDUCER, Part.BODY, m[Part.BODY].share, c)
        for m, c in zip(maps, least_shown(form, maps), strict=True)
    ]
    assert np.array_equal(union(moved), maps[0][Part.BODY].share)
