"""How much of a piece's outside its photos show, in words."""

from __future__ import annotations

from fittings.words import percent

WIDE = 0.15
"""Beyond this width the share that is seen is told as a range. Half of it is about as far as the
share is off where the photos' ways round are known."""


def seen_share_in_words(share: float, ends: tuple[float, float]) -> str:
    """ "about 84 %", or "between 62 % and 93 %" where `ends`, its range, lie apart."""
    low, high = ends
    if high - low <= WIDE:
        return f"about {percent(share)}"
    return f"between {percent(low)} and {percent(high)}"


def at_least_in_words(least: float) -> str:
    """What the share may be where a piece did not lie still."""
    return f"If the piece was turned over between them, they may show only {percent(least)}."
