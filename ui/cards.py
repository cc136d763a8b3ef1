"""What a page shows of each photo: its reading and its pictures, kept for the visit.

The pictures at full size are drawn when somebody asks for them: few do, and ten visits of fifty
photos would keep gigabytes of them. Until then a card holds the photo's own bytes, which the
uploader holds anyway.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

from ui.crops import seam_windows
from ui.outputs import jpeg_bytes, overlay_jpeg, png_bytes
from ui.screening import PhotoReader, Progress, Screened, probability_key, screen
from ui.wording import lines_in_words
from vision.overlay import draw_overlay
from vision.photo import open_photo
from vision.reading import PhotoError, PhotoReading
from vision.sources import Found

SHOWN_SIDE_PX = 1200
TALL_SIDE_PX = 620  # on the page; a portrait photo would otherwise fill several screens
MAX_PICTURES = 60  # cards whose pictures are kept in memory


@dataclass(frozen=True, slots=True, kw_only=True)
class Detail:
    """A part of the photo at full size, with and without its seams drawn; JPEG bytes."""

    title: str
    highlighted: bytes = field(repr=False)
    plain: bytes = field(repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One photo on the page, as it was sent and as it is shown; both are empty where the photo gave
    no reading, or where a long list keeps the reading alone."""

    card_id: str
    photo: str
    stem: str
    is_sample: bool
    answer: PhotoReading | PhotoError
    width_px: int | None = None  # on the page; None fills the column
    data: bytes = field(default=b"", repr=False)
    plain: bytes = field(default=b"", repr=False)
    highlighted: bytes = field(default=b"", repr=False)

    @property
    def has_details(self) -> bool:
        """Whether there is a seam to be shown at full size."""
        return bool(self.data) and isinstance(self.answer, PhotoReading) and bool(self.answer.seams)


def read_cards(
    sources: Iterable[Found],
    reader: PhotoReader,
    *,
    is_sample: bool,
    progress: Progress | None = None,
) -> Iterator[Card]:
    """A card for each photo of `sources`, as soon as it is read."""
    for result in screen(sources, reader, progress):
        yield make_card(result, is_sample=is_sample)


def make_card(result: Screened, *, is_sample: bool) -> Card:
    """The pictures of one result: shown size as PNG, seams at full size, whole overlay as JPEG."""
    card_id = id_of(result.name, result.data)
    reading = result.reading
    if reading is None or result.data is None:
        return Card(
            card_id=card_id,
            photo=result.name,
            stem=result.stem,
            is_sample=is_sample,
            answer=result.answer,
        )
    shown = open_photo(result.data, result.name, max_side_px=SHOWN_SIDE_PX).pixels
    return Card(
        card_id=card_id,
        photo=result.name,
        stem=result.stem,
        is_sample=is_sample,
        answer=reading,
        width_px=_page_width_px(reading),
        data=result.data,
        plain=png_bytes(shown),
        highlighted=png_bytes(draw_overlay(shown, reading, legend=False)),
    )


def id_of(name: str, content: object) -> str:
    """The same for the same photo under the same name; `content` is its bytes, or the error that
    stands for them."""
    data = content if isinstance(content, bytes) else b""
    return hashlib.sha256(name.encode() + b"\0" + data).hexdigest()[:16]


def read_ids(listed: Iterable[Card]) -> frozenset[str]:
    """Of the photos in a list that gave a reading."""
    return frozenset(card.card_id for card in listed if isinstance(card.answer, PhotoReading))


def marked_photo(card: Card) -> bytes:
    """The whole photo with its seams and their legend as a JPEG of its own size; b"" where the card
    keeps no picture."""
    if not card.data or isinstance(card.answer, PhotoError):
        return b""
    return overlay_jpeg(card.data, card.answer)


def details(card: Card) -> tuple[Detail, ...]:
    """The parts of the photo around its seams; none where the card keeps no picture."""
    if not card.data or isinstance(card.answer, PhotoError):
        return ()
    pixels = open_photo(card.data, card.photo).pixels
    drawn = draw_overlay(pixels, card.answer, legend=False)
    return tuple(
        Detail(
            title=window.title,
            highlighted=jpeg_bytes(drawn[window.top : window.bottom, window.left : window.right]),
            plain=jpeg_bytes(pixels[window.top : window.bottom, window.left : window.right]),
        )
        for window in seam_windows(card.answer)
    )


def table_rows(cards: Iterable[Card]) -> list[dict[str, str | float | None]]:
    """The triage list as rows of a table, in the order given."""
    return [_row(card) for card in cards]


def _row(card: Card) -> dict[str, str | float | None]:
    answer = card.answer
    if isinstance(answer, PhotoError):
        return {"Fabricated": None, "Photo": card.photo, "Reading": "not read"}
    return {
        # Never rounded to certainty: the column shows whole percent.
        "Fabricated": 100 * min(0.99, max(0.01, answer.verdict.fabricated_probability)),
        "Photo": card.photo,
        "Reading": answer.verdict.reading.title,
        "Fitting": answer.kind.value,  # how sure that is stands on the card, and in the downloads
        "Seams": lines_in_words(answer),
    }


def added(cards: Iterable[Card], card: Card) -> list[Card]:
    """The list with `card` in it, worst first.

    The same photo under the same name stands once; rendered samples leave when a photo of the
    user's own arrives; past MAX_PICTURES the least suspect keep their readings alone.
    """
    kept = [each for each in cards if each.card_id != card.card_id]
    if not card.is_sample:
        kept = [each for each in kept if not each.is_sample]
    ordered = sorted([*kept, card], key=_worst_first)
    return ordered[:MAX_PICTURES] + [_without_pictures(each) for each in ordered[MAX_PICTURES:]]


def _without_pictures(card: Card) -> Card:
    return replace(card, data=b"", plain=b"", highlighted=b"")


def _worst_first(card: Card) -> float:
    return probability_key(card.answer)


def _page_width_px(reading: PhotoReading) -> int | None:
    if reading.height <= reading.width:
        return None
    return max(1, round(TALL_SIDE_PX * reading.width / reading.height))
