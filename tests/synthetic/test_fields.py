"""Noise and small helpers: ranges, smoothness, and gradients against differences."""

from __future__ import annotations

import numpy as np
import pytest

from synthetic import fields

RNG = np.random.default_rng(6)
POINTS = tuple(RNG.uniform(-200, 200, (3, 4000)))


def test_mixing_and_steps() -> None:
    t = np.array([0.0, 0.25, 1.0])
    assert fields.mix(2.0, 6.0, t) == pytest.approx([2.0, 3.0, 6.0])
    x = np.array([-1.0, 0.0, 1.0, 2.0, 3.0, 9.0])
    assert fields.smoothstep(np, 1.0, 3.0, x) == pytest.approx([0, 0, 0, 0.5, 1, 1])


def test_rotations_undo_each_other() -> None:
    matrix = tuple(np.linalg.qr(RNG.normal(size=(3, 3)))[0].reshape(-1))
    back = fields.rotate_back(matrix, fields.rotate(matrix, POINTS))
    assert np.stack(back) == pytest.approx(np.stack(POINTS))
    unit = fields.normalise(np, POINTS)
    assert fields.dot(unit, unit) == pytest.approx(1.0)


def test_hashes_fill_their_range_evenly() -> None:
    cells = (np.floor(c) for c in POINTS)
    values = fields.hash3(np, *cells)
    assert values.min() >= 0.0
    assert values.max() < 1.0
    counts, _ = np.histogram(values, bins=10, range=(0, 1))
    assert counts.min() > 300  # of 400 expected
    x = np.arange(100.0)
    assert abs(np.corrcoef(fields.hash3(np, x, x, x), fields.hash3(np, x + 1, x, x))[0, 1]) < 0.3


def test_noise_takes_lattice_values_and_stays_in_range() -> None:
    lattice = tuple(np.floor(c) for c in POINTS)
    assert fields.value_noise(np, lattice) == pytest.approx(fields.hash3(np, *lattice))
    for values in (fields.value_noise(np, POINTS), fields.octaves(np, POINTS, 3)):
        assert values.min() >= 0.0
        assert values.max() <= 1.0
        assert values.mean() == pytest.approx(0.5, abs=0.03)


def test_the_gradient_is_that_of_differences() -> None:
    value, gradient = fields.value_noise_gradient(np, POINTS)
    assert value == pytest.approx(fields.value_noise(np, POINTS))
    step = 1e-5
    for axis in range(3):
        ahead = tuple(c + step * (i == axis) for i, c in enumerate(POINTS))
        behind = tuple(c - step * (i == axis) for i, c in enumerate(POINTS))
        slope = (fields.value_noise(np, ahead) - fields.value_noise(np, behind)) / (2 * step)
        assert gradient[axis] == pytest.approx(slope, abs=1e-4)


def test_stones_measure_to_the_nearest_of_nine_cells() -> None:
    x, y = POINTS[0][:200], POINTS[1][:200]
    distance, own = fields.stones(np, x, y, 3.0)
    best = np.full_like(x, np.inf)
    for dx in (-1, 0, 1):
        for dy in (-1, 0, 1):
            cx, cy = np.floor(x) + dx, np.floor(y) + dy
            px = cx + fields.hash3(np, cx, cy, 3.0 + 0 * x)
            py = cy + fields.hash3(np, cx, cy, 10.0 + 0 * x)
            best = np.minimum(best, np.hypot(px - x, py - y))
    assert distance == pytest.approx(best)
    assert ((own >= 0) & (own < 1)).all()
