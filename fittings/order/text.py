"""The words of an order that shut a fabrication out, ready to paste, in words of our own.

What the order has not settled stands in square brackets, for the buyer to settle before the text
goes out. Where the wording comes from:

- Circumferential and intersection welds make pipe fabrication, outside the standard: ASME B16.9 1.3
  (2007 edition), two public copies agree.
- No sharp corners and no collapsed arcs in the outline: ASME B16.9 section 7 (2003 and 2007
  editions), public copies.
- The letter W on a welded fitting: ASTM A234 Table 1 footnote A, two public tables agree. The
  classes S, W, WX and WU: ASTM A403-00b Table 1, one public table.
- Filler metal in the welds: ASTM A234 (2013 edition), materials, one public copy.
- Elbows and tees are not machined from bar: ASTM A960-20, one public copy.
- What a mark and a certificate hold, radiographs of all welds under A234, and the right to look on
  receipt are from memory or common practice.

It is a proposal: the buyer's own terms and the engineer of record come before it.
"""

from __future__ import annotations

import textwrap

from fittings.form_names import dn_of
from fittings.order.check import check_line, grade_of, seam_allowed
from fittings.order.findings import Level
from fittings.order.grades import class_rule
from fittings.order.lines import OrderLine
from fittings.order.listed_size import B16_9, SP_43
from fittings.order.phrases import refuses_examination
from fittings.words import Construction, Kind

TEXT_SOURCE = (
    "In our own words after ASME B16.9 1.3 (2007 edition) and section 7 (2003 and 2007 editions), "
    "public copies; marking and certificate contents from memory or common practice"
)
TEXT_ADVICE = (
    "A proposal: settle what stands in [square brackets]; the buyer's terms and the engineer of "
    "record come before it."
)
_WIDTH = 96


def order_text(line: OrderLine) -> str:
    """The text for one line: a heading and numbered clauses, wrapped for a plain-text order.

    Contradictions come first, in brackets, because no wording can settle them.
    """
    clauses = [
        _dimensions(line),
        _construction(line),
        _no_other_weld(line),
        _outline(line),
        _marking(line),
        _certificate(line),
        *([_examination(line)] if seam_allowed(line) is not False else []),
        _receipt(),
    ]
    first = [f"[Settle first: {sentence}]" for sentence in _contradictions(line)]
    numbered = [f"{number}. {clause}" for number, clause in enumerate(clauses, start=1)]
    return "\n".join(
        [*(_wrapped(text) for text in (*first, _heading(line))), *map(_indented, numbered)]
    )


def _wrapped(text: str, indent: str = "") -> str:
    return textwrap.fill(
        text, _WIDTH, subsequent_indent=indent, break_on_hyphens=False, break_long_words=False
    )


def _indented(clause: str) -> str:
    return _wrapped(clause, "   ")


def _contradictions(line: OrderLine) -> list[str]:
    return [each.sentence for each in check_line(line) if each.level is Level.CONTRADICTION]


def _heading(line: OrderLine) -> str:
    pieces = "piece" if line.quantity == 1 else "pieces"
    return (
        f"{line.quantity} {pieces}: {line.form.value}, {_sizes(line)}, {_wall(line)}, "
        f"{_material(line)}, {_construction_word(line)}, to {_standard(line)}."
    )


def _sizes(line: OrderLine) -> str:
    sizes = [size for size in (line.nps, line.second_nps) if size is not None]
    metric = [dn_of(size) for size in sizes]
    return f"NPS {' x '.join(sizes)} (DN {' x '.join(str(each) for each in metric)})"


def _wall(line: OrderLine) -> str:
    if line.schedule is None and line.wall_mm is None:
        return "[state schedule or wall]"
    wall = f"{line.wall_mm:.2f} mm nominal wall" if line.wall_mm is not None else ""
    if line.schedule is None:
        return wall
    name = line.schedule if line.schedule in ("STD", "XS", "XXS") else f"schedule {line.schedule}"
    if line.second_nps is not None:
        return f"{name} ({wall} at NPS {line.nps})"
    return f"{name} ({wall})" if wall else name


def _material(line: OrderLine) -> str:
    if line.spec is None or line.grade is None:
        known = f"{_spec(line)} " if line.spec else ""
        return f"{known}[state material standard and grade]"
    grade = grade_of(line)
    name = f"{_spec(line)} {line.grade}" + ("" if grade else " [state the strength class]")
    if line.suffix and line.suffix != "CR":
        return f"{name}-{line.suffix}"
    rule = grade.class_rule if grade else "letter W"
    if rule == "class":
        if line.construction is Construction.SEAMLESS:
            return f"{name}-S"
        welded_only = line.construction is Construction.WELDED
        return f"{name}-[state class {'W' if welded_only else 'S, W'}, WX or WU]"
    if rule == "letter W" and line.construction is Construction.WELDED:
        return f"{name}-W"
    return name


def _spec(line: OrderLine) -> str:
    spec = line.spec or ""
    return spec if spec.startswith("MSS") else f"ASTM {spec}"


def _standard(line: OrderLine) -> str:
    if line.spec == "MSS SP-75":
        return "MSS SP-75"
    if line.dimension_standard == SP_43 or (
        line.dimension_standard is None and (line.grade or "").startswith("CR")
    ):
        return SP_43
    return B16_9


def _construction_word(line: OrderLine) -> str:
    allowed = seam_allowed(line)
    if allowed is None:
        return "[state: seamless, or welded with longitudinal seams only]"
    if not allowed:
        return "seamless"
    if line.construction is Construction.WELDED or line.suffix.startswith("W"):
        return "welded, with longitudinal seams only"
    return "[state: seamless, or welded with longitudinal seams only]"


def _dimensions(line: OrderLine) -> str:
    clause = (
        f"Each piece is a factory-made wrought fitting to {_standard(line)} in dimensions and "
        "tolerances"
    )
    if _standard(line) == B16_9:
        clause += (
            ", within its scope as section 1.3 (2007 edition) draws it, and covered by the maker's "
            "design proof"
        )
    return clause + "."


def _construction(line: OrderLine) -> str:
    seamless = (
        "The body is made without any weld, longitudinal ones included, from one raw piece without "
        "a seam."
    )
    welded = (
        "The only welds in the body are longitudinal ones, along the part's own centreline, "
        "through the full thickness"
    )
    if line.spec in ("A234", "A420"):
        welded += " and made with filler metal"
    welded += "."
    if seam_allowed(line) is False:
        return seamless
    if _construction_word(line).startswith("["):
        return f"[Keep one] Seamless: {seamless} Welded: {welded}"
    return welded


_HOW = {
    Kind.ELBOW: "mitred from pieces of pipe, built from segments",
    Kind.TEE: "made by setting an outlet on or into a pipe, with or without a pad",
    Kind.REDUCER: "built from gores, segments or a rolled cone welded to cylinders",
}


def _no_other_weld(line: OrderLine) -> str:
    return (
        "No circumferential weld and no intersection weld stands anywhere in the body, whether "
        "left as welded, ground flush, painted or blasted. A piece that is "
        f"{_HOW.get(line.form.kind, 'built from pieces')}, or otherwise assembled by welding, is "
        "pipe fabrication and not the fitting ordered here, even where every weld in it is sound."
    )


_OUTLINE = {
    Kind.ELBOW: "The bend runs in one smooth arc, with straight ends at most",
    Kind.TEE: "The outlet runs into the run by a formed radius all round the crotch",
    Kind.REDUCER: "The body runs from end to end without a kink or a step",
}


def _outline(line: OrderLine) -> str:
    start = _OUTLINE.get(line.form.kind, "The outline is smooth")
    rule = " (ASME B16.9 section 7, 2003 and 2007 editions)" if _standard(line) == B16_9 else ""
    return f"{start}; the outer surface shows no sharp corner and no collapsed arc{rule}."


def _marking(line: OrderLine) -> str:
    grade = grade_of(line)
    takes_w = grade is not None and grade.class_rule == "letter W"
    welded = (
        "; the letter W stands behind the grade of every welded piece"
        if takes_w and seam_allowed(line) is not False
        else ""
    )
    return (
        "Each piece is marked, legibly and to last, with the maker's name or mark, the material "
        "standard and grade with its class letters, the heat identification, the schedule or wall "
        f"and the size{welded}."
    )


def _certificate(line: OrderLine) -> str:
    kind = line.certificate or "[state the type, for instance EN 10204 3.1]"
    return (
        f"Certificate: {kind}, from the fitting's maker, for each heat as marked. It names the raw "
        "material by form (pipe, plate, bar or forging), standard, grade and heat, with the mill's "
        "own certificate attached; the process of manufacture and the construction; chemical "
        "analysis and tensile results against their limits; the heat treatment with temperature "
        "and cooling; every weld made, its filler metal and its heat treatment; and every repair "
        "by welding, none of which is made without the buyer's written leave."
    )


def _examination(line: OrderLine) -> str:
    rule = class_rule(line.spec, line.suffix) if line.spec else None
    how = line.examination or "radiographs"
    if refuses_examination(how):
        how = "radiographs"
    if line.suffix == "WU":
        how = "ultrasonic examination"
    elif line.suffix == "WX":
        how = "radiographs"
    if rule is not None and rule.seam == "none":
        how = "radiographs"
    condition = "" if _construction_word(line).startswith("welded") else "If a piece is welded: "
    clause = (
        f"every longitudinal weld is examined over its whole length ({how}), whoever made it; the "
        "record, traceable to the piece by its marking, comes with the certificate."
    )
    return condition + (clause if condition else clause[0].upper() + clause[1:])


def _receipt() -> str:
    return (
        "The buyer may examine any piece on receipt, by looking and feeling in the bore, by wall "
        "survey, and by etching, radiography or other examination, before or after payment. A "
        "piece that shows a weld or a corner excluded above does not meet this order, whatever its "
        "mark or certificate says, and goes back at the seller's cost."
    )
