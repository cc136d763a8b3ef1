"""`seamtriage order`: tables for people, JSON lines for scripts, texts to paste, exit codes."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner, Result

from fittings.order.findings import ADVISORY_ORDER
from ui.order_command import add_to

EXAMPLE = Path(__file__).parents[2] / "ui" / "samples" / "order.csv"
LEVELS = ["contradiction", "left open", "note"]


def run(*arguments: str) -> Result:
    app = typer.Typer(
        rich_markup_mode=None, context_settings={"help_option_names": ["-h", "--help"]}
    )
    app.callback()(lambda: None)
    add_to(app)
    return CliRunner().invoke(app, ["order", *arguments])


def one_line(text: str) -> str:
    return " ".join(text.split())


def test_json_is_one_object_per_row_in_the_files_order() -> None:
    result = run(str(EXAMPLE), "--json")
    assert result.exit_code == 3
    objects = [json.loads(line) for line in result.stdout.splitlines()]
    assert [each["row"] for each in objects] == [3, 4, 5, 6, 7, 8]
    assert [each["row"] for each in objects if "error" in each] == [6, 7]
    assert objects[4]["error"]["field"] == "grade"
    assert "did you mean WPB?" in objects[4]["error"]["message"]
    first = objects[0]
    assert first["line"]["form"] == "90° long-radius elbow"
    assert first["line"]["construction"] == "seamless"
    assert first["line"]["second_nps"] is None
    assert first["line"]["wall_mm"] == 7.11
    assert [each["seam_allowed"] for each in objects if "line" in each] == [
        *("none", "contradiction", "longitudinal", "none"),
    ]
    for each in objects:
        for finding in each.get("findings", ()):
            assert set(finding) == {
                *("level", "field", "message", "source", "from_memory", "common_practice"),
            }
            assert finding["from_memory"] == ("from memory" in finding["source"])
            assert finding["common_practice"] == ("common practice" in finding["source"])
        levels = [LEVELS.index(finding["level"]) for finding in each.get("findings", ())]
        assert levels == sorted(levels)
    assert "No circumferential weld" in one_line(first["text"])
    assert first["advisory"] == ADVISORY_ORDER
    assert ADVISORY_ORDER in result.stderr
    assert "\x1b" not in result.stdout


def test_each_contradiction_of_the_example_is_found() -> None:
    objects = [json.loads(line) for line in run(str(EXAMPLE), "--json").stdout.splitlines()]
    found = {
        each["row"]: [f["field"] for f in each["findings"] if f["level"] == "contradiction"]
        for each in objects
        if "findings" in each
    }
    assert found == {
        3: [],
        4: ["construction"],
        5: ["examination"],
        8: ["start_material"],
    }


def test_the_table_shows_every_row_its_sources_and_the_advice() -> None:
    result = run(str(EXAMPLE))
    assert result.exit_code == 3
    out = one_line(result.stdout)
    assert "Row 3: 12 x 90° long-radius elbow, NPS 6, schedule 40 (7.11 mm), A234 WPB" in out
    assert "Row 6: not read. nps: NPS 7 is not listed" in out
    assert "4 lines read, 2 not read: 3 contradictions" in out
    assert "from memory" in out
    assert "common practice, no source" in out
    assert out.endswith(ADVISORY_ORDER)
    assert "\x1b" not in result.stdout
    assert result.stderr == ""


def test_the_text_alone_goes_to_standard_output() -> None:
    result = run(str(EXAMPLE), "--text")
    assert result.exit_code == 3
    assert [line for line in result.stdout.splitlines() if line.startswith("Row ")] == [
        *("Row 3", "Row 4", "Row 5", "Row 8"),
    ]
    assert "[Settle first: " in result.stdout
    assert ADVISORY_ORDER not in result.stdout
    assert ADVISORY_ORDER in result.stderr
    assert "A proposal" in result.stderr
    assert "row 7, grade: " in result.stderr


def test_a_file_without_bad_rows_is_exit_code_0(tmp_path: Path) -> None:
    path = tmp_path / "order.csv"
    path.write_text("Description,Price\nELBOW 90 LR 6in SCH 40 A234 WPB SMLS,3\n", encoding="utf-8")
    result = run(str(path), "--json")
    assert result.exit_code == 0
    assert "columns not used: Price." in result.stderr


@pytest.mark.parametrize("content", [b"", b"a,b\n1,2\n", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"])
def test_a_file_that_is_no_order_fails_with_one_clear_error(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "order.xls"
    path.write_bytes(content)
    result = run(str(path))
    assert result.exit_code == 1
    assert result.stdout == ""
    assert str(result.exception).startswith("order.xls: ")


@pytest.mark.parametrize("arguments", [(), (str(EXAMPLE), "--json", "--text"), ("x", "--wrong")])
def test_wrong_usage_is_exit_code_2(arguments: tuple[str, ...]) -> None:
    result = run(*arguments)
    assert result.exit_code == 2
    assert result.stdout == ""


@pytest.mark.parametrize("flag", ["-h", "--help"])
def test_help_gives_the_job_two_examples_and_the_columns(flag: str) -> None:
    text = run(flag).stdout
    assert text.partition("Examples:")[2].count("  seamtriage order ") >= 2
    assert ADVISORY_ORDER in one_line(text)
    for column in ("Fitting", "Size", "Schedule", "Material", "Construction", "Description"):
        assert f"    {column}" in text


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys\n"
        "import ui.order_command\n"
        "heavy = ('cv2', 'numpy', 'openpyxl', 'fittings.order.rows', 'vision.errors')\n"
        "print([name for name in heavy if name in sys.modules])"
    )
    root = Path(__file__).resolve().parents[2]
    answer = subprocess.run(
        [sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True
    )
    assert answer.stdout.strip() == "[]"
