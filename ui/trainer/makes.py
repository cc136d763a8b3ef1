"""How fittings are made, and so where their seams can be.

Every text is in our own words, after published descriptions of manufacture; `source` says what
stands behind it and what is common practice without a source. What makes a piece a fabrication is
ASME B16.9 section 1.3 (2007 edition): fittings that use circumferential or intersection welds count
as pipe fabrication and lie outside the standard.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from fittings.words import Construction, Kind, Orientation


class Make(Enum):
    """One way to make a fitting; the value is its key in drawings and session state."""

    PUSHED_ELBOW = "pushed elbow"
    HALVES_ELBOW = "elbow of two halves"
    MITRED_ELBOW = "mitred elbow"
    DRAWN_TEE = "drawn tee"
    HALVES_TEE = "tee of two halves"
    SET_ON_TEE = "outlet set on"
    SET_IN_TEE = "outlet set in"
    PADDED_TEE = "outlet with a pad"
    PRESSED_REDUCER = "pressed reducer"
    PLATE_REDUCER = "reducer from plate"
    ROLLED_REDUCER = "rolled cone"
    GORED_REDUCER = "gores"

    @property
    def about(self) -> About:
        return _ABOUT[self]


@dataclass(frozen=True, slots=True, kw_only=True)
class About:
    """What a trainer says of a make. `seams` are the orientations that it can carry."""

    kind: Kind
    construction: Construction
    title: str
    how: str
    where: str
    outline: str
    seams: tuple[Orientation, ...]
    source: str


_B16_9 = "ASME B16.9 sections 1.3 (2007) and 7 (2003, 2007), public extracts"
_FORMING = "published descriptions of manufacture"
_HABIT = "common practice, no source"
_L, _C, _B = Orientation.LONGITUDINAL, Orientation.CIRCUMFERENTIAL, Orientation.BRANCH

_ABOUT = {
    Make.PUSHED_ELBOW: About(
        kind=Kind.ELBOW,
        construction=Construction.SEAMLESS,
        title="Pushed over a mandrel",
        how=(
            "A length of seamless pipe, a size or so smaller than the elbow, is heated and pushed "
            "over a horn-shaped mandrel that bends and widens it in one go. The start pipe is "
            "smaller so that the widening makes up for the bending and the wall comes out even."
        ),
        where="None. Light drag marks of the mandrel may run lengthwise inside the bore.",
        outline="One arc from end to end, perhaps with a short straight at each bevel.",
        seams=(),
        source=f"{_FORMING}; the size of the start pipe: {_HABIT}",
    ),
    Make.HALVES_ELBOW: About(
        kind=Kind.ELBOW,
        construction=Construction.WELDED,
        title="Two halves pressed from plate, welded lengthwise",
        how=(
            "Two shells are pressed from plate in a die, trimmed, put together and welded along "
            "both edges. Large elbows are mostly made so."
        ),
        where=(
            "Two seams along the bend, opposite each other: at the two sides, or at extrados and "
            "intrados. Both run from bevel to bevel and never around the part."
        ),
        outline="One arc, as in a pushed elbow.",
        seams=(_L,),
        source=f"{_FORMING}; where the two seams lie: {_HABIT}",
    ),
    Make.MITRED_ELBOW: About(
        kind=Kind.ELBOW,
        construction=Construction.FABRICATED,
        title="Cut and mitred pipe",
        how=(
            "Straight pipe is cut at a slant, the pieces are turned against each other, and each "
            "cut is welded all round. With n pieces there are n − 1 welds."
        ),
        where=(
            "One seam around the part at every cut. If the pipe had a lengthwise seam, it jumps "
            "from piece to piece."
        ),
        outline=(
            "Straights that meet in corners at extrados and intrados, equally spaced. Grinding "
            "takes the bead away, not the corner. At the two sides there is no corner to see."
        ),
        seams=(_C, _L),
        source=f"{_B16_9}; corners by plain geometry",
    ),
    Make.DRAWN_TEE: About(
        kind=Kind.TEE,
        construction=Construction.SEAMLESS,
        title="Drawn out in several heats",
        how=(
            "A hole is cut in the wall of a thick pipe, the place is heated, and a die or plug is "
            "drawn through it from inside, again and again, until the outlet stands. Small tees "
            "are bulged cold by pressure in a closed die."
        ),
        where="None. Die parting lines may show; they are straight, without bead or ripple.",
        outline="The crotch is a smooth radius all round, and its wall is thicker than the pipe's.",
        seams=(),
        source=f"{_FORMING}; what a parting line looks like: {_HABIT}",
    ),
    Make.HALVES_TEE: About(
        kind=Kind.TEE,
        construction=Construction.WELDED,
        title="Two halves pressed from plate, welded lengthwise",
        how=(
            "Two half tees are pressed from plate and welded along the plane that holds run and "
            "outlet."
        ),
        where=(
            "Along the run's top and underside and up the outlet at both crotches, all in one "
            "plane. Nothing runs around the outlet's root."
        ),
        outline="The crotch is a smooth radius, as in a drawn tee.",
        seams=(_L,),
        source=f"{_FORMING}; where the seams lie: {_HABIT}",
    ),
    Make.SET_ON_TEE: About(
        kind=Kind.TEE,
        construction=Construction.FABRICATED,
        title="Outlet set on the run",
        how=(
            "A hole as wide as the outlet's bore is cut in the run. The outlet's end is cut to the "
            "saddle's shape, set on the run and welded all round."
        ),
        where="At the outlet's root, on the outlet's side of the corner, all the way round.",
        outline="A sharp or weld-filled corner where a formed tee has a radius.",
        seams=(_B, _L),
        source=f"{_B16_9}; the shape by plain geometry",
    ),
    Make.SET_IN_TEE: About(
        kind=Kind.TEE,
        construction=Construction.FABRICATED,
        title="Outlet set into the run",
        how=(
            "A hole as wide as the outlet's outside is cut in the run. The outlet is let into it "
            "and welded to the run's outside."
        ),
        where="At the outlet's root, out on the run, all the way round.",
        outline="A sharp or weld-filled corner; inside, the outlet's end may stand in the bore.",
        seams=(_B, _L),
        source=f"{_B16_9}; the shape by plain geometry",
    ),
    Make.PADDED_TEE: About(
        kind=Kind.TEE,
        construction=Construction.FABRICATED,
        title="Outlet set on, with a reinforcing pad",
        how=(
            "As an outlet set on, with a plate bent to the run about it that makes up for the "
            "metal of the hole. The pad is welded to the outlet and to the run."
        ),
        where="Two seams about the outlet: at its root, and along the pad's edge.",
        outline="A step on the run about the outlet. A wrought tee has no pad.",
        seams=(_B, _L),
        source=f"{_B16_9}; area replacement: ASME B31.3-2016, 304.3.3",
    ),
    Make.PRESSED_REDUCER: About(
        kind=Kind.REDUCER,
        construction=Construction.SEAMLESS,
        title="Pressed in dies",
        how=(
            "A length of seamless pipe of the large end's size is pressed into a die, hot or cold, "
            "which draws one end in; or pipe of the small size is widened over a plug."
        ),
        where="None.",
        outline="A bell, or a cone that runs into both ends with a radius.",
        seams=(),
        source=f"{_FORMING}; widening over a plug: {_HABIT}",
    ),
    Make.PLATE_REDUCER: About(
        kind=Kind.REDUCER,
        construction=Construction.WELDED,
        title="Pressed from plate, welded lengthwise",
        how=(
            "Plate is rolled or pressed to a shell, welded along its edge, and sized in a die so "
            "that the ends come out round and the taper runs in smoothly."
        ),
        where="One seam, or two opposite, along the part from end to end.",
        outline="As a pressed one: no corner.",
        seams=(_L,),
        source=f"{_FORMING}; number of seams: {_HABIT}",
    ),
    Make.ROLLED_REDUCER: About(
        kind=Kind.REDUCER,
        construction=Construction.FABRICATED,
        title="Rolled cone between two pipe ends",
        how=(
            "A flat blank is rolled to a plain cone and welded along its edge. A ring of pipe is "
            "welded to each end of it."
        ),
        where=(
            "One seam along the cone, and a seam around the part where the cone meets each ring."
        ),
        outline="Two corners, one at each end of the straight taper.",
        seams=(_C, _L),
        source=f"{_B16_9}; the shape by plain geometry",
    ),
    Make.GORED_REDUCER: About(
        kind=Kind.REDUCER,
        construction=Construction.FABRICATED,
        title="Gores cut from pipe",
        how=(
            "Long wedges are cut out of the end of a pipe, the tongues between them are bent "
            "inwards, and the cuts are welded. A ring of smaller pipe closes the end."
        ),
        where=(
            "Several seams along the taper, equally spaced, and a seam around the part at each end "
            "of it. More than two lengthwise seams are no wrought reducer."
        ),
        outline="Corners where the taper begins and ends, and flats between the seams.",
        seams=(_C, _L),
        source=f"{_B16_9}; how it is cut: {_HABIT}",
    ),
}


def makes_of(kind: Kind) -> tuple[Make, ...]:
    """The makes of one kind, formed ones first."""
    return tuple(make for make in Make if make.about.kind is kind)
