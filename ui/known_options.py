"""The options that say what is known of a photo, as `vision.known.Known`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from fittings.dimensions import SizeNotListed, outside_diameter_mm
from fittings.units import QuantityError, length_mm

if TYPE_CHECKING:
    from vision.known import Known
    from vision.known_length import KnownLine, Point

NPS_HELP = (
    "The nominal size of the pieces (a tee's run, a reducer's large end): the narrowest seam that"
    " a photo could show is then told in millimetres, and proportions are held against the rows"
    " of that size."
)
SHEET_HELP = (
    "A white sheet of A4 paper lies flat on the ground beside each piece, all corners in view: find"
    " it, and tell a likely size."
)
SHAPE_HELP = (
    "Measure the piece's outline and proportions too, where the photo shows them: some photos then"
    " take about ten times as long."
)
LENGTH_HELP = (
    "A known length in the photo, such as a steel rule's 300mm or 12in; with --from and --to, for"
    " one photo."
)
FROM_HELP = "One end of that length, x,y in pixels of the photo as a person sees it."
TO_HELP = "Its other end."


def known_of(
    nps: str | None,
    sheet: bool,
    length: str | None,
    start: str | None,
    end: str | None,
    *,
    shape: bool = False,
    photos: int | None,
) -> Known | None:
    """What the options say; None where they say nothing. `photos` is how many will be read, None
    where that is not known. typer.BadParameter naming the option that is wrong."""
    line = _line(length, start, end, photos)
    if nps is None and not sheet and not shape and line is None:
        return None
    if nps is not None:
        try:
            outside_diameter_mm(nps)
        except (ValueError, SizeNotListed) as error:
            raise typer.BadParameter(f"{error}.", param_hint="--nps") from None
    from vision.known import Known

    return Known(nps=nps, sheet=sheet, line=line, shape=shape)


def _line(
    length: str | None, start: str | None, end: str | None, photos: int | None
) -> KnownLine | None:
    given = {"--length": length, "--from": start, "--to": end}
    missing = [name for name, value in given.items() if value is None]
    if len(missing) == len(given):
        return None
    if length is None or start is None or end is None:
        raise typer.BadParameter(
            "--length, --from and --to go together.", param_hint=" ".join(missing)
        )
    if photos != 1:
        raise typer.BadParameter(
            "its ends are places in one photo: give one photo.", param_hint="--length"
        )
    from vision.known_length import KnownLengthError, KnownLine

    try:
        return KnownLine(
            start=_point(start, "--from"),
            end=_point(end, "--to"),
            length_mm=length_mm(length, "length"),
        )
    except (KnownLengthError, QuantityError) as error:
        raise typer.BadParameter(f"{error}.", param_hint="--length") from None


def _point(text: str, option: str) -> Point:
    try:
        x, y = (float(part) for part in text.replace(";", ",").split(","))
    except ValueError:
        raise typer.BadParameter(f"{text!r} is not like 120,340.", param_hint=option) from None
    return x, y
