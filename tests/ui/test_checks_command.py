"""`seamtriage checks` as a person and as a script would use it."""

from __future__ import annotations

import json
from typing import Any

import pytest
import typer
from click.testing import Result
from typer.testing import CliRunner

from fittings.checks import CAUTION
from fittings.words import ADVISORY
from ui.checks_command import add_to

KEYS = {
    *("order", "key", "check", "fitting", "construction", "reading", "material", "effort"),
    *("effort_in_words", "how", "where", "suspect_line", "shows_formed", "shows_fabricated"),
    *("cannot_tell", "figures", "cautions", "source", "from_memory", "common_practice"),
    *("how_sure", "weld_against_the_order", "advisory"),
}


def run(*arguments: str) -> Result:
    app = typer.Typer(rich_markup_mode=None)
    app.callback()(lambda: None)
    add_to(app)
    return CliRunner().invoke(app, ["checks", *arguments])


def records(*arguments: str) -> list[dict[str, Any]]:
    result = run(*arguments, "--json")
    assert result.exit_code == 0, result.output
    assert CAUTION in result.stderr
    return [json.loads(line) for line in result.stdout.splitlines()]


def flat(text: str) -> str:
    return " ".join(text.replace("│", " ").split())


def test_json_is_one_check_per_line_in_order_of_effort() -> None:
    found = records("--fitting", "tee", "--reading", "fabrication_seam", "--material", "carbon")
    assert all(set(each) == KEYS for each in found)
    assert [each["order"] for each in found] == list(range(1, len(found) + 1))
    efforts = [each["effort"] for each in found]
    assert efforts == sorted(efforts)
    keys = [each["key"] for each in found]
    assert "magnetic_particle" in keys
    assert "ferrite" not in keys
    for each in found:
        assert each["shows_formed"]
        assert each["shows_fabricated"]
        assert each["cautions"]
        assert CAUTION in each["advisory"]
        assert ADVISORY in each["advisory"]


def test_the_table_carries_outcomes_cautions_sources_and_the_words_that_defer() -> None:
    result = run("--fitting", "tee", "--reading", "no_seam_seen", "--material", "austenitic")
    assert result.exit_code == 0
    out = flat(result.stdout)
    assert "Formed piece shows" in out
    assert "Fabricated piece" in out
    assert "ferrite meter" in out
    assert "magnetic particle" not in out
    assert "Ionising radiation harms unseen" in out
    assert "acid into water" in out
    assert flat(CAUTION) in out
    assert flat(ADVISORY) in out
    assert "The suspect line: the crotch" in out
    assert result.stderr == ""


def test_the_construction_changes_what_a_weld_means() -> None:
    said = {
        word: flat(run("--fitting", "elbow", "--construction", word).stdout)
        for word in ("seamless", "welded")
    }
    assert "any weld in the body contradicts the order" in said["seamless"]
    assert "a weld along the body is what was ordered" in said["welded"]


def test_a_size_brings_figures() -> None:
    found = records("--fitting", "90 LR elbow", "--nps", "DN300", "--schedule", "STD")
    by_key = {each["key"]: each["figures"] for each in found}
    assert len(by_key["outline"]) == 4
    assert "51.0 mm beyond the arc" in by_key["outline"][1]
    assert "least 8.339 mm" in by_key["macro_etch"][0]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--fitting", "flange"), "--fitting: 'flange' names no fitting; write elbow, tee or"),
        (("--fitting", "elbwo"), "did you mean 'elbow'?"),
        (("--fitting", "tee", "--reading", "fabrication_seem"), "did you mean fabrication_seam?"),
        (("--fitting", "tee", "--material", "wood"), "write one of carbon, low-alloy, austenitic"),
        (("--fitting", "tee", "--construction", "fabricated"), "write one of seamless, welded"),
        (("--fitting", "tee", "--schedule", "40"), "--schedule: a schedule needs a size"),
        (("--fitting", "tee", "--nps", "7", "--schedule", "40"), "NPS 7 schedule 40 is not listed"),
        (("--fitting", "elbow", "--nps", "6"), "--fitting: 'elbow' must say one bend radius"),
    ],
)
def test_wrong_usage_names_the_field_and_what_to_do(arguments: tuple[str, ...], said: str) -> None:
    result = run(*arguments)
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stdout == ""


def test_help_says_the_job_the_cautions_and_two_examples() -> None:
    out = flat(run("--help").stdout)
    assert out.index("List the physical checks") < out.index("Examples:") < out.index("--fitting")
    assert flat(CAUTION) in out
    assert flat(ADVISORY) in out
