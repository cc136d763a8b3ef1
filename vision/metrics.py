"""How good readings are: intervals, ranks, operating points, calibration, overlap, angles.

Pure functions on counts and arrays; nothing here knows where the numbers came from.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import comb, sqrt
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import distance_transform_edt
from scipy.stats import rankdata

BINS = 10
"""Bins of equal width from 0 to 1, each open below and closed above (the first closed at 0)."""


def wilson_interval(successes: int, trials: int, confidence: float = 0.95) -> tuple[float, float]:
    """Low and high end of the score interval for a share; (0, 1) when nothing was tried.

    Wilson (1927), "Probable inference, the law of succession, and statistical inference", without
    continuity correction. ValueError unless 0 <= successes <= trials and 0 < confidence < 1.
    """
    if not 0 <= successes <= trials:
        raise ValueError(f"successes must lie in 0 to {trials}, got {successes}")
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence must lie between 0 and 1, got {confidence}")
    if trials == 0:
        return 0.0, 1.0
    z = NormalDist().inv_cdf(0.5 + confidence / 2)
    share = successes / trials
    middle = share + z * z / (2 * trials)
    half = z * sqrt(share * (1 - share) / trials + (z / (2 * trials)) ** 2)
    scale = 1 + z * z / trials
    low = 0.0 if successes == 0 else (middle - half) / scale
    high = 1.0 if successes == trials else (middle + half) / scale
    return low, high


def roc_auc(scores: ArrayLike, positive: ArrayLike) -> float:
    """Area under the ROC curve by ranks, ties counted half; nan when a class is missing.

    Hanley and McNeil (1982), "The meaning and use of the area under a ROC curve". `scores` (N,)
    float, `positive` (N,) bool.
    """
    score, is_positive = _scored(scores, positive)
    positives = int(is_positive.sum())
    negatives = is_positive.size - positives
    if positives == 0 or negatives == 0:
        return float("nan")
    rank_sum = float(rankdata(score)[is_positive].sum())
    return (rank_sum - positives * (positives + 1) / 2) / (positives * negatives)


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingPoint:
    """What a threshold lets through: scores above it count as found."""

    threshold: float
    recall: float
    false_alarm_share: float


def recall_at_false_alarm(scores: ArrayLike, positive: ArrayLike, share: float) -> OperatingPoint:
    """The lowest threshold that at most `share` of the negatives exceed, and the recall there.

    A score counts as found when it is greater than the threshold, so negatives that tie with it are
    kept out. Recall is nan without positives; without negatives everything is found.
    """
    if not 0.0 <= share < 1.0:
        raise ValueError(f"share must lie in [0, 1), got {share}")
    score, is_positive = _scored(scores, positive)
    negatives = np.sort(score[~is_positive])[::-1]
    if negatives.size == 0:
        threshold, let_in = float("-inf"), 0.0
    else:
        # The tiny sum keeps 0.05 × 20 from falling to 0 by rounding.
        threshold = float(negatives[int(share * negatives.size + 1e-9)])
        let_in = float((negatives > threshold).mean())
    found = score[is_positive] > threshold
    recall = float(found.mean()) if found.size else float("nan")
    return OperatingPoint(threshold=threshold, recall=recall, false_alarm_share=let_in)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReliabilityBin:
    """One bin of a reliability table: what was said on average, and what came true."""

    low: float
    high: float
    count: int
    mean_probability: float
    positives: int

    @property
    def share(self) -> float:
        """Share of positives in the bin; nan when it is empty."""
        return self.positives / self.count if self.count else float("nan")


def reliability_table(
    probabilities: ArrayLike, positive: ArrayLike, bins: int = BINS
) -> tuple[ReliabilityBin, ...]:
    """Bins of equal width over 0 to 1, empty ones too.

    ValueError for probabilities outside 0 to 1.
    """
    probability, is_positive = _scored(probabilities, positive)
    if probability.size and not (probability.min() >= 0.0 and probability.max() <= 1.0):
        raise ValueError("probabilities must lie in 0 to 1")
    # ceil: bins are (low, high]; rounding first keeps 0.3 × 10 in the bin that ends at 0.3.
    place = np.clip(np.ceil(np.round(probability * bins, 9)).astype(int) - 1, 0, bins - 1)
    table = []
    for i in range(bins):
        here = place == i
        count = int(here.sum())
        table.append(
            ReliabilityBin(
                low=i / bins,
                high=(i + 1) / bins,
                count=count,
                mean_probability=float(probability[here].mean()) if count else float("nan"),
                positives=int(is_positive[here].sum()),
            )
        )
    return tuple(table)


def calibration_error(probabilities: ArrayLike, positive: ArrayLike, bins: int = BINS) -> float:
    """Expected calibration error: mean over pictures of the bin's |said − came true|; nan if none.

    Naeini, Cooper and Hauskrecht (2015), "Obtaining well calibrated probabilities using Bayesian
    binning", over `bins` bins of equal width.
    """
    table = [b for b in reliability_table(probabilities, positive, bins) if b.count]
    total = sum(b.count for b in table)
    if total == 0:
        return float("nan")
    return sum(b.count * abs(b.mean_probability - b.share) for b in table) / total


def mcnemar_p(only_first: int, only_second: int) -> float:
    """Exact two-sided p-value for paired counts: right by the first alone, by the second alone.

    McNemar (1947), with the binomial distribution instead of its approximation; 1 when the two
    never differ.
    """
    if only_first < 0 or only_second < 0:
        raise ValueError("counts can't be negative")
    differing = only_first + only_second
    tail = sum(comb(differing, i) for i in range(min(only_first, only_second) + 1))
    return min(1.0, 2 * tail / 2**differing)


def seam_iou(found: NDArray[Any], truth: NDArray[Any], tolerance_px: float) -> float:
    """Overlap over union of two (H, W) masks, a pixel counting as met within `tolerance_px`.

    With F and T pixels in the masks, of which f and t lie within the tolerance of the other mask,
    it is m / (F + T − m), m = (f + t) / 2: the plain measure at tolerance 0. nan when both masks
    are empty.
    """
    if found.shape != truth.shape:
        raise ValueError(f"masks differ in shape: {found.shape} and {truth.shape}")
    ours, theirs = found.astype(bool), truth.astype(bool)
    total = int(ours.sum()) + int(theirs.sum())
    if total == 0:
        return float("nan")
    if not ours.any() or not theirs.any():
        return 0.0
    met = near(theirs, tolerance_px)[ours].sum() + near(ours, tolerance_px)[theirs].sum()
    return float(met / 2 / (total - met / 2))


def near(mask: NDArray[Any], distance_px: float) -> NDArray[np.bool_]:
    """(H, W) bool: within that Euclidean distance of a true pixel of `mask`."""
    inside = mask.astype(bool)
    if not inside.any():
        return np.zeros(inside.shape, dtype=np.bool_)
    return np.asarray(distance_transform_edt(~inside) <= distance_px, dtype=np.bool_)


def angle_difference_deg(first_deg: ArrayLike, second_deg: ArrayLike) -> NDArray[np.float64]:
    """Difference of undirected angles, 0 to 90 degrees: a line at 179° is 2° off one at 1°."""
    off = np.mod(np.asarray(first_deg, float) - np.asarray(second_deg, float), 180.0)
    return np.asarray(np.minimum(off, 180.0 - off), dtype=np.float64)


def percentile(values: Sequence[float], share_percent: float) -> float:
    """Linearly interpolated percentile of the values; nan when there are none."""
    return float(np.percentile(np.asarray(values, float), share_percent)) if values else np.nan


def _scored(
    scores: ArrayLike, positive: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Both as (N,) arrays; ValueError when they differ in shape or a score is not a number."""
    score, is_positive = np.asarray(scores, np.float64), np.asarray(positive, np.bool_)
    if score.ndim != 1 or score.shape != is_positive.shape:
        raise ValueError(f"need two (N,) arrays, got {score.shape} and {is_positive.shape}")
    if np.isnan(score).any():
        raise ValueError("a score is not a number")
    return score, is_positive
