"""The camera: pixels to rays and points to pixels.

Pixel (x, y) has its centre at (x + 0.5, y + 0.5) in continuous image coordinates; the principal
point is the middle of the picture unless the picture is cut from a larger one. Distortion is the
two-term radial polynomial of the usual pinhole model (as in OpenCV):
distorted = undistorted · (1 + k1 r² + k2 r⁴), about the principal point.
"""

from __future__ import annotations

from types import ModuleType
from typing import Any

import numpy as np

from synthetic.fields import Array, Vec, normalise, rotate_back
from synthetic.packing import Numbers


def project(
    points: np.ndarray,
    *,
    position_mm: Any,
    rotation: Any,
    focal_px: float,
    centre_px: tuple[float, float],
    k1: float = 0.0,
    k2: float = 0.0,
) -> np.ndarray:
    """(N, 3) world points in mm → (N, 2) x, y in continuous image coordinates, pixels.

    `rotation` is camera_from_world as 9 numbers or (3, 3). Points behind the camera give NaN.
    """
    matrix = np.asarray(rotation, np.float64).reshape(3, 3)
    local = (np.asarray(points, np.float64) - np.asarray(position_mm, np.float64)) @ matrix.T
    depth = np.where(local[:, 2:] > 0, local[:, 2:], np.nan)
    flat = local[:, :2] / depth
    square = (flat**2).sum(axis=1, keepdims=True)
    return flat * (1 + k1 * square + k2 * square**2) * focal_px + np.asarray(centre_px)


def rays(xp: ModuleType, n: Numbers, across: Array, down: Array) -> Vec:
    """Unit world directions through image points, given as offsets from the picture's middle in
    shares of its long side."""
    dx = (across - n["camera.centre_across"]) / n["camera.focal"]
    dy = (down - n["camera.centre_down"]) / n["camera.focal"]
    k1, k2 = n["camera.k1"], n["camera.k2"]
    x, y = dx, dy
    for _ in range(8):  # fixed-point inverse of the distortion; enough for an ultra-wide lens
        square = x * x + y * y
        factor = 1.0 / (1.0 + k1 * square + k2 * square * square)
        x, y = dx * factor, dy * factor
    return normalise(xp, rotate_back(n.several("camera.rotation", 9), (x, y, 0.0 * x + 1.0)))


def looking_at(position_mm: Any, target_mm: Any, roll_deg: float) -> tuple[float, ...]:
    """camera_from_world, row by row, for a camera at `position_mm` that looks at `target_mm`.

    Zero roll keeps the world's z axis upright in the picture; positive roll turns the camera
    clockwise as its holder sees it.
    """
    forward = np.asarray(target_mm, np.float64) - np.asarray(position_mm, np.float64)
    forward /= np.linalg.norm(forward)
    up = np.array([0.0, 0.0, 1.0]) if abs(forward[2]) < 0.999 else np.array([0.0, 1.0, 0.0])
    right = np.cross(forward, up)
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    c, s = np.cos(np.radians(roll_deg)), np.sin(np.radians(roll_deg))
    rows = np.stack([c * right + s * down, -s * right + c * down, forward])
    return tuple(float(v) for v in rows.reshape(-1))
