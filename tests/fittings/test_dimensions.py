"""Dimensions against values from outside: published rows, rules of thumb and `fluids`.

"Two public tables" means two printed tables of the standard that agree; no bought edition of ASME
B16.9 was at hand.
"""

from __future__ import annotations

import csv
import math
import pickle
import re
from fractions import Fraction
from importlib.resources import files

import pytest
from fluids.piping import nearest_pipe
from hypothesis import given, settings
from hypothesis import strategies as st

from fittings.dimensions import (
    ElbowRadius,
    SizeNotListed,
    SizeTable,
    elbow,
    listed_sizes,
    outlets,
    outside_diameter_mm,
    parse_nps,
    pipe,
    reducer,
    small_ends,
    tee,
    tolerances,
)
from fittings.listed import ELBOW_TABLES, table_rows

# The same examples on every machine, and no clock: other work may slow a test down.
HOUSE = settings(derandomize=True, deadline=None)
TABLES = sorted(
    entry.name.removesuffix(".csv")
    for entry in files("fittings").joinpath("tables").iterdir()
    if entry.name.startswith(("b16_9", "pipe_b36"))
)
CHECKS = ("two public tables agree", "one public table", "from memory")


@pytest.mark.parametrize(("nps", "schedule"), listed_sizes(SizeTable.PIPE))
def test_pipe_agrees_with_fluids(nps: str, schedule: str) -> None:
    # fluids 1.3.1, fluids.piping.nearest_pipe: (NPS, inside, outside, wall), metres.
    _, _, outside_m, wall_m = nearest_pipe(NPS=float(parse_nps(nps)), schedule=schedule)
    ours = pipe(nps, schedule)
    # B36.10M and B36.19M round NPS 10 and 12 differently, by 0.1 mm; fluids keeps both.
    assert ours.od_mm == pytest.approx(outside_m * 1e3, abs=0.1 + 1e-9)
    assert ours.wall_mm == pytest.approx(wall_m * 1e3, abs=0.03)
    assert "fluids 1.3.1 agrees" in ours.source


def test_published_pipe_rows() -> None:
    # Two public tables of ASME B36.10M and fluids 1.3.1.
    ten = pipe(10, 40)
    assert (ten.od_mm, ten.wall_mm) == (273.0, 9.27)
    assert ten.bore_mm == pytest.approx(254.46)
    assert (pipe(12, "STD").wall_mm, pipe(12, "40").wall_mm) == (9.53, 10.31)
    # fluids 1.3.1: ASME B36.19M rounds 10.750 in up, B36.10M down.
    assert pipe(10, "40S").od_mm == 273.1
    assert outside_diameter_mm(10) == 273.0


def test_schedules_are_read_as_people_write_them() -> None:
    assert pipe("2", "sch 40") == pipe(2, "SCH.40") == pipe(2.0, 40)
    assert pipe(6, "xs") == pipe(6, "Schedule XS")
    assert pipe(6, "10s").schedule == "10S"


def test_std_is_40_and_xs_is_80_in_the_small_sizes_only() -> None:
    # ASME B36.10M as retold in public tables: STD = 40 to NPS 10, XS = 80 to NPS 8, not above.
    for nps in {key[0] for key in listed_sizes(SizeTable.PIPE)}:
        size = parse_nps(nps)
        for name, number, last in (("STD", "40", 10), ("XS", "80", 8)):
            if (nps, number) in listed_sizes(SizeTable.PIPE):
                same = pipe(nps, name).wall_mm == pipe(nps, number).wall_mm
                assert same == (size <= last), (nps, name)


def test_published_b16_9_rows() -> None:
    # Two public tables of ASME B16.9, the second in inches: 18.00 in, 1.50 in, 5.00 in.
    assert elbow(12).centre_to_end_mm == 457
    assert elbow("3/4").centre_to_end_mm == 38
    assert elbow(8, angle_deg=45).centre_to_end_mm == 127
    # One public table of ASME B16.9.
    forty_two = tee(42)
    assert (forty_two.run_c_mm, forty_two.outlet_m_mm) == (762, 711)
    assert not forty_two.outlet_m_required
    # Three public tables of ASME B16.9.
    assert (tee(12, 6).run_c_mm, tee(12, 6).outlet_m_mm) == (254, 219)
    # Two public tables of ASME B16.9.
    assert reducer(14, 12).end_to_end_mm == 330
    assert reducer(12, 10).end_to_end_mm == 203


@pytest.mark.parametrize(
    ("run", "outlet", "m_mm"),
    # The usual sizes, two public tables of ASME B16.9 to NPS 18, one above.
    [
        *[(4, 3, 98), (4, 2, 89), (6, 4, 130), (6, 3, 124), (8, 6, 168), (8, 4, 156)],
        *[(10, 8, 203), (10, 6, 194), (12, 10, 241), (12, 8, 229), (14, 12, 270)],
        *[(16, 14, 305), (16, 12, 295), (18, 16, 330), (20, 18, 368), (20, 16, 356)],
        *[(24, 20, 432), (24, 18, 419), (24, 16, 406)],
    ],
)
def test_usual_reducing_tees(run: int, outlet: int, m_mm: float) -> None:
    assert tee(run, outlet).outlet_m_mm == m_mm


def test_tolerances_of_published_rows() -> None:
    # ASME B16.9-2018 Table 11-1 and the angularity table, two public tables.
    ten = tolerances(10)
    assert (ten.od_plus_mm, ten.od_minus_mm, ten.id_pm_mm) == (4.0, 3.2, 3.2)
    assert ten.out_of_round_mm == pytest.approx(7.2)
    assert (ten.centre_to_end_pm_mm, ten.centre_to_end_3d_pm_mm, ten.end_to_end_pm_mm) == (2, 3, 2)
    assert (ten.wall_min_fraction, ten.off_angle_q_mm, ten.off_plane_p_mm) == (0.875, 3, 5)
    assert tolerances("2-1/2").od_minus_mm == 0.8
    assert tolerances(3).od_minus_mm == 1.6
    assert tolerances(48).off_plane_p_mm == 19
    assert (tolerances(30).centre_to_end_pm_mm, tolerances(32).centre_to_end_pm_mm) == (3, 5)


RULES = [
    # Rules of thumb that public tables print: A = 1.5, 1 and 3 times the nominal size, and the two
    # exceptions of the long-radius table.
    (SizeTable.ELBOW_LONG_90, 1.5, {"1/2", "3/4"}),
    (SizeTable.ELBOW_SHORT_90, 1.0, set()),
    (SizeTable.ELBOW_3D_90, 3.0, set()),
]


@pytest.mark.parametrize(("table", "factor", "exceptions"), RULES)
def test_centre_to_end_follows_its_rule(
    table: SizeTable, factor: float, exceptions: set[str]
) -> None:
    radius, angle_deg = next(key for key, value in ELBOW_TABLES.items() if value is table)
    off = {
        nps
        for (nps,) in listed_sizes(table)
        if abs(
            elbow(nps, radius, angle_deg).centre_to_end_mm - factor * 25.4 * float(parse_nps(nps))
        )
        > 0.55
    }
    assert off == exceptions


@pytest.mark.parametrize(("radius", "angle_deg"), ELBOW_TABLES)
def test_the_arc_of_every_elbow_fits_between_its_ends(radius: ElbowRadius, angle_deg: int) -> None:
    for (nps,) in listed_sizes(ELBOW_TABLES[radius, angle_deg]):
        each = elbow(nps, radius, angle_deg)
        arc_mm = each.bend_radius_mm * math.tan(math.radians(angle_deg) / 2)
        assert each.tangent_mm >= 0
        assert arc_mm + each.tangent_mm == pytest.approx(each.centre_to_end_mm)
        # A 90° elbow is all arc; B of a 45° one is at most 6.3 mm longer than its arc (NPS 1).
        assert each.tangent_mm < (1e-9 if angle_deg == 90 else 6.5)
        assert each.od_mm / 2 < each.bend_radius_mm


def test_tees_and_reducers_are_consistent_with_themselves() -> None:
    for run, outlet in listed_sizes(SizeTable.REDUCING_TEE):
        each = tee(run, outlet)
        # C of a reducing tee is the C of the straight tee of its run.
        assert each.run_c_mm == tee(run).run_c_mm
        assert each.outlet_od_mm < each.run_od_mm
        assert each.run_od_mm / 2 < each.outlet_m_mm <= each.run_c_mm
        assert each.run_c_mm > each.outlet_od_mm / 2
        assert outlet in outlets(run)
    for large, small in listed_sizes(SizeTable.REDUCER):
        each_reducer = reducer(large, small)
        assert each_reducer.eccentric_offset_mm > 0
        assert small in small_ends(large)
    assert small_ends("3/4") == ("1/2", "3/8")
    assert outlets("12") == ("10", "8", "6", "5")
    assert tee(6) == tee(6, 6)


def test_every_row_can_be_looked_up() -> None:
    calls = {SizeTable.PIPE: pipe, SizeTable.STRAIGHT_TEE: tee, SizeTable.REDUCING_TEE: tee}
    calls |= {SizeTable.REDUCER: reducer, SizeTable.TOLERANCE: tolerances}
    counted = 0
    for table in SizeTable:
        for key in listed_sizes(table):
            counted += 1
            if table in calls:
                assert calls[table](*key).source
    ranges = {"b16_9_tolerances", "b16_9_angularity"}
    in_files = sum(len(table_rows(name)) for name in TABLES if name not in ranges)
    assert counted - len(listed_sizes(SizeTable.TOLERANCE)) == in_files == 799


def test_tables_reach_from_half_an_inch_to_forty_eight() -> None:
    for table in (SizeTable.ELBOW_LONG_90, SizeTable.STRAIGHT_TEE, SizeTable.TOLERANCE):
        sizes = [parse_nps(key[0]) for key in listed_sizes(table)]
        assert (sizes[0], sizes[-1], len(sizes)) == (Fraction(1, 2), 48, 33)
        assert sizes == sorted(sizes)


@pytest.mark.parametrize("name", TABLES)
def test_every_row_says_its_standard_and_how_it_was_checked(name: str) -> None:
    for row in table_rows(name):
        source = row["source"]
        assert source.startswith("ASME B"), row
        assert sum(check in source.split(" to ")[0] for check in CHECKS) >= 1, row
        assert None not in row.values()
        assert all(value for value in row.values()), row


@pytest.mark.parametrize("name", TABLES)
def test_sources_cite_standards_and_nothing_that_is_sold(name: str) -> None:
    text = files("fittings").joinpath("tables", f"{name}.csv").read_text(encoding="utf-8")
    assert not re.search(r"https?:|www\.|\.(com|net|org|io)\b|\bid \d|\d{7,}", text)
    words = {word for row in csv.DictReader(text.splitlines()) for word in row["source"].split()}
    named = {word for word in words if re.match(r"[A-Z]{2}", word)}
    assert named <= {"ASME", "NPS", "OD"}


def test_rows_from_memory_say_so() -> None:
    for run, outlet in listed_sizes(SizeTable.REDUCING_TEE):
        assert ("8, from memory" in tee(run, outlet).source) == (parse_nps(run) >= 26)
    for large, small in listed_sizes(SizeTable.REDUCER):
        assert ("from memory" in reducer(large, small).source) == (parse_nps(large) >= 26)
    for (nps,) in listed_sizes(SizeTable.ELBOW_3D_45):
        assert "from memory" in elbow(nps, ElbowRadius.THREE_D, 45).source


# --- sizes that no table lists


def test_the_message_names_size_table_and_neighbours() -> None:
    with pytest.raises(SizeNotListed) as caught:
        elbow(7)
    assert str(caught.value) == (
        "NPS 7 is not listed in ASME B16.9-2018 Table 6.1-1, long-radius 90° elbows; "
        "nearest listed: 6, 8"
    )
    with pytest.raises(SizeNotListed, match=r"NPS 12 x 2 is not listed .*: 12 x 5, 12 x 6"):
        tee(12, 2)
    with pytest.raises(SizeNotListed, match=r"NPS 50 x 48 is not listed .*: 46, 48"):
        reducer(50, 48)
    with pytest.raises(SizeNotListed, match=r"NPS 38 schedule 40 .*: schedule STD, schedule XS"):
        pipe(38, 40)
    with pytest.raises(SizeNotListed, match=r"NPS 7 schedule 40 .*: 6, 8"):
        pipe(7, 40)
    with pytest.raises(SizeNotListed, match=r"NPS 26 .* short-radius .*: 22, 24"):
        elbow(26, ElbowRadius.SHORT)
    with pytest.raises(SizeNotListed, match=r"NPS 44 .* reducing outlet tees; .*: 42, 48"):
        outlets(44)


def test_the_error_is_a_lookup_error_and_survives_pickling() -> None:
    with pytest.raises(LookupError) as caught:
        tee(7, 3)
    again = pickle.loads(pickle.dumps(caught.value))
    assert (type(again), str(again)) == (SizeNotListed, str(caught.value))


def test_an_angle_that_the_standard_does_not_pair_is_refused() -> None:
    with pytest.raises(ValueError, match="short radius elbows of 45°"):
        elbow(6, ElbowRadius.SHORT, 45)


SIZES = st.fractions(min_value=Fraction(1, 16), max_value=80, max_denominator=16)
LISTED = {parse_nps(key[0]) for table in SizeTable for key in listed_sizes(table)}
UNKNOWN = SIZES.filter(lambda size: size not in LISTED)


@HOUSE
@given(unknown=UNKNOWN, other=SIZES)
def test_an_unknown_size_is_always_size_not_listed(unknown: Fraction, other: Fraction) -> None:
    for look_up in (
        lambda: pipe(unknown, "STD"),
        lambda: outside_diameter_mm(unknown),
        lambda: elbow(unknown),
        lambda: elbow(unknown, ElbowRadius.THREE_D, 45),
        lambda: tee(unknown),
        lambda: tee(unknown, other),
        lambda: tee(other, unknown),
        lambda: reducer(unknown, other),
        lambda: reducer(other, unknown),
        lambda: tolerances(unknown),
        lambda: small_ends(unknown),
        lambda: outlets(unknown),
    ):
        with pytest.raises(SizeNotListed, match="is not listed in ASME"):
            look_up()


@HOUSE
@given(large=SIZES, small=SIZES)
def test_any_pair_is_a_row_or_size_not_listed(large: Fraction, small: Fraction) -> None:
    for look_up in (tee, reducer):
        try:
            answer: object = look_up(large, small).source
        except SizeNotListed as error:
            answer = error.nearest
        assert answer
