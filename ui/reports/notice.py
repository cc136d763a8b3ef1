"""A notice of non-conformance for one piece, filled in from the records.

It states facts: what was ordered, what was delivered, what the photographs show (as advisory), and
what the physical checks showed, which is what settles it. What is not recorded is left blank. Until
a physical check is recorded that shows a fabricated piece, it calls itself a draft and says why.
"""

from __future__ import annotations

from collections.abc import Iterator

from fittings.checks import IN_SHORT
from fittings.receiving.settle import what_the_order_makes_of_a_weld
from fittings.words import ADVISORY
from ui.records import Check, Outcome, PieceFile, PieceSummary
from ui.reports.blocks import (
    Blank,
    Block,
    Document,
    Facts,
    Heading,
    NewPage,
    Pictures,
    Points,
    Words,
)
from ui.reports.facts import (
    LotFacts,
    ordered_as,
    reading_in_words,
    when,
)
from ui.reports.pictures import ReadPhoto, highlighted
from ui.reports.piece_pages import check_in_words, measured_in_words, reasons_of


def settling(piece: PieceFile) -> Check | None:
    """The newest check that could tell how the piece was made, None without one."""
    told = [each for each in piece.checks if each.outcome.settles]
    return told[-1] if told else None


def standing(piece: PieceFile) -> str:
    """Why the notice is a draft; "" where a physical check shows a fabricated piece."""
    newest = settling(piece)
    if newest is None:
        return (
            "Draft, not to be sent as a finding: no physical check that could tell is recorded. "
            "Photographs settle nothing."
        )
    if newest.outcome is Outcome.FORMED:
        return (
            "Draft, not to be sent as a finding: the newest physical check that could tell shows "
            "what a formed piece shows."
        )
    return ""


def notice(piece: PieceFile, summary: PieceSummary, as_of: str, read_photo: ReadPhoto) -> Document:
    """The notice for one piece."""
    draft = standing(piece)
    return Document(
        title="Draft of a notice of non-conformance" if draft else "Notice of non-conformance",
        about=f"{piece.lot.name}, piece {piece.piece.tag}, records as of {when(as_of)}",
        as_of=as_of,
        advisory=ADVISORY,
        blocks=tuple(_blocks(piece, summary, draft, read_photo)),
    )


def notice_of(facts: LotFacts, piece: str, read_photo: ReadPhoto) -> Document:
    """The notice for the piece of that uid. LookupError when the lot has no such piece."""
    for file, summary in zip(facts.pieces, facts.summaries, strict=True):
        if file.piece.uid == piece:
            return notice(file, summary, facts.as_of, read_photo)
    raise LookupError(f"the lot {facts.lot.name!r} has no piece {piece!r}")


def _blocks(
    piece: PieceFile, summary: PieceSummary, draft: str, read_photo: ReadPhoto
) -> Iterator[Block]:
    if draft:
        yield Words(text=draft, strong=True)
    yield Facts(
        rows=(
            ("Notice number", ""),
            ("Date", ""),
            ("To", piece.lot.yard),
            ("From", ""),
            ("Order", piece.lot.order_name),
            ("Lot", piece.lot.name),
            ("Piece, tag", piece.piece.tag),
            ("Ordered as", ordered_as(piece.order_line)),
            ("Marking found on it", ""),
            ("Heat number", ""),
            ("Certificate number", ""),
        )
    )
    yield Heading(text="What was ordered")
    line = piece.order_line
    yield Words(
        text=what_the_order_makes_of_a_weld(None if line is None else line.line.construction)
    )
    yield Heading(text="What the physical checks showed")
    settles = settling(piece)
    if settles is not None and not draft:
        yield Words(text=f"Settled by this check: {check_in_words(settles)}", strong=True)
    if piece.checks:
        yield Points(texts=tuple(check_in_words(each) for each in piece.checks))
    else:
        yield Facts(rows=(("Check, place, result", ""), ("By, date", "")))
    if piece.measurements:
        yield Points(texts=tuple(measured_in_words(each, piece) for each in piece.measurements))
    yield Heading(text="What the photographs show (advisory)")
    yield Words(
        text="A reading of photographs by a computer program. It is given for information: it is "
        "not the ground of this notice, and it settles nothing. Reading of the piece: "
        f"{reading_in_words(summary.word, summary.fabricated_probability)}."
    )
    yield Points(texts=reasons_of(piece, strongest_only=True))
    yield from _ending(piece)
    if piece.photos:
        yield NewPage()
        yield Heading(text="The photographs, with what was read (advisory)")
    by_photo = {each.photo: each for each in piece.readings}
    for at in range(0, len(piece.photos), 2):
        yield Pictures(
            pictures=tuple(
                highlighted(photo, by_photo.get(photo.uid), read_photo)
                for photo in piece.photos[at : at + 2]
            )
        )


def _ending(piece: PieceFile) -> Iterator[Block]:
    yield Heading(text="Status of the piece")
    decided = piece.decision
    yield Facts(
        rows=(
            (
                "Decision",
                ""
                if decided is None
                else f"{decided.decision.title}, by {decided.by}, {when(decided.at)}: "
                f"{decided.reason}",
            ),
            ("Where it is kept, how marked", ""),
        )
    )
    yield Heading(text="Asked of the supplier")
    yield Blank(label="Action asked for", lines=3)
    yield Blank(label="Answer wanted by")
    yield Words(text=f"Further examination of the piece: {IN_SHORT}", small=True)
    yield Heading(text="Signed")
    for label in ("Inspector", "Supplier, received"):
        yield Blank(label=f"{label}: name, date, signature", lines=2)
