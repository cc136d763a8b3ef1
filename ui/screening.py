"""The main job, without a door: photos in, one result for each, worst first when sorted.

The command line and the pages both go through here, so the same bytes give the same reading.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import PurePosixPath
from typing import Protocol

from vision.reading import PhotoError, PhotoReading
from vision.sources import Found, holder_and_own

_NOT_IN_NAMES = frozenset('<>:"/\\|?*')  # what Windows allows in no file name


class Outcome(Protocol):
    """What a reader answers for one photo: a reading, or the error that stands in its place."""

    @property
    def reading(self) -> PhotoReading | None: ...
    @property
    def error(self) -> PhotoError | None: ...


class PhotoReader(Protocol):
    """A loaded model that reads photos; `version` and `sha256` are the model's."""

    @property
    def version(self) -> str: ...
    @property
    def sha256(self) -> str: ...
    def read_bytes(self, data: bytes, name: str) -> Outcome: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Screened:
    """One photo of a batch: its bytes as given, and its reading or its error."""

    name: str
    data: bytes | None = field(repr=False)
    reading: PhotoReading | None
    error: PhotoError | None

    def __post_init__(self) -> None:
        if (self.reading is None) == (self.error is None):
            raise ValueError("a photo has either a reading or an error")

    @property
    def answer(self) -> PhotoReading | PhotoError:
        """The reading, or the error that stands in its place."""
        answer = self.reading or self.error
        if answer is None:
            raise ValueError(f"{self.name} has neither a reading nor an error")
        return answer

    def without_data(self) -> Screened:
        """The same result without the photo's bytes and the lines traced in it, to keep thousands:
        what a table says of it is all there."""
        reading = self.reading
        if reading is not None:
            seams = tuple(replace(seam, path=(), curve=None) for seam in reading.seams)
            joints = tuple(replace(joint, path=()) for joint in reading.end_joints)
            reading = replace(reading, seams=seams, end_joints=joints, shape=None)
        return replace(self, data=None, reading=reading)

    @property
    def stem(self) -> str:
        """The photo's own file name without its suffix, safe as a part of another file name."""
        own = PurePosixPath(holder_and_own(self.name)[1].replace("\\", "/"))
        stem = own.stem if own.suffix else own.name
        kept = (c if c.isprintable() and c not in _NOT_IN_NAMES else "_" for c in stem)
        return "".join(kept).strip(". ") or "_"


Progress = Callable[[int, str], None]


def screen(
    sources: Iterable[Found], reader: PhotoReader, progress: Progress | None = None
) -> Iterator[Screened]:
    """Reads each photo of `sources` in turn; one that can't be read gives its error and no stop.

    `progress(done, name)` is called before each photo, with the number of photos done so far.
    """
    for done, found in enumerate(sources):
        if progress is not None:
            progress(done, found.name)
        if not isinstance(found.content, bytes):
            error = found.content.as_photo_error()
            yield Screened(name=found.name, data=None, reading=None, error=error)
            continue
        outcome = reader.read_bytes(found.content, found.name)
        yield Screened(
            name=found.name, data=found.content, reading=outcome.reading, error=outcome.error
        )


def probability_key(answer: PhotoReading | PhotoError) -> float:
    """Sorts by `fabricated_probability`, highest first; what could not be read comes last."""
    return 1.0 if isinstance(answer, PhotoError) else -answer.verdict.fabricated_probability


def worst_first(results: Iterable[Screened]) -> list[Screened]:
    """The triage list: highest `fabricated_probability` first, unreadable photos last."""
    return sorted(results, key=_key)


def _key(result: Screened) -> float:
    return probability_key(result.answer)
