"""Collages: the same by seed, never the same by another, and with light and dark in them."""

from __future__ import annotations

import numpy as np
import pytest

from synthetic.collage import sample_collage


@pytest.mark.parametrize(("height", "width"), [(64, 96), (97, 61)])
def test_a_collage_depends_on_its_generator_alone(height: int, width: int) -> None:
    one, same, other = (
        sample_collage(np.random.default_rng([3, i]), height, width) for i in (0, 0, 1)
    )
    assert one.shape == (height, width, 3)
    assert one.dtype == np.uint8
    assert np.array_equal(one, same)
    assert not np.array_equal(one, other)


def test_collages_are_of_many_kinds() -> None:
    pictures = [sample_collage(np.random.default_rng([4, i]), 96, 128) for i in range(40)]
    spread = np.array([picture.std() for picture in pictures])
    assert (spread > 5).all()  # none is empty
    brightness = np.array([picture.mean() for picture in pictures])
    assert brightness.std() > 25
    colourful = np.array([np.ptp(picture.mean(axis=(0, 1))) for picture in pictures])
    assert colourful.min() < 12
    assert colourful.max() > 60
