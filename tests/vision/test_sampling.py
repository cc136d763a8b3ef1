"""Bilinear values against SciPy's, the median against the standard library's."""

from __future__ import annotations

import statistics

import numpy as np
import pytest
from scipy.ndimage import map_coordinates

from vision.sampling import bilinear, median


def test_values_within_and_beyond_are_those_of_scipy() -> None:
    """Against scipy.ndimage.map_coordinates of order 1."""
    rng = np.random.default_rng(4)
    array = rng.normal(size=(7, 9))
    points = rng.uniform(-3, 12, (400, 2))
    at = [points[:, 1], points[:, 0]]
    nearest = map_coordinates(array, at, order=1, mode="nearest")
    assert np.allclose(bilinear(array, points), nearest)
    inside = ((points >= 0) & (points <= [8, 6])).all(axis=1)
    told = bilinear(array, points, beyond=np.nan)
    assert np.array_equal(np.isfinite(told), inside)
    assert np.allclose(told[inside], nearest[inside])


def test_a_missing_value_counts_only_where_it_has_weight() -> None:
    array = np.array([[1.0, 2.0, np.nan]])
    values = bilinear(array, np.array([[1.0, 0.0], [1.2, 0.0], [0.5, 0.0]]))
    assert np.array_equal(values, [2.0, np.nan, 1.5], equal_nan=True)


@pytest.mark.parametrize("count", [1, 2, 7, 10])
def test_the_median_is_the_standard_librarys(count: int) -> None:
    values = np.random.default_rng(count).normal(size=count)
    before = values.copy()
    assert median(values) == statistics.median(values.tolist())
    assert np.array_equal(values, before)
