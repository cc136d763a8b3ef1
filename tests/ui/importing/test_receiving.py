from __future__ import annotations

import os
import subprocess
import sys
import tracemalloc
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from tests.stand_in import StandInOutcome, StandInReader, encoded, picture
from tests.vision.test_word_photos import REPORT
from ui.importing.incoming import Incoming, from_paths, from_uploads, preview
from ui.importing.matching import Matcher, Rules
from ui.importing.patterns import parse_pattern
from ui.importing.receiving import Received, Receiver
from ui.records import Lot, Records, open_records
from vision.sources import Found

ROOT = Path(__file__).parents[3]
BY = "A. Inspector"


@pytest.fixture
def records(tmp_path: Path) -> Iterator[Records]:
    with open_records(str(tmp_path / "kept" / "records.sqlite")) as opened:
        yield opened


@pytest.fixture
def lot(records: Records) -> Lot:
    lot = records.open_lot("Delivery 3", yard="North yard", by=BY)
    for tag in ("E-104", "E-1", "T-7"):
        records.add_piece(lot.uid, tag, by=BY)
    return lot


def take_in(
    records: Records,
    lot: Lot,
    paths: list[Path],
    rules: Rules | None = None,
    reader: StandInReader | None = None,
) -> list[Received]:
    matcher = Matcher([piece.tag for piece in records.pieces(lot.uid)], rules)
    receiver = Receiver(records, lot.uid, reader or StandInReader(), matcher, by=BY)
    return list(receiver.receive(from_paths(paths)))


class NextReader(StandInReader):
    """Another model: its readings say so."""

    def read_bytes(self, data: bytes, name: str) -> StandInOutcome:
        outcome = super().read_bytes(data, name)
        if outcome.reading is None:
            return outcome
        reading = replace(outcome.reading, model_version=self.version, model_sha256=self.sha256)
        return replace(outcome, reading=reading)


def a_picture(number: int) -> bytes:
    return encoded(picture(96, 80, red=number % 250))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Four photos of two pieces, one of no piece, one that is damaged."""
    folder = tmp_path / "shipment"
    (folder / "E-104").mkdir(parents=True)
    (folder / "E-104" / "1.jpg").write_bytes(a_picture(1))
    (folder / "E-104" / "2.jpg").write_bytes(a_picture(2))
    (folder / "T-7 left.jpg").write_bytes(a_picture(200))
    (folder / "IMG_9.jpg").write_bytes(a_picture(4))
    (folder / "T-7 cut.jpg").write_bytes(a_picture(5)[:300])
    return folder


def test_photos_are_kept_matched_and_read(records: Records, lot: Lot, folder: Path) -> None:
    done = take_in(records, lot, [folder])
    assert [(each.name, each.tag, each.is_unread) for each in done] == [
        ("shipment/IMG_9.jpg", None, False),
        ("shipment/T-7 cut.jpg", "T-7", True),
        ("shipment/T-7 left.jpg", "T-7", False),
        ("shipment/E-104/1.jpg", "E-104", False),
        ("shipment/E-104/2.jpg", "E-104", False),
    ]
    photos = {photo.name: photo for photo in records.photos(lot.uid)}
    assert records.store.read(photos["shipment/E-104/1.jpg"].sha256) == a_picture(1)
    assert photos["shipment/E-104/1.jpg"].source == str(folder / "E-104" / "1.jpg")
    readings = {reading.photo: reading for reading in records.readings(lot.uid)}
    assert set(readings) == {photo.uid for photo in photos.values()}
    assert readings[photos["shipment/T-7 cut.jpg"].uid].reading is None


def test_the_same_again_adds_nothing(records: Records, lot: Lot, folder: Path) -> None:
    take_in(records, lot, [folder])
    before = records.entries(lot.uid)
    again = take_in(records, lot, [folder / ".." / folder.name])  # typed in another way
    assert all(each.was_known and each.answer is None for each in again)
    assert records.entries(lot.uid) == before


def test_a_folder_that_has_moved_adds_nothing(records: Records, lot: Lot, folder: Path) -> None:
    take_in(records, lot, [folder])
    moved = folder.parent / "elsewhere" / folder.name
    moved.parent.mkdir()
    folder.rename(moved)
    before = records.entries(lot.uid)
    assert all(each.was_known for each in take_in(records, lot, [moved]))
    assert records.entries(lot.uid) == before


def test_one_picture_handed_in_for_two_pieces_is_two_photos(
    records: Records, lot: Lot, tmp_path: Path
) -> None:
    for name in ("E-1.jpg", "T-7.jpg"):
        (tmp_path / name).write_bytes(a_picture(1))
    take_in(records, lot, [tmp_path / "E-1.jpg", tmp_path / "T-7.jpg"])
    assert len({photo.piece for photo in records.photos(lot.uid)}) == 2


def test_another_model_reads_again_and_keeps_the_photos(
    records: Records, lot: Lot, folder: Path
) -> None:
    take_in(records, lot, [folder])
    done = take_in(records, lot, [folder], reader=NextReader(version="next", sha256="1" * 64))
    assert len(done) == 5
    assert {each.model_version for each in records.readings(lot.uid)} == {"next"}
    assert len(records.photos(lot.uid)) == 5


def test_what_a_person_placed_stays_unless_a_person_says_otherwise(
    records: Records, lot: Lot, folder: Path
) -> None:
    take_in(records, lot, [folder])
    by_name = {photo.name: photo for photo in records.photos(lot.uid)}
    piece = records.find_piece(lot.uid, "E-1")
    assert piece is not None
    records.place_photo(by_name["shipment/T-7 left.jpg"].uid, piece.uid, by=BY)
    take_in(records, lot, [folder])
    assert records.photo(by_name["shipment/T-7 left.jpg"].uid).piece == piece.uid
    rules = Rules(by_hand=(("shipment/IMG_9.jpg", "E-1"), ("shipment/T-7 left.jpg", "T-7")))
    done = {each.name: each.tag for each in take_in(records, lot, [folder], rules)}
    assert done["shipment/IMG_9.jpg"] == "E-1"
    assert done["shipment/T-7 left.jpg"] == "T-7"


def test_documents_and_archives_are_taken_in(records: Records, lot: Lot, tmp_path: Path) -> None:
    (tmp_path / "yard.docx").write_bytes(REPORT)
    with zipfile.ZipFile(tmp_path / "E-1.zip", "w") as archive:
        archive.writestr("a/IMG_1.jpg", a_picture(7))
    done = take_in(
        records, lot, [tmp_path / "yard.docx", tmp_path / "E-1.zip", tmp_path / "no.zip"]
    )
    assert [(each.name, each.tag, each.is_unread) for each in done] == [
        ("yard.docx!picture 1", "E-104", False),
        ("yard.docx!picture 3", "T-7", False),
        ("E-1.zip!a/IMG_1.jpg", "E-1", False),
        ("no.zip", None, True),
    ]
    assert records.photos(lot.uid)[-1].source == f"{tmp_path / 'E-1.zip'}!a/IMG_1.jpg"


def test_archives_and_documents_in_a_folder_are_not_passed_over(
    records: Records, lot: Lot, tmp_path: Path
) -> None:
    inside = tmp_path / "shipment" / "papers"
    inside.mkdir(parents=True)
    (inside / "yard.docx").write_bytes(REPORT)
    (inside / "~$yard.docx").write_bytes(b"left behind by an open window")
    done = take_in(records, lot, [tmp_path / "shipment"])
    assert [(each.name, each.tag, each.is_unread) for each in done] == [
        ("shipment/papers/yard.docx!picture 1", "E-104", False),
        ("shipment/papers/yard.docx!picture 3", "T-7", False),
    ]
    assert records.photos(lot.uid)[0].source == f"{inside / 'yard.docx'}!picture 1"
    (tmp_path / "empty").mkdir()
    (told,) = take_in(records, lot, [tmp_path / "empty"])
    assert told.is_unread


def test_new_pieces_are_made_once(records: Records, lot: Lot, tmp_path: Path) -> None:
    for number in range(4):
        (tmp_path / f"R-{number % 2} view {number}.jpg").write_bytes(a_picture(number))
    rules = Rules(pattern=parse_pattern("{piece} view *"), new_pieces=True)
    paths = sorted(tmp_path.glob("*.jpg"))
    take_in(records, lot, paths, rules)
    take_in(records, lot, paths, rules)
    tags = [piece.tag for piece in records.pieces(lot.uid)]
    assert sorted(tags) == ["E-1", "E-104", "R-0", "R-1", "T-7"]


def test_a_photo_that_cannot_be_kept_takes_its_place_and_the_others_go_on(
    records: Records, lot: Lot
) -> None:
    long_tag = "R" * 2000
    rules = Rules(pattern=parse_pattern("{piece}"), new_pieces=True)
    receiver = Receiver(records, lot.uid, StandInReader(), Matcher((), rules), by=BY)
    photos = [
        Incoming(found=Found(name=name, content=a_picture(at)), source=name)
        for at, name in enumerate((f"{long_tag}.jpg", "R-2.jpg"))
    ]
    refused, kept = receiver.receive(photos)
    assert refused.is_unread
    assert refused.photo is None
    assert kept.tag == "R-2"


class Upload:
    def __init__(self, name: str, data: bytes) -> None:
        self.name = name
        self._data = data

    def getvalue(self) -> bytes:
        return self._data


def test_uploads_come_in_like_files(records: Records, lot: Lot) -> None:
    files = [Upload("E-1 a.jpg", a_picture(1)), Upload("yard.docx", REPORT)]
    matcher = Matcher([piece.tag for piece in records.pieces(lot.uid)])
    shown = preview(from_uploads(files), matcher)
    assert [match.tag for match in shown.matches] == ["E-1", "E-104", "T-7"]
    receiver = Receiver(records, lot.uid, StandInReader(), matcher, by=BY)
    assert [each.tag for each in receiver.receive(from_uploads(files))] == ["E-1", "E-104", "T-7"]


def test_progress_tells_each_photo(records: Records, lot: Lot, folder: Path) -> None:
    told: list[tuple[int, str]] = []
    receiver = Receiver(records, lot.uid, StandInReader(), Matcher(()), by=BY)
    list(receiver.receive(from_paths([folder]), lambda done, name: told.append((done, name))))
    assert [done for done, _ in told] == [0, 1, 2, 3, 4]
    assert told[0][1] == "shipment/IMG_9.jpg"


def test_memory_stays_flat(records: Records, lot: Lot) -> None:
    """Twenty photos of 1 MB each take little more than one."""

    def photos() -> Iterator[Incoming]:
        for number in range(20):
            data = a_picture(number) + bytes(1_000_000)  # what follows a JPEG's end is passed over
            yield Incoming(found=Found(name=f"{number}.jpg", content=data), source=f"{number}.jpg")

    receiver = Receiver(records, lot.uid, StandInReader(), Matcher(()), by=BY)
    tracemalloc.start()
    count = sum(not each.is_unread for each in receiver.receive(photos()))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert count == 20
    assert peak < 12_000_000


def test_an_import_that_is_killed_loses_and_doubles_nothing(
    records: Records, lot: Lot, tmp_path: Path
) -> None:
    """SIGKILL leaves no time to tidy up; what comes after must not need any."""
    folder = tmp_path / "many"
    folder.mkdir()
    for number in range(60):
        tag = ("E-104", "E-1", "T-7")[number % 3]
        (folder / f"{tag} {number:02d}.jpg").write_bytes(a_picture(number))
    command = [sys.executable, str(Path(__file__).with_name("slow_import.py"))]
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    url = str(tmp_path / "kept" / "records.sqlite")
    process = subprocess.Popen(
        [*command, url, lot.name, str(folder)], stdout=subprocess.PIPE, text=True, env=env
    )
    with process:
        assert process.stdout is not None
        for _ in range(25):
            assert process.stdout.readline()
        process.kill()
    kept = len(records.photos(lot.uid))
    assert 25 <= kept < 60
    done = take_in(records, lot, [folder])
    assert len(done) == 60
    assert sum(each.was_known for each in done) == kept
    photos = records.photos(lot.uid)
    assert sorted(Path(photo.source).name for photo in photos) == sorted(
        path.name for path in folder.iterdir()
    )
    assert all(photo.piece is not None for photo in photos)
    assert [len(records.readings_of_photo(photo.uid)) for photo in photos] == [1] * 60
    assert {photo.sha256 for photo in photos} == set(records.store.kept())


def test_a_photo_stored_but_not_read_is_read_next_time(records: Records, lot: Lot) -> None:
    photo = records.add_photo(lot.uid, a_picture(3), "E-1.jpg", by=BY)
    (done,) = take_in(records, lot, [])
    assert (done.photo, done.was_known, done.match) == (photo, True, None)
    assert records.readings(lot.uid)[0].reading is not None


def test_a_lost_photo_is_told_and_stays_to_be_brought_back(records: Records, lot: Lot) -> None:
    photo = records.add_photo(lot.uid, a_picture(3), "E-1.jpg", by=BY)
    records.store.path(photo.sha256).unlink()
    (done,) = take_in(records, lot, [])
    assert done.is_unread
    assert records.readings(lot.uid) == ()
    assert photo in records.unread_photos(lot.uid, StandInReader().sha256)
