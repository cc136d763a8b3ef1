"""Surface coordinates to points in space, for shapes given by a few numbers.

The inverse of what `synthetic.shapes` and `DEVELOPERS.md` say of `along` and `around`; frames and
units as in `vision.outline_shapes`. Numbers of a shape come as one array, in these orders:

- elbow: bend radius, bend angle (degrees), straight end, bevel;
- tee: outlet radius, half run, outlet height, crotch radius, bevel of run and of outlet;
- reducer: small radius, length, first and last straight end as shares of the length, bevel at the
  large and at the small end, corner, bell.

A bevel is how far back from the end its edge lies: there the outside surface ends for the eye, but
`along` counts to the end.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from fittings.words import Part

Array = NDArray[np.float64]
Surface = Callable[[Array, Array, Array, Array], Array]
"""(part labels (N,), along (N,), around in radians (N,), the shape's numbers) → (N, 3)."""


def elbow_surface(pieces: int) -> Surface:
    """Of an elbow of so many pieces, 1 for a formed one."""

    def surface(_part: Array, along: Array, around: Array, shape: Array) -> Array:
        radius, half, stub = shape[0], np.radians(shape[1]) / 2.0, shape[2]
        run = along * (2.0 * half * radius + 2.0 * stub) - stub
        angle = np.clip(run / radius, 0.0, 2.0 * half) - half
        past = np.minimum(run, 0.0) + np.maximum(run - 2.0 * half * radius, 0.0)
        from_axis = radius + np.cos(around)
        if pieces > 1:
            # A straight piece's surface lies farther out, the farther from its middle.
            kink = 2.0 * half / (pieces - 1)
            facet = np.clip(np.round((angle + half) / kink), 0, pieces - 1) * kink - half
            from_axis = from_axis / np.cos(angle - facet)
        c, s = np.cos(angle), np.sin(angle)
        return np.stack(
            [from_axis * c - past * s, from_axis * s + past * c, -np.sin(around)], axis=-1
        )

    return surface


def tee_surface(part: Array, along: Array, around: Array, shape: Array) -> Array:
    """Of a tee with a crotch radius.

    In the rounding, where a and b are the heights over run and outlet, (f - a)² + (f - b)² = f²;
    f is the crotch radius, less by 1 - c² where the two meet at another angle than square, c the
    cosine between their normals. Solved for the one height by repeated substitution.
    """
    outlet, half_run, height, crotch = shape[:4]
    c, s = np.cos(around), np.sin(around)
    x, z = (2.0 * along - 1.0) * half_run, along * height
    run_off, outlet_off = np.zeros_like(x), np.zeros_like(x)
    if crotch > 1e-3:
        for _ in range(3):
            y, far = (1.0 + run_off) * s, 1.0 + run_off
            run_off = _rounding(crotch, np.hypot(x, y) - outlet, y, far, np.hypot(x, y))
            y, far = (outlet + outlet_off) * s, outlet + outlet_off
            outlet_off = _rounding(crotch, np.hypot(y, z) - 1.0, y, np.hypot(y, z), far)
        run_off = np.where(c > 0.0, run_off, 0.0)
    run = np.stack([x, -(1.0 + run_off) * s, (1.0 + run_off) * c], axis=-1)
    up = np.stack([(outlet + outlet_off) * c, (outlet + outlet_off) * s, z], axis=-1)
    return np.where((part == Part.OUTLET.label)[:, None], up, run)


def _rounding(crotch: float, clear: Array, y: Array, from_run: Array, from_outlet: Array) -> Array:
    """Height over the one surface in the rounding, at a height `clear` over the other; 0 outside
    it. `from_run` and `from_outlet` are the distances from the axes."""
    cosine = y**2 / np.maximum(from_run * from_outlet, 1e-6)
    radius = crotch * np.clip(1.0 - cosine**2, 0.0, 1.0)
    reach = np.clip(radius - clear, 0.0, radius)
    return radius - np.sqrt(radius**2 - reach**2)


def reducer_surface(eccentric: float) -> Surface:
    """Of a formed reducer, concentric (0) or eccentric (1)."""

    def surface(_part: Array, along: Array, around: Array, shape: Array) -> Array:
        radius, _ = formed_profile(along, shape)
        shift = eccentric * (radius - 1.0)
        return np.stack(
            [along * shape[1], radius * np.sin(around), shift - radius * np.cos(around)], axis=-1
        )

    return surface


def formed_profile(at: Array, shape: Array) -> tuple[Array, Array]:
    """Radius and its slope (per unit of length) of a formed reducer at shares `at` of its length.

    Between the straight ends a blend of a cone with rounded corners (two hyperbolas of the width
    `corner`) and the S of a smooth bell, 3 u² - 2 u³.
    """
    small, length, first, last, _, _, corner, bell = shape
    taper = max(1.0 - first - last, 0.05)
    u = (at - first) / taper
    inside = np.clip(u, 0.0, 1.0)
    low, high = np.hypot(u, corner), np.hypot(u - 1.0, corner)
    span = np.hypot(1.0, corner) - corner
    ramp = 0.5 + 0.5 * (low - high) / span
    ramp_slope = 0.5 * (u / low - (u - 1.0) / high) / span
    within = (ramp > 0.0) & (ramp < 1.0)
    share = np.clip(ramp, 0.0, 1.0) * (1.0 - bell) + bell * inside**2 * (3.0 - 2.0 * inside)
    slope = np.where(within, ramp_slope, 0.0) * (1.0 - bell)
    slope = slope + bell * 6.0 * inside * (1.0 - inside)
    return 1.0 + (small - 1.0) * share, (small - 1.0) * slope / (taper * length)


def chord_profile(steps: int, shape: Array) -> tuple[Array, Array, Array]:
    """Places (shares of the length), radii and slopes of a reducer of straight cones between its
    ends: `steps` chords of the bell. Every corner stands twice, once with each slope."""
    small, length, first, last = shape[:4]
    nodes = np.linspace(0.0, 1.0, steps + 1)
    share = nodes**2 * (3.0 - 2.0 * nodes)
    taper = max(1.0 - first - last, 0.05)
    corners = np.concatenate([[0.0], first + taper * nodes, [1.0]])
    radii = 1.0 + (small - 1.0) * np.concatenate([[0.0], share, [1.0]])
    at, radius, slope = [], [], []
    for a, b, ra, rb in zip(corners[:-1], corners[1:], radii[:-1], radii[1:], strict=True):
        t = np.linspace(0.0, 1.0, 9)
        at.append(a + (b - a) * t)
        radius.append(ra + (rb - ra) * t)
        slope.append(np.full(9, (rb - ra) / max((b - a) * length, 1e-6)))
    return np.concatenate(at), np.concatenate(radius), np.concatenate(slope)
