"""The shipped weights behind every door, on the shipped samples and on bad files."""

from __future__ import annotations

import json
import re
from pathlib import Path

import cv2
import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from fittings.words import ADVISORY, Kind, Orientation, Reading
from models.weights import WEIGHTS_FOLDER
from tests.stand_in import bad_files
from ui import cards, cli, loading, shared
from ui.keys import Keys
from ui.serving import APP
from vision.read import Reader

SAMPLE = loading.SAMPLES / "piece-02.jpg"


@pytest.fixture(scope="module")
def shipped() -> Reader:
    return Reader.load()


def run_command(monkeypatch: pytest.MonkeyPatch, *words: object) -> int:
    monkeypatch.setattr("sys.argv", ["seamtriage", *map(str, words)])
    with pytest.raises(SystemExit) as left:
        cli.main()
    return int(left.value.code or 0)


def test_three_doors_give_one_reading_with_the_shipped_weights(
    shipped: Reader, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    by_library = shipped.read_bytes(SAMPLE.read_bytes(), SAMPLE.name).reading
    assert by_library is not None
    assert run_command(monkeypatch, "screen", "--json", SAMPLE) == 0
    by_command = json.loads(capsys.readouterr().out)
    shared.reader.clear()
    shared._kept.clear()
    page = AppTest.from_file(str(APP), default_timeout=120).run()
    page.file_uploader(key=Keys.UPLOAD).set_value(
        [(SAMPLE.name, SAMPLE.read_bytes(), "image/jpeg")]
    )
    page.button(key=Keys.READ).click().run()
    listed: list[cards.Card] = page.session_state[Keys.CARDS]
    answers = [by_library.as_json(), by_command, listed[0].answer.as_json()]
    for answer in answers:
        answer["photo"] = Path(answer["photo"]).name
        del answer["seconds"]
    assert answers[0] == answers[1] == answers[2]


def test_the_samples_are_read_and_written_as_the_contract_says(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert run_command(monkeypatch, "screen", loading.SAMPLES, "--json", "--out", tmp_path) == 0
    out, err = capsys.readouterr()
    answers = [json.loads(line) for line in out.splitlines()]
    assert len(answers) == 12
    assert ADVISORY in err
    for answer in answers:
        stem = Path(answer["photo"]).stem
        assert answer["fitting"]["kind"] in {k.value for k in Kind}
        assert answer["verdict"]["reading"] in {r.value for r in Reading}
        assert 0.0 <= answer["verdict"]["fabricated_probability"] <= 1.0
        assert answer["verdict"]["reasons"]
        assert len(answer["model"]["sha256"]) == 64
        assert {s["orientation"] for s in answer["seams"]} <= {o.value for o in Orientation}
        mask = cv2.imread(str(tmp_path / f"{stem}.seams.png"), cv2.IMREAD_UNCHANGED)
        assert mask.shape == (answer["height"], answer["width"])
        assert set(np.unique(mask).tolist()) <= {0, 1, 2, 3}
        marked = cv2.imread(str(tmp_path / f"{stem}.overlay.jpg"))
        assert marked.shape[:2] == mask.shape


def test_bad_files_are_named_and_the_others_are_read(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    for name, (data, _) in bad_files().items():
        (tmp_path / name).write_bytes(data)
    (tmp_path / "good.jpg").write_bytes(SAMPLE.read_bytes())
    assert run_command(monkeypatch, "screen", "--json", *sorted(tmp_path.iterdir())) == 3
    answers = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert len(answers) == len(bad_files()) + 1
    assert sum("verdict" in answer for answer in answers) == 1
    for answer in answers:
        if "error" in answer:
            assert answer["error"]["kind"] == bad_files()[Path(answer["photo"]).name][1]


def test_a_plain_surface_is_no_fitting(shipped: Reader) -> None:
    grey = np.full((480, 640, 3), 128, np.uint8)
    done, data = cv2.imencode(".png", grey)
    assert done
    reading = shipped.read_bytes(data.tobytes(), "wall.png").reading
    assert reading is not None
    assert (reading.kind, reading.verdict.reading) == (Kind.NONE, Reading.UNCLEAR)
    assert not reading.quality.usable


def test_pieces_beside_each_other_are_said_to_be_several(shipped: Reader) -> None:
    """A sample set four by four in one picture: many outlines, many open ends."""
    one = cv2.resize(cv2.imread(str(SAMPLE)), (320, 240), interpolation=cv2.INTER_AREA)
    done, data = cv2.imencode(".png", np.tile(one, (4, 4, 1)))
    assert done
    reading = shipped.read_bytes(data.tobytes(), "stack.png").reading
    assert reading is not None
    assert reading.kind is Kind.NONE or any("Several pieces" in p for p in reading.quality.problems)


def test_the_weights_carry_their_measured_figures_and_no_path_of_a_machine() -> None:
    """The page of limits shows the figures; calibrating new weights once left them out."""
    card = loading.model_card()
    words = (WEIGHTS_FOLDER / "seamtriage-1.md").read_text(encoding="utf-8")
    assert words.startswith(f"# Model card: {card['name']}, version {card['version']}\n")
    figures = loading.exam_figures()
    assert any(row["Measured"].startswith("visible fabrication seams found") for row in figures)
    for row in figures:
        for share in re.findall(r"\[\d+, \d+\]", row["Figure"]):
            assert share in words, row
    assert not re.search(r'"/[a-z]+/', json.dumps(card))
