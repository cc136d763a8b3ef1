"""Nominal sizes: every way of writing one reads as the same fraction, and comes back."""

from __future__ import annotations

from contextlib import suppress
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fittings.sizes import format_nps, nearest_nps, parse_nps

# The same examples on every machine, and no clock: other work may slow a test down.
HOUSE = settings(derandomize=True, deadline=None)
FRACTIONS = st.fractions(min_value=Fraction(1, 64), max_value=200, max_denominator=64)


@pytest.mark.parametrize(
    ("written", "size"),
    [
        ("1-1/2", Fraction(3, 2)),
        ("1 1/2", Fraction(3, 2)),
        ("1½", Fraction(3, 2)),
        ("½", Fraction(1, 2)),
        ("1.5", Fraction(3, 2)),
        (".75", Fraction(3, 4)),
        ("NPS 3/4", Fraction(3, 4)),
        ("nps12", Fraction(12)),
        ('2-1/2"', Fraction(5, 2)),
        ("6 in", Fraction(6)),
        ("6 in.", Fraction(6)),
        (1.25, Fraction(5, 4)),
        (0.1, Fraction(1, 10)),
        (12, Fraction(12)),
        (Fraction(7, 2), Fraction(7, 2)),
        (np.float64(3.5), Fraction(7, 2)),
        (np.int64(48), Fraction(48)),
    ],
)
def test_every_way_of_writing_a_size(written: str | float, size: Fraction) -> None:
    assert parse_nps(written) == size


@pytest.mark.parametrize(
    "wrong",
    [
        *["", "big", "1-", "1/0", "3-1/0", "-2", "0", "1,5", "DN 50", "1-1/2-3", "२", "6 x 4"],
        *[True, float("nan"), float("inf"), -1, 0, None],
    ],
)
def test_what_is_no_size_is_refused_in_words(wrong: object) -> None:
    with pytest.raises(ValueError, match="is not a nominal pipe size"):
        parse_nps(wrong)  # type: ignore[arg-type]


@HOUSE
@given(FRACTIONS)
def test_parser_reads_back_what_format_writes(size: Fraction) -> None:
    assert parse_nps(format_nps(size)) == size


@HOUSE
@given(st.floats(min_value=1e-3, max_value=1e3))
def test_a_number_and_its_decimal_text_are_the_same_size(number: float) -> None:
    size = parse_nps(number)
    assert float(size) == number
    assert parse_nps(format_nps(number)) == size


@HOUSE
@given(st.text(max_size=12))
def test_any_text_gives_a_size_or_a_value_error(text: str) -> None:
    with suppress(ValueError):
        assert parse_nps(text) > 0


def test_nearest_sizes_come_in_ascending_order() -> None:
    listed = [Fraction(n) for n in (2, 4, 6, 8, 8, 10)]
    assert nearest_nps(Fraction(7), listed) == ("6", "8")
    assert nearest_nps(Fraction(99), listed) == ("8", "10")
    assert nearest_nps(Fraction(1), [Fraction(3, 2)]) == ("1-1/2",)
