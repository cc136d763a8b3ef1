"""Grades and class letters against the public tables that were read, and reading them as written.

No bought edition of a material standard was at hand. "Two public tables" are two printed tables or
copies of the standard that agree.
"""

from __future__ import annotations

import pickle
import re
from importlib.resources import files

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fittings.listed import table_rows
from fittings.order.grades import (
    Grade,
    GradeNotListed,
    class_rule,
    find_grade,
    grades,
    names_of_grades,
    plain_name,
    specs,
    strength_classes,
)
from fittings.order.lines import SUFFIXES
from fittings.order.material_text import Material, parse_material, parse_spec

HOUSE = settings(derandomize=True, deadline=None)
TABLES = ("grades", "class_suffixes")


@pytest.mark.parametrize(
    ("spec", "grade", "uts_mpa", "yield_mpa"),
    [
        # ASTM A234, tensile requirements: two public tables agree.
        ("A234", "WPB", 415, 240),
        ("A234", "WPC", 485, 275),
        ("A234", "WP11 CL1", 415, 205),
        ("A234", "WP11 CL2", 485, 275),
        ("A234", "WP11 CL3", 520, 310),
        # The same, printed as groups of grades that share a column: two public tables agree.
        ("A234", "WP12 CL2", 485, 275),
        ("A234", "WP22 CL1", 415, 205),
        ("A234", "WP22 CL3", 520, 310),
        ("A234", "WP5 CL1", 415, 205),
        ("A234", "WP9 CL3", 520, 310),
        # ASTM A234 WP12: one public table.
        ("A234", "WP12 CL1", 415, 220),
        # ASTM A420 WPL6: two public tables agree.
        ("A420", "WPL6", 415, 240),
        # Annealed ASTM B165 pipe up to 5 in OD, the start of B366 WPNC: one public copy.
        ("B366", "WPNC", 480, 195),
    ],
)
def test_strengths_that_public_tables_print(
    spec: str, grade: str, uts_mpa: float, yield_mpa: float
) -> None:
    found = find_grade(spec, grade)
    assert (found.min_uts_mpa, found.min_yield_mpa) == (uts_mpa, yield_mpa)
    assert "from memory" not in found.tensile_source
    assert re.search("two public tables agree|one public (table|copy)", found.tensile_source)


@pytest.mark.parametrize(
    ("spec", "grade", "seamless", "other"),
    [
        # Pipe and plate pairing of ASTM A234 alloy grades: one public table.
        ("A234", "WP1", "A335-P1", "A204 plate"),
        ("A234", "WP12 CL1", "A335-P12", "A387-12 CL1 plate"),
        ("A234", "WP11 CL1", "A335-P11", "A387-11 CL1 plate"),
        ("A234", "WP22 CL1", "A335-P22", "A387-22 CL1 plate"),
        ("A234", "WP5 CL1", "A335-P5", "A387-5 CL1 plate"),
        ("A234", "WP9 CL1", "A335-P9", "A387-9 CL1 plate"),
        # ASTM B366-04, list of references: one public copy.
        ("B366", "WPNC", "B165 seamless pipe", "B127 plate"),
        # ASTM B361 and the titles of ASTM B241 and B209: two public copies agree.
        ("B361", "WP5083", "B241 seamless pipe and extruded tube", "B209 sheet and plate"),
    ],
)
def test_start_materials_that_public_copies_name(
    spec: str, grade: str, seamless: str, other: str
) -> None:
    found = find_grade(spec, grade)
    assert seamless in found.seamless_start
    assert other in found.welded_start


@pytest.mark.parametrize(
    ("spec", "grade"),
    [
        ("A234", "WP1"),
        ("A234", "WP91"),
        ("A403", "WP304L"),
        ("A420", "WPL3"),
        ("A815", "WP S31803"),
    ],
)
def test_strengths_from_memory_say_so(spec: str, grade: str) -> None:
    assert find_grade(spec, grade).tensile_source == "from memory"


@pytest.mark.parametrize(
    ("spec", "suffix", "construction", "seam", "words"),
    [
        # ASTM A403-00b Table 1, one public table; 5.3 for S, one public copy.
        ("A403", "S", "seamless", "none", "no examination"),
        ("A403", "W", "welded", "longitudinal", "radiographs or ultrasonic"),
        ("A403", "WX", "welded", "longitudinal", "radiographs"),
        ("A403", "WU", "welded", "longitudinal", "ultrasonic"),
        ("A403", "CR", "either", "not forbidden", "none required"),
        # ASTM A234: the scope covers seamless and welded, one public copy; the letter W, Table 1
        # footnote A, two public tables agree.
        ("A234", "", "either", "not forbidden", "where welded"),
        ("A234", "W", "welded", "longitudinal", "whole length"),
    ],
)
def test_class_letters(spec: str, suffix: str, construction: str, seam: str, words: str) -> None:
    rule = class_rule(spec, suffix)
    assert rule is not None
    assert (rule.construction, rule.seam) == (construction, seam)
    assert words in rule.examination


def test_letters_that_no_row_explains_are_none() -> None:
    assert class_rule("B361", "WX") is None
    assert class_rule("A999", "") is None


@pytest.mark.parametrize("each", grades(), ids=lambda each: f"{each.spec} {each.grade}")
def test_every_row_is_usable(each: Grade) -> None:
    assert find_grade(each.spec, each.grade) is each
    prefix = "" if each.spec.startswith("MSS") else "ASTM "
    suffix = "CR" if each.grade.startswith("CR") else ""
    expected = Material(spec=each.spec, grade=each.grade, suffix=suffix)
    assert parse_material(f"{prefix}{each.spec} {each.grade}") == expected
    assert parse_material(each.grade.lower(), each.spec) == expected
    assert class_rule(each.spec, suffix) is not None
    for value in (each.min_uts_mpa, each.min_yield_mpa):
        assert value is None or 150 < value < 900
    if each.min_uts_mpa and each.min_yield_mpa:
        assert each.min_yield_mpa < each.min_uts_mpa
    for text in (*each.seamless_start, *each.welded_start, each.heat_treatment, each.alloy):
        assert text == text.strip() != ""


@pytest.mark.parametrize("name", TABLES)
def test_every_row_says_its_standard_and_how_it_was_checked(name: str) -> None:
    how = re.compile(
        "two public (tables|copies) agree|one public (table|copy)|from memory|common practice"
    )
    for row in table_rows(name):
        assert None not in row.values()
        sources = [value for key, value in row.items() if key.endswith("source")]
        assert all(sources), row
        assert how.search(row["source"]), row
        assert re.match("ASTM |MSS |common practice", row["source"]), row
    text = files("fittings").joinpath("tables", f"{name}.csv").read_text(encoding="utf-8")
    assert not re.search(r"https?:|www\.|\.(com|net|org|io|es)\b|\d{7,}", text)


def test_every_letter_is_explained_for_a_standard_with_classes() -> None:
    for spec in ("A403", "A815", "B366"):
        assert all(class_rule(spec, letters) for letters in SUFFIXES if letters != "CR")
    for spec in specs():
        assert class_rule(spec, "") is not None


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("ASTM A234 WPB", ("A234", "WPB", "")),
        ("SA-234 WPB-W", ("A234", "WPB", "W")),
        ("a234 gr. wpbw", ("A234", "WPB", "W")),
        ("ASTM A234/A234M-18 WPB", ("A234", "WPB", "")),
        ("ASTM A234 / ASME SA234 WPB S", ("A234", "WPB", "S")),
        ("WP11W CL1", ("A234", "WP11 CL1", "W")),
        ("A234 WP11 CLASS 1-W", ("A234", "WP11 CL1", "W")),
        ("WP11-1", ("A234", "WP11 CL1", "")),
        ("A234 WP22", ("A234", "WP22", "")),
        ("A403 WP304L-WX", ("A403", "WP304L", "WX")),
        ("A403 CR304L", ("A403", "CR304L", "CR")),
        ("A403 WP304 CR", ("A403", "WP304", "CR")),
        ("A815 UNS S31803 WU", ("A815", "WP S31803", "WU")),
        ("B361 WP5083", ("B361", "WP5083", "")),
        ("MSS SP-75 WPHY 52", ("MSS SP-75", "WPHY-52", "")),
        ("A234", ("A234", None, "")),
    ],
)
def test_every_way_of_writing_a_material(text: str, expected: tuple[str, str | None, str]) -> None:
    read = parse_material(text)
    assert (read.spec, read.grade, read.suffix) == expected


def test_a_dual_grade_keeps_its_second_name() -> None:
    read = parse_material("ASTM A403 WP316/316L-S")
    assert read == Material(spec="A403", grade="WP316", suffix="S", also="WP316L")


@pytest.mark.parametrize(
    ("text", "near"),
    [
        ("A234 WPBB", ("WPB",)),
        ("A234 WBP", ("WPB",)),
        ("A420 WLP6", ("WPL6",)),
        ("A403 WP3O4L", ("WP304L",)),
        ("A403 304L", ("WP304L", "CR304L")),
        ("A403 WP361L", ("WP316L",)),
        ("B366 WPCN", ("WPNC",)),
        ("WBP", ("A234 WPB",)),
    ],
)
def test_a_typing_slip_is_answered_with_the_nearest_grade(text: str, near: tuple[str, ...]) -> None:
    with pytest.raises(GradeNotListed) as caught:
        parse_material(text)
    assert caught.value.nearest[: len(near)] == near
    assert f"did you mean {near[0]}" in str(caught.value)


def test_a_grade_under_the_wrong_standard_names_the_right_one() -> None:
    with pytest.raises(GradeNotListed, match="it is A403 WP304L; correct the standard"):
        parse_material("A234 WP304L")
    with pytest.raises(GradeNotListed, match="names A403; keep one"):
        parse_material("A403 WP304L", "A234")


@pytest.mark.parametrize("text", ["A860", "A2345", "B16.9", "EN 10253", "", "steel"])
def test_an_unlisted_standard_is_refused_with_the_listed_ones(text: str) -> None:
    with pytest.raises(GradeNotListed, match="A234, A403, A420"):
        parse_spec(text)


def test_a_bare_grade_gives_its_strength_classes() -> None:
    assert strength_classes("A234", "WP11") == ("WP11 CL1", "WP11 CL2", "WP11 CL3")
    assert strength_classes("A234", "WPB") == ()
    assert strength_classes("A234", "WP1") == ()
    with pytest.raises(GradeNotListed, match="WP22 CL1"):
        find_grade("A234", "WP22")


def test_the_error_survives_a_trip_between_processes() -> None:
    error = pickle.loads(pickle.dumps(GradeNotListed("WPX", "the table", ["WPB", "WPC"])))
    assert error.nearest == ("WPB", "WPC")
    assert str(error) == "'WPX' is not in the table; did you mean WPB or WPC?"


def read_or_error(text: str, spec: str | None = None) -> Material | GradeNotListed:
    try:
        return parse_material(text, spec)
    except GradeNotListed as error:
        return error


@HOUSE
@given(st.sampled_from(grades()), st.data())
def test_swapped_letters_are_found_out_or_are_another_grade(
    each: Grade, data: st.DataObject
) -> None:
    name = plain_name(each.grade)
    place = data.draw(st.integers(0, len(name) - 2))
    slip = name[:place] + name[place + 1] + name[place] + name[place + 2 :]
    read = read_or_error(slip, each.spec)
    if isinstance(read, GradeNotListed):
        assert each.grade in read.nearest
    else:
        # The swapped text is itself the name of a listed grade, with or without class letters.
        assert plain_name(read.grade or "") in names_of_grades()


@HOUSE
@given(st.text(max_size=30))
def test_any_text_gives_a_material_or_the_error(text: str) -> None:
    read = read_or_error(text)
    if isinstance(read, GradeNotListed):
        assert str(read)
    else:
        assert read.spec in (None, *specs())
        assert read.suffix in SUFFIXES
