"""The review of certificate and records of one order line: a checklist that keeps every answer.

The items are `fittings.receiving.review_items`. A checklist is frozen: an answer gives a new
checklist, an earlier answer stays in its history, and no summary says more than how many items
stand how.
"""

from __future__ import annotations

import difflib
from collections import Counter
from dataclasses import dataclass, replace
from enum import Enum

from fittings.order.lines import OrderLine

ADVISORY_REVIEW = (
    "Advisory only: papers say what a piece should be, not what it is. This checklist accepts "
    "nothing and rejects nothing, a physical check is always required, and a person decides, with "
    "the order and the standards themselves in hand."
)


class Standing(Enum):
    """How an item stands; the value is the word in tables and JSON."""

    OPEN = "open"
    FAIL = "fail"
    PASS = "pass"
    NOT_APPLICABLE = "not applicable"


# Where an answer must say why, because the next reader can't guess it.
_NEEDS_NOTE = (Standing.FAIL, Standing.NOT_APPLICABLE)


class ReviewError(ValueError):
    """An answer that can't be taken; `field` is "item", "standing" or "note"."""

    def __init__(self, field: str, message: str) -> None:
        self.field = field
        self.message = message
        super().__init__(field, message)

    def __str__(self) -> str:
        return f"{self.field}: {self.message}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewItem:
    """One thing to look for, and how it stands before anybody has looked.

    `standing` is OPEN, or NOT_APPLICABLE with the reason in `note`. `source` cites standard and
    clause and how that was checked.
    """

    key: str
    title: str
    look_for: str
    why: str
    source: str
    standing: Standing = Standing.OPEN
    note: str = ""

    def __post_init__(self) -> None:
        if self.standing not in (Standing.OPEN, Standing.NOT_APPLICABLE):
            raise ValueError(f"item {self.key!r} can't begin as {self.standing.value}")
        if self.standing is Standing.NOT_APPLICABLE and not self.note:
            raise ValueError(f"item {self.key!r} doesn't say why it is not applicable")
        for field in ("key", "title", "look_for", "why", "source"):
            if not getattr(self, field).strip():
                raise ValueError(f"review item {self.key!r}: {field} is empty")

    @property
    def from_memory(self) -> bool:
        """Whether any of it was put down from memory."""
        return "from memory" in self.source

    @property
    def common_practice(self) -> bool:
        """Whether any of it is habit of the trade without a source."""
        return "common practice" in self.source


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What somebody found for one item. `by` and `at` are as the caller gives them, "" unsaid."""

    key: str
    standing: Standing
    note: str = ""
    by: str = ""
    at: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Checklist:
    """The items of one order line and every answer to them, oldest first."""

    line: OrderLine
    items: tuple[ReviewItem, ...]
    answers: tuple[Answer, ...] = ()

    def item(self, key: str) -> ReviewItem:
        """The item of that key; ReviewError with the nearest key."""
        for each in self.items:
            if each.key == key:
                return each
        keys = [each.key for each in self.items]
        near = difflib.get_close_matches(key, keys, n=1)
        hint = f"did you mean {near[0]}?" if near else f"items are {', '.join(keys)}"
        raise ReviewError("item", f"{key!r} is not on this checklist; {hint}")

    def with_answer(
        self, key: str, standing: Standing, note: str = "", *, by: str = "", at: str = ""
    ) -> Checklist:
        """A new checklist with one more answer; this one stays as it is.

        ReviewError for an unknown item, and where a fail or a "not applicable" has no note.
        """
        self.item(key)
        if standing in _NEEDS_NOTE and not note.strip():
            raise ReviewError("note", f"say why {key} is {standing.value}")
        answer = Answer(key=key, standing=standing, note=note.strip(), by=by, at=at)
        return replace(self, answers=(*self.answers, answer))

    def history(self, key: str) -> tuple[Answer, ...]:
        """Every answer to an item, oldest first; ReviewError for an unknown key."""
        self.item(key)
        return tuple(each for each in self.answers if each.key == key)

    def standing(self, key: str) -> Standing:
        """How the item stands: by its newest answer, or as it began."""
        answers = self.history(key)
        return answers[-1].standing if answers else self.item(key).standing

    def note(self, key: str) -> str:
        """The note of the newest answer, or the one that the item began with."""
        answers = self.history(key)
        return answers[-1].note if answers else self.item(key).note

    def counts(self) -> dict[Standing, int]:
        """How many items stand how, every standing named."""
        found = Counter(self.standing(each.key) for each in self.items)
        return {standing: found[standing] for standing in Standing}

    @property
    def summary(self) -> str:
        """ "open: 9, fail: 1, pass: 2, not applicable: 1"; there is no word for a whole line."""
        return ", ".join(f"{standing.value}: {count}" for standing, count in self.counts().items())
