"""Two losses on a seam as a line: its centreline, and how it runs against surface coordinates.

Both take the network's maps at half resolution and wait for nothing on the device. Neither is in
the usual loss (their weights are 0): what each brought is in the model card.
"""

from __future__ import annotations

import torch
from torch import Tensor
from torch.nn import functional as F

from fittings.words import Orientation

THINNINGS = 6  # a band of up to 13 pixels at half resolution thins to a line
SMOOTH_PX = 20.0  # a batch with hardly any line of an orientation asks little of it
_WINDOW = 7  # pixels at half resolution over which a line's direction is taken
_LEAST_STEPS = 1e-4  # squared; a seam map that changes less has no direction


def soft_skeleton(mask: Tensor, thinnings: int = THINNINGS) -> Tensor:
    """(B, C, h, w) in [0, 1]: what opening takes away from each erosion of a soft mask.

    Shit et al. 2021, "clDice", algorithm 1: erosion and dilation are pooling, so it can be learnt
    through. A binary band of up to 2 `thinnings` + 1 pixels leaves a line of 1 or 2 pixels.
    """
    skeleton = F.relu(mask - _opened(mask))
    for _ in range(thinnings):
        mask = _eroded(mask)
        ridge = F.relu(mask - _opened(mask))
        skeleton = skeleton + F.relu(ridge - skeleton * ridge)
    return skeleton


def centreline_loss(p: Tensor, truth: Tensor, asked: Tensor) -> Tensor:
    """1 - centreline Dice, mean over orientations (Shit et al. 2021, equations 1 and 2).

    `p` (B, C, h, w) probabilities, `truth` (B, C, h, w) bool, `asked` (B, h, w), 0 where the seam
    map is not asked. The centreline of what is found should lie in the true band, and the true
    centreline in what is found; sums are pooled over the batch, since most pictures have no seam.
    """
    asked = asked.unsqueeze(1)
    p, band = p * asked, truth * asked
    ours = soft_skeleton(p)
    with torch.no_grad():
        theirs = soft_skeleton(band)
    over = (0, 2, 3)
    precision = ((ours * band).sum(over) + SMOOTH_PX) / (ours.sum(over) + SMOOTH_PX)
    sensitivity = ((theirs * p).sum(over) + SMOOTH_PX) / (theirs.sum(over) + SMOOTH_PX)
    return (1.0 - 2.0 * precision * sensitivity / (precision + sensitivity)).mean()


def direction_loss(p: Tensor, surface: Tensor, on: Tensor) -> Tensor:
    """How far lines run against their orientation on the surface: 0 agrees, 1 is a right angle.

    A longitudinal seam keeps `around`, a circumferential one `along`: the seam map must change
    where that coordinate changes. `p` (B, C, h, w) probabilities of the orientations in their
    labels' order, `surface` (B, 3, h, w) along, cosine and sine of around, `on` (B, h, w) 1 where
    both are asked: on body, run and outlet. Each pixel counts by its probability, so a line may
    give way as well as the surface. Mirrored and turned labellings cost the same: only the axis of
    a change counts.
    """
    along, cos, sin = surface.unbind(1)
    d_along = _steps(along)
    d_cos, d_sin = _steps(cos), _steps(sin)
    d_around = cos.unsqueeze(1) * d_sin - sin.unsqueeze(1) * d_cos  # (B, 2, h, w)
    # Steps over an edge of the part (another part, or none) say nothing of either coordinate.
    reach = _WINDOW + 2  # a window of steps, each between its two neighbours
    inside = (F.max_pool2d(1.0 - on.unsqueeze(1), reach, 1, reach // 2) == 0).float()[:, 0]
    against, counted = p.new_zeros(()), p.new_zeros(())
    for orientation, change in (
        (Orientation.LONGITUDINAL, d_around),
        (Orientation.CIRCUMFERENTIAL, d_along),
    ):
        seam = p[:, orientation.label - 1]
        weight = seam * inside
        off = _off_axis(_steps(seam), change)
        against = against + (weight * off).sum()
        counted = counted + weight.detach().sum()
    return against / (counted + SMOOTH_PX)


def _off_axis(steps: Tensor, axis: Tensor) -> Tensor:
    """(B, h, w) in [0, 1]: squared sine between the steps (B, 2, h, w) in a window, as a structure
    tensor has them, and the axis of another map's mean step there; 0 where either has none."""
    x, y = steps.unbind(1)
    tensor = _mean(torch.stack([x * x, y * y, x * y], 1))
    xx, yy, xy = tensor.unbind(1)
    ax, ay = _mean(axis).unbind(1)
    # Of the surface's steps only the direction is asked, not how steep it is.
    length2 = (ax * ax + ay * ay).clamp(min=1e-12)
    across = (ay * ay * xx + ax * ax * yy - 2.0 * ax * ay * xy) / length2
    trace = xx + yy
    return across / (trace + _LEAST_STEPS)


def _steps(values: Tensor) -> Tensor:
    """(B, h, w) → (B, 2, h, w): central differences along x and y, 0 on the border."""
    x = F.pad((values[:, :, 2:] - values[:, :, :-2]) / 2.0, (1, 1))
    y = F.pad((values[:, 2:] - values[:, :-2]) / 2.0, (0, 0, 1, 1))
    return torch.stack([x, y], 1)


def _mean(values: Tensor) -> Tensor:
    return F.avg_pool2d(values, _WINDOW, 1, _WINDOW // 2)


def _eroded(mask: Tensor) -> Tensor:
    """The least of each pixel's cross of five."""
    down = -F.max_pool2d(-mask, (3, 1), 1, (1, 0))
    across = -F.max_pool2d(-mask, (1, 3), 1, (0, 1))
    return torch.minimum(down, across)


def _opened(mask: Tensor) -> Tensor:
    return F.max_pool2d(_eroded(mask), 3, 1, 1)
