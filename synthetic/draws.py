"""Small draws and shapes of numbers that the sampling modules share."""

from __future__ import annotations

from typing import Any

import numpy as np

from synthetic.scene import Matrix, Triple

Rng = np.random.Generator


def rotation_about(axis: Any, angle_rad: float) -> np.ndarray:
    """(3, 3) rotation matrix by Rodrigues' formula; `axis` need not be of unit length."""
    x, y, z = np.asarray(axis, np.float64) / np.linalg.norm(axis)
    k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + np.sin(angle_rad) * k + (1 - np.cos(angle_rad)) * k @ k


def any_rotation(rng: Rng) -> np.ndarray:
    """(3, 3) rotation, uniform over all (QR of a normal matrix)."""
    q, r = np.linalg.qr(rng.normal(size=(3, 3)))
    q = q * np.sign(np.diag(r))
    if np.linalg.det(q) < 0:
        q[:, 0] = -q[:, 0]
    return q


def nine(matrix: np.ndarray) -> Matrix:
    return tuple(float(v) for v in matrix.reshape(-1))  # type: ignore[return-value]


def triple(values: Any) -> Triple:
    """Three numbers as plain floats."""
    x, y, z = (float(v) for v in values)
    return x, y, z


def clipped_rgb(values: Any) -> Triple:
    r, g, b = (float(np.clip(v, 0.0, 1.0)) for v in values)
    return r, g, b


def grey(rng: Rng, level: float, spread: float) -> Triple:
    tint = rng.normal(0.0, spread, 3)
    r, g, b = (float(np.clip(level * (1.0 + t), 0.0, 1.0)) for t in tint)
    return r, g, b


def colour_near(rng: Rng, rgb: Triple, level: float, tint: float) -> Triple:
    k = np.exp(rng.normal(0, level))
    r, g, b = (float(np.clip(c * k * np.exp(rng.normal(0, tint)), 0.0, 1.0)) for c in rgb)
    return r, g, b


def direction_to(azimuth: float, elevation: float) -> Triple:
    c = np.cos(elevation)
    return float(c * np.cos(azimuth)), float(c * np.sin(azimuth)), float(np.sin(elevation))


def unit(rng: Rng) -> Triple:
    v = rng.normal(size=3)
    v = v / np.linalg.norm(v)
    return float(v[0]), float(v[1]), float(v[2])
