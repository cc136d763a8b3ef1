"""Which way round each photo's coordinates are, where the shape alone does not say.

An elbow and a tee look the same after a half turn, and a concentric reducer has no side at all to
count `around` from (each photo's counts from the side that faced the camera). So the coordinates
of two photos of one piece may differ by such a turn. What is on the surface can tell: rust, scale,
stencils and seams lie in the same cells in both photos when the turn is right. Where that does not
decide it, the photo's turn is unsure, and what it shows is counted as if it showed least.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import binary_erosion, gaussian_filter

from fittings.words import Kind, Part
from vision.piece_form import Field, Form
from vision.piece_seen import COLUMNS, SeenMap, cell_areas, turned, union

SURE = 3.0
"""How far the best turn's agreement must lie over every other's, in standard deviations of chance
agreement."""

_INDEPENDENT = 6.0
"""Cells that count as one: the pattern is smoothed over about as many, so neighbours are alike."""

_LEAST_CELLS = 24
_CLEAR_SHARE = 0.75
_LEAST_PX = 12.0
_DATUM_SPREAD_DEG = 20.0
_DATUM_ODDS = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Turns:
    """For each photo, in the order given: its turn (0 or 1 half turns, or columns of `around` for a
    reducer) and whether anything but convention decides it."""

    columns: tuple[int, ...]
    sure: tuple[bool, ...]


def has_datum(kind: Kind, middles_deg: Sequence[float]) -> bool:
    """Whether a reducer's `around` counts from the piece (an eccentric one's flat side) and not
    from the camera: `middles_deg` is the middle of what each photo shows.

    A datum that faces the camera is in the middle of what is seen, give or take
    `_DATUM_SPREAD_DEG`; a flat side may be anywhere. By the product over the photos the second must
    be `_DATUM_ODDS` times as likely: taking a reducer for concentric costs only caution.
    """
    if kind is not Kind.REDUCER:
        return False
    z = np.asarray(middles_deg) / _DATUM_SPREAD_DEG
    facing = -0.5 * z**2 - np.log(_DATUM_SPREAD_DEG * np.sqrt(2 * np.pi))
    return bool((np.log(1 / 360.0) - facing).sum() > np.log(_DATUM_ODDS))


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


def pattern(seen: SeenMap) -> dict[Part, tuple[Field, Field]]:
    """Of each part: what lies on the surface, without the light's slow change over it and in units
    of its own spread, and how far it is to be trusted (0 to 1), both (ROWS, COLUMNS)."""
    out = {}
    for part, view in seen.items():
        clear = (view.share >= _CLEAR_SHARE) & (view.px_per_radius >= _LEAST_PX)
        clear = binary_erosion(clear, iterations=2)
        clear = np.repeat(np.repeat(clear, 2, axis=0), 2, axis=1) & np.isfinite(view.grey)
        value = np.where(clear, np.log(np.maximum(np.nan_to_num(view.grey), 4.0)), 0.0)
        fine, coarse = (_smoothed(value, clear, sigma) for sigma in (0.8, 2.5))
        detail = np.where(clear, fine - coarse, 0.0)
        for axis in (0, 1, 0, 1):
            # The edge of a shadow and the line of a highlight run along or around the part, in
            # another photo too, whichever side is up: what is left has no such lines.
            lines = detail.sum(axis, keepdims=True) / np.maximum(clear.sum(axis, keepdims=True), 1)
            detail = np.where(clear, detail - lines, 0.0)
        spread = np.sqrt(_smoothed(detail**2, clear, 6.0))
        scaled = np.where(clear, detail / np.maximum(spread, 0.01), 0.0)
        out[part] = np.clip(scaled, -3.0, 3.0), clear.astype(np.float64)
    return out


def _smoothed(value: Field, known: np.ndarray, sigma: float) -> Field:
    mode = ("nearest", "wrap")
    weight = gaussian_filter(known.astype(np.float64), sigma, mode=mode)
    return gaussian_filter(value * known, sigma, mode=mode) / np.maximum(weight, 1e-6)


Pattern = Mapping[Part, tuple[Field, Field]]


def agreement(kind: Kind, first: Pattern, second: Pattern, turn: int) -> float:
    """How well `second`, turned, agrees with `first` where both show the surface: Fisher's z of
    their correlation over its standard deviation by chance, 0 where they have too little in
    common."""
    count, xy, xx, yy = 0.0, 0.0, 0.0, 0.0
    for part in first:
        a, known_a = first[part]
        b, known_b = (turned(kind, part, cells, turn) for cells in second[part])
        both = known_a * known_b
        count += float(both.sum())
        xy += float((both * a * b).sum())
        xx += float((both * a * a).sum())
        yy += float((both * b * b).sum())
    if count < _LEAST_CELLS or xx <= 0.0 or yy <= 0.0:
        return 0.0
    correlation = float(np.clip(xy / np.sqrt(xx * yy), -0.999, 0.999))
    return float(np.arctanh(correlation) * np.sqrt(max(count / _INDEPENDENT - 3.0, 0.0)))


def resolved(kind: Kind, maps: Sequence[SeenMap], *, datum: bool, first: int = 0) -> Turns:
    """The turn of each photo. With `datum` none is in question. Photo `first` is sure by
    convention: the others are turned to it, the clearest first, each against all that were placed
    before. An unsure one keeps the likelier half turn; a reducer's keeps its own datum."""
    if datum or not maps:
        return Turns(columns=(0,) * len(maps), sure=(True,) * len(maps))
    patterns = [pattern(seen) for seen in maps]
    columns, sure = [0] * len(maps), [False] * len(maps)
    sure[first] = True
    scores: dict[int, Field] = {}
    waiting = set(range(len(maps))) - {first}
    placed = first
    while waiting:
        anchor = {
            part: (turned(kind, part, a, columns[placed]), turned(kind, part, b, columns[placed]))
            for part, (a, b) in patterns[placed].items()
        }
        for i in waiting:
            against = np.array([agreement(kind, anchor, patterns[i], t) for t in choices(kind)])
            scores[i] = scores.get(i, 0.0) + against
        # The sum of several agreements by chance spreads as the square root of their number.
        spread = np.sqrt(len(maps) - len(waiting))
        margins = {i: _margin(kind, scores[i]) / spread for i in waiting}
        best = max(margins, key=lambda i: margins[i])
        columns_of = {i: int(np.argmax(scores[i])) for i in waiting}
        if margins[best] < SURE:
            for i in waiting:
                columns[i] = columns_of[i] if kind is not Kind.REDUCER else 0
            break
        columns[best], sure[best] = columns_of[best], True
        waiting.remove(best)
        placed = best
    return Turns(columns=tuple(columns), sure=tuple(sure))


def least_shown(
    form: Form, maps: Sequence[SeenMap], turns: Turns, *, most_tried: int = 512
) -> Turns:
    """The same turns with those of unsure photos replaced by the ones under which all photos
    together show least: every combination where there are few, else one photo after the other."""
    areas = cell_areas(form)
    kind, unsure = form.kind, [i for i, sure in enumerate(turns.sure) if not sure]

    def shown(columns: Sequence[int], among: Sequence[int]) -> float:
        return sum(
            float(
                (
                    areas[part]
                    * union(turned(kind, part, maps[i][part].share, columns[i]) for i in among)
                ).sum()
            )
            for part in areas
        )

    columns = list(turns.columns)
    everything = range(len(maps))
    if len(choices(kind)) ** len(unsure) <= most_tried:
        tries = (
            [dict(zip(unsure, way, strict=True)).get(i, columns[i]) for i in everything]
            for way in itertools.product(choices(kind), repeat=len(unsure))
        )
        columns = min(tries, key=lambda c: shown(c, everything))
    else:
        among = [i for i in everything if turns.sure[i]]
        for i in unsure:
            among.append(i)
            worst = [
                shown([*columns[:i], turn, *columns[i + 1 :]], among) for turn in choices(kind)
            ]
            columns[i] = int(np.argmin(worst))
    return Turns(columns=tuple(columns), sure=turns.sure)


def _margin(kind: Kind, scores: Field) -> float:
    """How far the best turn stands over the others (a reducer's neighbouring ones left out) and
    over no agreement at all: that the other turn disagrees is no proof of this one."""
    best = int(np.argmax(scores))
    rest = [
        score
        for turn, score in enumerate(scores)
        if min((turn - best) % len(scores), (best - turn) % len(scores))
        > (3 if kind is Kind.REDUCER else 0)
    ]
    return float(scores[best] - max(0.0, *rest))
