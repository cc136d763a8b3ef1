"""A step shows the numbers that were put in, and nothing is put into the middle of a word."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.strength.steps import StrengthError, Working, figure, not_negative, positive, share
from tests.follow_steps import follow, reckoned


def test_a_symbol_is_replaced_only_where_it_stands_alone() -> None:
    work = Working(
        "a source", {"t": 2.0, "th": 3.0, "T": 5.0, "T̄": 7.0, "T̄h": 11.0, "a": 13.0, "n": 17.0}
    )
    work.line("x", "a meaning", "tan(t) + th·T̄h − T̄/T + max(a, t²) + min(n, h)", 0.0)
    (step,) = work.steps
    assert step.numbers == "tan(2) + 3·11 − 7/5 + max(13, 2²) + min(17, h)"
    assert step.formula == "tan(t) + th·T̄h − T̄/T + max(a, t²) + min(n, h)"


def test_a_line_knows_the_lines_above_it_and_its_source() -> None:
    work = Working("Table A", {"a": 4.0})
    work.line("b", "double", "2·a", 8.0, "mm")
    work.line("c", "less", "a − b", -4.0, source="from memory")
    work.line("d", "square", "c²", 16.0)
    assert [step.numbers for step in work.steps] == ["2·4", "4 − 8", "(-4)²"]
    assert [step.source for step in work.steps] == ["Table A", "from memory", "Table A"]
    assert [step.from_memory for step in work.steps] == [False, True, False]
    follow(work.steps)


def test_a_line_that_does_not_give_its_value_is_noticed() -> None:
    work = Working("Table A", {"a": 4.0})
    work.line("b", "double", "2·a", 8.1)
    with pytest.raises(AssertionError, match="b = 2·4"):
        follow(work.steps)
    with pytest.raises(AssertionError, match="still holds symbols"):
        reckoned("2·missing")


@given(st.floats(min_value=-1e7, max_value=1e7))
def test_a_figure_reads_back_to_six_digits(value: float) -> None:
    text = figure(value).strip("()")
    assert "e" not in text
    assert math.isclose(float(text), value, rel_tol=1e-5, abs_tol=1e-8)


def test_what_was_put_in_is_shown_as_it_was() -> None:
    assert (figure(9.53), figure((323.8 - 9.53) / 2), figure(6.83875)) == (
        "9.53",
        "157.135",
        "6.83875",
    )


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_checks_name_the_field(bad: float) -> None:
    with pytest.raises(StrengthError, match=r"^wall: must be greater than 0"):
        positive(bad, "wall", "mm")
    with pytest.raises(StrengthError, match=r"^E: must be above 0 and at most 1"):
        share(bad, "E")
    if bad:
        with pytest.raises(StrengthError, match=r"^pad: must not be negative"):
            not_negative(bad, "pad", "mm")
    assert (positive(2.0, "a", ""), not_negative(0.0, "a", ""), share(1.0, "a")) == (2.0, 0.0, 1.0)
