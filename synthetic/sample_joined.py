"""Chance for what is joined to a piece: pipe, flanges and their girth welds, and the hand that
holds it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from fittings.words import Kind
from synthetic.draws import Rng, clipped_rgb, grey, nine, rotation_about, triple
from synthetic.sample_pieces import piece_ends
from synthetic.sample_welds import sample_weld
from synthetic.scene import Finish, Piece, Prop, Triple


def axis_rotation(axis: np.ndarray) -> np.ndarray:
    """(3, 3) rotation that takes the x axis to `axis` (unit)."""
    x = np.array([1.0, 0.0, 0.0])
    normal = np.cross(x, axis)
    if np.linalg.norm(normal) < 1e-6:
        return np.eye(3) if axis[0] > 0 else rotation_about((0, 0, 1), np.pi)
    return rotation_about(normal, float(np.arccos(np.clip(axis[0], -1, 1))))


def tube(
    axis: np.ndarray, centre: np.ndarray, radius: float, half_length: float, **more: Any
) -> Prop:
    """A cylinder about `axis` through `centre`."""
    return Prop(
        half_length_mm=float(half_length),
        half_height_mm=float(radius),
        rotation=nine(axis_rotation(axis)),
        position_mm=triple(centre),
        **more,
    )


def flange(
    rng: Rng, axis: np.ndarray, face: np.ndarray, radius: float, wall: float, **more: Any
) -> tuple[Prop, float]:
    """A flange on pipe of that radius, its hub towards `axis`, the middle of its disc at `face`;
    and the hub's length. `wall` 0 makes it a blind one."""
    rim = radius * float(rng.uniform(1.45, 2.2))
    thick = radius * float(rng.uniform(0.06, 0.18))
    hub = radius * float(rng.uniform(1.12, 1.3)) if wall > 0 else 0.0
    hub_length = (hub - radius) / 0.3 if wall > 0 else 0.0
    prop = tube(
        axis,
        face,
        rim,
        thick,
        shape=4.0,
        wall_mm=rim - radius + wall if wall > 0 else 0.0,
        hub_mm=hub_length,
        hub_radius_mm=hub,
        holes=float(rng.choice([4.0, 8.0])),
        hole_mm=(rim - radius) * float(rng.uniform(0.12, 0.19)),
        hole_circle_mm=radius + (rim - radius) * float(rng.uniform(0.55, 0.68)),
        **more,
    )
    return prop, hub_length


def girth_weld(
    axis: np.ndarray,
    centre: np.ndarray,
    radius: float,
    half_width: float,
    crown: float,
    **more: Any,
) -> Prop:
    """The bead of a girth weld: a ring whose section is a flat ellipse."""
    return tube(
        axis,
        centre,
        radius,
        0.01 * half_width,
        shape=3.0,
        half_depth_mm=float(crown),
        dome_mm=float(half_width),
        **more,
    )


def spool(rng: Rng, piece: Piece) -> list[Prop]:
    """Pipe welded to one, two or all ends of the piece, sometimes with a flange at its far end.

    Each joint is a girth weld of some finish about the end. It is none of the fitting's own seams:
    the joint is a prop, and what it covers is not labelled.
    """
    rotation = np.asarray(piece.rotation).reshape(3, 3)
    ends = piece_ends(piece)
    count = min(int(rng.choice([1, 2, 3], p=[0.5, 0.3, 0.2])), len(ends))
    if len(ends) == 2 and count == 2 and rng.random() < 0.3:
        count = 1
    same_paint = rng.random() < 0.6
    own = np.asarray(piece.skin.rgb)
    shade = own * np.exp(rng.normal(0, 0.25 if rng.random() < 0.5 else 0.9))
    look: dict[str, Any] = {
        "rgb": clipped_rgb(shade),
        "roughness": piece.skin.roughness,
        "metallic": piece.skin.metallic,
        "own_skin": 0.0 if same_paint else 1.0,
    }
    wall = piece.second_wall_mm if piece.kind is Kind.TEE else piece.wall_mm
    out: list[Prop] = []
    for place in rng.permutation(len(ends))[:count]:
        point, direction, radius = ends[int(place)]
        axis = rotation @ direction
        start = rotation @ point + np.asarray(piece.position_mm)
        half = radius * float(rng.uniform(0.5, 5.0))
        # Pipe that points down ends on the ground; upright it may go on into it.
        if -0.95 < axis[2] < -0.05:
            room = start[2] - radius * float(np.sqrt(1.0 - axis[2] ** 2))
            half = min(half, room / (-2.0 * float(axis[2])))
        if half < 0.4 * radius:
            continue
        out.append(tube(axis, start + axis * half, radius, half, wall_mm=wall, **look))
        out.append(_joint(rng, piece, axis, start, radius, look))
        if count < 3 and rng.random() < 0.3:
            disc, hub = flange(rng, -axis, start, radius, wall, **look)
            # The pipe's far end meets the hub's thin end.
            thick = disc.half_length_mm
            middle = start + axis * (2 * half + max(hub, thick))
            out.append(replace(disc, position_mm=triple(middle)))
            out.append(_joint(rng, piece, axis, start + axis * 2 * half, radius, look))
    return out


def _joint(
    rng: Rng,
    piece: Piece,
    axis: np.ndarray,
    centre: np.ndarray,
    radius: float,
    look: dict[str, Any],
) -> Prop:
    weld = sample_weld(rng, piece.wall_mm, piece.skin)
    # As wide as the bevel at least, which it fills.
    half = min(max(weld.half_width_mm, 0.8 * piece.wall_mm), 0.25 * radius)
    crown = min(max(weld.crown_mm, 0.002 * radius), 0.06 * radius)
    if weld.finish is Finish.PAINTED_OVER:
        return girth_weld(axis, centre, radius, half, crown, **look)
    bare = look | {"own_skin": 1.0, "roughness": weld.bead_roughness}
    metal, mix = np.asarray(weld.bead_rgb), max(weld.bead_mix, 0.3)
    if weld.finish is Finish.GROUND_FLUSH:
        metal, mix = np.asarray(weld.band_rgb), max(weld.band_mix, 0.3)
        band = min(max(weld.band_half_width_mm, half), 0.4 * radius)
        bare["rgb"] = clipped_rgb(np.asarray(look["rgb"]) * (1 - mix) + metal * mix)
        return tube(axis, centre, radius + 0.0025 * radius, band, wall_mm=0.02 * radius, **bare)
    bare["rgb"] = clipped_rgb(np.asarray(look["rgb"]) * (1 - mix) + metal * mix)
    return girth_weld(axis, centre, radius, half, crown, **bare)


_SKINS: tuple[Triple, ...] = (
    (0.72, 0.5, 0.4), (0.58, 0.36, 0.25), (0.42, 0.24, 0.15), (0.25, 0.13, 0.08),
    (0.12, 0.06, 0.04),
)  # fmt: skip
_GLOVES: tuple[Triple, ...] = (
    (0.7, 0.5, 0.1), (0.75, 0.25, 0.05), (0.05, 0.15, 0.4), (0.04, 0.04, 0.045), (0.5, 0.5, 0.48),
    (0.55, 0.42, 0.28), (0.6, 0.75, 0.1), (0.1, 0.3, 0.15),
)  # fmt: skip


def hand(rng: Rng, piece: Piece) -> list[Prop]:
    """A hand about the piece, bare or gloved: fingers on one side, the thumb on the other, the
    palm's heel and the wrist."""
    rotation = np.asarray(piece.rotation).reshape(3, 3)
    middle, course, side, radius = _grip(rng, piece)
    course, side = rotation @ course, rotation @ side
    middle = rotation @ middle + np.asarray(piece.position_mm)
    up = np.cross(course, side)
    gloved = rng.random() < 0.6
    tones = _GLOVES if gloved else _SKINS
    rgb = clipped_rgb(
        np.asarray(tones[int(rng.integers(len(tones)))]) * np.exp(rng.normal(0, 0.15, 3))
    )
    look: dict[str, Any] = {"rgb": rgb, "roughness": 0.6 if gloved else 0.5}
    thick = float(rng.uniform(7.5, 9.5)) * (1.25 if gloved else 1.0)
    out = []

    def spot(turn: float, off: float, along: float) -> np.ndarray:
        """A point that stands `off` mm off the surface, `turn` radians round from the palm."""
        outward = side * np.cos(turn) + up * np.sin(turn)
        place: np.ndarray = middle + outward * (radius + off) + course * along
        return place

    if radius < 26.0:
        return _pinch(rng, spot, thick, side, up, look)
    # Fingers of 70 mm lie against the surface from the knuckles on; a thin piece is gone round.
    reach = min(70.0 / (radius + thick), 2.2)
    start = 0.25 * reach
    for finger in range(4):
        along = (finger - 1.5) * 2.1 * thick
        short = (0.85, 1.0, 0.95, 0.75)[finger]
        a, b = spot(start, 0.9 * thick, along), spot(start + reach * short, 0.9 * thick, along)
        # A straight finger would cut through the piece: it is held off by the arc's height.
        sag = (radius + thick) * (1 - np.cos(0.5 * reach * short))
        turned = start + 0.5 * reach * short
        lift = (side * np.cos(turned) + up * np.sin(turned)) * sag
        out.append(rod(a + lift, b + lift, thick * short**0.5, **look))
    thumb = spot(-0.2 * reach, 0.8 * thick, -1.6 * thick), spot(-0.85 * reach, thick, -0.5 * thick)
    out.append(rod(*thumb, 1.15 * thick, **look))
    palm = spot(0.0, 1.6 * thick, -2.4 * thick), spot(0.0, 1.6 * thick, 2.6 * thick)
    out.append(rod(*palm, 2.0 * thick, **look))
    sleeve = rng.random() < 0.7
    arm = look | {"rgb": grey(rng, float(rng.uniform(0.03, 0.4)), 0.4)} if sleeve else look
    away = side * float(rng.uniform(0.6, 1.0)) + up * float(rng.normal(0, 0.4)) - course * 0.3
    wrist = spot(0.0, 3.5 * thick, 0.0)
    away = away / np.linalg.norm(away)
    out.append(rod(wrist, wrist + away * float(rng.uniform(150, 350)), 3.2 * thick, **arm))
    return out


def _pinch(
    rng: Rng,
    spot: Callable[[float, float, float], np.ndarray],
    thick: float,
    side: np.ndarray,
    up: np.ndarray,
    look: dict[str, Any],
) -> list[Prop]:
    """A small piece between the tips of the thumb and two fingers, the hand away from it."""
    wrist = spot(0.0, 75.0, 0.0)
    out: list[Prop] = []
    for turn, along, width in (
        (0.9, -1.1 * thick, 0.9),
        (0.8, 1.1 * thick, 0.95),
        (-0.9, 0.0, 1.1),
    ):
        tip = spot(1.5 * turn, 0.8 * width * thick, along)
        bent = 0.5 * (tip + wrist) + up * np.sign(turn) * 22.0 + side * 6.0
        out += [rod(tip, bent, width * thick, **look), rod(bent, wrist, 1.1 * thick, **look)]
    end = wrist + (side + up * float(rng.normal(0, 0.3))) * 160.0
    out.append(rod(wrist + side * 20.0, end, 3.0 * thick, **look))
    return out


def rod(a: np.ndarray, b: np.ndarray, radius: float, **more: Any) -> Prop:
    """A rod with round ends from `a` to `b`."""
    length = float(np.linalg.norm(b - a))
    return tube(
        (b - a) / max(length, 1e-6),
        (a + b) / 2,
        0.0,
        length / 2,
        shape=3.0,
        half_depth_mm=float(radius),
        dome_mm=float(radius),
        **more,
    )


def _grip(rng: Rng, piece: Piece) -> tuple[np.ndarray, np.ndarray, np.ndarray, float]:
    """Where a piece is held, in its own frame: the middle of a section, the centreline's course
    there, a direction square to it, and the section's radius in mm."""
    turn = float(rng.uniform(0, 2 * np.pi))
    if piece.kind is Kind.ELBOW:
        a = float(rng.uniform(-0.4, 0.4)) * np.radians(piece.bend_deg)
        outward = np.array([np.cos(a), np.sin(a), 0.0])
        side = outward * np.cos(turn) + np.array([0.0, 0.0, 1.0]) * np.sin(turn)
        return outward * piece.length_mm, np.array([-np.sin(a), np.cos(a), 0.0]), side, (
            piece.radius_mm
        )  # fmt: skip
    side = np.array([0.0, np.cos(turn), np.sin(turn)])
    course = np.array([1.0, 0.0, 0.0])
    if piece.kind is Kind.TEE:
        side = np.array([0.0, np.cos(turn), -abs(np.sin(turn))])  # away from the outlet
        at = float(rng.uniform(-0.5, 0.5)) * piece.length_mm
        return course * at, course, side, piece.radius_mm
    at = float(rng.uniform(0.0, 0.3)) * piece.length_mm
    return course * at, course, side, piece.radius_mm
