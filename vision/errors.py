"""Everything that can go wrong with a photo or its source, as one tree.

    SeamtriageError
    ├── PhotoUnreadable          a photo that gives no reading; the others still do
    │   ├── EmptyFile            empty
    │   ├── NotAPicture          not_a_picture
    │   ├── TruncatedPicture     truncated
    │   ├── PictureTooLarge      too_large
    │   ├── PictureTooSmall      too_small
    │   ├── AnimatedPicture      animated
    │   ├── UnsupportedPicture   unsupported
    │   ├── ReadingStopped       reading_stopped
    │   └── SourceUnreadable     a file, folder, archive or document that gives no photo
    │       ├── NotFound         not_found
    │       ├── NoAccess         no_access
    │       ├── DamagedSource    damaged_source
    │       ├── LockedSource     locked_source
    │       ├── SourceTooLarge   source_too_large
    │       └── NoPhotosInside   no_photos
    └── OutputExists             a result would be written over an existing file

The second column is `kind`, the stable word that stands in JSON. Each message names the file, says
what is wrong, and what to do.
"""

from __future__ import annotations

from typing import ClassVar

from vision.reading import PhotoError


class SeamtriageError(Exception):
    """Base of every error that this package raises on purpose; its text fits on one line."""


class PhotoUnreadable(SeamtriageError):
    """A photo that gives no reading. `problem` says what is wrong, `remedy` what to do."""

    kind: ClassVar[str] = "unreadable"
    remedy: ClassVar[str] = "Save it again as a JPEG or PNG."

    def __init__(self, photo: str, problem: str, remedy: str | None = None) -> None:
        self.photo = photo
        self.message = one_line(f"{photo}: {problem} {remedy or self.remedy}")
        super().__init__(self.message)

    def as_photo_error(self) -> PhotoError:
        """The plain result that stands for this photo in tables and JSON."""
        return PhotoError(photo=self.photo, kind=self.kind, message=self.message)


class EmptyFile(PhotoUnreadable):
    """The file holds no bytes."""

    kind = "empty"
    remedy = "Copy or send it again."


class NotAPicture(PhotoUnreadable):
    """The bytes are no picture, whatever the name says."""

    kind = "not_a_picture"
    remedy = "Give a photograph as JPEG, PNG, WebP, TIFF or HEIC."


class TruncatedPicture(PhotoUnreadable):
    """The picture begins well and breaks off, or is damaged on the way."""

    kind = "truncated"
    remedy = "Copy or send it again; the whole file is needed."


class PictureTooLarge(PhotoUnreadable):
    """More pixels or bytes than the limit allows; refused before decoding."""

    kind = "too_large"
    remedy = "Reduce it or crop it to the fitting."


class PictureTooSmall(PhotoUnreadable):
    """Too few pixels to show a seam."""

    kind = "too_small"
    remedy = "Give the original photograph, not a thumbnail."


class AnimatedPicture(PhotoUnreadable):
    """A moving picture; which of its frames is meant can't be known."""

    kind = "animated"
    remedy = "Save the frame that shows the fitting as a JPEG or PNG."


class UnsupportedPicture(PhotoUnreadable):
    """A known kind of file that is not read here."""

    kind = "unsupported"
    remedy = "Save it as a JPEG or PNG."


class ReadingStopped(PhotoUnreadable):
    """The process that had the photo ended before it had read it."""

    kind = "reading_stopped"
    remedy = "Read this one again by itself; if that ends too, save it again as a JPEG or PNG."


class SourceUnreadable(PhotoUnreadable):
    """A file, folder, archive or document from which no photo could be taken."""

    kind = "source_unreadable"


class NotFound(SourceUnreadable):
    """There is nothing at that path."""

    kind = "not_found"
    remedy = "Check the path."


class NoAccess(SourceUnreadable):
    """The system does not let us read it."""

    kind = "no_access"
    remedy = "Check who may read it."


class DamagedSource(SourceUnreadable):
    """The archive or document can't be opened."""

    kind = "damaged_source"
    remedy = "Copy or send it again."


class LockedSource(SourceUnreadable):
    """The archive or document asks for a password."""

    kind = "locked_source"
    remedy = "Take the photos out and give them directly."


class SourceTooLarge(SourceUnreadable):
    """The archive or document holds more than the limit allows."""

    kind = "source_too_large"
    remedy = "Split it, or take the photos out and give them directly."


class NoPhotosInside(SourceUnreadable):
    """The folder, archive or document holds no picture."""

    kind = "no_photos"
    remedy = "Give the photographs themselves."


class OutputExists(SeamtriageError):
    """A result would be written over an existing file."""


def one_line(text: str) -> str:
    """`text` on one line, what can't be printed left out."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
