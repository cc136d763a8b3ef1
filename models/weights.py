"""The shipped weights as a reader gets them: read once, hashed whole, words compared. No torch.

    models/weights/NAME.onnx   the network
    models/weights/NAME.json   its card: hash, version, input, words in channel order, thresholds

The bytes that were hashed are the bytes handed out, so nothing can change in between.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fittings.words import Kind, Orientation, Part

WEIGHTS_FOLDER = Path(__file__).parent / "weights"
SHIPPED = "seamtriage-1"  # which weights a reader uses

_WHAT_TO_DO = "Restore the shipped files from the repository: git checkout -- models/weights"


class WeightsError(Exception):
    """The weights are missing, altered, or speak other words; the message says what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedWeights:
    """One network, ready to be given to a session."""

    onnx: bytes
    sha256: str
    version: str
    card: Mapping[str, Any]


def channel_words() -> dict[str, list[str]]:
    """What each channel of the network's outputs means, in order, from the project's words."""
    return {
        "kind": [kind.value for kind in Kind],
        "part": [part.value for part in Part],
        "seam": ["none", *(orientation.value for orientation in Orientation)],
        "surface": ["along", "around cosine", "around sine"],
    }


def load_weights(folder: Path = WEIGHTS_FOLDER, name: str = SHIPPED) -> LoadedWeights:
    """The weights `name` of a folder; WeightsError when anything is missing, altered or other."""
    onnx_path, card_path = Path(folder) / f"{name}.onnx", Path(folder) / f"{name}.json"
    card = _read_card(card_path)
    onnx = _read(onnx_path)
    sha256 = hashlib.sha256(onnx).hexdigest()
    if sha256 != card["sha256"]:
        raise WeightsError(
            f"{onnx_path} is not the file that was shipped: expected sha256 {card['sha256']}, "
            f"got {sha256} ({len(onnx)} bytes). {_WHAT_TO_DO}"
        )
    for output, words in channel_words().items():
        told = card["words"].get(output)
        if told != words:
            raise WeightsError(
                f"{card_path} names other classes for {output!r} than this program: expected "
                f"{words}, got {told}. {_WHAT_TO_DO}"
            )
    return LoadedWeights(onnx=onnx, sha256=sha256, version=card["version"], card=card)


def write_card(path: Path, card: Mapping[str, Any]) -> None:
    """Write a card as JSON that a person can read."""
    Path(path).write_text(json.dumps(card, indent=2) + "\n", encoding="utf-8")


def calibrated(
    card: Mapping[str, Any], *, thresholds: Mapping[str, Any], calibration: Mapping[str, Any]
) -> dict[str, Any]:
    """The card with these thresholds and this calibration in place of its own."""
    return {**card, "thresholds": dict(thresholds), "calibration": dict(calibration)}


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise WeightsError(
            f"{path} cannot be read: expected the network's file, got: {reason}. {_WHAT_TO_DO}"
        ) from error


def _read_card(path: Path) -> dict[str, Any]:
    try:
        card = json.loads(_read(path))
    except ValueError as error:
        raise WeightsError(
            f"{path} is altered: expected JSON, got: {error}. {_WHAT_TO_DO}"
        ) from error
    wanted = {"sha256": str, "version": str, "words": dict}
    for key, kind in wanted.items():
        if not isinstance(card, dict) or not isinstance(card.get(key), kind):
            got = card.get(key, "nothing") if isinstance(card, dict) else type(card).__name__
            raise WeightsError(
                f"{path} is altered: expected a {kind.__name__} under {key!r}, got {got!r}. "
                f"{_WHAT_TO_DO}"
            )
    return card
