"""Each factor of a scene with its low end, a middle and its high end, as it is sampled.

The ranges stand where they are drawn, in `synthetic.sample_…`, and many depend on what was drawn
before; so the ends are the least and the greatest value among the things of a few hundred drawn
scenes, and the middle is the median of what is above the least. Lengths of a piece, of its marks
and of a prop go with its size; they are shown at the size of the base. Of three numbers (a colour,
a direction) the ends are two whole draws: the darkest and the brightest, the lowest and the
highest. Where a thing stands and how it is turned depends on all that is about it: for those the
ends are a shift or a turn of the base.
"""

from __future__ import annotations

import dataclasses
import typing
from dataclasses import dataclass, replace
from functools import cache
from statistics import median_low
from typing import Any

import numpy as np

from fittings.geometry import mitre_cut_angle_deg
from fittings.words import Kind
from synthetic.draws import nine, rotation_about, triple
from synthetic.factor_bases import RADIUS_MM, Group, at_path, on_ground, with_value
from synthetic.sample import sample_scene
from synthetic.scene import (
    ABSENT_MM,
    Camera,
    Mark,
    Piece,
    Prop,
    Scene,
    Skin,
    Wear,
    Weld,
)

SEED = 0
DRAWN = 300

_NUMBERED = {(Prop, "shape"), (Mark, "follow")}
"""Numbers that name a form: `synthetic.factor_sheet` shows one picture of each."""

_WITH: dict[str, dict[str, Any]] = {
    "piece.corner": {"bell": 0.0},
    "weld.stop_mm": {"crater_mm": 1.5},
    "weld.crater_mm": {"stop_mm": 30.0},
    "weld.passes": {"pass_mm": 1.0},
    "weld.pass_mm": {"passes": 3.0},
    "weld.tint_order": {"zone_mix": 0.8},
    "weld.phase": {"ripple_mm": 0.5, "crater_mm": 1.5},
    "mark.at": {"reach_mm": 40.0},
    "mark.pitch_mm": {"repeats": 3.0},
    "mark.repeats": {"pitch_mm": 25.0},
    "mark.gate": {},
    "skin.rust_patch_mm": {"rust_amount": 0.5},
    "skin.gloss": {"metallic": 0.0, "roughness": 0.15, "rgb": (0.02, 0.02, 0.02)},
    "camera.k2": {"focal": 0.6},
    "ground.gap": {"planks": 1.0},
    "ground.gap_tone": {"planks": 1.0, "gap": 0.2},
    "ground.contact": {"studio": 1.0},
    "light.buildings": {"skyline": 1.0},
    "light.rungs": {"bars": 1.0},
    "light.rungs_mm": {"bars": 1.0, "rungs": 1.0},
    "light.cloud_scale": {"clouds": 1.0},
    "effects.grid_across_px": {"first_jpeg_quality": 25.0},
    "effects.grid_down_px": {"first_jpeg_quality": 25.0},
    "effects.smear": {"noise": 0.06},
    "effects.chroma_smear": {"colour_noise": 0.06},
    "effects.blotch_px": {"blotch": 0.06, "colour_blotch": 0.04},
    "effects.stamp": {},
    "effects.bar_left": {},
    "effects.bar_right": {},
    "effects.bar_top": {},
    "effects.bar_bottom": {},
    "prop.stripe_mm": {"stripe": 1.0},
    "prop.stripe": {"stripe_mm": 30.0},
}
"""What else must be there for a factor to show, where `_switches` does not find it by its name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Factor:
    """One field at its three places on one base: captions and scenes, in step."""

    name: str
    base: int
    captions: tuple[str, ...]
    scenes: tuple[Scene, ...]


@cache
def drawn_scenes() -> tuple[Scene, ...]:
    """The scenes whose values give the ends."""
    return tuple(sample_scene(np.random.default_rng([SEED, i])) for i in range(DRAWN))


def factor_names(group: Group) -> tuple[str, ...]:
    """The fields of the group's class that hold numbers, but for those of a group of their own."""
    part = type(at_path(group.bases[0], group.path))
    hints = typing.get_type_hints(part)
    return tuple(
        name
        for name, hint in hints.items()
        if (hint is float or (typing.get_args(hint) and set(typing.get_args(hint)) == {float}))
        and (part, name) not in _NUMBERED
    )


def factors(group: Group, field: str) -> typing.Iterator[Factor]:
    """The factor on each base of its group in turn."""
    for number, base in enumerate(group.bases):
        thing = at_path(base, group.path)
        key = f"{group.name}.{field}"
        others = _WITH.get(key, _switches(thing, field))
        thing = replace(thing, **others) if others else thing
        ends = _posed(thing, field) or _ends(thing, field)
        scenes = []
        for _, value in ends:
            changed = replace(thing, **{field: value})
            if isinstance(changed, Piece) and field != "position_mm":
                changed = on_ground(_mitred_alike(changed, field))
            scenes.append(with_value(base, group.path, changed))
        captions = [caption for caption, _ in ends]
        yield Factor(name=key, base=number, captions=tuple(captions), scenes=tuple(scenes))


def _mitred_alike(piece: Piece, field: str) -> Piece:
    """Pieces and cuts of a mitred elbow make up its bend together: one follows the other."""
    if field == "pieces" and piece.pieces > 1.0:
        return replace(piece, cut_deg=mitre_cut_angle_deg(piece.bend_deg, int(piece.pieces)))
    if field == "cut_deg" and piece.cut_deg > 0.0:
        return replace(piece, pieces=1.0 + round(0.5 * piece.bend_deg / piece.cut_deg))
    return piece


def things(like: Any) -> list[Any]:
    """What the drawn scenes hold of the same class (kind and make, or shape) and is there to be
    seen; marks with lengths as on a piece of the base's size, welds without those of branches,
    whose fillets the butt welds of the base have no part of. ValueError where nothing is."""
    out: list[Any] = []
    for scene in drawn_scenes():
        for value in _parts(scene):
            if type(value) is type(like) and _is_there(value) and _alike(value, like):
                out.append(value)
    if not out:
        raise ValueError(f"No drawn scene holds a {type(like).__name__} like this: raise DRAWN.")
    return out


def _parts(value: Any) -> typing.Iterator[Any]:
    if isinstance(value, Wear) and value.skin == Skin():
        return  # nothing wears it
    if isinstance(value, Piece | Wear):
        scale = RADIUS_MM / value.radius_mm
        if isinstance(value, Piece) and value.kind is Kind.TEE:
            value = replace(value, cross_weld=Weld())
        value = replace(value, marks=tuple(_scaled(mark, scale) for mark in value.marks))
    if isinstance(value, tuple):
        for each in value:
            yield from _parts(each)
    elif dataclasses.is_dataclass(value):
        yield value
        for f in dataclasses.fields(value):
            yield from _parts(getattr(value, f.name))


def _scaled(mark: Mark, scale: float) -> Mark:
    lengths = [f.name for f in dataclasses.fields(mark) if f.name.endswith("_mm")]
    return replace(mark, **{name: scale * getattr(mark, name) for name in lengths})


def _is_there(value: Any) -> bool:
    if isinstance(value, Weld):
        return value.present > 0.5
    if isinstance(value, Mark):
        return value.name != "none"
    if isinstance(value, Prop):
        return value.position_mm[2] > ABSENT_MM
    return bool(getattr(value, "power", 1.0) > 0.0)  # a lamp that is lit


def _alike(value: Any, like: Any) -> bool:
    return all(
        getattr(value, n, None) == getattr(like, n, None) for n in ("kind", "construction", "shape")
    )


def _switches(thing: Any, field: str) -> dict[str, Any]:
    """The strengths that `field` belongs to by its name (`rust_rgb` to `rust_amount`), turned up
    where the base has them at 0."""
    stem = _stem(field)
    off = [
        f.name
        for f in dataclasses.fields(thing)
        if f.name != field and f.default == 0.0 and _stem(f.name) == stem
    ]
    return {
        name: max(getattr(each, name) for each in things(thing))
        for name in off
        if getattr(thing, name) == 0.0
    }


def _stem(field: str) -> str:
    return field.split("_")[0].rstrip("s")


def _posed(thing: Any, field: str) -> list[tuple[str, Any]]:
    """A shift or a turn about the vertical; empty for a field that is none."""
    value = getattr(thing, field)
    if field == "position_mm":
        return [(f"{by:+g} mm in x", triple(np.add(value, (by, 0, 0)))) for by in (-60, 0, 60)]
    if field == "rotation":
        matrix = np.asarray(value).reshape(3, 3)
        most = 8 if isinstance(thing, Camera) else 40
        turns = [(deg, rotation_about((0, 0, 1), np.radians(deg))) for deg in (-most, 0, most)]
        if isinstance(thing, Camera):
            return [(f"{deg:+g}°", nine(matrix @ turn)) for deg, turn in turns]
        return [(f"{deg:+g}°", nine(turn @ matrix)) for deg, turn in turns]
    return []


def _ends(thing: Any, field: str) -> list[tuple[str, Any]]:
    """Caption and value at the low end, the middle and the high end; ValueError where nothing like
    it was drawn."""
    found = things(thing)
    if isinstance(getattr(thing, field), tuple):
        values = sorted((getattr(each, field) for each in found), key=_order(field))
        chosen = [values[0], values[len(values) // 2], values[-1]]
        return [(" ".join(f"{v:.2f}" for v in value), value) for value in chosen]
    about = _reference(thing, field)
    if field == "present":  # of those that are there it is 1
        ratios, size = [0.0, 1.0], 1.0
    elif about is None:
        ratios, size = [getattr(each, field) for each in found], 1.0
    else:
        sizes = [(each, getattr(each, about)) for each in found]
        ratios = [getattr(each, field) / of for each, of in sizes if of > 0.0]
        size = getattr(thing, about)
    low, high = min(ratios), max(ratios)
    # Of a strength that is mostly 0, a switch or a count, still a value that is drawn.
    middle = median_low([ratio for ratio in ratios if ratio > low] or [low])
    unit = "" if about is None else f" of {about.removesuffix('_mm')}"
    return [(f"{ratio:.3g}{unit}", ratio * size) for ratio in (low, middle, high)]


def _reference(thing: Any, field: str) -> str | None:
    """The length by which a piece's or prop's length goes."""
    if not field.endswith("_mm"):
        return None
    if isinstance(thing, Piece):
        return "length_mm" if field == "radius_mm" else "radius_mm"
    if isinstance(thing, Prop) and field != "stripe_mm":
        sides = ("half_height_mm", "half_depth_mm", "half_length_mm")
        return next(n for n in sides if n != field and getattr(thing, n) > 0.0)
    return None


def _order(field: str) -> typing.Callable[[Any], float]:
    if field == "balance":
        return lambda rgb: float(rgb[0] - rgb[2])  # blue to yellow
    if field.endswith("rgb"):
        return lambda rgb: float(sum(rgb))
    return lambda direction: float(direction[2])
