"""What is printed for a fitting, against rows from outside.

"Two public tables" means two printed tables of the standard that agree; no bought edition of ASME
B16.9 was at hand.
"""

from __future__ import annotations

import pytest

from fittings.dimensions import SizeNotListed, SizeTable, listed_sizes
from fittings.listed import table_rows
from fittings.order.lines import FittingForm, OrderError, OrderLine
from fittings.receiving.end_limits import WALL_MIN_FRACTION, Limit
from fittings.receiving.limits import limits

ONE_SIZE = {
    FittingForm.ELBOW_90_LONG: SizeTable.ELBOW_LONG_90,
    FittingForm.ELBOW_45_LONG: SizeTable.ELBOW_LONG_45,
    FittingForm.ELBOW_90_SHORT: SizeTable.ELBOW_SHORT_90,
    FittingForm.ELBOW_90_3D: SizeTable.ELBOW_3D_90,
    FittingForm.ELBOW_45_3D: SizeTable.ELBOW_3D_45,
    FittingForm.STRAIGHT_TEE: SizeTable.STRAIGHT_TEE,
}
TWO_SIZES = {
    FittingForm.REDUCING_TEE: SizeTable.REDUCING_TEE,
    FittingForm.CONCENTRIC_REDUCER: SizeTable.REDUCER,
    FittingForm.ECCENTRIC_REDUCER: SizeTable.REDUCER,
}


def line(
    form: FittingForm,
    nps: str,
    second: str | None = None,
    schedule: str | None = None,
    wall_mm: float | None = None,
) -> OrderLine:
    return OrderLine(
        row=0, form=form, nps=nps, second_nps=second, schedule=schedule, wall_mm=wall_mm
    )


def by_name(order: OrderLine, second_schedule: str | None = None) -> dict[str, Limit]:
    return {each.name: each for each in limits(order, second_schedule=second_schedule)}


def bounds(limit: Limit) -> tuple[float | None, float | None, float | None]:
    return limit.nominal_mm, limit.low_mm, limit.high_mm


def every_line() -> list[OrderLine]:
    one = [
        line(form, key[0], schedule="STD")
        for form, table in ONE_SIZE.items()
        for key in listed_sizes(table)
    ]
    two = [
        line(form, *key, schedule="STD")
        for form, table in TWO_SIZES.items()
        for key in listed_sizes(table)
    ]
    return one + two


@pytest.mark.parametrize(
    ("form", "nps", "nominal", "pm"),
    [
        # ASME B16.9-2018 Tables 6.1-1, 6.1-4, 6.1-6 and 11-1, two public tables of each.
        (FittingForm.ELBOW_90_LONG, "3/4", 38, 2),
        (FittingForm.ELBOW_90_LONG, "6", 229, 2),
        (FittingForm.ELBOW_90_LONG, "12", 457, 2),
        (FittingForm.ELBOW_45_LONG, "8", 127, 2),
        (FittingForm.ELBOW_90_SHORT, "4", 102, 2),
        (FittingForm.ELBOW_90_LONG, "30", 1143, 3),
        (FittingForm.ELBOW_90_LONG, "36", 1372, 5),
        # 3D: A = 3 x NPS x 25.4, a rule that the tables keep; its own tolerance column.
        (FittingForm.ELBOW_90_3D, "10", 762, 3),
        (FittingForm.ELBOW_90_3D, "30", 2286, 6),
    ],
)
def test_centre_to_end_of_published_elbows(
    form: FittingForm, nps: str, nominal: float, pm: float
) -> None:
    found = by_name(line(form, nps))["centre_to_end"]
    assert bounds(found) == (nominal, nominal - pm, nominal + pm)


def test_published_tees_and_reducers() -> None:
    # ASME B16.9-2018 Table 6.1-7, one public table above NPS 24.
    straight = by_name(line(FittingForm.STRAIGHT_TEE, "42"))
    assert bounds(straight["run_centre_to_end"]) == (762, 757, 767)
    assert bounds(straight["outlet_centre_to_end"]) == (711, 706, 716)
    assert not straight["outlet_centre_to_end"].required
    # Table 6.1-8, three public tables.
    reducing = by_name(line(FittingForm.REDUCING_TEE, "12", "6"))
    assert bounds(reducing["run_centre_to_end"]) == (254, 252, 256)
    assert bounds(reducing["outlet_centre_to_end"]) == (219, 217, 221)
    # Table 6.1-11, two public tables; concentric and eccentric alike.
    for form in (FittingForm.CONCENTRIC_REDUCER, FittingForm.ECCENTRIC_REDUCER):
        assert bounds(by_name(line(form, "14", "12"))["end_to_end"]) == (330, 328, 332)


def test_ends_of_published_sizes() -> None:
    # ASME B16.9-2018 Table 11-1, two public tables; the sum for NPS 10 is printed as 7.2 mm.
    ten = by_name(line(FittingForm.ELBOW_90_LONG, "10", schedule="40"))
    assert bounds(ten["od"]) == pytest.approx((273.0, 269.8, 277.0))
    assert ten["out_of_round"].high_mm == pytest.approx(7.2)
    assert bounds(ten["bore"]) == pytest.approx((254.46, 251.26, 257.66))
    # 87.5 % of 9.27 mm (ASME B36.10M, two public tables and fluids 1.3.1), by hand.
    assert bounds(ten["wall"]) == pytest.approx((9.27, 8.11125, None))
    # An S schedule brings the OD of B36.19M (fluids 1.3.1).
    stainless = by_name(line(FittingForm.ELBOW_90_LONG, "10", schedule="40S"))
    assert stainless["od"].nominal_mm == 273.1


@pytest.mark.parametrize(
    ("nps", "q_mm", "p_mm"),
    # ASME B16.9 section 11 angularity, two public tables: every range by its first and last size.
    [
        *[("1/2", 1, 2), ("4", 1, 2), ("5", 2, 4), ("8", 2, 4), ("10", 3, 5), ("12", 3, 5)],
        *[("14", 3, 6), ("16", 3, 6), ("18", 4, 10), ("24", 4, 10), ("26", 5, 10), ("30", 5, 10)],
        *[("32", 5, 13), ("42", 5, 13), ("44", 5, 19), ("48", 5, 19)],
    ],
)
def test_angularity(nps: str, q_mm: float, p_mm: float) -> None:
    found = by_name(line(FittingForm.ELBOW_90_LONG, nps))
    assert bounds(found["off_angle"]) == (0, 0, q_mm)
    assert bounds(found["off_plane"]) == (0, 0, p_mm)
    assert (found["off_angle"].letter, found["off_plane"].letter) == ("Q", "P")


def test_the_wall_fraction_is_that_of_every_row() -> None:
    rows = table_rows("b16_9_tolerances")
    assert {float(row["wall_min_fraction"]) for row in rows} == {WALL_MIN_FRACTION}


def test_every_listed_fitting_has_its_limits() -> None:
    lines = every_line()
    assert len(lines) > 500
    for order in lines:
        found = limits(order)
        names = [each.name for each in found]
        assert len(names) == len(set(names))
        assert {"off_angle", "off_plane"} <= set(names)
        for each in found:
            assert each.source, each
            assert each.nominal_mm is not None, each
            low, high = each.low_mm, each.high_mm
            assert low is None or low <= each.nominal_mm
            assert high is None or each.nominal_mm <= high
        # One wall and one OD for each size that the order names.
        ends = 1 if order.second_nps is None else 2
        assert sum(name.endswith("wall") for name in names) == ends
        assert sum(name.endswith("od") for name in names) == ends


def test_what_is_from_memory_says_so() -> None:
    # Reducing tees above NPS 24 and B of 3D elbows are from memory in the tables.
    assert by_name(line(FittingForm.REDUCING_TEE, "30", "24"))["run_centre_to_end"].from_memory
    assert by_name(line(FittingForm.ELBOW_45_3D, "6"))["centre_to_end"].from_memory
    assert not by_name(line(FittingForm.ELBOW_90_LONG, "6"))["centre_to_end"].from_memory


def test_two_sizes_with_two_tolerances_name_both() -> None:
    # Table 11-1: centre to end ± 3 at NPS 26 to 30 and ± 2 below; Q 5 and 4.
    found = by_name(line(FittingForm.REDUCING_TEE, "30", "24"))
    assert found["outlet_centre_to_end"].high_mm == 536
    assert "the outlet's own size has ± 2 mm" in found["outlet_centre_to_end"].note
    assert found["off_angle"].note == "NPS 24 alone has 4 mm"
    assert not by_name(line(FittingForm.REDUCING_TEE, "30", "28"))["off_angle"].note


def test_walls_come_with_a_schedule_or_a_wall() -> None:
    assert "wall" not in by_name(line(FittingForm.ELBOW_90_LONG, "6"))
    entered = by_name(line(FittingForm.ELBOW_90_LONG, "6", wall_mm=8.0))
    assert bounds(entered["wall"]) == (8.0, 7.0, None)
    assert entered["wall"].source.startswith("wall as entered")
    both = by_name(line(FittingForm.REDUCING_TEE, "6", "4", schedule="40"), second_schedule="80")
    # ASME B36.10M, two public tables and fluids 1.3.1: 7.11 and 8.56 mm.
    assert (both["run_wall"].nominal_mm, both["outlet_wall"].nominal_mm) == (7.11, 8.56)


def test_ends_below_the_tolerance_table_have_no_limits_but_a_least_wall() -> None:
    found = by_name(line(FittingForm.CONCENTRIC_REDUCER, "3/4", "3/8", schedule="40"))
    assert (found["small_od"].low_mm, found["small_bore"].high_mm) == (None, None)
    assert "no row for NPS 3/8" in found["small_od"].note
    assert found["small_wall"].low_mm == pytest.approx(0.875 * 2.31)  # B36.10M, fluids 1.3.1
    assert "small_out_of_round" not in found


def test_bad_sizes_and_walls_are_named() -> None:
    with pytest.raises(SizeNotListed, match=r"NPS 7 is not listed .* nearest listed: 6, 8"):
        limits(line(FittingForm.ELBOW_90_LONG, "7"))
    with pytest.raises(SizeNotListed, match="NPS 12 x 2 is not listed"):
        limits(line(FittingForm.REDUCING_TEE, "12", "2"))
    with pytest.raises(
        OrderError, match=r"second_schedule: NPS 4 schedule 30 .* outlet a schedule"
    ):
        limits(line(FittingForm.REDUCING_TEE, "8", "4", schedule="30"))
    with pytest.raises(
        OrderError, match=r"wall_mm: a wall of 90 mm leaves no bore in an OD of 168"
    ):
        limits(line(FittingForm.ELBOW_90_LONG, "6", wall_mm=90))
