"""`seamtriage review` on an order file of our own scenario."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import typer
from click.testing import Result
from typer.testing import CliRunner

from fittings.receiving.review import ADVISORY_REVIEW, ReviewError, Standing
from ui.review_command import add_to, answer_entered

ORDER = """Fitting,Size,Schedule,Material,Construction,Quantity,Dimension standard
90 LR elbow,6,40,A234 WPB,seamless,12,ASME B16.9
reducing tee,12 x 8,STD,A403 WP304L-WX,,4,ASME B16.9
reducing tee,12 x 2,STD,A234 WPX,,4,ASME B16.9
90 LR elbow,8,10S,A403 CR304L,welded,1,MSS SP-43
"""


@pytest.fixture
def order(tmp_path: Path) -> Path:
    path = tmp_path / "order.csv"
    path.write_text(ORDER, encoding="utf-8")
    return path


def run(*arguments: str) -> Result:
    app = typer.Typer(rich_markup_mode=None, pretty_exceptions_enable=False)
    app.callback()(lambda: None)
    add_to(app)
    return CliRunner().invoke(app, ["review", *arguments])


def flat(text: str) -> str:
    return " ".join(text.replace("│", " ").split())


def test_one_row_as_a_checklist(order: Path) -> None:
    result = run(str(order), "--row", "3")
    assert result.exit_code == 0
    out = flat(result.stdout)
    assert "row 3: 4 x reducing tee, NPS 12 x 8, schedule STD, A403 WP304L-WX" in out
    assert "radiographs of every weld" in out
    assert "Standing: open: 15, fail: 0, pass: 0, not applicable: 0" in out
    assert "from memory: see sources" in out
    assert flat(ADVISORY_REVIEW) in out


def test_json_is_one_object_per_line_and_answers_keep_their_history(order: Path) -> None:
    result = run(
        *(str(order), "--row", "3", "--json"),
        *("--answer", "radiography=pass", "--answer", "radiography=fail:80 % of the seam"),
        *("--answer", "tensile_witnessed=not applicable:order asks for none"),
    )
    assert result.exit_code == 0
    (record,) = [json.loads(line) for line in result.stdout.splitlines()]
    items = {each["key"]: each for each in record["items"]}
    assert record["row"] == 3
    assert (record["line"]["nps"], record["line"]["second_nps"]) == ("12", "8")
    assert (items["radiography"]["standing"], items["radiography"]["note"]) == (
        *("fail",),
        "80 % of the seam",
    )
    assert [each["standing"] for each in items["radiography"]["history"]] == ["pass", "fail"]
    assert record["counts"] == {"open": 13, "fail": 1, "pass": 0, "not applicable": 1}
    assert record["summary"] == "open: 13, fail: 1, pass: 0, not applicable: 1"
    assert record["advisory"] == ADVISORY_REVIEW
    assert ADVISORY_REVIEW in result.stderr


def test_every_row_is_reviewed_and_a_bad_one_named(order: Path) -> None:
    result = run(str(order), "--json")
    assert result.exit_code == 3
    found = [json.loads(line) for line in result.stdout.splitlines()]
    assert [each["row"] for each in found] == [2, 3, 4, 5]  # the file's order
    (bad,) = [each for each in found if "error" in each]
    assert bad["row"] == 4
    assert bad["error"]["field"]
    plain = run(str(order))
    assert plain.exit_code == 3
    assert "A403 CR304L, welded" in flat(plain.stdout)  # CR is not said twice
    assert "row 4" in plain.stderr
    assert plain.stdout.count("Standing: open") == 3


def test_a_seamless_line_begins_without_papers_of_welds(order: Path) -> None:
    result = run(str(order), "--row", "2", "--not-witnessed")
    assert "open: 11, fail: 0, pass: 0, not applicable: 4" in flat(result.stdout)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--row", "99"), "has no order in row 99"),
        (("--row", "0"), "Invalid value for '--row'"),
        (("--answer", "marking=pass"), "give --row too"),
        (("--row", "3", "--answer", "marking"), "is not ITEM=STANDING"),
        (("--row", "3", "--answer", "marking=good"), "'good' is none of open, fail, pass"),
        (("--row", "3", "--answer", "marking=fail"), "say why marking is fail"),
        (("--row", "3", "--answer", "markign=pass"), "did you mean marking?"),
    ],
)
def test_wrong_usage_names_what_to_do(order: Path, arguments: tuple[str, ...], said: str) -> None:
    result = run(str(order), *arguments)
    assert result.exit_code == 2
    assert said in flat(result.stderr)
    assert result.stdout == ""


def test_answers_are_read_as_people_write_them() -> None:
    assert answer_entered("heat_number=Not-applicable: no piece here").standing is (
        Standing.NOT_APPLICABLE
    )
    answer = answer_entered("marking=fail: stamp says A:B")
    assert (answer.key, answer.standing, answer.note) == (
        "marking",
        Standing.FAIL,
        "stamp says A:B",
    )
    with pytest.raises(ReviewError, match="standing"):
        answer_entered("marking=")


def test_help_says_the_job_and_two_examples() -> None:
    out = flat(run("--help").stdout)
    assert out.index("Print what to look for") < out.index("Examples:") < out.index("--row")
    assert flat(ADVISORY_REVIEW) in out
