"""What the screening page takes in and says, without Streamlit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Protocol

from fittings.dimensions import SizeNotListed
from fittings.words import Reading, percent
from ui import loading
from ui.trade.answers import TradeTrouble
from vision import errors
from vision.known import Known
from vision.reading import PhotoReading
from vision.sources import Found, expand

INTRODUCTION = (
    "For elbows, tees and reducers that were bought as wrought butt-welding fittings. "
    "Each photo is searched for weld seams; those that run *around* the part or *where outlet and "
    "run meet* speak of fabrication from pipe. The photos stay on this machine."
)
UPLOAD_HELP = (
    "JPEG, PNG, WebP, TIFF or HEIC; also a ZIP archive of photos, or a PDF or Word (.docx) file "
    "that holds some. "
    "Fill the frame with one piece, in even light, and take it from several sides."
)
SAMPLE_NOTE = "Rendered picture, not a photograph."
SAMPLES_HINT = "The samples are rendered pictures, not photographs."
NOTHING_GIVEN = "Choose one photo or more first, then press the button."
LEFT_OFF = (
    "Reading stopped before it came to the end. Choose the same photos again and press the button."
)
NO_SAMPLES = "This copy ships no sample pictures."
PICTURE_LEFT = "Too many photos to keep every picture in memory. Read this one again by itself."
NPS_HELP = (
    "The nominal size of the pieces, such as 6 or 2-1/2 (a tee's run, a reducer's large end): the "
    "narrowest seam that a photo could show is then told in millimetres, and proportions are held "
    "against the rows of that size."
)
SHAPE_HELP = (
    "An arc or a polygon, a rounded or a sharp crotch, proportions that fit a row of ASME B16.9 or "
    "none: what tells a fabrication whose welds are ground flush. Some photos take ten times as "
    "long."
)
PHYSICAL_CHECK = "The physical check that settles it"
MORE_PHOTOS = "More photographs first, then the physical check"


class Upload(Protocol):
    """A file that a browser sent."""

    @property
    def name(self) -> str: ...
    def getvalue(self) -> bytes: ...


def from_uploads(files: Iterable[Upload]) -> Iterator[Found]:
    """The photos in the files sent, one at a time."""
    for file in files:
        yield from expand(file.name, file.getvalue())


def from_samples() -> Iterator[Found]:
    """The shipped sample pictures."""
    return loading.sample_photos()


def sample_order() -> bytes:
    """The shipped sample order."""
    return (loading.SAMPLES / "order.csv").read_bytes()


def known_of(nps: str, *, sheet: bool, shape: bool) -> Known:
    """What a person says of the photos. TradeTrouble for a size that there is not."""
    try:
        return Known(nps=nps.strip() or None, sheet=sheet, shape=shape)
    except (ValueError, SizeNotListed) as error:
        raise TradeTrouble(f"{error}.") from None


def share_done(done: int, total: int | None) -> float:
    """0 to 1 for a progress bar; an archive may hold more photos than were announced."""
    expected = max(total or loading.sample_count(), done + 1)
    return done / expected


def summary(read: int, unread: int, *, is_sample: bool) -> str:
    """What a press of the button came to, in one line."""
    if not read + unread:
        return NO_SAMPLES if is_sample else NOTHING_GIVEN
    return f"Photos read: {read}" + (f"; could not be read: {unread}" if unread else "")


def step_title(reading: PhotoReading) -> str:
    """What stands above the next step, which begins with photographs where the reading is open."""
    return MORE_PHOTOS if reading.verdict.reading is Reading.UNCLEAR else PHYSICAL_CHECK


def seen(reading: PhotoReading) -> str:
    """How much of the outside the photo shows."""
    return f"This photo shows about {percent(reading.seen_fraction)} of the outside."


def model_trouble(error: Exception) -> str:
    """One line for a model that can't be loaded."""
    return errors.one_line(f"No photo can be read now: {error}")
