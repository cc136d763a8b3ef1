"""Two looks at one picture: what each is given, and how their answers become one."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from fittings.words import Kind, Part
from tests.vision.pieces import tube_maps
from vision.network import Maps
from vision.second_look import looking_twice, mean_of_looks, smaller_mirrored


def flat(height: int, width: int, seam: np.ndarray, kind: tuple[float, ...], logit: float) -> Maps:
    plane = np.zeros((height, width), np.float32)
    return Maps(
        part=np.full((height, width, len(Part)), 1 / len(Part), np.float32),
        seam=seam.astype(np.float32),
        along=plane,
        around_cos=plane,
        around_sin=plane,
        kind=np.array(kind, np.float32),
        fabricated_logit=logit,
    )


def marked(height: int, width: int, column: int) -> np.ndarray:
    """(height, width, 4) seam probabilities: none but in one column, where one orientation is."""
    seam = np.zeros((height, width, 4), np.float32)
    seam[..., 0] = 1.0
    seam[:, column] = (0.0, 0.0, 1.0, 0.0)
    return seam


@pytest.mark.parametrize(
    ("given", "second"),
    [((384, 512), (288, 384)), ((512, 288), (384, 224)), ((32, 64), (32, 64))],
)
def test_the_second_picture_is_smaller_and_mirrored(
    given: tuple[int, int], second: tuple[int, int]
) -> None:
    picture = np.zeros((*given, 3), np.uint8)
    picture[:, : given[1] // 4] = 200
    seen = smaller_mirrored(picture)
    assert seen.shape[:2] == second
    assert seen.flags.c_contiguous
    assert (seen[:, -second[1] // 8 :] == 200).all()
    assert (seen[:, : second[1] // 2] == 0).all()


def test_a_seam_at_the_same_place_in_both_stays_there_as_sure_as_it_was() -> None:
    first = flat(48, 64, marked(48, 64, 12), (0.25,) * 4, 2.0)
    second = flat(48, 64, marked(48, 64, 63 - 12), (0.25,) * 4, -1.0)
    mean = mean_of_looks(first, second)
    assert np.array_equal(mean.seam, first.seam)
    assert mean.fabricated_logit == 0.5


def test_a_seam_that_one_look_alone_saw_is_half_as_sure() -> None:
    first = flat(48, 64, marked(48, 64, 12), (0.25,) * 4, 0.0)
    second = flat(48, 64, marked(48, 64, 12), (0.25,) * 4, 0.0)  # mirrored: column 51
    fabrication = mean_of_looks(first, second).seam[..., 2]
    assert set(np.flatnonzero(fabrication[0])) == {12, 51}
    assert np.allclose(fabrication[:, [12, 51]], 0.5)


def test_a_smaller_second_answer_is_brought_to_the_first_ones_grid() -> None:
    first = flat(48, 64, marked(48, 64, 16), (0.25,) * 4, 0.0)
    seam = cv2.resize(marked(48, 64, 63 - 16), (48, 36), interpolation=cv2.INTER_AREA)
    mean = mean_of_looks(first, flat(36, 48, seam, (0.25,) * 4, 0.0))
    assert mean.shape == (48, 64)
    assert abs(int(mean.seam[24, :, 2].argmax()) - 16) <= 1
    assert np.allclose(mean.seam.sum(-1), 1.0, atol=1e-5)


def test_the_kind_is_the_one_that_both_hold_for_likely() -> None:
    seam = marked(8, 8, 2)
    sure_elbow = flat(8, 8, seam, (0.02, 0.49, 0.47, 0.02), 0.0)
    rather_tee = flat(8, 8, seam, (0.02, 0.02, 0.5, 0.46), 0.0)
    kind = mean_of_looks(sure_elbow, rather_tee).kind
    assert list(Kind)[int(kind.argmax())] is list(Kind)[2]
    assert np.isclose(kind.sum(), 1.0)


def test_parts_and_coordinates_are_the_first_looks() -> None:
    maps = tube_maps()
    pictures: list[tuple[int, ...]] = []

    def network(pixels: np.ndarray) -> Maps:
        pictures.append(pixels.shape)
        return maps

    height, width = (2 * side for side in maps.shape)
    mean = looking_twice(network)(np.zeros((height, width, 3), np.uint8))
    assert len(pictures) == 2
    for name in ("part", "along", "around_cos", "around_sin"):
        assert getattr(mean, name) is getattr(maps, name)
