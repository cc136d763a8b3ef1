"""What was ordered: one line of a purchase order for wrought butt-welding fittings.

A seam on a piece means something only against the line that it was bought under. Reading such a
line from a file is `ui.order_files`, judging it is `fittings.order.check`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from fittings.listed import ElbowRadius
from fittings.sizes import format_nps, parse_nps
from fittings.words import Construction, Kind


class OrderError(ValueError):
    """Something about an order line is wrong. The message says what, and what to write instead.

    `field` is the name of the field of `OrderLine`; `row` the line number in the file, which is
    what a spreadsheet calls the row too, 0 for a line made by hand.
    """

    def __init__(self, field: str, message: str, row: int = 0) -> None:
        self.field = field
        self.message = message
        self.row = row
        # The arguments as they came, so that the error survives a trip between processes.
        super().__init__(field, message, row)

    def __str__(self) -> str:
        place = f"row {self.row}, " if self.row else ""
        return f"{place}{self.field}: {self.message}"


class FittingForm(Enum):
    """The forms of ASME B16.9 that an order line can ask for; the value is what people read."""

    ELBOW_90_LONG = "90° long-radius elbow"
    ELBOW_45_LONG = "45° long-radius elbow"
    ELBOW_90_SHORT = "90° short-radius elbow"
    ELBOW_90_3D = "90° 3D elbow"
    ELBOW_45_3D = "45° 3D elbow"
    STRAIGHT_TEE = "straight tee"
    REDUCING_TEE = "reducing tee"
    CONCENTRIC_REDUCER = "concentric reducer"
    ECCENTRIC_REDUCER = "eccentric reducer"

    @property
    def kind(self) -> Kind:
        """The kind of fitting that a photograph of this form shows."""
        if self in _TEES:
            return Kind.TEE
        return Kind.REDUCER if self in _REDUCERS else Kind.ELBOW

    @property
    def two_sizes(self) -> bool:
        """Whether the form is ordered by two sizes: run and outlet, or large and small end."""
        return self is FittingForm.REDUCING_TEE or self in _REDUCERS


_TEES = (FittingForm.STRAIGHT_TEE, FittingForm.REDUCING_TEE)
_REDUCERS = (FittingForm.CONCENTRIC_REDUCER, FittingForm.ECCENTRIC_REDUCER)

# Bend radius and bend angle in degrees of every elbow that ASME B16.9 has a table for.
ELBOWS = {
    FittingForm.ELBOW_90_LONG: (ElbowRadius.LONG, 90),
    FittingForm.ELBOW_45_LONG: (ElbowRadius.LONG, 45),
    FittingForm.ELBOW_90_SHORT: (ElbowRadius.SHORT, 90),
    FittingForm.ELBOW_90_3D: (ElbowRadius.THREE_D, 90),
    FittingForm.ELBOW_45_3D: (ElbowRadius.THREE_D, 45),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """One line of an order. None and "" mean that the order does not say.

    `nps` is the size of the run or the large end, `second_nps` of the outlet or the small end, both
    as `fittings.sizes.format_nps` writes them. `grade` carries no class letters; they are in
    `suffix`. OrderError names the field that cannot be.
    """

    row: int  # line number in its file, 1 is the first line of the file; 0 when made by hand
    form: FittingForm
    nps: str
    second_nps: str | None = None
    schedule: str | None = None  # "40", "STD", "10S"; None when only a wall is given
    wall_mm: float | None = None  # given or looked up; None when unsaid
    spec: str | None = None  # "A234"
    grade: str | None = None  # "WPB", "WP11 CL1", "WP304L"
    suffix: str = ""  # "S", "W", "WX", "WU", "CR" or ""
    construction: Construction | None = None  # what the order asks for
    quantity: int = 1
    dimension_standard: str | None = None  # "ASME B16.9" when said
    start_material: str | None = None  # raw material that the order names: "A106-B", "B209 plate"
    certificate: str | None = None  # type that the order names: "EN 10204 3.1"
    examination: str | None = None  # of the welds, as the order words it: "RT 100 %"

    def __post_init__(self) -> None:
        self._check_sizes()
        if self.wall_mm is not None and not 0 < self.wall_mm < math.inf:
            raise OrderError(
                "wall_mm", f"a wall must be greater than 0, not {self.wall_mm:g} mm", self.row
            )
        if self.suffix not in SUFFIXES:
            known = ", ".join(each for each in SUFFIXES if each)
            raise OrderError(
                "suffix", f"{self.suffix!r} is no class letter; known are {known}", self.row
            )
        if isinstance(self.quantity, bool) or self.quantity < 1:
            raise OrderError("quantity", f"{self.quantity} is not a number of pieces", self.row)

    def _check_sizes(self) -> None:
        for field, size in (("nps", self.nps), ("second_nps", self.second_nps)):
            if size is not None and _plain(size, field, self.row) != size:
                plain = _plain(size, field, self.row)
                raise OrderError(field, f"write the size {size!r} as {plain!r}", self.row)
        if self.form.two_sizes and self.second_nps is None:
            raise OrderError(
                "second_nps", f"a {self.form.value} needs two sizes, such as 6 x 4", self.row
            )
        if not self.form.two_sizes and self.second_nps is not None:
            raise OrderError(
                "second_nps", f"a {self.form.value} has one size, not {self.sizes}", self.row
            )
        if self.second_nps is not None and parse_nps(self.second_nps) >= parse_nps(self.nps):
            raise OrderError(
                "second_nps",
                f"{self.second_nps} must be smaller than {self.nps}; write the larger size first",
                self.row,
            )

    @property
    def sizes(self) -> str:
        """The sizes as the trade writes them: "6" or "6 x 4"."""
        return self.nps if self.second_nps is None else f"{self.nps} x {self.second_nps}"

    @property
    def material(self) -> str:
        """The material as people write it, "A403 WP304L-S"; "" where the order names none."""
        named = " ".join(filter(None, (self.spec, self.grade)))
        # The grade symbol of a CR fitting says CR itself.
        return f"{named}-{self.suffix}" if named and self.suffix not in ("", "CR") else named

    @property
    def construction_by_letter(self) -> Construction | None:
        """What the class letter alone says; None for a bare grade and for CR."""
        return _BY_LETTER.get(self.suffix)


# Class letters of ASTM A403 (S, W, WX, WU), the letter W of ASTM A234, and CR for a fitting to
# MSS SP-43. "" is a bare grade.
SUFFIXES = ("", "S", "W", "WX", "WU", "CR")
_BY_LETTER = {
    "S": Construction.SEAMLESS,
    **dict.fromkeys(("W", "WX", "WU"), Construction.WELDED),
}


def _plain(size: str, field: str, row: int) -> str:
    try:
        return format_nps(size)
    except ValueError as error:
        raise OrderError(field, str(error), row) from None
