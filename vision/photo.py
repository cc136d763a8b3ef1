"""Bytes in, one `Photo` out: all that is judged or shown comes from here.

The size limit is checked before any pixel is decoded, EXIF orientation is applied exactly once, and
whatever the file holds (CMYK, 16 bits, grey, palette, transparency) becomes 8-bit RGB.
"""

from __future__ import annotations

import hashlib
import io
import struct
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from vision import errors

MAX_MEGAPIXELS = 120.0
MIN_SIDE_PX = 64

_NEARLY = 0.9
"""A JPEG decoded this close to the size asked for is large enough: a phone's 4032 pixels come out
as 1008 for 1024 instead of as 2016, four times as many to shrink."""

_FORMATS = ("JPEG", "PNG", "WEBP", "TIFF", "GIF", "BMP")
_MOVING = ("GIF", "WEBP", "PNG")
_ORIENTATION_TAG = 0x0112

# First bytes of files that are pictures, and of files that are something else we can name.
_PICTURE_STARTS = (
    b"\xff\xd8\xff",
    b"\x89PNG",
    b"II*\0",
    b"MM\0*",
    b"GIF8",
    b"BM",
)
_OTHER_STARTS = {
    b"%PDF": "is a PDF document, not a photo.",
    b"PK\x03\x04": "is a ZIP archive, not a photo.",
    b"\0\0\x01\0": "is an icon, not a photo.",
    b"8BPS": "is a layered picture of a drawing program.",
    b"\x1aE\xdf\xa3": "is a video, not a photo.",
}
_VIDEO_BRANDS = (b"isom", b"iso2", b"mp41", b"mp42", b"avc1", b"qt  ", b"M4V ", b"3gp4", b"3gp5")
_HEIF_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")

_warnings_lock = threading.Lock()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Photo:
    """One photo as a person sees it.

    `pixels` is (H, W, 3) uint8, RGB, read-only, possibly a reduced copy; `width` and `height` are
    always those of the whole photo, EXIF orientation applied. `sha256` is of the original bytes.
    `notes` says in plain words what was converted.
    """

    name: str
    sha256: str
    width: int
    height: int
    pixels: NDArray[np.uint8] = field(repr=False)
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.pixels.ndim != 3 or self.pixels.shape[2] != 3 or self.pixels.dtype != np.uint8:
            raise ValueError(f"pixels must be (H, W, 3) uint8, got {self.pixels.shape}")
        if self.pixels.shape[0] > self.height or self.pixels.shape[1] > self.width:
            raise ValueError("pixels may be a reduced copy of the photo, never a larger one")

    @property
    def scale(self) -> tuple[float, float]:
        """(x, y) photo pixels per array pixel.

        Pixel centres map as photo = (array + 0.5) × scale − 0.5.
        """
        rows, columns = self.pixels.shape[:2]
        return self.width / columns, self.height / rows


def open_photo(
    data: bytes,
    name: str,
    *,
    max_side_px: int | None = None,
    max_megapixels: float = MAX_MEGAPIXELS,
) -> Photo:
    """The photo in `data`; `name` is what messages call it.

    With `max_side_px` the pixels are reduced so that their longer side is at most that. A JPEG is
    then decoded at a half, a quarter or an eighth where that still gives nine tenths of it, which
    takes a fraction of the time. Raises a subclass of `errors.PhotoUnreadable` for anything that
    gives no usable picture.
    """
    if max_side_px is not None and max_side_px < 1:
        raise ValueError(f"max_side_px must be at least 1, got {max_side_px}")
    if not data:
        raise errors.EmptyFile(name, "is empty.")
    with _quiet(), _opened(data, name, max_megapixels) as image:
        _check_size(image.size, name, max_megapixels)
        notes = _frame_notes(image, name)
        stored_size = image.size
        reduced = _draft(image, max_side_px)
        _load(image, name)
        turn = _orientation(image)
        try:
            pixels, mode_notes = _as_rgb(image)
        except (OSError, ValueError, MemoryError) as error:
            raise errors.UnsupportedPicture(name, f"can't be converted ({error}).") from error
    pixels = _turned(pixels, turn)
    width, height = stored_size if reduced else (pixels.shape[1], pixels.shape[0])
    if reduced and turn >= 5:
        width, height = height, width
    pixels = _shrunk(pixels, max_side_px)
    pixels.flags.writeable = False
    return Photo(
        name=name,
        sha256=hashlib.sha256(data).hexdigest(),
        width=width,
        height=height,
        pixels=pixels,
        notes=notes + mode_notes,
    )


@contextmanager
def _quiet() -> Iterator[None]:
    """Pillow's warnings (size, odd metadata) are answered by our own checks.

    The warning filters belong to the whole process, so one thread at a time may set them aside.
    """
    with _warnings_lock, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


@contextmanager
def _opened(data: bytes, name: str, max_megapixels: float) -> Iterator[Image.Image]:
    """The opened picture, nothing decoded yet."""
    formats: tuple[str, ...] = _FORMATS
    if data[4:8] == b"ftyp":  # the container of HEIC, and of videos
        formats = _heif()
    try:
        image = Image.open(io.BytesIO(data), formats=formats)
    except Image.DecompressionBombError as error:
        raise _too_large(name, max_megapixels) from error
    except UnidentifiedImageError as error:
        raise _unrecognised(data, name) from error
    except (OSError, ValueError, SyntaxError, TypeError, KeyError, IndexError) as error:
        raise errors.TruncatedPicture(name, "is damaged at its beginning.") from error
    except (EOFError, struct.error, OverflowError, RuntimeError, MemoryError) as error:
        raise errors.TruncatedPicture(name, "is damaged at its beginning.") from error
    with image:
        yield image


@cache
def _heif() -> tuple[str, ...]:
    """HEIC, once Pillow can open it: for the first one, since most folders hold none."""
    import pillow_heif

    pillow_heif.register_heif_opener()
    return ("HEIF",)


def _unrecognised(data: bytes, name: str) -> errors.PhotoUnreadable:
    start, brand = data[:4], data[8:12]
    for known, what in _OTHER_STARTS.items():
        if start.startswith(known):
            return errors.UnsupportedPicture(name, what)
    if data[4:8] == b"ftyp" and brand not in _HEIF_BRANDS:
        is_video = brand in _VIDEO_BRANDS
        what = "is a video, not a photo." if is_video else "is a kind of picture not read here."
        return errors.UnsupportedPicture(name, what)
    looks_like_one = start.startswith(_PICTURE_STARTS) or data[4:8] == b"ftyp"
    if looks_like_one or (start == b"RIFF" and brand == b"WEBP"):
        return errors.TruncatedPicture(name, "begins like a picture, but breaks off or is damaged.")
    return errors.NotAPicture(name, "is not a picture.")


def _check_size(size: tuple[int, int], name: str, max_megapixels: float) -> None:
    width, height = size
    if width * height > max_megapixels * 1e6:
        raise _too_large(name, max_megapixels, f" ({width} × {height} pixels)")
    if min(width, height) < MIN_SIDE_PX:
        raise errors.PictureTooSmall(
            name,
            f"is too small to show a seam ({width} × {height} pixels; "
            f"the shorter side must have at least {MIN_SIDE_PX}).",
        )


def _too_large(name: str, max_megapixels: float, size: str = "") -> errors.PictureTooLarge:
    return errors.PictureTooLarge(
        name, f"is too large{size}; the limit is {max_megapixels:g} megapixels."
    )


def _frame_notes(image: Image.Image, name: str) -> tuple[str, ...]:
    """Refuses moving pictures; notes that only the first of several pages is used."""
    try:
        frames = int(getattr(image, "n_frames", 1))
    except (OSError, ValueError, SyntaxError, EOFError, KeyError, TypeError, struct.error) as error:
        raise errors.TruncatedPicture(name, "breaks off or is damaged.") from error
    if frames > 1 and image.format in _MOVING:
        raise errors.AnimatedPicture(name, f"is a moving picture ({frames} frames).")
    if frames > 1 and image.format in ("TIFF", "HEIF"):
        return (f"The file holds {frames} pictures; only the first was read.",)
    return ()


def _draft(image: Image.Image, max_side_px: int | None) -> bool:
    """Asks a JPEG to decode at reduced scale; True when it will."""
    if max_side_px is None or image.format not in ("JPEG", "MPO"):
        return False
    factor = int(max(image.size) / (_NEARLY * max_side_px))
    if factor < 2:
        return False
    before = image.size
    image.draft(None, (max(1, before[0] // factor), max(1, before[1] // factor)))
    return image.size != before


def _load(image: Image.Image, name: str) -> None:
    try:
        image.load()
    except Image.DecompressionBombError as error:
        raise errors.PictureTooLarge(name, "is too large.") from error
    except MemoryError as error:
        raise errors.PictureTooLarge(name, "needs more memory than there is.") from error
    except Exception as error:  # damaged bytes make decoders fail in many ways
        raise errors.TruncatedPicture(name, "breaks off or is damaged.") from error


def _orientation(image: Image.Image) -> int:
    """EXIF orientation still to be applied, 1 to 8; 1 where it is missing or makes no sense.

    Asked after loading: HEIC and TIFF are turned while loading and then say 1.
    """
    try:
        value: Any = image.getexif().get(_ORIENTATION_TAG, 1)
    except Exception:  # damaged metadata must not cost the picture
        return 1
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def _turned(pixels: NDArray[np.uint8], orientation: int) -> NDArray[np.uint8]:
    """(H, W, 3) as stored → as seen. Exif 2.32, tag 274: where row 0 and column 0 of it are."""
    if orientation >= 5:
        pixels = pixels.transpose(1, 0, 2)
    if orientation in (3, 4, 7, 8):
        pixels = pixels[::-1]
    if orientation in (2, 3, 6, 7):
        pixels = pixels[:, ::-1]
    return np.ascontiguousarray(pixels)


def _shrunk(pixels: NDArray[np.uint8], max_side_px: int | None) -> NDArray[np.uint8]:
    rows, columns = pixels.shape[:2]
    if max_side_px is None or max(rows, columns) <= max_side_px:
        return pixels
    factor = max_side_px / max(rows, columns)
    size = (max(1, round(columns * factor)), max(1, round(rows * factor)))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    return np.asarray(small, dtype=np.uint8)


def _as_rgb(image: Image.Image) -> tuple[NDArray[np.uint8], tuple[str, ...]]:
    """(H, W, 3) uint8 RGB and what was converted."""
    notes: list[str] = []
    if image.mode.startswith("I") or image.mode == "F":
        notes.append("High-depth grey values were scaled to 8 bits.")
        grey = _eight_bit(np.asarray(image))
        return np.repeat(grey[:, :, None], 3, axis=2), tuple(notes)
    if image.mode in ("RGBA", "LA", "PA", "La", "RGBa") or "transparency" in image.info:
        layered = image.convert("RGBA")
        if layered.getchannel("A").getextrema() != (255, 255):
            notes.append("Transparent parts are shown on white.")
            image = Image.alpha_composite(Image.new("RGBA", layered.size, "white"), layered)
    elif image.mode == "CMYK":
        notes.append("Printing colours (CMYK) were converted.")
    elif image.mode in ("L", "1"):
        notes.append("The photo has no colour.")
    if image.mode != "RGB":
        image = image.convert("RGB")
    return np.array(image, dtype=np.uint8), tuple(notes)


def _eight_bit(values: NDArray[Any]) -> NDArray[np.uint8]:
    """Grey values of 16 or 32 bits, or floating point, as 0 to 255.

    The full scale is the smallest of 1 (floating point only), 255, 65 535 and the largest value
    itself that holds all of them; 16-bit values always count against 65 535.
    """
    finite = np.nan_to_num(values.astype(np.float32), nan=0.0, posinf=0.0, neginf=0.0)
    largest = float(finite.max(initial=0.0))
    scales = [65535.0] if values.dtype == np.uint16 else [255.0, 65535.0]
    if values.dtype.kind == "f":
        scales.insert(0, 1.0)
    full = next((scale for scale in scales if largest <= scale), largest)
    return np.clip(np.round(finite * (255.0 / full)), 0, 255).astype(np.uint8)
