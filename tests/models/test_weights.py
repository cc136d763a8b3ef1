"""Weights that are missing, altered or of other words give a clear error, never a reading."""

from __future__ import annotations

import ast
import hashlib
import subprocess
import sys
from pathlib import Path

import pytest

import models.weights
from fittings.words import Orientation
from models.weights import LoadedWeights, WeightsError, channel_words, load_weights, write_card

CONTENT = bytes(range(256)) * 40
CARD = {
    "sha256": hashlib.sha256(CONTENT).hexdigest(),
    "version": "1.2.3",
    "words": channel_words(),
    "thresholds": {"fabricated": 0.5},
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "net.onnx").write_bytes(CONTENT)
    write_card(tmp_path / "net.json", CARD)
    return tmp_path


def problem(folder: Path) -> str:
    with pytest.raises(WeightsError) as raised:
        load_weights(folder, "net")
    message = str(raised.value)
    assert "expected" in message
    assert "got" in message
    assert "git checkout -- models/weights" in message
    return message


def test_whole_weights_are_loaded(folder: Path) -> None:
    loaded = load_weights(folder, "net")
    assert loaded == LoadedWeights(onnx=CONTENT, sha256=CARD["sha256"], version="1.2.3", card=CARD)


@pytest.mark.parametrize("name", ["net.onnx", "net.json"])
def test_a_missing_file_is_named(folder: Path, name: str) -> None:
    (folder / name).unlink()
    assert str(folder / name) in problem(folder)


@pytest.mark.parametrize("place", [0, 5000, len(CONTENT) - 1])
def test_one_altered_bit_is_found(folder: Path, place: int) -> None:
    altered = bytearray(CONTENT)
    altered[place] ^= 1
    (folder / "net.onnx").write_bytes(altered)
    message = problem(folder)
    assert str(folder / "net.onnx") in message
    assert CARD["sha256"] in message
    assert hashlib.sha256(altered).hexdigest() in message


def test_a_file_cut_short_is_found(folder: Path) -> None:
    (folder / "net.onnx").write_bytes(CONTENT[:-1])
    assert f"{len(CONTENT) - 1} bytes" in problem(folder)


@pytest.mark.parametrize("output", sorted(channel_words()))
def test_other_words_are_refused(folder: Path, output: str) -> None:
    words = channel_words()
    words[output] = words[output][::-1]
    write_card(folder / "net.json", CARD | {"words": words})
    message = problem(folder)
    assert str(folder / "net.json") in message
    assert repr(output) in message
    assert str(words[output]) in message


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "null", '{"sha256": 3}', '{"sha256": "0", "version": "1"}']
)
def test_an_altered_card_is_named(folder: Path, text: str) -> None:
    (folder / "net.json").write_text(text)
    assert str(folder / "net.json") in problem(folder)


def test_a_card_that_is_not_text_is_named(folder: Path) -> None:
    (folder / "net.json").write_bytes(b"\xff\xfe\x00{")
    assert str(folder / "net.json") in problem(folder)


def test_words_stand_at_their_labels() -> None:
    words = channel_words()
    assert words["seam"][0] == "none"
    for orientation in Orientation:
        assert words["seam"][orientation.label] == orientation.value


def test_reading_weights_never_loads_torch() -> None:
    code = "import sys, models.weights; sys.exit('torch' in sys.modules)"
    root = Path(models.weights.__file__).parents[1]
    assert subprocess.run([sys.executable, "-c", code], cwd=root, check=False).returncode == 0
    tree = ast.parse(Path(models.weights.__file__).read_text(encoding="utf-8"))
    froms = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert {name for name in froms if name.startswith("models")} == set()
