"""What the doors load: the reader, the sample photos, the measured figures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from models.weights import WeightsError, load_weights
from ui.screening import PhotoReader
from vision.sources import PICTURE_SUFFIXES, Found, find_photos

SAMPLES = Path(__file__).parent / "samples"


def load_reader() -> PhotoReader:
    """The reader with the shipped weights; raises models.weights.WeightsError without them."""
    from vision.read import Reader  # brings onnxruntime, which only reading needs

    return Reader.load()


def sample_photos() -> Iterator[Found]:
    """The rendered sample pictures, none where this copy ships none."""
    return find_photos(_sample_paths())


def sample_count() -> int:
    """How many sample pictures this copy ships."""
    return len(_sample_paths())


def _sample_paths() -> list[Path]:
    return sorted(p for p in SAMPLES.glob("*") if p.suffix.lower() in PICTURE_SUFFIXES)


def model_card() -> Mapping[str, Any]:
    """The card of the shipped weights; empty where there are none that can be used."""
    try:
        return load_weights().card
    except WeightsError:
        return {}


def exam_figures() -> list[dict[str, str]]:
    """The measured figures of the shipped weights, a row each; empty where there are none."""
    return list(_rows(model_card().get("exam") or {}, ()))


def _rows(value: Any, trail: tuple[str, ...]) -> Iterator[dict[str, str]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _rows(inner, (*trail, str(key).replace("_", " ")))
    elif isinstance(value, float):
        yield {"Measured": ", ".join(trail), "Figure": f"{value:.4g}"}
    else:
        yield {"Measured": ", ".join(trail), "Figure": str(value)}
