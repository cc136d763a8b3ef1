"""What it costs in strength when an ordered fitting turns out to be a fabrication.

The ordered piece and the same piece as a fabrication go through the sums of ASME B31.3-2016: the
stress intensification of Appendix D, area replacement at a welded-on outlet (304.3.3), the pressure
of a mitred bend (304.2.3) and the wall for pressure (304.1.2). The sentences are for the record of
a hold; none of them accepts or rejects a piece.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from fittings.strength.fabricated import Fabricated, as_bend, as_outlet, headline
from fittings.strength.flexibility import Flexibility, elbow, mitred_bend, reducer, reducer_b31_1
from fittings.strength.mitre_pressure import mitre_pressure
from fittings.strength.ordered_piece import OrderedPiece
from fittings.strength.pressure import (
    BendWall,
    Design,
    WallForPressure,
    bend_wall,
    pipe_pressure,
    wall_for_pressure,
)
from fittings.strength.reinforcement import Outlet, Pad, reinforcement
from fittings.strength.steps import Step, StrengthError, not_negative, positive
from fittings.strength.tee_flexibility import formed_tee, formed_tee_older, welded_outlet
from fittings.words import Kind

SCREENING = (
    "Advisory only: a screening figure, which accepts nothing and rejects nothing. The piping "
    "engineer of record decides, by the code edition and the data of the job."
)
EDITION = (
    "Sums after ASME B31.3-2016 and its Appendix D, Table D300. B31.3-2020 and later refer to ASME "
    "B31J instead (from memory), which gives run and branch factors of their own."
)
_LEFT_OUT = (
    "The factors are for bending alone: stiffening by flanged ends and by internal pressure is "
    "left out."
)
_PIECES = {90.0: (2, 3, 4, 5), 45.0: (2, 3)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Fabrication:
    """How the piece is thought to be made; what is None or 0 is not known or not there.

    `pieces` of a mitred bend, thickness and width (on each side) of a `pad_mm` round an outlet,
    `leg_mm` of the weld round it.
    """

    pieces: int | None = None
    pad_mm: float = 0.0
    pad_width_mm: float | None = None
    leg_mm: float | None = None

    def __post_init__(self) -> None:
        not_negative(self.pad_mm, "pad", "mm")
        if self.pad_width_mm is not None:
            positive(self.pad_width_mm, "pad width", "mm")
        if self.leg_mm is not None:
            not_negative(self.leg_mm, "weld leg", "mm")
        if self.pieces is not None and self.pieces < 2:
            raise StrengthError("pieces", f"a mitred bend has at least 2 pieces, not {self.pieces}")
        if self.pad_width_mm is not None and not self.pad_mm:
            raise StrengthError("pad width", "means nothing without a pad; give its thickness too")


@dataclass(frozen=True, slots=True, kw_only=True)
class Consequence:
    """Everything that was reckoned for one ordered piece, `sentence` first of all."""

    piece: OrderedPiece
    fabrication: Fabrication
    sentence: str
    ordered: Flexibility
    ordered_otherwise: Flexibility | None
    fabricated: tuple[Fabricated, ...]
    pressure_mpa: float | None
    design: Design | None
    wall: WallForPressure | None
    bend: BendWall | None
    pipe_mpa: float | None
    pipe_steps: tuple[Step, ...]
    notes: tuple[str, ...]


def consequence(
    piece: OrderedPiece,
    fabrication: Fabrication | None = None,
    design: Design | None = None,
    pressure_mpa: float | None = None,
) -> Consequence:
    """The ordered piece against the same piece as a fabrication.

    Without a number of pieces a bend is reckoned for the usual ones. Without `design` there is no
    pressure sum beyond a mitred bend's share of straight pipe; without `pressure_mpa` none that
    needs a demand. StrengthError names the field that cannot be.
    """
    made = fabrication or Fabrication()
    _check_belongs(piece, made)
    if pressure_mpa is not None and design is None:
        raise StrengthError("allowable", "a pressure needs an allowable stress beside it")
    ordered, otherwise = _as_ordered(piece)
    if piece.form.kind is Kind.ELBOW:
        ways = _bends(piece, ordered, made, design, pressure_mpa)
    elif piece.form.kind is Kind.TEE:
        ways = _outlets(piece, ordered, made, design, pressure_mpa)
    else:
        ways = ()
    wall = bend = pipe = None
    if design is not None:
        least = design.least_wall_mm(piece.wall_mm)
        pipe = pipe_pressure(piece.outside_mm, least, design)
        if pressure_mpa is not None:
            wall = wall_for_pressure(pressure_mpa, piece.outside_mm, design)
            if piece.bend_radius_mm is not None:
                bend = bend_wall(pressure_mpa, piece.outside_mm, piece.bend_radius_mm, design)
    return Consequence(
        piece=piece,
        fabrication=made,
        sentence=headline(ways),
        ordered=ordered,
        ordered_otherwise=otherwise,
        fabricated=ways,
        pressure_mpa=pressure_mpa,
        design=design,
        wall=wall,
        bend=bend,
        pipe_mpa=None if pipe is None else pipe.pressure_mpa,
        pipe_steps=() if pipe is None else pipe.steps,
        notes=_notes(piece, made, ways, wall, design, pressure_mpa),
    )


def _check_belongs(piece: OrderedPiece, made: Fabrication) -> None:
    """A pad on an elbow or pieces of a tee would be passed over in silence, so they are refused."""
    kind = piece.form.kind
    if made.pieces is not None and kind is not Kind.ELBOW:
        raise StrengthError("pieces", f"a {piece.form.value} is not cut into pieces; leave it out")
    for field, value in (("pad", made.pad_mm), ("weld leg", made.leg_mm)):
        if value and kind is not Kind.TEE:
            raise StrengthError(field, f"a {piece.form.value} has no outlet; leave it out")


def _as_ordered(piece: OrderedPiece) -> tuple[Flexibility, Flexibility | None]:
    """The ordered piece, and the same by another rule where there is one worth knowing."""
    if piece.bend_radius_mm is not None:
        bend = elbow(piece.outside_mm, piece.wall_mm, piece.bend_radius_mm)
        return replace(bend, piece=f"formed {piece.form.value}"), None
    if piece.form.kind is Kind.TEE:
        tee = formed_tee(piece.outside_mm, piece.wall_mm)
        return tee, formed_tee_older(piece.outside_mm, piece.wall_mm)
    if piece.second_outside_mm is None or piece.second_wall_mm is None or piece.length_mm is None:
        raise StrengthError("second size", "a reducer needs its small end and its length")
    otherwise = reducer_b31_1(
        piece.outside_mm, piece.second_outside_mm, piece.second_wall_mm, piece.length_mm
    )
    return reducer(), otherwise


def _bends(
    piece: OrderedPiece,
    ordered: Flexibility,
    made: Fabrication,
    design: Design | None,
    pressure_mpa: float | None,
) -> tuple[Fabricated, ...]:
    angle, radius = piece.angle_deg or 90.0, piece.bend_radius_mm or 0.0
    counts = _PIECES[angle] if made.pieces is None else (made.pieces,)
    ways = []
    for count in counts:
        bend = mitred_bend(piece.outside_mm, piece.wall_mm, radius, count, angle)
        mitre = mitre_pressure(
            piece.outside_mm,
            piece.wall_mm,
            radius,
            count,
            design or Design(allowable_mpa=1.0),
            angle_deg=angle,
        )
        ways.append(as_bend(ordered, bend, mitre, design, pressure_mpa))
    return tuple(ways)


def _outlets(
    piece: OrderedPiece,
    ordered: Flexibility,
    made: Fabrication,
    design: Design | None,
    pressure_mpa: float | None,
) -> tuple[Fabricated, ...]:
    ways = []
    for pad_mm in (0.0, made.pad_mm) if made.pad_mm else (0.0,):
        area = None
        if design is not None and pressure_mpa is not None:
            area = reinforcement(_outlet(piece, made, pad_mm), pressure_mpa, design)
        way = welded_outlet(piece.outside_mm, piece.wall_mm, pad_mm)
        ways.append(as_outlet(ordered, way, area))
    return tuple(ways)


def _outlet(piece: OrderedPiece, made: Fabrication, pad_mm: float) -> Outlet:
    """The welded-on outlet; a pad of unknown width is as wide as half the branch."""
    branch_od, branch_wall = piece.second_outside_mm, piece.second_wall_mm
    if branch_od is None or branch_wall is None:
        raise StrengthError("second size", "a tee needs the size and wall of its outlet")
    pad = None
    if pad_mm:
        width = branch_od / 2 if made.pad_width_mm is None else made.pad_width_mm
        pad = Pad(thickness_mm=pad_mm, width_mm=width)
    return Outlet(
        run_od_mm=piece.outside_mm,
        run_wall_mm=piece.wall_mm,
        branch_od_mm=branch_od,
        branch_wall_mm=branch_wall,
        leg_mm=made.leg_mm,
        pad=pad,
    )


def _notes(
    piece: OrderedPiece,
    made: Fabrication,
    ways: tuple[Fabricated, ...],
    wall: WallForPressure | None,
    design: Design | None,
    pressure_mpa: float | None,
) -> tuple[str, ...]:
    notes = []
    if wall is not None and wall.order_mm > piece.wall_mm:
        notes.append(
            f"straight pipe of the ordered wall of {piece.wall_mm:g} mm is itself too thin for "
            f"{pressure_mpa:g} MPa: 304.1.2 asks for {wall.order_mm:.2f} mm"
        )
    if piece.form.kind is Kind.ELBOW:
        notes.append(
            "a fitting to ASME B16.9 holds what straight pipe of its wall holds (B16.9 section 2, "
            "from memory); the mitred bend is taken with the bend radius of the ordered elbow"
        )
        if design is None:
            notes.append("no allowable stress was given, so the mitre sums use S = 1 MPa")
    elif piece.form.kind is Kind.TEE:
        notes.append(
            "a fitting to ASME B16.9 needs no area replacement (304.3.2, from memory); a welded-on "
            "outlet does"
        )
        if made.pad_mm and made.pad_width_mm is None:
            notes.append(
                "no width of the pad was given, so it is taken as half the branch's diameter on "
                "each side"
            )
        if any(way.times < 1 for way in ways):
            notes.append(
                "by the table so thick a pad brings the factor below the formed tee's; that is "
                "about bending alone and does not make the piece a fitting to ASME B16.9"
            )
        if piece.second_nps is not None:
            notes.append(
                "the characteristic h takes wall and mean radius of the run (NPS "
                f"{piece.nps}, {piece.wall_mm:g} mm); the branch wall (NPS {piece.second_nps}, "
                f"{piece.second_wall_mm:g} mm) enters the area sum alone. Stresses in the branch "
                "take the lesser of the run's wall and ii times the branch's for its section "
                "modulus (319.4.4, from memory), which is not reckoned here"
            )
    return (*notes, _LEFT_OUT, EDITION)
