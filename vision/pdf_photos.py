"""The photographs embedded in the pages of a PDF, and the words beside them.

pypdf is imported where it is needed: only documents need it, and it costs the start of every
command.
"""

from __future__ import annotations

import io
import logging
from collections.abc import Iterator
from typing import Any

from vision import errors
from vision.photo import MAX_MEGAPIXELS, MIN_SIDE_PX
from vision.word_photos import MAX_WORDS_CHARS

logging.getLogger("pypdf").addHandler(logging.NullHandler())  # its remarks on odd documents

PDF_DAMAGE = (ValueError, KeyError, TypeError, AttributeError, IndexError, OSError, RecursionError)


def page_words(page: Any) -> str:
    """The words of a page; none where they can't be taken out, which must not cost a picture."""
    from pypdf.errors import PyPdfError

    try:
        return " ".join(page.extract_text().split())[:MAX_WORDS_CHARS]
    except (PyPdfError, *PDF_DAMAGE, NotImplementedError):
        return ""


def page_pictures(holder: Any, depth: int = 0) -> Iterator[Any]:
    """Image streams of a page, and of the forms drawn on it."""
    resources = holder.get("/Resources")
    objects = resources.get_object().get("/XObject") if resources is not None else None
    if objects is None or depth > 4:
        return
    for reference in objects.get_object().values():
        thing = reference.get_object()
        if thing.get("/Subtype") == "/Form":
            yield from page_pictures(thing, depth + 1)
        elif thing.get("/Subtype") == "/Image" and not thing.get("/ImageMask"):
            sides = (int(thing.get("/Width", 0)), int(thing.get("/Height", 0)))
            if min(sides) >= MIN_SIDE_PX:
                yield thing


def picture_bytes(picture: Any, name: str) -> bytes | errors.PhotoUnreadable:
    """An image stream as the bytes of a picture file, or the error that stands in its place."""
    from pypdf.errors import PyPdfError

    if int(picture["/Width"]) * int(picture["/Height"]) > MAX_MEGAPIXELS * 1e6:
        return errors.PictureTooLarge(name, "is too large.")
    try:
        filters = picture.get("/Filter")
        last = filters[-1] if isinstance(filters, list) and filters else filters
        if last == "/DCTDecode":  # a JPEG file as it stands
            return bytes(picture.get_data())
        if last != "/JPXDecode" and not _has_plain_colours(picture):
            problem = "is stored in a way that is not read here."
            return errors.UnsupportedPicture(name, problem, "Export the page as a picture.")
        stream = io.BytesIO()
        picture.decode_as_image().save(stream, "PNG", compress_level=1)
        return stream.getvalue()
    except (PyPdfError, *PDF_DAMAGE, NotImplementedError, ImportError) as error:
        return errors.UnsupportedPicture(name, f"can't be taken out ({error}).")


def _has_plain_colours(picture: Any) -> bool:
    """Grey or red, green and blue of 8 bits, which come out as they went in."""
    space = picture.get("/ColorSpace")
    family = space[0] if isinstance(space, list) and space else space
    plain = ("/DeviceRGB", "/DeviceGray", "/CalRGB", "/CalGray", "/ICCBased")
    return family in plain and picture.get("/BitsPerComponent") == 8
