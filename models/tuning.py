"""How well a network does on a fixed list of tuning batches: a few figures, on the device.

The figures steer training and the thresholds; the exam that a user may rely on is elsewhere, on
scenes and photographs that training never touched.
"""

from __future__ import annotations

from collections.abc import Iterable

import torch
from torch import Tensor, nn

from fittings.words import Orientation
from models.losses import labellings, on_surface
from models.targets import Batch, half_resolution

FALSE_ALARM_SHARE = 0.05


def area_under_curve(scores: Tensor, positive: Tensor) -> float:
    """Area under the ROC curve by ranks, ties counted half (Hanley and McNeil 1982).

    `scores` (N,) float, `positive` (N,) bool; nan when one of the two classes is missing.
    """
    positives = int(positive.sum())
    negatives = positive.numel() - positives
    if positives == 0 or negatives == 0:
        return float("nan")
    ordered, place, count = scores.double().unique(return_inverse=True, return_counts=True)
    del ordered
    last = count.cumsum(0).double()
    mean_rank = last - (count.double() - 1) / 2  # ranks from 1; equals share their mean rank
    rank_sum = float(mean_rank[place][positive].sum())
    return (rank_sum - positives * (positives + 1) / 2) / (positives * negatives)


def recall_at(scores: Tensor, positive: Tensor, false_alarm_share: float) -> float:
    """Share of positives above the threshold that lets at most this share of negatives through.

    `scores` (N,) float, `positive` (N,) bool; nan when one of the two classes is missing.
    """
    negatives = scores[~positive].sort(descending=True).values
    if negatives.numel() == 0 or not bool(positive.any()):
        return float("nan")
    threshold = negatives[int(false_alarm_share * negatives.numel())]  # all above it are let in
    return float((scores[positive] > threshold).double().mean())


@torch.no_grad()
def tuning_figures(network: nn.Module, batches: Iterable[Batch]) -> dict[str, float]:
    """Figures of `network` (put in eval mode by the caller) on full-resolution batches."""
    kinds_right, scores, positives, asked = [], [], [], []
    overlap, union, along_off, turn_off, surface_pixels = [], [], [], [], []
    for batch in batches:
        targets = half_resolution(batch)
        output = network(batch["image"])
        kinds_right.append(output.kind.argmax(1) == targets["kind"])
        scores.append(output.fabricated[:, 0].float())
        positives.append(targets["fabricated"] > 0.5)
        asked.append(targets["fabricated_weight"] > 0)

        valid = targets["seam_weight"] > 0
        found = output.seam.argmax(1)
        labels = torch.arange(1, 1 + len(Orientation), device=found.device)[:, None, None, None]
        ours, truth = (found == labels) & valid, (targets["seam"] == labels) & valid  # (3, B, h, w)
        overlap.append((ours & truth).sum((1, 2, 3)))
        union.append((ours | truth).sum((1, 2, 3)))

        along, turn, pixels = _surface_error(output.surface.float(), targets)
        along_off.append(along)
        turn_off.append(turn)
        surface_pixels.append(pixels)

    if not scores:
        return {}
    keep = torch.cat(asked)
    score, positive = torch.cat(scores)[keep].cpu(), torch.cat(positives)[keep].cpu()
    iou = torch.stack(overlap).sum(0) / torch.stack(union).sum(0)  # (3,), nan where no such seam
    pixels = torch.stack(surface_pixels).sum().clamp(min=1)
    figures = {
        "pictures": float(sum(k.numel() for k in kinds_right)),
        "kind_accuracy": float(torch.cat(kinds_right).double().mean()),
        "fabricated_auc": area_under_curve(score, positive),
        "fabricated_recall_at_5": recall_at(score, positive, FALSE_ALARM_SHARE),
        "along_error": float(torch.stack(along_off).sum() / pixels),
        "around_error_deg": float(torch.stack(turn_off).sum() / pixels),
    }
    for orientation, value in zip(Orientation, iou.tolist(), strict=True):
        figures[f"iou_{orientation.value}"] = value
    return figures


def _surface_error(surface: Tensor, targets: Batch) -> tuple[Tensor, Tensor, Tensor]:
    """Sums over pixels of |along| error and angle error (degrees), and how many pixels.

    Per picture the better of the two symmetric labellings, judged by both errors together.
    """
    weight = on_surface(targets["part"])
    choices = []
    for truth in labellings(targets):
        along = (surface[:, 0] - truth[:, 0]).abs()
        sin = surface[:, 2] * truth[:, 1] - surface[:, 1] * truth[:, 2]
        cos = surface[:, 1] * truth[:, 1] + surface[:, 2] * truth[:, 2]
        turn_deg = torch.rad2deg(torch.atan2(sin, cos).abs())
        choices.append(torch.stack([(along * weight).sum((1, 2)), (turn_deg * weight).sum((1, 2))]))
    straight, swapped = choices  # (2, B)
    badness = torch.tensor([[1.0], [1 / 180]], device=surface.device)
    better = (straight * badness).sum(0) <= (swapped * badness).sum(0)  # (B,)
    along, turn = torch.where(better, straight, swapped).sum(1)
    return along, turn, weight.sum()
