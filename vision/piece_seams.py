"""Seams from several photos on one surface: the same seam in two photos counts once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fittings.words import Kind, Orientation, Part
from vision.piece_seen import COLUMNS, ROWS

SAME_ALONG = 0.08
"""Girth lines nearer than this, as a share of the part's length, are one. The welds of an elbow of
five pieces, the closest that are common, lie 0.25 apart."""

SAME_AROUND_DEG = 15.0
"""Lengthwise lines nearer than this around the part are one; gores of eight lie 45° apart."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacedCurve:
    """A photo's seam in the piece's coordinates: `photo` is its number among the photos, `along`
    (N,) 0 to 1, `around_deg` (N,) unwrapped."""

    photo: int
    orientation: Orientation
    part: Part
    confidence: float
    along: NDArray[np.float64]
    around_deg: NDArray[np.float64]

    @property
    def place(self) -> float:
        """Where in its family the seam lies: `along` of a girth seam, `around` in degrees (-180 to
        180) of a lengthwise one, 0 for a branch seam, of which there is one."""
        if self.orientation is Orientation.CIRCUMFERENTIAL:
            return float(np.median(self.along))
        if self.orientation is Orientation.LONGITUDINAL:
            turn = np.radians(self.around_deg)
            return float(np.degrees(np.arctan2(np.sin(turn).mean(), np.cos(turn).mean())))
        return 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceSeam:
    """One seam of the piece and the curves that show it. `place_sure` is False where it was seen
    only in photos whose turn is unsure."""

    orientation: Orientation
    part: Part
    curves: tuple[PlacedCurve, ...]
    place_sure: bool

    @property
    def photos(self) -> tuple[int, ...]:
        """Numbers of the photos that show it."""
        return tuple(sorted({curve.photo for curve in self.curves}))

    @property
    def confidence(self) -> float:
        return max(curve.confidence for curve in self.curves)

    @property
    def place(self) -> float:
        """Mean place of its curves, in the unit of `PlacedCurve.place`."""
        places = [curve.place for curve in self.curves]
        if self.orientation is Orientation.LONGITUDINAL:
            turn = np.radians(places)
            return float(np.degrees(np.arctan2(np.sin(turn).mean(), np.cos(turn).mean())))
        return float(np.mean(places))


def turned_curve(curve: PlacedCurve, kind: Kind, turn: int) -> PlacedCurve:
    """The curve after the turn that `vision.piece_seen.turned` gives the cells."""
    if kind is Kind.REDUCER:
        return replace(curve, around_deg=curve.around_deg + turn * 360.0 / COLUMNS)
    if turn % 2 == 0:
        return curve
    if curve.part is Part.OUTLET:
        return replace(curve, around_deg=curve.around_deg + 180.0)
    return replace(curve, along=1.0 - curve.along, around_deg=-curve.around_deg)


def gathered(
    curves: Sequence[PlacedCurve],
    kind: Kind,
    turns: Sequence[int],
    sure: Sequence[bool],
) -> tuple[PieceSeam, ...]:
    """The piece's seams, most telling first. `curves` are in their photos' own coordinates.

    A curve joins the nearest seam of its orientation and part within the tolerance. Those of sure
    photos come first; one of an unsure photo joins a seam that it fits under any turn, so that no
    seam is counted twice for want of knowing the turn.
    """
    seams: list[PieceSeam] = []
    for curve in sorted(curves, key=lambda c: (not _placed(c, kind, sure), -c.confidence)):
        placed = _placed(curve, kind, sure)
        ways = (
            [turned_curve(curve, kind, turns[curve.photo])]
            if placed
            else [turned_curve(curve, kind, turn) for turn in _turns(kind)]
        )
        nearest, way = _nearest(seams, ways)
        if nearest is None:
            own = turned_curve(curve, kind, turns[curve.photo])
            seams.append(
                PieceSeam(
                    orientation=own.orientation, part=own.part, curves=(own,), place_sure=placed
                )
            )
            continue
        seam = seams[nearest]
        seams[nearest] = replace(
            seam, curves=(*seam.curves, way), place_sure=seam.place_sure or placed
        )
    return tuple(
        sorted(
            seams,
            key=lambda s: (not s.orientation.speaks_of_fabrication, -len(s.photos), -s.confidence),
        )
    )


def _placed(curve: PlacedCurve, kind: Kind, sure: Sequence[bool]) -> bool:
    """Whether the curve's place is known: a turn moves no branch seam, and a turn about a reducer's
    axis moves no girth seam."""
    unmoved = curve.orientation is Orientation.BRANCH or (
        kind is Kind.REDUCER and curve.orientation is Orientation.CIRCUMFERENTIAL
    )
    return sure[curve.photo] or unmoved


def _turns(kind: Kind) -> range:
    return range(COLUMNS) if kind is Kind.REDUCER else range(2)


def _nearest(
    seams: Sequence[PieceSeam], ways: Sequence[PlacedCurve]
) -> tuple[int | None, PlacedCurve]:
    """Number of the seam that one of the ways fits best, None for none; and that way."""
    best: tuple[float, int | None, PlacedCurve] = (1.0, None, ways[0])
    for way in ways:
        for number, seam in enumerate(seams):
            if seam.orientation is not way.orientation:
                continue
            if seam.part is not way.part and way.orientation is not Orientation.BRANCH:
                continue
            distance = _apart(seam, way)
            if distance < best[0]:
                best = distance, number, way
    return best[1], best[2]


def _apart(seam: PieceSeam, curve: PlacedCurve) -> float:
    """Distance in units of the tolerance."""
    gap = curve.place - seam.place
    if curve.orientation is Orientation.CIRCUMFERENTIAL:
        return abs(gap) / SAME_ALONG
    if curve.orientation is Orientation.LONGITUDINAL:
        return abs((gap + 180.0) % 360.0 - 180.0) / SAME_AROUND_DEG
    return 0.0


def merged_lines(seam: PieceSeam) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """A seam's curves as one: stretches of (`along`, `around` in radians), broken where no photo
    shows it. Means over the curves in cells of the direction in which it runs."""
    along = np.concatenate([curve.along for curve in seam.curves])
    turn = np.radians(np.concatenate([curve.around_deg for curve in seam.curves]))
    lengthwise = seam.orientation is Orientation.LONGITUDINAL
    count = ROWS if lengthwise else COLUMNS
    share = along if lengthwise else (turn / (2 * np.pi) + 0.5) % 1.0
    cell = np.clip((share * count).astype(int), 0, count - 1)
    filled = np.bincount(cell, minlength=count)
    size = np.maximum(filled, 1)
    mean_along = np.bincount(cell, along, count) / size
    mean_turn = np.arctan2(
        np.bincount(cell, np.sin(turn), count), np.bincount(cell, np.cos(turn), count)
    )
    known = np.flatnonzero(filled)
    # A gap of one cell is sampling, not sight.
    breaks = np.flatnonzero(np.diff(known) > 2) + 1
    # The sheet is cut at 180 degrees, and so is a line that crosses it.
    jumps = np.flatnonzero(np.abs(np.diff(mean_turn[known])) > np.pi) + 1
    stretches = np.split(known, np.union1d(breaks, jumps))
    return [(mean_along[s], mean_turn[s]) for s in stretches if len(s) > 1]
