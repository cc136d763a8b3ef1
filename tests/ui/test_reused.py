"""One picture handed in for two pieces of a lot is pointed out: in the report, by `receive`, on the
shipment's page."""

from __future__ import annotations

import io
import json
import shutil
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import typer
from PIL import Image, ImageOps
from pypdf import PdfReader
from typer.testing import CliRunner, Result

from tests.stand_in import StandInReader
from ui import import_command
from ui.inspecting import shipment
from ui.records import NotRecorded, Records, open_records
from ui.reports import as_pdf, gather, lot_report
from ui.reused import WHAT_IT_SAYS, between_pieces

SAMPLES = Path(__file__).parents[2] / "ui" / "samples"
BY = "A. Inspector"


@pytest.fixture
def delivery(tmp_path: Path) -> Path:
    """Three pieces, one photo each and a copy of the first: mirrored and cropped for the second,
    as it is for the third; and for the first itself once more, which is nothing between pieces."""
    photos = {"P-1": 1, "P-2": 3, "P-3": 5}
    for tag, number in photos.items():
        (tmp_path / "in" / tag).mkdir(parents=True)
        shutil.copy(SAMPLES / f"piece-{number:02d}.jpg", tmp_path / "in" / tag / "left.jpg")
    first = tmp_path / "in" / "P-1" / "left.jpg"
    shutil.copy(first, tmp_path / "in" / "P-3" / "right.jpg")
    with Image.open(first) as photo:
        copy = ImageOps.mirror(photo.crop((150, 100, 1150, 850))).resize((700, 525))
        copy.save(tmp_path / "in" / "P-2" / "right.jpg", quality=60)
        photo.save(tmp_path / "in" / "P-1" / "again.jpg", quality=50)
    return tmp_path / "in"


@pytest.fixture
def receive(
    delivery: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    reader: StandInReader,  # noqa: ARG001
    quick_drawings: None,  # noqa: ARG001
) -> Callable[[], Result]:
    """`receive --json` of the delivery, as often as asked."""
    monkeypatch.setenv("SEAMTRIAGE_RECORDS", str(tmp_path / "kept" / "records.sqlite"))
    app = typer.Typer()
    import_command.add_to(app)
    asked = ["Delivery 3", str(delivery), "--by", BY, "--new-lot", "--new-pieces", "--json"]

    def run() -> Result:
        done = CliRunner().invoke(app, asked)
        assert done.exit_code == 0, done.output
        return done

    return run


@pytest.fixture
def records(receive: Callable[[], Result]) -> Iterator[Records]:
    receive()
    with open_records() as opened:
        yield opened


def test_receiving_points_out_each_pair(receive: Callable[[], Result]) -> None:
    """Both files of the first piece against the copy in each other piece, and those two copies;
    not the first's own two, of which its reading together tells."""
    done = receive()
    assert WHAT_IT_SAYS in done.stderr
    assert "reused" not in receive().stdout, "told once, when it came"
    told = [json.loads(line) for line in done.stdout.splitlines()]
    found = [each["reused"] for each in told if "reused" in each]
    between = Counter(tuple(sorted((pair["piece"], pair["and_piece"]))) for pair in found)
    assert between == {("P-1", "P-2"): 2, ("P-1", "P-3"): 2, ("P-2", "P-3"): 1}
    (same,) = [pair for pair in found if pair["same_file"]]
    assert {same["piece"], same["and_piece"]} == {"P-1", "P-3"}
    mirrored = [pair for pair in found if pair["mirrored"]]
    assert all("P-2" in (pair["piece"], pair["and_piece"]) for pair in mirrored)
    assert len(mirrored) == 3


def test_the_report_and_the_page_say_the_same(records: Records) -> None:
    lot = records.lot("Delivery 3").uid
    done: list[int] = []
    pairs = shipment.handed_in_twice(records, lot, lambda count, _name: done.append(count))
    assert done == list(range(6))
    assert len(pairs) == 5
    data = as_pdf(lot_report(gather(records, lot), records.store.read))
    said = "".join("".join(p.extract_text().split()) for p in PdfReader(io.BytesIO(data)).pages)
    assert "Onepicturefortwopieces" in said
    for pair in pairs:
        assert "".join(pair.split()) in said, pair


def test_a_lost_photo_costs_no_report(records: Records) -> None:
    pieces = gather(records, records.lot("Delivery 3").uid).pieces
    assert len(between_pieces(pieces, records.store.read)) == 5

    def lost(sha256: str) -> bytes:
        raise NotRecorded(f"{sha256} is gone")

    assert between_pieces(pieces, lost) == []
