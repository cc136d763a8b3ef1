"""The physical checks themselves, in order of effort.

Where the advice comes from is said check by check. "From memory" is what no text at hand confirmed,
"common practice, no source" is habit of the trade. How formed and fabricated pieces are made, and
hence what they show, follows published descriptions of manufacture.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fittings.receiving.check_terms import Effort, Hazard, Metal
from fittings.words import Kind, Reading

FERRITIC = frozenset((Metal.CARBON, Metal.LOW_ALLOY))
EVERY = frozenset(Metal)

# A text, or one text per kind with Kind.NONE for the kinds that have none of their own.
Text = str | Mapping[Kind, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A check before it is told for one fitting."""

    key: str
    name: str
    effort: Effort
    where: Text
    formed: Text
    fabricated: Text
    cannot_tell: Text
    source: str
    hazards: tuple[Hazard, ...]
    how: str | Mapping[Metal, str] = ""
    metals: frozenset[Metal] = EVERY
    only_for: frozenset[Reading] | None = None  # None is every reading and no reading


PLANS = (
    Plan(
        key="photographs",
        name="more photographs, in even and in grazing light",
        effort=Effort.LOOK,
        only_for=frozenset((Reading.UNCLEAR,)),
        where="both sides square on, every end with a lamp in the bore, and the suspect line",
        formed="an outline of arcs and radii, and no line that crosses the piece",
        fabricated="corners in the outline, or a line, a band or a step across the piece",
        cannot_tell="a weld ground flush and painted leaves no line",
        hazards=(Hazard.LIFTING,),
        source="common practice, no source",
    ),
    Plan(
        key="marking",
        name="marking against the order and the certificate",
        effort=Effort.LOOK,
        where="the stamped, etched or painted marking on the body, and the papers of its heat",
        formed=(
            "maker's mark, grade symbol, heat number, schedule or wall and size; a welded wrought "
            "piece adds its letter (W in ASTM A234; W, WX or WU in ASTM A403)"
        ),
        fabricated=(
            "no marking of a fitting, marking of the pipe it was cut from in the middle of the "
            "body, or a mark without a letter beside a weld"
        ),
        cannot_tell="a mark is a claim: it can be copied, and only the metal confirms it",
        hazards=(Hazard.LIFTING,),
        source=(
            "ASTM A234 Table 1 footnote A and ASTM A403 Table 1 for the letters, public extracts; "
            "what a marking holds is from memory; pipe marking in the body: common practice, no "
            "source"
        ),
    ),
    Plan(
        key="outline",
        name="outline gauge, straight edge and template",
        effort=Effort.LOOK,
        where={
            Kind.NONE: "the outer outline, all round",
            Kind.ELBOW: "extrados and intrados in the plane of the bend, with an arc template",
            Kind.TEE: "the crotch on both flanks, with a radius gauge",
            Kind.REDUCER: "four lines from end to end, a quarter turn apart, with a straight edge",
        },
        formed={
            Kind.NONE: "arcs and radii between the openings, no corner",
            Kind.ELBOW: "one arc that may end in short straights, no corner",
            Kind.TEE: "a smooth radius from run to outlet, all the way round",
            Kind.REDUCER: "a smooth bell, or a cone that runs into its ends with a radius",
        },
        fabricated={
            Kind.NONE: "straights that meet in corners",
            Kind.ELBOW: "straights that meet in corners, equally spaced, also when ground flush",
            Kind.TEE: "a sharp corner, or one filled up with weld metal, along the intersection",
            Kind.REDUCER: "a corner where cone meets cylinder, flats between gores",
        },
        cannot_tell={
            Kind.NONE: "a corner filled and ground to a radius; lengthwise seams do not show",
            Kind.ELBOW: (
                "a bend of many short pieces comes near an arc; lengthwise seams do not show"
            ),
        },
        hazards=(Hazard.LIFTING,),
        source=(
            "ASME B16.9 section 7 (2003 and 2007 editions), public extracts: an arc or radius and "
            "no sharp corners; corner figures by plain geometry"
        ),
    ),
    Plan(
        key="bore",
        name="look and feel in the bore",
        effort=Effort.LOOK,
        how="lamp, mirror or borescope, and fingertips",
        where={
            Kind.NONE: "from every open end, over a full turn",
            Kind.ELBOW: "from both ends, over a full turn, along the whole bend",
            Kind.TEE: "round the outlet's opening into the run, over a full turn, from all ends",
            Kind.REDUCER: "from both ends, over a full turn, above all at both ends of the taper",
        },
        formed="an even surface; light lengthwise drag marks of the mandrel or die are usual",
        fabricated=(
            "a root bead, a step from one piece to the next, or the swirl of a grinder, across "
            "the piece or round the outlet: a seam ground outside is seldom ground inside"
        ),
        cannot_tell="a bore that was machined or ground clean shows nothing",
        hazards=(Hazard.LIFTING, Hazard.EDGES),
        source="common practice, no source; drag marks: published descriptions of manufacture",
    ),
    Plan(
        key="wall_survey",
        name="wall thickness survey by ultrasonics",
        effort=Effort.INSTRUMENT,
        how="8 points round at 3 to 5 stations, gauge set on a step block of the same metal",
        where={
            Kind.NONE: "a grid over the whole body",
            Kind.ELBOW: "extrados, intrados and both sides at 3 to 5 stations along the bend",
            Kind.TEE: "round the crotch, 8 points, then up the outlet and along the run",
            Kind.REDUCER: "4 to 8 lines along the taper, closest at both of its ends",
        },
        formed={
            Kind.NONE: "a wall that changes gently over the piece",
            Kind.ELBOW: "thicker at the intrados than at the extrados, changing gently",
            Kind.TEE: "a crotch much thicker than the ends, changing gently",
            Kind.REDUCER: "a wall that changes gently along the taper",
        },
        fabricated={
            Kind.NONE: "the flat wall of pipe, with a step at each joint",
            Kind.ELBOW: "the same wall at intrados and extrados, with a step at each joint",
            Kind.TEE: "pipe wall up to the crotch, then a step or a narrow heap of weld metal",
            Kind.REDUCER: "plate or pipe wall throughout, with a step at each joint",
        },
        cannot_tell={
            Kind.NONE: "pieces of one pipe, ground flush, may show no step",
            Kind.ELBOW: (
                "pieces of one pipe, ground flush, may show no step, and an elbow pushed over a "
                "mandrel may come out with a nearly even wall"
            ),
        },
        hazards=(Hazard.LIFTING,),
        source=(
            "least wall 87.5 %: ASME B16.9-2018 Table 11-1, two public tables agree; thick "
            "intrados: ASME B31.3 304.2.1 from memory; even wall off a mandrel: published "
            "descriptions of manufacture; grid of points: common practice, no source"
        ),
    ),
    Plan(
        key="ferrite",
        name="ferrite meter",
        effort=Effort.INSTRUMENT,
        metals=frozenset((Metal.AUSTENITIC,)),
        how="calibrated to ISO 8249 or AWS A4.2, a row of readings a few millimetres apart",
        where="across the suspect line, and a spot well away from it",
        formed="at most 1 to 2 FN, and the same all along the row",
        fabricated="3 to 10 FN in a narrow band: weld metal with filler",
        cannot_tell="solution annealing and cold work blur it; a weld without filler may be low",
        hazards=(Hazard.LIFTING,),
        source="from memory",
    ),
    Plan(
        key="eddy_current",
        name="eddy current or magnetic permeability",
        effort=Effort.INSTRUMENT,
        where="across the suspect line, sliding at one lift-off",
        formed="a steady response",
        fabricated="a line of changed response along the joint",
        cannot_tell="lift-off, curvature and scale change the response as well",
        hazards=(Hazard.LIFTING,),
        source="from memory",
    ),
    Plan(
        key="magnetic_particle",
        name="magnetic particle testing",
        effort=Effort.PREPARED,
        metals=FERRITIC,
        how="ASTM E709, the field across the suspect line and then along it",
        where="the suspect line, over a hand's breadth on both sides",
        formed="no line",
        fabricated="edges, undercut or lack of fusion draw a line along the joint",
        cannot_tell="a sound weld ground flush draws no line, so a clean result settles nothing",
        hazards=(Hazard.LIFTING, Hazard.CURRENT),
        source="from memory",
    ),
    Plan(
        key="penetrant",
        name="penetrant testing",
        effort=Effort.PREPARED,
        how="ASTM E165, on clean dry metal, with materials low in halogens on stainless and nickel",
        where="the suspect line, over a hand's breadth on both sides",
        formed="no line",
        fabricated="surface cracks, undercut or lack of fusion draw a line along the joint",
        cannot_tell="a sound weld ground flush draws no line, so a clean result settles nothing",
        hazards=(Hazard.LIFTING, Hazard.SOLVENT),
        source="from memory",
    ),
    Plan(
        key="hardness",
        name="hardness traverse",
        effort=Effort.PREPARED,
        how={
            Metal.CARBON: "a row of indents; ASTM A234 WPB allows at most 197 HB",
            Metal.LOW_ALLOY: "a row of indents; ASTM A234 WP12 allows at most 197 HB",
            Metal.ALUMINIUM: "a row of indents; welding softens, so look for a dip",
        },
        where="across the suspect line, a few millimetres apart, to 50 mm on either side",
        formed="flat within the scatter of the instrument",
        fabricated="a bump (in aluminium a dip) of 10 to 60 HV at weld metal and affected zone",
        cannot_tell="heat treatment after welding flattens it; it leaves small indents",
        hazards=(Hazard.LIFTING, Hazard.GRINDING),
        source="from memory",
    ),
    Plan(
        key="composition",
        name="composition across the line",
        effort=Effort.PREPARED,
        where="on the suspect line and on both sides of it, ground lightly first",
        formed="the same analysis at every spot",
        fabricated="on the line filler metal: manganese, silicon or nickel differ from both sides",
        cannot_tell="a weld without filler, or with matching filler, analyses like the parent",
        hazards=(Hazard.LIFTING, Hazard.GRINDING, Hazard.BURN),
        source="common practice, no source",
    ),
    Plan(
        key="macro_etch",
        name="macro-etch across the suspect line",
        effort=Effort.ETCHED,
        how={
            Metal.CARBON: (
                "polish to 240 to 600 grit; swab with 10 g ammonium persulphate in 100 mL water, "
                "or 15 mL nitric acid in 85 mL water"
            ),
            Metal.LOW_ALLOY: (
                "polish to 240 to 600 grit; swab with 10 g ammonium persulphate in 100 mL water, "
                "or 15 mL nitric acid in 85 mL water"
            ),
            Metal.AUSTENITIC: "polish; an etchant of ferric chloride and hydrochloric acid",
            Metal.DUPLEX: "polish; an etchant of ferric chloride and hydrochloric acid",
            Metal.NICKEL: "polish; an etchant of acetic and nitric acid",
            Metal.ALUMINIUM: "polish; sodium hydroxide solution",
        },
        where="a polished patch across the suspect line, wide enough for metal on both sides",
        formed="one even texture, or the flow lines of forming, over the whole patch",
        fabricated="weld metal, fusion lines and the affected zone as bands of other texture",
        cannot_tell="a heat treatment that refines the grain can blur the bands; outside only",
        hazards=(Hazard.LIFTING, Hazard.GRINDING, Hazard.ACID),
        source=(
            "published etching guides, two agree for carbon steel; that ASTM E340 is the method "
            "standard is from memory"
        ),
    ),
    Plan(
        key="shear_wave",
        name="shear-wave ultrasonics",
        effort=Effort.SPECIALIST,
        where="the suspect line, from both sides",
        formed="no echoes but those of the geometry",
        fabricated="echoes of root, fusion faces or flaws in a row along the joint",
        cannot_tell="a sound, fully fused joint in coarse grain may give little",
        hazards=(Hazard.LIFTING,),
        source="from memory",
    ),
    Plan(
        key="radiograph",
        name="radiograph",
        effort=Effort.LICENSED,
        where="the suspect line, one wall at a time where the size allows",
        formed="one even density that follows the wall",
        fabricated="the joint itself: root, edges, and the change of density across it",
        cannot_tell="a flush joint without flaws shows faintly; flaws square to the beam hide",
        hazards=(Hazard.LIFTING, Hazard.RADIATION),
        source="from memory",
    ),
)
