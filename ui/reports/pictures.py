"""Photos as a report shows them: seams drawn on, reduced, and nothing in them but the picture.

A picture is drawn anew from its pixels, so what the camera wrote beside them (place, time, owner,
serial number) is not in it.
"""

from __future__ import annotations

import io
from collections.abc import Callable

from PIL import Image

from ui.records import Photo, RecordedReading
from ui.records.errors import Damaged, NotRecorded
from ui.reports.blocks import Picture
from ui.reports.facts import photo_in_words
from ui.wording import key_in_words
from vision.errors import PhotoUnreadable
from vision.overlay import draw_overlay
from vision.photo import open_photo

LONGEST_PX = 1000  # 300 dots to the inch at the width of half a page
_QUALITY = 80

ReadPhoto = Callable[[str], bytes]
"""Gives a photo's original bytes by their sha256, as `ui.records.store.PhotoStore.read`."""


def highlighted(photo: Photo, reading: RecordedReading | None, read_photo: ReadPhoto) -> Picture:
    """The photo with its seams, or the frame that stands for one that can't be shown."""
    said = None if reading is None else reading.reading
    key = f". {key_in_words(said, numbers=False)}" if said is not None and said.seams else ""
    caption = f"{photo.name}: {photo_in_words(reading)}{key}"
    fine = f"sha256 {photo.sha256}"
    try:
        opened = open_photo(read_photo(photo.sha256), photo.name, max_side_px=LONGEST_PX)
    except PhotoUnreadable:
        return Picture(data=None, caption=caption, fine=fine)
    except (Damaged, NotRecorded) as error:
        return Picture(data=None, caption=f"{caption}. The original: {error}", fine=fine)
    pixels = opened.pixels
    if said is not None:
        # A report tells the reasons of all photos together, so a number here would point at none.
        pixels = draw_overlay(pixels, said, legend=False, numbers=False)
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=_QUALITY)
    return Picture(data=out.getvalue(), caption=caption, fine=fine)
