"""Which way round a photo shows the piece: told by what is on the surface, or not told at all."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter

from fittings.words import Kind, Part
from tests.vision.pieces import window
from vision.piece_form import usual_form
from vision.piece_seen import COLUMNS, ROWS, SeenPart, seen_share, turned, union
from vision.piece_turns import Turns, has_datum, least_shown, resolved


def rusty(seed: int) -> np.ndarray:
    """(2 ROWS, 2 COLUMNS) brightness of a patchy surface."""
    rng = np.random.default_rng(seed)
    noise = gaussian_filter(rng.normal(size=(2 * ROWS, 2 * COLUMNS)), 1.2, mode=("nearest", "wrap"))
    return 120.0 * np.exp(0.3 * noise / noise.std())


def noisy(seen: SeenPart, seed: int) -> SeenPart:
    """Another photo's light (a gradient over the part) and noise on the same surface."""
    rng = np.random.default_rng([9, seed])
    fall = np.linspace(0.6, 1.4, 2 * ROWS)[:, None]
    grey = seen.grey * fall * np.exp(0.1 * rng.normal(size=seen.grey.shape))
    return SeenPart(share=seen.share, px_per_radius=seen.px_per_radius, grey=grey)


def turned_part(kind: Kind, part: Part, seen: SeenPart, turn: int) -> SeenPart:
    return SeenPart(
        share=turned(kind, part, seen.share, turn),
        px_per_radius=turned(kind, part, seen.px_per_radius, turn),
        grey=turned(kind, part, seen.grey, turn),
    )


@pytest.mark.parametrize("flips", list(itertools.product((0, 1), repeat=3)))
def test_rust_tells_an_elbows_half_turns(flips: tuple[int, ...]) -> None:
    texture = rusty(3)
    views = [window(-100, 60, texture), window(-60, 100, texture), window(-20, 140, texture)]
    maps = [
        {Part.BODY: turned_part(Kind.ELBOW, Part.BODY, noisy(view, number), flip)}
        for number, (view, flip) in enumerate(zip(views, flips, strict=True))
    ]
    turns = resolved(Kind.ELBOW, maps, datum=False)
    assert turns.sure == (True, True, True)
    # All are turned to the first, whichever way round that is.
    assert [t ^ f for t, f in zip(turns.columns, flips, strict=True)] == [flips[0]] * 3


def test_rust_tells_how_far_round_a_reducer_was_walked() -> None:
    texture = rusty(5)
    one = {Part.BODY: noisy(window(-85, 85, texture), 1)}
    walked = turned_part(Kind.REDUCER, Part.BODY, window(-35, 135, texture), -10)
    turns = resolved(Kind.REDUCER, [one, {Part.BODY: noisy(walked, 2)}], datum=False)
    assert turns.sure == (True, True)
    assert turns.columns[1] == pytest.approx(10, abs=1)


@pytest.mark.parametrize("kind", [Kind.ELBOW, Kind.TEE, Kind.REDUCER])
def test_a_plain_surface_tells_nothing(kind: Kind) -> None:
    """Even coats under other light each time: no turn may be called sure."""
    parts = (Part.RUN, Part.OUTLET) if kind is Kind.TEE else (Part.BODY,)
    maps = [
        {part: noisy(window(low, low + 170), number) for part in parts}
        for number, low in enumerate((-170, -100, -40, 5))
    ]
    assert resolved(kind, maps, datum=False).sure == (True, False, False, False)


def test_the_edge_of_a_shadow_tells_nothing() -> None:
    """A terminator runs along an elbow in every photo, whichever way up that shows it."""
    around = np.linspace(-180, 180, 2 * COLUMNS)
    shade = np.tile(np.where(around > 20.0, 60.0, 140.0), (2 * ROWS, 1))
    mirrored = turned(Kind.ELBOW, Part.BODY, shade, 1)
    maps = [
        {Part.BODY: noisy(window(-85, 85, texture), number)}
        for number, texture in enumerate((shade, mirrored))
    ]
    assert resolved(Kind.ELBOW, maps, datum=False).sure == (True, False)


def test_disagreement_one_way_is_no_proof_of_the_other() -> None:
    """A highlight where the other photo has shade: the right turn disagrees, and none is told."""
    texture = rusty(4)
    negative = 120.0**2 / texture
    maps = [
        {Part.BODY: window(-85, 85, texture)},
        {Part.BODY: window(-85, 85, negative)},
    ]
    assert resolved(Kind.ELBOW, maps, datum=False).sure == (True, False)


def test_an_eccentric_reducers_datum_is_its_own() -> None:
    assert has_datum(Kind.REDUCER, [100.0, -80.0, 10.0, 170.0])
    assert not has_datum(Kind.REDUCER, [3.0, -8.0, 10.0, 0.0])
    assert not has_datum(Kind.REDUCER, [30.0])  # one photo a little aside is no proof
    assert not has_datum(Kind.ELBOW, [100.0, -80.0])


@settings(max_examples=25)
@given(st.lists(st.floats(-180.0, 90.0), min_size=2, max_size=5), st.data())
def test_unsure_photos_are_counted_at_their_worst(lows: list[float], data: st.DataObject) -> None:
    form = usual_form(Kind.ELBOW)
    maps = [{Part.BODY: window(low, low + 90.0)} for low in lows]
    unsure = Turns(columns=(0,) * len(maps), sure=(True,) + (False,) * (len(maps) - 1))

    def shown(columns: tuple[int, ...]) -> float:
        moved = [
            turned(Kind.ELBOW, Part.BODY, m[Part.BODY].share, c)
            for m, c in zip(maps, columns, strict=True)
        ]
        return seen_share(form, {Part.BODY: union(moved)})

    worst = least_shown(form, maps, unsure)
    assert worst.columns[0] == 0
    other = data.draw(st.tuples(st.just(0), *[st.integers(0, 1)] * (len(maps) - 1)))
    assert shown(worst.columns) <= shown(other) + 1e-9


def test_many_unsure_photos_are_taken_one_after_the_other() -> None:
    """Three photos of a concentric reducer, two of unknown turn: 72² ways are too many to try."""
    form = usual_form(Kind.REDUCER)
    maps = [{Part.BODY: window(-85, 85)}, {Part.BODY: window(-60, 60)}, {Part.BODY: window(0, 90)}]
    turns = least_shown(form, maps, Turns(columns=(0, 20, 0), sure=(True, False, False)))
    moved = [
        turned(Kind.REDUCER, Part.BODY, m[Part.BODY].share, c)
        for m, c in zip(maps, turns.columns, strict=True)
    ]
    assert np.array_equal(union(moved), maps[0][Part.BODY].share)
