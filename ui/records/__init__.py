"""The records: lots, pieces, photos, readings, checks and decisions, kept where nothing is lost.

Every entry is appended to a journal and chained to the one before; nothing is changed or removed.

    from ui.records import Decision, Outcome, open_records

    with open_records() as records:                     # the user's own data folder
        lot = records.open_lot("Pump house, delivery 3", yard="North yard", by="A. Inspector")
        lines = records.add_order_lines(lot.uid, [each.line for each in order.lines],
                                        source="order.csv", by="A. Inspector")
        piece = records.add_piece(lot.uid, "P-07", order_line=lines[0].uid, by="A. Inspector")
        photo = records.add_photo(lot.uid, data, "left.jpg", source="delivery.zip!P-07/left.jpg",
                                  piece=piece.uid, by="A. Inspector")   # same again: same photo
        records.add_reading(photo.uid, reading_or_error, model_version=reader.version,
                            model_sha256=reader.sha256)
        known = records.piece_file(piece.uid)
        records.record_check(piece.uid, "bore", Outcome.FABRICATED, note="root bead at the crotch",
                             by="A. Inspector")
        records.decide(piece.uid, Decision.HOLD, reason="…", by="A. Inspector", seen=…)
        records.unread_photos(lot.uid, reader.sha256)   # where an interrupted import goes on
        records.store.read(photo.sha256)                # the original bytes

`records.lots()`, `.lot(uid or name)`, `.lot_list()`, `.order_lines(lot)`, `.pieces(lot)`,
`.photos(lot)`, `.readings(lot)`, `.piece_list(lot)` (worst first) and `.piece_file(piece)` look
things up; `.verify()`, `.track_record()`, `.export_lot(…)` and `.import_lot(…)` do what they say.
Lots, pieces, lines and photos are named by their `uid`. All errors are `RecordsError`.
"""

from __future__ import annotations

from pathlib import Path

from ui.records.errors import (
    ArchiveUnreadable,
    Damaged,
    NotRecorded,
    NotTaken,
    RecordsError,
    Refused,
    Stale,
    Unreachable,
)
from ui.records.places import find_place
from ui.records.records import Records
from ui.records.rules import CHECK_KEYS, PROGRAM
from ui.records.terms import (
    CertificateAnswer,
    Check,
    Decided,
    Decision,
    Lot,
    LotSummary,
    Measurement,
    Outcome,
    Photo,
    Piece,
    PieceFile,
    PieceSummary,
    RecordedLine,
    RecordedPieceReading,
    RecordedReading,
)

__all__ = [
    "CHECK_KEYS",
    "PROGRAM",
    "ArchiveUnreadable",
    "CertificateAnswer",
    "Check",
    "Damaged",
    "Decided",
    "Decision",
    "Lot",
    "LotSummary",
    "Measurement",
    "NotRecorded",
    "NotTaken",
    "Outcome",
    "Photo",
    "Piece",
    "PieceFile",
    "PieceSummary",
    "RecordedLine",
    "RecordedPieceReading",
    "RecordedReading",
    "Records",
    "RecordsError",
    "Refused",
    "Stale",
    "Unreachable",
    "open_records",
]


def open_records(
    records: str | None = None, photos: Path | None = None, *, must_exist: bool = False
) -> Records:
    """The records at the place that `ui.records.places.find_place` names.

    They are made if need be; with `must_exist`, Unreachable tells that an SQLite file isn't there,
    so that a mistyped name is not taken for empty records.
    """
    place = find_place(records, photos)
    if must_exist and place.file is not None and not place.file.exists():
        raise Unreachable(
            f"{place.file}: nothing is recorded there; check the name, or import something first"
        )
    return Records(place)
