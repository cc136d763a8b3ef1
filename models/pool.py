"""A pool of rendered pictures on disk, for training without a GPU that renders them as it goes.

    python -m models.pool --seed 21 --batches 200 --out runs/pool
    python -m models.train --pool runs/pool ...

Each batch of the pool is a folder of arrays that are mapped, not loaded. Pictures come again and
again, each time mirrored or not and in other light (`varied`), and mixed anew.
"""

from __future__ import annotations

import argparse
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import torch
from torch import Tensor

from models.batches import draw, fixed_arrays, render_drawn, stages_on
from models.targets import MAPS, SURFACE_MAPS, Batch

_BYTES = ("part", "seam", "seam_weight")


def write_batch(
    folder: Path, seed: tuple[int, int, int], per_rank: int, size: tuple[int, int]
) -> None:
    """Draw and render one batch, (height, width) `size`, into a new folder."""
    device = torch.device("cpu")
    drawn = {k: torch.from_numpy(v) for k, v in draw(seed, per_rank).items()}
    with torch.no_grad():
        batch = render_drawn(drawn, *size, stages_on(device), fixed_arrays(device))
    part = folder.with_name(folder.name + ".part")
    shutil.rmtree(part, ignore_errors=True)
    part.mkdir(parents=True)
    for name, value in batch.items():
        array = value.numpy()
        if name == "image":
            array = np.rint(array.clip(0.0, 1.0) * 255.0).astype(np.uint8)
        elif name in _BYTES:
            array = array.astype(np.uint8)
        elif name in SURFACE_MAPS:
            array = array.astype(np.float16)
        np.save(part / f"{name}.npy", array)
    part.rename(folder)


def varied(batch: Batch, rng: np.random.Generator) -> Batch:
    """The batch, each picture mirrored with even chance and in a light of its own.

    Mirroring turns the sense in which `around` counts, so its sine changes sign.
    """
    count = len(batch["image"])
    out = dict(batch)
    flip = torch.from_numpy(rng.random(count) < 0.5)
    for name in ("image", *MAPS):
        value = batch[name]
        shape = (count, *(1,) * (value.ndim - 1))
        out[name] = torch.where(flip.view(shape), value.flip(-1), value)
    out["around_sin"] = torch.where(flip.view(-1, 1, 1), -out["around_sin"], out["around_sin"])

    def factor(spread: float, channels: int) -> Tensor:
        drawn = np.exp(rng.normal(0.0, spread, (count, channels, 1, 1))).astype(np.float32)
        return torch.from_numpy(drawn)

    light = (out["image"] * factor(0.15, 1) * factor(0.04, 3)).clamp(1e-4, 1.0)
    out["image"] = light ** factor(0.15, 1)
    return out


class PoolBatches:
    """An endless stream from a pool; the same arguments as `models.batches.Batches`."""

    def __init__(
        self,
        folder: Path,
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
        del world, workers
        self.folder, self.per_rank, self.device = folder, per_rank, device
        self.size = (height, width)
        self.rng = np.random.default_rng([seed, rank])
        self.deck: list[tuple[Path, int]] = []
        if not self._folders():
            raise FileNotFoundError(f"{folder} holds no pictures: run python -m models.pool first")

    def _folders(self) -> list[Path]:
        return sorted(p for p in self.folder.glob("*") if p.is_dir() and p.suffix != ".part")

    def _dealt(self) -> list[tuple[Path, int]]:
        """The next pictures; every picture of the pool comes once before any comes again."""
        if len(self.deck) < self.per_rank:
            cards = [
                (folder, i)
                for folder in self._folders()
                for i in range(len(np.load(folder / "kind.npy", mmap_mode="r")))
            ]
            self.deck = [cards[i] for i in self.rng.permutation(len(cards))]
        hand, self.deck = self.deck[: self.per_rank], self.deck[self.per_rank :]
        return hand

    def __iter__(self) -> Iterator[Batch]:
        while True:
            hand = self._dealt()
            names = [p.stem for p in hand[0][0].glob("*.npy")]
            batch = {}
            for name in names:
                rows = [np.load(f / f"{name}.npy", mmap_mode="r")[i] for f, i in hand]
                value = torch.from_numpy(np.stack(rows))
                if name in ("part", "seam", "kind", "symmetry"):
                    value = value.long()
                elif name == "image":
                    value = value.float() / 255.0
                else:
                    value = value.float()
                batch[name] = value
            if batch["image"].shape[-2:] != self.size:
                raise ValueError(f"the pool's pictures are not {self.size}; render it at that size")
            yield {k: v.to(self.device) for k, v in varied(batch, self.rng).items()}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--seed", type=int, required=True, help="below 1000, unlike any run's")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--batches", type=int, default=200)
    parser.add_argument("--per-rank", type=int, default=32, help="pictures of a batch")
    parser.add_argument("--height", type=int, default=256)
    parser.add_argument("--width", type=int, default=384)
    parser.add_argument("--out", type=Path, default=Path("runs/pool"))
    options = parser.parse_args()
    torch.set_num_threads(1)
    for index in range(options.first, options.first + options.batches):
        folder = options.out / f"{options.seed:03d}-{index:05d}"
        if not folder.exists():
            seed = (options.seed, 0, index)
            write_batch(folder, seed, options.per_rank, (options.height, options.width))
    return 0


if __name__ == "__main__":
    sys.exit(main())
