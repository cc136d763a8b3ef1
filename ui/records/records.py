"""Adding to the records: each method is one step that is kept whole or not at all."""

from __future__ import annotations

import math
import uuid
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime
from types import TracebackType
from typing import Any, Self

from sqlalchemy import Connection, select

from fittings.order.lines import OrderLine
from fittings.receiving.review import Standing
from ui.records import rows, rules, tables, terms, views
from ui.records.chain import Entry, What, next_entry
from ui.records.database import Database, append
from ui.records.errors import NotRecorded, NotTaken, Refused, Stale
from ui.records.line_json import line_facts
from ui.records.piece_files import piece_file, piece_list
from ui.records.places import Place
from ui.records.store import PhotoStore
from ui.records.texts import NAME_LENGTH, TEXT_LENGTH, as_named, said, utc_text
from vision.reading import PhotoError, PhotoReading

PROGRAM = "seamtriage"
"""Stands for the person where the program itself records a reading; it never decides."""

Clock = Callable[[], datetime]


def _now() -> datetime:
    return datetime.now(UTC)


class Records(views.Views):
    """The records of one installation. Safe to use from several threads and programs at once.

    `by` is the name of the person who records. Every method that adds raises NotTaken for what
    can't be taken as it is, NotRecorded for a lot, piece, line or photo that is not there, and
    Unreachable when the database or the disk refuses; then nothing of the step is kept.
    """

    def __init__(self, place: Place, *, clock: Clock = _now) -> None:
        super().__init__(Database(place), PhotoStore(place.photos))
        self.place = place
        self._clock = clock

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        _kind: type[BaseException] | None,
        _error: BaseException | None,
        _trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Lets go of the database; what was recorded is on disk already."""
        self._database.close()

    def piece_file(self, uid: str) -> terms.PieceFile:
        """All that is recorded of a piece; NotRecorded without one."""
        with self._database.reading() as connection:
            return piece_file(connection, uid)

    def piece_list(self, lot: str) -> tuple[terms.PieceSummary, ...]:
        """The pieces of a lot in a line each, the most suspect first."""
        with self._database.reading() as connection:
            return piece_list(connection, lot)

    def open_lot(
        self, name: str, *, by: str, yard: str = "", order_name: str = "", note: str = ""
    ) -> terms.Lot:
        """A new lot. NotTaken for a name that another lot has already."""
        facts = _lot_facts(name, yard, order_name, note)
        with self._database.writing() as connection:
            taken = select(tables.lots.c.lot).where(tables.lots.c.name == facts["name"])
            if connection.execute(taken).first() is not None:
                raise NotTaken("name", f"there is a lot {facts['name']!r} already; name it apart")
            entry, number = self._add(connection, _new_uid(), What.LOT, by, facts)
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
                    {"uid": _new_uid(), "line": line_facts(line), "source": as_named(source)},
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
            facts = _piece_facts(connection, lot, _new_uid(), tag, order_line, finish)
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
                "uid": _new_uid(),
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

    def add_reading(
        self,
        photo: str,
        answer: PhotoReading | PhotoError,
        *,
        model_version: str,
        model_sha256: str,
        by: str = PROGRAM,
    ) -> terms.RecordedReading:
        """What a model said of a photo, or why it could not be read.

        Nothing is added when the photo's newest reading says the same. NotTaken for a reading of
        other bytes or by another model.
        """
        facts: dict[str, Any] = {"uid": _new_uid(), "photo": photo, "reading": None}
        facts["model"] = {"version": model_version, "sha256": model_sha256}
        facts |= (
            {"unread": answer.as_json()}
            if isinstance(answer, PhotoError)
            else {"reading": answer.as_json()}
        )
        with self._database.writing() as connection:
            known = views.one_photo(connection, photo)
            if isinstance(answer, PhotoReading):
                if answer.sha256 != known.sha256:
                    raise NotTaken("reading", f"is of other bytes than the photo {known.name}")
                if answer.model_sha256 != model_sha256:
                    raise NotTaken("model_sha256", "is not that of the model that read the photo")
            table = tables.readings
            last = views.newest(connection, table, table.c.photo, table.c.photo == photo)
            if last and _same_reading(last[0][0].facts, facts):
                return views.made(last, rows.reading_of)[0]
            entry, number = self._add(connection, known.lot, What.READING, by, facts)
        return rows.reading_of(entry, number)

    def add_piece_reading(
        self,
        piece: str,
        reading: Mapping[str, Any],
        *,
        model_version: str,
        model_sha256: str,
        by: str = PROGRAM,
    ) -> terms.RecordedPieceReading:
        """What the photos of a piece say together, as its JSON object.

        It must have `verdict.reading` and `verdict.fabricated_probability`; NotTaken otherwise.
        """
        facts = {
            "uid": _new_uid(),
            "piece": piece,
            "reading": dict(reading),
            "model": {"version": model_version, "sha256": model_sha256},
        }
        with self._database.writing() as connection:
            lot = views.one_piece(connection, piece).lot
            try:
                entry, number = self._add(connection, lot, What.PIECE_READING, by, facts)
                return rows.piece_reading_of(entry, number)
            except (KeyError, TypeError, ValueError) as error:
                raise NotTaken("reading", f"is no reading of a piece ({error})") from error

    def answer_certificate(
        self, order_line: str, key: str, standing: Standing, *, by: str, note: str = ""
    ) -> terms.CertificateAnswer:
        """An answer to an item of the certificate review of an order line."""
        note = said("note", note, most=TEXT_LENGTH, may_be_empty=True)
        if not note and standing in (Standing.FAIL, Standing.NOT_APPLICABLE):
            raise NotTaken("note", f"say why {key} is {standing.value}")
        facts = {
            "order_line": order_line,
            "key": said("key", key),
            "standing": standing.value,
            "note": note,
        }
        with self._database.writing() as connection:
            lot = _line_lot(connection, order_line)
            entry, number = self._add(connection, lot, What.CERTIFICATE, by, facts)
        return rows.answer_of(entry, number)

    def measure(
        self, piece: str, dimension: str, value_mm: float, *, by: str, note: str = ""
    ) -> terms.Measurement:
        """A measured length in mm. NotTaken for one that can't be."""
        if not 0 <= value_mm < math.inf:
            raise NotTaken("value_mm", f"{value_mm} mm is no length")
        facts = {
            "piece": piece,
            "dimension": said("dimension", dimension),
            "value_mm": float(value_mm),
            "note": said("note", note, most=TEXT_LENGTH, may_be_empty=True),
        }
        with self._database.writing() as connection:
            lot = views.one_piece(connection, piece).lot
            entry, number = self._add(connection, lot, What.MEASUREMENT, by, facts)
        return rows.measurement_of(entry, number)

    def record_check(
        self, piece: str, key: str, outcome: terms.Outcome, *, by: str, note: str = ""
    ) -> terms.Check:
        """A physical check that somebody did, and what it showed. `key` is one of CHECK_KEYS."""
        if key not in rules.CHECK_KEYS:
            raise NotTaken("key", f"{key!r} is no physical check; {', '.join(rules.CHECK_KEYS)}")
        facts = {
            "uid": _new_uid(),
            "piece": piece,
            "key": key,
            "outcome": outcome.value,
            "note": said("note", note, most=TEXT_LENGTH, may_be_empty=True),
        }
        with self._database.writing() as connection:
            lot = views.one_piece(connection, piece).lot
            entry, number = self._add(connection, lot, What.CHECK, by, facts)
        return rows.check_of(entry, number)

    def decide(
        self,
        piece: str,
        decision: terms.Decision,
        *,
        by: str,
        reason: str,
        seen: int | None = None,
    ) -> terms.Decided:
        """A person's decision. Refused against `ui.records.rules`; a program can't be the person.

        `seen` is `PieceFile.number` of what the person looked at: Stale when anything about the
        piece was recorded since, so that nobody decides on what somebody else has overtaken.
        """
        reason = said("reason", reason, most=TEXT_LENGTH)
        if said("by", by).casefold() == PROGRAM:
            raise NotTaken("by", "the program never decides; name the person who does")
        facts = {"piece": piece, "decision": decision.value, "reason": reason}
        with self._database.writing() as connection:
            known = piece_file(connection, piece)
            if seen is not None and known.number > seen:
                raise Stale(
                    f"something was recorded about {known.piece.tag} since you looked; look "
                    "again, then decide"
                )
            checks = [(each.number, each.outcome) for each in known.checks]
            decisions = [(each.number, each.decision) for each in known.decisions]
            if why := rules.refusal(decision, rules.standing(checks, decisions)):
                raise Refused(f"{known.piece.tag}: {why}")
            entry, number = self._add(connection, known.lot.uid, What.DECISION, by, facts)
        return rows.decided_of(entry, number)

    def _add(
        self, connection: Connection, lot: str, what: What, by: str, facts: Mapping[str, Any]
    ) -> tuple[Entry, int]:
        entry = next_entry(
            last_entry(connection, lot),
            lot=lot,
            what=what,
            by=said("by", by),
            at=utc_text(self._clock()),
            facts=facts,
        )
        return entry, append(connection, entry)


def last_entry(connection: Connection, lot: str) -> Entry | None:
    """The newest entry of a lot, None for a lot without any."""
    journal = tables.journal
    query = select(journal).where(journal.c.lot == lot)
    row = connection.execute(query.order_by(journal.c.position.desc()).limit(1)).one_or_none()
    return None if row is None else views.entry_of(row)


def _new_uid() -> str:
    return uuid.uuid4().hex


def _lot_facts(name: str, yard: str, order_name: str, note: str) -> dict[str, str]:
    return {
        "name": said("name", name),
        "yard": said("yard", yard, may_be_empty=True),
        "order_name": said("order_name", order_name, may_be_empty=True),
        "note": said("note", note, most=TEXT_LENGTH, may_be_empty=True),
    }


def _piece_facts(
    connection: Connection, lot: str, uid: str, tag: str, order_line: str | None, finish: str
) -> dict[str, Any]:
    tag = said("tag", tag, most=NAME_LENGTH)
    same_tag = (tables.pieces.c.lot == lot, tables.pieces.c.tag == tag)
    for other in connection.execute(select(tables.pieces.c.uid).where(*same_tag)):
        if other.uid != uid and views.one_piece(connection, other.uid).tag == tag:
            raise NotTaken("tag", f"there is a piece {tag!r} in this lot already")
    if order_line is not None and _line_lot(connection, order_line) != lot:
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


def _line_lot(connection: Connection, order_line: str) -> str:
    lines = tables.order_lines
    found = connection.execute(select(lines.c.lot).where(lines.c.uid == order_line)).first()
    if found is None:
        raise NotRecorded(f"there is no order line {order_line!r}")
    return str(found.lot)


def _same_reading(earlier: dict[str, Any], now: dict[str, Any]) -> bool:
    """Whether two readings differ at most in their identifier and the seconds they took."""

    def told(facts: dict[str, Any]) -> dict[str, Any]:
        reading = facts["reading"]
        return {
            **facts,
            "uid": None,
            "reading": reading and {**reading, "seconds": None},
        }

    return told(earlier) == told(now)
