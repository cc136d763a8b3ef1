"""What stands in the camera's way: pieces and props, both taken as solid."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np

from fittings.words import Kind
from synthetic.scene import Camera, Piece, Prop

FULL_SHARE = 0.85
"""A prop that covers more of the frame than this makes the picture one surface."""

SEEN_SHARE = 0.3
"""Of a piece's points this many must be seen past the props."""

_DEPTHS = np.geomspace(0.02, 1.0, 16)
_FRAME = np.stack([g.ravel() for g in np.meshgrid(np.linspace(-0.45, 0.45, 5), [-0.3, 0, 0.3])], 1)


def within(prop: Prop, points: np.ndarray, margin_mm: float = 0.0) -> np.ndarray:
    """(N,) whether world points (N, 3) lie in the prop, taken as solid: its hollows count too."""
    local = (points - np.asarray(prop.position_mm)) @ np.asarray(prop.rotation).reshape(3, 3)
    x, y, z = np.abs(local).T
    length, radius = prop.half_length_mm, prop.half_height_mm
    if prop.shape == 1.0:
        box = (y < radius + margin_mm) & (z < prop.half_depth_mm + margin_mm)
        return np.asarray((x < length + margin_mm) & box)
    if prop.shape in (2.0, 3.0):
        length, radius = length + prop.dome_mm, radius + prop.half_depth_mm
    elif prop.shape == 4.0:
        length = max(length, prop.hub_mm)
    elif prop.shape == 5.0:
        radius = max(radius, prop.half_depth_mm)
    return np.asarray((x < length + margin_mm) & (np.hypot(y, z) < radius + margin_mm))


def within_piece(piece: Piece, points: np.ndarray, margin_mm: float = 0.0) -> np.ndarray:
    """(N,) whether world points (N, 3) lie in the piece, its bore counted too."""
    local = (points - np.asarray(piece.position_mm)) @ np.asarray(piece.rotation).reshape(3, 3)
    x, y, z = local.T
    radius = piece.radius_mm + margin_mm
    if piece.kind is Kind.ELBOW:
        half = np.radians(piece.bend_deg) / 2 + (piece.stub_mm + margin_mm) / piece.length_mm
        near = np.abs(np.arctan2(y, x)) < half
        return np.asarray(near & (np.hypot(np.hypot(x, y) - piece.length_mm, z) < radius))
    if piece.kind is Kind.TEE:
        run = (np.abs(x) < piece.length_mm + margin_mm) & (np.hypot(y, z) < radius)
        above = (z > 0) & (z < piece.second_length_mm + margin_mm)
        return np.asarray(run | (above & (np.hypot(x, y) < piece.second_radius_mm + margin_mm)))
    middle = np.abs(x - 0.5 * piece.length_mm) < 0.5 * piece.length_mm + margin_mm
    return np.asarray(middle & (np.hypot(y, z) < radius))


def covered_share(camera: Camera, prop: Prop, reach_mm: float) -> float:
    """About how much of the frame the prop covers, within `reach_mm` of the camera."""
    return _share(camera, partial(within, prop), reach_mm)


def piece_share(camera: Camera, piece: Piece, reach_mm: float) -> float:
    """`covered_share` for a piece."""
    return _share(camera, partial(within_piece, piece), reach_mm)


def _share(camera: Camera, holds: Callable[[np.ndarray], np.ndarray], reach_mm: float) -> float:
    origin, turn = np.asarray(camera.position_mm), np.asarray(camera.rotation).reshape(3, 3)
    rays = np.concatenate([_FRAME / camera.focal, np.ones((len(_FRAME), 1))], 1) @ turn
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    points = origin + rays[:, None] * (_DEPTHS[:, None] * reach_mm)
    here = holds(points.reshape(-1, 3)).reshape(points.shape[:2])
    return float(here.any(axis=1).mean())


def hiding(camera: Camera, props: Sequence[Prop], points: np.ndarray) -> np.ndarray:
    """(props, N) whether each prop stands between the camera and world points (N, 3)."""
    origin = np.asarray(camera.position_mm)
    steps = np.linspace(0.03, 0.97, 24)
    on_way = origin + (points - origin)[:, None] * steps[:, None]
    flat = on_way.reshape(-1, 3)
    shape = on_way.shape[:2]
    hidden = [within(prop, flat).reshape(shape).any(axis=1) for prop in props]
    return np.asarray(hidden, bool).reshape(len(props), len(points))


def in_the_way(
    camera: Camera, props: Sequence[Prop], points: np.ndarray, reach_mm: float
) -> set[int]:
    """Numbers of the props that the camera is in or that fill its picture, and, where less than
    SEEN_SHARE of a piece's `points` are seen, of those that hide most of them."""
    at = np.asarray(camera.position_mm)[None]
    out = {
        number
        for number, prop in enumerate(props)
        if within(prop, at, 0.02 * reach_mm)[0]
        or covered_share(camera, prop, 2.0 * reach_mm) > FULL_SHARE
    }
    if len(points) and props:
        hidden = hiding(camera, props, points)
        if hidden.any(axis=0).mean() > 1.0 - SEEN_SHARE:
            out |= set(np.flatnonzero(hidden.mean(axis=1) > 0.25).tolist())
    return out
