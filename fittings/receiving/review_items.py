"""What to look for in the certificate and the records of one order line, and why it is asked.

Limits come from `fittings.order.grades`; where its table has none, the item says so instead of
guessing. ASTM and ASME clauses were read through public copies and extracts, never from a bought
edition.
"""

from __future__ import annotations

from fittings.order.findings import COMMON_PRACTICE, FROM_MEMORY
from fittings.order.lines import OrderLine
from fittings.receiving.review import Checklist, ReviewItem, Standing
from fittings.receiving.review_facts import OrderFacts, facts_of
from fittings.receiving.review_welds import (
    radiography,
    weld_filler,
    weld_heat_treatment,
    weld_repairs,
)
from fittings.words import Construction


def checklist(line: OrderLine, *, tensile_witnessed: bool | None = None) -> Checklist:
    """The checklist of an order line, nothing answered yet.

    `tensile_witnessed` says whether the order wants the tensile test witnessed; None is unsaid, and
    the item then asks. Items that the order itself settles begin as not applicable, with the
    reason.
    """
    facts = facts_of(line)
    return Checklist(
        line=line,
        items=(
            _certificate(facts),
            _raw_material(facts),
            _raw_material_form(facts),
            _heat_number(),
            _construction_said(facts),
            _chemistry(facts),
            _tensile(facts),
            _tensile_witnessed(tensile_witnessed),
            _heat_treatment(facts),
            weld_filler(facts),
            weld_heat_treatment(facts),
            weld_repairs(),
            radiography(facts),
            _hydrotest(),
            _marking(facts),
        ),
    )


def _certificate(facts: OrderFacts) -> ReviewItem:
    ordered = "EN 10204 type 3.1, unless the order says otherwise"
    if facts.line.certificate:
        ordered = f"the order says: {facts.line.certificate}"
    return ReviewItem(
        key="certificate",
        title="certificate of the fittings themselves",
        look_for=(
            f"a certificate of the fitting maker for {facts.line.form.value} {facts.line.sizes}, "
            f"{facts.line.quantity} off, that names {facts.material} and the edition, signed by "
            f"somebody independent of manufacture ({ordered})"
        ),
        why="a certificate of the pipe or plate alone says nothing of who made it into a fitting",
        source=f"EN 10204 types {FROM_MEMORY}; the rest {COMMON_PRACTICE}",
    )


def _raw_material(facts: OrderFacts) -> ReviewItem:
    return ReviewItem(
        key="raw_material",
        title="raw material identified, its mill certificate verified",
        look_for=(
            "the mill's own certificate of the start material, by maker and heat, checked with the "
            f"mill or its register; {_ordered_start(facts)}usual start: {facts.starts}"
        ),
        why="a copied or altered mill certificate is how unknown metal enters a lot",
        source=(
            f"start material: {facts.grade.start_source}; verifying: {COMMON_PRACTICE}"
            if facts.grade
            else f"verifying: {COMMON_PRACTICE}"
        ),
    )


def _raw_material_form(facts: OrderFacts) -> ReviewItem:
    erw = (
        "; pipe welded without filler metal (ERW) is no permitted start"
        if facts.line.spec == "A234"
        else ""
    )
    source = COMMON_PRACTICE
    if facts.line.spec == "A234":
        source = (
            "ASTM A234-13e1 materials (welded pipe with filler added), one public table; that "
            "this shuts out ERW pipe, one trade text"
        )
    return ReviewItem(
        key="raw_material_form",
        title="standard and form of the raw material",
        look_for=(
            "standard, grade and form (seamless pipe, welded pipe, plate, bar, forging) in words; "
            f"usual for this order: {facts.starts}{erw}"
        ),
        why="seamless pipe leaves no seam, plate must leave one: the form says what to expect",
        source=f"{source}; usual starts: {facts.grade.start_source}" if facts.grade else source,
    )


def _ordered_start(facts: OrderFacts) -> str:
    start = facts.line.start_material
    return f"the order says: {start}; " if start else ""


def _heat_number() -> ReviewItem:
    return ReviewItem(
        key="heat_number",
        title="heat number on the piece, on the certificate and on the mill certificate",
        look_for="one heat, or a written key from the fitting's heat code to the mill's heat",
        why="without it the papers belong to no piece",
        source=f"heat identification in the marking (ASTM A960, MSS SP-25) {FROM_MEMORY}",
    )


def _construction_said(facts: OrderFacts) -> ReviewItem:
    asked = "that says seamless or welded (the order leaves it open)"
    if facts.construction is not None:
        asked = f"that says {facts.construction.value}, as ordered"
    if facts.contradicts:
        asked = "and first what was ordered: its words and its class letter contradict each other"
    return ReviewItem(
        key="construction",
        title="how the fitting was made",
        look_for=(
            f"a statement of manufacture {asked}; the forming method by name, and no "
            "circumferential or intersection weld"
        ),
        why=(
            "fittings with circumferential or intersection welds count as pipe fabrication and lie "
            "outside the dimension standard"
        ),
        source=(
            f"ASME B16.9 1.3 (2007 edition), two public copies agree; later editions {FROM_MEMORY}"
        ),
    )


def _chemistry(facts: OrderFacts) -> ReviewItem:
    known = (
        f"the table here knows only the alloy, {facts.grade.alloy}"
        if facts.grade
        else f"the table here has no grade {facts.material}"
    )
    return ReviewItem(
        key="chemistry",
        title="chemical analysis",
        look_for=f"heat analysis, product analysis where ordered, against the standard; {known}",
        why="a wrong alloy looks like the right one",
        source=f"alloy {FROM_MEMORY}; take the limits from the standard itself",
    )


def _tensile(facts: OrderFacts) -> ReviewItem:
    limits = []
    if facts.grade and facts.grade.min_uts_mpa is not None:
        limits.append(f"tensile strength at least {facts.grade.min_uts_mpa:g} MPa")
    if facts.grade and facts.grade.min_yield_mpa is not None:
        limits.append(f"yield strength at least {facts.grade.min_yield_mpa:g} MPa")
    known = ", ".join(limits) or f"the table here has no limits for {facts.material}"
    return ReviewItem(
        key="tensile",
        title="tensile test",
        look_for=f"{known}; on metal of this heat in the condition of delivery",
        why="forming and heat treatment change the strength that the mill certified",
        source=(
            f"strengths: {facts.grade.tensile_source}; condition: {FROM_MEMORY}"
            if facts.grade and limits
            else f"take the limits from the standard itself; condition: {FROM_MEMORY}"
        ),
    )


def _tensile_witnessed(wanted: bool | None) -> ReviewItem:
    asked = {
        True: "the order wants it: the witness's name and date on the test record",
        False: "nothing",
        None: "whether the order wants a witness; if it does, the name and date on the record",
    }[wanted]
    return ReviewItem(
        key="tensile_witnessed",
        title="tensile test witnessed",
        look_for=asked,
        why="a witness ties the test piece to the lot",
        source=COMMON_PRACTICE,
        standing=Standing.NOT_APPLICABLE if wanted is False else Standing.OPEN,
        note="the order asks for no witness" if wanted is False else "",
    )


def _heat_treatment(facts: OrderFacts) -> ReviewItem:
    known = f"the table here has none for {facts.material}"
    if facts.grade:
        known = facts.grade.heat_treatment
    return ReviewItem(
        key="heat_treatment",
        title="heat treatment record",
        look_for=f"furnace chart or statement with temperature, time and cooling; usual: {known}",
        why="forming leaves cold work, and welding a hardened zone, that only this takes away",
        source=facts.grade.heat_treatment_source if facts.grade else COMMON_PRACTICE,
    )


def _hydrotest() -> ReviewItem:
    return ReviewItem(
        key="hydrotest",
        title="pressure test: none required, but capable of one",
        look_for=(
            "no hydrotest record is to be expected; a statement that the design is proved by "
            "calculation or proof test, and nothing that limits the test pressure of matching pipe"
        ),
        why=(
            "the dimension standard asks for no production test, only that the fitting stands the "
            "test that the piping code sets for matching pipe; a one-off fabrication has no proof"
        ),
        source=(
            f"ASME B16.9 section 10 {FROM_MEMORY}; proof of design, section 9 (2003 and 2007 "
            "editions), public extracts"
        ),
    )


def _marking(facts: OrderFacts) -> ReviewItem:
    return ReviewItem(
        key="marking",
        title="marking on every piece",
        look_for=(
            f"maker's name or mark, {facts.material}, {_letter(facts)}, "
            f"heat, {facts.wall}, NPS {facts.line.sizes}; on small pieces at least maker and heat"
        ),
        why=(
            "the letter tells welded from seamless (in ASTM A234 a mark without W declares "
            "seamless), so a seam can contradict the mark"
        ),
        source=(
            "ASTM A234 Table 1 footnote A (edition not recorded), two public tables agree; ASTM "
            f"A403-00b Table 1, one public table; contents of the marking {FROM_MEMORY}"
        ),
    )


def _letter(facts: OrderFacts) -> str:
    """What the marking holds beside the grade, by the way the standard tells seams apart."""
    if facts.grade is not None and facts.grade.class_rule == "none":
        return "no class letter"
    by_class = facts.grade is not None and facts.grade.class_rule == "class"
    if facts.construction is Construction.SEAMLESS:
        return "class S" if by_class else "no letter for welded construction"
    if facts.construction is Construction.WELDED:
        return "class W, WX or WU as ordered" if by_class else "the letter W for welded"
    return "its class (S, W, WX or WU)" if by_class else "a letter W if it is welded"
