"""What a person says of a photo: the size, a sheet of paper in it, a length in it. And what that
makes of the fitting: millimetres, and a likely size."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fittings.dimensions import outside_diameter_mm
from fittings.words import Kind, Part

if TYPE_CHECKING:
    # Only named here: few photos come with a length, and the rest need not wait for the imports.
    from vision.detail import Detail
    from vision.known_length import KnownLine, LikelySize, Point
    from vision.network import Maps
    from vision.photo import Photo
    from vision.proportions import Proportions
    from vision.sheet import Sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What a person gives with a photo; `nps` is the size of a tee's run or a reducer's large end.
    With `shape` the piece's outline and proportions are wanted too, as they are for any size.

    ValueError for an `nps` that names no size, SizeNotListed for one that no pipe has.
    """

    nps: str | None = None
    sheet: bool = False
    line: KnownLine | None = None
    shape: bool = False

    @property
    def wants_shape(self) -> bool:
        """Whether outline and proportions are to be measured, which takes longer than the rest."""
        return self.shape or self.sheet or self.nps is not None or self.line is not None

    def __post_init__(self) -> None:
        if self.nps is not None:
            outside_diameter_mm(self.nps)


NOTHING_KNOWN = Known()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sized:
    """What a known length says: a likely size, the sheet it was found by, and plain sentences."""

    size: LikelySize | None
    sheet: Sheet | None
    sentences: tuple[str, ...]


def sized(
    photo: Photo,
    maps: Maps,
    kind: Kind,
    known: Known,
    proportions: Proportions | None,
    detail: Detail,
) -> Sized:
    """The likely size of the fitting in a photo by what is known of it.

    A sheet goes before a line. Where neither was asked for, or no fitting was found, there is no
    size and no sentence.
    """
    if kind is Kind.NONE or not (known.sheet or known.line):
        return Sized(size=None, sheet=None, sentences=())
    from vision.known_length import KnownLengthError
    from vision.sheet import find_sheet

    sheet, size, said = None, None, []
    if known.sheet:
        sheet = find_sheet(photo, maps.winner != Part.BACKGROUND.label)
        if sheet is None:
            said.append(
                "No sheet of A4 paper was found: lay a white one flat on darker ground beside the "
                "piece, all four corners in view."
            )
    try:
        size = _size(photo, maps, kind, known, sheet, proportions, detail)
    except KnownLengthError as error:
        said.append(f"No size could be told: {error}.")
    if size is not None:
        said.append(size.sentence)
        said += _against(size, known.nps)
    elif not said:
        said.append("No size could be told: the fitting's diameter in the photo is unclear.")
    return Sized(size=size, sheet=sheet, sentences=tuple(said))


def _size(
    photo: Photo,
    maps: Maps,
    kind: Kind,
    known: Known,
    sheet: Sheet | None,
    proportions: Proportions | None,
    detail: Detail,
) -> LikelySize | None:
    from vision.known_length import size_by_line

    # From the side a reducer is shorter than wide: its outline alone does not tell its diameter.
    unclear = proportions is None and kind is Kind.REDUCER
    if sheet is not None and proportions is not None:
        return sheet.size_by_shape(proportions)
    if detail.diameter_px is None or unclear:
        return None
    if sheet is not None:
        return sheet.size_by_width(detail.diameter_px, _middle(photo, maps))
    if known.line is not None:
        return size_by_line(known.line, detail.diameter_px, max(photo.width, photo.height))
    return None


def _middle(photo: Photo, maps: Maps) -> Point:
    """The middle of what the fitting covers, in pixels of the photo."""
    rows, columns = np.nonzero(maps.winner != Part.BACKGROUND.label)
    height, width = maps.shape
    x = (float(columns.mean()) + 0.5) * photo.width / width - 0.5
    return x, (float(rows.mean()) + 0.5) * photo.height / height - 0.5


def _against(size: LikelySize, nps: str | None) -> list[str]:
    """A sentence where the size given is far from the one found."""
    if nps is None or size.od_low_mm <= outside_diameter_mm(nps) <= size.od_high_mm:
        return []
    return [
        f"That is not NPS {nps} ({outside_diameter_mm(nps):.0f} mm outside), which was given: "
        "check which piece this is."
    ]
