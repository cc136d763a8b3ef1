"""Entries of the journal and how each is chained to the one before; pure functions.

Two chains go through the same entries:

- the *lot's chain*: the hash of an entry covers its content and the hash of the entry before it in
  the same lot. It travels with the lot, so another installation can check a whole lot by itself.
- the *seals*: the seal of an entry covers its hash, its number in this installation and the seal
  of the entry before it, whatever lot that belongs to. So no lot, and no end of a lot, can go
  missing unseen.

Order is told by numbers alone. The time of an entry is what a clock said, and a clock may go back.

Hashes are SHA-256 (FIPS 180-4) in lower-case hexadecimal, over UTF-8 text. The text of an entry is
JSON (RFC 8259) with sorted keys, no spaces, and no escapes but those that JSON asks for.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any

START = "0" * 64
"""Stands for the hash before a first entry."""


class What(Enum):
    """What an entry records; the value is the word in the journal and in archives."""

    LOT = "lot"
    ORDER_LINE = "order line"
    PIECE = "piece"
    PHOTO = "photo"
    PLACEMENT = "placement"
    READING = "reading"
    PIECE_READING = "piece reading"
    CERTIFICATE = "certificate"
    MEASUREMENT = "measurement"
    CHECK = "check"
    DECISION = "decision"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry of a lot's chain. `body` is canonical JSON text, `at` a UTC time as text.

    `position` counts from 1 within the lot; `previous` is the hash of the entry before it.
    """

    lot: str
    position: int
    what: What
    by: str
    at: str
    body: str
    previous: str
    hash: str

    @property
    def facts(self) -> dict[str, Any]:
        """The body as an object; ValueError for a body that is no JSON object."""
        found = json.loads(self.body)
        if not isinstance(found, dict):
            raise ValueError("the body of an entry must be a JSON object")
        return found


def canonical(value: Mapping[str, Any]) -> str:
    """The one JSON text of `value`. ValueError for what is no JSON, such as a NaN."""
    return json.dumps(
        value, sort_keys=True, ensure_ascii=False, allow_nan=False, separators=(",", ":")
    )


def entry_hash(
    *, lot: str, position: int, what: str, by: str, at: str, body: str, previous: str
) -> str:
    """The hash of an entry with these parts, 64 hexadecimal digits."""
    content = {"lot": lot, "position": position, "what": what, "by": by, "at": at, "body": body}
    return _sha256(f"{previous}\n{canonical(content)}")


def seal_of(number: int, entry: str, previous: str) -> str:
    """The seal of the entry whose hash is `entry`, the `number`-th of this installation."""
    return _sha256(f"{previous}\n{number}\n{entry}")


def next_entry(
    last: Entry | None, *, lot: str, what: What, by: str, at: str, facts: Mapping[str, Any]
) -> Entry:
    """The entry that follows `last` in its lot (None for the first one)."""
    position = 1 if last is None else last.position + 1
    previous = START if last is None else last.hash
    body = canonical(facts)
    digest = entry_hash(
        lot=lot, position=position, what=what.value, by=by, at=at, body=body, previous=previous
    )
    return Entry(
        lot=lot,
        position=position,
        what=what,
        by=by,
        at=at,
        body=body,
        previous=previous,
        hash=digest,
    )


def broken_link(entry: Entry, last: Entry | None) -> str:
    """What is wrong with `entry` as the one after `last`, in a few words; "" when it fits."""
    if entry.position != (1 if last is None else last.position + 1):
        before = "the start" if last is None else f"entry {last.position}"
        return f"entry {entry.position} follows {before}: entries are missing or out of order"
    if entry.previous != (START if last is None else last.hash):
        return f"entry {entry.position} is not chained to the one before it"
    expected = entry_hash(
        lot=entry.lot,
        position=entry.position,
        what=entry.what.value,
        by=entry.by,
        at=entry.at,
        body=entry.body,
        previous=entry.previous,
    )
    if entry.hash != expected:
        return f"entry {entry.position} was altered: its hash does not fit its content"
    return ""


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()
