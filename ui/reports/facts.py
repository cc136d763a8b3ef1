"""What a report rests on, gathered from the records once; everything after this is pure.

The facts hold no pictures: those are read from the store one by one, as a report needs them.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from fittings.words import Kind, Reading, percent
from ui.records import (
    Decision,
    Lot,
    Photo,
    PieceFile,
    PieceSummary,
    RecordedLine,
    RecordedReading,
    Records,
)

NOT_READ = "not read"


@dataclass(frozen=True, slots=True, kw_only=True)
class LotFacts:
    """A lot with its pieces, the most suspect first, and the photos that belong to no piece.

    `position` and `head` are the number of the lot's last entry and its hash, which
    `seamtriage export-lot` prints too; `as_of` is its time, UTC.
    """

    lot: Lot
    lines: tuple[RecordedLine, ...]
    pieces: tuple[PieceFile, ...]
    summaries: tuple[PieceSummary, ...]
    loose: tuple[Photo, ...]
    readings: tuple[RecordedReading, ...]
    position: int
    head: str
    as_of: str

    def __post_init__(self) -> None:
        if [each.piece.uid for each in self.pieces] != [s.piece.uid for s in self.summaries]:
            raise ValueError("every piece needs its summary, in the same order")

    def reading_by_photo(self) -> dict[str, RecordedReading]:
        """The newest reading of each photo that was tried, by the photo's uid."""
        return {each.photo: each for each in self.readings}

    @property
    def models(self) -> tuple[tuple[str, str], ...]:
        """Version and sha256 of each model that read a photo of the lot."""
        return tuple(sorted({(each.model_version, each.model_sha256) for each in self.readings}))

    def decided(self) -> Counter[Decision | None]:
        """How many pieces stand on each decision; None for those that nobody has decided."""
        return Counter(
            None if each.decision is None else each.decision.decision for each in self.summaries
        )

    def read_as(self) -> Counter[Reading | None]:
        """How many pieces have each reading; None for those without one."""
        return Counter(each.word for each in self.summaries)


def gather(records: Records, lot: str) -> LotFacts:
    """The facts of a lot. NotRecorded without one."""
    summaries = records.piece_list(lot)
    entries = records.entries(lot)
    return LotFacts(
        lot=records.lot(lot),
        lines=records.order_lines(lot),
        pieces=tuple(records.piece_file(each.piece.uid) for each in summaries),
        summaries=summaries,
        loose=tuple(photo for photo in records.photos(lot) if photo.piece is None),
        readings=records.readings(lot),
        position=entries[-1].position,
        head=entries[-1].hash,
        as_of=entries[-1].at,
    )


def kind_of(piece: PieceFile) -> Kind:
    """What was ordered, or else what most photos show; `Kind.NONE` where neither says."""
    if piece.order_line is not None:
        return piece.order_line.line.form.kind
    seen = Counter(
        each.reading.kind
        for each in piece.readings
        if each.reading is not None and each.reading.kind is not Kind.NONE
    )
    return max(seen, key=lambda kind: (seen[kind], kind.value), default=Kind.NONE)


def ordered_in_short(line: RecordedLine | None) -> str:
    """Form, size, material and construction of the order line; "" without one."""
    if line is None:
        return ""
    asked = line.line
    construction = asked.construction.value if asked.construction else ""
    parts = (f"{asked.form.value}, NPS {asked.sizes}", asked.material, construction)
    return ", ".join(filter(None, parts))


def ordered_as(line: RecordedLine | None) -> str:
    """The order line in words; "" without one."""
    if line is None:
        return ""
    asked = line.line
    parts = (
        f"{asked.form.value}, NPS {asked.sizes}",
        f"schedule {asked.schedule}" if asked.schedule else "",
        f"wall {asked.wall_mm:g} mm" if asked.wall_mm and not asked.schedule else "",
        asked.material,
        asked.construction.value if asked.construction else "construction not said",
        asked.dimension_standard or "",
        f"certificate {asked.certificate}" if asked.certificate else "",
        f"row {asked.row} of {line.source}" if asked.row and line.source else "",
    )
    return ", ".join(filter(None, parts))


def reading_in_words(word: Reading | None, probability: float | None) -> str:
    """ "Fabrication seam seen; a fabrication put at 97 %", or that there is no reading."""
    if word is None:
        return NOT_READ
    if probability is None:
        return word.title
    return f"{word.title}; a fabrication put at {percent(probability)}"


def photo_in_words(reading: RecordedReading | None) -> str:
    """What one photo was read as, or why it was not."""
    if reading is None:
        return NOT_READ
    if reading.reading is None:
        return f"{NOT_READ}, {why_unread(reading)}"
    verdict = reading.reading.verdict
    return reading_in_words(verdict.reading, verdict.fabricated_probability)


def why_unread(reading: RecordedReading) -> str:
    """What stood in the way of a photo that could not be read, without the photo's name."""
    error = reading.facts.get("error", {})
    message = str(error.get("message", "it can't be opened"))
    return message.removeprefix(f"{reading.facts.get('photo', '')}: ")


def when(at: str) -> str:
    """A UTC time of the records to the minute, "2026-03-05 07:08 UTC"."""
    return f"{at[:10]} {at[11:16]} UTC" if len(at) >= 16 else at
