"""Entered measurements against what ASME B16.9 allows: how far off, inside or outside, by how much.

A measurement is a fact and the comparison is arithmetic; what follows from it, a person decides.
Lengths in mm; turning inches into mm is `fittings.units`. Repeated measurements of one dimension
(a wall taken at eight points) are all kept and the worst one speaks for them.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum

from fittings.receiving.end_limits import Limit

ADVISORY_MEASURED = (
    "Advisory only: a measurement is a fact, and this comparison accepts nothing and rejects "
    "nothing. A person decides what follows, with the standard itself in hand: no bought edition "
    "was at hand here, and figures from memory are good for a question, not for a rejection."
)

# Inches turned into mm end in binary fractions; a measurement on the limit stays inside.
_EDGE_MM = 1e-6


class MeasurementError(ValueError):
    """A measurement that can't be compared; `field` is the dimension's name as it was given."""

    def __init__(self, field: str, message: str) -> None:
        self.field = field
        self.message = message
        super().__init__(field, message)

    def __str__(self) -> str:
        return f"{self.field}: {self.message}"


class Place(Enum):
    """Where a measurement lies; none of the three decides about a piece."""

    INSIDE = "inside"
    OUTSIDE = "outside"
    NO_LIMIT = "no limit printed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Deviation:
    """The worst of the measurements of one dimension, against its limits.

    `worst_mm` is the one that lies furthest outside, or nearest to a limit when all are inside.
    `reckoned` is True for an out-of-round worked out from the diameters.
    """

    limit: Limit
    worst_mm: float
    all_mm: tuple[float, ...]
    reckoned: bool = False

    @property
    def deviation_mm(self) -> float | None:
        """Measured less nominal; None where nothing is printed."""
        if self.limit.nominal_mm is None:
            return None
        return self.worst_mm - self.limit.nominal_mm

    @property
    def room_mm(self) -> float | None:
        """Distance to the nearer limit, negative outside; None where there is no limit."""
        return _room(self.limit, self.worst_mm)

    @property
    def place(self) -> Place:
        room_mm = self.room_mm
        if room_mm is None:
            return Place.NO_LIMIT
        return Place.INSIDE if room_mm >= -_EDGE_MM else Place.OUTSIDE

    @property
    def outside_by_mm(self) -> float:
        """How far beyond the limit; 0 inside, and where there is none."""
        return max(0.0, -(self.room_mm or 0.0)) if self.place is Place.OUTSIDE else 0.0

    @property
    def in_words(self) -> str:
        """ "inside, 1.5 mm from the limit" or "outside: 0.6 mm below the least, 227 mm"."""
        if self.room_mm is None or self.place is Place.NO_LIMIT:
            return Place.NO_LIMIT.value
        if self.place is Place.INSIDE:
            if self.room_mm <= _EDGE_MM:
                return "inside, on the limit"
            return f"inside, {millimetres(self.room_mm)} from the limit"
        low, high = self.limit.low_mm, self.limit.high_mm
        below = low is not None and self.worst_mm < low
        word, bound_mm = ("below the least", low) if below else ("above the most", high)
        assert bound_mm is not None
        return f"outside: {millimetres(self.outside_by_mm)} {word}, {millimetres(bound_mm)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class WallSurvey:
    """The sums of a wall survey, in mm."""

    count: int
    least_mm: float
    greatest_mm: float
    mean_mm: float
    below_least: int

    @property
    def spread_mm(self) -> float:
        """Greatest less least: a formed piece varies, one cut from pipe is even between steps."""
        return self.greatest_mm - self.least_mm


def compare(
    allowed: Sequence[Limit], measurements: Iterable[tuple[str, float]]
) -> tuple[Deviation, ...]:
    """Every measured dimension against its limit, in the order of `allowed`.

    `measurements` are (name, mm); names may be written freely ("Centre to end", "A", "ID"), and
    one that comes several times is a repeated measurement. From two diameters an out-of-round is
    reckoned unless it was entered itself. MeasurementError for an unknown name (with the nearest
    known one) and for a length that can't be.
    """
    taken: dict[str, list[float]] = {}
    for name, value_mm in measurements:
        limit = limit_named(name, allowed)
        _check_length(name, value_mm, zero_is_fine=limit.nominal_mm == 0)
        taken.setdefault(limit.name, []).append(value_mm)
    found = []
    for limit in allowed:
        if limit.name in taken:
            found.append(_deviation(limit, taken[limit.name]))
        elif limit.name.endswith("out_of_round"):
            across = taken.get(limit.name.replace("out_of_round", "od"), [])
            if len(across) > 1:
                spread = [max(across) - min(across)]
                found.append(_deviation(limit, spread, reckoned=True))
    return tuple(found)


def limit_named(name: str, allowed: Sequence[Limit]) -> Limit:
    """The limit that a free name means: "Centre-to-end", "center to end", "A", "ID", "ovality".

    MeasurementError with the nearest name and, without one, all of them.
    """
    plain = _plain(name)
    by_name = {limit.name: limit for limit in allowed}
    by_letter = {limit.letter.lower(): limit for limit in allowed if limit.letter}
    found = by_name.get(plain) or by_letter.get(plain)
    if found is not None:
        return found
    if plain.rpartition("_")[2] in ("wall", "bore") and not any(
        n.endswith("wall") for n in by_name
    ):
        raise MeasurementError(
            name, "has no nominal to compare with; give the schedule or the wall that was ordered"
        )
    near = difflib.get_close_matches(plain, by_name, n=1)
    # A part of a known name counts as near: "centre_to_end" of a tee is one of two.
    parts = [each for each in by_name if len(plain) > 2 and (plain in each or each in plain)]
    near = near or parts[:1]
    hint = f" (did you mean {near[0]}?)" if near else ""
    raise MeasurementError(
        name, f"is no dimension of this fitting{hint}; known are {', '.join(by_name)}"
    )


def wall_survey(walls_mm: Sequence[float], limit: Limit) -> WallSurvey:
    """Count, least, greatest and mean of the walls taken, and how many lie below the least allowed.

    ValueError without any.
    """
    if not walls_mm:
        raise ValueError("a wall survey needs at least one wall")
    low_mm = limit.low_mm if limit.low_mm is not None else 0.0
    return WallSurvey(
        count=len(walls_mm),
        least_mm=min(walls_mm),
        greatest_mm=max(walls_mm),
        mean_mm=math.fsum(walls_mm) / len(walls_mm),
        below_least=sum(wall < low_mm - _EDGE_MM for wall in walls_mm),
    )


def millimetres(value_mm: float) -> str:
    """ "6.221 mm": to a thousandth, without idle zeros, and never a 0 that is not one."""
    if 0 < abs(value_mm) < 0.0005:
        return "under 0.001 mm"
    text = f"{value_mm:.3f}".rstrip("0").rstrip(".")
    return f"{'0' if text == '-0' else text} mm"


def _deviation(limit: Limit, values_mm: Sequence[float], *, reckoned: bool = False) -> Deviation:
    return Deviation(
        limit=limit,
        worst_mm=min(values_mm, key=lambda value: _badness(limit, value)),
        all_mm=tuple(values_mm),
        reckoned=reckoned,
    )


def _badness(limit: Limit, value_mm: float) -> float:
    """Lower is worse: room to the limit, or without a limit the distance from nominal, negated."""
    room_mm = _room(limit, value_mm)
    return room_mm if room_mm is not None else -abs(value_mm - (limit.nominal_mm or 0.0))


def _room(limit: Limit, value_mm: float) -> float | None:
    rooms = []
    # Out-of-round, Q and P start at 0, which is no limit to come near to.
    if limit.low_mm is not None and limit.nominal_mm != 0:
        rooms.append(value_mm - limit.low_mm)
    if limit.high_mm is not None:
        rooms.append(limit.high_mm - value_mm)
    return min(rooms) if rooms else None


def _check_length(name: str, value_mm: float, *, zero_is_fine: bool) -> None:
    if not math.isfinite(value_mm):
        raise MeasurementError(name, f"{value_mm} mm is no length")
    if value_mm < 0:
        raise MeasurementError(name, f"{value_mm:g} mm is negative; write a length without a sign")
    if value_mm == 0 and not zero_is_fine:
        raise MeasurementError(name, "0 mm is no length; leave out what was not measured")


_OTHER_NAMES = {
    "id": "bore",
    "inside_diameter": "bore",
    "outside_diameter": "od",
    "diameter": "od",
    "thickness": "wall",
    "wall_thickness": "wall",
    "ovality": "out_of_round",
    "length": "end_to_end",
}


def _plain(name: str) -> str:
    """The stable spelling of a name: lower case, underscores, "centre", our own words."""
    words = re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_").replace("center", "centre")
    words = words.replace("_end_od", "_od").replace("branch", "outlet")
    words = re.sub(r"^(large|small)_end_", r"\1_", words)
    for prefix in ("run_", "outlet_", "large_", "small_", ""):
        if words.startswith(prefix):
            rest = words.removeprefix(prefix)
            return prefix + _OTHER_NAMES.get(rest, rest)
    return words
