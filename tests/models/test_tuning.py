"""The figures of tuning, against counting by hand and against a network that knows the truth."""

from __future__ import annotations

import math

import pytest
import torch
from torch import Tensor, nn

from models.network import SeamOutput
from models.targets import half_resolution
from models.tuning import area_under_curve, recall_at, tuning_figures
from tests.models.fake_batches import fake_batch, perfect


def test_area_under_curve_counts_pairs_and_halves_ties() -> None:
    generator = torch.Generator().manual_seed(0)
    scores = torch.randint(0, 8, (60,), generator=generator).float()
    positive = torch.rand(60, generator=generator) < 0.4
    gap = scores[positive][:, None] - scores[~positive][None]
    pairs = (gap > 0).double() + 0.5 * (gap == 0).double()
    assert area_under_curve(scores, positive) == pytest.approx(float(pairs.mean()))
    assert math.isnan(area_under_curve(scores, torch.zeros(60, dtype=torch.bool)))


def test_recall_lets_through_no_more_negatives_than_said() -> None:
    scores = torch.cat([torch.arange(100).float(), torch.tensor([94.5, 94.0, 95.5, 200.0])])
    positive = torch.arange(104) >= 100
    # Five of a hundred negatives, 95 to 99, may be let through: only what is above 94 counts.
    assert recall_at(scores, positive, 0.05) == 0.75
    assert math.isnan(recall_at(scores, torch.ones(104, dtype=torch.bool), 0.05))


class Knows(nn.Module):
    """Says the truth of a batch, with `along` and `around` off by a little."""

    def __init__(self, batch: dict[str, Tensor], *, off: float) -> None:
        super().__init__()
        self.output = perfect(half_resolution(batch))
        self.output.surface[:, 0] += off

    def forward(self, _: Tensor) -> SeamOutput:
        return self.output


def test_a_network_that_knows_has_full_marks() -> None:
    batch = fake_batch(0, 8, 128, 128)
    batch["fabricated_weight"][3] = 0
    figures = tuning_figures(Knows(batch, off=0.02), [batch])
    assert figures["pictures"] == 8
    for name in ("kind_accuracy", "fabricated_auc", "fabricated_recall_at_5"):
        assert figures[name] == 1.0
    for word in ("longitudinal", "circumferential", "branch"):
        assert figures[f"iou_{word}"] == 1.0
    assert figures["along_error"] == pytest.approx(0.02, rel=1e-4)
    assert figures["around_error_deg"] < 0.1


def test_what_is_not_asked_does_not_count() -> None:
    batch = fake_batch(0, 8, 128, 128)
    knows = Knows(batch, off=0.0)
    knows.output.fabricated[1] = 50.0 if batch["fabricated"][1] == 0 else -50.0
    assert tuning_figures(knows, [batch])["fabricated_auc"] < 1.0
    batch["fabricated_weight"][1] = 0
    assert tuning_figures(knows, [batch])["fabricated_auc"] == 1.0


def test_no_batches_give_no_figures() -> None:
    assert tuning_figures(nn.Identity(), []) == {}
