"""What training asks of the network: pure functions of an output and its targets.

Targets are a dict of tensors at half resolution (h, w), as `models.targets.half_resolution` gives:

- `part` (B, h, w) int64; `seam` (B, h, w) int64, 0 none, then the orientation's label;
- `seam_weight` (B, h, w) float, 0 where the seam map is not asked (a seam too faint to see);
- `along`, `around_cos`, `around_sin` (B, h, w) float, meaningful on body, run and outlet;
- `kind` (B,) int64; `fabricated` and `fabricated_weight` (B,) float, weight 0 where not asked;
- `symmetry` (B,) int64: 0 none, 1 an elbow's half turn, 2 a tee's half turn, 3 both in view.

Nothing here waits for the device: no value is read back, and no shape depends on a value.
"""

from __future__ import annotations

from dataclasses import dataclass

import torch
from torch import Tensor
from torch.nn import functional as F

from fittings.words import Part
from models.line_losses import centreline_loss, direction_loss
from models.network import SeamOutput

Targets = dict[str, Tensor]

ELBOW_HALF_TURN = 1
TEE_HALF_TURN = 2
LOSS_NAMES = (
    "part", "seam", "thin", "hard", "centreline", "direction", "surface", "kind", "fabricated"
)  # fmt: skip

_USUAL_SEAM_PX = 1200.0  # at half resolution: a seam of this size has weight 1


@dataclass(frozen=True, slots=True, kw_only=True)
class LossWeights:
    """How much each part of the loss counts, and the shape of the seam losses."""

    part: float = 1.0
    seam: float = 1.0
    thin: float = 1.0
    hard: float = 0.5
    centreline: float = 0.0
    direction: float = 0.0
    surface: float = 1.5
    kind: float = 0.3
    fabricated: float = 0.5

    seam_pixel: float = 4.0  # a seam pixel against a pixel without one
    small_seam: float = 3.0  # the most that a small seam's pixels may be raised
    missed: float = 0.7  # Tversky: share of a missed seam pixel; a false one has the rest
    hard_share: float = 1 / 64  # share of a picture's pixels that count as its hardest

    def __post_init__(self) -> None:
        if min(getattr(self, name) for name in LOSS_NAMES) < 0:
            raise ValueError(f"loss weights must not be negative: {self}")
        if not 0 < self.hard_share <= 1 or not 0 <= self.missed <= 1 or self.small_seam < 1:
            raise ValueError(
                f"hard_share lies in (0, 1], missed in [0, 1], small_seam from 1 up: {self}"
            )


def total_loss(
    output: SeamOutput, targets: Targets, weights: LossWeights
) -> tuple[Tensor, dict[str, Tensor]]:
    """The weighted sum (a scalar), and its parts before weighting, detached, by LOSS_NAMES."""
    seam, thin, hard = seam_losses(output.seam, targets, weights)
    centreline, direction = line_losses(output, targets, weights)
    parts = {
        "part": part_loss(output.part, targets["part"]),
        "seam": seam,
        "thin": thin,
        "hard": hard,
        "centreline": centreline,
        "direction": direction,
        "surface": surface_loss(output.surface, targets),
        "kind": F.cross_entropy(output.kind.float(), targets["kind"]),
        "fabricated": fabricated_loss(output.fabricated, targets),
    }
    loss = torch.stack([getattr(weights, name) * parts[name] for name in LOSS_NAMES]).sum()
    return loss, {name: value.detach() for name, value in parts.items()}


def part_loss(logits: Tensor, part: Tensor) -> Tensor:
    """Cross-entropy of (B, 5, h, w) logits; outlets and end faces are small and count more."""
    each = F.cross_entropy(logits.float(), part, reduction="none")  # (B, h, w)
    weight = 1.0 + 0.5 * (part == Part.OUTLET.label) + 1.0 * (part == Part.FACE.label)
    return (each * weight).sum() / weight.sum()


def seam_losses(
    logits: Tensor, targets: Targets, weights: LossWeights
) -> tuple[Tensor, Tensor, Tensor]:
    """Three views of the seam map (B, 4, h, w): per pixel, per class, and the hardest pixels.

    - per pixel: cross-entropy, seam pixels raised, those of small seams more;
    - per class: 1 - Tversky index pooled over the batch (Salehi et al. 2017), which does not care
      how rare a seam is, and asks a missed pixel for more than a false one;
    - the hardest: mean cross-entropy of each picture's worst pixels: false alarms and misses.
    """
    seam, asked = targets["seam"], targets["seam_weight"]
    logits = logits.float()
    log_p = logits.log_softmax(1)
    each = F.nll_loss(log_p, seam, reduction="none") * asked  # (B, h, w)

    labels = torch.arange(1, logits.shape[1], device=seam.device)
    truth = seam.unsqueeze(1) == labels[:, None, None]  # (B, 3, h, w) bool
    wanted = truth * asked.unsqueeze(1)  # (B, 3, h, w)
    area = wanted.sum((2, 3), keepdim=True)  # (B, 3, 1, 1) pixels
    raised = (_USUAL_SEAM_PX / area.clamp(min=1.0)).sqrt().clamp(1.0, weights.small_seam)
    wanted = wanted * raised

    pixel_weight = (seam == 0) + weights.seam_pixel * (truth * raised).sum(1)  # (B, h, w)
    per_pixel = (each * pixel_weight).sum() / (asked * pixel_weight).sum().clamp(min=1.0)

    p = log_p[:, 1:].exp()
    found = (p * wanted).sum((0, 2, 3))  # (3,)
    missed = ((1.0 - p) * wanted).sum((0, 2, 3))
    false = (p * ~truth * asked.unsqueeze(1)).sum((0, 2, 3))
    smooth = 50.0  # pixels: a batch without a class asks little of it
    share = (found + smooth) / (
        found + weights.missed * missed + (1.0 - weights.missed) * false + smooth
    )
    thin = (1.0 - share).mean()

    flat = each.flatten(1)
    count = max(1, int(flat.shape[1] * weights.hard_share))
    hard = flat.topk(count, 1, sorted=False).values.mean()
    return per_pixel, thin, hard


def line_losses(
    output: SeamOutput, targets: Targets, weights: LossWeights
) -> tuple[Tensor, Tensor]:
    """The seam map's centreline against the truth's, and its lines against the surface that the
    network itself tells (`models.line_losses`); 0 where the weight is 0, since they cost time."""
    centreline = direction = output.seam.new_zeros((), dtype=torch.float32)
    if weights.centreline == weights.direction == 0:
        return centreline, direction
    p = output.seam.float().softmax(1)[:, 1:]  # (B, 3, h, w)
    if weights.centreline > 0:
        labels = torch.arange(1, 1 + p.shape[1], device=p.device)
        truth = targets["seam"].unsqueeze(1) == labels[:, None, None]
        centreline = centreline_loss(p, truth, targets["seam_weight"])
    if weights.direction > 0:
        told = on_surface(targets["part"]) * (targets["seam_weight"] > 0)
        direction = direction_loss(p, output.surface.float(), told)
    return centreline, direction


def surface_loss(surface: Tensor, targets: Targets) -> Tensor:
    """Smooth L1 of along, cos and sin (B, 3, h, w) on body, run and outlet, mean over pictures.

    A picture of a symmetric fitting cannot tell one labelling from the other, so each picture
    counts the smaller of its two losses; pictures without any surface count nothing.
    """
    part = targets["part"]
    distances = [_surface_distance(surface.float(), truth) for truth in labellings(targets)]
    # A picture may show an elbow and a tee: each chooses its own labelling.
    body = (part == Part.BODY.label).float()  # (B, h, w)
    each: Tensor | float = 0.0
    for weight in (body, on_surface(part) - body):
        each = each + torch.minimum(*((d * weight).sum((1, 2)) for d in distances))  # (B,)
    pixels = on_surface(part).sum((1, 2))  # (B,)
    return (each / pixels.clamp(min=1.0)).sum() / (pixels > 0).sum().clamp(min=1)


def fabricated_loss(logit: Tensor, targets: Targets) -> Tensor:
    """Binary cross-entropy of the (B, 1) logit over the pictures that are asked."""
    weight = targets["fabricated_weight"]
    each = F.binary_cross_entropy_with_logits(
        logit[:, 0].float(), targets["fabricated"].float(), reduction="none"
    )
    return (each * weight).sum() / weight.sum().clamp(min=1.0)


def on_surface(part: Tensor) -> Tensor:
    """(B, h, w) float: 1 on body, run and outlet, where surface coordinates mean something."""
    return ((part >= Part.BODY.label) & (part <= Part.OUTLET.label)).float()


def labellings(targets: Targets) -> tuple[Tensor, Tensor]:
    """The two surface truths (B, 3, h, w) that a picture may be read with; equal without symmetry.

    Half turn of an elbow (body) or a tee's run: along → 1 - along, around → -around. On the tee's
    outlet: along stays, around → around + 180°.
    """
    along, cos, sin = targets["along"], targets["around_cos"], targets["around_sin"]
    part = targets["part"]
    symmetry = targets["symmetry"][:, None, None]
    elbow = (symmetry & ELBOW_HALF_TURN) > 0
    tee = (symmetry & TEE_HALF_TURN) > 0
    ends_swap = (elbow & (part == Part.BODY.label)) | (tee & (part == Part.RUN.label))
    outlet_turns = tee & (part == Part.OUTLET.label)
    straight = torch.stack([along, cos, sin], 1)
    swapped = torch.stack(
        [
            torch.where(ends_swap, 1.0 - along, along),
            torch.where(outlet_turns, -cos, cos),
            torch.where(ends_swap | outlet_turns, -sin, sin),
        ],
        1,
    )
    return straight, swapped


def _surface_distance(surface: Tensor, truth: Tensor) -> Tensor:
    """(B, h, w): smooth L1, `along` counted double since it spans 1 where cos and sin span 2."""
    each = F.smooth_l1_loss(surface, truth, reduction="none", beta=0.05)
    return 2.0 * each[:, 0] + each[:, 1] + each[:, 2]
