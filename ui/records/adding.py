"""Adding lots, order lines, pieces and photos; `ui.records.records` adds what is found of them."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, select

from fittings.order.lines import OrderLine
from ui.records import rows, tables, terms, views
from ui.records.chain import Entry, What, next_entry
from ui.records.database import Database, append
from ui.records.errors import NotRecorded, NotTaken
from ui.records.line_json import line_facts
from ui.records.shapes import shape_problem
from ui.records.store import PhotoStore
from ui.records.texts import as_named, said, utc_text

Clock = Callable[[], datetime]


def utc_now() -> datetime:
    """What the machine's clock says."""
    return datetime.now(UTC)


class Adding(views.Views):
    """Records to which lots and what is in them can be added. See `ui.records.records.Records`."""

    def __init__(self, database: Database, store: PhotoStore, clock: Clock) -> None:
        super().__init__(database, store)
        self._clock = clock

    def open_lot(
        self, name: str, *, by: str, yard: str = "", order_name: str = "", note: str = ""
    ) -> terms.Lot:
        """A new lot. NotTaken for a name that another lot has already."""
        facts = _lot_facts(name, yard, order_name, note)
        with self._database.writing() as connection:
            taken = select(tables.lots.c.lot).where(tables.lots.c.name == facts["name"])
            if connection.execute(taken).first() is not None:
                raise NotTaken("name", f"there is a lot {facts['name']!r} already; name it apart")
            entry, number = self._add(connection, new_uid(), What.LOT, by, facts)
        return rows.lot_of(entry, number)

    def describe_lot(
        self, lot: str, name: str, *, by: str, yard: str = "", order_name: str = "", note: str = ""
    ) -> terms.Lot:
        """A new description of a lot; the earlier ones stay in the journal."""
        facts = _lot_facts(name, yard, order_name, note)
        with self._database.writing() as connection:
            _there(connection, lot)
            entry, number = self._add(connection, lot, What.LOT, by, facts)
        return rows.lot_of(entry, number)

    def add_order_lines(
        self, lot: str, lines: Iterable[OrderLine], *, by: str, source: str = ""
    ) -> tuple[terms.RecordedLine, ...]:
        """The lines of an order, all or none."""
        with self._database.writing() as connection:
            _there(connection, lot)
            added = [
                self._add(
                    connection,
                    lot,
                    What.ORDER_LINE,
                    by,
                    {"uid": new_uid(), "line": line_facts(line), "source": as_named(source)},
                )
                for line in lines
            ]
        return views.made(added, rows.line_of)

    def add_piece(
        self, lot: str, tag: str, *, by: str, order_line: str | None = None, finish: str = ""
    ) -> terms.Piece:
        """A piece. NotTaken for a tag that another piece of the lot has."""
        with self._database.writing() as connection:
            _there(connection, lot)
            facts = _piece_facts(connection, lot, new_uid(), tag, order_line, finish)
            entry, number = self._add(connection, lot, What.PIECE, by, facts)
        return rows.piece_of(entry, number)

    def describe_piece(
        self, piece: str, tag: str, *, by: str, order_line: str | None, finish: str
    ) -> terms.Piece:
        """A new description of a piece; the earlier ones stay in the journal."""
        with self._database.writing() as connection:
            lot = views.one_piece(connection, piece).lot
            facts = _piece_facts(connection, lot, piece, tag, order_line, finish)
            entry, number = self._add(connection, lot, What.PIECE, by, facts)
        return rows.piece_of(entry, number)

    def add_photo(
        self,
        lot: str,
        data: bytes,
        name: str,
        *,
        by: str,
        source: str = "",
        piece: str | None = None,
    ) -> terms.Photo:
        """Keeps a photo's bytes, then its entry; `source` is where it came from, else its name.

        The same bytes from the same source are one photo, however often they come: then the photo
        recorded earlier is given, and nothing is added. The same bytes from elsewhere are another
        photo, because a picture handed in for two pieces is worth seeing.
        """
        name = as_named(name)
        source = as_named(source) or name
        sha256 = self.store.keep(data)
        known = tables.photos
        with self._database.writing() as connection:
            _there(connection, lot)
            same = (known.c.lot == lot, known.c.sha256 == sha256, known.c.source == source)
            if earlier := views.photos_of(connection, *same):
                return earlier[0]
            if piece is not None:
                _in_lot(connection, piece, lot)
            facts = {
                "uid": new_uid(),
                "sha256": sha256,
                "size_bytes": len(data),
                "name": name,
                "source": source,
            }
            entry, number = self._add(connection, lot, What.PHOTO, by, facts)
            if piece is not None:
                placed = {"photo": facts["uid"], "piece": piece}
                self._add(connection, lot, What.PLACEMENT, by, placed)
        return rows.photo_of(entry, number, piece)

    def place_photo(self, photo: str, piece: str | None, *, by: str) -> terms.Photo:
        """Matches a photo to a piece of its lot, or to none; nothing is added where it is so."""
        with self._database.writing() as connection:
            known = views.one_photo(connection, photo)
            if piece is not None:
                _in_lot(connection, piece, known.lot)
            if known.piece != piece:
                facts = {"photo": photo, "piece": piece}
                self._add(connection, known.lot, What.PLACEMENT, by, facts)
            return views.one_photo(connection, photo)

    def _add(
        self, connection: Connection, lot: str, what: What, by: str, facts: Mapping[str, Any]
    ) -> tuple[Entry, int]:
        try:
            entry = next_entry(
                last_entry(connection, lot),
                lot=lot,
                what=what,
                by=said("by", by),
                at=utc_text(self._clock()),
                facts=facts,
            )
        except ValueError as error:
            raise NotTaken(what.value, f"it can't be written as JSON ({error})") from error
        if problem := shape_problem(entry):
            raise NotTaken(what.value, problem)
        return entry, append(connection, entry)


def last_entry(connection: Connection, lot: str) -> Entry | None:
    """The newest entry of a lot, None for a lot without any."""
    journal = tables.journal
    query = select(journal).where(journal.c.lot == lot)
    row = connection.execute(query.order_by(journal.c.position.desc()).limit(1)).one_or_none()
    return None if row is None else views.entry_of(row)


def new_uid() -> str:
    return uuid.uuid4().hex


def _lot_facts(name: str, yard: str, order_name: str, note: str) -> dict[str, str]:
    return {
        "name": said("name", name),
        "yard": said("yard", yard, may_be_empty=True),
        "order_name": said("order_name", order_name, may_be_empty=True),
        "note": said("note", note, long=True, may_be_empty=True),
    }


def _piece_facts(
    connection: Connection, lot: str, uid: str, tag: str, order_line: str | None, finish: str
) -> dict[str, Any]:
    tag = said("tag", tag)
    same_tag = (tables.pieces.c.lot == lot, tables.pieces.c.tag == tag)
    for other in connection.execute(select(tables.pieces.c.uid).where(*same_tag)):
        if other.uid != uid and views.one_piece(connection, other.uid).tag == tag:
            raise NotTaken("tag", f"there is a piece {tag!r} in this lot already")
    if order_line is not None and line_lot(connection, order_line) != lot:
        raise NotTaken("order_line", "belongs to another lot")
    return {
        "uid": uid,
        "tag": tag,
        "order_line": order_line,
        "finish": said("finish", finish, may_be_empty=True),
    }


def _there(connection: Connection, lot: str) -> None:
    if last_entry(connection, lot) is None:
        raise NotRecorded(f"there is no lot {lot!r}")


def _in_lot(connection: Connection, piece: str, lot: str) -> None:
    if views.one_piece(connection, piece).lot != lot:
        raise NotTaken("piece", "belongs to another lot")


def line_lot(connection: Connection, order_line: str) -> str:
    lines = tables.order_lines
    found = connection.execute(select(lines.c.lot).where(lines.c.uid == order_line)).first()
    if found is None:
        raise NotRecorded(f"there is no order line {order_line!r}")
    return str(found.lot)
