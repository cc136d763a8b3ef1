"""The network: one picture in; parts, seams, surface coordinates and two verdicts out.

The encoder is ResNet-18 (He et al. 2016; built without weights, nothing is downloaded) with one
light stage in place of its last, which alone would be 8 million parameters; the decoder is a
U-Net's (Ronneberger et al. 2015) that ends at half the picture's resolution. Every pixel of the
fitting says where on the surface it lies (`along`, `around`), so that a seam can be measured on the
surface and not in the picture.

Shapes: B pictures, H and W the picture (multiples of 32), h = H / 2 and w = W / 2 the maps.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import torch
from torch import Tensor, nn
from torch.nn import functional as F
from torchvision.models import resnet18

from fittings.words import Kind, Orientation, Part

MULTIPLE_OF = 32  # height and width of a picture, pixels: the encoder halves five times

# Mean and spread of photographs as sRGB display values 0..1, the usual three numbers of natural
# pictures. Nothing was trained on them elsewhere; they only centre the input.
_RGB_MEAN = (0.485, 0.456, 0.406)
_RGB_SPREAD = (0.229, 0.224, 0.225)

ENCODER_CHANNELS = (64, 64, 128, 256, 160)  # at 1/2, 1/4, 1/8, 1/16, 1/32


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkConfig:
    """Widths of the network, in channels, and the dilations of its context block."""

    detail: int = 24  # stem at 1/2
    half: int = 40  # decoder at 1/2
    quarter: int = 64  # decoder at 1/4
    eighth: int = 96  # decoder at 1/8
    context: int = 96  # decoder at 1/16 and 1/32
    dilations: tuple[int, ...] = (1, 2, 4)  # at 1/16: 3 x 3 convolutions, one after another
    evidence: int = 48  # seam evidence for the verdict, at 1/8
    verdict: int = 64  # hidden width of the two verdicts
    normed_verdicts: bool = True  # layer norm before the two verdicts
    top_cells: int = 16  # how many cells of 8 x 8 pixels the "mean of the top" takes

    def __post_init__(self) -> None:
        object.__setattr__(self, "dilations", tuple(self.dilations))
        widths = (self.detail, self.half, self.quarter, self.eighth, self.context)
        if min(*widths, self.evidence, self.verdict, self.top_cells, *self.dilations) < 1:
            raise ValueError(f"every width and dilation must be at least 1: {self}")


class SeamOutput(NamedTuple):
    """What the network says of B pictures; h and w are half the picture's height and width."""

    part: Tensor  # (B, 5, h, w) logits, in the order of fittings.words.Part
    seam: Tensor  # (B, 4, h, w) logits: 0 none, then fittings.words.Orientation by label
    surface: Tensor  # (B, 3, h, w): along 0..1, cosine and sine of around (not normalised)
    kind: Tensor  # (B, 4) logits, in the order of fittings.words.Kind
    fabricated: Tensor  # (B, 1) logit


def conv_block(
    inputs: int, outputs: int, *, size: int = 3, stride: int = 1, dilation: int = 1
) -> nn.Sequential:
    """Convolution, batch norm, ReLU; keeps the resolution when `stride` is 1."""
    padding = dilation * (size // 2)
    return nn.Sequential(
        nn.Conv2d(inputs, outputs, size, stride, padding, dilation=dilation, bias=False),
        nn.BatchNorm2d(outputs),
        nn.ReLU(inplace=True),
    )


def upsample(features: Tensor) -> Tensor:
    """Twice the height and width, by a fixed factor (which exports cleanly)."""
    return F.interpolate(features, scale_factor=2.0, mode="nearest")


class Context(nn.Module):
    """What surrounds a pixel: dilated convolutions on top of the picture's global average."""

    def __init__(self, channels: int, dilations: tuple[int, ...]) -> None:
        super().__init__()
        self.whole = nn.Conv2d(channels, channels, 1)
        self.steps = nn.ModuleList(conv_block(channels, channels, dilation=d) for d in dilations)

    def forward(self, x: Tensor) -> Tensor:
        x = x + self.whole(x.mean((2, 3), keepdim=True))
        for step in self.steps:
            x = x + step(x)
        return x


class SeamNetwork(nn.Module):
    """Picture (B, 3, H, W) float32, RGB display values 0..1 → `SeamOutput`."""

    mean: Tensor
    spread: Tensor

    def __init__(self, config: NetworkConfig | None = None) -> None:
        super().__init__()
        self.config = c = config or NetworkConfig()
        self.register_buffer("mean", torch.tensor(_RGB_MEAN).view(1, 3, 1, 1))
        self.register_buffer("spread", torch.tensor(_RGB_SPREAD).view(1, 3, 1, 1))

        e2, e4, e8, e16, e32 = ENCODER_CHANNELS
        trunk = resnet18(weights=None)
        self.encoder = nn.ModuleList(
            [
                nn.Sequential(trunk.conv1, trunk.bn1, trunk.relu),
                nn.Sequential(trunk.maxpool, trunk.layer1),
                trunk.layer2,
                trunk.layer3,
                conv_block(e16, e32, stride=2),
            ]
        )
        self.detail = nn.Sequential(
            conv_block(3, c.detail, stride=2), conv_block(c.detail, c.detail)
        )

        self.enter32 = conv_block(e32, c.context, size=1)
        self.enter16 = conv_block(e16, c.context, size=1)
        self.context = Context(c.context, c.dilations)
        self.enter8 = conv_block(e8, c.eighth, size=1)
        self.leave16 = conv_block(c.context, c.eighth, size=1)
        self.decode8 = nn.Sequential(conv_block(c.eighth, c.eighth), conv_block(c.eighth, c.eighth))
        self.leave8 = conv_block(c.eighth, c.quarter, size=1)
        self.decode4 = nn.Sequential(
            conv_block(c.quarter + e4, c.quarter), conv_block(c.quarter, c.quarter)
        )
        self.leave4 = conv_block(c.quarter, c.half, size=1)
        self.decode2 = nn.Sequential(
            conv_block(c.half + e2 + c.detail, c.half), conv_block(c.half, c.half)
        )

        self.part_head = nn.Conv2d(c.half, len(Part), 1)
        self.surface_head = nn.Conv2d(c.half, 3, 1)
        self.seam_head = nn.Sequential(
            conv_block(c.half, c.half), nn.Conv2d(c.half, 1 + len(Orientation), 1)
        )

        seen = len(Orientation) + len(Part) + 3  # seams, parts, surface coordinates
        self.evidence = nn.Sequential(
            conv_block(seen + c.eighth, c.evidence), conv_block(c.evidence, c.evidence)
        )
        pooled = 2 * (e32 + c.context + c.evidence + len(Orientation))
        # Maxima of features have any size; with this norm the gradient's is half as large.
        self.pooled_norm = nn.LayerNorm(pooled) if c.normed_verdicts else nn.Identity()
        self.kind_head = nn.Linear(pooled, len(Kind))
        self.fabricated_head = nn.Sequential(
            nn.Linear(pooled, c.verdict), nn.ReLU(inplace=True), nn.Linear(c.verdict, 1)
        )
        with torch.no_grad():  # seams are rare: begin at about one pixel in fifty
            bias = self.seam_head.get_parameter("1.bias")
            bias.copy_(torch.tensor([2.0] + [-2.0] * len(Orientation)))

    def forward(self, image: Tensor) -> SeamOutput:
        x = (image - self.mean) / self.spread  # (B, 3, H, W)
        detail = self.detail(x)  # (B, 24, H/2, W/2)
        skips = []
        for stage in self.encoder:
            x = stage(x)
            skips.append(x)
        x2, x4, x8, x16, x32 = skips  # 64, 64, 128, 256, 160 channels

        d16 = self.context(self.enter16(x16) + upsample(self.enter32(x32)))  # (B, 96, H/16, W/16)
        d8 = self.decode8(self.enter8(x8) + upsample(self.leave16(d16)))  # (B, 96, H/8, W/8)
        d4 = self.decode4(torch.cat([upsample(self.leave8(d8)), x4], 1))  # (B, 64, H/4, W/4)
        d2 = self.decode2(torch.cat([upsample(self.leave4(d4)), x2, detail], 1))  # (B, 40, h, w)

        part = self.part_head(d2)  # (B, 5, h, w)
        seam = self.seam_head(d2)  # (B, 4, h, w)
        along, turn = self.surface_head(d2).split((1, 2), 1)
        surface = torch.cat([along.sigmoid(), turn], 1)  # (B, 3, h, w)

        kind, fabricated = self._verdicts(part, seam, surface, d8, d16, x32)
        return SeamOutput(part, seam, surface, kind, fabricated)

    def _verdicts(
        self, part: Tensor, seam: Tensor, surface: Tensor, d8: Tensor, d16: Tensor, x32: Tensor
    ) -> tuple[Tensor, Tensor]:
        """Kind (B, 4) and fabricated (B, 1) logits, from deep features and the network's own maps.

        The evidence sees seam and place together: a girth seam at the very end of a fitting joins
        it to the next pipe and says nothing about how the fitting was made.
        """
        seam_cells = F.max_pool2d(seam.softmax(1)[:, 1:], 4)  # (B, 3, H/8, W/8), thin seams stay
        place = F.avg_pool2d(torch.cat([part.softmax(1), surface.clamp(-2, 2)], 1), 4)  # 8 channels
        evidence = self.evidence(torch.cat([seam_cells, place, d8], 1))
        pooled = torch.cat(
            [
                x32.mean((2, 3)),
                x32.amax((2, 3)),
                d16.mean((2, 3)),
                d16.amax((2, 3)),
                evidence.amax((2, 3)),
                self._mean_of_top(evidence),
                seam_cells.amax((2, 3)),
                self._mean_of_top(seam_cells),
            ],
            1,
        )  # (B, 2 * (160 + 96 + 48 + 3))
        pooled = self.pooled_norm(pooled)
        return self.kind_head(pooled), self.fabricated_head(pooled)

    def _mean_of_top(self, cells: Tensor) -> Tensor:
        """(B, C, n, m) → (B, C), the mean of the largest cells: a short seam is enough."""
        return cells.flatten(2).topk(self.config.top_cells, 2).values.mean(2)


def count_parameters(network: nn.Module) -> int:
    """How many numbers training may change."""
    return sum(p.numel() for p in network.parameters() if p.requires_grad)
