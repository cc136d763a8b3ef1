"""The tables, as SQLAlchemy sees them. What lies in a database is made by `migrations/` alone.

The journal holds every entry in full. Each other table holds one kind of entry, one row for each,
under the entry's own number, with the columns that are looked things up by: it is worked out from
the journal (`ui.records.rows`), and `seamtriage verify` works it out again. Only rows are added;
triggers refuse the rest. The newest row about a thing is the one that stands.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

from ui.records.chain import What

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)

_NUMBER = BigInteger().with_variant(Integer, "sqlite")
_UID = String(32)
_SHA256 = String(64)

journal = Table(
    "journal",
    metadata,
    Column("number", _NUMBER, primary_key=True, autoincrement=False),
    Column("lot", _UID, nullable=False),
    Column("position", _NUMBER, nullable=False),
    Column("what", String(20), nullable=False),
    Column("by", Text, nullable=False),
    Column("at", String(27), nullable=False),
    Column("body", Text, nullable=False),
    Column("previous", _SHA256, nullable=False),
    Column("hash", _SHA256, nullable=False),
    Column("seal", _SHA256, nullable=False),
    UniqueConstraint("lot", "position"),
)

# One row, changed with every entry: how far the journal goes. Locking it puts writers in a row, and
# it tells when the end of the journal is gone.
journal_end = Table(
    "journal_end",
    metadata,
    Column("one", Integer, primary_key=True, autoincrement=False),
    Column("number", _NUMBER, nullable=False),
    Column("seal", _SHA256, nullable=False),
)


def _rows_of(name: str, *columns: Column[object], indexes: tuple[tuple[str, ...], ...]) -> Table:
    table = Table(
        name,
        metadata,
        Column("number", _NUMBER, ForeignKey("journal.number"), primary_key=True),
        Column("lot", _UID, nullable=False),
        *columns,
    )
    for names in (("lot",), *indexes):
        Index(None, *(table.c[each] for each in names))
    return table


def _uid(name: str = "uid", *, nullable: bool = False) -> Column[object]:
    return Column(name, _UID, nullable=nullable)


def _text(name: str) -> Column[object]:
    return Column(name, Text, nullable=False)


def _model() -> tuple[Column[object], ...]:
    return (_text("model_version"), Column("model_sha256", _SHA256, nullable=False))


lots = _rows_of("lots", _text("name"), _text("yard"), indexes=())
order_lines = _rows_of("order_lines", _uid(), indexes=(("uid",),))
pieces = _rows_of(
    "pieces",
    _uid(),
    _text("tag"),
    _uid("order_line", nullable=True),
    _text("finish"),
    indexes=(("uid",), ("lot", "tag")),
)
photos = _rows_of(
    "photos",
    _uid(),
    Column("sha256", _SHA256, nullable=False),
    Column("size_bytes", BigInteger, nullable=False),
    _text("name"),
    _text("source"),
    indexes=(("uid",), ("sha256",)),
)
placements = _rows_of(
    "placements", _uid("photo"), _uid("piece", nullable=True), indexes=(("photo",), ("piece",))
)
readings = _rows_of(
    "readings",
    _uid(),
    _uid("photo"),
    *_model(),
    Column("word", String(20)),
    Column("kind", String(20)),
    Column("fabricated_probability", Float),
    indexes=(("uid",), ("photo",)),
)
piece_readings = _rows_of(
    "piece_readings",
    _uid(),
    _uid("piece"),
    *_model(),
    Column("word", String(20), nullable=False),
    Column("fabricated_probability", Float, nullable=False),
    indexes=(("uid",), ("piece",)),
)
certificate_answers = _rows_of(
    "certificate_answers",
    _uid("order_line"),
    _text("key"),
    Column("standing", String(20), nullable=False),
    indexes=(("order_line",),),
)
measurements = _rows_of(
    "measurements",
    _uid("piece"),
    _text("dimension"),
    Column("value_mm", Float, nullable=False),
    indexes=(("piece",),),
)
checks = _rows_of(
    "checks",
    _uid(),
    _uid("piece"),
    _text("key"),
    Column("outcome", String(20), nullable=False),
    indexes=(("uid",), ("piece",)),
)
decisions = _rows_of(
    "decisions",
    _uid("piece"),
    Column("decision", String(20), nullable=False),
    indexes=(("piece",),),
)

TABLES: dict[What, Table] = {
    What.LOT: lots,
    What.ORDER_LINE: order_lines,
    What.PIECE: pieces,
    What.PHOTO: photos,
    What.PLACEMENT: placements,
    What.READING: readings,
    What.PIECE_READING: piece_readings,
    What.CERTIFICATE: certificate_answers,
    What.MEASUREMENT: measurements,
    What.CHECK: checks,
    What.DECISION: decisions,
}
