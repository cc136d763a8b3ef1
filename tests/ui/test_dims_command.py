"""`seamtriage dims` as a person and as a script would use it."""

from __future__ import annotations

import json
from typing import Any

import pytest
import typer
from click.testing import Result
from typer.testing import CliRunner

from fittings.receiving.measured import ADVISORY_MEASURED
from ui.dims_command import add_to


def run(*arguments: str) -> Result:
    app = typer.Typer(rich_markup_mode=None)
    app.callback()(lambda: None)
    add_to(app)
    return CliRunner().invoke(app, ["dims", *arguments])


def as_json(*arguments: str) -> dict[str, Any]:
    result = run(*arguments, "--json")
    assert result.exit_code == 0, result.output
    lines = result.stdout.splitlines()
    assert len(lines) == 1
    answer = json.loads(lines[0])
    assert isinstance(answer, dict)
    return answer


def flat(text: str) -> str:
    """The text without the lines and breaks of a table."""
    return " ".join(text.replace("│", " ").split())


def test_the_table_shows_every_dimension_its_source_and_the_advice() -> None:
    result = run("--fitting", "90 LR elbow", "--nps", "6", "--schedule", "40")
    assert result.exit_code == 0
    out = flat(result.stdout)
    assert "90° long-radius elbow, NPS 6 (DN 150), schedule 40" in out
    # ASME B16.9-2018 and B36.10M, two public tables of each: A 229 ± 2, OD 168.3 +2.4 −1.6.
    assert "centre_to_end centre to end, A 229 227 231" in out
    assert "od outside diameter at the bevel 168.3 166.7 170.7" in out
    assert "wall wall 7.11 6.221 –" in out
    assert "ASME B16.9-2018 Table 6.1-1, two public tables agree" in out
    assert flat(ADVISORY_MEASURED) in out
    assert result.stderr == ""


def test_dn_and_nps_give_the_same_answer() -> None:
    by_dn = as_json("--fitting", "tee", "--nps", "DN150", "--second", "dn100")
    by_nps = as_json("--fitting", "reducing tee", "--nps", "6", "--second", "4")
    assert by_dn == by_nps
    assert (by_dn["nps"], by_dn["second_nps"], by_dn["dn"], by_dn["second_dn"]) == (
        *("6", "4"),
        *(150, 100),
    )


def test_measurements_are_compared_and_converted() -> None:
    answer = as_json(
        *("--fitting", "90 LR elbow", "--nps", "6", "--schedule", "40"),
        *("--measured", "centre_to_end=229.5mm", "--measured", "od=6.66in"),
        *("--measured", "wall=7.0mm", "--measured", "wall=6.2 mm"),
    )
    found = {each["name"]: each for each in answer["measurements"]}
    assert (found["centre_to_end"]["deviation_mm"], found["centre_to_end"]["room_mm"]) == (0.5, 1.5)
    assert found["od"]["measured_mm"] == 169.164  # 6.66 x 25.4 by hand
    assert found["od"]["place"] == "inside"
    assert (found["wall"]["measured_mm"], found["wall"]["all_mm"]) == (6.2, [7.0, 6.2])
    assert found["wall"]["place"] == "outside"
    assert found["wall"]["outside_by_mm"] == pytest.approx(0.0213, abs=1e-4)
    (survey,) = answer["wall_surveys"]
    assert (survey["count"], survey["mean_mm"], survey["below_least"]) == (2, 6.6, 1)
    assert answer["advisory"] == ADVISORY_MEASURED


def test_what_is_measured_never_changes_the_exit_code() -> None:
    result = run("--fitting", "tee", "--nps", "6", "--measured", "C=9in", "--measured", "od=17cm")
    assert result.exit_code == 0
    out = flat(result.stdout)
    # 9 in is 228.6 mm; C is 143 ± 2 mm (ASME B16.9-2018 Table 6.1-7, two public tables).
    assert "run_centre_to_end 228.6 +85.6 outside: 83.6 mm above the most, 145 mm" in out
    assert "od 170 +1.7 inside, 0.7 mm from the limit" in out


def test_figures_from_memory_and_recommendations_are_marked() -> None:
    result = run("--fitting", "tee", "--nps", "30", "--second", "24")
    out = flat(result.stdout)
    assert "[1] from memory" in out
    assert "M (recommended" in out
    answer = as_json("--fitting", "tee", "--nps", "30", "--second", "24")
    rows = {each["name"]: each for each in answer["dimensions"]}
    assert rows["outlet_centre_to_end"]["from_memory"]
    assert not rows["outlet_centre_to_end"]["required"]
    assert not rows["off_angle"]["from_memory"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--fitting", "90 LR elbow", "--nps", "7"), "NPS 7 is not listed in ASME B16.9-2018"),
        (("--fitting", "90 LR elbow", "--nps", "DN160"), "--nps: DN160 is not listed"),
        (("--fitting", "90 LR elbow", "--nps", "six"), "--nps: 'six' is not a nominal pipe size"),
        (("--fitting", "elbow", "--nps", "6"), "--fitting: 'elbow' must say one bend radius"),
        (("--fitting", "flange", "--nps", "6"), "--fitting: 'flange' is not one of the forms"),
        (("--fitting", "tee", "--nps", "4", "--second", "6"), "--second: 6 must be smaller than 4"),
        (
            ("--fitting", "90 LR elbow", "--nps", "6", "--second", "4"),
            "--second: a 90° long-radius elbow has one size",
        ),
        (
            ("--fitting", "tee", "--nps", "8", "--second", "4", "--schedule", "30"),
            "--second-schedule: NPS 4 schedule 30 is not listed",
        ),
        (("--fitting", "tee", "--nps", "6", "--wall", "7.11"), "--wall: '7.11' has no unit"),
        (("--fitting", "tee", "--nps", "6", "--wall", "-7mm"), "--wall: '-7mm' is no wall"),
        (("--fitting", "tee", "--nps", "6", "--wall", "90mm"), "--wall: a wall of 90 mm leaves no"),
        (
            ("--fitting", "tee", "--nps", "6", "--measured", "od=168.3"),
            "--measured od: '168.3' has no unit",
        ),
        (("--fitting", "tee", "--nps", "6", "--measured", "od"), "od: is not NAME=LENGTH"),
        (
            ("--fitting", "tee", "--nps", "6", "--measured", "outlet_centre_to_edn=1in"),
            "outlet_centre_to_edn: is no dimension of this fitting (did you mean outlet_centre_",
        ),
        (
            ("--fitting", "tee", "--nps", "6", "--measured", "od=-168.3mm"),
            "--measured: od: -168.3 mm is negative",
        ),
        (("--fitting", "tee", "--nps", "6", "--measured", "wall=7mm"), "give the schedule or the"),
    ],
)
def test_wrong_usage_names_the_field_and_what_to_do(arguments: tuple[str, ...], said: str) -> None:
    result = run(*arguments)
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stdout == ""


def test_help_says_the_job_then_examples_then_options() -> None:
    result = run("--help")
    out = flat(result.stdout)
    assert out.index("Look up what ASME B16.9 prints") < out.index("Examples:")
    assert out.index("Examples:") < out.index("--fitting NAME")
    assert flat(ADVISORY_MEASURED) in out


def test_json_keeps_advice_on_standard_error_too() -> None:
    result = run("--fitting", "tee", "--nps", "6", "--json")
    assert ADVISORY_MEASURED in result.stderr
    assert "\x1b" not in result.stdout
