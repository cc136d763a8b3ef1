"""`seamtriage piece`: what stands on which stream, what is written, and its exit codes."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import typer
from typer.testing import CliRunner

from fittings.words import ADVISORY
from tests.stand_in import encoded
from tests.vision.pieces import HEIGHT, WIDTH
from tests.vision.test_piece import reader_of
from ui import piece_command
from ui.piece_output import FILES
from vision.read import Reader

app = typer.Typer()
app.callback()(lambda: None)
piece_command.add_to(app)


@pytest.fixture(autouse=True)
def _tube(monkeypatch: pytest.MonkeyPatch) -> None:
    """A perfect network, for pictures that all show the same tube with a girth weld."""
    reader = reader_of(girth_seam_at=0.4)
    monkeypatch.setattr(Reader, "load", staticmethod(lambda: reader))


@pytest.fixture
def photos(tmp_path: Path) -> list[Path]:
    paths = []
    for number in range(2):
        rng = np.random.default_rng(number)
        pixels = rng.integers(0, 255, (2 * HEIGHT, 2 * WIDTH, 3), dtype=np.uint8)
        paths.append(tmp_path / f"photo-{number}.png")
        paths[-1].write_bytes(encoded(pixels, "PNG"))
    return paths


def run(*arguments: object):
    return CliRunner().invoke(app, ["piece", *map(str, arguments)])


def test_one_json_object_on_standard_output(photos: list[Path]) -> None:
    done = run(*photos, "--tag", "T-0042", "--json")
    assert done.exit_code == 0, done.output
    (line,) = done.stdout.splitlines()
    answer = json.loads(line)
    assert answer["piece"] == "T-0042"
    assert answer["verdict"]["reading"] == "fabrication_seam"
    assert [seam["photos"] for seam in answer["seams"]] == [["photo-0.png", "photo-1.png"]]
    assert ADVISORY in done.stderr


def test_the_table_and_the_files(photos: list[Path], tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "piece.json").write_text("kept", encoding="utf-8")
    refused = run(*photos, "--out", out)
    assert refused.exit_code == 1
    assert "exists already" in str(refused.exception)
    assert refused.stdout == ""  # said before the photos were read
    assert [path.read_text(encoding="utf-8") for path in out.iterdir()] == ["kept"]
    done = run(*photos, "--tag", "T-0042", "--out", out, "--force")
    assert done.exit_code == 0, done.output
    for word in ("T-0042: reducer", "photo-1.png", "What to photograph next", ADVISORY):
        assert word in done.stdout
    assert sorted(path.name for path in out.iterdir()) == sorted(FILES)
    assert json.loads((out / "piece.json").read_text(encoding="utf-8"))["piece"] == "T-0042"


def test_a_photo_that_cannot_be_read_leaves_the_others(photos: list[Path], tmp_path: Path) -> None:
    bad = tmp_path / "bad.jpg"
    bad.write_bytes(b"no picture")
    done = run(photos[0], bad, "--json")
    assert done.exit_code == 3
    assert "bad.jpg: is not a picture" in done.stderr
    answer = json.loads(done.stdout)
    assert answer["unread"][0]["photo"] == "bad.jpg"
    assert len(answer["photos"]) == 1
    nothing = run(bad)
    assert nothing.exit_code == 3
    assert nothing.stdout == ""
    assert "none of the photos could be read" in nothing.stderr


def test_a_file_is_no_folder(photos: list[Path]) -> None:
    done = run(photos[0], "--out", photos[1])
    assert done.exit_code == 2
    assert "not a folder" in done.output


def test_help_says_that_it_is_advisory() -> None:
    done = run("--help")
    assert done.exit_code == 0
    assert " ".join(ADVISORY.split()) in " ".join(done.output.split())
