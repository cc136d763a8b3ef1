from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.words import ADVISORY, Orientation, Part
from tests.stand_in import a_reading
from ui import wording
from ui.crops import MAX_SIDE_PX, seam_windows
from ui.exports import as_csv, as_json_lines, neutralised
from vision.reading import EndJoint, PhotoError

ERROR = PhotoError(photo="=cut.jpg", kind="truncated", message="=cut.jpg: breaks off.")


def test_json_lines_hold_readings_and_errors_in_order() -> None:
    first, second = as_json_lines([a_reading(80, 64), ERROR]).splitlines()
    assert json.loads(first) == a_reading(80, 64).as_json()
    assert json.loads(second) == ERROR.as_json()


def test_csv_has_a_row_for_each_and_the_caution_in_each() -> None:
    rows = list(csv.DictReader(io.StringIO(as_csv([a_reading(80, 64, photo="a,b.jpg"), ERROR]))))
    assert [row["photo"] for row in rows] == ["a,b.jpg", "'=cut.jpg"]
    assert rows[0]["reading"] == "fabrication_seam"
    assert rows[1]["error_kind"] == "truncated"
    assert {row["caution"] for row in rows} == {ADVISORY}


@given(st.text())
def test_no_cell_begins_like_a_formula(text: str) -> None:
    cell = neutralised(text)
    assert isinstance(cell, str)
    assert cell.lstrip()[:1] not in ("=", "+", "-", "@")
    assert cell in (text, "'" + text)


@pytest.mark.parametrize("start", ["=", "+", "-", "@", " =", "\t="])
def test_formulas_are_kept_from_a_spreadsheet(start: str) -> None:
    assert neutralised(start + "1+1") == "'" + start + "1+1"


def test_seams_are_counted_most_telling_first() -> None:
    both = (Orientation.LONGITUDINAL, Orientation.BRANCH)
    reading = a_reading(80, 64, orientations=both)
    assert wording.seams_in_words(reading) == "1 branch, 1 longitudinal"
    assert wording.seams_in_words(a_reading(80, 64, orientations=())) == "none traced"


def test_end_joints_are_told_beside_the_seams_and_are_none() -> None:
    """Two lines on one end are one joint."""
    joint = EndJoint(part=Part.RUN, end=1, confidence=0.9, length_px=40.0, path=())
    reading = replace(a_reading(80, 64, orientations=()), end_joints=(joint, joint))
    assert wording.lines_in_words(reading) == "none traced; 1 end joint (no seam)"
    both = replace(reading, end_joints=(joint, replace(joint, end=0)))
    assert wording.lines_in_words(both) == "none traced; 2 end joints (no seam)"
    bare = a_reading(80, 64, orientations=(Orientation.BRANCH,))
    assert wording.lines_in_words(bare) == wording.seams_in_words(bare) == "1 branch"


def test_file_names_are_shown_letter_by_letter() -> None:
    assert wording.escaped("*a_[b](c).jpg") == r"\*a\_\[b\]\(c\)\.jpg"


@pytest.mark.parametrize("size", [(4000, 3000), (640, 480), (64, 64), (300, 9000)])
def test_windows_hold_every_seam_and_stay_in_the_photo(size: tuple[int, int]) -> None:
    width, height = size
    reading = a_reading(width, height)
    windows = seam_windows(reading)
    for window in windows:
        assert 0 <= window.left < window.right <= width
        assert 0 <= window.top < window.bottom <= height
        assert max(window.right - window.left, window.bottom - window.top) <= MAX_SIDE_PX
    if max(size) <= 4000:
        for seam in reading.seams:
            shown = [
                any(w.left <= x < w.right and w.top <= y < w.bottom for w in windows)
                for x, y in seam.path
            ]
            assert sum(shown) >= 0.9 * len(shown)
    assert windows[0].title.startswith(("C", "B"))
    assert seam_windows(a_reading(80, 64, orientations=())) == ()
