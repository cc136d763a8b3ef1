"""The records as everybody uses them: each method is one step, kept whole or not at all."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from fittings.receiving.review import Standing
from ui.records import rows, rules, tables, terms, views
from ui.records.adding import Adding, Clock, line_lot, new_uid, utc_now
from ui.records.archive import Exported, export_lot
from ui.records.archive_in import Imported, import_lot
from ui.records.chain import What
from ui.records.database import Database
from ui.records.errors import NotTaken, Refused, Stale
from ui.records.piece_files import lot_list, piece_file, piece_list
from ui.records.places import Place
from ui.records.store import PhotoStore
from ui.records.texts import said
from ui.records.track import Account, accounts, checked_pieces
from ui.records.verify import Progress, Verified, verify
from vision.reading import PhotoError, PhotoReading


class Records(Adding):
    """The records of one installation. Safe to use from several threads and programs at once.

    `by` is the name of the person who records. Every method that adds raises NotTaken for what
    can't be taken as it is, NotRecorded for a lot, piece, line or photo that is not there, and
    Unreachable when the database or the disk refuses; then nothing of the step is kept.
    """

    def __init__(self, place: Place, *, clock: Clock = utc_now) -> None:
        super().__init__(Database(place), PhotoStore(place.photos), clock)
        self.place = place

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

    def lot_list(self) -> tuple[terms.LotSummary, ...]:
        """Every lot in a line, by name."""
        with self._database.reading() as connection:
            return lot_list(connection)

    def verify(self, *, noted: Collection[str] = (), progress: Progress | None = None) -> Verified:
        """Looks for any change that no entry tells of; see `ui.records.verify`."""
        with self._database.reading() as connection:
            return verify(connection, self.store, noted=noted, progress=progress)

    def track_record(self, model_sha256: str | None = None) -> tuple[Account, ...]:
        """How often readings were right, of all and by yard, kind and finish.

        With a model, only what it read counts. See `ui.records.track` for what is counted.
        """
        with self._database.reading() as connection:
            return accounts(checked_pieces(connection, model_sha256))

    def export_lot(
        self, lot: str, path: Path, *, force: bool = False, progress: Progress | None = None
    ) -> Exported:
        """Writes a whole lot to one file; see `ui.records.archive`."""
        with self._database.reading() as connection:
            return export_lot(connection, self.store, lot, path, force=force, progress=progress)

    def import_lot(self, path: Path, *, progress: Progress | None = None) -> Imported:
        """Takes in the lot in such a file; see `ui.records.archive_in`."""
        return import_lot(self._database, self.store, path, progress=progress)

    def add_reading(
        self,
        photo: str,
        answer: PhotoReading | PhotoError,
        *,
        model_version: str,
        model_sha256: str,
        by: str = rules.PROGRAM,
    ) -> terms.RecordedReading:
        """What a model said of a photo, or why it could not be read.

        Nothing is added when the photo's newest reading says the same. NotTaken for a reading of
        other bytes or by another model.
        """
        facts: dict[str, Any] = {"uid": new_uid(), "photo": photo, "reading": None}
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
        by: str = rules.PROGRAM,
    ) -> terms.RecordedPieceReading:
        """What the photos of a piece say together, as its JSON object.

        It must have `verdict.reading` and `verdict.fabricated_probability`; NotTaken otherwise.
        """
        facts = {
            "uid": new_uid(),
            "piece": piece,
            "reading": dict(reading),
            "model": {"version": model_version, "sha256": model_sha256},
        }
        with self._database.writing() as connection:
            lot = views.one_piece(connection, piece).lot
            entry, number = self._add(connection, lot, What.PIECE_READING, by, facts)
        return rows.piece_reading_of(entry, number)

    def answer_certificate(
        self, order_line: str, key: str, standing: Standing, *, by: str, note: str = ""
    ) -> terms.CertificateAnswer:
        """An answer to an item of the certificate review of an order line."""
        note = said("note", note, long=True, may_be_empty=True)
        if not note and standing in (Standing.FAIL, Standing.NOT_APPLICABLE):
            raise NotTaken("note", f"say why {key} is {standing.value}")
        facts = {
            "order_line": order_line,
            "key": said("key", key),
            "standing": standing.value,
            "note": note,
        }
        with self._database.writing() as connection:
            lot = line_lot(connection, order_line)
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
            "note": said("note", note, long=True, may_be_empty=True),
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
            "uid": new_uid(),
            "piece": piece,
            "key": key,
            "outcome": outcome.value,
            "note": said("note", note, long=True, may_be_empty=True),
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
        reason = said("reason", reason, long=True)
        by = said("by", by)
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
            if why := rules.refusal(decision, rules.standing(checks, decisions), by):
                raise Refused(f"{known.piece.tag}: {why}")
            entry, number = self._add(connection, known.lot.uid, What.DECISION, by, facts)
        return rows.decided_of(entry, number)


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
