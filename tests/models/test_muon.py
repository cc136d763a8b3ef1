"""Muon against the singular value decomposition, and against AdamW where AdamW is what it does."""

from __future__ import annotations

import pytest
import torch
from torch import Tensor, nn

from models.muon import MuonAdamW, orthogonalised


@pytest.mark.parametrize("shape", [(8, 40), (40, 8), (64, 64), (100, 130)])
def test_singular_values_become_alike_and_directions_stay(shape: tuple[int, int]) -> None:
    """Against torch.linalg.svd (LAPACK): U V^T, but for singular values that Jordan et al. let end
    between 0.7 and 1.2; small ones may still be on their way."""
    torch.manual_seed(5)
    matrix = torch.randn(shape)
    (found,) = orthogonalised([matrix])
    u, before, vt = torch.linalg.svd(matrix, full_matrices=False)
    inside = u.mT @ found @ vt.mT
    assert torch.allclose(inside, torch.diag(inside.diagonal()), atol=2e-3)
    well = before > 0.05 * before.norm()
    assert inside.diagonal()[well].min() > 0.65
    assert inside.diagonal().max() < 1.25


def test_matrices_of_several_sizes_do_not_mix() -> None:
    torch.manual_seed(6)
    matrices = [torch.randn(shape) for shape in ((3, 70), (90, 20), (65, 65), (3, 70))]
    together = orthogonalised(matrices)
    for matrix, found in zip(matrices, together, strict=True):
        torch.testing.assert_close(found, orthogonalised([matrix])[0], atol=1e-4, rtol=1e-3)


def _network() -> nn.Sequential:
    torch.manual_seed(7)
    return nn.Sequential(
        nn.Conv2d(3, 6, 3), nn.BatchNorm2d(6), nn.ReLU(), nn.Flatten(), nn.Linear(6 * 36, 2)
    )


def _gradients(network: nn.Module) -> None:
    torch.manual_seed(8)
    pictures = torch.randn(16, 3, 8, 8)
    labels = (pictures.mean((1, 2, 3)) > 0).long()
    nn.functional.cross_entropy(network(pictures), labels).backward()


def test_all_but_convolutions_move_as_adamw_moves_them() -> None:
    ours, theirs = _network(), _network()
    muon = MuonAdamW(ours.parameters(), lr=1e-2, weight_decay=0.1)
    decayed = [p for p in theirs.parameters() if p.ndim == 2]
    others = [p for p in theirs.parameters() if p.ndim == 1]
    groups = [{"params": decayed}, {"params": others, "weight_decay": 0.0}]
    adamw = torch.optim.AdamW(groups, lr=1e-2, weight_decay=0.1, betas=(0.9, 0.99))
    _gradients(ours)
    _gradients(theirs)
    muon.step()
    adamw.step()
    for (name, one), other in zip(ours.named_parameters(), theirs.parameters(), strict=True):
        if one.ndim == 4:
            assert not torch.equal(one, other), name
        else:
            torch.testing.assert_close(one, other, msg=name)


def test_a_step_that_is_not_finite_moves_no_weight() -> None:
    network = _network()
    optimizer = MuonAdamW(network.parameters(), lr=1e-2, weight_decay=0.1)
    _gradients(network)
    for parameter in network.parameters():
        assert isinstance(parameter.grad, Tensor)
        parameter.grad.fill_(torch.nan)
    before = [p.detach().clone() for p in network.parameters()]
    optimizer.found_inf = torch.tensor(1.0)
    optimizer.step()
    for old, new in zip(before, network.parameters(), strict=True):
        assert torch.equal(old, new)
