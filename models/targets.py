"""Truth for training: resized with its picture, turned with it, and brought to half resolution.

A batch is a dict of tensors: `image` (B, 3, H, W) float32, RGB display values 0..1, the maps below
at (B, H, W), and one number per picture each for `kind`, `fabricated`, `fabricated_weight` and
`symmetry`. Every function here gives a new dict and leaves its argument alone; all of them work on
the batch's own device without waiting for it.
"""

from __future__ import annotations

import torch
from torch import Tensor
from torch.nn import functional as F

Batch = dict[str, Tensor]

SURFACE_MAPS = ("along", "around_cos", "around_sin")
MAPS = ("part", "seam", "seam_weight", *SURFACE_MAPS)


def resized(batch: Batch, height: int, width: int) -> Batch:
    """The batch at (height, width) pixels: picture bilinear, all maps by the nearest pixel.

    Pixel centres correspond: x_new + 0.5 = (x_old + 0.5) * width_new / width_old.
    """
    image = batch["image"]
    if tuple(image.shape[-2:]) == (height, width):
        return batch
    rows = _nearest(image.shape[-2], height, image.device)
    columns = _nearest(image.shape[-1], width, image.device)
    out = dict(batch)
    out["image"] = F.interpolate(image, (height, width), mode="bilinear", align_corners=False)
    for name in MAPS:
        out[name] = batch[name].index_select(-2, rows).index_select(-1, columns)
    return out


def turned(batch: Batch, quarter_turns: int) -> Batch:
    """The batch turned anticlockwise by quarter turns; surface coordinates stay as they are."""
    if quarter_turns % 4 == 0:
        return batch
    out = dict(batch)
    for name in ("image", *MAPS):
        out[name] = torch.rot90(batch[name], quarter_turns, (-2, -1))
    return out


def half_resolution(batch: Batch) -> Batch:
    """The targets at half resolution, (B, H / 2, W / 2), from 2 x 2 blocks; without the image.

    Seam: the largest label in the block whose weight is above 0, so thin seams stay whole. A block
    that holds only seams too faint to be asked for gets weight 0. Part: the commonest in the block
    (of equals, the first in reading order); surface: from the pixel that gave the part.
    """
    part = _blocks(batch["part"])  # (B, h, w, 4)
    votes = (part.unsqueeze(-1) == part.unsqueeze(-2)).sum(-1)  # how often each label stands there
    order = torch.arange(4, device=part.device)
    pick = (votes * 4 - order).argmax(-1, keepdim=True)  # (B, h, w, 1)

    seam, weight = _blocks(batch["seam"]), _blocks(batch["seam_weight"])
    asked = torch.where(weight > 0, seam, torch.zeros_like(seam))
    half_seam = asked.amax(-1)
    on_seam = torch.where(asked > 0, weight, torch.zeros_like(weight)).amax(-1)

    out = {name: value for name, value in batch.items() if name not in ("image", *MAPS)}
    out["part"] = part.gather(-1, pick).squeeze(-1)
    out["seam"] = half_seam
    out["seam_weight"] = torch.where(half_seam > 0, on_seam, weight.amin(-1))
    for name in SURFACE_MAPS:
        out[name] = _blocks(batch[name]).gather(-1, pick).squeeze(-1)
    return out


def _blocks(values: Tensor) -> Tensor:
    """(B, H, W) → (B, H / 2, W / 2, 4): each 2 x 2 block in reading order."""
    b, h, w = values.shape
    return values.reshape(b, h // 2, 2, w // 2, 2).transpose(2, 3).reshape(b, h // 2, w // 2, 4)


def _nearest(old: int, new: int, device: torch.device) -> Tensor:
    """(new,) int64: which of `old` pixels lies nearest to each of `new` pixels."""
    centres = torch.arange(new, device=device, dtype=torch.float64) + 0.5
    return (centres * (old / new)).floor().long().clamp(0, old - 1)
