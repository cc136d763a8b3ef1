"""The rows that the trade page shows, against published values and against the command's own."""

from __future__ import annotations

import pytest
from fluids.piping import nearest_pipe

from fittings.order.lines import FittingForm
from fittings.receiving.settle import physical_checks
from fittings.words import Kind
from ui.loading import SAMPLES
from ui.order_files import read_order_file
from ui.trade import answers, sizes
from ui.trade.answers import TradeTrouble


@pytest.mark.parametrize("form", FittingForm)
def test_every_size_that_can_be_chosen_is_a_line_with_limits(form: FittingForm) -> None:
    listed = sizes.sizes_of(form)
    assert listed
    for nps in (listed[0], listed[len(listed) // 2], listed[-1]):
        seconds = sizes.second_sizes_of(form, nps)
        assert bool(seconds) is form.two_sizes
        line = answers.made_line(form, nps, seconds[0] if seconds else None, None)
        assert answers.limit_rows(line)
        assert sizes.schedules_of(nps)


def test_dimensions_of_a_known_elbow() -> None:
    """A = 229 mm (ASME B16.9-2018 Table 6.1-1, two public tables); wall by the library `fluids`."""
    line = answers.made_line(FittingForm.ELBOW_90_LONG, "6", None, "40")
    rows = {row["Name"]: row for row in answers.limit_rows(line)}
    assert rows["centre_to_end"]["Nominal mm"] == "229"
    wall_mm = 1000 * nearest_pipe(NPS=6, schedule="40")[3]
    assert float(rows["wall"]["Nominal mm"]) == pytest.approx(wall_mm, abs=0.01)
    assert float(rows["wall"]["Least mm"]) == pytest.approx(0.875 * wall_mm, abs=0.01)


def test_measurements_are_compared_or_told_what_is_wrong_with_them() -> None:
    line = answers.made_line(FittingForm.ELBOW_90_LONG, "6", None, "40")
    rows = answers.compared_rows(line, "centre_to_end = 229.5 mm\n\n wall=5mm\n")
    assert [row["Measured"] for row in rows] == ["centre_to_end", "wall"]
    assert rows[0]["Against the limit"].startswith("inside")
    assert rows[1]["Against the limit"].startswith("outside")
    for text, said in (
        ("centre_to_end", "NAME=LENGTH"),
        ("wall = 5", "no unit"),
        ("walll = 5mm", "wall"),
    ):
        with pytest.raises(TradeTrouble, match=said):
            answers.compared_rows(line, text)
    with pytest.raises(TradeTrouble, match="no unit"):
        answers.length_entered("12")


def test_a_line_that_cannot_be_is_told() -> None:
    with pytest.raises(TradeTrouble, match="needs two sizes"):
        answers.made_line(FittingForm.REDUCING_TEE, "12", None, None)


def test_the_sample_order_gives_findings_and_a_sentence_about_seams() -> None:
    read = read_order_file(SAMPLES / "order.csv")
    first = read.lines[0]
    assert "NPS 6 (DN 150)" in answers.order_title(first.line)
    assert "A234 WPB" in answers.order_title(first.line)
    assert answers.seam_sentence(first.line) == "No seam is allowed."
    contradictions = [
        row
        for line in read.lines
        for row in answers.finding_rows(line)
        if row["Finding"] == "contradiction"
    ]
    assert contradictions
    assert all(row["Source"] for row in contradictions)


def test_strength_of_a_tee_is_the_published_ratio() -> None:
    """io of a fabricated tee over a welding tee is 3.1^(2/3) = 2.126 whatever the size: ASME
    B31.3-2016 Table D300."""
    line = answers.made_line(FittingForm.STRAIGHT_TEE, "12", None, "STD")
    found = answers.strength_found(line, pieces=None, pressure="", allowable="", corrosion="")
    rows = answers.factor_rows(found)
    bare = next(row for row in rows if row["Piece"].startswith("Fabricated"))
    assert float(bare["io, times"]) == pytest.approx(3.1 ** (2 / 3), abs=0.01)
    steps = answers.step_rows(found.ordered.steps)
    assert all(row["Source"] for row in steps)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"pressure": "30"}, "no unit"),
        ({"pressure": "30 bar"}, "allowable"),
        ({"allowable": "0 MPa"}, "allowable"),
        ({"allowable": "138 MPa", "corrosion": "-1 mm"}, "corrosion"),
    ],
)
def test_strength_says_what_is_wrong_with_a_figure(given: dict[str, str], said: str) -> None:
    line = answers.made_line(FittingForm.STRAIGHT_TEE, "12", None, "STD")
    asked = {"pressure": "", "allowable": "", "corrosion": "", **given}
    with pytest.raises(TradeTrouble, match=said):
        answers.strength_found(line, pieces=None, **asked)


def test_a_check_is_told_with_its_cautions_and_source() -> None:
    for check in physical_checks(Kind.TEE):
        lines = answers.check_lines(check)
        assert any(line.startswith("**Source:**") for line in lines)
        assert sum(line.startswith("**Caution:**") for line in lines) == len(check.hazards)
