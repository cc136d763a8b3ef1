"""The first tables: the journal, its end, and one table for each kind of entry."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

from ui.records.guards import guard_statements

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

_NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_UID = sa.String(32)
_SHA256 = sa.String(64)


def upgrade() -> None:
    op.create_table(
        "journal",
        sa.Column("number", _NUMBER, autoincrement=False, nullable=False),
        sa.Column("lot", _UID, nullable=False),
        sa.Column("position", _NUMBER, nullable=False),
        sa.Column("what", sa.String(20), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("at", sa.String(27), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("previous", _SHA256, nullable=False),
        sa.Column("hash", _SHA256, nullable=False),
        sa.Column("seal", _SHA256, nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_journal"),
        sa.UniqueConstraint("lot", "position", name="uq_journal_lot_position"),
    )
    end = op.create_table(
        "journal_end",
        sa.Column("one", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", _NUMBER, nullable=False),
        sa.Column("seal", _SHA256, nullable=False),
        sa.PrimaryKeyConstraint("one", name="pk_journal_end"),
    )
    op.bulk_insert(end, [{"one": 1, "number": 0, "seal": "0" * 64}])
    model = (("model_version", sa.Text()), ("model_sha256", _SHA256))
    _rows_of("lots", ("name", sa.Text()), ("yard", sa.Text()))
    _rows_of("order_lines", ("uid", _UID), indexes=("uid",))
    _rows_of(
        "pieces",
        ("uid", _UID),
        ("tag", sa.Text()),
        ("order_line?", _UID),
        ("finish", sa.Text()),
        indexes=("uid", "lot tag"),
    )
    _rows_of(
        "photos",
        ("uid", _UID),
        ("sha256", _SHA256),
        ("size_bytes", sa.BigInteger()),
        ("name", sa.Text()),
        ("source", sa.Text()),
        indexes=("uid", "sha256"),
    )
    _rows_of("placements", ("photo", _UID), ("piece?", _UID), indexes=("photo", "piece"))
    _rows_of(
        "readings",
        ("uid", _UID),
        ("photo", _UID),
        *model,
        ("word?", sa.String(20)),
        ("kind?", sa.String(20)),
        ("fabricated_probability?", sa.Float()),
        indexes=("uid", "photo"),
    )
    _rows_of(
        "piece_readings",
        ("uid", _UID),
        ("piece", _UID),
        *model,
        ("word", sa.String(20)),
        ("fabricated_probability", sa.Float()),
        indexes=("uid", "piece"),
    )
    _rows_of(
        "certificate_answers",
        ("order_line", _UID),
        ("key", sa.Text()),
        ("standing", sa.String(20)),
        indexes=("order_line",),
    )
    _rows_of(
        "measurements",
        ("piece", _UID),
        ("dimension", sa.Text()),
        ("value_mm", sa.Float()),
        indexes=("piece",),
    )
    _rows_of(
        "checks",
        ("uid", _UID),
        ("piece", _UID),
        ("key", sa.Text()),
        ("outcome", sa.String(20)),
        indexes=("uid", "piece"),
    )
    _rows_of("decisions", ("piece", _UID), ("decision", sa.String(20)), indexes=("piece",))
    guarded = (
        "journal",
        "lots",
        "order_lines",
        "pieces",
        "photos",
        "placements",
        "readings",
        "piece_readings",
        "certificate_answers",
        "measurements",
        "checks",
        "decisions",
    )
    for statement in guard_statements(op.get_bind().dialect.name, guarded):
        op.execute(statement)


def _rows_of(
    name: str, *columns: tuple[str, sa.types.TypeEngine[Any]], indexes: tuple[str, ...] = ()
) -> None:
    """A table of one kind of entry; "?" after a column's name lets it be empty."""
    op.create_table(
        name,
        sa.Column("number", _NUMBER, nullable=False),
        sa.Column("lot", _UID, nullable=False),
        *(sa.Column(each.rstrip("?"), kind, nullable=each.endswith("?")) for each, kind in columns),
        sa.PrimaryKeyConstraint("number", name=f"pk_{name}"),
        sa.ForeignKeyConstraint(["number"], ["journal.number"], name=f"fk_{name}_number"),
    )
    for index in ("lot", *indexes):
        names = index.split()
        op.create_index(f"ix_{name}_{'_'.join(names)}", name, names)
