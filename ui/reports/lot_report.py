"""The report of a lot: what came, what the photos show, what was checked, what was decided."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from fittings.checks import CAUTION
from fittings.words import ADVISORY, Orientation, Reading, percent
from ui.records import Decision, PieceFile, PieceSummary
from ui.reports.blocks import (
    Block,
    Document,
    Facts,
    Heading,
    NewPage,
    Picture,
    Pictures,
    Points,
    Table,
    Words,
)
from ui.reports.facts import NOT_READ, LotFacts, ordered_in_short, when
from ui.reports.pictures import ReadPhoto, highlighted
from ui.reports.piece_pages import piece_blocks
from ui.reports.together import told_together
from ui.reused import WHAT_IT_SAYS, between_pieces

UNDECIDED = "not decided"
NO_CHECK = "none"


def lot_report(
    facts: LotFacts,
    read_photo: ReadPhoto,
    *,
    progress: Callable[[int, str], None] | None = None,
) -> Document:
    """The report. Its blocks are made as they are asked for, one piece's pictures at a time."""
    return Document(
        title="Lot report",
        about=_about(facts),
        as_of=facts.as_of,
        advisory=ADVISORY,
        blocks=_blocks(facts, read_photo, progress),
    )


def _about(facts: LotFacts) -> str:
    yard = f", from {facts.lot.yard}" if facts.lot.yard else ""
    return f"{facts.lot.name}{yard}, records as of {when(facts.as_of)}"


def _blocks(
    facts: LotFacts,
    read_photo: ReadPhoto,
    progress: Callable[[int, str], None] | None,
) -> Iterator[Block]:
    yield from _summary(facts)
    yield from _handed_in_twice(facts, read_photo)
    for done, piece in enumerate(facts.pieces):
        if progress is not None:
            progress(done, piece.piece.tag)
        yield NewPage()
        yield from piece_blocks(piece, facts.summaries[done], read_photo)
        told = told_together(piece)
        if told is not None and told.development_png is not None:
            # No heading: a page may end between it and so large a picture.
            caption = f"What was seen of {piece.piece.tag}. {told.drawing_in_words}"
            yield Picture(data=told.development_png, caption=caption)
    if facts.loose:
        yield from _loose(facts, read_photo)
    yield from _how_to_read()


def _summary(facts: LotFacts) -> Iterator[Block]:
    lot = facts.lot
    decided, read = facts.decided(), facts.read_as()
    checked = sum(each.checks > 0 for each in facts.summaries)
    photos = sum(len(each.photos) for each in facts.pieces) + len(facts.loose)
    unread = photos - sum(each.reading is not None for each in facts.readings)
    yield Heading(text="Summary")
    yield Facts(
        rows=(
            ("Lot", lot.name),
            ("Yard", lot.yard or "not recorded"),
            ("Order", lot.order_name or "not recorded"),
            *((("Note", lot.note),) if lot.note else ()),
            ("Pieces", str(len(facts.pieces))),
            ("Photos", f"{photos}, of which {unread} without a reading" if unread else str(photos)),
            (
                "Read as",
                "; ".join(f"{each.title}: {read[each]}" for each in Reading if read[each])
                or NOT_READ,
            ),
            ("Physically checked", f"{checked} of {len(facts.pieces)} pieces"),
            (
                "Decided by people",
                "; ".join(
                    [f"{each.title}: {decided[each]}" for each in Decision if decided[each]]
                    + ([f"{UNDECIDED}: {decided[None]}"] if decided[None] else [])
                )
                or UNDECIDED,
            ),
            *(
                row
                for version, sha256 in facts.models
                for row in (("Read by model", f"version {version}"), ("its sha256", sha256))
            ),
            ("Last entry of the lot", f"number {facts.position}"),
            ("its hash", facts.head),
        )
    )
    yield Heading(text="Pieces, the most suspect first")
    if not facts.pieces:
        yield Words(text="No piece is recorded in this lot yet.")
        return
    yield Table(
        columns=("Piece", "Ordered as", "Photos", "Photos read as", "Checks", "Decision"),
        widths=(0.13, 0.28, 0.09, 0.22, 0.09, 0.19),
        rows=tuple(
            _row(piece, summary)
            for piece, summary in zip(facts.pieces, facts.summaries, strict=True)
        ),
    )


def _handed_in_twice(facts: LotFacts, read_photo: ReadPhoto) -> Iterator[Block]:
    """The pictures that stand for two of the lot's pieces; nothing where there are none."""
    if found := between_pieces(facts.pieces, read_photo):
        yield Heading(text="One picture for two pieces")
        yield Words(text=WHAT_IT_SAYS)
        yield Points(texts=tuple(pair.in_words for pair in found))


def _row(piece: PieceFile, summary: PieceSummary) -> tuple[str, ...]:
    word, probability = summary.word, summary.fabricated_probability
    said = NOT_READ if word is None else word.title
    decision = summary.decision
    return (
        piece.piece.tag,
        ordered_in_short(piece.order_line) or "no order line",
        str(summary.photos),
        said if probability is None else f"{said}, {percent(probability)}",
        str(summary.checks) if summary.checks else NO_CHECK,
        UNDECIDED if decision is None else f"{decision.decision.title}, {decision.by}",
    )


def _loose(facts: LotFacts, read_photo: ReadPhoto) -> Iterator[Block]:
    yield NewPage()
    yield Heading(text="Photos that belong to no piece yet")
    said = facts.reading_by_photo()
    for at in range(0, len(facts.loose), 2):
        yield Pictures(
            pictures=tuple(
                highlighted(photo, said.get(photo.uid), read_photo)
                for photo in facts.loose[at : at + 2]
            )
        )


def _how_to_read() -> Iterator[Block]:
    yield Heading(text="How to read this report")
    yield Points(
        texts=(
            "The readings say what photographs show. None of them accepts a piece, and no seam "
            "seen never means seamless: a weld ground flush and painted leaves nothing to see.",
            "The share after a reading is how likely the program holds a fabrication to be, going "
            "by the pictures that it was measured on.",
            *(
                f"{each.style.letter}, {each.style.pattern} line: {each.value}, {each.meaning}."
                for each in Orientation
            ),
            "Checks and decisions are those that the named people recorded; the program decides "
            "nothing. Times are what their computers said.",
            "A hash (SHA-256) tells one file from every other: the original of each photo lies in "
            "the records under it, unchanged.",
        )
    )
    yield Words(text=CAUTION, small=True)
