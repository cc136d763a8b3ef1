"""A lot goes out as one file and comes in elsewhere as it was; a bad file brings nothing."""

from __future__ import annotations

import hashlib
import io
import json
import re
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.ui.records.deliveries import INSPECTOR, OTHER, Delivery, delivery, picture
from tests.ui.records.test_verify import behind_its_back, edit_person, forge_release
from ui.records import ArchiveUnreadable, Damaged, Decision, NotRecorded, Outcome, Records
from ui.records.archive import JOURNAL, MANIFEST, PHOTOS, entry_line
from ui.records.chain import canonical
from ui.records.places import find_place
from vision.errors import OutputExists

Members = dict[str, bytes]


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Records]:
    """Another installation."""
    with Records(find_place(str(tmp_path / "other" / "records.sqlite"))) as records:
        yield records


@pytest.fixture
def archive(local_filled: Delivery, tmp_path: Path) -> Path:
    path = tmp_path / "lot.zip"
    local_filled.records.export_lot(local_filled.lot.uid, path)
    return path


def members(path: Path) -> Members:
    with zipfile.ZipFile(path) as opened:
        return {name: opened.read(name) for name in opened.namelist()}


def packed(parts: Members) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return out.getvalue()


def everything(records: Records, lot: str) -> object:
    """All that can be looked up of a lot, without the numbers that each installation gives."""
    pieces = [records.piece_file(piece.uid) for piece in records.pieces(lot)]
    told = repr((records.lot(lot), records.order_lines(lot), records.photos(lot), pieces))
    return re.sub(r"number=\d+", "", told), records.entries(lot)


def test_a_lot_comes_in_elsewhere_without_loss(
    filled: Delivery, other: Records, tmp_path: Path
) -> None:
    lot, path = filled.lot.uid, tmp_path / "lot.zip"
    made = filled.records.export_lot(lot, path)
    other.open_lot("Something recorded there before", by=OTHER)
    got = other.import_lot(path)
    assert (got.entries, got.new_entries, got.photos) == (made.entries, made.entries, 4)
    assert got.head == made.head == filled.records.entries(lot)[-1].hash
    assert everything(other, lot) == everything(filled.records, lot)
    for number, photo in enumerate(filled.photos, start=1):
        assert other.store.read(photo.sha256) == picture(number)
    assert other.verify().unbroken
    again = tmp_path / "again.zip"
    other.export_lot(lot, again)
    assert again.read_bytes() == path.read_bytes()


def test_what_the_file_has_beyond_is_added_and_nothing_twice(
    local_filled: Delivery, other: Records, archive: Path, tmp_path: Path
) -> None:
    records, lot = local_filled.records, local_filled.lot.uid
    other.import_lot(archive)
    assert other.import_lot(archive).new_entries == 0
    records.record_check(local_filled.elbow.uid, "bore", Outcome.FORMED, by=INSPECTOR)
    records.add_photo(lot, b"one more", "5.jpg", by=INSPECTOR)
    later = tmp_path / "later.zip"
    records.export_lot(lot, later)
    assert other.import_lot(later).new_entries == 2
    assert other.entries(lot) == records.entries(lot)
    assert other.import_lot(archive).new_entries == 0  # the earlier file takes nothing back
    assert other.entries(lot) == records.entries(lot)
    assert other.verify().unbroken


def test_a_lot_that_went_on_in_two_ways_is_refused(
    local_filled: Delivery, other: Records, archive: Path, tmp_path: Path
) -> None:
    records, lot, elbow = local_filled.records, local_filled.lot.uid, local_filled.elbow.uid
    other.import_lot(archive)
    shared = len(records.entries(lot))
    records.record_check(elbow, "bore", Outcome.FORMED, by=INSPECTOR)
    other.record_check(elbow, "bore", Outcome.FABRICATED, by=OTHER)
    later = tmp_path / "later.zip"
    records.export_lot(lot, later)
    before = other.entries(lot)
    with pytest.raises(ArchiveUnreadable, match=f"from entry {shared + 1} on it went another way"):
        other.import_lot(later)
    assert other.entries(lot) == before


def test_no_existing_file_is_written_over(local_filled: Delivery, archive: Path) -> None:
    records, lot = local_filled.records, local_filled.lot.uid
    whole = archive.read_bytes()
    archive.write_bytes(b"something of somebody's")
    with pytest.raises(OutputExists, match="--force"):
        records.export_lot(lot, archive)
    assert archive.read_bytes() == b"something of somebody's"
    records.export_lot(lot, archive, force=True)
    assert archive.read_bytes() == whole


def test_what_was_altered_is_not_written_out(local_filled: Delivery, tmp_path: Path) -> None:
    records, lot = local_filled.records, local_filled.lot.uid
    path = tmp_path / "out" / "lot.zip"
    photo = records.store.path(local_filled.photos[0].sha256)
    photo.write_bytes(b"altered")
    with pytest.raises(Damaged, match="altered"):
        records.export_lot(lot, path)
    photo.unlink()
    with pytest.raises(NotRecorded, match="missing"):
        records.export_lot(lot, path)
    photo.write_bytes(picture(1))
    behind_its_back(local_filled, edit_person)
    with pytest.raises(Damaged, match="run seamtriage verify"):
        records.export_lot(lot, path)
    assert list(path.parent.iterdir()) == []


# ------------------------------------------------------------------------------- bad files


def _edited(name: str, edit: Callable[[bytes], bytes]) -> Callable[[Members], Members]:
    return lambda parts: {**parts, name: edit(parts[name])}


def _manifest(**changes: object) -> Callable[[Members], Members]:
    return _edited(MANIFEST, lambda data: canonical({**json.loads(data), **changes}).encode())


def _first_photo(parts: Members) -> str:
    return next(name for name in parts if name.startswith(PHOTOS))


def _photo_altered(parts: Members) -> Members:
    name = _first_photo(parts)
    return {**parts, name: b"P" + parts[name][1:]}


def _photo_missing(parts: Members) -> Members:
    gone = _first_photo(parts)
    return {name: data for name, data in parts.items() if name != gone}


def _photo_renamed(parts: Members) -> Members:
    """A name that leaves the folder; the manifest speaks of it as well."""
    name = _first_photo(parts)
    wicked = "../../../../wicked"
    manifest = json.loads(parts[MANIFEST])
    manifest["photos"][wicked] = manifest["photos"].pop(name.removeprefix(PHOTOS))
    kept = {each: data for each, data in parts.items() if each != name}
    return {**kept, MANIFEST: canonical(manifest).encode(), PHOTOS + wicked: parts[name]}


def _last_line_gone(data: bytes) -> bytes:
    return b"".join(data.splitlines(keepends=True)[:-1])


BAD = {
    "no manifest": (lambda parts: {k: v for k, v in parts.items() if k != MANIFEST}, "missing"),
    "another format": (_manifest(format="something else"), "no manifest"),
    "a later version": (_manifest(version=2), "version 2"),
    "manifest is no JSON": (_edited(MANIFEST, lambda _: b"{"), "no manifest"),
    "manifest is deep": (_edited(MANIFEST, lambda _: b"[" * 100_000), "no manifest"),
    "another lot": (_manifest(lot="f" * 32), "belongs to another lot"),
    "another head": (_manifest(head="f" * 64), "does not end"),
    "another count": (_manifest(entries=3), "not as many"),
    "fewer photos": (_manifest(photos={}), "not those that its journal"),
    "no journal": (lambda parts: {k: v for k, v in parts.items() if k != JOURNAL}, "missing"),
    "an entry gone": (_edited(JOURNAL, _last_line_gone), "does not end|SHA-256"),
    "an entry edited": (
        _edited(JOURNAL, lambda data: data.replace(b"Inspector one", b"Inspector 1")),
        "was altered",
    ),
    "a line is no entry": (_edited(JOURNAL, lambda data: data + b"[]\n"), "is no entry"),
    "an entry of an unknown kind": (
        _edited(JOURNAL, lambda data: data.replace(b'"what":"photo"', b'"what":"film"')),
        "is no entry",
    ),
    "a lone surrogate": (
        _edited(JOURNAL, lambda data: data.replace(b"Inspector one", b"\\ud800")),
        "is no entry",
    ),
    "a photo altered": (_photo_altered, "was altered"),
    "a photo missing": (_photo_missing, "missing"),
    "a photo with a path": (_photo_renamed, "not named as photos"),
}


@pytest.mark.parametrize("case", BAD)
def test_of_a_bad_file_nothing_is_kept(archive: Path, other: Records, case: str) -> None:
    spoil, says = BAD[case]
    archive.write_bytes(packed(spoil(members(archive))))
    with pytest.raises(ArchiveUnreadable, match=says) as caught:
        other.import_lot(archive)
    assert "lot.zip" in str(caught.value)
    assert other.lots() == ()
    assert other.verify().entries == 0


def test_a_lot_against_the_rules_is_refused(
    local_filled: Delivery, other: Records, archive: Path
) -> None:
    """A file whose chain and hashes are all right, with a release that no check stands behind."""
    behind_its_back(local_filled, forge_release)
    entries = local_filled.records.entries(local_filled.lot.uid)
    journal = "".join(map(entry_line, entries)).encode()
    parts = {**members(archive), JOURNAL: journal}
    spoil = _manifest(
        entries=len(entries),
        head=entries[-1].hash,
        journal_sha256=hashlib.sha256(journal).hexdigest(),
    )
    archive.write_bytes(packed(spoil(parts)))
    with pytest.raises(ArchiveUnreadable, match="a release needs a recorded physical check"):
        other.import_lot(archive)
    assert other.lots() == ()


def test_a_file_that_speaks_for_another_lots_pieces_is_refused(
    local: Records, other: Records, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ui.records.adding.new_uid", iter(f"{n:032x}" for n in range(99)).__next__)
    mine = local.open_lot("Mine", by=INSPECTOR)
    piece = local.add_piece(mine.uid, "P-1", by=INSPECTOR)
    uids = iter(("f" * 32, piece.uid))
    monkeypatch.setattr("ui.records.adding.new_uid", uids.__next__)
    theirs = other.open_lot("Theirs", by=OTHER)
    other.add_piece(theirs.uid, "P-1", by=OTHER)
    path = tmp_path / "theirs.zip"
    other.export_lot(theirs.uid, path)
    with pytest.raises(ArchiveUnreadable, match="as another lot here does"):
        local.import_lot(path)
    assert local.lots() == (mine,)


@pytest.mark.parametrize("data", [b"", b"no archive", b"PK\x03\x04 but cut off"])
def test_a_file_that_is_no_archive_says_so(other: Records, tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "junk.zip"
    path.write_bytes(data)
    with pytest.raises(ArchiveUnreadable, match="junk"):
        other.import_lot(path)
    with pytest.raises(ArchiveUnreadable, match="no such file"):
        other.import_lot(tmp_path / "missing.zip")


def test_any_damaged_byte_is_an_error_of_ours_or_harmless(
    archive: Path, other: Records, local_filled: Delivery
) -> None:
    whole = archive.read_bytes()

    @settings(max_examples=40)
    @given(st.integers(0, len(whole) - 1), st.integers(1, 255))
    def damaged(place: int, by: int) -> None:
        spoilt = bytearray(whole)
        spoilt[place] ^= by
        archive.write_bytes(bytes(spoilt))
        try:
            got = other.import_lot(archive)
        except ArchiveUnreadable:
            return
        assert got.head == local_filled.records.entries(local_filled.lot.uid)[-1].hash

    damaged()
    assert other.verify().unbroken


def test_a_member_name_that_is_no_text_is_an_error_of_ours(archive: Path, other: Records) -> None:
    """Found by damaging bytes at random: the ZIP reader itself gave up on such a name."""
    data = bytearray(archive.read_bytes())
    directory = data.rindex(b"PK\x01\x02")
    data[directory + 8 : directory + 10] = b"\x00\x08"  # the name is said to be UTF-8
    data[directory + 46] = 0xFF
    archive.write_bytes(bytes(data))
    with pytest.raises(ArchiveUnreadable, match="can't be read as a lot archive"):
        other.import_lot(archive)


def test_a_photo_is_kept_before_the_entries_so_a_broken_import_can_run_again(
    archive: Path, other: Records
) -> None:
    calls = []

    def broken_off(done: int, sha256: str) -> None:
        calls.append(sha256)
        if done == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        other.import_lot(archive, progress=broken_off)
    assert len(calls) == 3
    assert other.lots() == ()
    assert len(list(other.store.kept())) == 2
    other.import_lot(archive)
    assert other.verify().unbroken
    assert other.verify().photos == 4


def test_a_release_stays_a_release_after_the_journey(
    local_filled: Delivery, other: Records, tmp_path: Path
) -> None:
    records, elbow = local_filled.records, local_filled.elbow.uid
    records.record_check(elbow, "bore", Outcome.FORMED, by=INSPECTOR)
    records.decide(elbow, Decision.RELEASE, by=INSPECTOR, reason="smooth")
    records.export_lot(local_filled.lot.uid, tmp_path / "x.zip")
    other.import_lot(tmp_path / "x.zip")
    decided = other.piece_file(elbow).decision
    assert decided is not None
    assert (decided.decision, decided.by) == (Decision.RELEASE, INSPECTOR)


def test_two_deliveries_in_one_place_travel_apart(local_filled: Delivery, other: Records) -> None:
    second = delivery(local_filled.records, "Pump house, delivery 4")
    path = local_filled.records.place.photos.parent / "second.zip"
    local_filled.records.export_lot(second.lot.uid, path)
    other.import_lot(path)
    assert [lot.name for lot in other.lots()] == ["Pump house, delivery 4"]
