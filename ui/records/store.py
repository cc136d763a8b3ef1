"""Original photos, byte for byte, each under the SHA-256 of its bytes."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

from ui.records.errors import Damaged, NotRecorded, Unreachable
from ui.whole_files import beside, sync_folder


class PhotoStore:
    """A folder of photos, `ab/abcd…`: whole files or none, never changed, never written twice."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, sha256: str) -> Path:
        """Where the photo of that hash lies, or would."""
        return self.folder / sha256[:2] / sha256

    def keep(self, data: bytes) -> str:
        """Keeps `data` and gives its hash. Unreachable when the folder can't be written.

        Written beside its place, forced to disk, read back and compared, then moved there. A file
        that is already there and whole is left alone; a damaged one is made whole again.
        """
        sha256 = hashlib.sha256(data).hexdigest()
        place = self.path(sha256)
        if self.problem(sha256) == "":
            return sha256
        try:
            if not place.parent.is_dir():
                place.parent.mkdir(parents=True, exist_ok=True)
                sync_folder(self.folder)
            self._write(place, data, sha256)
        except OSError as error:
            reason = error.strerror or str(error)
            raise Unreachable(
                f"the photo can't be kept in {place.parent} ({reason}); make room there, or check "
                "who may write"
            ) from error
        return sha256

    def _write(self, place: Path, data: bytes, sha256: str) -> None:
        with beside(place) as part:
            with part.open("xb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
            if _hash_of(part) != sha256:
                raise OSError("what was written reads back differently")
            part.replace(place)
        sync_folder(place.parent)

    def read(self, sha256: str) -> bytes:
        """The photo's bytes. NotRecorded when it is not there, Damaged when it was altered."""
        try:
            data = self.path(sha256).read_bytes()
        except FileNotFoundError:
            raise NotRecorded(
                f"the photo {sha256} is missing from {self.folder}; put the original back with "
                "its import, or bring the folder back from a copy"
            ) from None
        except OSError as error:
            raise Unreachable(f"the photo {sha256} can't be read ({error.strerror})") from error
        if hashlib.sha256(data).hexdigest() != sha256:
            raise Damaged(
                f"the photo {sha256} in {self.folder} was altered; import the original again, or "
                "bring the folder back from a copy"
            )
        return data

    def problem(self, sha256: str) -> str:
        """ "missing", "altered" or "can't be read", "" for a photo that is there and whole."""
        try:
            return "" if _hash_of(self.path(sha256)) == sha256 else "altered"
        except FileNotFoundError:
            return "missing"
        except OSError:
            return "can't be read"

    def kept(self) -> Iterator[str]:
        """The hashes of all photos in the folder, sorted."""
        for path in sorted(self.folder.glob("??/*")):
            if not path.name.startswith("."):
                yield path.name


def _hash_of(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
