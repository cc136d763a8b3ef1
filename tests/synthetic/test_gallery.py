"""Pictures with their truth as files: complete, repeatable, and never over what is there."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from fittings.words import Orientation, Part
from synthetic import gallery
from synthetic.render import VISIBLE_CONTRAST, VISIBLE_SHARE
from synthetic.sample import sample_scene
from synthetic.scene import GENERATOR_VERSION, scene_from_json

WIDTH, HEIGHT, COUNT = 96, 64, 4


@pytest.fixture(autouse=True)
def on_numpy(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing to compile, and the same bytes wherever the tests run."""
    monkeypatch.setattr(gallery, "native_stages", lambda: None)


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("gallery") / "pictures"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(gallery, "native_stages", lambda: None)
        gallery.write_gallery(7, COUNT, out, WIDTH, HEIGHT)
    return out


@pytest.fixture
def folder(written: Path, tmp_path: Path) -> Path:
    """A copy of its own for each test: some write into it."""
    return shutil.copytree(written, tmp_path / "pictures")


def lines_of(folder: Path) -> list[dict]:
    return [json.loads(line) for line in (folder / gallery.MANIFEST).read_text().splitlines()]


def test_each_picture_has_its_truth_and_recipe(folder: Path) -> None:
    lines = lines_of(folder)
    assert [line["file"] for line in lines] == [f"{i:04d}.png" for i in range(COUNT)]
    for index, line in enumerate(lines):
        stem = f"{index:04d}"
        assert (line["seed"], line["index"]) == (7, index)
        assert line["version"] == GENERATOR_VERSION
        picture = np.asarray(Image.open(folder / line["file"]))
        assert picture.shape == (HEIGHT, WIDTH, 3)
        seams = np.asarray(Image.open(folder / f"{stem}.seams.png"))
        with np.load(folder / f"{stem}.truth.npz") as truth:
            assert np.array_equal(truth["seam"], seams)
            assert truth["part"].max() <= Part.FACE.label
            for i, pixels in enumerate(line["pixels"], start=1):
                assert (truth["piece"] == i).sum() == pixels
            for seam in line["seams"]:
                here = truth["slot"] == seam["slot"]
                assert here.sum() == seam["pixels"]
                label = Orientation(seam["orientation"]).label
                assert set(np.unique(truth["seam"][here])) <= {label}
        saved = json.loads((folder / f"{stem}.scene.json").read_text(encoding="utf-8"))
        scene = scene_from_json(saved["scene"])
        assert scene == sample_scene(np.random.default_rng([7, index]))
        assert line["kinds"] == [piece.kind.value for piece in scene.pieces]
        assert line["constructions"] == [piece.construction.value for piece in scene.pieces]


def test_visible_follows_the_two_limits(folder: Path) -> None:
    seams = [seam for line in lines_of(folder) for seam in line["seams"]]
    assert seams
    for seam in seams:
        enough = seam["pixels"] >= VISIBLE_SHARE * WIDTH * HEIGHT
        if abs(seam["contrast"] - VISIBLE_CONTRAST) > 0.01:
            assert seam["visible"] == (enough and seam["contrast"] > VISIBLE_CONTRAST)


def test_more_pictures_change_none(folder: Path, tmp_path: Path) -> None:
    gallery.write_gallery(7, 2, tmp_path / "two", WIDTH, HEIGHT)
    for name in ("0001.png", "0001.seams.png", "0001.truth.npz", "0001.scene.json"):
        assert (tmp_path / "two" / name).read_bytes() == (folder / name).read_bytes()


def test_nothing_is_written_over_unasked(folder: Path) -> None:
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    with pytest.raises(FileExistsError, match="exists already"):
        gallery.write_gallery(8, 2, folder, WIDTH, HEIGHT)
    (folder / gallery.MANIFEST).unlink()
    with pytest.raises(FileExistsError, match="0000"):
        gallery.write_gallery(8, 2, folder, WIDTH, HEIGHT)
    (folder / gallery.MANIFEST).write_bytes(before[gallery.MANIFEST])
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    gallery.write_gallery(8, 2, folder, WIDTH, HEIGHT, force=True)
    assert [line["seed"] for line in lines_of(folder)] == [8, 8]


def test_a_saved_scene_gives_the_same_picture(folder: Path, tmp_path: Path) -> None:
    gallery.render_scene_file(folder / "0002.scene.json", tmp_path / "again")
    for name in ("0002.png", "0002.seams.png", "0002.truth.npz", "0002.scene.json"):
        assert (tmp_path / "again" / name).read_bytes() == (folder / name).read_bytes()
    assert lines_of(tmp_path / "again") == [lines_of(folder)[2]]


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"version": "0"}, "version"),
        ({"weather": 1.0}, "weather"),
        ({"noise_seed": 999.0}, "noise_seed"),
    ],
)
def test_a_scene_of_another_make_is_refused_by_name(
    folder: Path, tmp_path: Path, change: dict, word: str
) -> None:
    path = folder / "0000.scene.json"
    saved = json.loads(path.read_text(encoding="utf-8"))
    saved["scene"] |= change
    path.write_text(json.dumps(saved), encoding="utf-8")
    with pytest.raises(ValueError, match=word) as caught:
        gallery.render_scene_file(path, tmp_path / "again")
    assert "0000.scene.json" in str(caught.value)


def test_what_is_no_scene_is_refused(tmp_path: Path) -> None:
    for number, text in enumerate(["{}", "[]", "not json", '{"scene": {}, "width": 64}']):
        path = tmp_path / f"{number}.scene.json"
        path.write_text(text, encoding="utf-8")
        with pytest.raises(ValueError, match=path.name):
            gallery.render_scene_file(path, tmp_path / "out")


def test_progress_counts_up(tmp_path: Path) -> None:
    seen: list[tuple[int, str]] = []
    gallery.write_gallery(
        1, 2, tmp_path / "p", 64, 64, lambda done, name: seen.append((done, name))
    )
    assert seen == [(0, "0000"), (1, "0001"), (2, "")]
