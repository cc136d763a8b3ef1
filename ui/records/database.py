"""Opening the database, bringing its tables up to date, and writing to it one writer at a time."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import URL, Connection, Engine, create_engine, event, insert, select, text, update
from sqlalchemy.exc import DBAPIError, IntegrityError, NoSuchModuleError, OperationalError

from ui.records.chain import Entry, seal_of
from ui.records.errors import Damaged, RecordsError, Unreachable
from ui.records.places import Place
from ui.records.rows import row_of
from ui.records.tables import TABLES, journal, journal_end

_MIGRATIONS = Path(__file__).parent / "migrations"
_WAIT_S = 30
"""How long a writer waits for another one."""

_LOCK_NOT_AVAILABLE = "55P03"
"""As PostgreSQL's documentation lists it (appendix A, error codes)."""


class Database:
    """An open database. `reading()` and `writing()` give a connection in one transaction."""

    def __init__(self, place: Place) -> None:
        self._place = place
        self._engine = _engine(place)
        try:
            with _told(place):
                _bring_up_to_date(self._engine, place)
        except BaseException:
            self.close()
            raise

    def close(self) -> None:
        """Lets go of every connection."""
        self._engine.dispose()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One view of the records that no writer changes meanwhile."""
        with _told(self._place), self._engine.connect() as connection:
            if connection.dialect.name != "sqlite":
                connection = connection.execution_options(isolation_level="REPEATABLE READ")
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Alone among writers until the end; all of it is kept, or on any error nothing."""
        with _told(self._place), _writer(self._engine) as connection:
            if connection.dialect.name != "sqlite":
                connection.execute(select(journal_end.c.number).with_for_update())
            yield connection


def append(connection: Connection, entry: Entry) -> int:
    """Writes an entry and its row, and gives its number. Only within `Database.writing`."""
    end = connection.execute(select(journal_end.c.number, journal_end.c.seal)).one_or_none()
    if end is None:
        raise Damaged("the end of the journal is gone; run seamtriage verify")
    number = end.number + 1
    seal = seal_of(number, entry.hash, end.seal)
    connection.execute(
        insert(journal).values(
            number=number,
            lot=entry.lot,
            position=entry.position,
            what=entry.what.value,
            by=entry.by,
            at=entry.at,
            body=entry.body,
            previous=entry.previous,
            hash=entry.hash,
            seal=seal,
        )
    )
    connection.execute(insert(TABLES[entry.what]).values(row_of(entry, number)))
    moved = connection.execute(
        update(journal_end)
        .where(journal_end.c.one == 1, journal_end.c.number == end.number)
        .values(number=number, seal=seal)
    )
    if moved.rowcount != 1:
        raise Unreachable("somebody else wrote at the same moment; try again")
    return number


def _engine(place: Place) -> Engine:
    try:
        if place.file is None:
            engine = create_engine(place.url, pool_pre_ping=True)
            if engine.dialect.name == "postgresql":
                event.listen(engine, "connect", _on_postgres_connect)
            return engine
        place.file.parent.mkdir(parents=True, exist_ok=True)
        engine = create_engine(place.url, connect_args={"timeout": _WAIT_S})
    except (NoSuchModuleError, ImportError) as error:
        raise Unreachable(
            f"the driver for {place.url.drivername} is not installed ({error}); for PostgreSQL "
            'install seamtriage with its extra: pip install "seamtriage[postgres]"'
        ) from None
    except OSError as error:
        raise Unreachable(
            f"the folder {place.file.parent if place.file else ''} can't be made "
            f"({error.strerror}); name another with --records"
        ) from None
    event.listen(engine, "connect", _on_connect)
    event.listen(engine, "begin", _on_begin)
    return engine


def _on_connect(connection: Any, _record: Any) -> None:
    # None: the driver begins no transaction of its own accord, `_on_begin` does.
    connection.isolation_level = None
    for setting in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON"):
        connection.execute(f"PRAGMA {setting}")


def _on_postgres_connect(connection: Any, _record: Any) -> None:
    # Without it, a writer waits for ever behind one that hangs.
    connection.execute(f"SET lock_timeout = '{_WAIT_S}s'")
    connection.commit()


def _on_begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


@contextmanager
def _writer(engine: Engine) -> Iterator[Connection]:
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        yield connection


@contextmanager
def _told(place: Place) -> Iterator[None]:
    """Turns what the database says into an error of ours that tells what to do."""
    try:
        yield
    except OperationalError as error:
        where = _shown(place.url)
        if "locked" in str(error.orig) or _sqlstate(error) == _LOCK_NOT_AVAILABLE:
            raise Unreachable(
                f"{where}: another program has been writing for more than {_WAIT_S} s; wait for "
                "it, or close it"
            ) from error
        raise Unreachable(
            f"{where}: can't be used ({error.orig}); check the address, the disk and who may write"
        ) from error
    except IntegrityError as error:
        raise Unreachable(
            f"{_shown(place.url)}: the database refused the entry ({error.orig}); somebody else "
            "may have written at the same moment, so try again"
        ) from error
    except DBAPIError as error:
        if isinstance(error.orig, sqlite3.DatabaseError):
            raise Damaged(
                f"{_shown(place.url)}: {error.orig}; run seamtriage verify, or bring the file back "
                "from a copy"
            ) from error
        raise Unreachable(
            f"{_shown(place.url)}: {error.orig}; run seamtriage verify, or ask who keeps it"
        ) from error


def _sqlstate(error: DBAPIError) -> str | None:
    """What PostgreSQL calls the error in any language; None for another database."""
    return getattr(error.orig, "sqlstate", None)


def _shown(url: URL) -> str:
    """The address without its password."""
    return url.database or "" if url.get_backend_name() == "sqlite" else url.render_as_string()


def _bring_up_to_date(engine: Engine, place: Place) -> None:
    config = Config()
    config.set_main_option("script_location", str(_MIGRATIONS).replace("%", "%%"))
    script = ScriptDirectory.from_config(config)
    newest = script.get_current_head()
    with engine.connect() as connection:
        if MigrationContext.configure(connection).get_current_revision() == newest:
            return
    with _writer(engine) as connection:
        if connection.dialect.name == "postgresql":
            # Two programs may open an empty database at once; the number is only a name for this.
            connection.execute(text("SELECT pg_advisory_xact_lock(7370656)"))
        now = MigrationContext.configure(connection).get_current_revision()
        known = {each.revision for each in script.walk_revisions()}
        if now is not None and now not in known:
            raise RecordsError(
                f"{_shown(place.url)}: was written by a newer version of this program (tables "
                f"{now}, this version knows {newest}); install that version"
            )
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
