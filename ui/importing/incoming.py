"""What is to be taken in: photos from paths or uploads, each with a source that stays the same.

The source is how the records tell whether a photo was taken in before, so it must not depend on how
a path was typed.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Protocol

from ui.importing.matching import Matcher, Preview
from vision import errors
from vision.sources import HOLDER_SUFFIXES, Found, expand, find_photos


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
    because a folder is often named after a piece. Archives and documents in a folder come after its
    photos.
    """
    for path in paths:
        whole = path.absolute().resolve()
        if not path.is_dir():
            yield from _in_file(path, path.name, whole)
            continue
        holders = list(_holders_in(path))
        for found in find_photos([path]):
            is_photo = isinstance(found.content, bytes)
            if not is_photo and holders and isinstance(found.content, errors.NoPhotosInside):
                continue  # the photos are in what comes now
            named = replace(found, name=f"{whole.name}/{found.name}")
            yield Incoming(found=named, source=str(whole / found.name if is_photo else whole))
        for holder in holders:
            inside = holder.relative_to(path)
            yield from _in_file(holder, f"{whole.name}/{inside.as_posix()}", whole / inside)


def _in_file(path: Path, name: str, whole: Path) -> Iterator[Incoming]:
    for found in find_photos([path]):
        _, mark, member = found.name.partition("!")
        named = replace(found, name=f"{name}{mark}{member}")
        yield Incoming(found=named, source=f"{whole}{mark}{member}")


def _holders_in(folder: Path) -> Iterator[Path]:
    for root, directories, files in os.walk(folder):
        directories[:] = sorted(each for each in directories if not each.startswith("."))
        for file in sorted(files):
            path = Path(root) / file
            if path.suffix.lower() in HOLDER_SUFFIXES and not file.startswith((".", "~$")):
                yield path


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
