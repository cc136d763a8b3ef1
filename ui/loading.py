"""What the doors load: the reader, the sample photos, the measured figures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from models.weights import WeightsError, load_weights
from vision.sources import PICTURE_SUFFIXES, Found, find_photos

if TYPE_CHECKING:
    from vision.known import Known
    from vision.read import Reader

SAMPLES = Path(__file__).parent / "samples"


def load_reader(known: Known | None = None) -> Reader:
    """The reader with the shipped weights, and with what is known of the photos it will be given;
    raises models.weights.WeightsError without the weights. The network's session is still being
    made: the first photo can be opened meanwhile."""
    from vision.read import Reader  # brings onnxruntime, which only reading needs

    reader = Reader.load(wait=False)
    return reader if known is None else replace(reader, known=known)


def load_for_worker(threads: int, known: Known | None = None) -> Reader:
    """The same on that many cores, for one of several that read a batch."""
    from vision.read import Reader

    reader = Reader.load(threads)
    return reader if known is None else replace(reader, known=known)


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
