"""The request to a yard for photographs that are missing or can't show a seam.

What is asked for follows from what is recorded: pieces without a photo, photos that could not be
opened or could not have shown a fine seam, readings that are unclear, and pieces seen from too few
sides. Where the photos were read together, the views are those that would show most of what is
left. The words are plain, because they go to people who have never seen this program.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from fittings.photographs import FRAME, LIGHT, VIEWS
from fittings.words import ADVISORY, Kind, Reading
from ui.records import PieceFile
from ui.reports.blocks import Block, Document, Facts, Heading, Picture, Points, Words
from ui.reports.facts import LotFacts, kind_of, ordered_as, when, why_unread
from ui.reports.together import ToldTogether, told_together, word_of
from vision.sources import holder_and_own

FEW_PHOTOS = 3
"""A piece with fewer usable photos than this is asked for again: one photo shows at most about half
of a piece, and two seldom the bore as well. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is asked for of one piece: why, which views, and the drawing of them where there is one
    (PNG)."""

    piece: PieceFile
    reasons: tuple[str, ...]
    views: tuple[str, ...]
    drawing: bytes | None = field(default=None, repr=False)


def wanted_of(piece: PieceFile) -> Wanted | None:
    """What is still wanted of a piece; None where its photos are enough to go on with.

    A piece that somebody has decided on is asked for no more.
    """
    if piece.decision is not None:
        return None
    reasons = tuple(_reasons(piece))
    if not reasons:
        return None
    told = _told(piece)
    asked = () if told is None else told.asked
    return Wanted(
        piece=piece,
        reasons=reasons,
        views=asked or VIEWS[kind_of(piece)],
        drawing=told.next_views_png if told is not None and asked else None,
    )


def _told(piece: PieceFile) -> ToldTogether | None:
    """The reading of its photos together, where it is of the photos that the piece has now: views
    that were missing before may have come since."""
    told = told_together(piece)
    return told if told is not None and told.is_of_all else None


def _reasons(piece: PieceFile) -> Iterator[str]:
    if not piece.photos:
        yield "no photo of it has arrived"
        return
    said = {each.photo: each for each in piece.readings}
    usable = 0
    for photo in piece.photos:
        reading = said.get(photo.uid)
        if reading is None:
            continue
        if reading.reading is None:
            yield f"the photo {photo.name} is of no use: {why_unread(reading)}"
        elif not reading.reading.quality.usable:
            problems = " ".join(reading.reading.quality.problems)
            yield f"the photo {photo.name} can't show a fine seam: {problems}"
        elif reading.reading.kind is Kind.NONE:
            yield f"on the photo {photo.name} no elbow, tee or reducer can be made out"
        else:
            usable += 1
    if not usable:
        yield "no photo shows it well enough"
    elif usable < FEW_PHOTOS:
        only = "only one photo shows" if usable == 1 else f"only {usable} photos show"
        yield f"{only} it well enough, and each shows at most about half of a piece"
    told = _told(piece)
    if told is not None and told.adds:
        seen = told.seen or "a part of the outside is not shown well"
        yield seen[:1].lower() + seen[1:]
    if word_of(piece)[0] is Reading.UNCLEAR:
        yield "what the photos show is unclear"


def view_request(facts: LotFacts, *, drawn: bool = False) -> Document:
    """The request for the whole lot, by tag: by suspicion it would say what its words don't. With
    `drawn` the views are drawn too, where they are known, for paper that can show them."""
    by_tag = sorted(facts.pieces, key=lambda file: file.piece.tag)
    asked = [wanted for piece in by_tag if (wanted := wanted_of(piece)) is not None]
    return Document(
        title="Request for photographs",
        about=f"{facts.lot.name}, records as of {when(facts.as_of)}",
        as_of=facts.as_of,
        advisory=ADVISORY,
        blocks=tuple(_blocks(facts, asked, drawn=drawn)),
    )


def _blocks(facts: LotFacts, asked: list[Wanted], *, drawn: bool) -> Iterator[Block]:
    yield Facts(
        rows=(
            ("To", facts.lot.yard),
            ("From", ""),
            ("Lot", facts.lot.name),
            ("Order", facts.lot.order_name),
        )
    )
    if not asked:
        none = "No further photographs are asked for."
        empty = "No piece is recorded in this lot yet, so none are asked for."
        yield Words(text=none if facts.pieces else empty, strong=True)
        return
    count = "One piece" if len(asked) == 1 else f"{len(asked)} pieces"
    yield Words(
        text=f"Please send further photographs of the pieces below. {count} of "
        f"{len(facts.pieces)} could not be seen well enough. A request for photographs says "
        "nothing for or against a piece."
    )
    yield Heading(text="How to take them")
    yield Points(texts=(FRAME, LIGHT, "Name each file by the piece's tag, such as P-07 left.jpg."))
    yield Words(
        text="Support a piece before it is turned, keep out from under it, and never climb into a "
        "bore: heavy pieces roll and fall. The yard's own safety rules come first."
    )
    for wanted in asked:
        piece = wanted.piece
        yield Heading(text=f"Piece {piece.piece.tag}", level=2)
        if line := ordered_as(piece.order_line):
            yield Words(text=f"Ordered as {line}.")
        if wanted.reasons:
            why = "; ".join(each.rstrip(".") for each in wanted.reasons)
            yield Words(text=_with_plain_names(f"Why: {why}.", piece))
        yield Words(text="Please photograph, where not among the photos sent already:")
        views = [_with_plain_names(f"{each[:1].upper()}{each[1:]}", piece) for each in wanted.views]
        if not drawn or wanted.drawing is None:
            yield Points(texts=tuple(views))
            continue
        yield Points(texts=tuple(f"{number}. {each}" for number, each in enumerate(views, start=1)))
        caption = f"The views of {piece.piece.tag} by their numbers, as the photos should show it."
        yield Picture(data=wanted.drawing, caption=caption)


def _with_plain_names(text: str, piece: PieceFile) -> str:
    """A photo of an archive by its own name and the archive's: `delivery.zip!P-07/left.jpg` is our
    way of writing, not the yard's."""
    for photo in sorted(piece.photos, key=lambda each: -len(each.name)):
        archive, own = holder_and_own(photo.name)
        if archive:
            text = text.replace(photo.name, f"{own} (in {archive})")
    return text
