"""The surface that several photos of one piece show together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from fittings.words import Kind, Part
from vision.piece_form import PARTS, Field, Form, usual_form
from vision.piece_photo import PieceView
from vision.piece_seen import SeenMap, cell_centres, seen_share, turned, union
from vision.piece_turns import Turns, has_datum, least_shown, middle_deg, resolved

CLEAR_PX_PER_RADIUS = 20.0
"""A cap as wide as a tenth of the outside radius is then two pixels wide at the network's size. The
cap of an NPS 6 pipe's butt weld, about 12 mm, is a seventh of its radius (common practice, no
source)."""

RANGE = 0.05, 0.95
"""Quantiles of what the photos show, over the ways round that they may have been taken from."""

PHOTO_ERROR = 0.05
"""What is added on both sides for what each photo's own map is off by: with it the truth is within
the range on nine of ten of 64 tuning pieces."""

_NARROWEST, _STEP, _BESIDE = 0.35, 0.05, 0.35
"""The narrowest outlet that is tried, the step, and how much of the run beside the widest counts,
in radii of the run. The reducing tees of ASME B16.9 go down to 0.36, NPS 30 x 10."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """What the photos together show of the piece.

    `seen` is the share (ROWS, COLUMNS) of each cell that some photo shows, `clear` the share that
    is shown well enough for a usual cap (CLEAR_PX_PER_RADIUS), both the mean over the ways round
    that the photos may have been taken from, and `chance` the share of those ways in which at least
    half of the cell is seen. Of the whole outside, `seen_range` is the range of
    what is seen over those ways, and `least_fraction` what is seen at the least, whichever way
    round each photo was taken. `photos` are the numbers of the photos that were put together,
    `turns` belongs to them in that order. `datum` is whether a reducer's `around` counts from its
    flat side.
    """

    form: Form
    seen: dict[Part, Field] = field(repr=False)
    clear: dict[Part, Field] = field(repr=False)
    chance: dict[Part, Field] = field(repr=False)
    seen_range: tuple[float, float]
    least_fraction: float
    photos: tuple[int, ...]
    turns: Turns
    datum: bool

    @property
    def seen_fraction(self) -> float:
        return seen_share(self.form, self.seen)

    @property
    def clear_fraction(self) -> float:
        return seen_share(self.form, self.clear)

    @property
    def unsure(self) -> tuple[int, ...]:
        """Numbers of the photos whose turn could not be told."""
        return tuple(p for p, s in zip(self.photos, self.turns.sure, strict=True) if not s)


def surface_of(views: Sequence[PieceView], kind: Kind, counted: Sequence[int]) -> Surface | None:
    """The surface that the counted photos of that kind show."""
    photos = [i for i in counted if views[i].reading.kind is kind and kind in views[i].seen]
    if kind is Kind.NONE or not photos:
        return None
    maps = [views[i].seen[kind] for i in photos]
    form = fitted_form(kind, maps)
    shares = [seen_share(form, {p: m[p].share for p in m}) for m in maps]
    datum = has_datum(kind, [middle_deg(form, m) for m in maps])
    first = int(np.argmax(shares))
    turns = resolved(kind, [views[i].axes.get(kind) for i in photos], datum=datum, first=first)
    ways, times = np.unique(turns.drawn, axis=0, return_counts=True)
    seen, clear, chance = (
        {part: np.zeros_like(cells.share) for part, cells in maps[0].items()} for _ in range(3)
    )
    fractions = []
    for way, weight in zip(ways, times / times.sum(), strict=True):
        own_seen, own_clear = _together(kind, maps, way)
        fractions.append(seen_share(form, own_seen))
        for part in seen:
            seen[part] += weight * own_seen[part]
            clear[part] += weight * own_clear[part]
            chance[part] += weight * (own_seen[part] >= 0.5)
    low, high = np.quantile(np.repeat(fractions, times), RANGE)
    least = seen_share(
        form,
        _together(kind, maps, turns.columns if datum else least_shown(form, maps, first=first))[0],
    )
    return Surface(
        form=form,
        seen=seen,
        clear=clear,
        chance=chance,
        seen_range=(max(float(low) - PHOTO_ERROR, least), min(float(high) + PHOTO_ERROR, 1.0)),
        least_fraction=least,
        photos=tuple(photos),
        turns=turns,
        datum=datum,
    )


def _together(
    kind: Kind, maps: Sequence[SeenMap], turns: Sequence[int]
) -> tuple[dict[Part, Field], dict[Part, Field]]:
    """What the photos, so turned, show of each part, and what they show clearly."""
    seen, clear = {}, {}
    for part in PARTS[kind]:
        own = [m[part].share for m in maps]
        sharp = [m[part].share * (m[part].px_per_radius >= CLEAR_PX_PER_RADIUS) for m in maps]
        seen[part], clear[part] = (
            union(turned(kind, part, c, int(t)) for c, t in zip(cells, turns, strict=True))
            for cells in (own, sharp)
        )
    return seen, clear


def fitted_form(kind: Kind, maps: Sequence[SeenMap]) -> Form:
    """The usual proportions, with a tee's outlet as wide as the run that is seen beside it asks:
    under an outlet little run is seen, right beside it more. The radius is the one that parts those
    two levels best (least squares over the run's cells about the outlet); a half turn changes
    nothing in that. The usual one where nothing of that side is seen."""
    form = usual_form(kind)
    if kind is not Kind.TEE:
        return form
    along, around = cell_centres()
    off = np.hypot((2.0 * along - 1.0) * form.length, np.sin(around))
    # Cells count by how far they face the outlet's way; where the run turns away, it says little.
    weight = np.where(off < 1.0 + _BESIDE, np.maximum(np.cos(around), 0.0), 0.0)
    shown = np.mean([m[Part.RUN].share for m in maps], axis=0)
    best, least = form, float("inf")
    for radius in np.arange(_NARROWEST, 1.001, _STEP):
        under, beside = weight * (off < radius), weight * (off >= radius)
        low, high = (float((shown * w).sum() / w.sum()) for w in (under, beside))
        left = float((under * (shown - low) ** 2 + beside * (shown - high) ** 2).sum())
        if high > low and left < least:
            best, least = replace(form, second_radius=min(float(radius), 1.0)), left
    return best
