"""Things made of several props: their parts, laid on the ground, made larger, and where their
outline is."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from synthetic.draws import Rng, any_rotation, nine, rotation_about, triple
from synthetic.sample_joined import axis_rotation, tube
from synthetic.scene import Prop, Triple

UP = np.array([0.0, 0.0, 1.0])
AXIS = np.array([1.0, 0.0, 0.0])
ACROSS = np.array([0.0, 1.0, 0.0])
_TURN = np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
_LENGTHS = tuple(
    f.name for f in dataclasses.fields(Prop) if f.name.endswith("_mm") and f.name != "position_mm"
)


def by_logs(rng: Rng, low: float, high: float) -> float:
    """A length between the two, each doubling as likely as the next."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def box(centre: Any, half: Triple, turn: np.ndarray | None = None, **look: Any) -> Prop:
    """A box by its half sides along x, y, z of its own frame, turned by `turn`."""
    return Prop(
        shape=1.0,
        half_length_mm=half[0],
        half_height_mm=half[1],
        half_depth_mm=half[2],
        rotation=nine(np.eye(3) if turn is None else turn),
        position_mm=triple(centre),
        **look,
    )


def hoop(axis: np.ndarray, centre: Any, radius: float, thick: float, **look: Any) -> Prop:
    """A ring of round section."""
    return tube(
        axis, np.asarray(centre), radius, 0.01 * thick, shape=3.0, half_depth_mm=thick,
        dome_mm=thick, **look,
    )  # fmt: skip


def cone(
    centre: Any, low: float, high: float, half: float, wall: float, floor: float, **look: Any
) -> Prop:
    """A cone about x from radius `low` at -`half` to `high`; `wall` and `floor` 0 make it solid or
    open."""
    return Prop(
        shape=5.0,
        half_length_mm=half,
        half_height_mm=low,
        half_depth_mm=high,
        wall_mm=wall,
        dome_mm=floor,
        position_mm=triple(centre),
        **look,
    )


def bead_along(half: float, radius: float, wide: float, turn: float, **look: Any) -> Prop:
    """A longitudinal seam's bead on a round body about x: a rod sunk into it."""
    side = np.array([0.0, np.cos(turn), np.sin(turn)]) * (radius - 0.6 * wide)
    return tube(AXIS, side, 0.0, half - wide, shape=3.0, half_depth_mm=wide, dome_mm=wide, **look)


def prop_points(prop: Prop) -> np.ndarray:
    """(N, 3) world points, mm, on the outline of the prop's two ends."""
    low, high = -prop.half_length_mm, prop.half_length_mm
    first = last = prop.half_height_mm
    if prop.shape == 1.0:
        a, b = prop.half_height_mm, prop.half_depth_mm
        rims = [(x, y, z) for x in (low, high) for y in (-a, a) for z in (-b, b)]
        local = np.array(rims)
    else:
        if prop.shape == 2.0:
            first, last, high = prop.half_depth_mm, 0.0, high + prop.dome_mm
        elif prop.shape == 3.0:
            first = last = prop.half_height_mm + 0.7 * prop.half_depth_mm
            low, high = low - 0.7 * prop.dome_mm, high + 0.7 * prop.dome_mm
        elif prop.shape == 5.0:
            last = prop.half_depth_mm
        rims_ = [(low, first), (high, last)]
        if prop.shape == 2.0:
            rims_.append((prop.half_length_mm, first))
        elif prop.shape == 3.0:  # the widest and the outermost of a round section
            wide = prop.half_height_mm + prop.half_depth_mm
            far = prop.half_length_mm + prop.dome_mm
            rims_ += [(0.0, wide), (-far, prop.half_height_mm), (far, prop.half_height_mm)]
        elif prop.shape == 4.0:
            rims_.append((max(high, prop.hub_mm), max(prop.hub_radius_mm - 0.3 * prop.hub_mm, 0.0)))
        local = np.concatenate(
            [np.stack([x + 0 * _TURN, r * np.cos(_TURN), r * np.sin(_TURN)], 1) for x, r in rims_]
        )
    return local @ np.asarray(prop.rotation).reshape(3, 3).T + np.asarray(prop.position_mm)


def outline(props: Sequence[Prop]) -> np.ndarray:
    """`prop_points` of them all."""
    return np.concatenate([prop_points(prop) for prop in props])


def moved(props: Sequence[Prop], turn: np.ndarray, by: np.ndarray) -> list[Prop]:
    """The props turned about the origin by the (3, 3) rotation, then shifted by `by` mm."""
    return [
        replace(
            prop,
            rotation=nine(turn @ np.asarray(prop.rotation).reshape(3, 3)),
            position_mm=triple(turn @ np.asarray(prop.position_mm) + by),
        )
        for prop in props
    ]


def resized(props: Sequence[Prop], times: float) -> list[Prop]:
    """The props, about the origin, so many times as large."""
    return [
        replace(
            prop,
            **{name: getattr(prop, name) * times for name in _LENGTHS},
            position_mm=triple(times * np.asarray(prop.position_mm)),
        )
        for prop in props
    ]


def laid(rng: Rng, props: Sequence[Prop], upright: float, level: float) -> list[Prop]:
    """A thing about the x axis set down on the ground about the origin: in that share of cases
    with its axis up, in that share on its side, else anyhow, as it lies on others or is held."""
    how = rng.random()
    if how < upright:
        turn = axis_rotation(UP)
    elif how < upright + level:
        turn = rotation_about(AXIS, float(rng.uniform(0, 2 * np.pi)))
    else:
        turn = any_rotation(rng)
    return dropped(moved(props, turn, np.zeros(3)), yaw=float(rng.uniform(0, 2 * np.pi)))


def dropped(props: Sequence[Prop], yaw: float = 0.0) -> list[Prop]:
    """The thing turned by `yaw` (radians) about the vertical, its middle over the origin and its
    lowest point on the ground."""
    props = moved(props, rotation_about(UP, yaw), np.zeros(3))
    points = outline(props)
    middle = 0.5 * (points.min(axis=0) + points.max(axis=0))
    return moved(props, np.eye(3), np.array([-middle[0], -middle[1], -points[:, 2].min()]))
