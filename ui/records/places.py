"""Where the records lie: a database and a folder of photos."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

import platformdirs
from sqlalchemy import URL, make_url
from sqlalchemy.exc import ArgumentError

from ui.records.errors import Unreachable

RECORDS_SETTING = "SEAMTRIAGE_RECORDS"
PHOTOS_SETTING = "SEAMTRIAGE_PHOTOS"


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """The database's address and the folder of photos."""

    url: URL
    photos: Path

    @property
    def file(self) -> Path | None:
        """The SQLite file; None for another kind of database."""
        if self.url.get_backend_name() != "sqlite" or not self.url.database:
            return None
        return Path(self.url.database)


def find_place(records: str | None = None, photos: Path | None = None) -> Place:
    """The place that the arguments, the environment or else the system names.

    `records` is a SQLAlchemy URL, or the path of an SQLite file; without it SEAMTRIAGE_RECORDS,
    then `records.sqlite` in the user's own data folder. Photos lie in `photos` beside an SQLite
    file; for another database `photos` or SEAMTRIAGE_PHOTOS names their folder, or else they lie
    in the user's data folder. Unreachable for an address that can't be one.
    """
    wanted = records or os.environ.get(RECORDS_SETTING) or ""
    home = Path(platformdirs.user_data_dir("seamtriage", appauthor=False))
    if not wanted:
        url = _sqlite(home / "records.sqlite")
    elif "://" in wanted:
        url = _url(wanted)
    else:
        url = _sqlite(Path(wanted))
    folder = photos or (Path(named) if (named := os.environ.get(PHOTOS_SETTING)) else None)
    if folder is None:
        is_file = url.get_backend_name() == "sqlite"
        folder = (Path(url.database or "").parent if is_file else home) / "photos"
    return Place(url=url, photos=folder)


def _sqlite(path: Path) -> URL:
    return URL.create("sqlite", database=str(path.expanduser().absolute()))


def _url(text: str) -> URL:
    try:
        url = make_url(text)
    except ArgumentError:
        # Never the text itself: it may hold a password.
        raise Unreachable(
            "the address of the records is no SQLAlchemy URL; write it like "
            "postgresql+psycopg://user@host/name, or give the path of a file"
        ) from None
    if url.get_backend_name() == "sqlite" and url.database in (None, "", ":memory:"):
        raise Unreachable("records need a file, not a database in memory; give its path")
    if url.drivername == "sqlite":
        return _sqlite(Path(url.database or ""))
    # The driver that the extra `postgres` installs, whatever this SQLAlchemy would take unasked.
    return url.set(drivername="postgresql+psycopg") if url.drivername == "postgresql" else url
