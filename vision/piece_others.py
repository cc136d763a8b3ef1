"""Photos that may be of another piece than the rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fittings.words import Kind, percent
from vision.piece_photo import PieceView

OTHER_CHROMA = 20.0
"""Distance in (a*, b*) of CIELAB from the others' middle, beyond which a coat looks like another
one. Chosen by eye: sun and shade on one grey piece lie about 10 apart."""

_LEAST_OTHERS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A photo, by its number, and why it may not belong: `code` is the stable word in JSON."""

    photo: int
    code: str
    sentence: str


def doubts(views: Sequence[PieceView], kind: Kind, sure: float) -> tuple[Doubt, ...]:
    """What speaks against single photos; `sure` is the least confidence in a photo's kind."""
    found: list[Doubt] = []
    first_with: dict[str, int] = {}
    for number, view in enumerate(views):
        reading = view.reading
        before = first_with.setdefault(reading.sha256, number)
        if before != number:
            sentence = f"{reading.photo} is the same file as {views[before].reading.photo}."
            found.append(Doubt(photo=number, code="same_file", sentence=sentence))
        elif reading.kind is Kind.NONE:
            sentence = f"No fitting was found in {reading.photo}."
            found.append(Doubt(photo=number, code="no_fitting", sentence=sentence))
        elif reading.kind is not kind and reading.kind_confidence >= sure:
            sentence = (
                f"{reading.photo} looks like a {reading.kind.value} "
                f"({percent(reading.kind_confidence)}), the others like a {kind.value}: is it of "
                "another piece?"
            )
            found.append(Doubt(photo=number, code="other_kind", sentence=sentence))
        elif (distance := _from_others(views, number, kind)) > OTHER_CHROMA:
            sentence = (
                f"The fitting in {reading.photo} has another colour than in the others "
                f"({distance:.0f} in CIELAB a*, b*): is it of another piece?"
            )
            found.append(Doubt(photo=number, code="other_colour", sentence=sentence))
    return tuple(found)


def _from_others(views: Sequence[PieceView], number: int, kind: Kind) -> float:
    """How far a photo's colour lies from the middle of the others', beyond how far those lie from
    it themselves; 0 with too few others."""
    others = np.array(
        [v.chroma for i, v in enumerate(views) if i != number and v.reading.kind is kind]
    )
    if len(others) < _LEAST_OTHERS:
        return 0.0
    middle = np.median(others, axis=0)
    spread = float(np.median(np.linalg.norm(others - middle, axis=1)))
    return float(np.linalg.norm(np.asarray(views[number].chroma) - middle)) - spread
