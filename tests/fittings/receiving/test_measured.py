"""Measurements against limits; unit conversion checked with pint, wall sums with statistics."""

from __future__ import annotations

import statistics

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.order.lines import FittingForm, OrderLine
from fittings.receiving.end_limits import Limit
from fittings.receiving.limits import limits
from fittings.receiving.measured import (
    MeasurementError,
    Place,
    compare,
    limit_named,
    millimetres,
    wall_survey,
)
from fittings.units import length_mm

ELBOW = limits(OrderLine(row=0, form=FittingForm.ELBOW_90_LONG, nps="6", schedule="40"))
TEE = limits(OrderLine(row=0, form=FittingForm.REDUCING_TEE, nps="6", second_nps="4"))
BY_NAME = {each.name: each for each in ELBOW}
LENGTHS = st.floats(min_value=0.01, max_value=3000, allow_nan=False)
UREG = pint.UnitRegistry()


def test_deviation_against_a_tolerance_by_hand() -> None:
    # NPS 6 long radius: A 229 ± 2 mm (ASME B16.9-2018 Tables 6.1-1 and 11-1, two public tables).
    (inside,) = compare(ELBOW, [("centre_to_end", 229.5)])
    assert (inside.place, inside.deviation_mm, inside.room_mm) == (Place.INSIDE, 0.5, 1.5)
    assert inside.in_words == "inside, 1.5 mm from the limit"
    (short,) = compare(ELBOW, [("centre_to_end", 226.4)])
    assert short.place is Place.OUTSIDE
    assert short.outside_by_mm == pytest.approx(0.6)
    assert short.in_words == "outside: 0.6 mm below the least, 227 mm"
    (long,) = compare(ELBOW, [("centre_to_end", 232.0)])
    assert long.in_words == "outside: 1 mm above the most, 231 mm"


def test_a_wall_has_a_least_and_no_most() -> None:
    # 87.5 % of 7.11 mm is 6.22125 mm.
    (thin, *_) = compare(ELBOW, [("wall", 6.2)])
    assert thin.in_words == "outside: 0.021 mm below the least, 6.221 mm"
    (thick, *_) = compare(ELBOW, [("wall", 70.0)])
    assert thick.place is Place.INSIDE


@given(name=st.sampled_from(sorted(BY_NAME)), side=st.sampled_from(("low_mm", "high_mm")))
def test_a_measurement_on_the_limit_is_inside(name: str, side: str) -> None:
    limit = BY_NAME[name]
    bound_mm = getattr(limit, side)
    if not bound_mm:
        return
    # Through inches and back, which ends in binary fractions.
    for value_mm in (bound_mm, length_mm(f"{bound_mm / 25.4:.12f} in", name)):
        (found,) = compare(ELBOW, [(name, value_mm)])
        assert found.place is Place.INSIDE
        assert found.in_words == "inside, on the limit"
    outward = 0.01 if side == "high_mm" else -0.01
    (beyond,) = compare(ELBOW, [(name, bound_mm + outward)])
    assert beyond.place is Place.OUTSIDE
    assert beyond.outside_by_mm == pytest.approx(0.01)


@given(value_mm=st.decimals(min_value="0.01", max_value="3000", places=4))
def test_an_entry_in_inches_equals_the_entry_in_mm(value_mm: object) -> None:
    inches = float(UREG.Quantity(float(str(value_mm)), "mm").to("inch").magnitude)
    by_mm = length_mm(f"{value_mm} mm", "od")
    by_inch = length_mm(f"{inches:.12f} in", "od")
    assert by_inch == pytest.approx(by_mm, abs=1e-7)
    (one,), (other,) = compare(ELBOW, [("od", by_mm)]), compare(ELBOW, [("od", by_inch)])
    assert one.place is other.place
    assert one.deviation_mm == pytest.approx(other.deviation_mm, abs=1e-7)


@pytest.mark.parametrize("unit", ["mm", "cm", "m", "in", "ft"])
@given(value=st.decimals(min_value="0.001", max_value="999", places=3))
def test_lengths_agree_with_pint(unit: str, value: object) -> None:
    ours = length_mm(f"{value} {unit}", "od")
    theirs = UREG.Quantity(float(str(value)), unit.replace("in", "inch")).to("mm").magnitude
    assert ours == pytest.approx(theirs, rel=1e-12)


@given(values=st.lists(LENGTHS, min_size=1, max_size=9))
def test_the_worst_of_several_speaks(values: list[float]) -> None:
    found = compare(ELBOW, [("centre_to_end", value) for value in values])[0]
    alone = [compare(ELBOW, [("centre_to_end", value)])[0] for value in values]
    assert found.all_mm == tuple(values)
    assert found.worst_mm in values
    assert found.outside_by_mm == max(each.outside_by_mm for each in alone)
    assert found.room_mm == min(each.room_mm for each in alone if each.room_mm is not None)


def test_out_of_round_is_reckoned_from_two_diameters() -> None:
    found = {each.limit.name: each for each in compare(ELBOW, [("od", 167.0), ("od", 170.7)])}
    assert found["out_of_round"].reckoned
    assert found["out_of_round"].worst_mm == pytest.approx(3.7)
    # NPS 6: +2.4 and −1.6 make 4.0 mm (ASME B16.9-2018 Table 11-1, two public tables).
    assert found["out_of_round"].in_words == "inside, 0.3 mm from the limit"
    entered = compare(ELBOW, [("od", 167.0), ("od", 170.7), ("ovality", 4.5)])
    assert [(each.limit.name, each.reckoned) for each in entered] == [
        ("od", False),
        ("out_of_round", False),
    ]
    assert len(compare(ELBOW, [("od", 167.0)])) == 1
    turned = compare(ELBOW, [("od", 168.0), ("od", 170.7), ("od", 167.0)])
    assert turned[1].worst_mm == pytest.approx(3.7)


def test_no_out_of_square_at_all_is_inside() -> None:
    (found,) = compare(ELBOW, [("Q", 0.0)])
    assert (found.limit.name, found.place, found.room_mm) == ("off_angle", Place.INSIDE, 2.0)


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        *[("Centre to end", "centre_to_end"), ("center-to-end", "centre_to_end")],
        *[("A", "centre_to_end"), ("q", "off_angle"), ("P", "off_plane"), ("ID", "bore")],
        *[("Wall thickness", "wall"), ("Outside diameter", "od"), ("ovality", "out_of_round")],
    ],
)
def test_names_may_be_written_freely(name: str, meant: str) -> None:
    assert limit_named(name, ELBOW).name == meant


def test_names_of_two_ends() -> None:
    assert limit_named("M", TEE).name == "outlet_centre_to_end"
    assert limit_named("c", TEE).name == "run_centre_to_end"
    assert limit_named("branch OD", TEE).name == "outlet_od"
    reducer = limits(OrderLine(row=0, form=FittingForm.CONCENTRIC_REDUCER, nps="6", second_nps="4"))
    assert limit_named("small end outside diameter", reducer).name == "small_od"
    assert limit_named("length", reducer).name == "end_to_end"


@pytest.mark.parametrize(
    ("allowed", "name", "said"),
    [
        (ELBOW, "centre_to_edn", r"did you mean centre_to_end\?"),
        (ELBOW, "run_od", r"did you mean od\?"),
        (TEE, "centre_to_end", r"did you mean (run|outlet)_centre_to_end\?"),
        (ELBOW, "B", "is no dimension of this fitting; known are centre_to_end, od"),
        (ELBOW, "", "is no dimension of this fitting; known are"),
        (TEE, "run_wall", "give the schedule or the wall that was ordered"),
    ],
)
def test_an_unknown_name_suggests_the_nearest(
    allowed: tuple[Limit, ...], name: str, said: str
) -> None:
    with pytest.raises(MeasurementError, match=said) as caught:
        compare(allowed, [(name, 10.0)])
    assert caught.value.field == name


@pytest.mark.parametrize(
    ("name", "value_mm", "said"),
    [
        ("od", -168.3, "od: -168.3 mm is negative"),
        ("Q", -1.0, "Q: -1 mm is negative"),
        ("wall", 0.0, "wall: 0 mm is no length"),
        ("od", float("nan"), "od: nan mm is no length"),
        ("od", float("inf"), "od: inf mm is no length"),
    ],
)
def test_lengths_that_cannot_be_are_refused(name: str, value_mm: float, said: str) -> None:
    with pytest.raises(MeasurementError, match=said):
        compare(ELBOW, [(name, value_mm)])


@given(walls=st.lists(LENGTHS, min_size=1, max_size=24))
def test_wall_survey_sums(walls: list[float]) -> None:
    survey = wall_survey(walls, BY_NAME["wall"])
    assert survey.count == len(walls)
    assert survey.mean_mm == pytest.approx(statistics.fmean(walls))
    assert survey.spread_mm == max(walls) - min(walls)
    assert survey.least_mm <= survey.mean_mm + 1e-9
    assert survey.mean_mm <= survey.greatest_mm + 1e-9
    alone = [compare(ELBOW, [("wall", wall)])[0].place for wall in walls]
    assert survey.below_least == alone.count(Place.OUTSIDE)


def test_a_wall_survey_by_hand() -> None:
    survey = wall_survey([7.0, 6.0, 8.0, 6.2], BY_NAME["wall"])
    assert (survey.count, survey.least_mm, survey.greatest_mm) == (4, 6.0, 8.0)
    assert survey.mean_mm == pytest.approx(6.8)
    assert survey.below_least == 2
    with pytest.raises(ValueError, match="at least one wall"):
        wall_survey([], BY_NAME["wall"])


def test_a_dimension_without_limits_says_so() -> None:
    small = limits(
        OrderLine(row=0, form=FittingForm.CONCENTRIC_REDUCER, nps="3/4", second_nps="3/8")
    )
    found = compare(small, [("small_od", 17.0), ("small_od", 19.0)])[0]
    assert (found.place, found.room_mm, found.outside_by_mm) == (Place.NO_LIMIT, None, 0.0)
    assert found.worst_mm == 19.0  # 1.9 mm off 17.1, the other 0.1 mm
    assert found.in_words == "no limit printed"


def test_millimetres_are_short_and_never_a_false_nought() -> None:
    assert millimetres(6.22125) == "6.221 mm"
    assert millimetres(229.0) == "229 mm"
    assert millimetres(0.0) == "0 mm"
    assert millimetres(0.0002) == "under 0.001 mm"
    assert millimetres(-0.9) == "-0.9 mm"


def test_the_order_of_the_answer_is_that_of_the_table() -> None:
    found = compare(ELBOW, [("P", 1.0), ("wall", 7.0), ("A", 229.0)])
    assert [each.limit.name for each in found] == ["centre_to_end", "wall", "off_plane"]
