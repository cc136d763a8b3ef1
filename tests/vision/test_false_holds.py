"""False holds on photographs: known counts, through the same door as a user's photos."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from scipy.stats import binomtest

from fittings.words import ADVISORY
from models.weights import WEIGHTS_FOLDER
from tests.stand_in import StandInReader, encoded, picture
from vision import false_holds
from vision.false_holds import NETWORK, OTHER, Row, Said, rows, table
from vision.read import Reader

HELD = Said(reading="fabrication_seam", kind="elbow", fabricated_probability=0.7)
TAKEN = Said(reading="unclear", kind="tee", fabricated_probability=0.4)
PASSED = Said(reading="unclear", kind="none", fabricated_probability=0.1)


def made(group: str, *said: Said, other: Said = PASSED) -> list[Row]:
    return [
        Row(group=group, photo=f"{group}-{i}.jpg", said={NETWORK: each, OTHER: other})
        for i, each in enumerate(said)
    ]


@pytest.fixture
def folders(tmp_path: Path) -> tuple[Path, Path]:
    """Tools: one photograph that the stand-in holds (red), one that it does not; yards: one that it
    does not, and a file that is no picture."""
    tools, yards = tmp_path / "tools", tmp_path / "yards"
    for folder in (tools, yards):
        folder.mkdir()
        (folder / "calm.jpg").write_bytes(encoded(picture(red=0)))
    (tools / "red.jpg").write_bytes(encoded(picture(red=200)))
    (yards / "text.jpg").write_bytes(b"Dear inspector, here are the photos.\n" * 20)
    return tools, yards


@pytest.fixture
def stand_in(monkeypatch: pytest.MonkeyPatch) -> None:
    def load(folder: Path = WEIGHTS_FOLDER) -> StandInReader:
        assert folder.is_dir()
        return StandInReader()

    monkeypatch.setattr(Reader, "load", staticmethod(load))


def test_shares_and_intervals_by_group_and_together() -> None:
    text = table([*made("tools", HELD, *[PASSED] * 19), *made("yards", *[TAKEN] * 3)], [NETWORK])
    lines = text.splitlines()
    assert lines[1].startswith("  tools: 1/20 5.0 % [")
    assert " / 1/20 5.0 % [" in lines[1]
    assert lines[2].startswith("  yards: 0/3 0.0 % [")
    assert " / 3/3 100.0 % [" in lines[2]
    # Wilson's interval as SciPy has it.
    interval = binomtest(1, 23).proportion_ci(method="wilson")
    expected = f"1/23 4.3 % [{100 * interval.low:.1f}, {100 * interval.high:.1f}]"
    assert lines[3].startswith(f"  together: {expected} / 4/23")


def test_held_photographs_are_named_likeliest_first() -> None:
    likely = Said(reading="fabrication_seam", kind="reducer", fabricated_probability=0.91)
    text = table(made("tools", HELD, PASSED, likely), [NETWORK])
    named = [line.strip() for line in text.splitlines() if ".jpg" in line]
    assert named == ["0.91 reducer: tools-2.jpg", "0.70 elbow: tools-0.jpg"]


def test_two_networks_are_set_against_each_other() -> None:
    text = table(made("tools", HELD, HELD, HELD, PASSED), [NETWORK, OTHER])
    # Three of three discordant photographs on one side: p = 2 / 2³ (McNemar, exact).
    assert text.endswith("held by network alone 3, by other alone 0; McNemar's exact test p = 0.25")


def test_what_cannot_be_read_is_named_and_left_out_of_the_counts(
    folders: tuple[Path, Path],
) -> None:
    found = list(rows(folders, {NETWORK: StandInReader()}))
    assert [(Path(row.group).name, row.photo, bool(row.said)) for row in found] == [
        ("tools", "calm.jpg", True),
        ("tools", "red.jpg", True),
        ("yards", "calm.jpg", True),
        ("yards", "text.jpg", False),
    ]
    assert "text.jpg" in found[-1].problem
    assert "together: 1/3" in table(found, [NETWORK])


@pytest.mark.usefixtures("stand_in")
def test_the_command_prints_the_table_and_keeps_the_rows(
    folders: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kept = tmp_path / "rows.jsonl"
    sources = [str(folder) for folder in folders]
    code = false_holds.main([*sources, "--against", str(tmp_path), "--json", str(kept)])
    printed = capsys.readouterr()
    assert code == 3  # one file could not be read
    assert "together: 1/3" in printed.out
    assert "network alone 0, by other alone 0" in printed.out
    assert ADVISORY in printed.err
    assert "text.jpg" in printed.err
    assert false_holds.main([*sources, "--json", str(kept)]) == 1  # nothing is written over
    assert "rows.jsonl" in capsys.readouterr().err
    written = [json.loads(line) for line in kept.read_text().splitlines()]
    assert [row["photo"] for row in written] == ["calm.jpg", "red.jpg", "calm.jpg", "text.jpg"]
    assert written[1]["said"]["network"]["reading"] == "fabrication_seam"


def test_missing_weights_and_missing_folders_are_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert false_holds.main([str(tmp_path), "--against", str(tmp_path / "nowhere")]) == 1
    assert "nowhere" in capsys.readouterr().err


@pytest.mark.usefixtures("stand_in")
def test_nothing_at_a_path_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert false_holds.main([str(tmp_path / "gone")]) == 3
    printed = capsys.readouterr()
    assert "gone" in printed.err
    assert "No photograph was read." in printed.out
