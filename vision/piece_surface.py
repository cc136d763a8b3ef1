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


_WHOLE, _ASTRAY, _NARROWEST = 0.99, 6, 0.25
"""Share from which a cell counts as shown, how many such cells may be wrong, and the narrowest
outlet, in radii of its run, that a tee is taken to have."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """What the photos together show of the piece.

    `seen` is the share (ROWS, COLUMNS) of each cell that some photo shows, `clear` the share that
    is shown well enough for a usual cap (CLEAR_PX_PER_RADIUS). `photos` are the numbers of the
    photos that were put together, `turns` belongs to them in that order. `datum` is whether a
    reducer's `around` counts from its flat side.
    """

    form: Form
    seen: dict[Part, Field] = field(repr=False)
    clear: dict[Part, Field] = field(repr=False)
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
    """The surface that the counted photos of that kind show, unsure turns at their worst."""
    photos = [i for i in counted if views[i].reading.kind is kind and kind in views[i].seen]
    if kind is Kind.NONE or not photos:
        return None
    maps = [views[i].seen[kind] for i in photos]
    form = fitted_form(kind, maps)
    shares = [seen_share(form, {p: m[p].share for p in m}) for m in maps]
    datum = has_datum(kind, [middle_deg(form, m) for m in maps])
    turns = resolved(kind, maps, datum=datum, first=int(np.argmax(shares)))
    turns = least_shown(form, maps, turns)
    seen, clear = {}, {}
    for part in PARTS[kind]:
        own = [
            turned(kind, part, m[part].share, t) for m, t in zip(maps, turns.columns, strict=True)
        ]
        sharp = [
            turned(kind, part, m[part].px_per_radius, t)
            for m, t in zip(maps, turns.columns, strict=True)
        ]
        seen[part] = union(own)
        clear[part] = union(
            share * (px >= CLEAR_PX_PER_RADIUS) for share, px in zip(own, sharp, strict=True)
        )
    return Surface(
        form=form, seen=seen, clear=clear, photos=tuple(photos), turns=turns, datum=datum
    )


def fitted_form(kind: Kind, maps: Sequence[SeenMap]) -> Form:
    """The usual proportions, with a tee's outlet as narrow as the run that is seen beside it asks:
    where the photos show run, there stands no outlet. A half turn changes nothing in that."""
    form = usual_form(kind)
    if kind is not Kind.TEE:
        return form
    along, around = cell_centres()
    off = np.hypot((2.0 * along - 1.0) * form.length, np.sin(around))
    shown = [m[Part.RUN].share >= _WHOLE for m in maps]
    beside = np.sort(off[np.any(shown, axis=0) & (np.cos(around) > 0.0)])
    # A few cells may be wrong at the crotch, where the two parts meet.
    if len(beside) <= _ASTRAY or beside[_ASTRAY] >= form.second_radius:
        return form
    return replace(form, second_radius=float(max(beside[_ASTRAY], _NARROWEST)))
