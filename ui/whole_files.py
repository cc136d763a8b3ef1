"""Files that are whole or not there: written beside their place, forced to disk, moved there."""

from __future__ import annotations

import contextlib
import os
import re
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import IO

from vision.errors import SeamtriageError, one_line

KEPT_S = 24 * 3600.0
_PART = re.compile(r"\.[0-9a-f]{32}\.part")


class NotWritten(SeamtriageError):
    """A file could not be written; what stood there before stands there still."""

    def __init__(self, path: Path, error: OSError) -> None:
        reason = error.strerror or str(error)
        super().__init__(
            one_line(f"{path} can't be written ({reason}); make room there, or name another place")
        )


@contextmanager
def whole_file(path: Path) -> Iterator[IO[bytes]]:
    """A stream, to be read and written, whose bytes are the file at `path` once the block ends.

    On any error nothing is left, and NotWritten for one of the system's own. A process that is
    killed leaves at most a file whose name begins with a dot and ends in `.part`; it goes when
    something is written to its folder a day later or more. The folder is made.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with beside(path) as part:
            with part.open("x+b") as stream:
                yield stream
                stream.flush()
                os.fsync(stream.fileno())
            part.replace(path)
        sync_folder(path.parent)
    except OSError as error:
        raise NotWritten(path, error) from error


def write_whole(path: Path, data: bytes) -> None:
    """`data` as the file at `path`; NotWritten where the system refuses."""
    with whole_file(path) as stream:
        stream.write(data)


@contextmanager
def beside(path: Path) -> Iterator[Path]:
    """A free name in the folder of `path`, of which nothing is left at the end of the block."""
    _clear_of_old_parts(path.parent)
    part = path.with_name(f".{uuid.uuid4().hex}.part")
    try:
        yield part
    finally:
        part.unlink(missing_ok=True)


@cache
def _clear_of_old_parts(folder: Path) -> None:
    """Removes what processes that were killed left there, once in the life of this one. A part that
    was touched within a day may be another process's own."""
    before_s = time.time() - KEPT_S
    with contextlib.suppress(OSError):
        for each in folder.glob(".*.part"):
            with contextlib.suppress(OSError):
                if _PART.fullmatch(each.name) and each.stat().st_mtime < before_s:
                    each.unlink()


def sync_folder(folder: Path) -> None:
    """Forces a folder's list of names to disk, where the system can (Windows can't)."""
    with contextlib.suppress(OSError, AttributeError):
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
