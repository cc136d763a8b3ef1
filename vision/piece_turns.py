"""Which way round each photo's coordinates are, where the shape alone does not say.

An elbow and a tee look the same after a half turn, and a reducer has no side that the network knows
(each photo's `around` counts from the side that faced the camera). So the coordinates of two photos
of one piece may differ by such a turn. That the piece lay the same way up in all of them makes some
turns likelier than others (`vision.piece_upright`); what stays open is drawn by lot, so that what
the photos show together has a middle and a range.

What lies on the surface does not help: on 24 tuning pieces the turn under which rust, scale and
stencils agreed best was the right one in 53 of 100 pairs of photos of elbows and tees.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fittings.words import Kind, Part
from vision.piece_form import Field, Form
from vision.piece_seen import COLUMNS, SeenMap, cell_areas, turned, union
from vision.piece_upright import DIRECTIONS, directions, turn_matrix, upright_odds

SURE = 0.9
"""Probability from which on a turn is taken for known."""

DRAWS = 200
"""Ways round that are drawn by lot from their probabilities."""

_NEAR_COLUMNS = 4
"""A reducer's turn is known when it is, to this many columns."""

_DATUM_SPREAD_DEG, _DATUM_STRAY = 20.0, 0.1
_DATUM_ODDS = 20.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Turns:
    """For each of N photos, in the order given: its likeliest turn (0 or 1 half turns, or columns
    of `around` for a reducer) and whether that is known. `drawn` (D, N) are turns of all photos
    together, as likely as they are frequent."""

    columns: tuple[int, ...]
    sure: tuple[bool, ...]
    drawn: NDArray[np.intp]


def has_datum(kind: Kind, middles_deg: Sequence[float]) -> bool:
    """Whether a reducer's `around` counts from the piece (an eccentric one's flat side) and not
    from the camera: `middles_deg` is the middle of what each photo shows.

    A datum that faces the camera is in the middle of what is seen, give or take
    `_DATUM_SPREAD_DEG` but for a share of `_DATUM_STRAY`; a flat side may be anywhere. By the
    product over the photos the second must be `_DATUM_ODDS` times as likely: taking a reducer for
    concentric costs only caution.
    """
    if kind is not Kind.REDUCER:
        return False
    z = np.asarray(middles_deg) / _DATUM_SPREAD_DEG
    facing = np.exp(-0.5 * z**2) / (_DATUM_SPREAD_DEG * np.sqrt(2 * np.pi))
    facing = (1.0 - _DATUM_STRAY) * facing + _DATUM_STRAY / 360.0
    return bool(-np.log(360.0 * facing).sum() > np.log(_DATUM_ODDS))


def middle_deg(form: Form, seen: SeenMap) -> float:
    """Circular mean of `around` over the area seen of the first part, degrees."""
    part = next(iter(seen))
    weight = (seen[part].share * cell_areas(form)[part]).sum(axis=0)
    turn = (np.arange(COLUMNS) + 0.5) / COLUMNS * 2 * np.pi - np.pi
    return float(
        np.degrees(np.arctan2((weight * np.sin(turn)).sum(), (weight * np.cos(turn)).sum()))
    )


def choices(kind: Kind) -> range:
    """The turns that a photo's coordinates may have."""
    return range(COLUMNS) if kind is Kind.REDUCER else range(2)


def resolved(kind: Kind, axes: Sequence[Field | None], *, datum: bool, first: int = 0) -> Turns:
    """The turn of each photo. With `datum` none is in question. Photo `first` is sure by
    convention: the others are turned to it. `axes` are the cameras' (`piece_upright.axes_of`), None
    for a photo of which nothing is known."""
    count = len(axes)
    if datum or count < 2:
        return Turns(
            columns=(0,) * count, sure=(True,) * count, drawn=np.zeros((1, count), np.intp)
        )
    odds = _odds(kind, axes)
    # Of each direction as the piece's up, in the frame of the first photo's coordinates.
    weight = np.prod([o[0] if i == first else o.mean(axis=0) for i, o in enumerate(odds)], axis=0)
    weight /= weight.sum()
    rng = np.random.default_rng(0)  # the same photos give the same answer
    ups = rng.choice(DIRECTIONS, size=DRAWS, p=weight)
    drawn = np.zeros((DRAWS, count), np.intp)
    columns, sure = [0] * count, [True] * count
    for i, own in enumerate(odds):
        if i == first:
            continue
        by_turn = own / own.sum(axis=0)
        columns[i], known = _likeliest(kind, (weight * by_turn).sum(axis=1))
        sure[i] = known >= SURE
        steps = np.cumsum(by_turn[:, ups], axis=0)
        drawn[:, i] = (rng.random(DRAWS) > steps[:-1]).sum(axis=0)
    return Turns(columns=tuple(columns), sure=tuple(sure), drawn=drawn)


def _odds(kind: Kind, axes: Sequence[Field | None]) -> list[Field]:
    """For each photo, (turns, DIRECTIONS): how much each turn and each direction for up explain how
    the camera was held."""
    ups = directions()
    matrices = [turn_matrix(kind, turn) for turn in choices(kind)]
    return [
        np.ones((len(matrices), DIRECTIONS))
        if own is None
        else np.stack([upright_odds(own @ matrix.T, ups) for matrix in matrices])
        for own in axes
    ]


def _likeliest(kind: Kind, probability: Field) -> tuple[int, float]:
    """The likeliest turn and its probability; of a reducer the middle one, and the probability of
    all that lie near it."""
    if kind is not Kind.REDUCER:
        best = int(probability.argmax())
        return best, float(probability[best])
    angle = 2 * np.pi * np.arange(COLUMNS) / COLUMNS
    middle = np.angle((probability * np.exp(1j * angle)).sum())
    best = round(float(middle) / (2 * np.pi) * COLUMNS) % COLUMNS
    off = np.abs((np.arange(COLUMNS) - best + COLUMNS // 2) % COLUMNS - COLUMNS // 2)
    return best, float(probability[off <= _NEAR_COLUMNS].sum())


def least_shown(
    form: Form, maps: Sequence[SeenMap], *, first: int = 0, most_tried: int = 512
) -> tuple[int, ...]:
    """The turns of all photos but the first under which they show least together: of every
    combination where there are few, else one photo after the other."""
    areas, turns = cell_areas(form), choices(form.kind)
    order = [first, *(i for i in range(len(maps)) if i != first)]
    # Ways so far: the turns given, and what the photos so far show under them.
    start = {part: maps[first][part].share for part in areas}
    ways: list[tuple[tuple[int, ...], dict[Part, Field]]] = [((0,), start)]
    exhaustive = len(turns) ** (len(maps) - 1) <= most_tried

    def shown(cells: dict[Part, Field]) -> float:
        return sum(float((areas[part] * cells[part]).sum()) for part in areas)

    for i in order[1:]:
        ways = [
            (
                (*given, turn),
                {p: union([cells[p], turned(form.kind, p, maps[i][p].share, turn)]) for p in cells},
            )
            for given, cells in ways
            for turn in turns
        ]
        if not exhaustive:
            ways = [min(ways, key=lambda way: shown(way[1]))]
    given, _ = min(ways, key=lambda way: shown(way[1]))
    columns = [0] * len(maps)
    for i, turn in zip(order, given, strict=True):
        columns[i] = turn
    return tuple(columns)
