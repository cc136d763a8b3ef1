"""Cells of one row into an order line: columns, descriptions, and both at once."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fittings.order.columns import HEADINGS, columns_of
from fittings.order.findings import Level
from fittings.order.lines import FittingForm, OrderError, OrderLine
from fittings.order.rows import ReadLine, read_row
from fittings.words import Construction

HOUSE = settings(derandomize=True, deadline=None)


def row(**cells: str) -> ReadLine:
    """The reading of a row; keywords are headings, with _ for a space."""
    headings = list(cells)
    texts = dict(enumerate(cells.values()))
    return read_row(columns_of(headings), texts, 5)


def error(**cells: str) -> OrderError:
    with pytest.raises(OrderError) as caught:
        row(**cells)
    assert caught.value.row == 5
    return caught.value


def sentences(read: ReadLine, level: Level) -> list[tuple[str, str]]:
    return [(each.field, each.sentence) for each in read.findings if each.level is level]


PLAIN = {"Fitting": "90 LR elbow", "Size": "6", "Qty": "4"}


def test_a_whole_row() -> None:
    read = row(
        **PLAIN,
        Sch="40",
        Material="A234 WPB-S",
        Construction="SMLS",
        Dimension_standard="B16.9",
        Certificate="EN 10204 3.1",
        Raw_material="A106-B",
        NDE="none",
    )
    assert read.findings == ()
    assert read.line == OrderLine(
        row=5,
        form=FittingForm.ELBOW_90_LONG,
        nps="6",
        schedule="40",
        wall_mm=7.11,  # ASME B36.10M, NPS 6 schedule 40; fluids 1.3.1 agrees
        spec="A234",
        grade="WPB",
        suffix="S",
        construction=Construction.SEAMLESS,
        quantity=4,
        dimension_standard="ASME B16.9",
        start_material="A106-B",
        certificate="EN 10204 3.1",
        examination="none",
    )


def test_sizes_may_stand_in_one_column_or_in_two() -> None:
    for cells in (
        {"Size": "DN300 x DN150"},
        {"Size": "12x6"},
        {"NPS": "12", "Outlet": "6"},
        {"DN": "300", "Outlet": "150"},
        {"DN": "300", "Second_size": "DN150"},
        {"DN_1": "300", "NPS_1": "12", "DN_2": "150"},
    ):
        read = row(Fitting="tee", **cells)
        assert (read.line.form, read.line.sizes) == (FittingForm.REDUCING_TEE, "12 x 6"), cells


def test_equal_sizes_make_a_straight_tee() -> None:
    line = row(Fitting="Tee", Size="6 x 6").line
    assert (line.form, line.nps, line.second_nps) == (FittingForm.STRAIGHT_TEE, "6", None)


def test_columns_that_name_different_sizes_are_refused() -> None:
    found = error(Fitting="90 LR elbow", NPS="6", DN="200")
    assert found.field == "nps"
    assert "NPS says '6' but DN says '200'" in found.message
    assert error(Fitting="tee", NPS="12", DN_2="150").field == "second_nps"


def test_a_schedule_gives_the_wall_and_a_wall_stands_alone() -> None:
    assert row(**PLAIN, Sch="STD").line.wall_mm == 7.11
    read = row(**PLAIN, Wall_mm="8")
    assert (read.line.schedule, read.line.wall_mm) == (None, 8.0)
    assert row(**PLAIN, Schedule="8 mm").line.wall_mm == 8.0
    assert row(**PLAIN, Wall="Sch 80").line.schedule == "80"
    # A rounded inch wall is the same wall: 0.280 in is 7.112 mm.
    assert sentences(row(**PLAIN, Sch="40", Wall_in="0.280"), Level.CONTRADICTION) == []
    both = row(**PLAIN, Sch="40", Wall_mm="9.53")
    assert both.line.wall_mm == 9.53
    [(field, sentence)] = sentences(both, Level.CONTRADICTION)
    assert field == "wall_mm"
    assert "7.11 mm" in sentence
    assert "9.53 mm" in sentence


@pytest.mark.parametrize(
    ("cells", "field", "words"),
    [
        ({"Wall": "9.53"}, "wall_mm", "has no unit"),
        ({"Wall_mm": "0.375 in"}, "wall_mm", "mixes units"),
        ({"Wall_mm": "90"}, "wall_mm", "outside radius of NPS 6, 84.15 mm"),
        (
            {"Fitting": "ecc reducer", "Size": "3/4 x 1/2", "Wall_mm": "11"},
            "wall_mm",
            "outside radius of NPS 1/2, 10.65 mm",
        ),
        ({"Wall_mm": "-7"}, "wall_mm", "must be greater than 0, not -7 mm"),
        ({"Sch": "45"}, "schedule", "schedule 45 is not listed"),
        ({"Sch": "heavy"}, "schedule", "no schedule"),
        ({"Material": "A234 WPBB"}, "grade", "did you mean WPB?"),
        ({"Spec": "A999"}, "spec", "A234, A403"),
        ({"Spec": "A234", "Grade": "WP304L"}, "grade", "A403 WP304L"),
        ({"Construction": "nice"}, "construction", "seamless, welded"),
        ({"Quantity": "0"}, "quantity", "no number of pieces"),
        ({"Quantity": "some"}, "quantity", "no number of pieces"),
        ({"Quantity": "2.5"}, "quantity", "no number of pieces"),
        ({"Class": "Q"}, "suffix", "known are S, W, WX, WU, CR"),
        ({"Material": "A403 WP304L-W", "Class": "S"}, "suffix", "keep one"),
        ({"Fitting": "90 elbow"}, "form", "add LR, SR or 3D"),
        ({"Fitting": "EBLOW"}, "form", "did you mean 'elbow'"),
        ({"Fitting": ""}, "form", "names no fitting"),
        ({"Size": ""}, "nps", "no size"),
        ({"Size": "7"}, "nps", "nearest listed: 6, 8"),
        ({"Size": "6 x 4"}, "second_nps", "has one size"),
        ({"Size": "4 x 6", "Fitting": "tee"}, "second_nps", "larger size first"),
        ({"Description": "SCH 40 or SCH 80"}, "schedule", "keep one"),
        ({"Description": "A234 WPBQ"}, "grade", "did you mean"),
        ({"Remarks": "x" * 1001, "Certificate": "x" * 1001}, "certificate", "more than 1000"),
    ],
)
def test_a_bad_cell_names_its_field_and_what_to_do(
    cells: dict[str, str], field: str, words: str
) -> None:
    given = {"Fitting": "90 LR elbow", "Size": "6", **cells}
    found = error(**given)
    assert (found.field, words in found.message) == (field, True), found


def test_a_description_may_stand_in_for_every_column_and_says_so() -> None:
    read = row(Description="ELBOW 90 LR 6in SCH 40 A234 WPB BE SMLS")
    line = read.line
    assert (line.form, line.nps, line.schedule) == (FittingForm.ELBOW_90_LONG, "6", "40")
    assert (line.spec, line.grade) == ("A234", "WPB")
    assert line.construction is Construction.SEAMLESS
    notes = dict(sentences(read, Level.NOTE))
    assert set(notes) == {
        *("form", "nps", "schedule", "spec", "grade", "construction", "quantity"),
    }
    assert notes["nps"] == "The size was read from the description: 6."
    assert sentences(read, Level.CONTRADICTION) == []


def test_a_column_outranks_the_description_and_a_finding_says_so() -> None:
    read = row(**PLAIN, Sch="80", Description="ELBOW 90 LR 6in SCH 40 A234 WPB WELDED", Seam="SMLS")
    assert read.line.schedule == "80"
    assert read.line.construction is Construction.SEAMLESS
    assert [field for field, _ in sentences(read, Level.CONTRADICTION)] == [
        "schedule",
        "construction",
    ]


@pytest.mark.parametrize(
    ("cells", "field", "words"),
    [
        ({"Size": "20"}, "nps", "DN 20 is a size too"),
        ({"Grade": "WPB"}, "spec", "not named"),
        ({"Material": "A234 WP11"}, "grade", "WP11 CL1 or WP11 CL2"),
        ({"Material": "carbon steel"}, "grade", "a family of materials"),
        ({"Construction": "seamless or welded"}, "construction", "leaves the construction"),
    ],
)
def test_what_is_read_but_left_open(cells: dict[str, str], field: str, words: str) -> None:
    found = sentences(row(**{**PLAIN, **cells}), Level.LEFT_OPEN)
    assert [(each, words in sentence) for each, sentence in found] == [(field, True)]


def test_a_class_column_may_hold_letters_or_a_strength_class() -> None:
    assert row(**PLAIN, Spec="A403", Grade="WP304L", Class="wx").line.suffix == "WX"
    read = row(**PLAIN, Spec="A234", Grade="WP11", Class="CL 2")
    assert (read.line.grade, read.line.suffix) == ("WP11 CL2", "")
    assert sentences(read, Level.LEFT_OPEN) == []


def test_a_dual_grade_is_read_as_its_first_with_a_note() -> None:
    read = row(**PLAIN, Material="A403 WP316/316L-W")
    assert (read.line.grade, read.line.suffix) == ("WP316", "W")
    [(field, sentence)] = sentences(read, Level.NOTE)
    assert (field, "WP316L" in sentence) == ("grade", True)


def test_a_standard_column_may_hold_either_standard() -> None:
    assert row(**PLAIN, Standard="A234", Grade="WPB").line.spec == "A234"
    assert row(**PLAIN, Standard="ASME B16.9").line.dimension_standard == "ASME B16.9"


def test_pipe_welded_without_filler_is_kept_as_the_start() -> None:
    line = row(**PLAIN, Construction="ERW").line
    assert (line.construction, line.start_material) == (Construction.WELDED, "ERW pipe")


def test_control_characters_never_reach_a_terminal() -> None:
    line = row(**PLAIN, Certificate="3.1\x1b[31m red\x07").line
    assert line.certificate == "3.1 [31m red"


ANY_CELL = st.text(max_size=24) | st.sampled_from(
    ["90 LR elbow", "tee", "ecc reducer", "6", "6 x 4", "DN150", "STD", "A234 WPB", "9 mm", "W"]
)


@HOUSE
@given(st.dictionaries(st.sampled_from(sorted(h for t in HEADINGS.values() for h in t)), ANY_CELL))
def test_any_cells_give_a_line_or_an_error_that_names_field_and_row(cells: dict[str, str]) -> None:
    given = {"Fitting": "90 LR elbow", "Size": "6", **cells}
    read: ReadLine | OrderError
    try:
        read = read_row(columns_of(list(given)), dict(enumerate(given.values())), 5)
    except OrderError as found:
        read = found
    if isinstance(read, ReadLine):
        assert read.line.row == 5
    else:
        assert read.row == 5
        assert read.field
        assert "\n" not in str(read)
