"""Where photos come from: files, folders, ZIP archives, PDF and Word documents.

Everything is read lazily, one photo at a time, and nothing is written. What can't be read takes its
place in the stream as an error, so the others still come.
"""

from __future__ import annotations

import io
import os
import unicodedata
import zipfile
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath
from typing import IO

from vision import errors
from vision.photo import open_photo

PICTURE_SUFFIXES = frozenset(
    (".jpg", ".jpeg", ".jpe", ".png", ".webp", ".tif", ".tiff", ".heic", ".heif", ".gif", ".bmp")
)
MAX_FILE_BYTES = 256 * 1024 * 1024
MAX_ARCHIVE_PHOTOS = 5000
MAX_ARCHIVE_BYTES = 4 * 1024 * 1024 * 1024
_ICON_BYTES = 64 * 1024  # 64 × 64 pixels of three colours and a header are no more than a fifth


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One photo's bytes, or the error that stands in its place; `name` is what to call it.

    `above` and `below` are the words nearest to it in a Word document; on a page of a PDF, whose
    pictures have no order, both are all words of the page. Empty for other photos.
    """

    name: str
    content: bytes | errors.PhotoUnreadable
    above: str = ""
    below: str = ""


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
        elif path.suffix.lower() in _HOLDERS:
            return None
        else:
            count += 1
    return count


def expand(name: str, data: bytes) -> Iterator[Found]:
    """The photos that `data` holds: several for a ZIP, PDF or Word document, or the bytes alone."""
    name = shown(name)
    holder = _HOLDERS.get(PurePosixPath(name).suffix.lower())
    if holder is not None and data:
        yield from holder(io.BytesIO(data), name)
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
    holder = _HOLDERS.get(path.suffix.lower())
    if holder is None:
        yield _read_file(path, name)
        return
    try:
        stream = path.open("rb")
    except OSError as error:
        yield _failed(_no_file(path, name, error))
        return
    with stream:
        yield from holder(stream, name)


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
        archive = _opened(stream, name)
    except errors.DamagedSource as error:
        yield _failed(error)
        return
    with archive:
        members = sorted((m for m in archive.infolist() if _is_picture(m)), key=_member_name)
        if not members:
            yield _failed(errors.NoPhotosInside(name, "is an archive without pictures."))
        yield from _within_limits(
            (
                _read_member(archive, member, f"{name}!{shown(member.filename)}")
                for member in members
            ),
            name,
        )


def _opened(stream: IO[bytes], name: str) -> zipfile.ZipFile:
    try:
        return zipfile.ZipFile(stream)
    except (zipfile.BadZipFile, OSError, ValueError, EOFError, NotImplementedError) as error:
        problem = f"can't be opened as a ZIP archive ({error})."
        raise errors.DamagedSource(name, problem) from error


def _within_limits(photos: Iterator[Found], name: str) -> Iterator[Found]:
    """`photos` of one archive or document, up to the limits on their number and bytes."""
    bytes_read = 0
    for index, found in enumerate(photos):
        if index >= MAX_ARCHIVE_PHOTOS or bytes_read > MAX_ARCHIVE_BYTES:
            problem = f"holds more than is read from one archive; {index} photos were taken."
            yield _failed(errors.SourceTooLarge(name, problem))
            return
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


# --------------------------------------------------------------------------- Word documents


def _in_word_document(stream: IO[bytes], name: str) -> Iterator[Found]:
    """Pictures in the body of a .docx, called `document!picture 3`, in its order.

    Pictures too small to be photographs, and drawings that are no pictures, are passed over.
    """
    from vision import word_photos

    try:
        archive = _opened(stream, name)
    except errors.DamagedSource as error:
        yield _failed(error)
        return
    with archive:
        try:
            placed = word_photos.placed_pictures(archive, name)
        except errors.DamagedSource as error:
            yield _failed(error)
            return
        pictures = [each for each in placed if _is_picture(each.member)]
        found_any = False
        photos = (
            replace(
                _read_member(archive, each.member, f"{name}!picture {number}"),
                above=each.above,
                below=each.below,
            )
            for number, each in enumerate(pictures, start=1)
        )
        for found in _within_limits(photos, name):
            if not _is_icon(found):
                found_any = True
                yield found
    if not found_any:
        problem = "holds no embedded photograph."
        yield _failed(errors.NoPhotosInside(name, problem, "Export its pages as pictures."))


def _is_icon(found: Found) -> bool:
    """Whether it is a sound picture of too few pixels to be a photograph."""
    if not isinstance(found.content, bytes) or len(found.content) > _ICON_BYTES:
        return False
    try:
        open_photo(found.content, found.name)
    except errors.PictureTooSmall:
        return True
    except errors.PhotoUnreadable:
        pass  # it takes its place in the stream, and says there what is wrong
    return False


# ---------------------------------------------------------------------------- PDF documents


def _in_document(stream: IO[bytes], name: str) -> Iterator[Found]:
    """Pictures embedded in the pages of a PDF, called `document!page 3 picture 1`.

    Pictures too small to be photographs (rules, icons) are passed over.
    """
    import pypdf
    from pypdf.errors import PyPdfError

    from vision import pdf_photos

    found_any = False
    try:
        document = pypdf.PdfReader(stream)
        if document.is_encrypted and not document.decrypt(""):
            yield _failed(errors.LockedSource(name, "asks for a password."))
            return
        for page_number, page in enumerate(document.pages, start=1):
            words = ""
            for number, picture in enumerate(pdf_photos.page_pictures(page), start=1):
                words = words or pdf_photos.page_words(page)
                found_any = True
                photo = f"{name}!page {page_number} picture {number}"
                content = pdf_photos.picture_bytes(picture, photo)
                yield Found(name=photo, content=content, above=words, below=words)
    except (PyPdfError, *pdf_photos.PDF_DAMAGE, NotImplementedError, ImportError) as error:
        yield _failed(errors.DamagedSource(name, f"can't be read as a PDF ({error})."))
        return
    if not found_any:
        problem = "holds no embedded photograph."
        yield _failed(errors.NoPhotosInside(name, problem, "Export its pages as pictures."))


_HOLDERS: dict[str, Callable[[IO[bytes], str], Iterator[Found]]] = {
    ".zip": _in_archive,
    ".pdf": _in_document,
    ".docx": _in_word_document,
}
HOLDER_SUFFIXES = frozenset(_HOLDERS)


def holder_and_own(name: str) -> tuple[str, str]:
    """("delivery.zip", "P-07/left.jpg") of `delivery.zip!P-07/left.jpg`; ("", name) of a photo that
    lay in no archive or document, whose own name may hold a `!` too."""
    holder, mark, own = name.partition("!")
    while mark:
        if own and PurePosixPath(holder.lower()).suffix in HOLDER_SUFFIXES:
            return holder, own
        more, mark, own = own.partition("!")
        holder = f"{holder}!{more}"
    return "", name


"""Endings of files that hold several photos."""
