"""A larger network that teaches the one that ships (Hinton et al. 2015, "Distilling").

It is the small network with two things added: what photographs taught another trunk
(`models.lite_trunk`), and a second decoder beside the first. Every addition ends in a batch norm
whose scale begins at 0 or in a layer of zeros, so that a teacher says at first exactly what the
small network says whose weights it starts from.
"""

from __future__ import annotations

from collections.abc import Sequence

import torch
from torch import Tensor, nn
from torch.nn import functional as F

from fittings.words import Kind
from models.lite_trunk import CHANNELS, EMBEDDING, LiteTrunk
from models.losses import Targets, on_surface
from models.network import (
    ENCODER_CHANNELS,
    NetworkConfig,
    SeamNetwork,
    SeamOutput,
    conv_block,
    upsample,
)

_HIDDEN = 128
_WIDE = {"d8": 128, "d4": 96, "d2": 64}  # channels of the second decoder

SURE_OF_PLACE = 0.5  # length of (cosine, sine) from which on the teacher's place is learnt


def _joined(inputs: int, outputs: int) -> nn.Sequential:
    """1 × 1 convolution whose result counts nothing at first."""
    norm = nn.BatchNorm2d(outputs)
    nn.init.zeros_(norm.weight)
    return nn.Sequential(nn.Conv2d(inputs, outputs, 1, bias=False), norm)


def _branch(inputs: int, width: int, outputs: int) -> nn.Sequential:
    return nn.Sequential(
        conv_block(inputs, width), conv_block(width, width), _joined(width, outputs)
    )


class Teacher(SeamNetwork):
    """Picture (B, 3, H, W) float32, RGB values 0..1 → `SeamOutput`, as the small network."""

    def __init__(self, config: NetworkConfig | None = None) -> None:
        super().__init__(config)
        c = self.config
        p8, p16, p32 = CHANNELS
        e2, e4, *_ = ENCODER_CHANNELS
        self.photo = LiteTrunk()
        self.photo32 = _joined(p32, c.context)
        self.photo16 = _joined(p16, c.context)
        self.wide8 = _branch(c.eighth + p8, _WIDE["d8"], c.eighth)
        self.wide4 = _branch(c.quarter + e4, _WIDE["d4"], c.quarter)
        self.wide2 = _branch(c.half + e2 + c.detail, _WIDE["d2"], c.half)
        self.photo_verdicts = nn.Sequential(
            nn.LayerNorm(EMBEDDING),
            nn.Linear(EMBEDDING, _HIDDEN),
            nn.ReLU(inplace=True),
            nn.Linear(_HIDDEN, len(Kind) + 1),
        )
        nn.init.zeros_(self.photo_verdicts.get_parameter("3.weight"))
        nn.init.zeros_(self.photo_verdicts.get_parameter("3.bias"))

    def forward(self, image: Tensor) -> SeamOutput:
        with torch.no_grad():
            (p8, p16, p32), embedding = self.photo(image)
        x = (image - self.mean) / self.spread
        detail = self.detail(x)
        skips = []
        for stage in self.encoder:
            x = stage(x)
            skips.append(x)
        x2, x4, x8, x16, x32 = skips

        deep = self.enter32(x32) + self.photo32(p32)
        d16 = self.context(self.enter16(x16) + self.photo16(p16) + upsample(deep))
        into8 = self.enter8(x8) + upsample(self.leave16(d16))
        d8 = self.decode8(into8) + self.wide8(torch.cat([into8, p8], 1))
        into4 = torch.cat([upsample(self.leave8(d8)), x4], 1)
        d4 = self.decode4(into4) + self.wide4(into4)
        into2 = torch.cat([upsample(self.leave4(d4)), x2, detail], 1)
        d2 = self.decode2(into2) + self.wide2(into2)

        part, seam = self.part_head(d2), self.seam_head(d2)
        along, turn = self.surface_head(d2).split((1, 2), 1)
        surface = torch.cat([along.sigmoid(), turn], 1)
        kind, fabricated = self._verdicts(part, seam, surface, d8, d16, x32)
        more_kind, more_fabricated = self.photo_verdicts(embedding).split((len(Kind), 1), 1)
        return SeamOutput(part, seam, surface, kind + more_kind, fabricated + more_fabricated)


def taught_loss(output: SeamOutput, taught: SeamOutput, targets: Targets) -> Tensor:
    """How far a network's outputs lie from its teacher's for the same pictures; a scalar.

    Divergence (Kullback-Leibler) of parts, seams, kind and fabrication, the seams' per pixel with
    those raised where either finds one; smooth L1 of the surface coordinates where the teacher
    knows the place. Seams too faint to be asked for are learnt from the teacher, who may see them.
    """
    part = _divergence(output.part, taught.part).mean()
    each = _divergence(output.seam, taught.seam)  # (B, h, w)
    with torch.no_grad():
        seen = 1.0 - torch.minimum(
            output.seam.float().softmax(1)[:, 0], taught.seam.float().softmax(1)[:, 0]
        )
        weight = 0.1 + seen
    seam = (each * weight).sum() / weight.sum()

    surface, wanted = output.surface.float(), taught.surface.float()
    sure = on_surface(targets["part"]) * (wanted[:, 1:].norm(dim=1) > SURE_OF_PLACE)
    off = F.smooth_l1_loss(surface, wanted, reduction="none", beta=0.05)  # (B, 3, h, w)
    off = 2.0 * off[:, 0] + off[:, 1] + off[:, 2]
    place = (off * sure).sum() / sure.sum().clamp(min=1.0)

    kind = _divergence(output.kind, taught.kind).mean()
    made = F.binary_cross_entropy_with_logits(
        output.fabricated.float(), taught.fabricated.float().sigmoid()
    )
    return part + 2.0 * seam + place + 0.6 * kind + 0.5 * made


def _divergence(logits: Tensor, taught: Tensor) -> Tensor:
    """Of each distribution along the channels, (B, C, ...) → (B, ...)."""
    wanted = taught.float().log_softmax(1)
    return (wanted.exp() * (wanted - logits.float().log_softmax(1))).sum(1)


class Committee(nn.Module):
    """Several networks as one teacher: the mean of what they say, of each picture and its mirror
    image. Shapes as theirs; parts, seams and kind come as logarithms of the mean probabilities."""

    def __init__(self, networks: Sequence[SeamNetwork]) -> None:
        super().__init__()
        self.networks = nn.ModuleList(networks)

    def forward(self, image: Tensor) -> SeamOutput:
        said = [network(image) for network in self.networks]
        mirrored = image.flip(-1)
        said += [_unmirrored(network(mirrored)) for network in self.networks]

        def mean(values: list[Tensor]) -> Tensor:
            return torch.stack([v.float() for v in values]).mean(0)

        def log_mean(values: list[Tensor]) -> Tensor:
            return mean([v.float().softmax(1) for v in values]).clamp(min=1e-7).log()

        return SeamOutput(
            part=log_mean([s.part for s in said]),
            seam=log_mean([s.seam for s in said]),
            surface=mean([s.surface for s in said]),
            kind=log_mean([s.kind for s in said]),
            fabricated=mean([s.fabricated for s in said]),
        )


def _unmirrored(output: SeamOutput) -> SeamOutput:
    """As the picture lies; mirroring turns the sense in which `around` counts."""
    along, cos, sin = output.surface.flip(-1).unbind(1)
    return output._replace(
        part=output.part.flip(-1),
        seam=output.seam.flip(-1),
        surface=torch.stack([along, cos, -sin], 1),
    )
