"""Pictures of other things gathered for training: what is taken, left out and named."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from models.gather_photographs import LONG_SIDE_PX, main
from models.photographs import list_photographs, sample_photograph


@pytest.fixture
def source(tmp_path: Path) -> Path:
    """Two pictures to take (one with a hole), a small one, a flat one, a spoilt one, a text."""
    folder = tmp_path / "things"
    (folder / "deeper").mkdir(parents=True)
    ramp = np.linspace(0, 255, 900, dtype=np.uint8)[None, :, None].repeat(600, 0).repeat(3, 2)
    Image.fromarray(ramp).save(folder / "wide.png")
    hole = np.concatenate([ramp, np.full((600, 900, 1), 255, np.uint8)], 2)
    hole[100:300, 200:500, 3] = 0
    Image.fromarray(hole).save(folder / "deeper" / "hole.png")
    Image.fromarray(ramp[:100]).save(folder / "small.png")
    Image.fromarray(np.full_like(ramp, 90)).save(folder / "flat.png")
    (folder / "spoilt.jpg").write_bytes(b"\xff\xd8\xff spoilt")
    (folder / "notes.txt").write_text("no picture")
    return folder


def run(source: Path, out: Path, *options: str) -> int:
    return main([str(source), "--out", str(out), *options])


def test_what_is_taken_is_small_and_can_be_learnt_from(
    source: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    assert run(source, out, "--collages", "3") == 0
    files = list_photographs(out)
    assert [f.name.split("-")[0] for f in files] == ["00", "00", "collage", "collage", "collage"]
    for file in files:
        with Image.open(file) as picture:
            assert picture.mode == "RGB"
            assert max(picture.size) == LONG_SIDE_PX
    part = sample_photograph(np.random.default_rng(0), files, 48, 64)
    assert part.shape == (48, 64, 3)
    told = capsys.readouterr().out
    assert "things: 2 of 5" in told
    assert "left out" in told
    assert "spoilt.jpg" in told
    assert "none may show a butt-welding fitting" in told


def test_a_hole_is_filled_with_one_colour(source: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    run(source / "deeper", out, "--collages", "0")
    (file,) = list_photographs(out)
    with Image.open(file) as picture:
        inner = np.asarray(picture, float)[80:150, 140:260]
    assert inner.std((0, 1)).max() < 4.0  # JPEG's own ripple


def test_the_same_seed_draws_the_same_and_no_more_than_asked(source: Path, tmp_path: Path) -> None:
    for name in ("one", "two"):
        run(source, tmp_path / name, "--most", "1", "--collages", "2", "--seed", "5")
    one, two = (list_photographs(tmp_path / name) for name in ("one", "two"))
    assert len(one) == 3
    assert [f.read_bytes() for f in one] == [f.read_bytes() for f in two]


def test_a_source_without_a_picture_is_named(
    source: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    empty = tmp_path / "empty"
    empty.mkdir()
    assert run(empty, tmp_path / "out") == 1
    assert "empty" in capsys.readouterr().err
    for name in ("wide.png", "deeper/hole.png"):
        (source / name).unlink()
    assert run(source, tmp_path / "out") == 1
    assert "things" in capsys.readouterr().err


def test_what_is_in_a_folder_already_is_left_as_it_is(
    source: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "00-things-0000.jpg").write_bytes(b"mine")
    with pytest.raises(SystemExit):
        run(source, out)
    assert [(f.name, f.read_bytes()) for f in out.iterdir()] == [("00-things-0000.jpg", b"mine")]
    assert "--out" in capsys.readouterr().err
