"""What the facts of an entry must look like, kind by kind; pure.

Entries written here have this shape by the way they are made. Entries that come from elsewhere, in
an archive or in a database that somebody edited, are held against it before they are believed.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from fittings.words import Kind, Reading
from ui.records import rows
from ui.records.chain import Entry, What, canonical
from ui.records.terms import Decision, Outcome

_UID = re.compile("[0-9a-f]{32}")
_SHA256 = re.compile("[0-9a-f]{64}")
_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}Z", re.ASCII)
_MOST_BYTES = 2**53  # beyond it JSON numbers lose their last digits elsewhere

Test = Callable[[Any], bool]


def shape_problem(entry: Entry) -> str:
    """What is wrong with the form of an entry, in a few words; "" when nothing is."""
    if not _UID.fullmatch(entry.lot):
        return "its lot is not named as lots are"
    if not _TIME.fullmatch(entry.at):
        return "its time is not a time"
    if not _text(entry.by) or not entry.by.strip():
        return "it names nobody"
    try:
        facts = entry.facts
        if canonical(facts) != entry.body:
            return "its facts are not written as facts are"
        wanted = _SHAPES[entry.what]
        if entry.what is What.READING and facts["reading"] is None:
            wanted = wanted | {"unread": _object}  # why the photo could not be read
        if facts.keys() != wanted.keys():
            return "it has not the facts of its kind"
        for name, test in wanted.items():
            if not test(facts[name]):
                return f"its {name} is not what it should be"
        _PARSERS[entry.what](entry, entry.position)
        rows.row_of(entry, entry.position)
    except (KeyError, TypeError, ValueError, RecursionError) as error:
        return f"its facts can't be understood ({type(error).__name__})"
    return ""


def is_sha256(value: Any) -> bool:
    """Whether `value` is 64 lower-case hexadecimal digits."""
    return isinstance(value, str) and _SHA256.fullmatch(value) is not None


def _uid(value: Any) -> bool:
    return isinstance(value, str) and _UID.fullmatch(value) is not None


def _uid_or_none(value: Any) -> bool:
    return value is None or _uid(value)


def _text(value: Any) -> bool:
    return isinstance(value, str) and "\0" not in value


def _filled(value: Any) -> bool:
    return _text(value) and bool(value.strip())


def _number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _size(value: Any) -> bool:
    return _number(value) and isinstance(value, int) and 0 <= value <= _MOST_BYTES


def _length(value: Any) -> bool:
    return isinstance(value, float) and value >= 0


def _word_of(words: type[Decision] | type[Outcome]) -> Test:
    return lambda value: value in {each.value for each in words}


def _object(value: Any) -> bool:
    return isinstance(value, dict)


def _model(value: Any) -> bool:
    return (
        isinstance(value, dict)
        and value.keys() == {"version", "sha256"}
        and _text(value["version"])
        and is_sha256(value["sha256"])
    )


def _photo_reading(value: Any) -> bool:
    if value is None:
        return True
    return _verdict(value) and value["fitting"]["kind"] in {each.value for each in Kind}


def _verdict(value: Any) -> bool:
    verdict = value["verdict"]
    return (
        verdict["reading"] in {each.value for each in Reading}
        and _number(verdict["fabricated_probability"])
        and 0 <= verdict["fabricated_probability"] <= 1
    )


_SHAPES: dict[What, dict[str, Test]] = {
    What.LOT: {"name": _filled, "yard": _text, "order_name": _text, "note": _text},
    What.ORDER_LINE: {"uid": _uid, "line": _object, "source": _text},
    What.PIECE: {"uid": _uid, "tag": _filled, "order_line": _uid_or_none, "finish": _text},
    What.PHOTO: {
        "uid": _uid,
        "sha256": is_sha256,
        "size_bytes": _size,
        "name": _text,
        "source": _text,
    },
    What.PLACEMENT: {"photo": _uid, "piece": _uid_or_none},
    What.READING: {"uid": _uid, "photo": _uid, "reading": _photo_reading, "model": _model},
    What.PIECE_READING: {"uid": _uid, "piece": _uid, "reading": _verdict, "model": _model},
    What.CERTIFICATE: {"order_line": _uid, "key": _filled, "standing": _text, "note": _text},
    What.MEASUREMENT: {
        "piece": _uid,
        "dimension": _filled,
        "value_mm": _length,
        "note": _text,
    },
    What.CHECK: {
        "uid": _uid,
        "piece": _uid,
        "key": _filled,
        "outcome": _word_of(Outcome),
        "note": _text,
    },
    What.DECISION: {"piece": _uid, "decision": _word_of(Decision), "reason": _filled},
}

_PARSERS: dict[What, Callable[[Entry, int], object]] = {
    What.LOT: rows.lot_of,
    What.ORDER_LINE: rows.line_of,
    What.PIECE: rows.piece_of,
    What.PHOTO: lambda entry, number: rows.photo_of(entry, number, None),
    What.PLACEMENT: rows.row_of,
    What.READING: rows.reading_of,
    What.PIECE_READING: rows.piece_reading_of,
    What.CERTIFICATE: rows.answer_of,
    What.MEASUREMENT: rows.measurement_of,
    What.CHECK: rows.check_of,
    What.DECISION: rows.decided_of,
}
