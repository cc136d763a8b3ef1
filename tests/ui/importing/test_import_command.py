from __future__ import annotations

import json
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from fittings.words import ADVISORY
from tests.stand_in import StandInReader, encoded, picture
from ui import import_command, together
from ui.records import open_records

app = typer.Typer()
import_command.add_to(app)


@pytest.fixture
def run(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    reader: StandInReader,  # noqa: ARG001
    quick_drawings: None,  # noqa: ARG001
):
    """Runs `receive` by A. Inspector with records of its own, from a folder with two photos."""
    monkeypatch.setenv("SEAMTRIAGE_RECORDS", str(tmp_path / "kept" / "records.sqlite"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "in").mkdir()
    # The stand-in puts a fabrication at the share of red: 11 % and 60 % here.
    for name, red in (("P-07 left.jpg", 250), ("IMG_9.jpg", 20)):
        (tmp_path / "in" / name).write_bytes(encoded(picture(96, 80, red=red)))
    return lambda *words: CliRunner().invoke(app, [*words, "--by", "A. Inspector"])


def test_photos_are_taken_in_and_told_one_by_one(run) -> None:
    done = run("Delivery 3", "in", "--new-lot", "--pattern", "{piece} left", "--new-pieces")
    assert done.exit_code == 0, done.output
    assert done.stdout.splitlines() == [
        "in/IMG_9.jpg: no piece (its name does not fit {piece} left); No seam seen (which is not "
        "the same as seamless), a fabrication put at 11 %",
        "in/P-07 left.jpg: piece P-07 (file name pattern; a piece that the lot does not have yet); "
        "Fabrication seam seen, a fabrication put at 60 %",
        "P-07, 1 photo together: Fabrication seam seen, a fabrication put at 60 %",
    ]
    assert "2 photos taken in, 0 were there already, 0 could not be read, 1 belong" in done.stderr
    assert ADVISORY in done.stderr
    again = run("Delivery 3", "in", "--json")
    objects = [json.loads(line) for line in again.stdout.splitlines()]
    assert [(each["piece"], each["was_known"]) for each in objects] == [
        (None, True),
        ("P-07", True),
    ]


def test_a_stopped_import_reads_the_pieces_that_are_left_together(
    run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "in" / "P-08 left.jpg").write_bytes(encoded(picture(96, 80, red=30)))

    def stopped(records, pieces, reader):  # type: ignore[no-untyped-def]
        yield from record_pieces(records, pieces[:1], reader)
        raise KeyboardInterrupt

    record_pieces = together.record_pieces
    monkeypatch.setattr(together, "record_pieces", stopped)
    asked = ("Delivery 3", "in", "--new-lot", "--pattern", "{piece} left", "--new-pieces")
    first = run(*asked)
    assert first.exit_code == import_command.EXIT_STOPPED
    assert "P-07, 1 photo together" in first.stdout
    monkeypatch.setattr(together, "record_pieces", record_pieces)
    again = run("Delivery 3", "--json")
    (told,) = [json.loads(line) for line in again.stdout.splitlines()]
    assert (told["piece"], told["photo"]) == ("P-08", None)
    assert told["together"]["verdict"]["reading"] == "no_seam_seen"
    assert "drawings" not in told["together"]
    assert run("Delivery 3").stdout == ""


def test_a_preview_takes_nothing_in(run) -> None:
    run("Delivery 3", "--new-lot")
    with open_records() as records:
        lot = records.lot("Delivery 3").uid
        records.add_piece(lot, "P-07", by="A. Inspector")
        records.add_piece(lot, "IMG-8", by="A. Inspector")
    done = run("Delivery 3", "in", "--preview")
    assert done.stdout.splitlines() == [
        "in/IMG_9.jpg: no piece (no tag of the lot stands in its name; the closest is IMG-8)",
        "in/P-07 left.jpg: piece P-07 (tag in the file name)",
    ]
    assert "1 of 2 photos matched to 1 piece; 1 is left for a person." in done.stderr
    assert "Pieces without a photo here: IMG-8." in done.stderr
    with open_records() as records:
        assert records.photos(lot) == ()
    run("Delivery 3", "in", "--match", "in/IMG_9.jpg=IMG-8")
    with open_records() as records:
        assert all(photo.piece is not None for photo in records.photos(lot))


def test_a_photo_that_cannot_be_read_gives_exit_code_3(run, tmp_path: Path) -> None:
    (tmp_path / "in" / "P-07 cut.jpg").write_bytes(encoded(picture())[:300])
    done = run("Delivery 3", "in", "no.zip", "--new-lot", "--json")
    assert done.exit_code == 3
    objects = {each["photo"]: each for each in map(json.loads, done.stdout.splitlines())}
    assert objects["in/P-07 cut.jpg"]["answer"]["error"]["kind"] == "truncated"
    assert objects["no.zip"]["answer"]["error"]["kind"] == "not_found"
    assert objects["in/P-07 left.jpg"]["answer"]["verdict"]["reading"] == "fabrication_seam"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("Delivery 3", "in"), "--new-lot"),
        (("Delivery 3", "in", "--new-lot", "--pattern", "*.jpg"), "{piece}"),
        (("Delivery 3", "in", "--new-lot", "--match", "a.jpg"), "PHOTO=TAG"),
        (("Delivery 3", "in", "--new-lot", "--captions", "beside"), "above or below"),
    ],
)
def test_wrong_usage_says_what_to_write(run, words: tuple[str, ...], said: str) -> None:
    done = run(*words)
    assert done.exit_code == 2
    assert said in done.stderr
