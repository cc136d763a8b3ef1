"""Sums that a hand can follow: each step with its formula, the numbers put in, and its source.

A line is one formula as text, with the value that the program reckoned beside it. The tests reckon
every printed line anew from its text, so that what is shown is what was done.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

# A symbol ends where no letter, digit or overline follows it: "t" is not in "tan" nor in "th".
_WORD = "A-Za-z0-9_α-ωΑ-Ω\u0304'"


class StrengthError(ValueError):
    """A value that the sum cannot take; the message names the field and says what to do."""

    def __init__(self, field: str, problem: str) -> None:
        self.field = field
        self.problem = problem
        super().__init__(field, problem)

    def __str__(self) -> str:
        return f"{self.field}: {self.problem}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One line of a sum: h = 3.1·T/r2 = 3.1·9.53/157.135 = 0.18801.

    `unit` is "mm", "MPa", "mm²", "°" or "" for a plain number. `source` cites the table or clause,
    and says "from memory" where no copy of the text was seen.
    """

    symbol: str
    meaning: str
    formula: str
    numbers: str
    value: float
    unit: str
    source: str

    @property
    def from_memory(self) -> bool:
        return "from memory" in self.source


class Working:
    """A sum in the making: what is given, and the lines that follow from it."""

    def __init__(self, source: str, given: Mapping[str, float]) -> None:
        self._source = source
        self._values = dict(given)
        self._steps: list[Step] = []

    def line(
        self,
        symbol: str,
        meaning: str,
        formula: str,
        value: float,
        unit: str = "",
        source: str = "",
    ) -> float:
        """Notes a line, makes its symbol known to the lines below, and gives `value` back."""
        numbers = _put_in(formula, self._values)
        self._steps.append(
            Step(
                symbol=symbol,
                meaning=meaning,
                formula=formula,
                numbers=numbers,
                value=value,
                unit=unit,
                source=source or self._source,
            )
        )
        self._values[symbol] = value
        return value

    @property
    def steps(self) -> tuple[Step, ...]:
        return tuple(self._steps)


def _put_in(formula: str, values: Mapping[str, float]) -> str:
    """`formula` with each symbol replaced by its number."""
    names = sorted(values, key=len, reverse=True)
    if not names:
        return formula
    pattern = "|".join(re.escape(name) for name in names)
    return re.sub(
        rf"(?<![{_WORD}])(?:{pattern})(?![{_WORD}])",
        lambda match: figure(values[match[0]]),
        formula,
    )


def figure(value: float) -> str:
    """The number as it was put in where seven digits say it, otherwise six significant digits."""
    exact = f"{value:.7g}"
    short = exact if math.isclose(float(exact), value, rel_tol=1e-12) else f"{value:.6g}"
    if "e" in short:
        short = f"{value:.8f}".rstrip("0").rstrip(".") if abs(value) < 1 else f"{value:.0f}"
    return f"({short})" if value < 0 else short


def positive(value: float, field: str, unit: str) -> float:
    """`value`, or StrengthError naming `field` when it is not a finite number above 0."""
    if not 0 < value < math.inf:
        raise StrengthError(field, f"must be greater than 0, not {value:g} {unit}".rstrip())
    return value


def not_negative(value: float, field: str, unit: str) -> float:
    """`value`, or StrengthError naming `field` when it is below 0 or not finite."""
    if not 0 <= value < math.inf:
        raise StrengthError(field, f"must not be negative, not {value:g} {unit}".rstrip())
    return value


def share(value: float, field: str) -> float:
    """`value`, or StrengthError naming `field` unless it lies above 0 and at most at 1."""
    if not 0 < value <= 1:
        raise StrengthError(field, f"must be above 0 and at most 1, not {value:g}")
    return value
