"""A whole lot as one file: the format, and writing it. Taking one in is `ui.records.archive_in`.

The file is a ZIP archive with three kinds of members, in this order:

- `lot.json`: the manifest, a JSON object. `format` and `version` name this format; `lot` is the
  lot's uid, `name` and `yard` what people call it; `entries` counts the journal's lines and `head`
  is the hash of the last one; `journal_sha256` is of the member `journal.jsonl`; `photos` gives the
  size in bytes of each photo by its SHA-256.
- `journal.jsonl`: the lot's chain, one JSON object per line and entry, in order, with the names of
  `ui.records.chain.Entry`.
- `photos/<sha256>`: every original, byte for byte, not compressed again.

The same lot gives the same bytes. The journal holds all that the lot's tables hold, so they are
not in the file.
"""

from __future__ import annotations

import hashlib
import json
import tempfile
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from sqlalchemy import Connection, select

from fittings.words import ADVISORY
from ui.records import tables
from ui.records.chain import Entry, canonical
from ui.records.errors import Damaged
from ui.records.replay import Replay
from ui.records.store import PhotoStore
from ui.records.views import entry_of, lot_of
from ui.whole_files import whole_file
from vision.errors import OutputExists

FORMAT = "seamtriage lot"
VERSION = 1
MANIFEST = "lot.json"
JOURNAL = "journal.jsonl"
PHOTOS = "photos/"

Progress = Callable[[int, str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported:
    """What an archive was given. `head` is the hash of the last entry."""

    lot: str
    name: str
    path: Path
    entries: int
    photos: int
    head: str


def export_lot(
    connection: Connection,
    store: PhotoStore,
    lot: str,
    path: Path,
    *,
    force: bool = False,
    progress: Progress | None = None,
) -> Exported:
    """Writes the lot of that uid to `path`, whole or not at all.

    OutputExists for an existing file without `force`; NotWritten where it can't be; Damaged or
    NotRecorded when the lot's chain or a photo is not as it was recorded, because an archive must
    not spread what was altered.
    """
    if path.exists() and not force:
        raise OutputExists(f"{path} exists already. Give --force to write over it.")
    described = lot_of(connection, lot)
    with whole_file(path) as stream, tempfile.TemporaryFile() as lines:
        replay, count, digest = _journal(connection, lot, lines)
        assert replay.last is not None  # `lot_of` found an entry
        manifest = {
            "format": FORMAT,
            "version": VERSION,
            "lot": lot,
            "name": described.name,
            "yard": described.yard,
            "entries": count,
            "head": replay.last.hash,
            "journal_sha256": digest,
            "photos": dict(sorted(replay.photos.items())),
            "advisory": ADVISORY,
        }
        lines.seek(0)
        with zipfile.ZipFile(stream, "w") as archive:
            archive.writestr(_member(MANIFEST, packed=True), canonical(manifest))
            with archive.open(_member(JOURNAL, packed=True), "w", force_zip64=True) as member:
                while chunk := lines.read(1 << 20):
                    member.write(chunk)
            for done, sha256 in enumerate(sorted(replay.photos)):
                if progress is not None:
                    progress(done, sha256)
                archive.writestr(_member(PHOTOS + sha256), store.read(sha256))
    return Exported(
        lot=lot,
        name=described.name,
        path=path,
        entries=count,
        photos=len(replay.photos),
        head=replay.last.hash,
    )


def entry_line(entry: Entry) -> str:
    """An entry as its line of the journal, with its line end."""
    return (
        canonical(
            {
                "lot": entry.lot,
                "position": entry.position,
                "what": entry.what.value,
                "by": entry.by,
                "at": entry.at,
                "body": json.loads(entry.body),
                "previous": entry.previous,
                "hash": entry.hash,
            }
        )
        + "\n"
    )


def _journal(connection: Connection, lot: str, out: IO[bytes]) -> tuple[Replay, int, str]:
    """Writes the lot's lines to `out`; how far they were followed, their number and SHA-256."""
    journal = tables.journal
    query = select(journal).where(journal.c.lot == lot).order_by(journal.c.position)
    replay, count, digest = Replay(), 0, hashlib.sha256()
    for row in connection.execute(query.execution_options(yield_per=200)):
        entry = entry_of(row)
        if problem := replay.problem(entry):
            raise Damaged(f"{problem}; the lot is not written out: run seamtriage verify")
        line = entry_line(entry).encode("utf-8")
        digest.update(line)
        out.write(line)
        count += 1
    return replay, count, digest.hexdigest()


def _member(name: str, *, packed: bool = False) -> zipfile.ZipInfo:
    member = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
    member.compress_type = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
    member.external_attr = 0o644 << 16
    return member
