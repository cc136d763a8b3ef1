"""Chance for the camera: where a person with a phone stands, how they hold it, and its lens."""

from __future__ import annotations

import numpy as np

from synthetic.camera import looking_at
from synthetic.draws import Rng, rotation_about, triple
from synthetic.sample_phone import sample_effects
from synthetic.scene import Camera, Effects

CUT_SHARE = 0.3
"""Of pictures that are cut from larger ones, their lens's axis up to MOST_OFF_CENTRE of the long
side away from the middle."""
MOST_OFF_CENTRE = 0.2


def sample_camera(
    rng: Rng,
    target: np.ndarray,
    extent: float,
    studio: bool,
    *,
    plain: bool = False,
    points: np.ndarray | None = None,
) -> tuple[Camera, Effects]:
    """A camera that looks at about `target`, and what the phone does to the picture; a `plain` view
    is neither far nor close. Close views look at one of `points`, (N, 3) on what is in view, if
    given, so that they show something."""
    focal, k1, k2 = _lens(rng, studio, plain)
    fill = _fill(rng, plain)
    distance = extent * focal / (0.375 * fill)
    if distance < 1.35 * extent:  # no camera inside a piece: step back and zoom in
        focal *= 1.35 * extent / distance
        distance = 1.35 * extent
    elevation = np.radians(_elevation_deg(rng))
    azimuth = rng.uniform(0, 2 * np.pi)
    toward = np.array(
        [
            np.cos(elevation) * np.cos(azimuth),
            np.cos(elevation) * np.sin(azimuth),
            np.sin(elevation),
        ]
    )
    position = target + distance * toward
    position[2] = max(position[2], 0.07 * extent)
    astray = 0.05 if plain else min(0.25, 0.03 + 0.5 * max(1.0 / fill - 1.0, 0.0))
    aim = target
    if fill > 1.0 and points is not None:
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


def _fill(rng: Rng, plain: bool) -> float:
    """How much of the picture's short side the thing takes up: whole in the frame in six of ten,
    else far away, near, or (6 %) close."""
    u, kind = rng.uniform, rng.random()
    if plain:
        return float(u(0.6, 1.0))
    if kind < 0.6:
        return float(u(0.45, 0.98))
    if kind < 0.76:
        return float(u(0.15, 0.45))
    if kind < 0.94:
        return float(u(0.98, 1.6))
    return float(u(1.6, 3.0))


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
