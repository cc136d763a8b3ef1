"""Centreline and direction: against scikit-image's skeleton and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
import torch
from skimage.draw import disk, line
from skimage.morphology import skeletonize
from torch.nn import functional as F

from models.line_losses import centreline_loss, direction_loss, soft_skeleton

LONGITUDINAL, CIRCUMFERENTIAL = 0, 1


def drawn(width_px: int, slope: int = 30) -> torch.Tensor:
    """(1, 1, 96, 128): a straight band."""
    picture = np.zeros((96, 128), np.uint8)
    rows, columns = line(30, 10, 30 + slope, 115)
    for row, column in zip(rows, columns, strict=True):
        picture[disk((row, column), width_px / 2, shape=picture.shape)] = 1
    return torch.from_numpy(picture).float()[None, None]


@pytest.mark.parametrize("width_px", [3, 5, 9, 12])
def test_the_skeleton_of_a_band_lies_where_scikit_image_has_it(width_px: int) -> None:
    band = drawn(width_px)
    ours = soft_skeleton(band)[0, 0].numpy() > 0.5
    theirs = skeletonize(band[0, 0].numpy() > 0)
    near_theirs = F.max_pool2d(torch.from_numpy(theirs).float()[None, None], 5, 1, 2)[0, 0] > 0
    near_ours = F.max_pool2d(torch.from_numpy(ours).float()[None, None], 5, 1, 2)[0, 0] > 0
    inner = np.s_[:, 20:105]  # away from the ends, where each has its own habit
    assert ours[inner].sum() > 60
    assert near_theirs.numpy()[inner][ours[inner]].mean() > 0.95
    assert near_ours.numpy()[inner][theirs[inner]].mean() > 0.95


def test_a_band_found_wider_or_narrower_costs_little_a_gap_or_another_line_much() -> None:
    truth = drawn(5)
    asked = torch.ones(1, 96, 128)
    cut = truth.clone()
    cut[..., 40:80] = 0
    costs = {
        name: float(centreline_loss(found, truth > 0, asked))
        for name, found in {
            "same": truth,
            "wider": drawn(9),
            "narrower": drawn(3),
            "cut": cut,
            "another": torch.maximum(truth, drawn(5, slope=-25)),
            "none": torch.zeros_like(truth),
        }.items()
    }
    assert costs["same"] < 1e-6
    assert max(costs["wider"], costs["narrower"]) < 0.1
    assert min(costs["cut"], costs["another"]) > 0.15
    assert costs["none"] > costs["cut"]


def test_a_line_that_is_not_asked_costs_nothing() -> None:
    truth = drawn(5)
    asked = (truth[:, 0] == 0).float()
    assert float(centreline_loss(torch.zeros_like(truth), truth > 0, asked)) == 0.0


def cylinder(height: int = 96, width: int = 128) -> torch.Tensor:
    """(1, 3, h, w): a cylinder lying across the picture, seen from the side: along grows with x,
    around is the arc sine of the height over its axis."""
    y = torch.linspace(-0.9, 0.9, height).asin()[:, None].expand(height, width)
    x = torch.linspace(0.0, 1.0, width)[None, :].expand(height, width)
    return torch.stack([x, y.cos(), y.sin()])[None]


def seam(slope_deg: float, orientation: int) -> torch.Tensor:
    """(1, 3, 96, 128): a soft straight seam through the middle, at an angle to the x axis."""
    y, x = torch.meshgrid(torch.arange(96.0) - 47.5, torch.arange(128.0) - 63.5, indexing="ij")
    turn = np.deg2rad(slope_deg)
    off = y * np.cos(turn) - x * np.sin(turn)
    p = torch.zeros(1, 3, 96, 128)
    p[0, orientation] = torch.exp(-((off / 2.0) ** 2))
    return p


@pytest.mark.parametrize("slope_deg", [0.0, 20.0, 45.0, 70.0, 90.0])
def test_a_lines_cost_is_the_squared_sine_of_its_angle(slope_deg: float) -> None:
    """On a cylinder from the side both coordinates change along the picture's axes."""
    on = torch.ones(1, 96, 128)
    along_it = np.sin(np.deg2rad(slope_deg)) ** 2
    for orientation, wanted in ((LONGITUDINAL, along_it), (CIRCUMFERENTIAL, 1 - along_it)):
        cost = direction_loss(seam(slope_deg, orientation), cylinder(), on)
        assert float(cost) == pytest.approx(
            wanted, abs=0.08
        )  # faint steps and few pixels count less


def test_the_labelling_of_a_symmetric_piece_does_not_matter() -> None:
    on, p = torch.ones(1, 96, 128), seam(30.0, CIRCUMFERENTIAL)
    straight = cylinder()
    swapped = straight * torch.tensor([-1.0, 1.0, -1.0])[:, None, None]
    swapped[:, 0] += 1.0
    turned = straight * torch.tensor([1.0, -1.0, -1.0])[:, None, None]
    cost = float(direction_loss(p, straight, on))
    assert cost > 0.5
    for other in (swapped, turned):
        assert float(direction_loss(p, other, on)) == pytest.approx(cost, rel=1e-5)


def test_off_the_fitting_and_without_a_line_nothing_is_asked() -> None:
    p = seam(0.0, CIRCUMFERENTIAL)
    assert float(direction_loss(p, cylinder(), torch.zeros(1, 96, 128))) == 0.0
    assert float(direction_loss(torch.zeros_like(p), cylinder(), torch.ones(1, 96, 128))) == 0.0


def test_both_can_be_learnt_through_from_nothing() -> None:
    """No map, however flat, gives a gradient that is no number."""
    p = torch.full((1, 3, 48, 64), 0.2, requires_grad=True)
    surface = torch.zeros(1, 3, 48, 64, requires_grad=True)
    truth, on = torch.zeros(1, 3, 48, 64, dtype=torch.bool), torch.ones(1, 48, 64)
    (centreline_loss(p, truth, on) + direction_loss(p, surface, on)).backward()
    for each in (p, surface):
        assert each.grad is not None
        assert bool(each.grad.isfinite().all())
