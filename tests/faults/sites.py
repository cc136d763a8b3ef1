"""Installations to harm: copies of one that has come so far, in SQLite and in PostgreSQL."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from functools import partial
from itertools import count
from pathlib import Path
from typing import Protocol

from sqlalchemy import URL, NullPool, create_engine, make_url, text

from tests.faults.dying import live
from tests.faults.steps import OLD, STEPS, Site, give
from tests.ui.records import throwaway_postgres

OVERWRITTEN = {
    "report": ("lot.pdf", "notice.pdf", "request.txt", "readings.csv"),
    "screen": ("0.overlay.jpg", "0.seams.png"),
    "export": ("lot.zip",),
}


class Kind(Protocol):
    """Where the database of an installation comes from; `bare` is a state without one."""

    name: str

    def begun(self, state: str, folder: Path) -> AbstractContextManager[str]:
        """The address of a new database, a copy of the one kept as `state`."""

    def kept(self, state: str, address: str) -> None:
        """Keeps that database as `state`."""


class Sqlite:
    """A file in the installation's folder, copied with it."""

    name = "SQLite"

    def begun(self, state: str, folder: Path) -> AbstractContextManager[str]:  # noqa: ARG002
        return nullcontext(str(folder / "records.sqlite"))

    def kept(self, state: str, address: str) -> None:
        pass


_database_names = (f"site_{number}" for number in count())


class Postgres:
    """Databases of a running server, of which the address of one is given."""

    name = "PostgreSQL"

    def __init__(self, url: URL) -> None:
        self._url = url
        self._states = {"bare": "template1"}

    @contextmanager
    def begun(self, state: str, folder: Path) -> Iterator[str]:  # noqa: ARG002
        name = next(_database_names)
        self._say(f"CREATE DATABASE {name} TEMPLATE {self._states[state]}")
        try:
            yield self._url.set(database=name).render_as_string(hide_password=False)
        finally:
            self._say(f"DROP DATABASE {name} WITH (FORCE)")

    def kept(self, state: str, address: str) -> None:
        self._states[state] = next(_database_names)
        come_to = make_url(address).database
        self._say(f"CREATE DATABASE {self._states[state]} TEMPLATE {come_to}")

    def _say(self, sql: str) -> None:
        engine = create_engine(self._url, isolation_level="AUTOCOMMIT", poolclass=NullPool)
        with engine.connect() as connection:
            connection.execute(text(sql))


class Sites:
    """Copies of installations in each state, each state made once by the steps that lead to it."""

    def __init__(self, kind: Kind, folder: Path) -> None:
        self.kind = kind
        self._folder = folder
        self._names = (f"site-{number}" for number in count())
        self._states = {"bare"}
        give(folder / "bare" / "in")

    @contextmanager
    def at(self, state: str) -> Iterator[Site]:
        """An installation in that state, thrown away at the end."""
        if state not in self._states:
            self._make(state)
        folder = self._folder / next(self._names)
        shutil.copytree(self._folder / state, folder)
        try:
            with self.kind.begun(state, folder) as address:
                yield Site(address=address, folder=folder)
        finally:
            shutil.rmtree(folder, ignore_errors=True)

    @contextmanager
    def before(self, step: str) -> Iterator[Site]:
        """An installation as that step finds it; something stands already where it writes."""
        with self.at(STEPS[step].begins) as site:
            if step == "import":
                with self.at("exported") as exported:
                    shutil.copy(exported.out / "lot.zip", site.given / "lot.zip")
            site.out.mkdir(exist_ok=True)
            for name in OVERWRITTEN.get(step, ()):
                (site.out / name).write_bytes(OLD)
            yield site

    def _make(self, state: str) -> None:
        step = next(name for name, each in STEPS.items() if each.leaves == state)
        with self.before(step) as site:
            life = live(step, site)
            assert life.code == 0, f"{step}: {life.complained}"
            shutil.copytree(site.folder, self._folder / state)
            self.kind.kept(state, site.address)
        self._states.add(state)


@contextmanager
def kinds() -> Iterator[list[Callable[[], Kind]]]:
    """What makes a kind: SQLite, and PostgreSQL where it is installed."""
    binaries = throwaway_postgres.binaries()
    if binaries is None:
        print("PostgreSQL is not installed, so it was not tried", file=sys.stderr)
        yield [Sqlite]
        return
    with throwaway_postgres.running(binaries) as url:
        yield [Sqlite, partial(Postgres, url)]
