"""Flexibility and stress intensification against published sheets, and by their own identities.

Sheets and tables are named by what they are: no bought edition of ASME B31.3 was at hand.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.strength.flexibility import (
    Flexibility,
    elbow,
    mean_radius_mm,
    mitre_angle_deg,
    mitred_bend,
    reducer,
    reducer_b31_1,
)
from fittings.strength.steps import StrengthError
from fittings.strength.tee_flexibility import (
    extruded_outlet,
    formed_tee,
    formed_tee_older,
    weld_on_fitting,
    welded_outlet,
)
from tests.follow_steps import follow

# NPS 12 STD with long-radius bend, the size of the hand sums.
D, T, R1 = 323.8, 9.53, 457.2
IN = 25.4


def factors(each: Flexibility) -> tuple[float, ...]:
    """h, k, ii, io."""
    return (each.h or math.nan, each.k, each.i_in, each.i_out)


# --- published worked values


def test_published_elbow() -> None:
    # A published worked sheet for an elbow, in millimetres, printed to these digits.
    sheet = elbow(711.2, 9.400, 1066.8)
    assert mean_radius_mm(711.2, 9.400) == pytest.approx(350.900)
    assert round(sheet.h or 0, 4) == 0.0814
    assert round(sheet.k, 2) == 20.26
    assert round(sheet.i_out, 2) == 3.99
    assert round(sheet.i_in, 2) == 4.79


def test_published_mitre_that_misses_the_spacing_test_by_a_hair() -> None:
    # A published worked sheet for a mitre in inches: 4 cuts of 11.25°, s 11.935. It uses the row of
    # closely spaced mitres (h 0.0967, k 10.64, i 4.27) and notes that s < r2(1 + tan θ) = 11.80
    # fails; by the strict test the row of widely spaced mitres applies.
    strict = mitred_bend(20 * IN, 0.3125 * IN, 30 * IN, 5)
    by_symbol = {step.symbol: step.value for step in strict.steps}
    assert by_symbol["θ"] == 11.25
    assert round(by_symbol["s"] / IN, 3) == 11.935
    assert round(by_symbol["limit of s"] / IN, 2) == 11.80
    assert [round(value, 4) for value in factors(strict)[:1]] == [0.0957]
    assert [round(value, 2) for value in factors(strict)[1:]] == [10.74, 4.30, 4.30]
    # The sheet's own numbers: the h of its row is the elbow's, k and i follow from it.
    h = elbow(20 * IN, 0.3125 * IN, 30 * IN).h or 0
    assert round(h, 4) == 0.0967
    assert round(1.52 / h ** (5 / 6), 2) == 10.64
    assert round(0.9 / h ** (2 / 3), 2) == 4.27


def test_published_unreinforced_tee() -> None:
    # A public test value for an unreinforced tee, 3.5 in outside, 0.216 in wall.
    tee = welded_outlet(3.5 * IN, 0.216 * IN)
    assert tee.h == pytest.approx(0.13155, rel=1e-4)
    assert round(tee.i_out, 4) == 3.4795


# --- hand sums, NPS 12 STD (r2 157.135), each printed digit


@pytest.mark.parametrize(
    ("each", "expected"),
    [
        (elbow(D, T, R1), (0.17646, 9.350, 2.861, 2.384)),
        (elbow(D, T, 304.8), (0.11764, 14.026, 3.749, 3.124)),
        (mitred_bend(D, T, R1, 2), (0.06065, 15.71, 5.830, 5.830)),
        (mitred_bend(D, T, R1, 3), (0.10353, 10.06, 4.082, 4.082)),
        (mitred_bend(D, T, R1, 4), (0.14350, 7.664, 3.284, 3.284)),
        (mitred_bend(D, T, R1, 5), (0.17646, 6.451, 2.861, 2.861)),
        (formed_tee(D, T), (0.18801, 1, 2.307, 2.742)),
        (formed_tee_older(D, T), (0.26685, 1, 1.879, 2.171)),
        (welded_outlet(D, T), (0.06065, 1, 4.623, 5.830)),
        (welded_outlet(D, T, T), (0.16713, 1, 2.475, 2.966)),
        (extruded_outlet(D, T, 0.05 * D), (0.06690, 1, 4.346, 5.461)),
        (weld_on_fitting(D, T), (0.20014, 1, 2.630, 2.630)),
    ],
    ids=lambda value: value.piece if isinstance(value, Flexibility) else "",
)
def test_hand_sums(each: Flexibility, expected: tuple[float, ...]) -> None:
    assert factors(each) == pytest.approx(expected, rel=5e-4)
    follow(each.steps)


def test_a_pad_thicker_than_one_and_a_half_walls_has_its_own_formula() -> None:
    # Hand sum: 4·9.53/157.135 = 0.24259; at 1.5·T the other formula still gives 4.051·T/r2.
    thick = welded_outlet(D, T, 1.6 * T)
    assert round(thick.h or 0, 5) == 0.24259
    assert "another formula" in thick.notes[0]
    follow(thick.steps)
    assert round((welded_outlet(D, T, 1.5 * T).h or 0) * 157.135 / T, 3) == 4.051


def test_spacing_by_the_standards_own_test() -> None:
    # Hand sums: s 378.8 against 222.2, 245.0 against 199.2, 181.9 against 188.4 mm.
    expected = {3: (378.8, 222.2, "widely"), 4: (245.0, 199.2, "widely"), 5: (181.9, 188.4, "clos")}
    for pieces, (spacing, limit, word) in expected.items():
        bend = mitred_bend(D, T, R1, pieces)
        by_symbol = {step.symbol: step.value for step in bend.steps}
        assert round(by_symbol["s"], 1) == spacing
        assert round(by_symbol["limit of s"], 1) == limit
        assert bend.notes[0].startswith(word)
    single = mitred_bend(D, T, R1, 2)
    assert "s" not in {step.symbol for step in single.steps}
    assert single.notes[0].startswith("single mitre")


def test_the_row_of_wide_mitres_says_that_it_is_from_memory() -> None:
    assert any(step.from_memory for step in mitred_bend(D, T, R1, 3).steps)
    assert "from memory" in mitred_bend(D, T, R1, 3).notes[0]
    assert not any(step.from_memory for step in mitred_bend(D, T, R1, 5).steps)
    assert not any(step.from_memory for step in elbow(D, T, R1).steps)


def test_reducers() -> None:
    assert factors(reducer())[1:] == (1, 1, 1)
    follow(reducer().steps)
    # Hand sum, 12 x 8 STD: cone angle 14.46°, 1.248 by ASME B31.1 (formula from memory).
    other = reducer_b31_1(323.8, 219.1, 8.18, 203)
    assert round(other.steps[0].value, 2) == 14.46
    assert round(other.i_in, 3) == round(other.i_out, 3) == 1.248
    assert other.steps[1].from_memory
    follow(other.steps)
    # A short, steep, thin cone meets the cap of 2.0.
    assert reducer_b31_1(1219, 508, 5, 400).i_in == 2.0


# --- identities and properties

OUTSIDE = st.floats(min_value=20, max_value=1300)
SHARE = st.floats(min_value=0.003, max_value=0.4)  # wall over diameter
GROWTH = st.floats(min_value=1.0, max_value=1.2)


@given(OUTSIDE, SHARE, st.integers(min_value=3, max_value=12))
def test_a_close_mitre_has_the_elbows_h(outside: float, part: float, pieces: int) -> None:
    bend = mitred_bend(outside, part * outside, 1.5 * outside, pieces)
    formed = elbow(outside, part * outside, 1.5 * outside)
    if bend.notes[0].startswith("closely"):
        assert bend.h == pytest.approx(formed.h)
        assert bend.i_out == pytest.approx(formed.i_in)
    else:
        assert (bend.h or 0) <= (formed.h or 0) * (1 + 1e-9)


@given(OUTSIDE, SHARE)
def test_one_right_angled_mitre_is_as_weak_as_an_unreinforced_outlet(
    outside: float, part: float
) -> None:
    single = mitred_bend(outside, part * outside, 1.5 * outside, 2)
    assert single.h == pytest.approx(welded_outlet(outside, part * outside).h)


@given(OUTSIDE, st.floats(min_value=0.003, max_value=0.1))
def test_ratios_of_the_tee_rows_do_not_depend_on_the_size(outside: float, part: float) -> None:
    wall = part * outside
    bare = welded_outlet(outside, wall).i_out
    # Thin enough that no factor has reached 1, below which none may fall.
    if formed_tee_older(outside, wall).i_out > 1:
        assert bare / formed_tee(outside, wall).i_out == pytest.approx(3.1 ** (2 / 3))
        assert bare / formed_tee_older(outside, wall).i_out == pytest.approx(4.4 ** (2 / 3))
        assert bare / welded_outlet(outside, wall, wall).i_out == pytest.approx(1.5 ** (5 / 3))
    powers = (3.1 ** (2 / 3), 4.4 ** (2 / 3), 1.5 ** (5 / 3))
    assert [round(power, 3) for power in powers] == [2.126, 2.685, 1.966]


@given(OUTSIDE, SHARE, GROWTH)
def test_a_thicker_wall_never_raises_the_factor_of_a_formed_tee(
    outside: float, part: float, growth: float
) -> None:
    thin = formed_tee(outside, part * outside)
    thick = formed_tee(outside, part * outside * growth)
    assert thick.i_out <= thin.i_out
    assert thick.i_in <= thin.i_in


@given(OUTSIDE, SHARE, st.floats(min_value=0, max_value=4))
def test_a_pad_is_never_worse_than_none(outside: float, part: float, pad: float) -> None:
    wall = part * outside
    bare, padded = welded_outlet(outside, wall), welded_outlet(outside, wall, pad * wall)
    assert padded.i_out <= bare.i_out
    assert padded.i_in <= bare.i_in


@given(OUTSIDE, SHARE, st.floats(min_value=0.6, max_value=5), st.integers(2, 9))
def test_no_factor_is_below_one_and_every_step_can_be_followed(
    outside: float, part: float, radius: float, pieces: int
) -> None:
    wall, bend = part * outside, radius * outside
    for each in (
        elbow(outside, wall, bend),
        mitred_bend(outside, wall, bend, pieces),
        formed_tee(outside, wall),
        welded_outlet(outside, wall, wall / 2),
        weld_on_fitting(outside, wall),
    ):
        assert min(factors(each)[1:]) >= 1
        assert each.largest == max(each.i_in, each.i_out)
        follow(each.steps)


def test_beyond_the_reach_of_the_table_is_said() -> None:
    assert formed_tee(1219, 9.53).notes == (
        "D/T is 128; Table D300 is valid up to 100, so these factors lie outside it",
    )
    assert formed_tee(1219, 12.7).notes == ()
    for each in (elbow(1219, 9.53, 1829), mitred_bend(1219, 9.53, 1829, 3)):
        assert "D/T is 128" in each.notes[-1]


# --- what cannot be


@pytest.mark.parametrize(
    ("outside", "wall", "said"),
    [
        (323.8, 161.9, "^wall: 161.9 mm is not less than the outside radius of 161.9 mm"),
        (323.8, 0, "^wall: must be greater than 0"),
        (323.8, -9.53, "^wall: must be greater than 0"),
        (0, 9.53, "^outside diameter: must be greater than 0"),
    ],
)
def test_a_pipe_that_cannot_be_is_refused_by_every_row(
    outside: float, wall: float, said: str
) -> None:
    for make in (formed_tee, welded_outlet, weld_on_fitting):
        with pytest.raises(StrengthError, match=said):
            make(outside, wall)
    with pytest.raises(StrengthError, match=said):
        elbow(outside, wall, 457.2)
    with pytest.raises(StrengthError, match=said):
        mitred_bend(outside, wall, 457.2, 3)


def test_bends_and_pads_that_cannot_be() -> None:
    with pytest.raises(StrengthError, match=r"^pieces: a mitred bend has at least 2 pieces, not 1"):
        mitred_bend(D, T, R1, 1)
    with pytest.raises(StrengthError, match=r"^angle: must be between 0° and 180°"):
        mitre_angle_deg(3, 200)
    for make in (elbow, lambda d, t, r: mitred_bend(d, t, r, 3)):
        with pytest.raises(StrengthError, match=r"^bend radius: 150 mm is not more than"):
            make(D, T, 150)
    with pytest.raises(StrengthError, match=r"^pad: must not be negative, not -3 mm"):
        welded_outlet(D, T, -3)
    with pytest.raises(StrengthError, match=r"^crotch radius: must be greater than 0"):
        extruded_outlet(D, T, 0)
    with pytest.raises(StrengthError, match=r"^second size: the small end must be smaller"):
        reducer_b31_1(219.1, 323.8, 8.18, 203)
    with pytest.raises(StrengthError, match=r"^length: must be greater than 0"):
        reducer_b31_1(323.8, 219.1, 8.18, 0)
