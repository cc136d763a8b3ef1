"""The items of a review that are about welds: filler, heat treatment, repairs, radiographs.

ASTM and ASME clauses were read through public copies and extracts, never from a bought edition.
"""

from __future__ import annotations

from fittings.order.findings import FROM_MEMORY
from fittings.receiving.review import ReviewItem, Standing
from fittings.receiving.review_facts import OrderFacts
from fittings.words import Construction


def weld_filler(facts: OrderFacts) -> ReviewItem:
    return _of_welds(
        "weld_filler",
        "filler metal of the welds",
        "classification, maker and batch of the filler metal, welding procedure and welders",
        "filler decides strength and corrosion of the seam, and whether it must be radiographed",
        FROM_MEMORY,
        facts,
    )


def weld_heat_treatment(facts: OrderFacts) -> ReviewItem:
    known = f"; usual: {facts.grade.heat_treatment}" if facts.grade else ""
    return _of_welds(
        "weld_heat_treatment",
        "heat treatment after welding",
        f"that every weld was made before the last heat treatment, with its record{known}",
        "a weld made afterwards keeps its hardened zone and its stresses",
        (
            "ASTM A403 (edition not recorded), all welding before heat treatment, one public table"
            if facts.line.spec == "A403"
            else f"{FROM_MEMORY}, by analogy with ASTM A403 (all welding before heat treatment)"
        ),
        facts,
    )


def weld_repairs() -> ReviewItem:
    return ReviewItem(
        key="weld_repairs",
        title="repairs by welding",
        look_for=(
            "a statement: none made, or where, how deep, by which procedure, heat treated and "
            "examined how; and the buyer's leave where the order asks for it"
        ),
        why="an unrecorded repair is a weld that nobody examined, also in seamless ordered pieces",
        source=FROM_MEMORY,
    )


def radiography(facts: OrderFacts) -> ReviewItem:
    key, title = "radiography", "radiography of the welds"
    why = "a lengthwise seam carries the pressure's hoop force over its whole length"
    if facts.construction is Construction.SEAMLESS:
        return ReviewItem(
            key=key,
            title=title,
            look_for="nothing, unless a weld is found after all",
            why=why,
            source=facts.rule.examination_source if facts.rule else FROM_MEMORY,
            standing=Standing.NOT_APPLICABLE,
            note="ordered seamless: no weld belongs in the body; a weld found there is a finding",
        )
    # A line that contradicts itself falls back on the strictest reading.
    rule = None if facts.contradicts else facts.rule
    asked = rule.examination if rule else "radiographs of the welds"
    source = rule.examination_source if rule else FROM_MEMORY
    if asked == "none required":
        asked = "none required by the standard; see whether the order asks for any"
    else:
        asked += "; where there is a weld, reports by piece or heat that cover 100 % of its length"
    if facts.line.examination:
        asked += f"; the order says: {facts.line.examination}"
    if "radiograph" in asked:
        asked += "; film or digital record that can be shown, to ASME VIII-1 UW-51"
        source += f"; UW-51 {FROM_MEMORY}"
    return ReviewItem(key=key, title=title, look_for=asked, why=why, source=source)


def _of_welds(
    key: str, title: str, look_for: str, why: str, source: str, facts: OrderFacts
) -> ReviewItem:
    seamless = facts.construction is Construction.SEAMLESS
    return ReviewItem(
        key=key,
        title=title,
        look_for=look_for,
        why=why,
        source=source,
        standing=Standing.NOT_APPLICABLE if seamless else Standing.OPEN,
        note="ordered seamless: no weld belongs in the body" if seamless else "",
    )
