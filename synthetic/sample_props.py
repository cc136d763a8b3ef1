"""Chance for the other things in view, most of them from a pipe yard."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from synthetic.draws import Rng, any_rotation, grey, nine, rotation_about, triple
from synthetic.sample_alone import beside
from synthetic.sample_joined import hand, spool, tube
from synthetic.sample_yard import GROUPS, any_look, lying
from synthetic.scene import MOST_PROPS, Piece, Prop

SPOOL_SHARE = 0.26
"""How often the first piece of a scene is joined to pipe, unless it is held or leaves no room above
the ground: about 0.22 of all."""

BEFORE_SHARE = 0.1
"""How often something stands before the pieces and hides some of them."""

# What stands about, by share: pipe line, valve, rack, crate, kit (as `sample_yard.GROUPS`), or
# nothing but single things.
_ABOUT = (0.06, 0.05, 0.08, 0.06, 0.1, 0.65)
_ALONE = (0.22, 0.14, 0.14, 0.06, 0.2, 0.24)


def sample_props(
    rng: Rng,
    size: float,
    extent: float,
    pieces: list[Piece],
    studio: bool,
    *,
    held: bool = False,
) -> tuple[Prop, ...]:
    """What is joined to the first piece or holds it, a group of yard things, and single ones about
    the place; bigger and closer without a piece. At most MOST_PROPS."""
    with_piece = bool(pieces)
    props: list[Prop] = []
    if held:
        props += hand(rng, pieces[0])
    elif with_piece and rng.random() < SPOOL_SHARE:
        props += spool(rng, pieces[0])
    if with_piece:
        props += beside(rng, extent, pieces[0].skin.rgb)
    if studio and with_piece:
        count = int(rng.integers(0, 2))
    else:
        group = int(rng.choice(6, p=_ABOUT if with_piece else _ALONE))
        if group < len(GROUPS):
            props += GROUPS[group](rng, size, extent, with_piece)
        count = int(rng.choice(6, p=[0.27, 0.23, 0.2, 0.15, 0.1, 0.05]))
        if not with_piece and group == len(GROUPS):
            count = max(count, int(rng.integers(0, 5)))
    props += [_prop(rng, size, extent, with_piece) for _ in range(count)]
    return tuple(props[:MOST_PROPS])


def few_props(rng: Rng, extent: float, parts: Sequence[Prop]) -> tuple[Prop, ...]:
    """A lone thing's parts with up to three single things about it, at most MOST_PROPS in all."""
    count = int(rng.choice(4, p=[0.5, 0.25, 0.15, 0.1]))
    size = 0.5 * extent
    return (*parts, *(_prop(rng, size, extent, True) for _ in range(count)))[:MOST_PROPS]


def something_before(
    rng: Rng, target: np.ndarray, extent: float, camera_mm: np.ndarray
) -> list[Prop]:
    """A bar, cable, pipe or board between the camera and the pieces, off to one side or across, so
    that it hides some of them."""
    if rng.random() > BEFORE_SHARE:
        return []
    toward = camera_mm - target
    share = float(rng.uniform(0.3, 0.75))
    scale = extent * (1.0 - share)  # what looks as large as the pieces, from there
    toward_unit = toward / np.linalg.norm(toward)
    across = np.cross(toward_unit, rng.normal(size=3))
    across /= np.linalg.norm(across)
    along = np.cross(toward_unit, across)
    middle = target + toward * share
    look = any_look(rng)
    if rng.random() < 0.7:  # a long thing across the view
        radius = scale * float(np.exp(rng.uniform(np.log(0.015), np.log(0.16))))
        middle = middle + across * scale * float(rng.uniform(-0.8, 0.8))
        return [tube(along, middle, radius, 3.0 * scale, **look)]
    # A board that comes in from one side.
    turned = np.stack([across, along, toward_unit], 1)
    middle = middle + across * scale * float(rng.uniform(1.2, 1.8))
    return [
        Prop(
            shape=1.0,
            half_length_mm=scale,
            half_height_mm=scale * float(rng.uniform(0.3, 2.0)),
            half_depth_mm=0.05 * scale,
            rotation=nine(turned),
            position_mm=triple(middle),
            stripe_mm=scale * float(rng.uniform(0.1, 0.5)),
            stripe=float(rng.uniform(0.2, 0.9)) if rng.random() < 0.4 else 0.0,
            **look,
        )
    ]


def _prop(rng: Rng, size: float, extent: float, with_piece: bool) -> Prop:
    shapes = ("pipe", "bar", "box", "plate", "drum", "cable", "round", "round")
    shape = shapes[int(rng.integers(len(shapes)))]
    yaw = rotation_about((0, 0, 1), rng.uniform(0, 2 * np.pi))
    heading = rng.uniform(0, 2 * np.pi)
    away = extent * (rng.uniform(1.0, 3.0) if with_piece else rng.uniform(0.0, 1.2))
    x, y = away * np.cos(heading), away * np.sin(heading)
    if shape == "round":  # a flange, cap, ring or stub
        radius = size * float(np.exp(rng.uniform(np.log(0.3), np.log(1.3))))
        return lying(rng, radius, np.array([x, y, 0.0]))
    wall, kind, rotation = 0.0, 0.0, yaw
    if shape in ("pipe", "drum"):
        radius = size * float(np.exp(rng.uniform(np.log(0.3), np.log(1.3))))
        length = (
            radius * float(rng.uniform(2.0, 14.0))
            if shape == "pipe"
            else radius * float(rng.uniform(0.15, 1.6))
        )
        wall = radius * float(rng.uniform(0.04, 0.15)) if rng.random() < 0.7 else 0.0
        upright = shape == "drum" and rng.random() < 0.6
        if upright:
            rotation = yaw @ rotation_about((0, 1, 0), np.pi / 2)
        z = length if upright else radius
        height = depth = radius
        if not with_piece and rng.random() < 0.4:
            rotation = any_rotation(rng)
            z = extent * float(rng.uniform(0.3, 1.0))
    elif shape in ("bar", "cable"):
        radius = size * float(np.exp(rng.uniform(np.log(0.015), np.log(0.12))))
        length, height, depth = size * float(rng.uniform(1.0, 12.0)), radius, radius
        kind = 1.0 if shape == "bar" and rng.random() < 0.5 else 0.0
        rotation = any_rotation(rng) if rng.random() < 0.5 else yaw
        near = extent * (rng.uniform(0.6, 1.5) if with_piece else rng.uniform(0.0, 1.0))
        x, y = near * np.cos(heading), near * np.sin(heading)
        z = radius if rng.random() < 0.5 else float(rng.uniform(0.0, 1.6)) * extent
    else:
        kind = 1.0
        length = size * float(rng.uniform(0.3, 4.0))
        height = size * float(rng.uniform(0.2, 2.5))
        depth = size * float(rng.uniform(0.02, 0.2) if shape == "plate" else rng.uniform(0.1, 1.5))
        z = depth
        if rng.random() < 0.3:
            rotation = yaw @ rotation_about((1, 0, 0), np.pi / 2)
            z = height
    hue = rng.random(3) ** 1.5 * rng.uniform(0.1, 0.9)
    if rng.random() < 0.5:
        hue = np.asarray(grey(rng, float(rng.uniform(0.03, 0.6)), 0.12))
    metallic = float(rng.uniform(0.5, 1.0)) if rng.random() < 0.2 else 0.0
    return Prop(
        shape=kind,
        half_length_mm=length,
        half_height_mm=height,
        half_depth_mm=depth,
        wall_mm=wall,
        rotation=nine(rotation),
        position_mm=(float(x), float(y), float(z)),
        rgb=(float(hue[0]), float(hue[1]), float(hue[2])),
        roughness=float(rng.uniform(0.15, 0.9)),
        metallic=metallic,
        stripe_mm=size * float(np.exp(rng.uniform(np.log(0.1), np.log(2.0)))),
        stripe=float(rng.uniform(0.2, 1.0)) if rng.random() < 0.3 else 0.0,
    )
