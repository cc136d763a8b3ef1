"""All that is recorded of one piece, the piece list of a lot, and the list of lots."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from typing import Any, TypeVar

from sqlalchemy import Column, Connection, Row, Table, func, select

from fittings.words import Kind, Reading
from ui.records import rows, tables, terms, views
from ui.records.chain import Entry

Result = TypeVar("Result")


def piece_file(connection: Connection, uid: str) -> terms.PieceFile:
    """All that is recorded of a piece; NotRecorded without one."""
    piece = views.one_piece(connection, uid)
    places, lines, answers = tables.placements, tables.order_lines, tables.certificate_answers
    ever_here = select(places.c.photo).where(places.c.piece == uid)
    photos = tuple(
        photo
        for photo in views.photos_of(connection, tables.photos.c.uid.in_(ever_here))
        if photo.piece == uid
    )
    of_these = tables.readings.c.photo.in_([photo.uid for photo in photos])
    readings = views.newest(connection, tables.readings, tables.readings.c.photo, of_these)
    line = views.entries_in(connection, lines, lines.c.uid == piece.order_line)
    certificate = views.entries_in(connection, answers, answers.c.order_line == piece.order_line)

    def of_piece(table: Table, make: Callable[[Entry, int], Result]) -> tuple[Result, ...]:
        return views.made(views.entries_in(connection, table, table.c.piece == uid), make)

    return terms.PieceFile(
        lot=views.lot_of(connection, piece.lot),
        piece=piece,
        order_line=views.made(line, rows.line_of)[0] if line else None,
        photos=photos,
        readings=views.made(readings, rows.reading_of),
        piece_readings=of_piece(tables.piece_readings, rows.piece_reading_of),
        certificate=views.made(certificate, rows.answer_of),
        measurements=of_piece(tables.measurements, rows.measurement_of),
        checks=of_piece(tables.checks, rows.check_of),
        decisions=of_piece(tables.decisions, rows.decided_of),
        number=_newest_about(connection, piece, (*readings, *certificate)),
    )


def _newest_about(
    connection: Connection, piece: terms.Piece, others: Iterable[views.Numbered]
) -> int:
    """The number of the newest entry about a piece, photos that came or went included."""
    numbers = [piece.number, *(number for _, number in others)]
    places = tables.placements
    moved = select(places.c.photo).where(places.c.piece == piece.uid)
    numbers.append(_last(connection, places, places.c.photo.in_(moved)))
    for table in (tables.piece_readings, tables.measurements, tables.checks, tables.decisions):
        numbers.append(_last(connection, table, table.c.piece == piece.uid))
    return max(numbers)


def _last(connection: Connection, table: Table, where: Any) -> int:
    return connection.execute(select(func.max(table.c.number)).where(where)).scalar() or 0


def piece_list(connection: Connection, lot: str) -> tuple[terms.PieceSummary, ...]:
    """The pieces of a lot, the most suspect first, those without a reading last."""
    places, readings = tables.placements, tables.readings
    photo_rows = _newest_rows(connection, places, places.c.photo, lot)
    reading_by_photo = {
        row.photo: row for row in _newest_rows(connection, readings, readings.c.photo, lot)
    }
    photos: Counter[str] = Counter()
    came: Counter[str] = Counter()
    read: dict[str, list[Row[Any]]] = defaultdict(list)
    for row in photo_rows:
        if row.piece is not None:
            photos[row.piece] += 1
            came[row.piece] = max(came[row.piece], row.number)
            reading = reading_by_photo.get(row.photo)
            if reading is not None and reading.word is not None:
                read[row.piece].append(reading)
    table = tables.piece_readings
    together = {row.piece: row for row in _newest_rows(connection, table, table.c.piece, lot)}
    checks = Counter(
        connection.execute(
            select(tables.checks.c.piece).where(tables.checks.c.lot == lot)
        ).scalars()
    )
    decisions = tables.decisions
    decided = {
        each.piece: each
        for each in views.made(
            views.newest(connection, decisions, decisions.c.piece, decisions.c.lot == lot),
            rows.decided_of,
        )
    }
    kinds = {
        line.uid: line.line.form.kind
        for line in views.made(
            views.entries_in(connection, tables.order_lines, tables.order_lines.c.lot == lot),
            rows.line_of,
        )
    }
    found = []
    for piece in views.pieces_of(connection, tables.pieces.c.lot == lot):
        worst = max(read[piece.uid], key=lambda row: row.fabricated_probability, default=None)
        said = together.get(piece.uid, worst)
        if said is not None and worst is not None and came[piece.uid] > said.number:
            # A photo that came after they were read together, and is more suspect, stands first.
            said = max((said, worst), key=lambda row: row.fabricated_probability)
        ordered = kinds.get(piece.order_line or "")
        found.append(
            terms.PieceSummary(
                piece=piece,
                kind=ordered or _kind_of_most(read[piece.uid]),
                photos=photos[piece.uid],
                photos_read=len(read[piece.uid]),
                word=None if said is None else Reading(said.word),
                fabricated_probability=None if said is None else said.fabricated_probability,
                checks=checks[piece.uid],
                decision=decided.get(piece.uid),
            )
        )
    return tuple(sorted(found, key=_suspicion))


def _kind_of_most(read: list[Row[Any]]) -> Kind | None:
    """The kind that most of these readings say, "none" only where all do; None without one."""
    kinds = Counter(row.kind for row in read)
    named = [kind for kind in kinds if kind != Kind.NONE.value] or list(kinds)
    return Kind(max(named, key=lambda kind: (kinds[kind], kind))) if named else None


def lot_list(connection: Connection) -> tuple[terms.LotSummary, ...]:
    """Every lot in a line, by name."""
    found = views.made(views.newest(connection, tables.lots, tables.lots.c.lot), rows.lot_of)
    of_lot = select(tables.photos.c.lot, func.count()).group_by(tables.photos.c.lot)
    photos = {row[0]: row[1] for row in connection.execute(of_lot)}
    lots = sorted(found, key=lambda lot: lot.name)
    return tuple(
        _lot_summary(lot, piece_list(connection, lot.uid), photos.get(lot.uid, 0)) for lot in lots
    )


def _lot_summary(
    lot: terms.Lot, pieces: tuple[terms.PieceSummary, ...], photos: int
) -> terms.LotSummary:
    decided = Counter(each.decision.decision for each in pieces if each.decision is not None)
    return terms.LotSummary(
        lot=lot,
        pieces=len(pieces),
        photos=photos,
        flagged=sum(each.word is Reading.FABRICATION_SEAM for each in pieces),
        checked=sum(each.checks > 0 for each in pieces),
        held=decided[terms.Decision.HOLD],
        released=decided[terms.Decision.RELEASE],
        returned=decided[terms.Decision.RETURN],
    )


def _suspicion(summary: terms.PieceSummary) -> tuple[float, str]:
    probability = summary.fabricated_probability
    return (1.0 if probability is None else -probability, summary.piece.tag)


def _newest_rows(connection: Connection, table: Table, by: Column[Any], lot: str) -> list[Row[Any]]:
    last = select(func.max(table.c.number)).where(table.c.lot == lot).group_by(by)
    query = select(table).where(table.c.number.in_(last)).order_by(table.c.number)
    return list(connection.execute(query))
