"""Photos for the load: small, made from the shipped samples, no two of the same size.

All browsers send photos of the same names, so a page that shows another visit's photo under one of
them shows it: its size and its sha256 are another's.
"""

from __future__ import annotations

import io
from functools import cache
from pathlib import Path

from PIL import Image, ImageOps

from ui.loading import SAMPLES

WIDTH_PX, HEIGHT_PX = 320, 240


@cache
def sample(number: int) -> Image.Image:
    """One of the shipped rendered pictures."""
    paths = sorted(SAMPLES.glob("*.jpg"))
    return Image.open(paths[number % len(paths)]).convert("RGB")


def load_photo(browser: int, number: int, times: float = 1.0) -> bytes:
    """A JPEG of (320 + 2 · number) × (240 + 2 · browser) pixels, every second one mirrored;
    `times` as large with another factor."""
    size = (round((WIDTH_PX + 2 * number) * times), round((HEIGHT_PX + 2 * browser) * times))
    picture = sample(browser + number).resize(size, Image.Resampling.BICUBIC)
    if number % 2:
        picture = ImageOps.mirror(picture)
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=90)
    return out.getvalue()


def write_photos(folder: Path, browsers: int, photos: int, times: float = 1.0) -> list[list[Path]]:
    """The photos as files, a list for each browser, by name."""
    sets = []
    for browser in range(browsers):
        own = folder / f"browser-{browser:02}"
        own.mkdir()
        paths = [own / f"photo-{number:02}.jpg" for number in range(photos)]
        for number, path in enumerate(paths):
            path.write_bytes(load_photo(browser, number, times))
        sets.append(paths)
    return sets
