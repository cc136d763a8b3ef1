"""EfficientNet-Lite0's trunk, with the weights that a million photographs gave it, held fixed.

Tan and Le 2019; the lite form has no squeeze-and-excitation and ReLU6 for swish, so that it runs
well in 8 bits. The weights are a file of their own, which `--photo-trunk` names (the model card
says where it is from). Learnt from photographs and never from our renderer, its features cannot
fit themselves to how that draws.
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import torch
from torch import Tensor, nn

from models.checkpoints import CheckpointError


class Stage(NamedTuple):
    """Inverted residual blocks, one after another; the first of them has the stride."""

    repeats: int
    size: int  # of the depthwise convolution, pixels
    stride: int
    expand: int
    outputs: int  # channels


STAGES = (
    Stage(1, 3, 1, 1, 16),
    Stage(2, 3, 2, 6, 24),
    Stage(2, 5, 2, 6, 40),  # 1/8
    Stage(3, 3, 2, 6, 80),
    Stage(3, 5, 1, 6, 112),  # 1/16
    Stage(4, 5, 2, 6, 192),
    Stage(1, 3, 1, 6, 320),  # 1/32
)
_KEPT = (2, 4, 6)  # stages whose features are handed on
CHANNELS = tuple(STAGES[stage].outputs for stage in _KEPT)
EMBEDDING = 1280  # channels of the last convolution, whose mean describes the whole picture

_STEM = 32
_EPSILON = 1e-3  # of batch norm, as it was trained


def _convolution(
    inputs: int, outputs: int, *, size: int = 1, stride: int = 1, depthwise: bool = False
) -> nn.Sequential:
    """Padded as TensorFlow pads "same": with stride 2 one pixel more below and to the right."""
    before, after = (size - stride) // 2, (size - stride + 1) // 2
    return nn.Sequential(
        nn.ZeroPad2d((before, after, before, after)),
        nn.Conv2d(inputs, outputs, size, stride, groups=inputs if depthwise else 1, bias=False),
        nn.BatchNorm2d(outputs, eps=_EPSILON),
    )


class _Block(nn.Module):
    def __init__(self, inputs: int, stage: Stage, stride: int) -> None:
        super().__init__()
        wide = inputs * stage.expand
        steps: list[nn.Module] = []
        if stage.expand > 1:
            steps += [_convolution(inputs, wide), nn.ReLU6(inplace=True)]
        steps += [
            _convolution(wide, wide, size=stage.size, stride=stride, depthwise=True),
            nn.ReLU6(inplace=True),
            _convolution(wide, stage.outputs),
        ]
        self.steps = nn.Sequential(*steps)
        self.passes = stride == 1 and inputs == stage.outputs

    def forward(self, x: Tensor) -> Tensor:
        out = self.steps(x)
        return x + out if self.passes else out


class LiteTrunk(nn.Module):
    """Picture (B, 3, H, W), RGB 0..1, H and W multiples of 32 → features at 1/8, 1/16 and 1/32 of
    `CHANNELS`, and the embedding (B, 1280). Never in training mode, and no weight asks a gradient.
    """

    def __init__(self) -> None:
        super().__init__()
        self.stem = nn.Sequential(_convolution(3, _STEM, size=3, stride=2), nn.ReLU6(inplace=True))
        self.stages = nn.ModuleList()
        inputs = _STEM
        for stage in STAGES:
            blocks = []
            for place in range(stage.repeats):
                blocks.append(_Block(inputs, stage, stage.stride if place == 0 else 1))
                inputs = stage.outputs
            self.stages.append(nn.Sequential(*blocks))
        self.head = nn.Sequential(_convolution(inputs, EMBEDDING), nn.ReLU6(inplace=True))
        self.requires_grad_(False)
        self.eval()

    def train(self, mode: bool = True) -> LiteTrunk:
        """Stays as it is: its batch norm keeps the photographs' statistics."""
        del mode
        return super().train(False)

    def forward(self, image: Tensor) -> tuple[list[Tensor], Tensor]:
        x = self.stem((image * 255.0 - 127.0) / 128.0)
        kept = []
        for place, stage in enumerate(self.stages):
            x = stage(x)
            if place in _KEPT:
                kept.append(x)
        return kept, self.head(x).mean((2, 3))


def load_lite_trunk(path: Path) -> LiteTrunk:
    """The trunk from a torch file of EfficientNet-Lite0 whose tensors stand in the network's order.

    The classifier at the file's end is left out; CheckpointError when the shapes are others.
    """
    found = torch.load(path, map_location="cpu", weights_only=True)
    tensors = [value for name, value in found.items() if not name.startswith("_fc")]
    trunk = LiteTrunk()
    own = trunk.state_dict()
    if [tuple(t.shape) for t in tensors] != [tuple(t.shape) for t in own.values()]:
        raise CheckpointError(f"{path} does not hold the weights of EfficientNet-Lite0 in order")
    trunk.load_state_dict(dict(zip(own, tensors, strict=True)))
    return trunk
