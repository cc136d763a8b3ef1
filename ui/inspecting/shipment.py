"""What the page of a shipment takes in and gives out, without Streamlit."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fittings.words import percent
from ui.importing.incoming import Upload, from_uploads
from ui.importing.matching import Matcher, Rules
from ui.importing.patterns import PatternError, parse_pattern
from ui.importing.receiving import Received, Receiver
from ui.records import Records
from ui.reports import as_pdf, as_text, gather, lot_csv, lot_report, notice_of, view_request
from ui.reused import WHAT_IT_SAYS, between_pieces
from ui.screening import PhotoReader, Progress
from ui.trade.answers import TradeTrouble
from vision.reading import PhotoReading

UPLOAD_HELP = (
    "JPEG, PNG, WebP, TIFF or HEIC; a ZIP archive of photos, or a PDF or Word report that holds "
    "some. Folders and file names that hold a piece's tag, such as P-07/left.jpg or P-07 left.jpg, "
    "match a photo to its piece. A piece that the lot does not have yet is named by its folder, or "
    "by the pattern for file names."
)
LOOSE_HINT = (
    "If their names hold the tags, write the pattern above, such as {piece} *.jpg, and press the "
    "button again; or place them by hand on the lot's page."
)
PATTERN_HELP = (
    "A file name with {piece} where the tag is and * for anything else, such as IMG_*_{piece}.jpg."
)
STOPPED_HINT = (
    "Each photo is kept as soon as it is taken in. If this page is closed half-way, drop the same "
    "files again: it goes on where it stopped, and nothing is doubled."
)
REUSED_HELP = (
    "A copy is found when it was cropped, resized, mirrored, compressed again, brightened or "
    f"slightly turned. {WHAT_IT_SAYS}"
)
STOPPED = (
    "Taking photos in stopped before it came to the end. Drop the same files again and press the "
    "button: it goes on where it stopped."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """What an import came to."""

    taken: int = 0
    known: int = 0
    unread: int = 0
    loose: int = 0

    def with_one(self, received: Received) -> Tally:
        """The tally with one more photo, or one more file that gave none."""
        is_photo = received.photo is not None
        return Tally(
            taken=self.taken + (is_photo and not received.was_known),
            known=self.known + (is_photo and received.was_known),
            unread=self.unread + received.is_unread,
            loose=self.loose + (is_photo and received.tag is None),
        )

    @property
    def in_words(self) -> str:
        return (
            f"Taken in: {self.taken}; there already: {self.known}; could not be read: "
            f"{self.unread}; of no piece yet: {self.loose}"
        )


def receiver(
    records: Records,
    lot: str,
    reader: PhotoReader,
    *,
    by: str,
    pattern: str = "",
    new_pieces: bool = True,
) -> Receiver:
    """Takes photos into a lot; TradeTrouble for a pattern that can't be used."""
    try:
        parsed = parse_pattern(pattern) if pattern.strip() else None
    except PatternError as error:
        raise TradeTrouble(str(error)) from None
    tags = [piece.tag for piece in records.pieces(lot)]
    matcher = Matcher(tags, Rules(pattern=parsed, new_pieces=new_pieces))
    return Receiver(records, lot, reader, matcher, by=by)


def received(
    taking: Receiver, files: Iterable[Upload], progress: Progress | None = None
) -> Iterable[Received]:
    """Takes the photos in the files sent in, one at a time."""
    return taking.receive(from_uploads(files), progress)


def line_of(each: Received) -> str:
    """One photo in a line: its piece, and what it reads as or why it could not be read."""
    belongs = "no piece yet" if each.tag is None else each.tag
    if isinstance(each.answer, PhotoReading):
        verdict = each.answer.verdict
        said = f"{verdict.reading.title}, fabricated {percent(verdict.fabricated_probability)}"
    elif each.answer is None:
        said = "was read before"
    else:
        said = each.answer.message.removeprefix(f"{each.name}: ")
    return f"{each.name}: {belongs}; {said}"


def handed_in_twice(records: Records, lot: str, progress: Progress) -> list[str]:
    """The pictures that stand for two of the lot's pieces, each pair in words."""
    files = [records.piece_file(each.piece.uid) for each in records.piece_list(lot)]
    return [pair.in_words for pair in between_pieces(files, records.store.read, progress)]


def request_text(records: Records, lot: str) -> str:
    """The request to the yard for photographs that are missing, as plain text."""
    return as_text(view_request(gather(records, lot)))


def report_pdf(records: Records, lot: str) -> bytes:
    """The report of the lot."""
    return as_pdf(lot_report(gather(records, lot), records.store.read))


def readings_csv(records: Records, lot: str) -> str:
    """The readings of the lot as a table."""
    return lot_csv(gather(records, lot))


def notice_pdf(records: Records, lot: str, piece: str) -> bytes:
    """The notice of non-conformance of a piece; a draft until a physical check settles it."""
    return as_pdf(notice_of(gather(records, lot), piece, records.store.read))
