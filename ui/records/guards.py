"""Triggers by which the database itself refuses to change or remove what was recorded.

SQLite and PostgreSQL have them here; for another database the journal's chain alone tells. The
first migration sets them by `guard_statements`, so a change of those needs a migration of its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sqlalchemy import Connection, text

_MESSAGE = "records are only added, never changed or removed"


def guard_names(table: str) -> tuple[str, str]:
    """The triggers that a table must have."""
    return (f"{table}_never_changed", f"{table}_never_removed")


def guard_statements(dialect: str, tables: Iterable[str]) -> Iterator[str]:
    """The SQL that sets the triggers on `tables`; nothing for a database without them here."""
    if dialect == "postgresql":
        yield (
            "CREATE OR REPLACE FUNCTION records_only_added() RETURNS trigger AS "
            f"$$ BEGIN RAISE EXCEPTION '{_MESSAGE}'; END; $$ LANGUAGE plpgsql"
        )
    for table in tables:
        changed, removed = guard_names(table)
        if dialect == "sqlite":
            for name, event in ((changed, "UPDATE"), (removed, "DELETE")):
                yield (
                    f'CREATE TRIGGER "{name}" BEFORE {event} ON "{table}" '
                    f"BEGIN SELECT RAISE(ABORT, '{_MESSAGE}'); END"
                )
        elif dialect == "postgresql":
            yield (
                f'CREATE TRIGGER "{changed}" BEFORE UPDATE ON "{table}" '
                "FOR EACH ROW EXECUTE FUNCTION records_only_added()"
            )
            yield (
                f'CREATE TRIGGER "{removed}" BEFORE DELETE OR TRUNCATE ON "{table}" '
                "FOR EACH STATEMENT EXECUTE FUNCTION records_only_added()"
            )


def missing_guards(connection: Connection, tables: Iterable[str]) -> tuple[str, ...]:
    """The triggers that should be there and are not, or are switched off."""
    dialect = connection.dialect.name
    if dialect == "sqlite":
        found = connection.execute(text("SELECT name FROM sqlite_master WHERE type = 'trigger'"))
    elif dialect == "postgresql":
        found = connection.execute(text("SELECT tgname FROM pg_trigger WHERE tgenabled <> 'D'"))
    else:
        return ()
    there = {row[0] for row in found}
    return tuple(name for table in tables for name in guard_names(table) if name not in there)
