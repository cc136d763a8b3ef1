"""Walls and pressures against published samples and hand sums, every step reckoned anew."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.strength.mitre_pressure import mitre_pressure
from fittings.strength.pressure import (
    Design,
    bend_wall,
    pipe_pressure,
    pressure_thickness_mm,
    wall_for_pressure,
)
from fittings.strength.steps import StrengthError
from fittings.units import length_mm, pressure_mpa
from tests.follow_steps import follow

STEEL = Design(allowable_mpa=137.9, corrosion_mm=1.5)
IN = 25.4


def psi(value: float) -> float:
    return pressure_mpa(f"{value} psi", "value")


# --- 304.1.2, straight pipe


def test_published_pressure_walls() -> None:
    # ASME B31.3-2016 Appendix H, sample H301, metric: th 2.04 and tb 1.07 mm.
    sample = Design(allowable_mpa=110)
    assert round(pressure_thickness_mm(2.068, 219.1, sample), 2) == 2.04
    assert round(pressure_thickness_mm(2.068, 114.3, sample), 2) == 1.07
    # The same sample in US units, another publication: th .0803, tb .0419 in.
    us = Design(allowable_mpa=psi(16000))
    assert round(pressure_thickness_mm(psi(300), 8.625 * IN, us) / IN, 4) == 0.0803
    assert round(pressure_thickness_mm(psi(300), 4.5 * IN, us) / IN, 4) == 0.0419
    # A published calculation sheet, NPS 36 x 4, 185 psi, S 20 000 psi: .1659 and .0207 in.
    sheet = Design(allowable_mpa=psi(20000))
    assert round(pressure_thickness_mm(psi(185), 36 * IN, sheet) / IN, 4) == 0.1659
    assert round(pressure_thickness_mm(psi(185), 4.5 * IN, sheet) / IN, 4) == 0.0207


def test_wall_for_pressure_by_hand() -> None:
    # Hand sum: P 5 MPa, D 323.8, S 137.9, c 3.
    found = wall_for_pressure(5, 323.8, Design(allowable_mpa=137.9, corrosion_mm=3))
    assert round(found.t_mm, 3) == 5.786
    assert round(found.tm_mm, 3) == 8.786
    assert round(found.order_mm, 2) == 10.04
    follow(found.steps)


def test_pressure_of_straight_pipe_by_hand() -> None:
    # Hand sum: NPS 12 STD less mill tolerance and 1.5 mm.
    found = pipe_pressure(323.8, STEEL.least_wall_mm(9.53), STEEL)
    assert round(found.pressure_mpa, 3) == 5.925
    follow(found.steps)


@given(
    st.floats(min_value=0.1, max_value=30),
    st.floats(min_value=20, max_value=1300),
    st.floats(min_value=80, max_value=250),
)
def test_a_wall_made_for_a_pressure_holds_that_pressure(
    pressure: float, outside: float, allowable: float
) -> None:
    design = Design(allowable_mpa=allowable, corrosion_mm=1.5)
    wall = wall_for_pressure(pressure, outside, design)
    if wall.tm_mm < outside / 2:
        assert pipe_pressure(outside, wall.tm_mm, design).pressure_mpa == pytest.approx(pressure)
    assert wall.order_mm >= wall.tm_mm >= wall.t_mm


# --- 304.2.1, formed bend


def test_bend_wall_factors() -> None:
    # R1/D = 1.5: I is 1.25 at the intrados and 0.875 at the extrados; the formula is from memory.
    found = bend_wall(5, 300, 450, STEEL)
    assert [step.value for step in found.steps if step.symbol == "I"] == [1.25, 0.875]
    straight = wall_for_pressure(5, 300, STEEL).t_mm
    assert found.extrados_mm < straight < found.intrados_mm
    assert all(step.from_memory for step in found.steps)
    follow(found.steps)


# --- 304.2.3, mitred bend


def test_published_mitre_pressure() -> None:
    # A published calculation sheet: 80 in outside, nominal .625, T .615, c .063, S 23 180 psi,
    # 5 welds in 90° (θ 9°), R1 120 in: Pa 173.01, Pb 258.53 psi, Pm 11.93 bar.
    found = mitre_pressure(
        80 * IN,
        0.625 * IN,
        120 * IN,
        6,
        Design(allowable_mpa=psi(23180), corrosion_mm=0.063 * IN),
        least_wall_mm=0.615 * IN,
    )
    assert found.by_radius_mpa is not None
    assert round(found.by_weld_mpa / psi(1), 2) == 173.01
    assert round(found.by_radius_mpa / psi(1), 2) == 258.53
    assert round(found.pressure_mpa * 10, 2) == 11.93
    # Its end length of 12.35 in is the first of the two terms; the larger is 12.72.
    assert round(found.end_straight_mm / IN, 2) == 12.72
    assert found.covered
    follow(found.steps)


@pytest.mark.parametrize(
    ("pieces", "by_weld", "by_radius", "percent"),
    # Hand sums, NPS 12 STD, S 137.9, c 1.5, T 8.33875, R1 457.2; the first is a single mitre.
    [
        (2, 0.858, None, 14),
        (3, 2.636, 4.756, 44),
        (4, 3.287, 4.756, 55),
        (5, 3.721, 4.756, 63),
        (6, 4.033, 4.756, 68),
    ],
)
def test_mitre_pressure_by_hand(
    pieces: int, by_weld: float, by_radius: float | None, percent: int
) -> None:
    found = mitre_pressure(323.8, 9.53, 457.2, pieces, STEEL)
    assert round(found.by_weld_mpa, 3) == by_weld
    assert (found.by_radius_mpa and round(found.by_radius_mpa, 3)) == by_radius
    assert round(found.pressure_mpa, 3) == by_weld
    assert round(100 * found.share_of_pipe) == percent
    assert found.covered
    follow(found.steps)


def test_a_flat_single_mitre_takes_the_kinder_formula() -> None:
    # θ 22.5° is the last angle with 0.643; beyond it 1.25 (304.2.3(b)).
    at_limit = mitre_pressure(323.8, 9.53, 457.2, 2, STEEL, angle_deg=45)
    beyond = mitre_pressure(323.8, 9.53, 457.2, 2, STEEL, angle_deg=45.2)
    assert "0.643" in next(step.formula for step in at_limit.steps if step.symbol == "Pa")
    assert "1.25" in next(step.formula for step in beyond.steps if step.symbol == "Pa")
    assert beyond.pressure_mpa < 0.75 * at_limit.pressure_mpa


def test_in_a_tight_bend_of_many_pieces_the_radius_governs() -> None:
    # Hand sum: 137.9·6.83875/157.135 = 6.0016; times (320 − 157.135)/(320 − 78.5675) is 4.049,
    # less than the 4.455 that the welds of 8 pieces would hold.
    found = mitre_pressure(323.8, 9.53, 320, 8, STEEL)
    assert found.by_radius_mpa is not None
    assert round(found.by_radius_mpa, 3) == 4.049
    assert round(found.by_weld_mpa, 3) == 4.455
    assert found.pressure_mpa == found.by_radius_mpa < found.by_weld_mpa
    follow(found.steps)


def test_the_length_a_by_the_wall() -> None:
    # Table of 304.2.3: 25 mm up to 13, then twice the wall, from 22 two thirds of it and 30.
    for wall, a in ((13.0, 25.0), (14.0, 28.0), (24.0, 46.0)):
        found = mitre_pressure(914, 30, 1372, 4, Design(allowable_mpa=137.9), least_wall_mm=wall)
        steps = {step.symbol: step for step in found.steps}
        assert steps["A"].value == pytest.approx(a)
        assert steps["A"].from_memory == (wall >= 22)
        assert found.least_radius_mm == pytest.approx(a / 0.26794919 + 457)
        follow(found.steps)


def test_what_the_angles_mean_for_service_is_said() -> None:
    notes = {n: mitre_pressure(323.8, 9.53, 457.2, n, STEEL).notes for n in (2, 3, 4, 5)}
    assert "Category D" in notes[2][0]
    assert "severe cyclic" in notes[3][0]
    assert "severe cyclic" in notes[4][0]
    assert notes[5] == ()


def test_a_bend_too_tight_for_its_pieces_is_not_covered() -> None:
    tight = mitre_pressure(60.3, 3.91, 76.2, 5, Design(allowable_mpa=137.9))
    assert not tight.covered
    assert any("the pressure does not count" in note for note in tight.notes)


@given(
    st.integers(min_value=3, max_value=9),
    st.floats(min_value=0.02, max_value=0.1),
    st.floats(min_value=50, max_value=300),
)
def test_more_pieces_never_hold_less_and_no_mitre_holds_more_than_pipe(
    pieces: int, part: float, allowable: float
) -> None:
    design = Design(allowable_mpa=allowable)
    fewer = mitre_pressure(323.8, part * 323.8, 457.2, pieces, design)
    more = mitre_pressure(323.8, part * 323.8, 457.2, pieces + 1, design)
    assert fewer.pressure_mpa <= more.pressure_mpa
    assert more.share_of_pipe < 1
    # The share does not hang on the allowable stress.
    one = mitre_pressure(323.8, part * 323.8, 457.2, pieces, Design(allowable_mpa=1))
    assert one.share_of_pipe == pytest.approx(fewer.share_of_pipe)


def test_units_in_are_units_out() -> None:
    metric = mitre_pressure(
        length_mm("508 mm", "D"),
        length_mm("9.525 mm", "T"),
        length_mm("762 mm", "R1"),
        4,
        Design(allowable_mpa=pressure_mpa("137.8951458633672 MPa", "S")),
    )
    us = mitre_pressure(
        length_mm("20 in", "D"),
        length_mm("3/8 in", "T"),
        length_mm("2.5 ft", "R1"),
        4,
        Design(allowable_mpa=pressure_mpa("20 ksi", "S")),
    )
    assert us.pressure_mpa == pytest.approx(metric.pressure_mpa, rel=1e-12)


# --- what cannot be


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"allowable_mpa": 0}, "^allowable: must be greater than 0"),
        ({"allowable_mpa": -5}, "^allowable: must be greater than 0"),
        ({"quality_factor": 1.2}, "^quality factor E: must be above 0 and at most 1"),
        ({"weld_factor": 0}, "^weld factor W: must be above 0"),
        ({"corrosion_mm": -1}, "^corrosion: must not be negative"),
        ({"y": 1.5}, "^coefficient Y: must lie between 0 and 1"),
        ({"mill_tolerance": 1}, "^mill tolerance: must be from 0 % to below 100 %"),
    ],
)
def test_a_design_that_cannot_be_names_its_field(change: dict[str, float], said: str) -> None:
    with pytest.raises(StrengthError, match=said):
        Design(**{"allowable_mpa": 137.9, **change})


def test_pressures_that_cannot_be() -> None:
    with pytest.raises(StrengthError, match=r"^pressure: must not be negative, not -3 MPa"):
        wall_for_pressure(-3, 323.8, STEEL)
    with pytest.raises(StrengthError, match=r"^pressure: 60 MPa is too much"):
        wall_for_pressure(60, 323.8, STEEL)
    with pytest.raises(StrengthError, match=r"^pressure: must not be negative, not nan"):
        wall_for_pressure(float("nan"), 323.8, STEEL)
    with pytest.raises(StrengthError, match=r"^corrosion: 9 mm leaves nothing"):
        pipe_pressure(323.8, 8.3, Design(allowable_mpa=137.9, corrosion_mm=9))
    with pytest.raises(StrengthError, match=r"^wall: 170 mm is not less than"):
        pipe_pressure(323.8, 170, STEEL)
    with pytest.raises(StrengthError, match=r"^bend radius: 100 mm"):
        bend_wall(5, 323.8, 100, STEEL)
    with pytest.raises(StrengthError, match=r"^pieces: 3 pieces make a cut angle of 30°"):
        mitre_pressure(323.8, 9.53, 457.2, 3, STEEL, angle_deg=120)
    with pytest.raises(StrengthError, match=r"^pieces: a mitred bend has at least 2"):
        mitre_pressure(323.8, 9.53, 457.2, 1, STEEL)
