"""Thinning and ways along lines, against SciPy and scikit-image as reference libraries."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.ndimage import gaussian_filter1d
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra
from scipy.special import softmax as reference_softmax
from skimage.draw import ellipse_perimeter
from skimage.filters import apply_hysteresis_threshold
from skimage.morphology import dilation, disk, thin

from vision.network import softmax
from vision.thinning import (
    followed,
    followed_down,
    longest,
    neighbours,
    reached,
    smoothed,
    thinned,
)

SHAPES = st.tuples(st.integers(1, 18), st.integers(1, 18))


def blobs(seed: int, height: int = 64, width: int = 80) -> np.ndarray:
    """(height, width) bool: bands, rings and specks as a seam map has them."""
    rng = np.random.default_rng([5, seed])
    mask = np.zeros((height, width), bool)
    for _ in range(3):
        rows, columns = ellipse_perimeter(
            *rng.integers(10, (height - 10, width - 10)).tolist(),
            *rng.integers(3, 30, 2).tolist(),
            orientation=float(rng.uniform(-3, 3)),
            shape=mask.shape,
        )
        mask[rows, columns] = True
    return np.asarray(dilation(mask, disk(int(rng.integers(0, 5))))) & (
        rng.random(mask.shape) < 0.999
    )


@pytest.mark.parametrize("seed", range(40))
def test_bands_are_thinned_as_scikit_image_does(seed: int) -> None:
    mask = blobs(seed)
    assert np.array_equal(thinned(mask), thin(np.pad(mask, 1))[1:-1, 1:-1])


@given(arrays(np.bool_, SHAPES))
def test_any_mask_is_thinned_as_scikit_image_does(mask: np.ndarray) -> None:
    assert np.array_equal(thinned(mask), thin(np.pad(mask, 1))[1:-1, 1:-1])


@given(arrays(np.float32, SHAPES, elements=st.floats(0, 1, width=32)))
def test_hysteresis_is_that_of_scikit_image(values: np.ndarray) -> None:
    assert np.array_equal(
        followed_down(values, 0.35, 0.7), apply_hysteresis_threshold(values, 0.35, 0.7)
    )


def as_matrix(graph: tuple) -> coo_matrix:
    edges = [(i, j, d) for i, row in enumerate(graph) for j, d in row]
    a, b, d = zip(*edges, strict=True) if edges else ((), (), ())
    return coo_matrix((d, (a, b)), (len(graph), len(graph))).tocsr()


@given(arrays(np.bool_, SHAPES).filter(np.any), st.data())
def test_ways_are_as_short_as_those_of_scipy(mask: np.ndarray, data: st.DataObject) -> None:
    graph = neighbours(mask)
    start = data.draw(st.integers(0, len(graph) - 1))
    shut = data.draw(st.sets(st.integers(0, len(graph) - 1).filter(lambda n: n != start)))
    distance, previous = reached(graph, start, without=sorted(shut))
    kept = [n for n in range(len(graph)) if n not in shut]
    matrix = as_matrix(graph)[kept][:, kept]
    expected = np.full(len(graph), np.inf)
    expected[kept] = dijkstra(matrix, indices=kept.index(start))
    assert np.allclose(distance, expected)
    places = np.argwhere(mask)
    for node in np.flatnonzero(np.isfinite(distance)):
        way = followed(previous, int(node))
        assert way[0] == node
        assert way[-1] == start
        assert not shut & set(way)
        steps = np.hypot(*np.diff(places[way], axis=0).T)
        assert len(way) == 1 or steps.max() < 1.5
        assert steps.sum() == pytest.approx(distance[node])


@pytest.mark.parametrize("seed", range(12))
def test_the_longest_way_of_two_sweeps_is_as_long_as_by_scipy(seed: int) -> None:
    line = thinned(blobs(seed))
    graph = neighbours(line)
    matrix = as_matrix(graph)
    first = dijkstra(matrix, indices=0)
    start = int(np.where(np.isfinite(first), first, -1).argmax())
    second = dijkstra(matrix, indices=start)
    way = np.argwhere(line)[longest(graph)]
    assert np.hypot(*np.diff(way, axis=0).T).sum() == pytest.approx(
        second[np.isfinite(second)].max()
    )


@pytest.mark.parametrize("closed", [False, True])
@pytest.mark.parametrize("points", [2, 5, 13, 200])
def test_smoothing_is_that_of_scipy(points: int, closed: bool) -> None:
    path = np.random.default_rng([6, points]).normal(size=(points, 2)).cumsum(axis=0)
    expected = gaussian_filter1d(path, 1.5, axis=0, mode="wrap" if closed else "nearest")
    assert np.abs(smoothed(path, 1.5, closed=closed) - expected).max() < 1e-12


def test_probabilities_are_those_of_scipy() -> None:
    logits = np.random.default_rng(7).normal(scale=30, size=(4, 20, 30)).astype(np.float32)
    assert np.allclose(softmax(logits), reference_softmax(logits, axis=0), rtol=1e-5, atol=1e-7)
    assert np.allclose(softmax(logits[:, 0, 0]), reference_softmax(logits[:, 0, 0]), rtol=1e-5)
