"""What the migrations make is what the program expects, and another version's tables are told."""

from __future__ import annotations

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import text

from tests.ui.records.deliveries import Delivery
from ui.records import Records, RecordsError
from ui.records.database import Database
from ui.records.guards import missing_guards
from ui.records.places import Place
from ui.records.tables import TABLES, metadata


def test_the_migrations_make_the_tables_that_the_program_expects(records: Records) -> None:
    with records._database.reading() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, metadata) == []
        names = ("journal", *(table.name for table in TABLES.values()))
        assert missing_guards(connection, names) == ()
        assert missing_guards(connection, ("no_such_table",)) != ()


def test_opening_again_changes_nothing(filled: Delivery) -> None:
    before = filled.records.entries(filled.lot.uid)
    with Records(filled.records.place) as again:
        assert again.entries(filled.lot.uid) == before
        assert again.verify().unbroken


def test_a_newer_programs_tables_are_left_alone(place: Place) -> None:
    Records(place).close()
    database = Database(place)
    with database.writing() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    database.close()
    with pytest.raises(RecordsError, match="newer version"):
        Records(place)


def test_sqlite_writes_ahead_and_waits_for_the_disk(local_filled: Delivery) -> None:
    with local_filled.records._database.reading() as connection:
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 2
        assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1
