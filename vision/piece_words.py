"""A piece's reading in plain sentences, each with its figures."""

from __future__ import annotations

from collections.abc import Sequence

from fittings.words import Kind, Orientation, Reading, percent
from vision.piece_photo import PieceView
from vision.piece_places import around_in_words
from vision.piece_seams import PieceSeam
from vision.piece_surface import Surface
from vision.seen_words import at_least_in_words, seen_share_in_words

MOST_SEAMS = 8

_SAME = 0.02
"""Shares of the outside nearer than this are told as one."""


def reasons(
    views: Sequence[PieceView],
    kind: Kind,
    counted: Sequence[int],
    surface: Surface | None,
    seams: Sequence[PieceSeam],
    probability: float,
    reading: Reading,
) -> tuple[str, ...]:
    """One sentence for each line of evidence, and what the photos leave open."""
    names = [view.reading.photo for view in views]
    if not counted:
        return ("None of the photos shows a fitting well enough to count; take others.",)
    datum = surface is not None and surface.datum
    lines = [
        f"Seam map: {seam_in_words(seam, names, kind, datum=datum)}." for seam in seams[:MOST_SEAMS]
    ]
    if len(seams) > MOST_SEAMS:
        lines.append(f"{len(seams) - MOST_SEAMS} more lines are in the table of seams.")
    astray = [
        reading.photo
        for i in counted
        for reading in [views[i].reading]
        if len(reading.seams) > len(views[i].curves)
    ]
    if astray:
        lines.append(
            f"Some lines on {listed(astray)} could not be placed on the surface; they are drawn on "
            "the photos only."
        )
    first = max(counted, key=lambda i: views[i].reading.verdict.fabricated_probability)
    own = views[first].reading.verdict.fabricated_probability
    together = "both" if len(counted) == 2 else f"all {len(counted)}"
    lines.append(
        f"Strongest photo: {names[first]} puts a fabrication at {percent(own)}; {together} that "
        f"count, together, at {percent(probability)}."
        if len(counted) > 1
        else f"One photo counts: {names[first]} puts a fabrication at {percent(own)}."
    )
    lines.extend(_why(views, counted, reading, probability))
    if surface is not None:
        lines.extend(_seen(surface, names))
    passed_over = [n for i, n in enumerate(names) if i not in counted]
    if passed_over:
        lines.append(
            f"Not counted, as too poor, the same file again or no clear {kind.value}: "
            f"{listed(passed_over)}."
        )
    return tuple(lines)


def _seen(surface: Surface, names: Sequence[str]) -> list[str]:
    """How much the photos show, and what that rests on."""
    shown = seen_share_in_words(surface.seen_fraction, surface.seen_range)
    lines = [
        f"Seen: {shown} of the outside, about {percent(surface.clear_fraction)} "
        "well enough to show a usual weld; the rest, and the bore, may hold anything."
    ]
    if surface.datum or surface.seen_fraction - surface.least_fraction < _SAME:
        return lines
    lines.append(
        "This takes it that the piece lay the same way up in all photos. "
        + at_least_in_words(surface.least_fraction)
    )
    if surface.unsure:
        lines.append(
            f"Which way round {listed([names[i] for i in surface.unsure])} "
            f"show{'s' if len(surface.unsure) == 1 else ''} the piece could not be told."
        )
    return lines


def _why(
    views: Sequence[PieceView], counted: Sequence[int], reading: Reading, probability: float
) -> list[str]:
    """Why the piece reads as it does, where the sentences before do not say it."""
    own = [views[i].reading for i in counted]
    likely = percent(probability)
    if reading is Reading.NO_SEAM_SEEN:
        return ["No seam was seen. A weld ground flush and painted would look the same."]
    if reading is not Reading.UNCLEAR:
        return []
    called = [r.photo for r in own if r.verdict.reading is Reading.FABRICATION_SEAM]
    if called:
        return [
            f"{listed(called)} by {'itself' if len(called) == 1 else 'themselves'} would read as a "
            f"fabrication seam; the highest of {len(own)} photos is high by chance, so the piece "
            "is not called on that alone. Look there first."
        ]
    drawn = [r.photo for r in own if any(s.orientation.speaks_of_fabrication for s in r.seams)]
    if drawn:
        return [
            f"Lines round the part or at an outlet's root are drawn on {listed(drawn)}, but a "
            f"fabrication is put at only {likely}, which does not agree: look at them yourself."
        ]
    return [f"A fabrication is put at {likely}, too much to pass over and too little to call."]


def seam_in_words(seam: PieceSeam, names: Sequence[str], kind: Kind, *, datum: bool = True) -> str:
    """One seam with its place and the photos that show it."""
    what = {
        Orientation.LONGITUDINAL: f"a line along the {seam.part.value}, "
        f"{around_in_words(kind, seam.part, seam.place, datum=datum)}",
        Orientation.CIRCUMFERENTIAL: f"a line around the {seam.part.value} at "
        f"{percent(seam.place)} of its length",
        Orientation.BRANCH: "a line along the outlet's root",
    }[seam.orientation]
    count = len(seam.photos)
    seen_in = f"in {count} photos" if count > 1 else "in one photo"
    unsure = "" if seam.place_sure else ", at this place or half a turn from it"
    return (
        f"{what} ({seam.orientation.style.letter}), {seen_in} "
        f"({listed([names[i] for i in seam.photos])}), {percent(seam.confidence)} sure{unsure}"
    )


def listed(names: Sequence[str]) -> str:
    """ "a, b and c"."""
    return " and ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))
