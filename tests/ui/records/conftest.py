"""Records to test on: empty ones in SQLite and in PostgreSQL, and a lot with something in it.

Each kind is made once for the whole run; a test gets a copy.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from itertools import count
from pathlib import Path

import pytest
from sqlalchemy import URL, Engine, create_engine, text

from tests.ui.records import throwaway_postgres
from tests.ui.records.deliveries import Delivery, delivery
from ui.records import Records
from ui.records.places import Place

_names = (f"test_{number}" for number in count())


@dataclass(frozen=True, slots=True, kw_only=True)
class Server:
    """A running PostgreSQL with two databases to copy: `empty` and `filled`."""

    engine: Engine
    made: Delivery
    photos: Path

    @contextmanager
    def copied(self, template: str) -> Iterator[URL]:
        """The address of a new database that is a copy of `template`; dropped at the end."""
        name = next(_names)
        with self.engine.connect() as connection:
            # Much less to write than the other way; the only way there was before version 15.
            modern = (connection.dialect.server_version_info or (0,)) >= (15,)
            strategy = "STRATEGY file_copy" if modern else ""
            connection.execute(text(f"CREATE DATABASE {name} TEMPLATE {template} {strategy}"))
            try:
                yield self.engine.url.set(database=name)
            finally:
                connection.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))


@pytest.fixture(scope="session")
def postgres(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A PostgreSQL for this run. Where none is installed: a failure in CI, a skip elsewhere."""
    folder = throwaway_postgres.binaries()
    if folder is None:
        why = "PostgreSQL is not installed (apt-get install postgresql), so it was not tested"
        if os.environ.get("CI"):
            pytest.fail(why)
        pytest.skip(why)
    with throwaway_postgres.running(folder) as url:
        engine = create_engine(url, isolation_level="AUTOCOMMIT")
        with engine.connect() as connection:
            connection.execute(text("CREATE DATABASE empty"))
            Records(Place(url=url.set(database="empty"), photos=Path())).close()
            connection.execute(text("CREATE DATABASE filled TEMPLATE empty"))
        photos = tmp_path_factory.mktemp("postgres") / "photos"
        with Records(Place(url=url.set(database="filled"), photos=photos)) as records:
            made = delivery(records)
        yield Server(engine=engine, made=made, photos=photos)
        engine.dispose()


@pytest.fixture(scope="session")
def sqlite_filled(tmp_path_factory: pytest.TempPathFactory) -> tuple[Delivery, Path]:
    """A delivery in SQLite, and the folder that holds its file and its photos."""
    folder = tmp_path_factory.mktemp("sqlite")
    with Records(_sqlite(folder)) as records:
        return delivery(records), folder


def _sqlite(folder: Path) -> Place:
    url = URL.create("sqlite", database=str(folder / "records.sqlite"))
    return Place(url=url, photos=folder / "photos")


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Place]:
    """An empty place of each kind of database."""
    if request.param == "sqlite":
        yield _sqlite(tmp_path)
        return
    server: Server = request.getfixturevalue("postgres")
    with server.copied("empty") as url:
        yield Place(url=url, photos=tmp_path / "photos")


@pytest.fixture
def records(place: Place) -> Iterator[Records]:
    """Empty records."""
    with Records(place) as opened:
        yield opened


@pytest.fixture
def local(tmp_path: Path) -> Iterator[Records]:
    """Empty records in SQLite, for what does not depend on the database."""
    with Records(_sqlite(tmp_path / "local")) as opened:
        yield opened


@pytest.fixture(params=["sqlite", "postgresql"])
def filled(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Delivery]:
    """A lot with something of every kind, in each kind of database."""
    if request.param == "sqlite":
        yield request.getfixturevalue("local_filled")
        return
    server: Server = request.getfixturevalue("postgres")
    shutil.copytree(server.photos, tmp_path / "photos")
    with (
        server.copied("filled") as url,
        Records(Place(url=url, photos=tmp_path / "photos")) as records,
    ):
        yield replace(server.made, records=records)


@pytest.fixture
def local_filled(sqlite_filled: tuple[Delivery, Path], tmp_path: Path) -> Iterator[Delivery]:
    """The same in SQLite alone."""
    made, folder = sqlite_filled
    shutil.copytree(folder, tmp_path / "filled")
    with Records(_sqlite(tmp_path / "filled")) as records:
        yield replace(made, records=records)
