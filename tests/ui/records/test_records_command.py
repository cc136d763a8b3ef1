"""The commands: data on stdout, the rest on stderr, and exit codes as everywhere."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner, Result

from fittings.words import ADVISORY
from tests.ui.records.deliveries import Delivery
from ui.records import RecordsError
from ui.records_command import add_to


def run(*arguments: str) -> Result:
    app = typer.Typer(rich_markup_mode=None)
    add_to(app)
    return CliRunner().invoke(app, list(arguments))


@pytest.fixture
def where(local_filled: Delivery) -> list[str]:
    place = local_filled.records.place
    return ["--records", str(place.file), "--photos", str(place.photos)]


def test_lots_are_listed(local_filled: Delivery, where: list[str]) -> None:
    result = run("lots", *where)
    assert result.exit_code == 0
    row = next(line for line in result.stdout.splitlines() if "order 7" in line)
    assert row.replace("│", " ").split()[-8:] == ["2", "4", "1", "1", "1", "0", "0", "1"]
    assert ADVISORY in result.stdout
    result = run("lots", *where, "--json")
    (found,) = map(json.loads, result.stdout.splitlines())
    assert found["name"] == local_filled.lot.name
    assert (found["pieces"], found["hold"], found["undecided"]) == (2, 1, 1)
    assert ADVISORY in result.stderr


def test_the_records_can_be_named_by_a_setting(
    local_filled: Delivery, where: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SEAMTRIAGE_RECORDS", where[1])
    assert local_filled.lot.name in run("lots", "--json").stdout


def test_verify_tells_what_was_changed(local_filled: Delivery, where: list[str]) -> None:
    result = run("verify", *where)
    assert result.exit_code == 0
    assert "Nothing was found changed" in result.stdout
    seal = result.stdout.split()[-1]
    head = local_filled.records.entries(local_filled.lot.uid)[-1].hash
    assert run("verify", *where, "--noted", seal, "--noted", head.upper()).exit_code == 0
    result = run("verify", *where, "--noted", "0" * 64)
    assert result.exit_code == 1
    assert f"no entry has the hash or seal that was noted: {'0' * 64}" in result.stdout
    local_filled.records.store.path(local_filled.photos[0].sha256).write_bytes(b"x")
    result = run("verify", *where, "--json")
    assert result.exit_code == 1
    (problem,) = json.loads(result.stdout)["problems"]
    assert problem["lot"] == local_filled.lot.name
    assert "is altered" in problem["what"]


@pytest.mark.parametrize("noted", ["812", "g" * 64, "0" * 65])
def test_a_seal_that_can_be_none_is_wrong_usage(where: list[str], noted: str) -> None:
    assert run("verify", *where, "--noted", noted).exit_code == 2


def test_the_track_record_is_told(where: list[str]) -> None:
    result = run("track-record", *where)
    assert result.exit_code == 0
    told = " ".join(result.stdout.split())
    assert "North yard" in told
    assert "painted" in told
    assert ADVISORY in told
    found = [json.loads(line) for line in run("track-record", *where, "--json").stdout.splitlines()]
    assert [(each["by"], each["group"]) for each in found] == [
        ("all", "all"),
        ("yard", "North yard"),
        ("kind", "tee"),
        ("finish", "painted"),
    ]
    assert found[0]["right"] == {
        "count": 1,
        "total": 1,
        "share": 1.0,
        "low": 0.2065,  # 1 / (1 + z²) with z = 1.95996 (Wilson 1927)
        "high": 1.0,
    }


def test_a_lot_goes_out_and_comes_in(
    local_filled: Delivery, where: list[str], tmp_path: Path
) -> None:
    out, elsewhere = tmp_path / "out.zip", tmp_path / "elsewhere" / "r.sqlite"
    result = run("export-lot", local_filled.lot.name, "--out", str(out), *where)
    assert result.exit_code == 0
    assert "with whatever place and time" in result.stderr
    assert run("export-lot", local_filled.lot.uid, "--out", str(out), *where).exit_code == 1
    again = run("export-lot", local_filled.lot.uid, "--out", str(out), "--force", "--json", *where)
    made = json.loads(again.stdout)
    got = json.loads(run("import-lot", str(out), "--records", str(elsewhere), "--json").stdout)
    assert got["head"] == made["head"]
    assert got["entries"] == got["new_entries"] == made["entries"]
    assert "0 of" in run("import-lot", str(out), "--records", str(elsewhere)).stdout
    assert run("verify", "--records", str(elsewhere)).exit_code == 0


@pytest.mark.parametrize("command", ["lots", "verify", "track-record"])
def test_a_mistyped_place_is_an_error_and_makes_nothing(command: str, tmp_path: Path) -> None:
    result = run(command, "--records", str(tmp_path / "typo.sqlite"))
    assert isinstance(result.exception, RecordsError)
    assert result.exit_code == 1
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("command", ["lots", "verify", "track-record", "export-lot", "import-lot"])
def test_every_command_has_help_with_an_example(command: str) -> None:
    result = run(command, "--help")
    assert result.exit_code == 0
    told = " ".join(result.stdout.split())
    assert f"seamtriage {command}" in told
    assert "Exit codes" in told
