"""From scenes to pictures and their exact truth, both from the same surface hits.

`render` makes one picture on numpy; `models.batches` drives the same functions on torch, with the
stages compiled. A scene of several pieces is one item per piece with the same camera and light, put
together by depth; where two items show the same ground, the darker shadow is kept.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from types import ModuleType
from typing import Any, NamedTuple

import numpy as np

from fittings.words import Kind, Orientation, Part
from synthetic import effects, stages
from synthetic.contrast import contrast_of, trace_of
from synthetic.fields import Array, Vec
from synthetic.packing import NAMES, Numbers, pack
from synthetic.scene import Scene

VISIBLE_CONTRAST = 4.0
"""Mean difference in 8-bit luma that a seam makes to its own pixels, for it to count as visible."""

VISIBLE_SHARE = 300 / (384 * 288)
"""Share of the frame that a seam's pixels must cover to count as visible: 300 at 384 × 288."""

_PRESENT = [NAMES["piece.along_weld.present"], NAMES["piece.cross_weld.present"]]


class Layer(NamedTuple):
    """What items show at every pixel, (B, N) arrays: radiance with and without their welds, depth,
    and the truth. `slot` is 0 no seam, 1 the longitudinal weld, 2 the cross weld."""

    rgb: Vec
    plain_rgb: Vec
    depth_mm: Array
    solid: Array
    part: Array
    along: Array
    around: Array
    seam: Array
    slot: Array


def as_layer(planes: Array) -> Layer:
    """A layer from planes in the order of `synthetic.tracing.OUTPUTS`, each (B, N)."""
    return Layer(
        (planes[0], planes[1], planes[2]),
        (planes[3], planes[4], planes[5]),
        planes[6],
        planes[7] > 0.5,
        *(planes[i] for i in range(8, 13)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """Exact labels of pictures, each (B, H, W) float; pieces are numbered from 1 in `piece`.

    `part` and `seam` hold the labels of `fittings.words`. `slot` numbers the seams: of piece p,
    2p - 1 is the longitudinal weld and 2p the cross weld.
    """

    part: Array
    seam: Array
    slot: Array
    piece: Array
    along: Array
    around_cos: Array
    around_sin: Array
    depth_mm: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """Rendered pictures: `rgb` (B, 3, H, W) display values 0 to 1; `contrast` (B, slots) the mean
    luma difference each seam makes in the file, in 8-bit levels, less where JPEG or noise leave
    nothing of it; `pixels` (B, slots) the pixels it covers."""

    rgb: Array
    truth: Truth
    contrast: Array
    pixels: Array


Stages = dict[str, Callable[..., Any]]


def plain_stages() -> Stages:
    """The functions of `synthetic.effects` as they are. An entry "item" replaces `item_layer`."""
    return {"develop": effects.develop, "expose": effects.expose}


def without_welds(xp: ModuleType, n: Numbers) -> Numbers:
    """The same rows with no weld present, for the picture that tells how visible the welds are."""
    rows = n.rows.copy() if xp is np else n.rows.clone()
    rows[:, _PRESENT] = 0.0
    return Numbers(rows)


def item_layer(
    xp: ModuleType, kind: Kind | None, n: Numbers, width: int, height: int, run: Stages
) -> Layer:
    """Items of one kind, one per row: (B, N) arrays, N = width · height, row by row."""
    if "item" in run:
        return run["item"](kind, n, width, height)
    ys, xs = effects.pixel_grid(xp, n.rows, height, width)
    long_side = max(width, height)
    across = ((xs + (0.5 - 0.5 * width)) / long_side).reshape(1, -1)
    down = ((ys + (0.5 - 0.5 * height)) / long_side).reshape(1, -1)
    rays = stages.beam(xp, n, across, down, long_side)
    depth = distance = rays.start_mm
    if xp is np:
        depth, distance = _march_active(kind, n, rays)
    else:
        for _ in range(stages.MARCH_STEPS):
            depth, distance = stages.march(xp, kind, n, rays, depth)
    place = stages.landing(xp, n, rays, depth, distance)
    light = 0.0 * depth + 1.0
    if xp is np:
        light = _sunlight_active(kind, n, place, light)
    else:
        near = place.near_mm
        for _ in range(stages.SHADOW_STEPS):
            near, light = stages.sunlight(xp, kind, n, place.point, near, light)
    footprint, direction = place.footprint_mm, rays.direction
    g = stages.geometry(xp, kind, n, rays, depth, distance, footprint)
    rgb = plain_rgb = stages.shade(xp, n, g, direction, light, footprint)
    if kind is not None:
        plain = without_welds(xp, n)
        bare = stages.geometry(xp, kind, plain, rays, depth, distance, footprint)
        plain_rgb = stages.shade(xp, plain, bare, direction, light, footprint)
    return Layer(
        rgb=rgb,
        plain_rgb=plain_rgb,
        depth_mm=g.depth_mm,
        solid=g.solid,
        part=g.part,
        along=g.along,
        around=g.around,
        seam=g.seam,
        slot=g.slot,
    )


def _march_active(
    kind: Kind | None, n: Numbers, rays: stages.Beam
) -> tuple[np.ndarray, np.ndarray]:
    """`march` for one item on numpy, dropping rays that have arrived."""
    depth, distance = rays.start_mm.copy(), np.full_like(rays.start_mm, np.inf)
    index = np.arange(depth.shape[1])
    going = np.ones_like(depth, bool)
    for step in range(stages.MARCH_STEPS):
        if step % 4 == 0:
            if step:
                index = index[going[0]]
            part = rays._replace(
                direction=tuple(c[:, index] for c in rays.direction),  # type: ignore[arg-type]
                limit_mm=rays.limit_mm[:, index],
            )
        if index.size == 0:
            break
        new, d = stages.march(np, kind, n, part, depth[:, index])
        depth[:, index], distance[:, index] = new, d
        going = (d > stages.ARRIVED * new * rays.pixel) & (new < part.limit_mm)
    return depth, distance


def _sunlight_active(
    kind: Kind | None, n: Numbers, place: stages.Landing, light: np.ndarray
) -> np.ndarray:
    """`sunlight` for one item on numpy, dropping rays that are out of reach or wholly dark."""
    near, light, p = place.near_mm.copy(), light.copy(), place.point
    reach = stages.SHADOW_REACH * n["piece.radius_mm"]
    index = np.flatnonzero(np.abs(p[0][0]) + np.abs(p[1][0]) < 1e5)
    for step in range(stages.SHADOW_STEPS):
        if step % 4 == 0:
            index = index[((near[:, index] < reach) & (light[:, index] > 0.001))[0]]
            part = (p[0][:, index], p[1][:, index], p[2][:, index])
        if index.size == 0:
            break
        near[:, index], light[:, index] = stages.sunlight(
            np, kind, n, part, near[:, index], light[:, index]
        )
    return light


def compose(xp: ModuleType, layers: Sequence[Layer]) -> tuple[Layer, Array]:
    """Several items of the same pictures as one layer, and the number of the piece that each pixel
    shows (0 none)."""
    best = layers[0]
    piece = xp.where(best.part > 0.5, 1.0, 0.0 * best.part)
    for number, other in enumerate(layers[1:], start=2):
        shift = xp.where(other.slot > 0.5, 2.0 * (number - 1), 0.0 * other.slot)
        other = other._replace(slot=other.slot + shift)
        nearer = other.solid & (other.depth_mm < best.depth_mm)
        darker = sum(other.rgb) < sum(best.rgb)
        take = nearer | (~other.solid & ~best.solid & darker)
        own = xp.where(other.part > 0.5, 1.0 * number, 0.0 * other.part)
        piece = xp.where(nearer, own, piece)
        best = Layer(
            *(
                tuple(xp.where(take, i, j) for i, j in zip(a, b, strict=True))
                if isinstance(a, tuple)
                else xp.where(take, a, b)
                for a, b in zip(other, best, strict=True)
            )
        )
    return best, piece


def finish(
    xp: ModuleType,
    n: Numbers,
    whole: Layer,
    piece: Array,
    width: int,
    height: int,
    slots: int,
    run: Stages,
    fixed: dict[str, Array],
) -> Picture:
    """Develop composed layers into pictures with their truth and each seam's visibility."""
    shape = (-1, height, width)

    def image(rgb: Vec) -> Array:
        return xp.stack([c.reshape(*shape) for c in rgb], 1)

    clean = run["develop"](xp, n, image(whole.rgb))
    plain = run["develop"](xp, n, image(whole.plain_rgb))
    exposed = run["expose"](xp, n, clean)
    difference = effects.luma(clean) - effects.luma(plain)
    trace = trace_of(xp, n, clean, exposed, difference, fixed)
    # Under a screenshot's bars there is no picture: background, without seams.
    hidden = effects.covered(xp, n, clean)

    def shown(values: Array, under: float = 0.0) -> Array:
        values = values.reshape(*shape)
        return xp.where(hidden, 0.0 * values + under, values)

    slot = shown(whole.slot)
    contrast, pixels = [], []
    for i in range(1, slots + 1):
        here = xp.where(slot == i, 1.0, 0.0 * difference)
        pixels.append(here.sum(-1).sum(-1))
        contrast.append(contrast_of(xp, trace, here))
    rgb = effects.finished(xp, n, exposed, fixed)
    part = shown(whole.part)
    surface = (part > 0.5) & (part < Part.FACE.label - 0.5)
    around = whole.around.reshape(*shape)
    zero = 0.0 * part
    truth = Truth(
        part=part,
        seam=shown(whole.seam),
        slot=slot,
        piece=shown(piece),
        along=xp.where(surface, xp.clip(whole.along.reshape(*shape), 0.0, 1.0), zero),
        around_cos=xp.where(surface, xp.cos(around), zero),
        around_sin=xp.where(surface, xp.sin(around), zero),
        depth_mm=shown(whole.depth_mm, stages.FAR_MM),
    )
    return Picture(rgb=rgb, truth=truth, contrast=xp.stack(contrast, 1), pixels=xp.stack(pixels, 1))


def render(scene: Scene, width: int, height: int, run: Stages | None = None) -> Picture:
    """One scene on numpy, B = 1; `run` may bring faster stages (see `synthetic.native`).

    ValueError unless `width` and `height` are multiples of 16.
    """
    if width % 16 or height % 16 or width < 16 or height < 16:
        raise ValueError(f"width and height must be multiples of 16, got {width} x {height}")
    run = run or plain_stages()
    layers = []
    for piece in scene.pieces or (None,):
        n = Numbers(pack([(scene, piece)]))
        kind = piece.kind if piece is not None else None
        layers.append(item_layer(np, kind, n, width, height, run))
    whole, number = compose(np, layers)
    n = Numbers(pack([(scene, scene.pieces[0] if scene.pieces else None)]))
    slots = max(2, 2 * len(scene.pieces))
    return finish(np, n, whole, number, width, height, slots, run, effects.constants())


def seam_orientation(kind: Kind, slot: int) -> Orientation:
    """What a piece's seam of that kind is: odd slots are longitudinal, even ones cross welds."""
    if slot % 2 == 1:
        return Orientation.LONGITUDINAL
    return Orientation.BRANCH if kind is Kind.TEE else Orientation.CIRCUMFERENTIAL
