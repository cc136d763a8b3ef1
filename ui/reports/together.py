"""What is recorded of a piece's photos read together, as the page, report and request tell it."""

from __future__ import annotations

import base64
import binascii
import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from PIL import Image

from fittings.words import Orientation, Part, Reading, percent
from ui.records import PieceFile, RecordedPieceReading
from vision.seen_words import at_least_in_words, seen_share_in_words

OF_OTHER_PHOTOS = (
    "Photos came or went since the photos were read together; read them together again."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldTogether:
    """The newest reading of a piece's photos together.

    `photos` are the sorted hashes of the photos that it is of, and `is_of_all` says whether the
    piece has just these now. `asked` are the views to take next, none where it is not known; `adds`
    says whether one of them would show some of the outside that no photo shows well. The drawings
    are PNG files, None where there are none; `drawing_in_words` says what the development shows.
    """

    recorded: RecordedPieceReading
    photos: tuple[str, ...]
    is_of_all: bool
    reasons: tuple[str, ...]
    doubts: tuple[str, ...]
    seen: str
    asked: tuple[str, ...]
    adds: bool
    caution: str
    drawing_in_words: str
    development_png: bytes | None = field(repr=False)
    next_views_png: bytes | None = field(repr=False)


def told_together(file: PieceFile) -> ToldTogether | None:
    """What is recorded; None where the photos were never read together.

    Records may have come from another installation, so what is not as it should be is left out
    rather than believed.
    """
    if not file.piece_readings:
        return None
    newest = file.piece_readings[-1]
    facts = newest.facts
    photos = _read_from(newest)
    asked = [view for view in _list(facts.get("next_views")) if isinstance(view, dict)]
    drawings = _object(facts.get("drawings"))
    return ToldTogether(
        recorded=newest,
        photos=photos,
        is_of_all=photos == _hashes(file),
        reasons=tuple(str(each) for each in _list(facts["verdict"].get("reasons"))),
        doubts=tuple(
            str(each.get("sentence", ""))
            for each in _list(facts.get("doubts"))
            if isinstance(each, dict)
        ),
        seen=_seen(_object(facts.get("seen"))),
        asked=tuple(str(view.get("sentence", "")) for view in asked),
        adds=any(_share(view.get("adds")) for view in asked),
        caution=str(facts.get("caution", "")),
        drawing_in_words=_in_words(facts),
        development_png=_png(drawings.get("development_png")),
        next_views_png=_png(drawings.get("next_views_png")),
    )


def word_of(file: PieceFile) -> tuple[Reading | None, float | None]:
    """What the piece reads as: its newest reading of all photos, or that of its worst photo.

    A photo that came after the photos were read together, and is more suspect, stands before them.
    """
    worst = max(
        (each.reading.verdict for each in file.readings if each.reading is not None),
        key=lambda verdict: verdict.fabricated_probability,
        default=None,
    )
    if file.piece_readings:
        newest = file.piece_readings[-1]
        word, probability = newest.word, newest.fabricated_probability
        read_from = _read_from(newest)
        overtaken = bool(read_from) and read_from != _hashes(file)
        if worst is None or not overtaken or worst.fabricated_probability <= probability:
            return word, probability
    return (None, None) if worst is None else (worst.reading, worst.fabricated_probability)


def _read_from(newest: RecordedPieceReading) -> tuple[str, ...]:
    return tuple(str(each) for each in _list(newest.facts.get("read_from")))


def _hashes(file: PieceFile) -> tuple[str, ...]:
    return tuple(sorted(photo.sha256 for photo in file.photos))


def _seen(seen: Mapping[str, Any]) -> str:
    """How much of the outside the photos show, "" where it is not known."""
    all_seen, clear = _share(seen.get("fraction")), _share(seen.get("clear_fraction"))
    if all_seen is None or clear is None:
        return ""
    shown, ends = percent(all_seen), [_share(end) for end in _list(seen.get("range"))]
    if len(ends) == 2 and ends[0] is not None and ends[1] is not None:
        shown = seen_share_in_words(all_seen, (ends[0], ends[1]))
    least = _share(seen.get("least"))
    floor = "" if least is None or least >= all_seen else f" {at_least_in_words(least)}"
    return (
        f"The photos together show {shown} of the outside, {percent(clear)} well enough for a "
        f"usual weld to be seen.{floor}"
    )


def _in_words(facts: Mapping[str, Any]) -> str:
    kind = _object(facts.get("fitting")).get("kind", "piece")
    parts = _object(_object(facts.get("seen")).get("parts"))
    shown = "; ".join(
        f"{part.value}: {percent(share)} seen"
        for part in Part
        if (share := _share(parts.get(part.value))) is not None
    )
    seams = [_seam(each) for each in _list(facts.get("seams")) if isinstance(each, dict)]
    lines = f"Seams drawn: {'; '.join(seams)}." if seams else "No seam is drawn."
    return f"The outside of the {kind} unrolled flat, the unseen hatched. {shown}. {lines}"


def _seam(seam: Mapping[str, Any]) -> str:
    try:
        orientation = Orientation(seam.get("orientation"))
    except ValueError:
        return "a line"
    place = _object(seam.get("place")).get("words")
    return (
        f"{orientation.style.letter}, {orientation.value}, on the {seam.get('part', 'piece')}"
        f"{f', {place}' if place else ''}"
    )


def _png(value: Any) -> bytes | None:
    """The drawing; None for what is no PNG file."""
    if not isinstance(value, str):
        return None
    try:
        data = base64.b64decode(value, validate=True)
        with Image.open(io.BytesIO(data), formats=("PNG",)) as picture:
            picture.load()
    except (binascii.Error, ValueError, OSError, SyntaxError, Image.DecompressionBombError):
        return None
    return data


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _object(value: Any) -> dict[str, Any]:
    return value if isinstance(value, dict) else {}


def _share(value: Any) -> float | None:
    return float(value) if isinstance(value, int | float) and 0 <= value <= 1 else None
