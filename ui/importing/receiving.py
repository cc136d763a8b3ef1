"""Taking photos in: each is stored, matched to its piece, read, and its reading recorded.

Each of these steps is kept on its own, so an import that is stopped at any moment, by whatever
means, goes on where it stopped when it is started again with the same sources: what is stored is
not stored twice, what is read is not read twice. Only a few photos are in memory at a time.
"""

from __future__ import annotations

import hashlib
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from ui.importing.incoming import Incoming
from ui.importing.matching import Match, Matcher, Way
from ui.records import Damaged, NotRecorded, NotTaken, Photo, Records
from ui.screening import PhotoReader, Progress, screen
from vision.reading import PhotoError, PhotoReading
from vision.sources import Found


@dataclass(frozen=True, slots=True, kw_only=True)
class Received:
    """What became of one photo.

    `photo` and `match` are None for a source from which nothing could be taken, and `match` is None
    for a photo of an earlier import that was only read now. `tag` is that of the piece that the
    photo belongs to in the records, None without one. `answer` is None for a photo that this model
    had read before.
    """

    name: str
    photo: Photo | None
    tag: str | None = None
    match: Match | None = None
    was_known: bool = False
    answer: PhotoReading | PhotoError | None = None

    @property
    def is_unread(self) -> bool:
        """Whether it gave no reading now, because it could not be taken out or opened."""
        return isinstance(self.answer, PhotoError)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Waiting:
    """A photo on its way: `to_read` says whether its reading comes through the reader."""

    received: Received
    to_read: bool


class Receiver:
    """Takes photos into one lot of the records. `by` is the person who brings them in."""

    def __init__(
        self, records: Records, lot: str, reader: PhotoReader, matcher: Matcher, *, by: str
    ) -> None:
        self._records = records
        self._lot = lot
        self._reader = reader
        self._matcher = matcher
        self._by = by
        self._pieces = {piece.tag: piece.uid for piece in records.pieces(lot)}
        self._unread = {photo.uid for photo in records.unread_photos(lot, reader.sha256)}
        self._by_source: dict[tuple[str, str], Photo] = {}
        self._by_place: dict[tuple[str, str, str | None], Photo] = {}
        for photo in records.photos(lot):
            self._remember(photo)

    def receive(
        self, photos: Iterable[Incoming], progress: Progress | None = None
    ) -> Iterator[Received]:
        """Takes in `photos` one by one, then reads what an earlier import left unread.

        One that can't be taken or read gives its error and no stop. `progress(done, name)` is
        called before each. Raises `ui.records.RecordsError` when the records can't be written;
        what was done by then stays.
        """
        yield from self._read(self._stored(photos, progress))
        yield from self._read(self._left_unread(progress))

    def _read(self, photos: Iterator[tuple[_Waiting, Found]]) -> Iterator[Received]:
        """Sends through the reader what is to be read; everything comes out in its order."""
        line: deque[_Waiting] = deque()

        def found_to_read() -> Iterator[Found]:
            for waiting, found in photos:
                line.append(waiting)
                if waiting.to_read:
                    yield found

        for screened in screen(found_to_read(), self._reader):
            while not line[0].to_read:
                yield line.popleft().received
            yield self._recorded(line.popleft().received, screened.answer)
        for waiting in line:
            yield waiting.received

    def _recorded(self, received: Received, answer: PhotoReading | PhotoError) -> Received:
        if received.photo is not None:
            self._records.add_reading(
                received.photo.uid,
                answer,
                model_version=self._reader.version,
                model_sha256=self._reader.sha256,
            )
            self._unread.discard(received.photo.uid)
        return replace(received, answer=answer)

    def _stored(
        self, photos: Iterable[Incoming], progress: Progress | None
    ) -> Iterator[tuple[_Waiting, Found]]:
        for done, incoming in enumerate(photos):
            found = incoming.found
            if progress is not None:
                progress(done, found.name)
            if not isinstance(found.content, bytes):
                nothing = Received(name=found.name, photo=None)
                yield _Waiting(received=nothing, to_read=True), found  # comes out as its error
                continue
            match = self._matcher.match(found.name, above=found.above, below=found.below)
            try:
                received = self._store(incoming, found.content, match)
            except NotTaken as error:
                refused = PhotoError(photo=found.name, kind="not_taken", message=str(error))
                received = Received(name=found.name, photo=None, match=match, answer=refused)
            photo = received.photo
            to_read = photo is not None and (not received.was_known or photo.uid in self._unread)
            yield _Waiting(received=received, to_read=to_read), found

    def _store(self, incoming: Incoming, data: bytes, match: Match) -> Received:
        name = incoming.found.name
        sha256 = hashlib.sha256(data).hexdigest()
        piece = None if match.tag is None else self._piece(match.tag)
        # The same photo from a folder or archive that has moved since is the same photo; handed in
        # for another piece it is not.
        known = self._by_source.get((sha256, incoming.source)) or self._by_place.get(
            (sha256, name, piece)
        )
        if known is None:
            photo = self._records.add_photo(
                self._lot, data, name, source=incoming.source, piece=piece, by=self._by
            )
            self._remember(photo)
            return Received(name=name, photo=photo, tag=self._tag(photo), match=match)
        # What a person has placed since is left where it is, unless a person says otherwise.
        may_move = known.piece is None or match.way is Way.BY_HAND
        if piece is not None and known.piece != piece and may_move:
            known = self._records.place_photo(known.uid, piece, by=self._by)
            self._remember(known)
        tag = self._tag(known)
        return Received(name=name, photo=known, tag=tag, match=match, was_known=True)

    def _piece(self, tag: str) -> str:
        """The uid of the piece with that tag, made now where the lot has none."""
        if tag not in self._pieces:
            try:
                piece = self._records.add_piece(self._lot, tag, by=self._by)
            except NotTaken:
                made_meanwhile = self._records.find_piece(self._lot, tag)
                if made_meanwhile is None:
                    raise
                piece = made_meanwhile
            self._pieces[tag] = piece.uid
        return self._pieces[tag]

    def _tag(self, photo: Photo) -> str | None:
        return next((tag for tag, uid in self._pieces.items() if uid == photo.piece), None)

    def _remember(self, photo: Photo) -> None:
        self._by_source[photo.sha256, photo.source] = photo
        self._by_place[photo.sha256, photo.name, photo.piece] = photo

    def _left_unread(self, progress: Progress | None) -> Iterator[tuple[_Waiting, Found]]:
        """Photos that were stored by an import that was stopped, and that nobody has read."""
        left = self._records.unread_photos(self._lot, self._reader.sha256)
        for done, photo in enumerate(left):
            if progress is not None:
                progress(done, photo.name)
            tag = self._tag(photo)
            received = Received(name=photo.name, photo=photo, tag=tag, was_known=True)
            try:
                data = self._records.store.read(photo.sha256)
            except (Damaged, NotRecorded) as error:
                # No reading is recorded: the photo can still be brought back.
                lost = PhotoError(photo=photo.name, kind="not_kept", message=str(error))
                yield (
                    _Waiting(received=replace(received, answer=lost), to_read=False),
                    Found(name=photo.name, content=b""),
                )
                continue
            yield (
                _Waiting(received=received, to_read=True),
                Found(name=photo.name, content=data),
            )
