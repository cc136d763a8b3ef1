from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from fittings.words import Reading
from tests.stand_in import StandInReader, encoded, picture, run_maps
from ui import together
from ui.importing.incoming import Incoming
from ui.importing.matching import Matcher, Rules
from ui.importing.receiving import Receiver
from ui.inspecting import doing
from ui.records import PieceFile, Records, open_records
from ui.reports import told_together
from ui.reports.together import word_of
from ui.together import (
    ViewingReader,
    in_words,
    read_together,
    record_pieces,
    record_together,
    wanting,
)
from vision.network import Maps
from vision.sources import Found

BY = "A. Inspector"


@dataclass
class Counting:
    """The stand-in's network, and how often it was asked."""

    asked: int = field(default=0)

    def __call__(self, pixels: NDArray[np.uint8]) -> Maps:
        self.asked += 1
        return run_maps(pixels)


@pytest.fixture
def records(tmp_path: Path) -> Iterator[Records]:
    with open_records(str(tmp_path / "records.sqlite")) as opened:
        yield opened


@pytest.fixture
def network() -> Counting:
    return Counting()


@pytest.fixture
def reader(network: Counting) -> Iterator[ViewingReader]:
    with ViewingReader(StandInReader(network=network)) as viewing:  # type: ignore[arg-type]
        yield viewing


def a_photo(red: int) -> bytes:
    return encoded(picture(96, 80, red=red))


def take_in(records: Records, reader: ViewingReader, **photos: bytes) -> str:
    """Photos named `T_7_left` and so on, taken in with their pieces; the lot's uid."""
    known = records.lots()
    lot = known[0].uid if known else records.open_lot("Delivery 3", by=BY).uid
    receiver = Receiver(records, lot, reader, Matcher((), Rules(new_pieces=True)), by=BY)
    incoming = [
        Incoming(found=Found(name=f"{name[:3]}/{name}.jpg", content=data), source=name)
        for name, data in photos.items()
    ]
    assert len(list(receiver.receive(incoming))) == len(photos)
    return lot


def file_of(records: Records, lot: str, tag: str) -> PieceFile:
    piece = records.find_piece(lot, tag)
    assert piece is not None
    return records.piece_file(piece.uid)


def test_photos_are_read_once_put_together_and_recorded_with_their_drawings(
    records: Records, reader: ViewingReader, network: Counting
) -> None:
    lot = take_in(records, reader, T_7_a=a_photo(20), T_7_b=a_photo(250), T_7_c=b"no picture")
    assert network.asked == 2
    (told,) = record_pieces(records, wanting(records, lot, reader.sha256), reader)
    assert network.asked == 2, "a photo was read twice"
    assert in_words(told) == ("T_7, 3 photos together: Unclear, a fabrication put at 43 %")
    file = file_of(records, lot, "T_7")
    read = told_together(file)
    assert read is not None
    assert read.is_of_all
    assert (read.recorded.word, len(read.photos)) == (Reading.UNCLEAR, 3)
    assert [each["photo"] for each in read.recorded.facts["photos"]] == [
        "T_7/T_7_a.jpg",
        "T_7/T_7_b.jpg",
    ]
    assert read.recorded.facts["unread"][0]["photo"] == "T_7/T_7_c.jpg"
    assert "of the outside" in read.seen
    assert read.asked
    assert read.drawing_in_words.startswith("The outside of the tee unrolled flat")
    for drawing in (read.development_png, read.next_views_png):
        assert drawing is not None
        assert min(Image.open(io.BytesIO(drawing)).size) > 400


@pytest.mark.usefixtures("quick_drawings")
def test_the_same_photos_by_the_same_model_are_recorded_once(
    records: Records, reader: ViewingReader, network: Counting
) -> None:
    lot = take_in(records, reader, T_7_a=a_photo(20))
    first = record_together(records, file_of(records, lot, "T_7"), reader)
    before, asked = records.entries(lot), network.asked
    assert wanting(records, lot, reader.sha256) == ()
    assert record_together(records, file_of(records, lot, "T_7"), reader) == first
    assert (records.entries(lot), network.asked) == (before, asked)
    take_in(records, reader, T_7_b=a_photo(30))
    second = record_together(records, file_of(records, lot, "T_7"), reader)
    assert second is not None
    assert second != first
    newer = replace(reader.reader, sha256="1" * 64)
    with ViewingReader(newer) as other:
        assert len(wanting(records, lot, other.sha256)) == 1
        record_together(records, file_of(records, lot, "T_7"), other)
    assert len(file_of(records, lot, "T_7").piece_readings) == 3


@pytest.mark.usefixtures("quick_drawings")
def test_a_stop_between_two_pieces_costs_neither(records: Records, reader: ViewingReader) -> None:
    lot = take_in(records, reader, T_1_a=a_photo(20), T_2_a=a_photo(20), T_3_a=a_photo(20))
    pieces = record_pieces(records, wanting(records, lot, reader.sha256), reader)
    assert next(pieces).tag == "T_1"
    del pieces
    with ViewingReader(reader.reader) as again:  # what was kept of the photos is gone
        left = wanting(records, lot, again.sha256)
        assert [told.tag for told in record_pieces(records, left, again)] == ["T_2", "T_3"]
    for tag in ("T_1", "T_2", "T_3"):
        assert len(file_of(records, lot, tag).piece_readings) == 1


@pytest.mark.usefixtures("quick_drawings")
def test_a_lost_photo_is_named_and_the_others_still_speak_once(
    records: Records, reader: ViewingReader
) -> None:
    lot = take_in(records, reader, T_7_a=a_photo(20), T_7_b=a_photo(250))
    file = file_of(records, lot, "T_7")
    records.store.path(file.photos[1].sha256).unlink()
    recorded = record_together(records, file, reader)
    assert recorded is not None
    assert recorded.facts["unread"][0]["error"]["kind"] == "not_kept"
    assert recorded.word is Reading.NO_SEAM_SEEN
    assert wanting(records, lot, reader.sha256), "it may be brought back"
    again = record_together(records, file_of(records, lot, "T_7"), reader)
    assert again == recorded


def test_without_a_readable_photo_nothing_is_recorded(
    records: Records, reader: ViewingReader
) -> None:
    lot = take_in(records, reader, T_7_a=b"no picture")
    file = file_of(records, lot, "T_7")
    assert read_together(records, file, reader) is None
    said = doing.read_together(records, file, reader, lambda _done, _name: None)
    assert (said.done, "none of them could be read" in said.text) == (False, True)
    assert file_of(records, lot, "T_7").piece_readings == ()


@pytest.mark.usefixtures("quick_drawings")
def test_a_photo_that_nobody_had_read_has_its_own_reading_too(
    records: Records, reader: ViewingReader
) -> None:
    lot = take_in(records, reader, T_7_a=a_photo(20))
    piece = file_of(records, lot, "T_7").piece.uid
    placed = records.add_photo(lot, a_photo(250), "late.jpg", piece=piece, by=BY)
    record_together(records, records.piece_file(piece), reader)
    assert records.unread_photos(lot, reader.sha256) == ()
    (own,) = records.readings_of_photo(placed.uid)
    assert own.reading is not None
    assert own.reading.verdict.reading is Reading.FABRICATION_SEAM


@pytest.mark.usefixtures("quick_drawings")
def test_a_more_suspect_photo_that_came_later_is_not_hidden(
    records: Records, reader: ViewingReader
) -> None:
    lot = take_in(records, reader, T_7_a=a_photo(20))
    record_together(records, file_of(records, lot, "T_7"), reader)
    assert records.piece_list(lot)[0].word is Reading.NO_SEAM_SEEN
    take_in(records, reader, T_7_b=a_photo(250))
    file = file_of(records, lot, "T_7")
    (summary,) = records.piece_list(lot)
    assert word_of(file) == (summary.word, summary.fabricated_probability)
    assert summary.word is Reading.FABRICATION_SEAM


def test_what_is_kept_of_a_photo_reads_as_the_photo_does(reader: ViewingReader) -> None:
    once, again = (reader.read_bytes(a_photo(250), "a.jpg").reading for _ in range(2))
    plain = StandInReader().read_bytes(a_photo(250), "a.jpg").reading
    assert once == again == plain
    assert reader.read_bytes(a_photo(20), "a.jpg").reading != plain


def test_the_oldest_photo_gives_way_and_is_read_again(
    reader: ViewingReader, network: Counting, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(together, "MOST_KEPT", 2)
    photo = encoded(picture())
    for name in ("a.jpg", "b.jpg", "c.jpg", "c.jpg", "b.jpg"):
        reader.view(photo, name)
    assert network.asked == 3
    reader.view(photo, "a.jpg")
    assert network.asked == 4
