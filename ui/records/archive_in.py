"""Taking in a lot archive (`ui.records.archive`) that another installation wrote.

Nothing in the file is believed: every entry's form, chain and rules, every size and every hash is
looked at before the first entry is kept. Photos come first, then all entries in one step, so a
broken-off import leaves at most photos that nothing speaks of, and can simply be run again.
"""

from __future__ import annotations

import hashlib
import json
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select

from ui.records import archive, tables
from ui.records.chain import Entry, What, canonical
from ui.records.database import Database, append
from ui.records.errors import ArchiveUnreadable
from ui.records.replay import Replay
from ui.records.shapes import is_sha256
from ui.records.store import PhotoStore
from vision.sources import MAX_FILE_BYTES

MAX_MANIFEST_BYTES = 64 * 1024 * 1024
MAX_LINE_BYTES = 64 * 1024 * 1024
MAX_JOURNAL_BYTES = 8 * 1024 * 1024 * 1024

# What the ZIP reader raises on a damaged file, an unknown packing or a locked member.
_ZIP_DAMAGE = (
    OSError,
    EOFError,
    RuntimeError,
    UnicodeDecodeError,
    struct.error,
    zipfile.BadZipFile,
    zlib.error,
)

Progress = Callable[[int, str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """What an archive brought: entries and photos in it, and how many entries were new here."""

    lot: str
    name: str
    entries: int
    new_entries: int
    photos: int
    head: str


def import_lot(
    database: Database, store: PhotoStore, path: Path, *, progress: Progress | None = None
) -> Imported:
    """Takes in the lot in the file at `path`.

    Where the lot is here already, what the file has beyond it is added; nothing when there is
    nothing beyond. ArchiveUnreadable for a file that is no such archive, is damaged or was altered,
    and for a lot that went on here and there in different ways: nothing of it is kept then.
    """
    try:
        with zipfile.ZipFile(path) as opened:
            source = _Source(path.name, opened)
            source.look_through()
            for done, sha256 in enumerate(source.manifest["photos"]):
                if progress is not None:
                    progress(done, sha256)
                store.keep(source.photo(sha256))
            with database.writing() as connection:
                new = _add_new(connection, source)
    except FileNotFoundError:
        raise ArchiveUnreadable(f"{path}: no such file; check the name") from None
    except _ZIP_DAMAGE as error:
        raise ArchiveUnreadable(
            f"{path}: can't be read as a lot archive ({error}); copy or send it again"
        ) from error
    return Imported(
        lot=source.manifest["lot"],
        name=source.manifest["name"],
        entries=source.manifest["entries"],
        new_entries=new,
        photos=len(source.manifest["photos"]),
        head=source.manifest["head"],
    )


class _Source:
    """An opened archive whose parts are checked as they are read."""

    def __init__(self, name: str, opened: zipfile.ZipFile) -> None:
        self._name = name
        self._opened = opened
        self._members = {member.filename: member for member in opened.infolist()}
        self.manifest = self._manifest()

    def _refused(self, problem: str) -> ArchiveUnreadable:
        return ArchiveUnreadable(
            f"{self._name}: {problem}; nothing of it was taken in. Ask for the archive again"
        )

    def _member(self, name: str) -> zipfile.ZipInfo:
        member = self._members.get(name)
        if member is None:
            raise self._refused(f"{name} is missing from it")
        if member.flag_bits & 0x1:
            raise self._refused("it asks for a password")
        return member

    def _manifest(self) -> dict[str, Any]:
        with self._opened.open(self._member(archive.MANIFEST)) as stream:
            data = stream.read(MAX_MANIFEST_BYTES + 1)
        try:
            if len(data) > MAX_MANIFEST_BYTES:
                raise ValueError("it is too long")
            found = json.loads(data)
            if found["format"] != archive.FORMAT:
                raise ValueError("it is of another format")
            if found["version"] != archive.VERSION:
                raise self._refused(
                    f"it is version {found['version']!r} of the format, and this program knows "
                    f"{archive.VERSION}"
                )
            photos = found["photos"]
            if not all(is_sha256(each) and type(size) is int for each, size in photos.items()):
                raise ValueError("its photos are not named as photos are")
            for name, kind in (("lot", str), ("name", str), ("entries", int), ("head", str)):
                if type(found[name]) is not kind:
                    raise ValueError(f"its {name} is not what it should be")
        except (KeyError, TypeError, ValueError, AttributeError, RecursionError) as error:
            raise self._refused(f"{archive.MANIFEST} is no manifest ({error})") from error
        return dict(found)

    def look_through(self) -> None:
        """Goes through the journal and compares the photos with it; ArchiveUnreadable if not."""
        replay = Replay()
        for _ in self.entries(replay):
            pass
        manifest = self.manifest
        if replay.last is None or replay.last.hash != manifest["head"]:
            raise self._refused("its journal does not end as the manifest says")
        if replay.last.position != manifest["entries"]:
            raise self._refused("its journal has not as many entries as the manifest says")
        if replay.photos != manifest["photos"]:
            raise self._refused("its photos are not those that its journal speaks of")
        for sha256, size in replay.photos.items():
            member = self._member(archive.PHOTOS + sha256)
            if member.file_size != size or size > MAX_FILE_BYTES:
                raise self._refused(f"the photo {sha256} has not the size that was recorded")

    def entries(self, replay: Replay) -> Iterator[Entry]:
        """The journal's entries, each one checked; ArchiveUnreadable at the first that is not."""
        digest, total = hashlib.sha256(), 0
        with self._opened.open(self._member(archive.JOURNAL)) as stream:
            while line := stream.readline(MAX_LINE_BYTES + 1):
                total += len(line)
                if len(line) > MAX_LINE_BYTES or total > MAX_JOURNAL_BYTES:
                    raise self._refused("its journal is too long")
                digest.update(line)
                entry = self._entry(line, replay)
                if problem := replay.problem(entry):
                    raise self._refused(problem)
                if entry.lot != self.manifest["lot"]:
                    raise self._refused(f"entry {entry.position} belongs to another lot")
                yield entry
        if digest.hexdigest() != self.manifest.get("journal_sha256"):
            raise self._refused("its journal has not the SHA-256 that the manifest says")

    def _entry(self, line: bytes, replay: Replay) -> Entry:
        try:
            facts = json.loads(line)
            facts["body"] = canonical(facts["body"])
            facts["what"] = What(facts["what"])
            entry = Entry(**facts)
            if type(entry.position) is not int:
                raise TypeError("its position is no number")
            texts = (entry.lot, entry.by, entry.at, entry.body, entry.previous, entry.hash)
            for text in texts:
                text.encode("utf-8")
        except (AttributeError, KeyError, TypeError, ValueError, RecursionError) as error:
            after = 0 if replay.last is None else replay.last.position
            raise self._refused(
                f"what follows entry {after} of its journal is no entry ({error})"
            ) from error
        return entry

    def photo(self, sha256: str) -> bytes:
        """A photo's bytes; ArchiveUnreadable when they are not those of its name."""
        size = self.manifest["photos"][sha256]
        with self._opened.open(self._member(archive.PHOTOS + sha256)) as stream:
            data = stream.read(size + 1)
        if len(data) != size or hashlib.sha256(data).hexdigest() != sha256:
            raise self._refused(f"the photo {sha256} was altered")
        return data


def _add_new(connection: Connection, source: _Source) -> int:
    """Adds the entries that are not here yet; their number."""
    journal = tables.journal
    query = select(journal.c.hash).where(journal.c.lot == source.manifest["lot"])
    here = list(connection.execute(query.order_by(journal.c.position)).scalars())
    new = 0
    for entry in source.entries(Replay()):
        if entry.position <= len(here):
            if entry.hash != here[entry.position - 1]:
                raise ArchiveUnreadable(
                    f"the lot {source.manifest['name']!r} is here already, and from entry "
                    f"{entry.position} on it went another way than in the archive; nothing was "
                    "taken in. Keep one of the two as it is, and enter the rest by hand"
                )
            continue
        _own_uid(connection, entry)
        append(connection, entry)
        new += 1
    return new


def _own_uid(connection: Connection, entry: Entry) -> None:
    """ArchiveUnreadable when the entry names something by a uid that another lot here has."""
    uid, table = entry.facts.get("uid"), tables.TABLES[entry.what]
    if uid is None:
        return
    other = select(table.c.lot).where(table.c.uid == uid, table.c.lot != entry.lot).limit(1)
    if connection.execute(other).first() is not None:
        raise ArchiveUnreadable(
            f"entry {entry.position} names something as another lot here does; the archive was "
            "altered, and nothing was taken in"
        )
