"""What a photo says of the piece's shape: outline, proportions, detail, size by a known length.

Each is its own module's; here they are measured together, and put as evidence and as JSON.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fittings.words import EvidenceSource, Kind
from vision.detail import Detail
from vision.detail import measure as measure_detail
from vision.known import Known, Sized, sized
from vision.network import Maps
from vision.outline_size import TooSmall
from vision.photo import Photo
from vision.surface import place_is_known

if TYPE_CHECKING:
    from vision.outline import OutlineEvidence
    from vision.proportions import Proportions
    from vision.standard_rows import AgainstRows

Place = tuple[float, float]

OUTLINE_SAYS = 1.5
"""Log-odds either way, between 4 and 5 to 1, from which on the outline is told as evidence."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """The measures of one photo's piece, each None where the photo does not show it. Places are in
    pixels of the map."""

    outline: OutlineEvidence | None
    proportions: Proportions | None
    rows: AgainstRows | None
    detail: Detail | None
    known: Sized | None

    @property
    def log_odds(self) -> float:
        """Of a fabricated shape, by the outline; 0 where it says nothing."""
        return 0.0 if self.outline is None else self.outline.log_odds

    def sentences(self) -> list[tuple[EvidenceSource, str, Place | None]]:
        """What it says, in plain sentences with their figures, each with a place to look at.

        An outline that is nearly as likely the other way says nothing and is left out, unless it
        is the photo's size that keeps it from telling; so are proportions of which it cannot be
        told whether they fit a row.
        """
        said: list[tuple[EvidenceSource, str, Place | None]] = []
        if self.outline is not None and (
            abs(self.outline.log_odds) >= OUTLINE_SAYS or isinstance(self.outline, TooSmall)
        ):
            place = self.outline.places[0] if self.outline.places else None
            said.append((EvidenceSource.OUTLINE, self.outline.sentence, place))
        if self.rows is not None and self.rows.fits is not None and self.proportions is not None:
            middle = self.proportions.middle_px
            said.append((EvidenceSource.PROPORTIONS, self.rows.sentence, middle))
        if self.known is not None:
            source = EvidenceSource.KNOWN_LENGTH
            # After the colon small, as the other sources' sentences are.
            told = [each[:1].lower() + each[1:] for each in self.known.sentences]
            said += [(source, f"{source.title}: {each}", None) for each in told]
        return said

    def as_json(self) -> dict[str, Any]:
        """Four objects by name, None for what the photo does not show; figures alone."""
        outline, detail = self.outline, self.detail
        size = None if self.known is None else self.known.size
        return {
            "outline": None if outline is None else _figures(outline, _TOLD),
            "proportions": None if self.proportions is None else _proportions(self),
            "detail": None if detail is None else _figures(detail),
            "size": None if size is None else _figures(size) | {"nps": size.nps},
        }


_TOLD = frozenset({"places", "sentence"})
NOTHING = Shape(outline=None, proportions=None, rows=None, detail=None, known=None)
"""Of a photo without a fitting."""


def measure_shape(
    photo: Photo,
    pixels: NDArray[np.uint8],
    maps: Maps,
    kind: Kind,
    known: Known,
    *,
    whole: bool = True,
) -> Shape:
    """All measures of the piece of that kind in a photo that the network saw as `pixels`.

    Without `whole`, and where the network does not know where on the piece its pixels lie, only the
    detail is measured: outline and proportions would say nothing, after long fits.
    """
    if kind is Kind.NONE:
        return NOTHING
    whole = whole and place_is_known(maps)
    proportions = measure_proportions(maps, kind) if whole else None
    detail = measure_detail(
        pixels,
        maps,
        kind,
        photo_px=max(photo.width, photo.height),
        proportions=proportions,
        nps=known.nps,
    )
    return Shape(
        outline=read_outline(maps, kind) if whole else None,
        proportions=proportions,
        rows=None if proportions is None else rows_beside(proportions, known.nps),
        detail=detail,
        known=sized(photo, maps, kind, known, proportions, detail) if whole else None,
    )


def measure_proportions(maps: Maps, kind: Kind) -> Proportions | None:
    """`vision.proportions.measure`, imported when it is needed, as what follows is."""
    from vision import proportions

    return proportions.measure(maps, kind)


def rows_beside(proportions: Proportions, nps: str | None) -> AgainstRows | None:
    """`vision.standard_rows.against_rows`."""
    from vision import standard_rows

    return standard_rows.against_rows(proportions, nps)


def read_outline(maps: Maps, kind: Kind) -> OutlineEvidence | None:
    """`vision.outline.read_outline`, imported when it is needed: it takes SciPy, which takes longer
    to import than most readings do."""
    from vision import outline

    return outline.read_outline(maps, kind)


def _proportions(shape: Shape) -> dict[str, Any]:
    found, rows = shape.proportions, shape.rows
    assert found is not None
    return {
        "ratios": [_figures(ratio) for ratio in found.ratios],
        "fits_a_row": None if rows is None else rows.fits,
        "nearest": None if rows is None else f"{rows.nearest.form} {rows.nearest.size}",
        "off_standard_errors": None if rows is None else round(rows.off, 2),
    }


def _figures(measured: Any, left_out: frozenset[str] = frozenset()) -> dict[str, Any]:
    """A dataclass's fields, numbers rounded to four places."""
    return {
        name: round(float(value), 4) if isinstance(value, (float, np.floating)) else value
        for name, value in asdict(measured).items()
        if name not in left_out
    }
