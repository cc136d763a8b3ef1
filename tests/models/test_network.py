"""The network's size, shapes and manners."""

from __future__ import annotations

import pytest
import torch

from fittings.words import Kind, Orientation, Part
from models.network import NetworkConfig, SeamNetwork, SeamOutput, count_parameters


@pytest.fixture(scope="module")
def network() -> SeamNetwork:
    torch.manual_seed(0)
    return SeamNetwork().eval()


def test_has_at_most_four_million_parameters(network: SeamNetwork) -> None:
    assert 3_000_000 < count_parameters(network) <= 4_000_000


@pytest.mark.parametrize(("height", "width"), [(128, 128), (128, 192), (160, 128)])
def test_shapes_follow_the_picture(network: SeamNetwork, height: int, width: int) -> None:
    with torch.no_grad():
        out = network(torch.rand(2, 3, height, width))
    assert isinstance(out, SeamOutput)
    half = (height // 2, width // 2)
    assert out.part.shape == (2, len(Part), *half)
    assert out.seam.shape == (2, 1 + len(Orientation), *half)
    assert out.surface.shape == (2, 3, *half)
    assert out.kind.shape == (2, len(Kind))
    assert out.fabricated.shape == (2, 1)


def test_along_stays_between_its_ends() -> None:
    network = SeamNetwork().eval()
    with torch.no_grad():
        network.surface_head.weight.normal_(std=50.0)
        along = network(torch.rand(2, 3, 128, 128)).surface[:, 0]
    assert 0 <= float(along.min()) < 0.1
    assert 0.9 < float(along.max()) <= 1


def test_a_picture_is_read_alike_alone_and_in_company(network: SeamNetwork) -> None:
    pictures = torch.rand(3, 3, 128, 128)
    with torch.no_grad():
        together, alone = network(pictures), network(pictures[1:2])
    for ours, theirs in zip(together, alone, strict=True):
        torch.testing.assert_close(ours[1:2], theirs, atol=1e-4, rtol=1e-4)


def test_every_parameter_learns_from_the_outputs() -> None:
    torch.manual_seed(0)
    network = SeamNetwork()
    out = network(torch.rand(2, 3, 128, 128))
    sum((value.float() ** 2).sum() for value in out).backward()
    still = [name for name, p in network.named_parameters() if p.grad is None]
    assert still == []  # several GPUs would wait for ever for such a gradient


def test_widths_are_checked() -> None:
    with pytest.raises(ValueError, match="at least 1"):
        NetworkConfig(half=0)
    assert NetworkConfig(dilations=[1, 2]).dilations == (1, 2)  # type: ignore[arg-type]
