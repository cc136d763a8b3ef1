"""`seamtriage reused` as a person and as a script would use it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
import typer
from click.testing import Result
from PIL import Image, ImageOps
from typer.testing import CliRunner

from fittings.words import ADVISORY
from ui.reuse_command import add_to

SAMPLES = Path(__file__).parents[2] / "ui" / "samples"


def run(*arguments: str | Path) -> Result:
    app = typer.Typer(rich_markup_mode=None)
    app.callback()(lambda: None)
    add_to(app)
    return CliRunner().invoke(app, ["reused", *map(str, arguments)])


@pytest.fixture
def delivery(tmp_path: Path) -> Path:
    """Two pieces' folders: of the second's photos one is a mirrored crop of the first's."""
    for piece, number in (("piece-a", 1), ("piece-b", 3)):
        (tmp_path / piece).mkdir()
        shutil.copy(SAMPLES / f"piece-{number:02d}.jpg", tmp_path / piece / "left.jpg")
    with Image.open(tmp_path / "piece-a" / "left.jpg") as photo:
        copy = ImageOps.mirror(photo.crop((150, 100, 1150, 850))).resize((700, 525))
        copy.save(tmp_path / "piece-b" / "right.jpg", quality=60)
    return tmp_path


def test_a_reused_photo_is_listed_with_the_advisory(delivery: Path) -> None:
    result = run(delivery)
    assert result.exit_code == 0, result.output
    text = " ".join(result.stdout.split())
    assert "piece-a/left.jpg" in text
    assert "piece-b/right.jpg" in text
    assert "The same picture" in text
    assert "3 photos looked through; 1 pair of the same picture." in text
    assert ADVISORY in text


def test_json_lines_and_folders_with_the_same_names(delivery: Path) -> None:
    result = run(delivery / "piece-a", delivery / "piece-b", "--json")
    assert result.exit_code == 0, result.output
    (pair,) = [json.loads(line) for line in result.stdout.splitlines()]
    assert Path(pair["first"]).parts[-2:] == ("piece-a", "left.jpg")
    assert Path(pair["second"]).parts[-2:] == ("piece-b", "right.jpg")
    assert pair["mirrored"] is True
    assert pair["same_file"] is False
    assert pair["inliers"] >= 7
    assert pair["advisory"] == ADVISORY
    assert ADVISORY in result.stderr


def test_the_same_file_and_an_unreadable_one(delivery: Path) -> None:
    shutil.copy(delivery / "piece-b" / "left.jpg", delivery / "piece-b" / "again.jpg")
    (delivery / "piece-b" / "torn.jpg").write_bytes(b"\xff\xd8\xff\xe0 no more")
    result = run(delivery / "piece-b", "--json")
    assert result.exit_code == 3
    pair, error = [json.loads(line) for line in result.stdout.splitlines()]
    assert pair["same_file"] is True
    assert pair["sentence"] == "The same file, byte for byte."
    assert error["photo"] == "torn.jpg"
    assert error["error"]["kind"] == "truncated"


def test_nothing_found_and_nothing_given(delivery: Path) -> None:
    result = run(delivery / "piece-a")
    assert result.exit_code == 0
    assert "1 photo looked through; 0 pairs" in result.stdout
    assert run().exit_code == 2
    assert run(delivery / "nowhere").exit_code == 3
