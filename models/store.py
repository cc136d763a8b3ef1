"""Rendered pictures kept on the device, so that each can be learnt from more than once.

Rendering a picture costs about three training steps on it; a picture that comes again after some
thousand others, mirrored or not and in other light, teaches nearly as much as a new one.
"""

from __future__ import annotations

import math

import torch
import torch.nn.functional as F
from torch import Tensor

from models.targets import MAPS, SURFACE_MAPS, Batch

_BYTES = ("part", "seam", "seam_weight")


class Store:
    """The latest `capacity` pictures with their targets, as bytes and half floats on the device.

    About 12 bytes a pixel: 2.4 MB for a picture of 384 × 512.
    """

    def __init__(self, capacity: int, generator: torch.Generator) -> None:
        self.capacity = capacity
        self.generator = generator  # on the device of the batches
        self.held = 0
        self._next = 0
        self._arrays: Batch = {}

    def add(self, batch: Batch) -> None:
        """Keep a batch; the oldest pictures give way. Batches are no larger than the store."""
        count = len(batch["image"])
        if count > self.capacity:
            raise ValueError(f"{count} pictures do not go into a store of {self.capacity}")
        place = (torch.arange(count) + self._next).to(batch["image"].device) % self.capacity
        for name, value in batch.items():
            packed = _packed(name, value)
            if name not in self._arrays:
                shape = (self.capacity, *packed.shape[1:])
                self._arrays[name] = torch.zeros(shape, dtype=packed.dtype, device=packed.device)
            self._arrays[name][place] = packed
        self._next = (self._next + count) % self.capacity
        self.held = min(self.held + count, self.capacity)

    def take(self, count: int) -> Batch:
        """`count` of the pictures, drawn with equal chance, each `varied`."""
        device = self.generator.device
        pick = torch.randint(self.held, (count,), generator=self.generator, device=device)
        batch = {name: _unpacked(name, value[pick]) for name, value in self._arrays.items()}
        return varied(batch, self.generator)


def varied(batch: Batch, generator: torch.Generator) -> Batch:
    """The batch, each picture mirrored with even chance, in a light of its own, and some `worn`.

    Mirroring turns the sense in which `around` counts, so its sine changes sign.
    """
    image = batch["image"]
    count, device = len(image), image.device
    out = dict(batch)
    flip = torch.rand(count, generator=generator, device=device) < 0.5
    for name in ("image", *MAPS):
        value = batch[name]
        which = flip.view(count, *(1,) * (value.ndim - 1))
        out[name] = torch.where(which, value.flip(-1), value)
    out["around_sin"] = torch.where(flip.view(-1, 1, 1), -out["around_sin"], out["around_sin"])

    def factor(spread: float, channels: int) -> Tensor:
        shape = (count, channels, 1, 1)
        return torch.exp(spread * torch.randn(shape, generator=generator, device=device))

    exposure, tint, gamma = factor(0.15, 1), factor(0.04, 3), factor(0.15, 1)
    lit = (out["image"] * exposure * tint).clamp(1 / 255, 1.0) ** gamma
    out["image"] = worn(lit, generator)
    return out


WORN_SHARE = 0.3
"""So many pictures get noise, and so many again lose sharpness, by chance of their own."""

NOISE = (0.004, 0.05)
"""Standard deviation of the noise, of full scale, drawn evenly in its logarithm."""


def worn(image: Tensor, generator: torch.Generator) -> Tensor:
    """(B, 3, H, W) with other noise, fine or in blotches, and other softness each time.

    A picture that comes again with the same grain is learnt by its grain.
    """
    count, _, height, width = image.shape

    def chance(*shape: int) -> Tensor:
        return torch.rand(shape, generator=generator, device=image.device)

    def normal(height: int, width: int) -> Tensor:
        shape = (count, 3, height, width)
        drawn = torch.randn(shape, generator=generator, device=image.device)
        grey = drawn.mean(1, keepdim=True)
        return grey + chance(count, 1, 1, 1) * (drawn - grey)

    softness = chance(count, 1, 1, 1) * (chance(count, 1, 1, 1) < WORN_SHARE)
    soft = image + softness * (F.avg_pool2d(image, 3, 1, 1, count_include_pad=False) - image)
    low, high = (math.log(sd) for sd in NOISE)
    sd = torch.exp(low + (high - low) * chance(count, 1, 1, 1))
    sd = sd * (chance(count, 1, 1, 1) < WORN_SHARE)
    coarse = F.interpolate(normal(height // 4, width // 4), (height, width), mode="bilinear")
    blotched = chance(count, 1, 1, 1)
    noise = (1.0 - blotched) * normal(height, width) + 1.4 * blotched * coarse
    return (soft + sd * noise).clamp(0.0, 1.0)


def _packed(name: str, value: Tensor) -> Tensor:
    if name == "image":
        return (value.nan_to_num().clamp(0.0, 1.0) * 255.0).round().to(torch.uint8)
    if name in _BYTES:
        return value.to(torch.uint8)
    return value.half() if name in SURFACE_MAPS else value


def _unpacked(name: str, value: Tensor) -> Tensor:
    if name == "image":
        return value.float() / 255.0
    if name in ("part", "seam"):
        return value.long()
    return value.float() if name == "seam_weight" or name in SURFACE_MAPS else value


def seeded(device: torch.device, *numbers: int) -> torch.Generator:
    """A generator on the device, of its own for each row of numbers below a million."""
    mixed = sum(number * 1_000_003**place for place, number in enumerate(numbers))
    return torch.Generator(device).manual_seed(mixed % (2**63 - 1))
