"""Nominal pipe sizes: reading and writing them.

A nominal pipe size (NPS) is a name that looks like a number of inches. Here it is kept as an exact
`Fraction` for reckoning and as text such as "1-1/2" for people, and one parser joins the two.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from fractions import Fraction
from numbers import Real

Nps = str | int | float | Fraction

_VULGAR = {"⅛": "1/8", "¼": "1/4", "⅜": "3/8", "½": "1/2", "⅝": "5/8", "¾": "3/4", "⅞": "7/8"}
_SIZE = re.compile(
    r"(?:NPS)?\s*"
    r"(?:(?P<whole>\d+)\s*[- ]\s*(?P<part>\d+/\d+)|(?P<fraction>\d+/\d+)|(?P<number>\d*\.?\d+))"
    r"\s*(?:\"|''|”|″|IN\.?|INCH)?",
    re.ASCII,
)


def parse_nps(size: Nps) -> Fraction:
    """The nominal pipe size that a text or a number names, as an exact fraction.

    Reads 2, 1.5, "1-1/2", "1 1/2", "1½", "NPS 3/4", '2-1/2"', "6 in". ValueError when the text
    names no positive size. Whether a table lists the size is another question.
    """
    if isinstance(size, str):
        value = _from_text(size)
    elif isinstance(size, Fraction):
        value = size
    elif isinstance(size, Real) and not isinstance(size, bool) and math.isfinite(size):
        # By way of the shortest decimal, so that 0.1 is a tenth and not its binary neighbour.
        value = Fraction(repr(float(size)))
    else:
        raise ValueError(f"{size!r} is not a nominal pipe size")
    if value <= 0:
        raise ValueError(f"{size!r} is not a nominal pipe size: it must be greater than 0")
    return value


def _from_text(text: str) -> Fraction:
    plain = text
    for sign, fraction in _VULGAR.items():
        plain = plain.replace(sign, f" {fraction}")
    match = _SIZE.fullmatch(plain.strip().upper())
    if match is None:
        raise ValueError(f"{text!r} is not a nominal pipe size; write it like 6, 3/4 or 1-1/2")
    try:
        if match["whole"]:
            return int(match["whole"]) + Fraction(match["part"])
        return Fraction(match["fraction"] or match["number"])
    except ZeroDivisionError:
        raise ValueError(f"{text!r} is not a nominal pipe size: it divides by 0") from None


def format_nps(size: Nps) -> str:
    """The size as the trade writes it, "1-1/2" or "12"; `parse_nps` reads it back exactly."""
    value = parse_nps(size)
    whole, rest = divmod(value, 1)
    if not rest:
        return str(whole)
    return f"{whole}-{rest}" if whole else str(rest)


def nearest_nps(size: Fraction, listed: Iterable[Fraction], count: int = 2) -> tuple[str, ...]:
    """The `count` listed sizes that lie nearest to `size`, in ascending order, as text."""
    near = sorted(set(listed), key=lambda other: (abs(other - size), other))[:count]
    return tuple(format_nps(other) for other in sorted(near))
