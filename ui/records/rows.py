"""From a journal entry to its row in a table, and to the result that people ask for.

Both are pure, so that the tables can be worked out again from the journal and compared. A body
that lacks a fact, or has one of the wrong kind, gives KeyError, TypeError or ValueError.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fittings.receiving.review import Standing
from fittings.words import Reading
from ui.records import terms
from ui.records.chain import Entry, What
from ui.records.line_json import order_line
from ui.records.reading_json import photo_reading

Facts = dict[str, Any]


def row_of(entry: Entry, number: int) -> dict[str, Any]:
    """The row of `entry` in `tables.TABLES[entry.what]`, by column name."""
    return {"number": number, "lot": entry.lot, **_COLUMNS[entry.what](entry.facts)}


def _picked(*names: str) -> Callable[[Facts], Facts]:
    return lambda facts: {name: facts[name] for name in names}


def _reading_columns(facts: Facts) -> Facts:
    reading = facts["reading"]
    verdict = {} if reading is None else reading["verdict"]
    return {
        "uid": facts["uid"],
        "photo": facts["photo"],
        "model_version": facts["model"]["version"],
        "model_sha256": facts["model"]["sha256"],
        "word": verdict.get("reading"),
        "kind": None if reading is None else reading["fitting"]["kind"],
        "fabricated_probability": verdict.get("fabricated_probability"),
    }


def _piece_reading_columns(facts: Facts) -> Facts:
    verdict = facts["reading"]["verdict"]
    return {
        "uid": facts["uid"],
        "piece": facts["piece"],
        "model_version": facts["model"]["version"],
        "model_sha256": facts["model"]["sha256"],
        "word": verdict["reading"],
        "fabricated_probability": verdict["fabricated_probability"],
    }


_COLUMNS: dict[What, Callable[[Facts], Facts]] = {
    What.LOT: _picked("name", "yard"),
    What.ORDER_LINE: _picked("uid"),
    What.PIECE: _picked("uid", "tag", "order_line", "finish"),
    What.PHOTO: _picked("uid", "sha256", "size_bytes", "name", "source"),
    What.PLACEMENT: _picked("photo", "piece"),
    What.READING: _reading_columns,
    What.PIECE_READING: _piece_reading_columns,
    What.CERTIFICATE: _picked("order_line", "key", "standing"),
    What.MEASUREMENT: _picked("piece", "dimension", "value_mm"),
    What.CHECK: _picked("uid", "piece", "key", "outcome"),
    What.DECISION: _picked("piece", "decision"),
}


def lot_of(entry: Entry, number: int) -> terms.Lot:
    facts = _picked("name", "yard", "order_name", "note")(entry.facts)
    return terms.Lot(uid=entry.lot, number=number, by=entry.by, at=entry.at, **facts)


def line_of(entry: Entry, number: int) -> terms.RecordedLine:
    facts = entry.facts
    return terms.RecordedLine(
        uid=facts["uid"],
        line=order_line(facts["line"]),
        source=facts["source"],
        **_common(entry, number),
    )


def piece_of(entry: Entry, number: int) -> terms.Piece:
    facts = _picked("uid", "tag", "order_line", "finish")(entry.facts)
    return terms.Piece(**facts, **_common(entry, number))


def photo_of(entry: Entry, number: int, piece: str | None) -> terms.Photo:
    """`piece` is what the newest placement says."""
    facts = _picked("uid", "sha256", "size_bytes", "name", "source")(entry.facts)
    return terms.Photo(piece=piece, **facts, **_common(entry, number))


def reading_of(entry: Entry, number: int) -> terms.RecordedReading:
    facts = entry.facts
    found = facts["reading"]
    return terms.RecordedReading(
        uid=facts["uid"],
        photo=facts["photo"],
        facts=found if found is not None else facts["unread"],
        reading=None if found is None else photo_reading(found),
        model_version=facts["model"]["version"],
        model_sha256=facts["model"]["sha256"],
        **_common(entry, number),
    )


def piece_reading_of(entry: Entry, number: int) -> terms.RecordedPieceReading:
    facts = entry.facts
    verdict = facts["reading"]["verdict"]
    return terms.RecordedPieceReading(
        uid=facts["uid"],
        piece=facts["piece"],
        facts=facts["reading"],
        word=Reading(verdict["reading"]),
        fabricated_probability=verdict["fabricated_probability"],
        model_version=facts["model"]["version"],
        model_sha256=facts["model"]["sha256"],
        **_common(entry, number),
    )


def answer_of(entry: Entry, number: int) -> terms.CertificateAnswer:
    facts = entry.facts
    return terms.CertificateAnswer(
        order_line=facts["order_line"],
        key=facts["key"],
        standing=Standing(facts["standing"]),
        note=facts["note"],
        **_common(entry, number),
    )


def measurement_of(entry: Entry, number: int) -> terms.Measurement:
    facts = _picked("piece", "dimension", "value_mm", "note")(entry.facts)
    return terms.Measurement(**facts, **_common(entry, number))


def check_of(entry: Entry, number: int) -> terms.Check:
    facts = _picked("uid", "piece", "key", "note")(entry.facts)
    outcome = terms.Outcome(entry.facts["outcome"])
    return terms.Check(outcome=outcome, **facts, **_common(entry, number))


def decided_of(entry: Entry, number: int) -> terms.Decided:
    facts = _picked("piece", "reason")(entry.facts)
    decision = terms.Decision(entry.facts["decision"])
    return terms.Decided(decision=decision, **facts, **_common(entry, number))


def _common(entry: Entry, number: int) -> dict[str, Any]:
    return {"lot": entry.lot, "number": number, "by": entry.by, "at": entry.at}
