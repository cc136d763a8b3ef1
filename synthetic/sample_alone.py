"""Chance for one thing that is no fitting: alone and large in a picture without a piece, or beside
the pieces."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from fittings.words import Kind
from synthetic.assembly import dropped, laid, moved, outline, resized
from synthetic.draws import Rng, clipped_rgb
from synthetic.sample_goods import GOODS, SET_GOODS
from synthetic.sample_marks import sample_mark
from synthetic.sample_skins import sample_skin
from synthetic.sample_things import SET, TURNED, Look
from synthetic.sample_yard import any_look
from synthetic.scene import MOST_PROPS, Mark, Piece, Prop, Wear

ALONE_SHARE = 0.38
"""Of pictures without a piece, how many show one such thing, large, with little about it."""

BESIDE_SHARE = 0.2
"""Of pictures with a piece, how many have one beside it, about as large as the piece."""

WORN_SHARE = 0.7
"""How often a thing that stands alone wears a piece's skin and marks, not one plain colour."""

WORN_AMONG_SHARE = 0.4
"""The same for scenes of several things, of which about six in ten then wear it."""

PAIR_SHARE = 0.25
"""How often another thing stands by the one that is alone, and LIFTED_SHARE how often it is held
or hung above the ground."""
LIFTED_SHARE = 0.12

ALIKE_SHARE = 0.4
"""How often a thing beside a piece has about the piece's colour."""

_OFTEN = {"welding-neck flange": 3.0, "flat flange": 1.5, "loose pipe": 2.0, "pile of pipe": 2.0,
          "steel section": 1.5, "bucket": 2.0, "traffic cone": 1.5, "bolts": 0.5}  # fmt: skip
"""What is drawn more or less often than the others."""

THINGS = (*TURNED, *SET, *GOODS, *SET_GOODS)
"""The names of all things."""
_SHARES = np.array([_OFTEN.get(name, 1.0) for name in THINGS])
_SHARES /= _SHARES.sum()

_WOUND = ("band", "strap", "tape", "sling", "wire")


class Alone(NamedTuple):
    """A thing by itself: its parts, what it wears, and for the camera the middle, how far its
    outline reaches from there, and points (N, 3) of it, mm."""

    props: list[Prop]
    wear: Wear
    target: np.ndarray
    extent_mm: float
    points: np.ndarray


def thing(rng: Rng, main: Look, other: Look, name: str | None = None) -> list[Prop]:
    """One thing on the ground about the origin, of that name or of any. KeyError for a name that
    is not in THINGS."""
    if name is None:
        name = THINGS[int(rng.choice(len(THINGS), p=_SHARES))]
    if name in SET or name in SET_GOODS:
        parts = (SET | SET_GOODS)[name](rng, main, other)
        return dropped(parts[:MOST_PROPS], yaw=float(rng.uniform(0, 2 * np.pi)))
    make, upright, level = (TURNED | GOODS)[name]
    return laid(rng, make(rng, main, other)[:MOST_PROPS], upright, level)


def alone(rng: Rng, name: str | None = None) -> Alone:
    """A thing by itself, large, perhaps with another by it."""
    main, other = any_look(rng), any_look(rng)
    if rng.random() < WORN_SHARE:
        main["own_skin"] = 0.0
        if rng.random() < 0.3:
            other["own_skin"] = 0.0
    props = thing(rng, main, other, name)
    if rng.random() < PAIR_SHARE:
        again = name if rng.random() < 0.4 else None
        props = _with_another(rng, props, thing(rng, any_look(rng), any_look(rng), again))
    points = outline(props)
    if rng.random() < LIFTED_SHARE:
        reach = float(np.ptp(points, axis=0).max())
        props = moved(props, np.eye(3), np.array([0.0, 0.0, reach * float(rng.uniform(0.1, 1.5))]))
        points = outline(props)
    target = 0.5 * (points.min(axis=0) + points.max(axis=0))
    extent = float(np.linalg.norm(points - target, axis=1).max())
    return Alone(props, _wear(rng, props, extent), target, extent, points)


def worn(rng: Rng, props: tuple[Prop, ...], size: float) -> tuple[tuple[Prop, ...], Wear]:
    """The things of a scene without a piece, in a share of the scenes some of them with a piece's
    skin in place of their own colour; `size` is about their radius in mm."""
    if rng.random() >= WORN_AMONG_SHARE:
        return props, Wear(radius_mm=size)
    dressed = tuple(replace(p, own_skin=float(rng.random() < 0.4)) for p in props)
    return dressed, Wear(radius_mm=size, skin=sample_skin(rng))


def beside(rng: Rng, extent: float, rgb: tuple[float, float, float]) -> list[Prop]:
    """A thing about as large as the pieces, on the ground beside them or somewhat behind; now and
    then of about the colour `rgb` of the first piece. Mostly nothing."""
    if rng.random() >= BESIDE_SHARE:
        return []
    main, other = any_look(rng), any_look(rng)
    if rng.random() < ALIKE_SHARE:
        main["rgb"] = clipped_rgb(np.asarray(rgb) * np.exp(rng.normal(0, 0.2)))
    props = thing(rng, main, other)
    reach = _reach(props)
    wanted = extent * float(np.exp(rng.uniform(np.log(0.4), np.log(1.6))))
    props = resized(props, wanted / reach)
    away = extent + wanted * float(rng.uniform(0.8, 1.6))
    heading = rng.uniform(0, 2 * np.pi)
    return moved(props, np.eye(3), np.array([away * np.cos(heading), away * np.sin(heading), 0.0]))


def _with_another(rng: Rng, props: list[Prop], more: list[Prop]) -> list[Prop]:
    """The parts of both, the second beside the first and of its own size or of a like one, where
    there is room for all."""
    if len(props) + len(more) > MOST_PROPS:
        return props
    ratio = _reach(props) / _reach(more)
    if not 0.3 < ratio < 3.0:
        more = resized(more, ratio * float(rng.uniform(0.4, 1.3)))
    away = (_reach(props) + _reach(more)) * float(rng.uniform(0.7, 1.1))
    heading = rng.uniform(0, 2 * np.pi)
    by = np.array([away * np.cos(heading), away * np.sin(heading), 0.0])
    return [*props, *moved(more, np.eye(3), by)]


def _reach(props: list[Prop]) -> float:
    """How far the outline lies from the vertical through the origin, mm."""
    return float(np.hypot(*outline(props).T[:2]).max())


def _wear(rng: Rng, props: list[Prop], extent: float) -> Wear:
    """A skin and marks as a piece of that size has them, laid out on the first part. A slender
    thing's radius is taken for larger than it is, as far as the view and its shadows go."""
    body = props[0]
    radius = max(body.half_height_mm, body.half_depth_mm, 1.0)
    like = Piece(kind=Kind.REDUCER, radius_mm=radius, length_mm=max(2.0 * body.half_length_mm, 1.0))
    marks = tuple(_mark(rng, like) for _ in range(3))
    return Wear(radius_mm=max(radius, 0.3 * extent), skin=sample_skin(rng), marks=marks)  # type: ignore[arg-type]


def _mark(rng: Rng, like: Piece) -> Mark:
    """A mark as on a piece; what is wound about it keeps to its own place on each part."""
    mark = sample_mark(rng, like)
    if mark.name in _WOUND and mark.follow == 0.0:
        return replace(mark, follow=2.0, at=float(rng.uniform(0.1, 0.9)), gate_offset_mm=-1.0e5)
    return mark
