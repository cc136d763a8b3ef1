"""Pictures of a reading as bytes, and the two files that `--out` writes for each photo."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from ui.screening import Screened
from ui.whole_files import write_whole
from vision.errors import OutputExists
from vision.overlay import draw_overlay, label_mask
from vision.photo import open_photo
from vision.reading import PhotoReading

Pixels = NDArray[np.uint8]


def jpeg_bytes(pixels: Pixels, quality: int = 92) -> bytes:
    """`pixels` ((H, W, 3) uint8, RGB) as a JPEG with full colour resolution."""
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=quality, subsampling=0)
    return out.getvalue()


def png_bytes(pixels: Pixels) -> bytes:
    """`pixels` ((H, W) or (H, W, 3) uint8) as a PNG."""
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG", compress_level=2)
    return out.getvalue()


def overlay_jpeg(data: bytes, reading: PhotoReading) -> bytes:
    """The whole photo in `data` with its seams and their legend, at the photo's size."""
    return jpeg_bytes(draw_overlay(open_photo(data, reading.photo).pixels, reading))


class OutputFolder:
    """Writes `<stem>.overlay.jpg` and `<stem>.seams.png`; never over an existing file unasked.

    Where two photos of one run share a stem, the later ones get `-2`, `-3` … after it.
    """

    def __init__(self, folder: Path, *, force: bool = False) -> None:
        self._folder = folder
        self._force = force
        self._taken: set[str] = set()

    def write(self, result: Screened) -> list[Path]:
        """The files written for one photo, none where it gave no reading.

        Raises OutputExists, before anything is written, where a file stands in the way, and
        NotWritten where the system refuses.
        """
        if result.reading is None or result.data is None:
            return []
        stem = self._free_stem(result.stem)
        overlay_path = self._folder / f"{stem}.overlay.jpg"
        seams_path = self._folder / f"{stem}.seams.png"
        for path in (overlay_path, seams_path):
            if path.exists() and not self._force:
                raise OutputExists(f"{path} exists already. Give --force to write over it.")
        write_whole(overlay_path, overlay_jpeg(result.data, result.reading))
        write_whole(seams_path, png_bytes(label_mask(result.reading)))
        return [overlay_path, seams_path]

    def _free_stem(self, wished: str) -> str:
        stem, number = wished, 1
        while stem.casefold() in self._taken:
            number += 1
            stem = f"{wished}-{number}"
        self._taken.add(stem.casefold())
        return stem
