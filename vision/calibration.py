"""The numbers that turn evidence into a reading: fitted on tuning scenes, shipped in the card."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

FEATURES = ("whole picture", "seam map", "traced length", "outline")
"""What the calibration weighs. One fitted before the last were there has no weights for them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Thresholds:
    """Set on tuning scenes and shipped in the weights' card.

    `hold` is the probability from which on a photo reads `fabrication_seam`, `doubt` that from
    which on nothing better than `unclear` is said; `kind` is the least confidence in the kind.
    """

    hold: float
    doubt: float
    kind: float

    def __post_init__(self) -> None:
        if not 0.0 < self.doubt <= self.hold < 1.0:
            raise ValueError(f"thresholds must rise from doubt to hold between 0 and 1: {self}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """Logistic regression from FEATURES to the probability of a fabrication, fitted on tuning
    scenes; `weights` for the first of FEATURES, in their order."""

    weights: tuple[float, ...]
    offset: float

    def __post_init__(self) -> None:
        if not 1 <= len(self.weights) <= len(FEATURES):
            raise ValueError(f"{len(self.weights)} weights for the features {FEATURES}")

    def probability(self, features: tuple[float, ...]) -> float:
        weighed = features[: len(self.weights)]
        evidence = sum(w * f for w, f in zip(self.weights, weighed, strict=True)) + self.offset
        return 0.5 * (1.0 + math.tanh(0.5 * evidence))  # the logistic function, without overflow


def from_card(card: Mapping[str, Any]) -> tuple[Thresholds, Calibration]:
    """Thresholds and calibration of shipped weights; ValueError when the card lacks them."""
    try:
        thresholds = Thresholds(**{k: float(v) for k, v in card["thresholds"].items()})
        numbers = card["calibration"]
        if list(numbers["features"]) != list(FEATURES[: len(numbers["weights"])]):
            raise ValueError(f"calibrated for {numbers['features']}, this program has {FEATURES}")
        return thresholds, Calibration(
            weights=tuple(float(v) for v in numbers["weights"]), offset=float(numbers["offset"])
        )
    except (KeyError, TypeError) as error:
        raise ValueError(f"the weights' card has no usable thresholds: {error}") from error
