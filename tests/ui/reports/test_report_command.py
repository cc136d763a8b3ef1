from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
import typer
from pypdf import PdfReader
from typer.testing import CliRunner

from fittings.words import ADVISORY
from tests.ui.reports import a_lot
from ui import report_command

app = typer.Typer()
report_command.add_to(app)


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Runs a command on the recorded lot, in a folder of its own."""
    with a_lot.open_at(tmp_path) as records:
        a_lot.fill(records)
    monkeypatch.setenv("SEAMTRIAGE_RECORDS", str(tmp_path / "records.sqlite"))
    monkeypatch.chdir(tmp_path)
    return lambda *words: CliRunner().invoke(app, list(words))


def test_report_writes_a_pdf_and_never_over_a_file(run, tmp_path: Path) -> None:
    done = run("report", a_lot.LOT, "--out", "out/lot.pdf")
    assert done.exit_code == 0, done.output
    assert "3 pieces and 5 photos" in done.stdout
    assert ADVISORY in done.stdout
    data = (tmp_path / "out" / "lot.pdf").read_bytes()
    assert len(PdfReader(io.BytesIO(data)).pages) >= 4
    again = run("report", a_lot.LOT, "--out", "out/lot.pdf")
    assert again.exit_code == 1
    assert "--force" in str(again.exception)
    forced = run("report", a_lot.LOT, "--out", "out/lot.pdf", "--force", "--json")
    facts = json.loads(forced.stdout)
    assert (facts["pieces"], facts["photos"], len(facts["head"])) == (3, 5, 64)
    assert (tmp_path / "out" / "lot.pdf").read_bytes() == data
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["lot.pdf"]


def test_request_and_notice_print_text_or_write_a_pdf(run, tmp_path: Path) -> None:
    asked = run("request", a_lot.LOT)
    assert asked.stdout.startswith("Request for photographs")
    assert asked.stdout.endswith("required.\n")
    lines = [json.loads(line) for line in run("request", a_lot.LOT, "--json").stdout.splitlines()]
    assert [line["piece"] for line in lines] == ["P-07", "=T-1", "P-09"]
    assert run("notice", a_lot.LOT, "P-07").stdout.startswith("Draft of a notice")
    assert run("notice", a_lot.LOT, "P-07", "--out", "n.pdf").exit_code == 0
    assert (tmp_path / "n.pdf").read_bytes().startswith(b"%PDF")
    assert run("request", a_lot.LOT, "--out", "r.txt").stdout == ""
    assert (tmp_path / "r.txt").read_text(encoding="utf-8") == asked.stdout


def test_a_piece_or_lot_that_is_not_there_is_named_with_those_that_are(run) -> None:
    done = run("notice", a_lot.LOT, "P-1")
    assert done.exit_code == 2
    assert "P-07" in done.stderr
    assert "Delivery 3" in str(run("report", "Delivery", "--out", "x.pdf").exception)


def test_readings_are_printed_or_written(run, tmp_path: Path) -> None:
    printed = run("readings", a_lot.LOT)
    assert printed.stdout.startswith("lot,yard,piece,")
    assert ADVISORY in printed.stderr
    lines = run("readings", a_lot.LOT, "--json").stdout.splitlines()
    assert len([json.loads(line) for line in lines]) == 5
    run("readings", a_lot.LOT, "--out", "r.csv")
    data = (tmp_path / "r.csv").read_bytes()
    assert data.startswith(b"\xef\xbb\xbf")  # UTF-8 mark, without which spreadsheets guess
    assert data.decode("utf-8-sig").splitlines() == printed.stdout.splitlines()
    run("readings", a_lot.LOT, "--out", "r.jsonl")
    assert (tmp_path / "r.jsonl").read_text(encoding="utf-8").splitlines() == lines
