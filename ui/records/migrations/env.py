"""Run by Alembic: brings the database of a given connection up to date.

`ui.records.database` hands the connection over and owns its transaction.
"""

from __future__ import annotations

from alembic import context

from ui.records.tables import metadata


def run() -> None:
    """Runs the migrations that Alembic chose, on the connection that it was given."""
    context.configure(
        connection=context.config.attributes["connection"],
        target_metadata=metadata,
        transactional_ddl=False,
    )
    context.run_migrations()


if __name__ == "env_py":  # the name that Alembic loads this file by
    run()
