"""What people do on the pages, as one call each that gives a line to show: done, or why not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from fittings.receiving.review import Standing
from ui.order_files import OrderFileError, read_order_bytes
from ui.records import (
    Decision,
    NotTaken,
    Outcome,
    Photo,
    PieceFile,
    Records,
    RecordsError,
)
from ui.records.rules import PROGRAM
from ui.screening import Progress
from ui.together import ViewingReader, record_together
from ui.trade.answers import TradeTrouble, length_entered

NO_NAME = "Write your name first: it stands beside everything that you record."


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What came of it, in one line; `done` says whether it was recorded."""

    text: str
    done: bool


def open_lot(records: Records, name: str, yard: str, note: str, by: str) -> tuple[Said, str]:
    """A new lot, and its uid ("" where it could not be)."""
    opened: list[str] = []

    def add() -> str:
        opened.append(records.open_lot(name, yard=yard, note=note, by=by).uid)
        return f"The lot {name} is open."

    said = _done(by, add)
    return said, opened[0] if opened else ""


def add_order(records: Records, lot: str, data: bytes, name: str, by: str) -> Said:
    """The lines of an order file; rows that could not be read are counted."""

    def add() -> str:
        read = read_order_bytes(data, name)
        lines = [each.line for each in read.lines]
        if not lines:
            raise NotTaken("order", "no line of it could be read; check it on the trade page")
        records.add_order_lines(lot, lines, source=name, by=by)
        left = f"; {len(read.errors)} could not be read" if read.errors else ""
        return f"Order lines added: {len(lines)}{left}."

    return _done(by, add)


def add_piece(records: Records, lot: str, tag: str, order_line: str | None, by: str) -> Said:
    """A piece with its tag."""

    def add() -> str:
        records.add_piece(lot, tag, order_line=order_line, by=by)
        return f"Piece {tag} added."

    return _done(by, add)


def describe_piece(
    records: Records, piece: str, order_line: str | None, finish: str, by: str
) -> Said:
    """Sets a piece against an order line and says its finish."""

    def add() -> str:
        known = records.piece(piece)
        records.describe_piece(piece, known.tag, order_line=order_line, finish=finish, by=by)
        return f"{known.tag} is described anew."

    return _done(by, add)


def place_photo(records: Records, photo: Photo, tag: str, by: str) -> Said:
    """Matches a photo by hand to the piece of that tag, made now where the lot has none."""

    def add() -> str:
        piece = records.find_piece(photo.lot, tag) or records.add_piece(photo.lot, tag, by=by)
        records.place_photo(photo.uid, piece.uid, by=by)
        return f"{photo.name} is placed with {piece.tag}."

    return _done(by, add)


def record_check(
    records: Records, piece: str, key: str, outcome: Outcome, note: str, by: str
) -> Said:
    """A physical check that somebody did."""

    def add() -> str:
        records.record_check(piece, key, outcome, note=note, by=by)
        return f"Check recorded: {outcome.title.lower()}."

    return _done(by, add)


def answer_certificate(
    records: Records, order_line: str, key: str, standing: Standing, note: str, by: str
) -> Said:
    """What somebody found in the papers of an order line for one item."""

    def add() -> str:
        records.answer_certificate(order_line, key, standing, by=by, note=note)
        return f"Recorded: {key}, {standing.value}."

    return _done(by, add)


def record_measurement(
    records: Records, piece: str, dimension: str, length: str, note: str, by: str
) -> Said:
    """A measured length, written with its unit."""

    def add() -> str:
        value_mm = length_entered(length)
        records.measure(piece, dimension, value_mm, note=note, by=by)
        return f"Measurement recorded: {dimension} {value_mm:.4g} mm."

    return _done(by, add)


def decide(
    records: Records, piece: str, decision: Decision, reason: str, by: str, seen: int
) -> Said:
    """A person's decision, on what they had seen."""

    def add() -> str:
        if not reason.strip():
            raise NotTaken("reason", "write why; it is kept beside the decision")
        records.decide(piece, decision, reason=reason, by=by, seen=seen)
        return f"Decision recorded: {decision.title}."

    return _done(by, add)


def read_together(
    records: Records, file: PieceFile, reader: ViewingReader, progress: Progress
) -> Said:
    """Reads the photos of a piece together; the program records it under its own name."""

    def add() -> str:
        recorded = record_together(records, file, reader, progress)
        if recorded is None:
            raise NotTaken("photos", "none of them could be read; take better ones in")
        return f"Photos read together: {recorded.word.title}."

    return _done(PROGRAM, add)


def _done(by: str, add: Callable[[], str]) -> Said:
    if not by.strip():
        return Said(text=NO_NAME, done=False)
    try:
        return Said(text=add(), done=True)
    except (RecordsError, TradeTrouble, OrderFileError) as error:
        return Said(text=str(error), done=False)
