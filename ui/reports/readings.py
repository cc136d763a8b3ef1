"""The readings of a lot as CSV and as JSON lines, each with its piece and its decision."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from typing import Any

from fittings.words import ADVISORY
from ui.exports import as_csv, neutralised
from ui.records import Photo, PieceFile, RecordedReading
from ui.reports.facts import LotFacts, ordered_as
from vision.reading import PhotoError, PhotoReading

LOT_COLUMNS = (
    "lot",
    "yard",
    "piece",
    "ordered_as",
    "finish",
    "physical_checks",
    "decision",
    "decided_by",
    "decided_at",
)
"""They stand before the columns of `ui.exports`."""

Row = tuple[PieceFile | None, Photo, RecordedReading | None]


def lot_csv(facts: LotFacts) -> str:
    """One row per photo, the most suspect piece first; cells that a spreadsheet would compute are
    kept from it as in `ui.exports.as_csv`."""
    rows = list(_rows(facts))
    of_photos = csv.DictReader(io.StringIO(as_csv(_answer(photo, said) for _, photo, said in rows)))
    out = io.StringIO()
    columns = (*LOT_COLUMNS, *(of_photos.fieldnames or ()))
    writer = csv.DictWriter(out, columns, restval="", lineterminator="\r\n")
    writer.writeheader()
    for (piece, _, _), photo_row in zip(rows, of_photos, strict=True):
        told = {key: neutralised(value) for key, value in _piece_facts(facts, piece).items()}
        writer.writerow({**told, **photo_row})
    return out.getvalue()


def lot_json_lines(facts: LotFacts) -> Iterator[str]:
    """One object per photo and line: the reading as it was recorded under `answer`, and around it
    what is recorded of its piece."""
    for piece, photo, said in _rows(facts):
        told = {
            **_piece_facts(facts, piece),
            "photo": photo.name,
            "source": photo.source,
            "sha256": photo.sha256,
            "answer": None if said is None else said.facts,
            "model": None
            if said is None
            else {"version": said.model_version, "sha256": said.model_sha256},
            "advisory": ADVISORY,
        }
        yield json.dumps(told, ensure_ascii=False, allow_nan=False) + "\n"


def _rows(facts: LotFacts) -> Iterator[Row]:
    said = facts.reading_by_photo()
    for piece in facts.pieces:
        for photo in piece.photos:
            yield piece, photo, said.get(photo.uid)
    for photo in facts.loose:
        yield None, photo, said.get(photo.uid)


def _answer(photo: Photo, said: RecordedReading | None) -> PhotoReading | PhotoError:
    if said is not None and said.reading is not None:
        return said.reading
    error = {} if said is None else said.facts.get("error", {})
    return PhotoError(
        photo=photo.name,
        kind=error.get("kind", "not_read_yet"),
        message=error.get("message", "nobody has read this photo yet"),
    )


def _piece_facts(facts: LotFacts, piece: PieceFile | None) -> dict[str, Any]:
    decided = None if piece is None else piece.decision
    return {
        "lot": facts.lot.name,
        "yard": facts.lot.yard,
        "piece": "" if piece is None else piece.piece.tag,
        "ordered_as": "" if piece is None else ordered_as(piece.order_line),
        "finish": "" if piece is None else piece.piece.finish,
        "physical_checks": 0 if piece is None else len(piece.checks),
        "decision": "" if decided is None else decided.decision.value,
        "decided_by": "" if decided is None else decided.by,
        "decided_at": "" if decided is None else decided.at,
    }
