"""Installations to harm: copies of one that has come so far, in SQLite and in PostgreSQL."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from itertools import count
from pathlib import Path
from typing import Protocol

from sqlalchemy import URL, create_engine, text

from tests.faults.dying import live
from tests.faults.steps import OLD, STEPS, Site, give
from tests.ui.records import throwaway_postgres

OUTPUTS = {
    "report": ("lot.pdf", "notice.pdf", "request.txt", "readings.csv"),
    "screen": ("0.overlay.jpg", "0.seams.png"),
    "export": ("lot.zip",),
}


class Kind(Protocol):
    """Where the database of an installation comes from; `bare` is a state without one."""

    name: str

    def begun(self, state: str, site: Path) -> AbstractContextManager[str]:
        """The address of a new database, a copy of the one kept as `state`."""

    def kept(self, state: str, site: Path, address: str) -> None:
        """Keeps that database as `state`."""


class Sqlite:
    """A file in the installation's folder, copied with it."""

    name = "SQLite"

    def begun(self, state: str, site: Path) -> AbstractContextManager[str]:
        return nullcontext(str(site / "records.sqlite"))

    def kept(self, state: str, site: Path, address: str) -> None:
        pass


class Postgres:
    """Databases of a server that is started for this run."""

    name = "PostgreSQL"

    def __init__(self, url: URL) -> None:
        self._engine = create_engine(url, isolation_level="AUTOCOMMIT")
        self._names = (f"site_{number}" for number in count())

    @contextmanager
    def begun(self, state: str, site: Path) -> Iterator[str]:
        name = next(self._names)
        template = "template1" if state == "bare" else state
        self._say(f"CREATE DATABASE {name} TEMPLATE {template}")
        try:
            url = self._engine.url.set(database=name)
            yield url.render_as_string(hide_password=False)
        finally:
            self._say(f"DROP DATABASE {name} WITH (FORCE)")

    def kept(self, state: str, site: Path, address: str) -> None:
        self._say(
            f"CREATE DATABASE {state} TEMPLATE {address.rpartition('/')[2].partition('?')[0]}"
        )

    def _say(self, sql: str) -> None:
        with self._engine.connect() as connection:
            connection.execute(text(sql))

    def close(self) -> None:
        self._engine.dispose()


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
            for name in OUTPUTS.get(step, ()):
                (site.out / name).write_bytes(OLD)
            yield site

    def _make(self, state: str) -> None:
        step = next(name for name, each in STEPS.items() if each.leaves == state)
        with self.before(step) as site:
            life = live(step, site)
            assert life.code == 0, f"{step}: {life.complained}"
            shutil.copytree(site.folder, self._folder / state)
            self.kind.kept(state, site.folder, site.address)
        self._states.add(state)


@contextmanager
def postgres() -> Iterator[Kind | None]:
    """PostgreSQL where it is installed, else None."""
    binaries = throwaway_postgres.binaries()
    if binaries is None:
        yield None
        return
    with throwaway_postgres.running(binaries) as url:
        kind = Postgres(url)
        try:
            yield kind
        finally:
            kind.close()
