"""The pages of one piece in a lot report: order, reading, photos, checks, decisions."""

from __future__ import annotations

from collections.abc import Iterator

from fittings.checks import settling_check
from fittings.listed import SizeNotListed
from fittings.order.lines import OrderError
from fittings.receiving.check_list import PLANS
from fittings.receiving.limits import limits
from fittings.receiving.measured import MeasurementError, compare, limit_named, millimetres
from fittings.receiving.settle import what_the_order_makes_of_a_weld
from fittings.words import Reading
from ui.records import Check, Measurement, PieceFile, PieceSummary
from ui.reports.blocks import Block, Facts, Heading, Pictures, Points, Words
from ui.reports.facts import kind_of, ordered_as, reading_in_words, when
from ui.reports.pictures import ReadPhoto, highlighted
from ui.reports.together import OF_OTHER_PHOTOS, told_together
from vision.reading import PhotoReading

CHECK_NAMES = {plan.key: plan.name for plan in PLANS}
CHECK_FIRST = "No physical check is recorded. One is always required."


def piece_blocks(piece: PieceFile, summary: PieceSummary, read_photo: ReadPhoto) -> Iterator[Block]:
    """What a lot report says of one piece."""
    yield Heading(text=f"Piece {piece.piece.tag}")
    yield Facts(
        rows=(
            ("Ordered as", ordered_as(piece.order_line) or "no order line is recorded for it"),
            ("Finish", piece.piece.finish or "not recorded"),
            ("Reading", reading_in_words(summary.word, summary.fabricated_probability)),
            ("Decision", _decision(piece)),
        )
    )
    if piece.order_line is not None:
        yield Words(text=what_the_order_makes_of_a_weld(piece.order_line.line.construction))
    yield Heading(text="Photos", level=2)
    if not piece.photos:
        yield Words(text="No photo of it is recorded.")
    by_photo = {each.photo: each for each in piece.readings}
    for at in range(0, len(piece.photos), 2):
        yield Pictures(
            pictures=tuple(
                highlighted(photo, by_photo.get(photo.uid), read_photo)
                for photo in piece.photos[at : at + 2]
            )
        )
    if reasons := reasons_of(piece):
        yield Heading(text="Why they were read so", level=2)
        yield Points(texts=reasons)
    yield from checks_blocks(piece, summary)
    yield from _papers(piece)
    if piece.decisions:
        yield Heading(text="Decisions, newest last", level=2)
        yield Points(
            texts=tuple(
                f"{each.decision.title}, by {each.by}, {when(each.at)}: {each.reason}"
                for each in piece.decisions
            )
        )


def reasons_of(piece: PieceFile, *, strongest_only: bool = False) -> tuple[str, ...]:
    """Why the piece was read as it was: of all its photos together where that is recorded, and
    otherwise of each photo, or of the most suspect one only."""
    told = told_together(piece)
    if told is not None:
        overtaken = (OF_OTHER_PHOTOS,) if told.photos and not told.is_of_all else ()
        return (*overtaken, *told.reasons, *told.doubts)
    names = {photo.uid: photo.name for photo in piece.photos}
    read = [
        (names[each.photo], each.reading) for each in piece.readings if each.reading is not None
    ]
    if strongest_only:
        read = sorted(read, key=_suspicion)[-1:]
    return tuple(
        f"{name}: {' '.join((*said.verdict.reasons, *said.quality.problems))}"
        for name, said in read
    )


def _suspicion(read: tuple[str, PhotoReading]) -> float:
    return read[1].verdict.fabricated_probability


def checks_blocks(piece: PieceFile, summary: PieceSummary) -> Iterator[Block]:
    """The physical checks and measurements, or what to check where there are none."""
    yield Heading(text="Physical checks and measurements", level=2)
    if piece.checks:
        yield Points(texts=tuple(check_in_words(each) for each in piece.checks))
    else:
        yield Words(text=CHECK_FIRST, strong=True)
        yield Words(text=settling_check(kind_of(piece), summary.word or Reading.UNCLEAR))
    if piece.measurements:
        yield Points(texts=tuple(measured_in_words(each, piece) for each in piece.measurements))


def check_in_words(check: Check) -> str:
    """One check as a sentence: what was done, what it showed, who and when."""
    name = CHECK_NAMES.get(check.key, check.key)
    note = f" {check.note}" if check.note else ""
    return (
        f"{name[:1].upper()}{name[1:]}: {check.outcome.title.lower()}.{note} "
        f"({check.by}, {when(check.at)})"
    )


def measured_in_words(measurement: Measurement, piece: PieceFile) -> str:
    """One measurement with its limit from ASME B16.9, where the order line lets one be found."""
    name, against = measurement.dimension.replace("_", " "), ""
    if piece.order_line is not None:
        try:
            allowed = limits(piece.order_line.line)
            limit = limit_named(measurement.dimension, allowed)
            (found,) = compare((limit,), [(limit.name, measurement.value_mm)])
            name, against = limit.label, f", {found.in_words} ({limit.source})"
        except (MeasurementError, SizeNotListed, OrderError):
            against = ", with no limit to hold it against"
    note = f" {measurement.note}" if measurement.note else ""
    return (
        f"{name[:1].upper()}{name[1:]}: {millimetres(measurement.value_mm)}{against}.{note} "
        f"({measurement.by}, {when(measurement.at)})"
    )


def _papers(piece: PieceFile) -> Iterator[Block]:
    newest = {each.key: each for each in piece.certificate}
    if not newest:
        return
    yield Heading(text="Certificate and records of its order line", level=2)
    yield Points(
        texts=tuple(
            f"{each.key.replace('_', ' ')}: {each.standing.value}"
            f"{f', {each.note}' if each.note else ''} ({each.by}, {when(each.at)})"
            for each in newest.values()
        )
    )


def _decision(piece: PieceFile) -> str:
    if piece.decision is None:
        return "nobody has decided yet"
    decided = piece.decision
    return f"{decided.decision.title}, by {decided.by}, {when(decided.at)}"
