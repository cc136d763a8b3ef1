"""Units against pint, there and back, and every text that is no quantity refused by name."""

from __future__ import annotations

from contextlib import suppress

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.units import (
    LENGTH_UNITS,
    PRESSURE_UNITS,
    QuantityError,
    length_mm,
    mm_in,
    mpa_in,
    pressure_mpa,
)

NUMBERS = st.decimals(min_value=0, max_value=100_000, places=4)


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    return pint.UnitRegistry()


@pytest.mark.parametrize("unit", LENGTH_UNITS)
def test_lengths_agree_with_pint(registry: pint.UnitRegistry, unit: str) -> None:
    theirs = registry.Quantity(2.345, "inch" if unit == "in" else unit).to("mm").magnitude
    assert length_mm(f"2.345 {unit}", "wall") == pytest.approx(theirs, rel=1e-12)


@pytest.mark.parametrize("unit", PRESSURE_UNITS)
def test_pressures_agree_with_pint(registry: pint.UnitRegistry, unit: str) -> None:
    theirs = registry.Quantity(2.345, unit).to("MPa").magnitude
    assert pressure_mpa(f"2.345 {unit}", "pressure") == pytest.approx(theirs, rel=1e-12)


def test_exact_constants() -> None:
    # 1 in = 25.4 mm; 1 lbf/in² = 0.45359237 kg × 9.80665 m/s² on (25.4 mm)².
    assert length_mm("1 in", "x") == 25.4
    assert length_mm("1 ft", "x") == 304.8
    assert pressure_mpa("1 psi", "x") == pytest.approx(4.4482216152605 / 645.16, rel=1e-15)
    assert pressure_mpa("1 bar", "x") == 0.1
    # Design data that the standard's own sample prints in both systems: 300 psi and 2 068 kPa.
    assert pressure_mpa("300 psi", "x") == pytest.approx(pressure_mpa("2068 kPa", "x"), rel=5e-4)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        *[("9.53 mm", 9.53), ("9.53mm", 9.53), ("0.25in", 6.35), ("0.25 IN", 6.35)],
        *[("1-1/2 in", 38.1), ('1 1/2"', 38.1), ("1½ in", 38.1), ("3/8 in", 9.525), ("½″", 12.7)],
        *[("2 inches", 50.8), ("1.2 m", 1200.0), ("5 cm", 50.0), ("1e1 mm", 10.0), (".5 in", 12.7)],
        *[("-3 mm", -3.0), ("−3 mm", -3.0), ("2 in.", 50.8)],
    ],
)
def test_lengths_as_people_write_them(text: str, mm: float) -> None:
    assert length_mm(text, "wall") == mm


@pytest.mark.parametrize(
    ("text", "mpa"),
    [
        *[("3MPa", 3.0), ("3 mpa", 3.0), ("30 bar", 3.0), ("30 barg", 3.0), ("3000 kPa", 3.0)],
        *[("3 N/mm²", 3.0), ("1 ksi", 6.894757293168361), ("1000 psig", 6.894757293168361)],
    ],
)
def test_pressures_as_people_write_them(text: str, mpa: float) -> None:
    assert pressure_mpa(text, "pressure") == mpa


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("9.53", "has no unit; write it like 9.53 mm or 0.375 in"),
        ("", "nothing is given"),
        ("9,53 mm", "has a comma"),
        ("thick", "is no number with a unit"),
        ("3 furlongs", "unit 'furlongs' is not one of mm, cm, m, in, ft"),
        ("3 MPa", "unit 'MPa' is not one of mm"),
        ("1/0 in", "divides by 0"),
        ("1e9999 mm", "unit 'e9999 mm' is not one of"),
        ("1..2 mm", "is no number with a unit"),
        ("3 4 mm", "is no number with a unit"),
    ],
)
def test_what_is_no_length_names_the_field_and_what_to_write(text: str, said: str) -> None:
    with pytest.raises(QuantityError) as caught:
        length_mm(text, "pad width")
    assert str(caught.value).startswith("pad width: ")
    assert said in caught.value.problem


def test_absolute_pressures_are_refused() -> None:
    for text in ("3 bara", "40 psia", "40 psi(a)"):
        with pytest.raises(QuantityError, match="give the gauge pressure"):
            pressure_mpa(text, "pressure")


@given(NUMBERS, st.sampled_from(sorted(LENGTH_UNITS)))
def test_length_in_is_length_out(number: object, unit: str) -> None:
    assert mm_in(length_mm(f"{number} {unit}", "x"), unit) == pytest.approx(float(str(number)))


@given(NUMBERS, st.sampled_from(sorted(PRESSURE_UNITS)))
def test_pressure_in_is_pressure_out(number: object, unit: str) -> None:
    assert mpa_in(pressure_mpa(f"{number} {unit}", "x"), unit) == pytest.approx(float(str(number)))


@given(st.text(alphabet='0123456789./- ½eE+mincftMPabrpsk"″,−é', max_size=14))
def test_any_text_is_a_quantity_or_an_error_that_names_the_field(text: str) -> None:
    for read in (length_mm, pressure_mpa):
        with suppress(QuantityError):
            assert isinstance(read(text, "field"), float)
