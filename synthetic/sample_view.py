"""Chance for the camera: where a person with a phone stands, how they hold it, and its lens."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from synthetic.camera import looking_at
from synthetic.draws import Rng, direction_to, rotation_about, triple
from synthetic.sample_phone import sample_effects
from synthetic.scene import Camera, Effects

CUT_SHARE = 0.3
"""Of pictures that are cut from larger ones, their lens's axis up to MOST_OFF_CENTRE of the long
side away from the middle."""
MOST_OFF_CENTRE = 0.2

BORE_SHARE = 0.12
"""Of pictures of one piece, how many are taken into the bore of one of its ends."""

BORE_DEG = (5.0, 35.0)
"""How far from an end's axis such a picture is taken, at the end's middle."""

LANDMARK_SHARE = 0.6
"""Of close views, how many go up to a landmark (crotch, extrados, an end), not just anywhere."""


class End(NamedTuple):
    """An open end: its middle and outward axis (3,) in the world, and its radius, mm."""

    centre_mm: np.ndarray
    axis: np.ndarray
    radius_mm: float


def sample_end(rng: Rng, ends: list[End]) -> End | None:
    """The end into whose bore a picture is taken, if any. Nobody looks into one that faces the
    ground."""
    wanted = rng.random() < BORE_SHARE
    open_ends = [end for end in ends if end.axis[2] > -0.35]
    which = int(rng.integers(len(open_ends))) if open_ends else 0
    return open_ends[which] if wanted and open_ends else None


def sample_camera(
    rng: Rng,
    target: np.ndarray,
    extent: float,
    studio: bool,
    *,
    plain: bool = False,
    points: np.ndarray | None = None,
    marked: np.ndarray | None = None,
    end: End | None = None,
) -> tuple[Camera, Effects]:
    """A camera that looks at about `target`, and what the phone does to the picture; a `plain` view
    is neither far nor close. Close views look at one of `points`, (N, 3) on what is in view, if
    given, so that they show something; most of them at one of the `marked` points. With an `end`
    the camera looks into its bore, at a slant of BORE_DEG."""
    focal, k1, k2 = _lens(rng, studio, plain)
    fill = _fill(rng, plain)
    distance = extent * focal / (0.375 * fill)
    # No camera inside a piece: step back and zoom in.
    least = 1.35 * extent if end is None else max(0.7 * extent, 2.2 * end.radius_mm)
    if distance < least:
        focal *= least / distance
        distance = least
    if end is None:
        around, aim = target, target
        elevation, azimuth = np.radians(_elevation_deg(rng)), rng.uniform(0, 2 * np.pi)
        toward = np.asarray(direction_to(azimuth, elevation))
    else:
        around, toward = end.centre_mm, _into_bore(rng, end.axis)
        aim = end.centre_mm + rng.uniform(0.0, 1.0) * (target - end.centre_mm)
    position = around + distance * toward
    position[2] = max(position[2], 0.07 * extent)
    astray = 0.05 if plain else min(0.25, 0.03 + 0.5 * max(1.0 / fill - 1.0, 0.0))
    if fill > 1.0 and points is not None and end is None:
        if marked is not None and rng.random() < LANDMARK_SHARE:
            points = marked
        seen = points[(points - target) @ toward > 0.0]
        if len(seen):
            aim = target + 0.75 * (seen[int(rng.integers(len(seen)))] - target)
    aim = aim + rng.normal(0.0, astray, 3) * extent
    rotation = np.reshape(looking_at(position, aim, _roll_deg(rng)), (3, 3))
    centre = np.zeros(2)
    if rng.random() < CUT_SHARE and not plain:
        centre = rng.uniform(-MOST_OFF_CENTRE, MOST_OFF_CENTRE, 2)
        # What was aimed at stays in the middle of what was cut out.
        middle = np.array([-centre[0] / focal, -centre[1] / focal, 1.0])
        axis = np.array([-middle[1], middle[0], 0.0])
        angle = float(np.arctan(np.hypot(middle[0], middle[1])))
        rotation = rotation_about(axis, angle) @ rotation
    camera = Camera(
        position_mm=triple(position),
        rotation=tuple(float(v) for v in rotation.reshape(-1)),  # type: ignore[arg-type]
        focal=focal,
        k1=_undoable(k1, focal, centre),
        k2=k2,
        centre_across=float(centre[0]),
        centre_down=float(centre[1]),
    )
    return camera, sample_effects(rng, plain=plain)


def _lens(rng: Rng, studio: bool, plain: bool) -> tuple[float, float, float]:
    """Focal length over the long side, and distortion: a phone's main, ultra-wide or long lens."""
    u, kind = rng.uniform, rng.random()
    k1, k2 = float(rng.normal(0.0, 0.03)), float(rng.normal(0.0, 0.01))
    if studio and kind < 0.6:
        return float(u(1.5, 4.5)), 0.3 * k1, 0.3 * k2
    if kind < 0.12 and not plain:
        return float(u(0.4, 0.62)), float(u(-0.12, 0.01)), 0.0
    if kind < 0.7:
        return float(u(0.62, 1.1)), k1, k2
    return float(u(1.1, 4.0)), k1, k2


def _undoable(k1: float, focal: float, centre: np.ndarray) -> float:
    """`k1`, no stronger than what a polynomial can undo at the farthest corner of a 4:3 picture:
    x (1 + k1 x²) turns back where it reaches (2/3) / sqrt(-3 k1)."""
    corner = np.hypot(0.5 + abs(centre[0]), 0.375 + abs(centre[1])) / focal
    return float(max(k1, -0.7 * 4.0 / 27.0 / corner**2))


def _into_bore(rng: Rng, axis: np.ndarray) -> np.ndarray:
    """A direction (3,) within BORE_DEG of the axis, from above the ground where one is drawn."""
    aside = np.cross(axis, [0.0, 0.0, 1.0] if abs(axis[2]) < 0.9 else [1.0, 0.0, 0.0])
    slant = np.radians(rng.uniform(*BORE_DEG))
    leaning = rotation_about(aside, slant) @ axis
    toward = leaning
    for turn in rng.uniform(0, 2 * np.pi, 8):
        toward = rotation_about(axis, turn) @ leaning
        if toward[2] > -0.02:
            break
    return np.asarray(toward)


def _fill(rng: Rng, plain: bool) -> float:
    """How much of the picture's short side the thing takes up: whole in the frame in 56 of a
    hundred, else far away, near, or (12 %) so close that only a part of it is in the picture."""
    u, kind = rng.uniform, rng.random()
    if plain:
        return float(u(0.6, 1.0))
    if kind < 0.56:
        return float(u(0.45, 0.98))
    if kind < 0.7:
        return float(u(0.15, 0.45))
    if kind < 0.88:
        return float(u(0.98, 1.6))
    return float(np.exp(u(np.log(1.6), np.log(4.0))))


def _elevation_deg(rng: Rng) -> float:
    """Mostly from a standing or crouching person's eye; some from the ground, some straight from
    above."""
    u, kind = rng.uniform, rng.random()
    if kind < 0.7:
        return float(u(5, 55))
    if kind < 0.85:
        return float(u(55, 89.5))
    return float(u(-8, 6))


def _roll_deg(rng: Rng) -> float:
    """Held level, held carelessly, held upright, or anyhow."""
    kind = rng.random()
    if kind < 0.76:
        return float(rng.normal(0, 4))
    if kind < 0.9:
        return float(rng.normal(0, 15))
    if kind < 0.96:
        return float(rng.choice([-90.0, 90.0]) + rng.normal(0, 5))
    return float(rng.uniform(-180, 180))
