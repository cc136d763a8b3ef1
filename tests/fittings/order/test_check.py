"""What a check finds: contradictions, what is left open, and what the certificate must show.

The rules behind are rows of the tables; where a public copy or table was read, the test names it.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fittings.listed import SizeTable, listed_sizes
from fittings.order.check import check_line, findings_of, seam_allowed
from fittings.order.findings import Finding, Level
from fittings.order.grades import grades
from fittings.order.lines import SUFFIXES, FittingForm, OrderLine
from fittings.order.rows import ReadLine
from fittings.order.start_material import start_is_seamless
from fittings.words import Construction

HOUSE = settings(derandomize=True, deadline=None)
NEVER = re.compile(r"\b(accepted|acceptable|safe|genuine|compliant|approved|conforms|passes)\b")


def line(**changes: Any) -> OrderLine:
    """A line that says everything, seamless A234 WPB, changed as asked."""
    whole: dict[str, Any] = {
        "row": 2,
        "form": FittingForm.ELBOW_90_LONG,
        "nps": "6",
        "schedule": "40",
        "wall_mm": 7.11,
        "spec": "A234",
        "grade": "WPB",
        "construction": Construction.SEAMLESS,
        "dimension_standard": "ASME B16.9",
        "certificate": "EN 10204 3.1",
        "start_material": "A106-B",
    }
    return OrderLine(**{**whole, **changes})


def found(level: Level, **changes: Any) -> dict[str, str]:
    """Sentences of that level by their field."""
    return {
        each.field: each.sentence for each in check_line(line(**changes)) if each.level is level
    }


def contradictions(**changes: Any) -> dict[str, str]:
    return found(Level.CONTRADICTION, **changes)


def left_open(**changes: Any) -> dict[str, str]:
    return found(Level.LEFT_OPEN, **changes)


def test_a_line_that_says_everything_leaves_nothing_open() -> None:
    assert contradictions() == {}
    assert left_open() == {}
    assert set(found(Level.NOTE)) == {"suffix", "construction", "start_material", "grade", "nps"}


@pytest.mark.parametrize(
    ("field", "changes"),
    [
        ("spec", {"spec": None, "grade": None}),
        ("grade", {"grade": None}),
        ("construction", {"construction": None}),
        ("schedule", {"schedule": None, "wall_mm": None}),
        ("certificate", {"certificate": None}),
        ("dimension_standard", {"dimension_standard": None}),
        ("examination", {"construction": None}),
        ("suffix", {"construction": None}),
        ("examination", {"construction": Construction.WELDED, "start_material": None}),
    ],
)
def test_what_is_unsaid_is_named(field: str, changes: dict[str, Any]) -> None:
    assert field in left_open(**changes)
    assert field not in left_open()


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        # Letters against words: ASTM A234 Table 1 footnote A (two public tables agree), ASTM
        # A403-00b Table 1 (one public table).
        (
            {"suffix": "S", "construction": Construction.WELDED, "start_material": None},
            "construction",
            "is seamless",
        ),
        ({"suffix": "W"}, "construction", "A234 WPB-W is welded"),
        ({"spec": "A403", "grade": "WP304", "suffix": "W"}, "construction", "is welded"),
        ({"spec": "A403", "grade": "WP304", "suffix": "WU"}, "construction", "is welded"),
        # ASME B16.9 1.3 (2007 edition), two public copies agree.
        ({"construction": Construction.FABRICATED}, "construction", "outside ASME B16.9"),
        # ASTM A234 (2013 edition), materials, one public copy: pipe with filler metal only.
        (
            {"construction": Construction.WELDED, "start_material": "ERW pipe"},
            "start_material",
            "without filler metal",
        ),
        # ASTM B241 and B209 by their titles, two public copies agree.
        (
            {"spec": "B361", "grade": "WP5083", "start_material": "B209"},
            "start_material",
            "seamless fitting cannot come from B209",
        ),
        (
            {
                **{"spec": "B361", "grade": "WP5083", "start_material": "ASTM B241"},
                "construction": Construction.WELDED,
            },
            "start_material",
            "is seamless",
        ),
        ({"start_material": "A516-70 plate"}, "start_material", "A516-70 plate"),
        # MSS SP-43: schedules 5S and 10S, 30 % of the pipe's rating; one public table.
        (
            {"spec": "A403", "grade": "CR304L", "suffix": "CR", "schedule": "10S"},
            "dimension_standard",
            "30 %",
        ),
        (
            {
                **{"spec": "A403", "grade": "WP304L", "schedule": "5S"},
                "dimension_standard": "MSS SP-43",
            },
            "grade",
            "not pressure rated",
        ),
        (
            {"spec": "A403", "grade": "CR304L", "dimension_standard": "MSS SP-43"},
            "schedule",
            "5S and 10S only, not 40",
        ),
        # ASTM A403-00b Table 1: WX is radiographs, WU ultrasonic examination; one public table.
        (
            {
                **{"spec": "A403", "grade": "WP304L", "suffix": "WX", "examination": "UT"},
                **{"construction": Construction.WELDED, "start_material": None},
            },
            "examination",
            "radiographs",
        ),
        (
            {
                **{"spec": "A403", "grade": "WP304L", "suffix": "WU", "examination": "100% RT"},
                **{"construction": Construction.WELDED, "start_material": None},
            },
            "examination",
            "ultrasonic",
        ),
        (
            {
                **{"suffix": "W", "examination": "none", "start_material": None},
                "construction": Construction.WELDED,
            },
            "examination",
            "whole length",
        ),
        # ASME B16.9-2018 Table 6.1-8 has no 6 x 1 tee; two public tables agree on the rows.
        ({"form": FittingForm.REDUCING_TEE, "second_nps": "1"}, "nps", "6 x 1 is not listed"),
        # ASME B16.9-2018 Table 6.1-4, short radius ends at NPS 24.
        ({"form": FittingForm.ELBOW_90_SHORT, "nps": "30", "wall_mm": 9.53}, "nps", "NPS 30"),
    ],
)
def test_contradictions(changes: dict[str, Any], field: str, words: str) -> None:
    sentences = contradictions(**changes)
    assert words in sentences.get(field, ""), sentences
    assert list(sentences) == [field]


@pytest.mark.parametrize(
    ("changes", "allowed"),
    [
        ({}, False),
        ({"suffix": "S", "construction": None}, False),
        ({"construction": None}, True),
        ({"suffix": "W", "construction": None}, True),
        ({"suffix": "WX", "construction": Construction.WELDED}, True),
        ({"suffix": "W"}, None),
        ({"construction": Construction.FABRICATED}, None),
        ({"suffix": "CR", "construction": None}, True),
    ],
)
def test_whether_a_longitudinal_seam_is_allowed(
    changes: dict[str, Any], allowed: bool | None
) -> None:
    assert seam_allowed(line(**changes)) is allowed


@pytest.mark.parametrize(
    ("text", "spec", "grade", "seamless"),
    [
        ("A106-B", "A234", "WPB", True),
        ("SA106 Gr B", "A234", "WPB", True),
        ("A516-70 plate", "A234", "WPB", False),
        ("A672", "A234", "WPB", False),
        ("API 5L-B", "A234", "WPB", None),
        ("API 5L-B seamless", "A234", "WPB", True),
        ("A53-B ERW", "A234", "WPB", False),
        ("A312-TP304L", "A403", "WP304L", None),
        ("A312-TP304L welded", "A403", "WP304L", False),
        ("A358", "A403", "WP304L", False),
        ("B241", "B361", "WP5083", True),
        ("B209", "B361", "WP5083", False),
        ("something", "A234", "WPB", None),
    ],
)
def test_whether_a_start_material_has_a_seam(
    text: str, spec: str, grade: str, seamless: bool | None
) -> None:
    row = next(each for each in grades() if (each.spec, each.grade) == (spec, grade))
    assert start_is_seamless(text, row) is seamless


def test_a_start_material_that_comes_both_ways_or_belongs_elsewhere_is_asked_about() -> None:
    assert "say which" in left_open(start_material="API 5L-B")["start_material"]
    assert "not among the usual" in left_open(start_material="A335-P11")["start_material"]


@pytest.mark.parametrize("each", grades(), ids=lambda each: f"{each.spec} {each.grade}")
def test_every_grade_says_raw_material_heat_treatment_and_strength(each: Any) -> None:
    suffix = "CR" if each.grade.startswith("CR") else ""
    notes = [
        finding
        for finding in check_line(
            line(spec=each.spec, grade=each.grade, suffix=suffix, start_material=None)
        )
        if finding.level is Level.NOTE
    ]
    text = " ".join(finding.sentence for finding in notes)
    assert each.seamless_start[0] in text
    assert each.heat_treatment in text
    assert each.alloy in text
    if each.min_uts_mpa:
        assert f"{each.min_uts_mpa:g} MPa" in text


def test_dimensions_come_with_the_line() -> None:
    # ASME B16.9-2018 Tables 6.1-1 (NPS 6), 6.1-8 (12 x 6), 6.1-11 (NPS 12): public tables agree.
    assert "A, centre to end, 229 mm" in found(Level.NOTE)["nps"]
    tee = found(Level.NOTE, form=FittingForm.REDUCING_TEE, nps="12", second_nps="6")
    assert "C 254 mm, M 219 mm." in tee["nps"]
    cone = found(Level.NOTE, form=FittingForm.ECCENTRIC_REDUCER, nps="12", second_nps="6")
    assert "H, end to end, 203 mm" in cone["nps"]


def test_values_from_memory_are_marked() -> None:
    # Reducers above NPS 24 are from memory in the table; NPS 12 is not.
    for nps, small, memory in (("30", "24", True), ("12", "10", False)):
        large = line(form=FittingForm.CONCENTRIC_REDUCER, nps=nps, second_nps=small, wall_mm=9.53)
        [size] = [each for each in check_line(large) if each.field == "nps"]
        assert size.from_memory is memory


def test_findings_come_worst_first_and_take_in_what_reading_found() -> None:
    note = Finding(level=Level.NOTE, field="nps", sentence="Read.", source="the order file itself")
    bad = Finding(level=Level.CONTRADICTION, field="nps", sentence="Two.", source="the order file")
    ordered = findings_of(ReadLine(line=line(certificate=None), findings=(note, bad)))
    levels = [list(Level).index(each.level) for each in ordered]
    assert levels == sorted(levels)
    assert ordered[0] is bad
    assert note in ordered


@pytest.mark.parametrize("changes", [{"sentence": "No stop"}, {"source": ""}])
def test_a_finding_is_a_sentence_with_a_source(changes: dict[str, str]) -> None:
    values: dict[str, Any] = {"level": Level.NOTE, "field": "x", "sentence": "Yes.", "source": "y"}
    with pytest.raises(ValueError, match=r"is a sentence|has no source"):
        Finding(**{**values, **changes})


TEES = listed_sizes(SizeTable.REDUCING_TEE)
GRADES = [(each.spec, each.grade) for each in grades()] + [("A234", "WP11"), ("A234", None)]


@HOUSE
@given(
    pair=st.sampled_from(TEES),
    material=st.sampled_from(GRADES),
    suffix=st.sampled_from(SUFFIXES),
    construction=st.sampled_from([None, *Construction]),
    standard=st.sampled_from([None, "ASME B16.9", "MSS SP-43", "EN 10253"]),
    start=st.sampled_from([None, "ERW pipe", "A106-B", "B209 plate", "?"]),
    examination=st.sampled_from([None, "none", "100% RT", "UT"]),
)
def test_every_line_gets_findings_that_praise_nothing(
    pair: tuple[str, str],
    material: tuple[str, str | None],
    suffix: str,
    construction: Construction | None,
    standard: str | None,
    start: str | None,
    examination: str | None,
) -> None:
    each = line(
        form=FittingForm.REDUCING_TEE,
        nps=pair[0],
        second_nps=pair[1],
        wall_mm=None,
        spec=material[0],
        grade=material[1],
        suffix=suffix,
        construction=construction,
        dimension_standard=standard,
        start_material=start,
        examination=examination,
    )
    findings = check_line(each)
    assert findings
    assert not NEVER.search(" ".join(finding.sentence for finding in findings))
    # A line whose words fight about the seam says so.
    if seam_allowed(each) is None:
        assert any(f.level is Level.CONTRADICTION and f.field == "construction" for f in findings)


@pytest.mark.parametrize(
    ("suffix", "examination", "contradicts"),
    [
        ("WX", "UT report", True),
        ("WX", "UT 100 %, certificate and report", True),
        ("WX", "RT and UT", False),
        ("WX", "as agreed without cost", False),
        ("WU", "RT 100%", True),
        ("WU", "100%RT", True),
        ("WU", "UT100", False),
        ("W", "without RT", True),
        ("W", "None", True),
    ],
)
def test_an_examination_is_read_by_its_words(
    suffix: str, examination: str, contradicts: bool
) -> None:
    """ "report" holds RT and "without" holds UT, as letters only."""
    changes = {"spec": "A403", "grade": "WP304L", "suffix": suffix, "construction": None}
    said = contradictions(**changes, start_material=None, examination=examination)
    assert ("examination" in said) is contradicts


def test_no_examination_of_a_seam_that_is_allowed_is_left_open() -> None:
    assert "examination" in left_open(construction=None, start_material=None, examination="None")
    cr: dict[str, Any] = {"spec": "A403", "grade": "CR304L", "suffix": "CR", "schedule": "10S"}
    cr |= {"dimension_standard": "MSS SP-43", "start_material": None, "examination": "none"}
    said = contradictions(**cr, construction=Construction.WELDED)
    assert "examination" not in said  # a CR fitting has none required (from memory)


def test_a_fabricated_piece_of_a_seamless_class_contradicts_twice() -> None:
    said = [
        each.sentence
        for each in check_line(
            line(
                **{"spec": "A403", "grade": "WP304L", "suffix": "S", "start_material": None},
                construction=Construction.FABRICATED,
            )
        )
        if each.level is Level.CONTRADICTION
    ]
    assert len(said) == 2
    assert "pipe fabrication" in said[0]
    assert "A403 WP304L-S is seamless" in said[1]


@pytest.mark.parametrize(
    ("certificate", "open_"),
    [("EN 10204 2.2", True), ("2.1", True), ("EN 10204 3.1", False), ("3.2", False)],
)
def test_a_certificate_that_tests_nothing_delivered_is_left_open(
    certificate: str, open_: bool
) -> None:
    """EN 10204 types, from memory: 2.1 gives no results, 2.2 those of other products."""
    assert ("certificate" in left_open(certificate=certificate)) is open_
