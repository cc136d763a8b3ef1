"""The photos of a recorded piece read together, and what came of it recorded.

A piece is read together when its newest such reading is of other photos than it has now, or by
another model. Each piece is recorded as soon as it is read, so an import that is stopped goes on
with the pieces that are left.
"""

from __future__ import annotations

import base64
import hashlib
import io
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Self

from PIL import Image
from PIL.PngImagePlugin import PngInfo

from fittings.words import ADVISORY, percent
from ui.records import Damaged, NotRecorded, PieceFile, RecordedPieceReading, Records
from ui.reports import told_together
from ui.screening import Progress
from vision.development import development_bytes
from vision.piece import read_piece
from vision.piece_json import piece_json
from vision.piece_photo import PieceView, view_of
from vision.read import Outcome, Reader
from vision.reading import PhotoError, PhotoReading
from vision.view_drawing import views_bytes
from vision.views import next_views

_COLOURS = 24
"""Both drawings are of a few flat tones: a palette makes them a third as large to keep."""


MOST_KEPT = 400
"""Photos, of a sixth to half a megabyte each."""


class ViewingReader:
    """Reads as `reader` does, and keeps what a piece needs of each photo that it has read, so that
    reading the piece together reads no photo twice.

    Of the newest MOST_KEPT photos, that is: thousands would fill the memory, and one that has given
    way is read again.
    """

    def __init__(self, reader: Reader) -> None:
        self.reader = reader
        self._kept: dict[tuple[str, str], PieceView] = {}  # the oldest first

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self._kept.clear()

    @property
    def version(self) -> str:
        return self.reader.version

    @property
    def sha256(self) -> str:
        return self.reader.sha256

    def read_bytes(self, data: bytes, name: str) -> Outcome:
        """The reading of `data`, as `Reader.read_bytes` gives it."""
        view = self.view(data, name)
        if isinstance(view, PhotoError):
            return Outcome(reading=None, error=view)
        return Outcome(reading=view.reading, error=None)

    def view(self, data: bytes, name: str) -> PieceView | PhotoError:
        """The photo as it is put together with others; read only where it was not read before."""
        key = (hashlib.sha256(data).hexdigest(), name)
        if key in self._kept:
            return self._kept[key]
        view = view_of(data, name, self.reader)
        if isinstance(view, PieceView):
            self._kept[key] = view
            if len(self._kept) > MOST_KEPT:
                del self._kept[next(iter(self._kept))]
        return view


@dataclass(frozen=True, slots=True, kw_only=True)
class Together:
    """The photos of a piece read together. `reading` is what `seamtriage piece --json` prints,
    `photos` the sorted hashes of the photos that it is of, `answers` what each of them by itself
    reads as, by its uid; the drawings are PNG files, None where
    no photo could be placed on the surface."""

    piece: str
    photos: tuple[str, ...]
    answers: dict[str, PhotoReading | PhotoError] = field(repr=False)
    reading: dict[str, Any] = field(repr=False)
    development_png: bytes | None = field(repr=False)
    next_views_png: bytes | None = field(repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceTold:
    """What became of one piece; `recorded` is None where none of its photos could be read."""

    tag: str
    photos: int
    recorded: RecordedPieceReading | None


def read_together(
    records: Records, file: PieceFile, reader: ViewingReader, progress: Progress | None = None
) -> Together | None:
    """The photos of a piece, opened from the store and read together; None where none of them can
    be read. `progress(done, name)` is called before each photo."""
    views: list[PieceView] = []
    unread: list[PhotoError] = []
    opened: list[str] = []
    answers: dict[str, PhotoReading | PhotoError] = {}
    for done, photo in enumerate(file.photos):
        if progress is not None:
            progress(done, photo.name)
        try:
            data = records.store.read(photo.sha256)
        except (Damaged, NotRecorded) as error:
            unread.append(PhotoError(photo=photo.name, kind="not_kept", message=str(error)))
            continue
        opened.append(photo.sha256)
        view = reader.view(data, photo.name)
        answers[photo.uid] = view.reading if isinstance(view, PieceView) else view
        if isinstance(view, PieceView):
            views.append(view)
        else:
            unread.append(view)
    if not views:
        return None
    piece = read_piece(views, reader.reader.thresholds, tag=file.piece.tag)
    asked = next_views(piece)
    surface = piece.surface
    return Together(
        piece=file.piece.uid,
        photos=tuple(sorted(opened)),
        answers=answers,
        reading=piece_json(piece, asked, unread),
        development_png=None if surface is None else _small(development_bytes(piece)),
        next_views_png=None
        if surface is None or not asked
        else _small(views_bytes(asked, surface.form, surface.clear)),
    )


def record_together(
    records: Records, file: PieceFile, reader: ViewingReader, progress: Progress | None = None
) -> RecordedPieceReading | None:
    """Reads the photos of a piece together and records it, with its drawings.

    A photo that this model had not read by itself has that reading recorded too. Where the newest
    such reading is of the same photos by the same model, that one is given and nothing is added.
    None where no photo can be read.
    """
    told = told_together(file)
    if told is not None and not wants_reading(file, reader.sha256):
        return told.recorded
    found = read_together(records, file, reader, progress)
    if found is None:
        return None
    if told is not None and told.photos == found.photos and _by(told.recorded, reader):
        return told.recorded  # a photo that is lost leaves nothing new to say
    model: dict[str, str] = {"model_version": reader.version, "model_sha256": reader.sha256}
    read = {each.photo for each in file.readings if each.model_sha256 == reader.sha256}
    for photo, answer in found.answers.items():
        if photo not in read:
            records.add_reading(photo, answer, **model)
    drawings = {
        name: base64.b64encode(data).decode("ascii")
        for name, data in (
            ("development_png", found.development_png),
            ("next_views_png", found.next_views_png),
        )
        if data is not None
    }
    return records.add_piece_reading(
        found.piece,
        {**found.reading, "read_from": list(found.photos), "drawings": drawings},
        **model,
    )


def wants_reading(file: PieceFile, model_sha256: str) -> bool:
    """Whether the piece has photos that this model has not read together as they are now."""
    told = told_together(file)
    if told is None or told.recorded.model_sha256 != model_sha256:
        return bool(file.photos)
    return bool(file.photos) and not told.is_of_all


def wanting(records: Records, lot: str, model_sha256: str) -> tuple[str, ...]:
    """The uids of the pieces of a lot whose photos are still to be read together."""
    files = (records.piece_file(piece.uid) for piece in records.pieces(lot))
    return tuple(file.piece.uid for file in files if wants_reading(file, model_sha256))


def record_pieces(
    records: Records, pieces: tuple[str, ...], reader: ViewingReader
) -> Iterator[PieceTold]:
    """Reads and records those pieces one by one."""
    for uid in pieces:
        file = records.piece_file(uid)
        recorded = record_together(records, file, reader)
        yield PieceTold(tag=file.piece.tag, photos=len(file.photos), recorded=recorded)


def in_words(told: PieceTold) -> str:
    """One piece in a line."""
    head = f"{told.tag}, {told.photos} photo{'' if told.photos == 1 else 's'} together: "
    if told.recorded is None:
        return head + "none of them could be read"
    share = percent(told.recorded.fabricated_probability)
    return f"{head}{told.recorded.word.title}, a fabrication put at {share}"


def _by(recorded: RecordedPieceReading, reader: ViewingReader) -> bool:
    return recorded.model_sha256 == reader.sha256


def _small(png: bytes) -> bytes:
    """The same picture with a palette, and with the advisory in it."""
    words = PngInfo()
    words.add_text("Description", ADVISORY)
    out = io.BytesIO()
    with Image.open(io.BytesIO(png)) as picture:
        few = picture.convert("RGB").quantize(_COLOURS, dither=Image.Dither.NONE)
        few.save(out, "PNG", optimize=True, pnginfo=words)
    return out.getvalue()
