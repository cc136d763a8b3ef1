"""Looking things up in the records. Everything is told oldest first."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from sqlalchemy import Column, ColumnElement, Connection, Row, Table, func, select

from ui.records import rows, tables, terms
from ui.records.chain import Entry, What
from ui.records.database import Database
from ui.records.errors import Damaged, NotRecorded
from ui.records.store import PhotoStore

Result = TypeVar("Result")
Numbered = tuple[Entry, int]


class Views:
    """The records as they are; `Records` adds to them."""

    def __init__(self, database: Database, store: PhotoStore) -> None:
        self._database = database
        self.store = store

    def lots(self) -> tuple[terms.Lot, ...]:
        """Every lot, as last described, by name."""
        with self._database.reading() as connection:
            found = made(newest(connection, tables.lots, tables.lots.c.lot), rows.lot_of)
        return tuple(sorted(found, key=lambda lot: lot.name))

    def lot(self, wanted: str) -> terms.Lot:
        """The lot of that uid, or of that name where only one has it. NotRecorded otherwise."""
        lots = self.lots()
        found = [lot for lot in lots if lot.uid == wanted] or [
            lot for lot in lots if lot.name == wanted
        ]
        if len(found) == 1:
            return found[0]
        if found:
            uids = ", ".join(lot.uid for lot in found)
            raise NotRecorded(f"several lots are called {wanted!r}; name one by its number: {uids}")
        names = ", ".join(repr(lot.name) for lot in lots[:20]) or "none yet"
        raise NotRecorded(f"there is no lot {wanted!r}; lots are: {names}")

    def order_lines(self, lot: str) -> tuple[terms.RecordedLine, ...]:
        """The order lines of a lot."""
        with self._database.reading() as connection:
            found = entries_in(connection, tables.order_lines, tables.order_lines.c.lot == lot)
        return made(found, rows.line_of)

    def pieces(self, lot: str) -> tuple[terms.Piece, ...]:
        """The pieces of a lot, as last described."""
        with self._database.reading() as connection:
            return pieces_of(connection, tables.pieces.c.lot == lot)

    def piece(self, uid: str) -> terms.Piece:
        """The piece of that uid; NotRecorded without one."""
        with self._database.reading() as connection:
            return one_piece(connection, uid)

    def find_piece(self, lot: str, tag: str) -> terms.Piece | None:
        """The piece of a lot that has this tag now, or None."""
        return next((each for each in self.pieces(lot) if each.tag == tag), None)

    def photos(self, lot: str) -> tuple[terms.Photo, ...]:
        """The photos of a lot, each with the piece that it was last matched to."""
        with self._database.reading() as connection:
            return photos_of(connection, tables.photos.c.lot == lot)

    def photo(self, uid: str) -> terms.Photo:
        """The photo of that uid; NotRecorded without one."""
        with self._database.reading() as connection:
            return one_photo(connection, uid)

    def unread_photos(self, lot: str, model_sha256: str) -> tuple[terms.Photo, ...]:
        """The photos of a lot that this model has not been tried on yet."""
        readings = tables.readings
        tried = select(readings.c.photo).where(
            readings.c.lot == lot, readings.c.model_sha256 == model_sha256
        )
        with self._database.reading() as connection:
            return photos_of(
                connection, tables.photos.c.lot == lot, tables.photos.c.uid.not_in(tried)
            )

    def readings(self, lot: str) -> tuple[terms.RecordedReading, ...]:
        """The newest reading of each photo of a lot."""
        with self._database.reading() as connection:
            found = newest(
                connection, tables.readings, tables.readings.c.photo, tables.readings.c.lot == lot
            )
        return made(found, rows.reading_of)

    def readings_of_photo(self, photo: str) -> tuple[terms.RecordedReading, ...]:
        """Every reading of one photo."""
        with self._database.reading() as connection:
            found = entries_in(connection, tables.readings, tables.readings.c.photo == photo)
        return made(found, rows.reading_of)

    def entries(self, lot: str) -> tuple[Entry, ...]:
        """The journal entries of a lot, in their order."""
        with self._database.reading() as connection:
            found = entries_in(connection, tables.journal, tables.journal.c.lot == lot)
        return tuple(entry for entry, _ in found)


def entry_of(row: Row[Any]) -> Entry:
    """The entry in a row of the journal; Damaged for a kind that is not known."""
    try:
        what = What(row.what)
    except ValueError:
        raise Damaged(
            f"entry {row.number} of the journal is of an unknown kind; run seamtriage verify"
        ) from None
    return Entry(
        lot=row.lot,
        position=row.position,
        what=what,
        by=row.by,
        at=row.at,
        body=row.body,
        previous=row.previous,
        hash=row.hash,
    )


def entries_in(connection: Connection, table: Table, *where: ColumnElement[bool]) -> list[Numbered]:
    """The entries behind the rows of `table` that meet `where`, with their numbers."""
    query = select(tables.journal).where(*where).order_by(tables.journal.c.number)
    if table is not tables.journal:
        query = query.join(table, table.c.number == tables.journal.c.number)
    return [(entry_of(row), row.number) for row in connection.execute(query)]


def newest(
    connection: Connection, table: Table, by: Column[Any], *where: ColumnElement[bool]
) -> list[Numbered]:
    """As `entries_in`, but only the newest row for each value of the column `by`."""
    last = select(func.max(table.c.number)).where(*where).group_by(by)
    return entries_in(connection, table, table.c.number.in_(last))


def made(found: list[Numbered], make: Callable[[Entry, int], Result]) -> tuple[Result, ...]:
    """The results of entries; Damaged for one whose facts are not what they should be."""
    results = []
    for entry, number in found:
        try:
            results.append(make(entry, number))
        except (KeyError, TypeError, ValueError) as error:
            raise Damaged(
                f"entry {number} of the journal ({entry.what.value}) can't be understood "
                f"({type(error).__name__}: {error}); run seamtriage verify"
            ) from error
    return tuple(results)


def pieces_of(connection: Connection, *where: ColumnElement[bool]) -> tuple[terms.Piece, ...]:
    """The newest description of each piece that meets `where`."""
    found = newest(connection, tables.pieces, tables.pieces.c.uid, *where)
    return made(found, rows.piece_of)


def one_piece(connection: Connection, uid: str) -> terms.Piece:
    """NotRecorded without one."""
    found = pieces_of(connection, tables.pieces.c.uid == uid)
    if not found:
        raise NotRecorded(f"there is no piece {uid!r}")
    return found[0]


def photos_of(connection: Connection, *where: ColumnElement[bool]) -> tuple[terms.Photo, ...]:
    """The photos that meet `where` (of `tables.photos`), with their newest placements."""
    found = entries_in(connection, tables.photos, *where)
    lots = {entry.lot for entry, _ in found}
    places = tables.placements
    last = select(func.max(places.c.number)).where(places.c.lot.in_(lots)).group_by(places.c.photo)
    query = select(places.c.photo, places.c.piece).where(places.c.number.in_(last))
    piece_by_photo = {row.photo: row.piece for row in connection.execute(query)}
    return made(
        found,
        lambda entry, number: rows.photo_of(entry, number, piece_by_photo.get(entry.facts["uid"])),
    )


def one_photo(connection: Connection, uid: str) -> terms.Photo:
    """NotRecorded without one."""
    found = photos_of(connection, tables.photos.c.uid == uid)
    if not found:
        raise NotRecorded(f"there is no photo {uid!r}")
    return found[0]


def lot_of(connection: Connection, uid: str) -> terms.Lot:
    """NotRecorded without one."""
    found = newest(connection, tables.lots, tables.lots.c.lot, tables.lots.c.lot == uid)
    if not found:
        raise NotRecorded(f"there is no lot {uid!r}")
    return made(found, rows.lot_of)[0]
