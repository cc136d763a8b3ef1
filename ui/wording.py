"""Readings in plain words and numbers, the same on pages, in tables and in exports."""

from __future__ import annotations

from collections import Counter

from fittings.words import END_JOINT_MEANING, END_JOINT_STYLE, Kind, Orientation, percent
from vision.reading import PhotoReading

_MARKDOWN = frozenset("\\`*_{}[]()<>#+-.!|~$:^=&")


def seams_in_words(reading: PhotoReading) -> str:
    """ "1 branch, 2 longitudinal", most telling first; "none traced" without any."""
    counts = Counter(seam.orientation for seam in reading.seams)
    parts = [f"{counts[o]} {o.value}" for o in reversed(Orientation) if counts[o]]
    return ", ".join(parts) or "none traced"


def lines_in_words(reading: PhotoReading) -> str:
    """The seams, and how many ends are joined to pipe: "none traced; 1 end joint (no seam)"."""
    ends = len({(joint.part, joint.end) for joint in reading.end_joints})
    joints = f"; {ends} end joint{'s' * (ends > 1)} (no seam)" if ends else ""
    return seams_in_words(reading) + joints


def kind_in_words(reading: PhotoReading) -> str:
    """ "tee (98 %)", or that no fitting was made out."""
    if reading.kind is Kind.NONE:
        return "no fitting made out"
    return f"{reading.kind.value} ({percent(reading.kind_confidence)})"


def key_in_words(reading: PhotoReading, *, numbers: bool = True) -> str:
    """The legend of a highlighted picture, one clause for each orientation that it shows, and one
    for the `numbers` on it."""
    present = {seam.orientation for seam in reading.seams}
    clauses = [
        f"{o.style.letter} = {o.value}, {o.style.pattern} line" for o in Orientation if o in present
    ]
    if not clauses:
        clauses.append("No seam was traced on this photo")
    if reading.end_joints:
        style = END_JOINT_STYLE
        clauses.append(f"{style.letter} = end joint, {style.pattern} line, {END_JOINT_MEANING}")
    if numbers and any(each.place is not None for each in reading.verdict.evidence):
        clauses.append("numbers = the reasons, in their order")
    return "; ".join(clauses) + "."


def escaped(text: str) -> str:
    """`text` so that a page shows it letter by letter; file names may hold any character."""
    return "".join(f"\\{c}" if c in _MARKDOWN else c for c in text)


def escaped_but_bold(text: str) -> str:
    """As `escaped`, but for a label `**at the beginning:**`, which stays bold."""
    label, mark, rest = text.rpartition("**")
    return f"{label}{mark}{escaped(rest)}" if mark else escaped(text)
