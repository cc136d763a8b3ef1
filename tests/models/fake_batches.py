"""Stand-ins for the rendered batches: small, made from numbers alone, with the same signature."""

from __future__ import annotations

from collections.abc import Iterator

import torch
from torch.nn import functional as F

from models.network import SeamOutput
from models.targets import Batch


def fake_batch(seed: int, count: int, height: int, width: int) -> Batch:
    """A bright box on a grey ground as the fitting, a dark line across it as its seam."""
    generator = torch.Generator().manual_seed(seed)
    image = 0.4 + 0.05 * torch.randn(count, 3, height, width, generator=generator)
    part = torch.zeros(count, height, width, dtype=torch.int64)
    seam = torch.zeros_like(part)
    kind = torch.arange(count) % 4
    for i in range(count):
        if kind[i] == 0:
            continue
        top, left = height // 8, width // 8 + 3 * i
        part[i, top : height * 3 // 4, left : width * 3 // 4] = 1 + (int(kind[i]) - 1) % 3
        seam[i, height // 2 : height // 2 + 4, left : width * 3 // 4] = 1 + i % 3
    image += 0.4 * (part > 0).unsqueeze(1) - 0.3 * (seam > 0).unsqueeze(1)
    on = (part > 0).float()
    y, x = torch.meshgrid(torch.linspace(0, 1, height), torch.linspace(-3, 3, width), indexing="ij")
    return {
        "image": image.clamp(0, 1),
        "part": part,
        "seam": seam,
        "seam_weight": torch.ones(count, height, width),
        "along": y * on,
        "around_cos": x.cos() * on,
        "around_sin": x.sin() * on,
        "kind": kind,
        "fabricated": (seam >= 2).flatten(1).any(1).float(),
        "fabricated_weight": torch.ones(count),
        "symmetry": torch.where(kind == 1, 1, torch.where(kind == 2, 2, 0)),
    }


class FakeBatches:
    """Endless batches; the same ones whatever the seed, so that runs can be compared."""

    def __init__(
        self,
        *,
        seed: int,
        per_rank: int,
        height: int,
        width: int,
        device: torch.device,
        rank: int,
        world: int,
        workers: int,
    ) -> None:
        assert 0 <= rank < world
        assert seed >= 0
        assert workers >= 0
        self.device = device
        self.batch = fake_batch(rank, per_rank, height, width)

    def __iter__(self) -> Iterator[Batch]:
        while True:
            yield {name: value.to(self.device) for name, value in self.batch.items()}


def fake_tuning(
    *, count: int, per_rank: int, height: int, width: int, device: torch.device
) -> list[Batch]:
    """A finite list of batches, `count` pictures in all."""
    sizes = [min(per_rank, count - begin) for begin in range(0, count, per_rank)]
    batches = [fake_batch(100 + i, size, height, width) for i, size in enumerate(sizes)]
    return [{name: value.to(device) for name, value in batch.items()} for batch in batches]


def perfect(targets: Batch, sure: float = 30.0) -> SeamOutput:
    """The output of a network that knows the truth."""
    channels = {"part": 5, "seam": 4, "kind": 4}
    logits = {
        name: sure * F.one_hot(targets[name], count).movedim(-1, 1).float()
        for name, count in channels.items()
    }
    surface = torch.stack([targets[name] for name in ("along", "around_cos", "around_sin")], 1)
    fabricated = sure * (2 * targets["fabricated"] - 1).unsqueeze(1)
    return SeamOutput(surface=surface, fabricated=fabricated, **logits)
