"""The order text shuts a fabrication out, and leaves in brackets what the buyer must settle."""

from __future__ import annotations

import re
from itertools import product
from typing import Any

import pytest

from fittings.order.lines import FittingForm, OrderLine
from fittings.order.text import order_text
from fittings.words import Construction


def text(**changes: Any) -> str:
    whole: dict[str, Any] = {
        "row": 2,
        "form": FittingForm.ELBOW_90_LONG,
        "nps": "6",
        "schedule": "40",
        "wall_mm": 7.11,
        "spec": "A234",
        "grade": "WPB",
        "construction": Construction.SEAMLESS,
        "quantity": 4,
        "dimension_standard": "ASME B16.9",
        "certificate": "EN 10204 3.1",
    }
    return order_text(OrderLine(**{**whole, **changes}))


def plain(**changes: Any) -> str:
    return " ".join(text(**changes).split())


def test_the_heading_names_what_is_bought() -> None:
    assert plain().startswith(
        "4 pieces: 90° long-radius elbow, NPS 6 (DN 150), schedule 40 (7.11 mm nominal wall), "
        "ASTM A234 WPB, seamless, to ASME B16.9. 1. "
    )
    assert "1 piece: " in plain(quantity=1)
    tee = plain(form=FittingForm.REDUCING_TEE, nps="12", second_nps="6", schedule="STD")
    assert "reducing tee, NPS 12 x 6 (DN 300 x 150), STD (7.11 mm nominal wall at NPS 12)" in tee


def test_a_line_that_is_settled_has_no_brackets() -> None:
    assert "[" not in text()
    welded = text(construction=Construction.WELDED, suffix="W", examination="RT 100 %")
    assert "[" not in welded
    assert "(RT 100 %)" in welded


@pytest.mark.parametrize(
    ("form", "words"),
    [
        (FittingForm.ELBOW_45_LONG, "mitred from pieces of pipe, built from segments"),
        (FittingForm.STRAIGHT_TEE, "setting an outlet on or into a pipe"),
        (FittingForm.CONCENTRIC_REDUCER, "built from gores, segments"),
    ],
)
def test_each_kind_excludes_its_own_fabrication(form: FittingForm, words: str) -> None:
    both = plain(form=form, second_nps="4" if form.two_sizes else None)
    assert words in both
    for clause in (
        "No circumferential weld and no intersection weld",
        "section 1.3 (2007 edition)",
        "no sharp corner and no collapsed arc (ASME B16.9 section 7, 2003 and 2007 editions)",
        "is marked, legibly",
        "names the raw material by form",
        "the mill's own certificate",
        "filler metal",
        "may examine any piece on receipt",
    ):
        assert clause in both


def test_seams_and_their_radiographs_follow_the_construction() -> None:
    seamless = plain()
    assert "without any weld, longitudinal ones included" in seamless
    assert "letter W" not in seamless
    assert "longitudinal weld is examined" not in seamless
    welded = plain(construction=Construction.WELDED)
    assert "ASTM A234 WPB-W, welded, with longitudinal seams only" in welded
    # ASTM A234 (2013 edition), materials, one public copy: welded pipe with filler metal.
    assert "made with filler metal" in welded
    assert "Every longitudinal weld is examined over its whole length (radiographs)" in welded
    assert "the letter W stands behind the grade" in welded
    unsaid = plain(construction=None)
    assert "[state: seamless, or welded with longitudinal seams only]" in unsaid
    assert "[Keep one] Seamless:" in unsaid
    assert "If a piece is welded: every longitudinal weld" in unsaid


def test_classes_of_stainless_fittings() -> None:
    steel = {"spec": "A403", "grade": "WP304L"}
    # ASTM A403-00b Table 1, one public table.
    assert "A403 WP304L-S, seamless" in plain(**steel)
    assert "A403 WP304L-WX, welded" in plain(**steel, suffix="WX", construction=None)
    assert "(radiographs)" in plain(**steel, suffix="WX", construction=None, examination="UT")
    assert "(ultrasonic examination)" in plain(**steel, suffix="WU", construction=None)
    assert "[state class W, WX or WU]" in plain(**steel, construction=Construction.WELDED)
    assert "[state class S, W, WX or WU]" in plain(**steel, construction=None)


@pytest.mark.parametrize(
    ("changes", "bracket"),
    [
        ({"schedule": None, "wall_mm": None}, "[state schedule or wall]"),
        ({"spec": None, "grade": None}, "[state material standard and grade]"),
        ({"grade": None}, "ASTM A234 [state material standard and grade]"),
        ({"grade": "WP11"}, "ASTM A234 WP11 [state the strength class]"),
        ({"certificate": None}, "[state the type, for instance EN 10204 3.1]"),
        ({"suffix": "W"}, "[Settle first: The line wants seamless construction"),
        (
            {"construction": Construction.FABRICATED},
            "[Settle first: The line asks for a fabricated",
        ),
    ],
)
def test_what_is_not_settled_stands_in_brackets(changes: dict[str, Any], bracket: str) -> None:
    assert bracket in plain(**changes)


def test_dimensions_follow_the_standard_of_the_grade() -> None:
    assert "to ASME B16.9" in plain(dimension_standard=None)
    light = plain(spec="A403", grade="CR304L", suffix="CR", schedule="10S", dimension_standard=None)
    assert "to MSS SP-43" in light
    assert "B16.9" not in light
    assert "No circumferential weld" in light


@pytest.mark.parametrize(
    ("form", "construction", "suffix"),
    list(product(FittingForm, [None, *Construction], ["", "S", "WX"])),
)
def test_every_text_is_whole_and_fits_a_page(
    form: FittingForm, construction: Construction | None, suffix: str
) -> None:
    words = text(
        form=form,
        second_nps="4" if form.two_sizes else None,
        construction=construction,
        suffix=suffix,
    )
    assert max(map(len, words.splitlines())) <= 96
    assert words.count("[") == words.count("]")
    numbers = [int(each) for each in re.findall(r"(?m)^(\d)\. ", words)]
    assert numbers == list(range(1, len(numbers) + 1))
    assert 7 <= len(numbers) <= 8
    assert "None" not in words
    assert "  " not in words.replace("\n   ", "\n")


def test_no_examination_is_never_written_into_the_text() -> None:
    """A line that refuses it is a contradiction; the clause keeps asking for radiographs."""
    refused = plain(suffix="W", construction=Construction.WELDED, examination="None")
    assert "(radiographs)" in refused
    assert "(None)" not in refused
