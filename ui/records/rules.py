"""What a person may decide about a piece, and on what; pure, the same for writing and verifying.

- A release needs a physical check that settled something (formed or fabricated).
- After a hold or a return it needs such a check that was recorded after it: what is on hold is
  lifted by looking at the metal again, never by a reading, and never by a check that was already
  known when the hold was set.
- The program is no person, so it can't decide.
- A hold and a return need only a person and a reason, because neither lets a piece through.

More photographs are no physical check.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fittings.receiving.check_list import PLANS
from ui.records.terms import Decision, Outcome

PROGRAM = "seamtriage"
"""Stands for the person where the program itself records a reading."""

NO_PHYSICAL_CHECK = frozenset(("photographs",))
CHECK_KEYS = tuple(plan.key for plan in PLANS if plan.key not in NO_PHYSICAL_CHECK)
"""The checks that can be recorded, in the order of `fittings.receiving.check_list`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What the rules need to know of a piece: the numbers of two of its entries, None without."""

    newest_settled: int | None = None
    newest_stop: int | None = None


def standing(
    checks: Iterable[tuple[int, Outcome]], decisions: Iterable[tuple[int, Decision]]
) -> Standing:
    """`checks` and `decisions` with the numbers of their entries, in any order."""
    settled = [number for number, outcome in checks if outcome.settles]
    stops = [number for number, decision in decisions if decision is not Decision.RELEASE]
    return Standing(newest_settled=max(settled, default=None), newest_stop=max(stops, default=None))


def refusal(decision: Decision, piece: Standing, by: str) -> str:
    """Why somebody can't take a decision, with what to do; "" when they can."""
    if by.casefold() == PROGRAM:
        return "the program never decides; name the person who does"
    if decision is not Decision.RELEASE:
        return ""
    if piece.newest_settled is None:
        return (
            "a release needs a recorded physical check that could tell; do one and record what it "
            "showed"
        )
    if piece.newest_stop is not None and piece.newest_settled < piece.newest_stop:
        return (
            "a hold or a return is lifted only by a physical check recorded after it; do one and "
            "record what it showed"
        )
    return ""
