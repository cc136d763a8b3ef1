"""Readings as CSV and as JSON lines."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable

from fittings.words import ADVISORY
from ui.wording import seams_in_words
from vision.reading import PhotoError, PhotoReading

COLUMNS = (
    "photo",
    "fitting",
    "fitting_confidence",
    "reading",
    "fabricated_probability",
    "reading_confidence",
    "seams",
    "end_joints",
    "reasons",
    "next_step",
    "quality_problems",
    "seen_fraction",
    "width",
    "height",
    "sha256",
    "model_version",
    "model_sha256",
    "error_kind",
    "error_message",
    "caution",
)


def json_line(result: PhotoReading | PhotoError) -> str:
    """One object on one line, without its line end."""
    return json.dumps(result.as_json(), ensure_ascii=False, allow_nan=False)


def as_json_lines(results: Iterable[PhotoReading | PhotoError]) -> str:
    """One object per line, in the order given."""
    return "".join(json_line(result) + "\n" for result in results)


def as_csv(results: Iterable[PhotoReading | PhotoError]) -> str:
    """A table with one row per photo, in the order given, and the caution in every row.

    Texts that a spreadsheet would take for a formula are kept from it by a leading apostrophe.
    """
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, restval="", lineterminator="\r\n")
    writer.writeheader()
    for result in results:
        row = _error_row(result) if isinstance(result, PhotoError) else _reading_row(result)
        writer.writerow({key: neutralised(value) for key, value in row.items()})
    return out.getvalue()


def neutralised(value: str | float) -> str | float:
    """`value` as a cell that no spreadsheet computes."""
    if isinstance(value, str) and value.lstrip()[:1] in ("=", "+", "-", "@"):
        return "'" + value
    if isinstance(value, str) and value[:1] in ("\t", "\r", "\n"):
        return "'" + value
    return value


def _reading_row(reading: PhotoReading) -> dict[str, str | float]:
    form = reading.as_json()
    return {
        "photo": reading.photo,
        "fitting": form["fitting"]["kind"],
        "fitting_confidence": form["fitting"]["confidence"],
        "reading": form["verdict"]["reading"],
        "fabricated_probability": form["verdict"]["fabricated_probability"],
        "reading_confidence": form["verdict"]["confidence"],
        "seams": seams_in_words(reading),
        "end_joints": len(reading.end_joints),
        "reasons": " ".join(reading.verdict.reasons),
        "next_step": reading.verdict.next_step,
        "quality_problems": " ".join(reading.quality.problems),
        "seen_fraction": form["seen_fraction"],
        "width": reading.width,
        "height": reading.height,
        "sha256": reading.sha256,
        "model_version": reading.model_version,
        "model_sha256": reading.model_sha256,
        "caution": ADVISORY,
    }


def _error_row(error: PhotoError) -> dict[str, str | float]:
    return {
        "photo": error.photo,
        "error_kind": error.kind,
        "error_message": error.message,
        "caution": ADVISORY,
    }
