"""Photos that may be of another piece than the rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fittings.words import Kind, percent
from vision.piece_photo import PieceView
from vision.reuse import matches

OTHER_CHROMA = 20.0
"""Distance in (a*, b*) of CIELAB from the others' middle, beyond which a coat looks like another
one. Chosen by eye: sun and shade on one grey piece lie about 10 apart."""

_LEAST_OTHERS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A photo, by its number, and why it may not belong: `code` is the stable word in JSON. A
    `repeated` photo is the same picture as another one and does not count a second time."""

    photo: int
    code: str
    sentence: str
    repeated: bool = False


def doubts(views: Sequence[PieceView], kind: Kind, sure: float) -> tuple[Doubt, ...]:
    """What speaks against single photos; `sure` is the least confidence in a photo's kind."""
    found = list(_repeated(views))
    known = {doubt.photo for doubt in found}
    for number, view in enumerate(views):
        reading = view.reading
        if number in known:
            continue
        if reading.kind is Kind.NONE:
            sentence = f"No fitting was found in {reading.photo}."
            found.append(Doubt(photo=number, code="no_fitting", sentence=sentence))
        elif reading.kind is not kind and reading.kind_confidence >= sure:
            sentence = (
                f"In {reading.photo} the fitting is taken for: {reading.kind.value} "
                f"({percent(reading.kind_confidence)}); in all photos together: {kind.value}. Is "
                "it of another piece?"
            )
            found.append(Doubt(photo=number, code="other_kind", sentence=sentence))
        elif (distance := _from_others(views, number, kind)) > OTHER_CHROMA:
            sentence = (
                f"The fitting in {reading.photo} has another colour than in the others "
                f"({distance:.0f} apart in CIELAB a*, b*): is it of another piece?"
            )
            found.append(Doubt(photo=number, code="other_colour", sentence=sentence))
    return tuple(sorted(found, key=lambda doubt: doubt.photo))


def _repeated(views: Sequence[PieceView]) -> list[Doubt]:
    """Photos that are the same picture as another one. Of two, the one that speaks less of a
    fabrication is the repeated one, so that no repetition hides anything."""
    pairs = [
        (first, second, "same_file", "the same file")
        for second in range(len(views))
        for first in range(second)
        if views[first].reading.sha256 == views[second].reading.sha256
    ]
    signed = [i for i, view in enumerate(views) if view.signature is not None]
    # Looked for among different files only: a file is its own copy.
    firsts = {views[i].reading.sha256: i for i in reversed(signed)}
    own = sorted(firsts.values())
    for match in matches([views[i].signature or b"" for i in own]) if len(own) > 1 else []:
        pairs.append((own[match.first], own[match.second], "same_picture", match.sentence))
    found: dict[int, Doubt] = {}
    for first, second, code, what in pairs:
        if first in found or second in found:
            continue
        less, more = sorted(
            (second, first), key=lambda i: views[i].reading.verdict.fabricated_probability
        )
        names = views[less].reading.photo, views[more].reading.photo
        sentence = (
            f"{names[0]} is the same file as {names[1]}."
            if code == "same_file"
            else f"{names[0]} and {names[1]}: {what[0].lower()}{what[1:]}"
        )
        found[less] = Doubt(photo=less, code=code, sentence=sentence, repeated=True)
    return list(found.values())


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
