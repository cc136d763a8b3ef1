"""Which physical checks settle what a fitting is, least effort first, for a reading and a material.

Each check says what it would show on a formed piece and on a fabricated one, where to look, what it
can't tell, what can hurt somebody, and where the advice comes from. The list itself is
`fittings.receiving.check_list`. A check is advice to a person; none of them decides, and every list
ends with `fittings.checks.CAUTION`, which defers to the local code and to licensed people.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from fittings.dimensions import elbow, pipe
from fittings.geometry import mitre_kink_deg, mitre_pieces
from fittings.order.lines import ELBOWS, FittingForm
from fittings.receiving.check_list import EVERY, PLANS, Plan, Text
from fittings.receiving.check_terms import Effort, Hazard, Metal, PhysicalCheck
from fittings.receiving.end_limits import WALL_MIN_FRACTION
from fittings.receiving.measured import millimetres
from fittings.words import Construction, Kind, Reading

__all__ = [
    "Effort",
    "Hazard",
    "Metal",
    "PhysicalCheck",
    "least_wall_figure",
    "metal_of",
    "mitre_figures",
    "physical_checks",
    "suspect_line",
    "what_the_order_makes_of_a_weld",
]


def physical_checks(
    kind: Kind,
    *,
    reading: Reading | None = None,
    material: Metal | None = None,
    form: FittingForm | None = None,
    nps: str | None = None,
    schedule: str | None = None,
) -> tuple[PhysicalCheck, ...]:
    """The checks that fit, least effort first.

    Without a material all are listed, and one that fits some metals only says which. With a form
    and a size the outline gets its figures, with a schedule the walls theirs. SizeNotListed for a
    size that the tables lack.
    """
    chosen = [
        _told(plan, kind, material)
        for plan in PLANS
        if (material is None or material in plan.metals)
        and (plan.only_for is None or reading in plan.only_for)
    ]
    figures: dict[str, tuple[str, ...]] = {}
    if nps is not None and form is not None and kind is Kind.ELBOW:
        figures["outline"] = mitre_figures(nps, form)
    if nps is not None and schedule is not None:
        figures["wall_survey"] = (least_wall_figure(nps, schedule),)
        stop = (f"grind no further than the least wall; {figures['wall_survey'][0]}",)
        figures |= dict.fromkeys(("hardness", "composition", "macro_etch"), stop)
    told = (replace(check, figures=figures.get(check.key, ())) for check in chosen)
    return tuple(sorted(told, key=lambda check: check.effort.value))


def _told(plan: Plan, kind: Kind, material: Metal | None) -> PhysicalCheck:
    name = plan.name
    if material is None and plan.metals != EVERY:
        fitting = ", ".join(each.value for each in Metal if each in plan.metals)
        name = f"{plan.name} (only on {fitting} metal)"
    return PhysicalCheck(
        key=plan.key,
        name=name,
        effort=plan.effort,
        how=_how(plan.how, material),
        where=_for_kind(plan.where, kind),
        formed=_for_kind(plan.formed, kind),
        fabricated=_for_kind(plan.fabricated, kind),
        cannot_tell=_for_kind(plan.cannot_tell, kind),
        hazards=plan.hazards,
        source=plan.source,
    )


def _for_kind(text: Text, kind: Kind) -> str:
    return text if isinstance(text, str) else text.get(kind, text[Kind.NONE])


def _how(how: str | Mapping[Metal, str], material: Metal | None) -> str:
    if isinstance(how, str):
        return how
    if material is not None:
        return how.get(material, "")
    return "; ".join(f"{each.value}: {text}" for each, text in how.items())


def what_the_order_makes_of_a_weld(construction: Construction | None) -> str:
    """One sentence: what a weld in the body means against the construction that was ordered.

    ASTM A234 Table 1 footnote A and A403 Table 1 for the letters; ASME B16.9 section 1.3 (2007
    edition) for circumferential and intersection welds.
    """
    across = (
        "a weld around the body or where outlet and run meet is pipe fabrication, outside "
        "ASME B16.9 (1.3, 2007 edition)"
    )
    if construction is Construction.SEAMLESS:
        return (
            "Ordered seamless: any weld in the body contradicts the order, also one along it; "
            f"{across}."
        )
    if construction is Construction.WELDED:
        return (
            "Ordered welded: a weld along the body is what was ordered, with a letter in the "
            f"marking and an examination record; {across}."
        )
    if construction is Construction.FABRICATED:
        return f"Ordered as a fabrication: welds are expected, and the piping code rules; {across}."
    return (
        "The order's construction is not said: a weld along the body may be allowed and asks for a "
        f"letter in the marking and an examination record; {across}."
    )


def metal_of(group: str) -> Metal | None:
    """The metal behind `fittings.order.grades.Grade.group`; None for a group that is not known."""
    return _METALS.get(group)


# Low-temperature and high-strength grades are ferritic steels that answer as carbon steel does.
_METALS = {
    **{metal.value.replace("-", " "): metal for metal in Metal},
    "low temperature": Metal.CARBON,
    "high strength": Metal.CARBON,
}


def suspect_line(kind: Kind, reading: Reading | None) -> str:
    """Where the suspect line of the checks lies: the one traced, and where joints would be.

    Which way welds of a fabrication run follows from how they are made; plain geometry.
    """
    place = _WELD_WOULD_LIE[kind]
    if reading in (Reading.FABRICATION_SEAM, Reading.LONG_SEAM_ONLY):
        return f"the line that the photographs show, and {place}"
    return place


_WELD_WOULD_LIE = {
    Kind.NONE: "every line that could be a joint, crossed at right angles",
    Kind.ELBOW: (
        "the joints of a mitred bend, which run round it: a strip along the extrados crosses all "
        "of them, a strip round the middle crosses lengthwise seams"
    ),
    Kind.TEE: (
        "the crotch, where a set-on outlet is joined: a strip from the run up the outlet crosses "
        "it, once at the flank and once in line with the run"
    ),
    Kind.REDUCER: (
        "both ends of the taper, where a cone meets a cylinder: a strip along the side crosses "
        "them, a strip round the taper crosses the seams of gores"
    ),
}


def mitre_figures(nps: str, form: FittingForm) -> tuple[str, ...]:
    """What the outline of a mitred bend of this size would show, for 1 to 4 welds.

    Kink 2θ and corner (R + D/2)(1/cos θ − 1) beyond the arc: plain geometry, `fittings.geometry`.
    SizeNotListed for a size without such an elbow.
    """
    radius, angle_deg = ELBOWS[form]
    # The radius of the 90° elbow, because the standard leaves the arc of a 45° one to the maker.
    size = elbow(nps, radius, 90)
    figures = []
    for welds in range(1, 5):
        kink_deg = mitre_kink_deg(angle_deg, welds + 1)
        corner_mm = mitre_pieces(
            size.bend_radius_mm, size.od_mm, angle_deg, welds + 1
        ).corner_beyond_arc_mm
        noun, where = ("weld", "it") if welds == 1 else ("welds", "each")
        figures.append(
            f"{welds} {noun}: the outline turns {kink_deg:g}° at {where}, and the outer corner "
            f"stands {corner_mm:.1f} mm beyond the arc"
        )
    return tuple(figures)


def least_wall_figure(nps: str, schedule: str) -> str:
    """The least wall of a size, as a sentence. SizeNotListed as `fittings.dimensions.pipe`."""
    wall_mm = pipe(nps, schedule).wall_mm
    return (
        f"NPS {nps} schedule {schedule}: nominal wall {millimetres(wall_mm)}, least "
        f"{millimetres(WALL_MIN_FRACTION * wall_mm)} (87.5 %)"
    )
