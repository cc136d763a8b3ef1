"""Hash noise and small array helpers that run alike on numpy arrays and torch tensors.

Every function takes `xp`, which is the module `numpy` or `torch` itself; only names and positional
arguments that both share are used. Points are tuples of three arrays of one shape.
"""

from __future__ import annotations

from types import ModuleType
from typing import Any

Array = Any  # numpy.ndarray or torch.Tensor
Vec = tuple[Array, Array, Array]


def dot(a: Vec, b: Vec) -> Array:
    """The scalar product of two vectors, elementwise."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vec, b: Vec) -> Vec:
    """The vector product of two vectors, elementwise."""
    return (
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    )


def normalise(xp: ModuleType, a: Vec) -> Vec:
    """`a` at unit length; a zero vector stays (almost) zero."""
    inverse = 1.0 / xp.sqrt(xp.clip(dot(a, a), min=1e-20))
    return a[0] * inverse, a[1] * inverse, a[2] * inverse


def move(origin: Vec, direction: Vec, distance: Array) -> Vec:
    """origin + distance · direction."""
    return (
        origin[0] + distance * direction[0],
        origin[1] + distance * direction[1],
        origin[2] + distance * direction[2],
    )


def rotate(m: tuple[Array, ...], p: Vec) -> Vec:
    """The 3 × 3 matrix `m` (nine arrays, row by row) times `p`."""
    return (
        m[0] * p[0] + m[1] * p[1] + m[2] * p[2],
        m[3] * p[0] + m[4] * p[1] + m[5] * p[2],
        m[6] * p[0] + m[7] * p[1] + m[8] * p[2],
    )


def rotate_back(m: tuple[Array, ...], p: Vec) -> Vec:
    """The transpose of `m` times `p`: the inverse of `rotate` for a rotation."""
    return (
        m[0] * p[0] + m[3] * p[1] + m[6] * p[2],
        m[1] * p[0] + m[4] * p[1] + m[7] * p[2],
        m[2] * p[0] + m[5] * p[1] + m[8] * p[2],
    )


def smoothstep(xp: ModuleType, low: Any, high: Any, x: Array) -> Array:
    """0 below `low`, 1 above `high`, a cubic between."""
    t = xp.clip((x - low) / (high - low), 0.0, 1.0)
    return t * t * (3.0 - 2.0 * t)


def mix(a: Any, b: Any, t: Array) -> Array:
    """a where t is 0, b where t is 1."""
    return a + (b - a) * t


def _fract(xp: ModuleType, x: Array) -> Array:
    return x - xp.floor(x)


def hash3(xp: ModuleType, x: Array, y: Array, z: Array) -> Array:
    """A value in [0, 1) per lattice point. No sine, so that numpy and a GPU agree to about 1e-3."""
    # Wrapped to a 289 period: the products below then stay small enough for 32-bit floats.
    x = _fract(xp, (x - 289.0 * xp.floor(x * (1.0 / 289.0))) * 0.1031)
    y = _fract(xp, (y - 289.0 * xp.floor(y * (1.0 / 289.0))) * 0.1030)
    z = _fract(xp, (z - 289.0 * xp.floor(z * (1.0 / 289.0))) * 0.0973)
    k = x * (y + 33.33) + y * (z + 33.33) + z * (x + 33.33)
    x, y, z = x + k, y + k, z + k
    return _fract(xp, (x + y) * z)


def value_noise(xp: ModuleType, p: Vec) -> Array:
    """Smooth noise in [0, 1] with lattice spacing 1."""
    i = [xp.floor(c) for c in p]
    f = [c - b for c, b in zip(p, i, strict=True)]
    u = [c * c * (3.0 - 2.0 * c) for c in f]
    h = [
        hash3(xp, i[0] + dx, i[1] + dy, i[2] + dz)
        for dx in (0.0, 1.0)
        for dy in (0.0, 1.0)
        for dz in (0.0, 1.0)
    ]
    z00 = mix(h[0], h[1], u[2])
    z01 = mix(h[2], h[3], u[2])
    z10 = mix(h[4], h[5], u[2])
    z11 = mix(h[6], h[7], u[2])
    return mix(mix(z00, z01, u[1]), mix(z10, z11, u[1]), u[0])


def value_noise_gradient(xp: ModuleType, p: Vec) -> tuple[Array, Vec]:
    """`value_noise` and its gradient, for bumps."""
    i = [xp.floor(c) for c in p]
    f = [c - b for c, b in zip(p, i, strict=True)]
    u = [c * c * (3.0 - 2.0 * c) for c in f]
    du = [6.0 * c * (1.0 - c) for c in f]
    h = [
        hash3(xp, i[0] + dx, i[1] + dy, i[2] + dz)
        for dx in (0.0, 1.0)
        for dy in (0.0, 1.0)
        for dz in (0.0, 1.0)
    ]
    z00, z01 = mix(h[0], h[1], u[2]), mix(h[2], h[3], u[2])
    z10, z11 = mix(h[4], h[5], u[2]), mix(h[6], h[7], u[2])
    y0, y1 = mix(z00, z01, u[1]), mix(z10, z11, u[1])
    slope_x = (y1 - y0) * du[0]
    slope_y = mix(z01 - z00, z11 - z10, u[0]) * du[1]
    lower = mix(h[1] - h[0], h[3] - h[2], u[1])
    upper = mix(h[5] - h[4], h[7] - h[6], u[1])
    slope_z = mix(lower, upper, u[0]) * du[2]
    return mix(y0, y1, u[0]), (slope_x, slope_y, slope_z)


def scaled(p: Vec, k: Any, shift: Any = 0.0) -> Vec:
    """k · p + shift, the same shift in every coordinate times a small odd factor."""
    return p[0] * k + shift, p[1] * k + shift * 1.7, p[2] * k + shift * 2.3


def octaves(xp: ModuleType, p: Vec, count: int) -> Array:
    """`count` octaves of value noise, halved each time, scaled to [0, 1]."""
    total: Array = 0.0
    weight, norm = 1.0, 0.0
    for _ in range(count):
        total = total + weight * value_noise(xp, p)
        norm += weight
        weight *= 0.5
        p = scaled(p, 2.03, 11.7)
    return total / norm


def stones(xp: ModuleType, x: Array, y: Array, seed: Array) -> tuple[Array, Array]:
    """Cellular noise in the plane: distance to the nearest cell point, and the cell's value."""
    ix, iy = xp.floor(x), xp.floor(y)
    best = 9.0 + 0.0 * x
    own = 0.0 * x
    for dx in (-1.0, 0.0, 1.0):
        for dy in (-1.0, 0.0, 1.0):
            cx, cy = ix + dx, iy + dy
            px = cx + hash3(xp, cx, cy, seed) - x
            py = cy + hash3(xp, cx, cy, seed + 7.0) - y
            d = px * px + py * py
            nearer = d < best
            own = xp.where(nearer, hash3(xp, cx, cy, seed + 3.0), own)
            best = xp.where(nearer, d, best)
    return xp.sqrt(best), own
