"""A batch of photos read by several at once, told in the photos' own order.

Who reads is behind `Hands`: processes of this machine (`ui.workers`) or the workers of a Dask
cluster (`ui.cluster`). Either way a photo is handed over with its bytes, so whoever reads it needs
no folder of ours, and its reading depends on nothing but those bytes and the model.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Protocol

from ui.screening import PhotoReader, Progress, Screened
from vision.reading import PhotoError, PhotoReading
from vision.sources import Found

AHEAD = 3
"""Photos per reader that are held in memory at most, being read or waiting for their turn."""

MOST_BYTES = 1024**3
"""So many bytes of photos are held at most, and one photo more, however many readers there are."""

Answer = tuple[PhotoReading | None, PhotoError | None]
Loader = Callable[[int], PhotoReader]
"""A reader on that many cores. A module's own function or a partial of one, as it is called
elsewhere than here."""


class Hands(Protocol):
    """Several that read at the same time."""

    def room(self, held: int) -> bool:
        """Whether another photo may be fetched while so many are held."""
        ...

    def hand(self, number: int, photo: Found, data: bytes) -> None:
        """Gives a photo to be read; asked only where there is room."""
        ...

    def done(self) -> Mapping[int, Answer]:
        """Waits for something to happen; what has come of photos since, by their numbers."""
        ...


def in_order(
    sources: Iterable[Found], hands: Hands, progress: Progress | None = None
) -> Iterator[Screened]:
    """As `screening.screen`, by those hands; each photo is told once."""
    coming = enumerate(sources)
    held: dict[int, Found] = {}
    answers: dict[int, Answer] = {}
    held_bytes, told, exhausted = 0, 0, False
    while True:
        while told in answers:
            photo, (reading, error) = held.pop(told), answers.pop(told)
            if progress is not None:
                progress(told, photo.name)
            data = photo.content if isinstance(photo.content, bytes) else None
            held_bytes -= len(data or b"")
            told += 1
            yield Screened(name=photo.name, data=data, reading=reading, error=error)
        while not exhausted and held_bytes < MOST_BYTES and hands.room(len(held)):
            if (upcoming := next(coming, None)) is None:
                exhausted = True
                break
            number, photo = upcoming
            held[number] = photo
            if isinstance(photo.content, bytes):
                held_bytes += len(photo.content)
                hands.hand(number, photo, photo.content)
            else:
                answers[number] = None, photo.content.as_photo_error()
        if told in answers:
            continue
        if exhausted and not held:
            return
        answers.update(hands.done())
