"""The rule that combines photos: what it must never do, and what Simes' theorem says of it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import logit

from vision.piece_evidence import MOST_TAKEN_OFF, combined_log_odds

odds = st.floats(-12.0, 12.0)
photos = st.lists(odds, min_size=1, max_size=20)


@given(photos, odds)
def test_a_photo_no_worse_than_the_piece_never_raises_it(some: list[float], more: float) -> None:
    """More photos of a sound piece never raise suspicion by themselves."""
    before = combined_log_odds(some)
    if more <= before:
        assert combined_log_odds([*some, more]) <= before + 1e-9


@given(photos, st.floats(-3.0, 3.0), st.floats(0.0, 5.0))
def test_a_clear_photo_is_never_voted_down(others: list[float], bar: float, over: float) -> None:
    clear = bar + MOST_TAKEN_OFF + over
    assert combined_log_odds([*others, clear]) >= bar - 1e-9


@given(photos)
def test_the_piece_is_never_more_suspect_than_its_worst_photo(some: list[float]) -> None:
    together = combined_log_odds(some)
    assert min(some) - 1e-9 <= together <= max(some) + 1e-9
    assert combined_log_odds(some[::-1]) == pytest.approx(together)


@given(odds, st.integers(1, 20))
def test_photos_that_say_the_same_say_it_together(value: float, count: int) -> None:
    assert combined_log_odds([value] * count) == pytest.approx(value)


@pytest.mark.parametrize("count", [2, 6, 12])
def test_false_alarms_of_independent_photos_stay_below_the_level(count: int) -> None:
    """Simes (Biometrika 73, 1986): with independent uniform p-values the false alarm of the
    combined test is its level. Odds (1 - p) / p are at most as liberal as p-values."""
    level = 0.05
    rng = np.random.default_rng(7)
    values = -logit(rng.uniform(size=(20_000, count)))
    bar = float(logit(1.0 - level))
    alarms = np.mean([combined_log_odds(list(row)) >= bar for row in values])
    assert 0.8 * level < alarms < level + 3 * np.sqrt(level / 20_000)
    # The highest reading alone, as one would take it without the rule, rises with the number.
    assert np.mean(values.max(axis=1) >= bar) > 1.8 * level


def test_without_photos_there_is_no_reading() -> None:
    with pytest.raises(ValueError, match="at least one"):
        combined_log_odds([])


def test_forty_photos_do_not_outvote_a_clear_one() -> None:
    bar = 0.4
    assert combined_log_odds([-5.0] * 40 + [bar + MOST_TAKEN_OFF]) >= bar - 1e-9
    assert combined_log_odds([-5.0] * 40 + [bar + 1.0]) < bar
