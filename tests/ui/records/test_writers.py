"""Several writers at once, and writers that are killed: nothing lost, doubled or half-written."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest

from tests.ui.records.deliveries import INSPECTOR, OTHER, Delivery
from ui.records import Decision, NotTaken, Outcome, Records, Stale, Unreachable, adding
from ui.records.piece_files import piece_file
from ui.records.places import Place
from ui.records.store import PhotoStore

ROOT = Path(__file__).parents[3]

# Opens a lot, adds pieces with a photo each, and says after each that it is kept.
WRITER = """
import sys
from pathlib import Path
from ui.records import open_records

address, photos, name, count = sys.argv[1:]
with open_records(address, Path(photos)) as records:
    lot = records.open_lot(name, by=name).uid
    print("open", flush=True)
    for number in range(int(count)):
        tag = f"{name}-{number}"
        piece = records.add_piece(lot, tag, by=name)
        records.add_photo(lot, tag.encode() * 5000, f"{tag}.jpg", by=name, piece=piece.uid)
        print(tag, flush=True)
"""


def writer(place: Place, name: str, count: int) -> subprocess.Popen[str]:
    address = place.url.render_as_string(hide_password=False)
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, address, str(place.photos), name, str(count)],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


@pytest.fixture
def bare(request: pytest.FixtureRequest, place: Place) -> Iterator[Place]:
    """A place without tables, so that whoever opens it first has to make them."""
    if place.file is not None:
        yield place
        return
    with request.getfixturevalue("postgres").copied("template0") as url:
        yield replace(place, url=url)


def tags(records: Records, lot: str) -> list[str]:
    return [piece.tag for piece in records.pieces(lot)]


def test_threads_that_write_at_once_lose_nothing(records: Records) -> None:
    lot = records.open_lot("L", by=INSPECTOR).uid

    def add(number: int) -> str:
        return records.add_piece(lot, f"P-{number}", by=INSPECTOR).tag

    with ThreadPoolExecutor(max_workers=4) as pool:
        added = set(pool.map(add, range(24)))
    assert sorted(tags(records, lot)) == sorted(added)
    assert len(added) == 24
    found = records.verify()
    assert found.unbroken
    assert found.entries == 25


def test_of_threads_that_want_the_same_only_one_gets_it(filled: Delivery) -> None:
    records, tee = filled.records, filled.tee.uid
    seen = records.piece_file(tee).number

    def decide(number: int) -> bool:
        try:
            records.decide(tee, Decision.RETURN, by=f"Person {number}", reason="x", seen=seen)
        except Stale:
            return False
        return True

    def name(number: int) -> bool:
        try:
            records.add_piece(filled.lot.uid, "P-99", by=f"Person {number}")
        except NotTaken:
            return False
        return True

    with ThreadPoolExecutor(max_workers=4) as pool:
        assert sum(pool.map(decide, range(4))) == 1
        assert sum(pool.map(name, range(4))) == 1
        photos = set(
            pool.map(
                lambda n: records.add_photo(filled.lot.uid, b"same", "s.jpg", by=f"P {n}").uid,
                range(4),
            )
        )
    assert len(photos) == 1
    assert len(records.piece_file(tee).decisions) == 2
    assert records.verify().unbroken


def test_two_programs_may_open_an_empty_place_and_write_at_once(bare: Place) -> None:
    both = [writer(bare, name, 12) for name in ("A", "B")]
    for process in both:
        out, err = process.communicate(timeout=60)
        assert process.returncode == 0, err
        assert len(out.splitlines()) == 13
    with Records(bare) as records:
        for lot in records.lots():
            assert tags(records, lot.uid) == [f"{lot.name}-{number}" for number in range(12)]
        found = records.verify()
        assert found.unbroken
        assert (found.lots, found.photos, found.entries) == (2, 24, 2 + 3 * 24)


def test_a_killed_writer_leaves_whole_entries_only(bare: Place) -> None:
    process = writer(bare, "A", 100_000)
    assert process.stdout is not None
    said = [process.stdout.readline().strip() for _ in range(6)]
    process.send_signal(signal.SIGKILL)
    rest, err = process.communicate(timeout=60)
    assert said[0] == "open", err
    kept = [*said[1:], *rest.split()]
    with Records(bare) as records:
        found = records.verify()
        assert found.unbroken
        # What was said to be kept is kept; at most the step under way is there beyond it.
        lot = records.lot("A").uid
        there = tags(records, lot)
        assert there[: len(kept)] == kept
        assert len(there) - len(kept) in (0, 1)
        assert len(records.photos(lot)) in (len(kept), len(kept) + 1)
        records.add_piece(lot, "goes on", by=OTHER)
        assert records.verify().unbroken


def test_a_step_that_fails_in_the_middle_leaves_nothing(
    local_filled: Delivery, monkeypatch: pytest.MonkeyPatch
) -> None:
    records, lot = local_filled.records, local_filled.lot.uid
    before = records.entries(lot)
    calls = []

    def fails_at_the_second(*arguments: object) -> int:
        calls.append(arguments)
        if len(calls) == 2:
            raise OSError("the disk is full")
        return real(*arguments)  # type: ignore[arg-type]

    real = adding.append
    monkeypatch.setattr(adding, "append", fails_at_the_second)
    with pytest.raises(OSError, match="full"):
        records.add_photo(lot, b"new", "n.jpg", by=INSPECTOR, piece=local_filled.tee.uid)
    assert len(calls) == 2
    assert records.entries(lot) == before
    assert records.verify().unbroken


def test_a_half_written_photo_never_takes_the_place_of_a_whole_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = PhotoStore(tmp_path / "photos")

    def fails(_: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", fails)
        with pytest.raises(Unreachable, match="No space left"):
            store.keep(b"photo")
    assert list(store.kept()) == []
    assert [p for p in store.folder.rglob("*") if p.is_file()] == []
    sha256 = store.keep(b"photo")
    assert list(store.kept()) == [sha256]
    assert store.read(sha256) == b"photo"


def test_a_photo_that_reads_back_differently_is_not_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A disk that loses the last byte of what it is given."""

    def loses(handle: int) -> None:
        os.ftruncate(handle, os.fstat(handle).st_size - 1)

    store = PhotoStore(tmp_path / "photos")
    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", loses)
        with pytest.raises(Unreachable, match="reads back differently"):
            store.keep(b"photo")
    assert [p for p in store.folder.rglob("*") if p.is_file()] == []


def test_a_reader_sees_one_state_while_others_write(filled: Delivery) -> None:
    records = filled.records
    with records._database.reading() as connection:
        before = piece_file(connection, filled.elbow.uid)
        with ThreadPoolExecutor(max_workers=1) as pool:
            pool.submit(
                records.record_check, filled.elbow.uid, "bore", Outcome.FORMED, by=OTHER
            ).result(timeout=20)
        assert piece_file(connection, filled.elbow.uid) == before
    assert len(records.piece_file(filled.elbow.uid).checks) == 1
