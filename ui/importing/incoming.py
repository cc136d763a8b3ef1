"""What is to be taken in: photos from paths or uploads, each with a source that stays the same.

The source is how the records tell whether a photo was taken in before, so it must not depend on how
a path was typed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Protocol

from ui.importing.matching import Matcher, Preview
from vision.sources import Found, expand, find_photos


class Upload(Protocol):
    """A file that a browser sent."""

    @property
    def name(self) -> str: ...
    def getvalue(self) -> bytes: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Incoming:
    """One photo, or the error that stands in its place, and where it came from."""

    found: Found
    source: str


def from_paths(paths: Iterable[Path]) -> Iterator[Incoming]:
    """The photos at `paths` as `vision.sources.find_photos` finds them, one at a time.

    A photo in a folder is called by its path from that folder on, the folder's own name included,
    because a folder is often named after a piece.
    """
    for path in paths:
        whole = path.absolute().resolve()
        for found in find_photos([path]):
            if path.is_dir():
                named = replace(found, name=f"{whole.name}/{found.name}")
                is_photo = isinstance(found.content, bytes)
                yield Incoming(found=named, source=str(whole / found.name if is_photo else whole))
            else:
                _, mark, member = found.name.partition("!")
                yield Incoming(found=found, source=f"{whole}{mark}{member}")


def from_uploads(files: Iterable[Upload]) -> Iterator[Incoming]:
    """The photos in files that a browser sent, one at a time."""
    for file in files:
        for found in expand(file.name, file.getvalue()):
            yield Incoming(found=found, source=found.name)


def preview(photos: Iterable[Incoming], matcher: Matcher) -> Preview:
    """What would match, without keeping any photo."""
    return Preview(
        matches=tuple(
            matcher.match(each.found.name, above=each.found.above, below=each.found.below)
            for each in photos
            if isinstance(each.found.content, bytes)
        ),
        tags=matcher.tags,
    )
