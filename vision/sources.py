"""Where photos come from: single files, folders, ZIP archives and PDF documents.

Everything is read lazily, one photo at a time, and nothing is written. What can't be read takes its
place in the stream as an error, so the others still come.
"""

from __future__ import annotations

import io
import logging
import os
import unicodedata
import zipfile
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import IO, Any

from vision import errors
from vision.photo import MAX_MEGAPIXELS, MIN_SIDE_PX

PICTURE_SUFFIXES = frozenset(
    (".jpg", ".jpeg", ".jpe", ".png", ".webp", ".tif", ".tiff", ".heic", ".heif", ".gif", ".bmp")
)
MAX_FILE_BYTES = 256 * 1024 * 1024
MAX_ARCHIVE_PHOTOS = 5000
MAX_ARCHIVE_BYTES = 4 * 1024 * 1024 * 1024

logging.getLogger("pypdf").addHandler(logging.NullHandler())  # its remarks on odd documents

_PDF_DAMAGE = (ValueError, KeyError, TypeError, AttributeError, IndexError, OSError, RecursionError)


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One photo's bytes, or the error that stands in its place; `name` is what to call it."""

    name: str
    content: bytes | errors.PhotoUnreadable


def find_photos(paths: Iterable[Path]) -> Iterator[Found]:
    """Every photo at `paths`, in the order given; folders are walked in sorted order.

    A photo is called by its file name (by its path as given, where two share a name), one in a
    folder by its path within that folder, one in an archive `archive!member`.
    """
    paths = list(paths)
    counts = Counter(path.name for path in paths)
    for path in paths:
        name = shown(path.name if path.name and counts[path.name] == 1 else str(path))
        if path.is_dir():
            yield from _in_folder(path)
        else:
            yield from _in_file(path, name)


_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def shown(name: str) -> str:
    """A file's name as it can be printed, sent and read: what can't be is replaced by �.

    That is bytes that are no text, control characters (they would work a terminal), line ends, and
    the marks that turn the direction of writing, with which `gpj.exe` reads as `exe.jpg`.
    """
    return "".join(
        "\ufffd" if unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp") or c in _TURNING else c
        for c in name
    )


def photo_count(paths: Iterable[Path]) -> int | None:
    """How many photos `find_photos` will give; None where only opening the files would tell."""
    count = 0
    for path in paths:
        if path.is_dir():
            count += max(1, sum(1 for _ in _pictures_in(path)))
        elif path.suffix.lower() in (".zip", ".pdf"):
            return None
        else:
            count += 1
    return count


def expand(name: str, data: bytes) -> Iterator[Found]:
    """The photos that `data` holds: several for a ZIP or PDF, otherwise the bytes themselves."""
    name = shown(name)
    suffix = PurePosixPath(name).suffix.lower()
    if suffix == ".zip" and data:
        yield from _in_archive(io.BytesIO(data), name)
    elif suffix == ".pdf" and data:
        yield from _in_document(io.BytesIO(data), name)
    else:
        yield Found(name=name, content=data)


def _in_folder(folder: Path) -> Iterator[Found]:
    found_any = False
    for path in _pictures_in(folder):
        found_any = True
        yield _read_file(path, shown(path.relative_to(folder).as_posix()))
    if not found_any:
        yield _failed(errors.NoPhotosInside(shown(str(folder)), "is a folder without pictures."))


def _pictures_in(folder: Path) -> Iterator[Path]:
    for root, directories, files in os.walk(folder):
        directories[:] = sorted(d for d in directories if not _is_hidden(d))
        for file in sorted(files):
            path = Path(root) / file
            if path.suffix.lower() in PICTURE_SUFFIXES and not _is_hidden(file):
                yield path


def _in_file(path: Path, name: str) -> Iterator[Found]:
    suffix = path.suffix.lower()
    if suffix not in (".zip", ".pdf"):
        yield _read_file(path, name)
        return
    try:
        stream = path.open("rb")
    except OSError as error:
        yield _failed(_no_file(path, name, error))
        return
    with stream:
        yield from (_in_archive if suffix == ".zip" else _in_document)(stream, name)


def _read_file(path: Path, name: str) -> Found:
    try:
        if path.exists() and not path.is_file():
            return _failed(errors.NoAccess(name, "is not an ordinary file.", "Give a file."))
        if path.stat().st_size > MAX_FILE_BYTES:
            return _failed(_file_too_large(name))
        return Found(name=name, content=path.read_bytes())
    except (OSError, ValueError) as error:
        return _failed(_no_file(path, name, error))


def _no_file(path: Path, name: str, error: Exception) -> errors.PhotoUnreadable:
    if isinstance(error, FileNotFoundError | NotADirectoryError | ValueError):
        return errors.NotFound(name, f"there is nothing at {path}.")
    return errors.NoAccess(name, f"can't be read ({getattr(error, 'strerror', None) or error}).")


def _file_too_large(name: str) -> errors.PhotoUnreadable:
    return errors.PictureTooLarge(name, f"is larger than {MAX_FILE_BYTES // 2**20} MB.")


def _failed(error: errors.PhotoUnreadable) -> Found:
    return Found(name=error.photo, content=error)


def _is_hidden(part: str) -> bool:
    return part.startswith(".") or part == "__MACOSX"


# ---------------------------------------------------------------------------- ZIP archives


def _in_archive(stream: IO[bytes], name: str) -> Iterator[Found]:
    """Pictures in a ZIP, called `archive!member`, with limits on their number and bytes."""
    try:
        archive = zipfile.ZipFile(stream)
    except (zipfile.BadZipFile, OSError, ValueError, EOFError, NotImplementedError) as error:
        yield _failed(errors.DamagedSource(name, f"can't be opened as a ZIP archive ({error})."))
        return
    with archive:
        members = sorted((m for m in archive.infolist() if _is_picture(m)), key=_member_name)
        if not members:
            yield _failed(errors.NoPhotosInside(name, "is an archive without pictures."))
        bytes_read = 0
        for index, member in enumerate(members):
            if index >= MAX_ARCHIVE_PHOTOS or bytes_read > MAX_ARCHIVE_BYTES:
                problem = f"holds more than is read from one archive; {index} photos were taken."
                yield _failed(errors.SourceTooLarge(name, problem))
                return
            found = _read_member(archive, member, f"{name}!{shown(member.filename)}")
            if isinstance(found.content, bytes):
                bytes_read += len(found.content)
            yield found


def _is_picture(member: zipfile.ZipInfo) -> bool:
    path = PurePosixPath(member.filename)
    return (
        not member.filename.endswith("/")  # is_dir() fails on a member without a name
        and path.suffix.lower() in PICTURE_SUFFIXES
        and not any(_is_hidden(part) for part in path.parts if part not in (".", ".."))
    )


def _member_name(member: zipfile.ZipInfo) -> str:
    return member.filename


def _read_member(archive: zipfile.ZipFile, member: zipfile.ZipInfo, name: str) -> Found:
    if member.flag_bits & 0x1:
        return _failed(errors.LockedSource(name, "asks for a password."))
    try:
        with archive.open(member) as stream:
            data = stream.read(MAX_FILE_BYTES + 1)  # what it unpacks to, whatever it declares
    except (NotImplementedError, RuntimeError) as error:
        return _failed(errors.UnsupportedPicture(name, f"can't be unpacked ({error})."))
    except Exception as error:  # each way of packing fails in its own ways
        return _failed(errors.DamagedSource(name, f"is damaged ({error})."))
    if len(data) > MAX_FILE_BYTES:
        return _failed(_file_too_large(name))
    return Found(name=name, content=data)


# ---------------------------------------------------------------------------- PDF documents


def _in_document(stream: IO[bytes], name: str) -> Iterator[Found]:
    """Pictures embedded in the pages of a PDF, called `document!page 3 picture 1`.

    Pictures too small to be photographs (rules, icons) are passed over.
    """
    import pypdf  # only documents need it
    from pypdf.errors import PyPdfError

    found_any = False
    try:
        document = pypdf.PdfReader(stream)
        if document.is_encrypted and not document.decrypt(""):
            yield _failed(errors.LockedSource(name, "asks for a password."))
            return
        for page_number, page in enumerate(document.pages, start=1):
            for number, picture in enumerate(_page_pictures(page), start=1):
                found_any = True
                yield _pdf_picture(picture, f"{name}!page {page_number} picture {number}")
    except (PyPdfError, *_PDF_DAMAGE, NotImplementedError, ImportError) as error:
        yield _failed(errors.DamagedSource(name, f"can't be read as a PDF ({error})."))
        return
    if not found_any:
        problem = "holds no embedded photograph."
        yield _failed(errors.NoPhotosInside(name, problem, "Export its pages as pictures."))


def _page_pictures(holder: Any, depth: int = 0) -> Iterator[Any]:
    """Image streams of a page, and of the forms drawn on it."""
    resources = holder.get("/Resources")
    objects = resources.get_object().get("/XObject") if resources is not None else None
    if objects is None or depth > 4:
        return
    for reference in objects.get_object().values():
        thing = reference.get_object()
        if thing.get("/Subtype") == "/Form":
            yield from _page_pictures(thing, depth + 1)
        elif thing.get("/Subtype") == "/Image" and not thing.get("/ImageMask"):
            sides = (int(thing.get("/Width", 0)), int(thing.get("/Height", 0)))
            if min(sides) >= MIN_SIDE_PX:
                yield thing


def _pdf_picture(picture: Any, name: str) -> Found:
    from pypdf.errors import PyPdfError

    if int(picture["/Width"]) * int(picture["/Height"]) > MAX_MEGAPIXELS * 1e6:
        return _failed(errors.PictureTooLarge(name, "is too large."))
    try:
        filters = picture.get("/Filter")
        last = filters[-1] if isinstance(filters, list) and filters else filters
        if last == "/DCTDecode":  # a JPEG file as it stands
            return Found(name=name, content=bytes(picture.get_data()))
        if last != "/JPXDecode" and not _has_plain_colours(picture):
            problem = "is stored in a way that is not read here."
            return _failed(
                errors.UnsupportedPicture(name, problem, "Export the page as a picture.")
            )
        stream = io.BytesIO()
        picture.decode_as_image().save(stream, "PNG", compress_level=1)
        return Found(name=name, content=stream.getvalue())
    except (PyPdfError, *_PDF_DAMAGE, NotImplementedError, ImportError) as error:
        return _failed(errors.UnsupportedPicture(name, f"can't be taken out ({error})."))


def _has_plain_colours(picture: Any) -> bool:
    """Grey or red, green and blue of 8 bits, which come out as they went in."""
    space = picture.get("/ColorSpace")
    family = space[0] if isinstance(space, list) and space else space
    plain = ("/DeviceRGB", "/DeviceGray", "/CalRGB", "/CalGray", "/ICCBased")
    return family in plain and picture.get("/BitsPerComponent") == 8
