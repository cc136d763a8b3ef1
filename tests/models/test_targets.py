"""Targets resized, turned and halved: small maps that can be checked by hand."""

from __future__ import annotations

import pytest
import torch
from torch import Tensor

from models.targets import MAPS, Batch, half_resolution, resized, turned
from tests.models.fake_batches import fake_batch


def one(values: list[list[float]], dtype: torch.dtype = torch.float32) -> Tensor:
    return torch.tensor([values], dtype=dtype)


def block(seam: list[list[float]], weight: list[list[float]], part: list[list[float]]) -> Batch:
    """A batch of one 2 x 2 block, whose `along` numbers its pixels 1 to 4."""
    return {
        "image": torch.zeros(1, 3, 2, 2),
        "part": one(part, torch.int64),
        "seam": one(seam, torch.int64),
        "seam_weight": one(weight),
        "along": one([[1, 2], [3, 4]]),
        "around_cos": one([[0, 0], [0, 0]]),
        "around_sin": one([[0, 0], [0, 0]]),
        "kind": torch.tensor([1]),
    }


ONES = [[1.0, 1.0], [1.0, 1.0]]
ZEROS = [[0.0, 0.0], [0.0, 0.0]]


@pytest.mark.parametrize(
    ("seam", "weight", "label", "asked"),
    [
        (ZEROS, ONES, 0, 1.0),
        ([[0, 0], [0, 2]], ONES, 2, 1.0),  # one seam pixel is enough
        ([[1, 0], [0, 3]], ONES, 3, 1.0),
        ([[0, 0], [0, 2]], [[1, 1], [1, 0]], 0, 0.0),  # too faint: not asked, and not a no
        ([[1, 0], [0, 3]], [[0.5, 1], [1, 0]], 1, 0.5),  # the faint one does not hide the other
    ],
)
def test_any_seam_pixel_that_counts_makes_a_seam_block(
    seam: list, weight: list, label: int, asked: float
) -> None:
    half = half_resolution(block(seam, weight, ZEROS))
    assert half["seam"].tolist() == [[[label]]]
    assert half["seam_weight"].tolist() == [[[asked]]]


@pytest.mark.parametrize(
    ("part", "label", "along"),
    [
        ([[0, 2], [2, 2]], 2, 2.0),  # majority; surface from its first pixel
        ([[1, 1], [3, 3]], 1, 1.0),  # of equals the first
        ([[0, 1], [2, 3]], 0, 1.0),
        ([[4, 0], [3, 3]], 3, 3.0),
    ],
)
def test_part_is_the_majority_and_surface_comes_from_it(
    part: list, label: int, along: float
) -> None:
    half = half_resolution(block(ZEROS, ONES, part))
    assert half["part"].tolist() == [[[label]]]
    assert half["along"].tolist() == [[[along]]]
    assert "image" not in half
    assert half["kind"].tolist() == [1]


def test_resizing_keeps_picture_and_maps_together() -> None:
    batch = fake_batch(0, 2, 128, 128)
    ramp = (torch.arange(128) + 0.5).expand(2, 128, 128) / 128  # x of the pixel centre, 0..1
    batch["along"], batch["image"] = ramp.clone(), ramp.unsqueeze(1).expand(2, 3, 128, 128).clone()
    for size in (96, 160):
        got = resized(batch, size, size)
        inner = slice(2, -2)
        wanted = (torch.arange(size) + 0.5) / size
        torch.testing.assert_close(
            got["image"][0, 0, 0, inner], wanted[inner], atol=1e-5, rtol=0, check_stride=False
        )
        assert float((got["along"][0, 0] - wanted).abs().max()) <= 0.51 / 128
        assert set(got["seam"].unique().tolist()) == set(batch["seam"].unique().tolist())
        assert abs(float((got["along"][0, 0] - wanted).mean())) < 0.2 / 128  # no shift to one side
    assert batch["image"].shape == (2, 3, 128, 128)


def test_turning_turns_everything_alike_and_four_quarters_are_none() -> None:
    batch = fake_batch(1, 2, 128, 192)
    once = turned(batch, 1)
    assert once["image"].shape == (2, 3, 192, 128)
    for name in MAPS:
        # Anticlockwise: what stood at the right end of the top row now stands at the top left.
        assert torch.equal(once[name][:, 0, 0], batch[name][:, 0, -1])
    back = turned(turned(once, 1), 2)
    for name, value in batch.items():
        assert torch.equal(back[name], value)


def test_turning_and_halving_commute() -> None:
    batch = fake_batch(2, 3, 128, 160)
    one_way, other_way = half_resolution(turned(batch, 3)), half_resolution(batch)
    assert torch.equal(one_way["seam"], torch.rot90(other_way["seam"], 3, (-2, -1)))
    assert torch.equal(one_way["seam_weight"], torch.rot90(other_way["seam_weight"], 3, (-2, -1)))
