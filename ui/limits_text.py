"""The plain words of the page on limits."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fittings.words import Orientation, Reading, percent
from vision.calibration import Thresholds, from_card

SECTIONS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "What it looks for",
        (
            "Weld seams on elbows, tees and reducers, and which way each runs on the part's own "
            "surface: along it, around it, or where a tee's outlet meets its run.",
            "A wrought fitting may carry seams along its length. A seam around it, or around the "
            "foot of its outlet, speaks of a piece welded together from pipe or plate.",
        ),
    ),
    (
        "What it cannot tell",
        (
            "A weld that was ground flush and painted leaves little or nothing on a photo. "
            "“No seam seen” says only that none was seen on the side shown.",
            "One photo shows less than half of a piece. Take several, from all sides and into the "
            "bore.",
            "It knows nothing of material, wall thickness, heat treatment, marking or papers.",
            "Several pieces in one photo are read as a whole; the reading can't say which one "
            "carries the seam. Photograph each piece by itself.",
            "Scratches, strap marks, shadows, chalk lines and mill scale can look like a seam.",
            "Its figures were measured on rendered pictures. On real photographs it may do worse.",
        ),
    ),
    (
        "What to do with a reading",
        (
            "Use it to choose what to look at first. A person decides, after a physical check: "
            "visual inspection outside and inside, macro-etching, hardness or thickness along the "
            "suspected line, or radiography.",
            "A high probability is a reason to look, not proof. A low one is no reason to stop "
            "looking.",
            "Blurred, dark or distant photos read as unclear. Take them again, closer, in even "
            "light.",
        ),
    ),
)
EXAM_NOTE = (
    "Measured on rendered pictures kept apart from those the model learned from. Anyone can repeat "
    "it; the model's card says how."
)
NO_EXAM = "This copy carries no measured figures."


def seam_rows() -> list[dict[str, str]]:
    """One row per seam orientation: letter, word, line and meaning."""
    return [
        {
            "Letter": orientation.style.letter,
            "Seam": orientation.value,
            "Line": orientation.style.pattern,
            "Meaning": orientation.meaning,
        }
        for orientation in Orientation
    ]


def reading_rows(card: Mapping[str, Any]) -> list[dict[str, str]]:
    """When each reading is said, by the thresholds of the model's card; empty without a card."""
    try:
        limits, _ = from_card(card)
    except ValueError:
        return []
    return [
        {"Reading": reading.title, "Said when": _SAID_WHEN[reading].format(**_shares(limits))}
        for reading in Reading
    ]


_SAID_WHEN = {
    Reading.FABRICATION_SEAM: (
        "a fabrication is put at {hold} or more, and it is told with confidence what fitting it is"
    ),
    Reading.LONG_SEAM_ONLY: (
        "a fabrication is put below {doubt}, and the only lines traced run along the part"
    ),
    Reading.NO_SEAM_SEEN: (
        "a fabrication is put below {doubt}, and no line is traced on a photo that could have "
        "shown one"
    ),
    Reading.UNCLEAR: (
        "anything between, a photo that could show no fine seam, or a fitting that is not told at "
        "{kind} or more"
    ),
}


def _shares(limits: Thresholds) -> dict[str, str]:
    return {
        "hold": percent(limits.hold),
        "doubt": percent(limits.doubt),
        "kind": percent(limits.kind),
    }


def model_rows(card: Mapping[str, Any]) -> list[dict[str, str]]:
    """Which model it is, so that a reading can be traced back to it; empty without a card."""
    facts = {
        "Version": card.get("version"),
        "sha256": card.get("sha256"),
        "Longest side that it sees, pixels": card.get("input", {}).get("long_side_px"),
        "Pictures that it learned from, all rendered": card.get("training", {}).get("pictures"),
    }
    return [
        {"Model": name, "": f"{value:_}".replace("_", " ") if type(value) is int else str(value)}
        for name, value in facts.items()
        if value is not None
    ]
