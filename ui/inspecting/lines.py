"""Lots and pieces as lines of a list, the most suspect first."""

from __future__ import annotations

from dataclasses import dataclass

from fittings.words import Kind, Reading, percent
from ui.records import Decision, Lot, Photo, PieceSummary, RecordedReading, Records

NOBODY_YET = "nobody has decided yet"


@dataclass(frozen=True, slots=True, kw_only=True)
class LotLine:
    """One lot of the list: how many pieces it has and where they stand."""

    lot: Lot
    pieces: int
    undecided: int
    suspect: int
    loose_photos: int

    @property
    def in_words(self) -> str:
        yard = f"{self.lot.yard}: " if self.lot.yard else ""
        loose = "" if not self.loose_photos else f", {counted(self.loose_photos, 'photo')} loose"
        return (
            f"{yard}{counted(self.pieces, 'piece')}, {self.suspect} read as fabricated, "
            f"{self.undecided} without a decision{loose}"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceLine:
    """One piece of the list. `worst` is the photo that speaks most against it, None without one."""

    summary: PieceSummary
    worst: Photo | None
    reading: RecordedReading | None

    @property
    def reading_title(self) -> str:
        word = self.summary.word
        if word is not None:
            return word.title
        return "No photo yet" if not self.summary.photos else "No photo could be read"

    @property
    def probability_text(self) -> str:
        """ "fabricated: 83 %", or "" without a reading."""
        probability = self.summary.fabricated_probability
        return "" if probability is None else f"fabricated: {percent(probability)}"

    @property
    def decision_text(self) -> str:
        decided = self.summary.decision
        return NOBODY_YET if decided is None else f"{decided.decision.title}, by {decided.by}"

    @property
    def in_words(self) -> str:
        """Photos, checks and decision in one line."""
        kind = self.summary.kind
        named = "" if kind is None else "no fitting made out; "
        named = f"{kind.value}; " if kind not in (None, Kind.NONE) else named
        return (
            f"{named}{counted(self.summary.photos, 'photo')}, "
            f"{counted(self.summary.checks, 'physical check')}; {self.decision_text}"
        )

    @property
    def wants_another_look(self) -> bool:
        """Whether somebody has to look again: read as fabricated, unclear, or not read at all."""
        return self.summary.word in (None, Reading.UNCLEAR, Reading.FABRICATION_SEAM)

    @property
    def why(self) -> str:
        """Why another look is wanted, in a few words; "" where none is."""
        return {
            None: "no reading: photographs are missing or could not be read",
            Reading.UNCLEAR: "unclear: more or better photographs",
            Reading.FABRICATION_SEAM: "a seam of a fabrication was seen",
        }.get(self.summary.word, "")


def lot_lines(records: Records) -> tuple[LotLine, ...]:
    """Every lot, the newest first."""
    found = [_lot_line(records, lot) for lot in records.lots()]
    # By number, not by time: a clock may go back.
    return tuple(sorted(found, key=lambda line: line.lot.number, reverse=True))


def _lot_line(records: Records, lot: Lot) -> LotLine:
    pieces = records.piece_list(lot.uid)
    return LotLine(
        lot=lot,
        pieces=len(pieces),
        undecided=sum(each.decision is None for each in pieces),
        suspect=sum(each.word is Reading.FABRICATION_SEAM for each in pieces),
        loose_photos=sum(photo.piece is None for photo in records.photos(lot.uid)),
    )


def piece_lines(records: Records, lot: str) -> tuple[PieceLine, ...]:
    """The pieces of a lot, the most suspect first, each with its most suspect photo."""
    readings = {each.photo: each for each in records.readings(lot)}
    by_piece: dict[str, list[Photo]] = {}
    for photo in records.photos(lot):
        if photo.piece is not None:
            by_piece.setdefault(photo.piece, []).append(photo)
    lines = []
    for summary in records.piece_list(lot):
        photos = by_piece.get(summary.piece.uid, [])
        worst = max(photos, key=lambda photo: _suspicion(readings.get(photo.uid)), default=None)
        reading = None if worst is None else readings.get(worst.uid)
        lines.append(PieceLine(summary=summary, worst=worst, reading=reading))
    return tuple(lines)


def _suspicion(reading: RecordedReading | None) -> float:
    if reading is None or reading.reading is None:
        return -1.0
    return reading.reading.verdict.fabricated_probability


def loose_photos(records: Records, lot: str) -> tuple[Photo, ...]:
    """The photos of a lot that belong to no piece yet."""
    return tuple(photo for photo in records.photos(lot) if photo.piece is None)


def neighbours(lines: tuple[PieceLine, ...], piece: str) -> tuple[str | None, str | None]:
    """The pieces before and after `piece` in the list, None at its ends."""
    uids = [line.summary.piece.uid for line in lines]
    if piece not in uids:
        return None, None
    at = uids.index(piece)
    before = uids[at - 1] if at else None
    return before, uids[at + 1] if at + 1 < len(uids) else None


def standing_counts(lines: tuple[PieceLine, ...]) -> dict[str, int]:
    """How many pieces stand where: by reading and by decision, for the head of a lot."""
    decided = [line.summary.decision for line in lines]
    return {
        "Pieces": len(lines),
        "Want another look": sum(line.wants_another_look for line in lines),
        "On hold": sum(d is not None and d.decision is Decision.HOLD for d in decided),
        "Undecided": sum(d is None for d in decided),
    }


def counted(count: int, noun: str) -> str:
    """ "1 photo", "3 photos"."""
    return f"{count} {noun}{'' if count == 1 else 's'}"
