"""`seamtriage strength`: what it prints, its JSON, its plot, and what it refuses in one line."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
import typer
from rich.cells import cell_len
from typer.testing import CliRunner, Result

from fittings.strength.consequence import SCREENING
from ui.strength_command import add_to

TEE = ("--fitting", "tee", "--nps", "12", "--second", "6", "--schedule", "STD")
ELBOW = ("--fitting", "90 LR elbow", "--nps", "12", "--schedule", "STD")
LOAD = ("--pressure", "30bar", "--allowable", "137.9MPa", "--corrosion", "1.5mm")


def run(*arguments: str) -> Result:
    app = typer.Typer(
        rich_markup_mode=None, context_settings={"help_option_names": ["-h", "--help"]}
    )
    app.callback()(lambda: None)
    add_to(app)
    return CliRunner().invoke(app, ["strength", *arguments])


def plain(text: str) -> str:
    return " ".join(text.split())


def test_the_tables_show_the_sentence_the_steps_and_the_caution() -> None:
    done = run(*TEE, *LOAD)
    assert done.exit_code == 0
    assert done.stderr == ""
    said = plain(done.stdout)
    assert "2.1 times the ordered piece's, reinforcement area 95 mm² to spare" in said
    assert "Given: P 3 MPa, S 137.9 MPa, E 1, W 1, Y 0.4, c 1.5 mm, m 12.5 % mill tolerance" in said
    # A step: formula, numbers, value.
    assert "3.1·T/r2" in said
    assert "= 3.1·9.53/157.135" in said
    assert "0.188" in said
    assert "from memory" in said
    assert "B31J" in said
    assert said.endswith(SCREENING)
    assert "\x1b" not in done.stdout
    assert max(cell_len(line) for line in done.stdout.splitlines()) <= 120


def test_json_is_one_line_with_stable_names() -> None:
    done = run(*TEE, *LOAD, "--json")
    assert done.exit_code == 0
    assert plain(done.stderr) == SCREENING
    (line,) = done.stdout.splitlines()
    found = json.loads(line)
    assert set(found) == {
        *("sentence", "form", "nps", "second_nps", "schedule", "outside_mm", "wall_mm"),
        *("second_outside_mm", "second_wall_mm", "bend_radius_mm", "length_mm", "size_sources"),
        *("ordered", "ordered_by_another_rule", "fabricated", "pressure_mpa", "design"),
        *("straight_pipe", "wall", "formed_bend_wall", "notes", "advisory"),
    }
    assert found["advisory"] == SCREENING
    # The hand sum of NPS 12 x 6 STD.
    (way,) = found["fabricated"]
    assert round(way["reinforcement"]["asked_mm2"], 1) == 554.7
    assert round(way["reinforcement"]["spare_mm2"], 1) == 95.2
    assert round(way["times_out_of_plane"], 3) == 2.126
    step = way["steps"][1]
    assert set(step) == {
        *("symbol", "meaning", "formula", "numbers", "value", "unit", "source", "from_memory"),
    }
    assert (step["symbol"], step["formula"]) == ("h", "T/r2")
    assert any(each["from_memory"] for each in found["ordered_by_another_rule"]["steps"])
    assert found["design"]["mill_tolerance"] == 0.125


def test_an_elbow_without_an_allowable_gives_shares_and_no_pressures() -> None:
    found = json.loads(run(*ELBOW, "--pieces", "3", "--json").stdout)
    (way,) = found["fabricated"]
    assert way["mitre"]["pressure_mpa"] is None
    assert round(way["mitre"]["share_of_straight_pipe"], 2) == 0.47
    assert found["design"] is None
    assert found["bend_radius_mm"] == 457
    assert "with S = 1 MPa" in run(*ELBOW, "--pieces", "3").stdout


def test_each_value_carries_its_own_unit() -> None:
    metric = json.loads(run(*TEE, *LOAD, "--pad", "9.525mm", "--json").stdout)
    mixed = json.loads(
        run(
            *TEE,
            *("--pressure", "3000kPa", "--allowable", "1379 bar", "--corrosion", "0.15cm"),
            *("--pad", "3/8 in", "--json"),
        ).stdout
    )
    assert mixed == metric
    by_dn = json.loads(
        run(
            *("--fitting", "tee", "--nps", "DN300", "--second", "DN150", "--schedule", "STD"),
            *(*LOAD, "--pad", "9.525mm", "--json"),
        ).stdout
    )
    assert by_dn == metric


def test_a_reducer_says_that_there_is_no_row() -> None:
    done = run("--fitting", "reducer", "--nps", "12", "--second", "8", "--schedule", "STD")
    assert done.exit_code == 0
    assert "has no row for a segmented" in plain(done.stdout)


@pytest.mark.parametrize(
    ("arguments", "option", "said"),
    [
        (("--fitting", "tee", "--nps", "12", "--wall", "200mm"), "--wall", "outside radius"),
        (("--fitting", "tee", "--nps", "12"), "--wall", "give a schedule"),
        (("--fitting", "tee", "--nps", "7", "--schedule", "STD"), "--nps", "nearest listed: 6, 8"),
        (("--fitting", "tea", "--nps", "12"), "--fitting", "names no fitting"),
        (("--fitting", "elbow", "--nps", "12"), "--fitting", "one bend radius"),
        ((*TEE, "--wall", "9.53"), "--wall", "has no unit"),
        ((*TEE, "--second-wall", "90mm"), "--second-wall", "outside radius"),
        ((*TEE, "--pad", "3"), "--pad", "has no unit"),
        ((*TEE, "--pad", "-3mm"), "--pad", "must not be negative"),
        ((*TEE, "--pad-width", "50mm"), "--pad-width", "without a pad"),
        ((*TEE, "--pieces", "3"), "--pieces", "not cut into pieces"),
        ((*TEE, "--weld-leg", "-1mm"), "--weld-leg", "must not be negative"),
        ((*ELBOW, "--pieces", "1"), "--pieces", "at least 2 pieces"),
        ((*ELBOW, "--pad", "9mm"), "--pad", "has no outlet"),
        ((*TEE, "--pressure", "3MPa"), "--allowable", "needs an allowable"),
        ((*TEE, "--corrosion", "1mm"), "--allowable", "--corrosion means nothing"),
        ((*TEE, *LOAD, "--pressure", "-3MPa"), "--pressure", "must not be negative"),
        ((*TEE, *LOAD, "--pressure", "30"), "--pressure", "has no unit"),
        ((*TEE, *LOAD, "--pressure", "30 bara"), "--pressure", "gauge"),
        ((*TEE, *LOAD, "--pressure", "300MPa"), "--pressure", "too much"),
        ((*TEE, *LOAD, "--allowable", "0MPa"), "--allowable", "greater than 0"),
        ((*TEE, *LOAD, "--corrosion", "9mm"), "--corrosion", "leaves nothing"),
        ((*TEE, *LOAD, "--quality", "2"), "--quality", "at most 1"),
        ((*TEE, *LOAD, "--weld-factor", "0"), "--weld-factor", "above 0"),
        ((*TEE, *LOAD, "--y", "3"), "--y", "between 0 and 1"),
        ((*TEE, *LOAD, "--mill-tolerance", "120"), "--mill-tolerance", "100 % of the nominal wall"),
        ((*ELBOW, "--second-wall", "5mm"), "--second-wall", "has one size"),
        ((*TEE, "--plot", "x.gif"), "--plot", ".svg or .png"),
    ],
)
def test_wrong_usage_names_the_option_and_what_to_do(
    arguments: tuple[str, ...], option: str, said: str
) -> None:
    done = run(*arguments)
    assert done.exit_code == 2
    assert done.stdout == ""
    last = done.stderr.splitlines()[-1]
    assert last.startswith("Error: Invalid value for ")
    assert option in last
    assert said in last


def test_a_plot_is_written_and_never_over_another_unasked(tmp_path: Path) -> None:
    path = tmp_path / "tee.svg"
    done = run(*TEE, "--plot", str(path))
    assert done.exit_code == 0
    assert str(path) in done.stderr
    assert path.read_bytes().startswith(b"<?xml")
    path.write_text("mine")
    refused = run(*TEE, "--plot", str(path))
    assert refused.exit_code == 1
    assert "--force" in str(refused.exception)
    assert refused.stdout == ""
    assert path.read_text() == "mine"
    assert run(*TEE, "--plot", str(path), "--force").exit_code == 0
    assert path.stat().st_size > 1000


@pytest.mark.parametrize("flag", ["-h", "--help"])
def test_help_gives_the_job_two_examples_and_the_caution(flag: str) -> None:
    done = run(flag)
    assert done.exit_code == 0
    assert done.stdout.partition("Examples:")[2].count("  seamtriage ") >= 2
    assert SCREENING in plain(done.stdout)


def test_the_command_loads_nothing_heavy_before_it_is_asked() -> None:
    code = (
        "import sys, ui.strength_command\n"
        "print([m for m in ('matplotlib', 'numpy', 'cv2', 'streamlit') if m in sys.modules])"
    )
    root = Path(__file__).resolve().parents[2]
    answer = subprocess.run(
        [sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True
    )
    assert answer.stdout.strip() == "[]"


def test_a_wall_that_is_not_the_schedules_is_not_shown_as_it() -> None:
    """ASME B36.10M NPS 12 STD is 9.53 mm; 10 mm given beside it outranks it, and both are said."""
    odd = run(*TEE, "--wall", "10mm").stdout
    assert "10 mm wall as given (schedule STD is 9.53 mm)" in odd
    assert "Sizes: wall NPS 12: as given" in odd
    assert "schedule STD (9.53 mm wall)" in run(*TEE, "--wall", "9.53mm").stdout


def test_a_plot_for_a_folder_that_is_not_there_says_so(tmp_path: Path) -> None:
    done = run(*ELBOW, "--plot", str(tmp_path / "none" / "plot.svg"))
    assert done.exit_code == 1
    assert "is no folder. Make it" in str(done.exception)
