"""The material of one row of an order file: from one column or several, or from the description."""

from __future__ import annotations

import re

from fittings.order.cells import Cells
from fittings.order.findings import Level
from fittings.order.grades import GradeNotListed, strength_classes
from fittings.order.lines import SUFFIXES, OrderError
from fittings.order.material_text import Material, parse_material, parse_spec
from fittings.order.phrases import dimension_standard_in

_FAMILY = re.compile(
    r"(?i)(?:(?:carbon|mild|alloy|stainless|low[- ]alloy|duplex)(?: steel)?|steel|cs|ss|as|ms)"
)


def material_of(cells: Cells, described: Material | None) -> Material:
    """Standard, grade and class letters of a row; OrderError names the field that is wrong.

    The standard may stand in a column of its own, with the grade, or be left out where the grade
    belongs to one standard only.
    """
    spec_text, standard = cells.text("spec"), cells.text("standard")
    if spec_text is None and standard and dimension_standard_in(standard)[0] is None:
        spec_text = standard
    grade_text, material_text = cells.text("grade"), cells.text("material")
    if material_text and _FAMILY.fullmatch(material_text):
        cells.note(
            Level.LEFT_OPEN,
            "grade",
            f"{material_text!r} is a family of materials, not a grade; write one such as A234 WPB.",
        )
        material_text = None
    try:
        spec = parse_spec(spec_text) if spec_text and not _names_grade(spec_text) else None
    except GradeNotListed as error:
        raise OrderError("spec", str(error)) from None
    try:
        texts = [spec_text if spec is None else None, material_text, grade_text]
        text = " ".join(filter(None, texts))
        read = parse_material(text, spec) if text else Material(spec=spec, grade=None)
    except GradeNotListed as error:
        raise OrderError("grade", str(error)) from None
    if described is not None:
        cells.agreed("spec", read.spec, described.spec, described.spec or "")
        cells.agreed("grade", read.grade, described.grade, described.grade or "")
        if read.grade is None and read.spec in (None, described.spec):
            read = described
    named = f"{spec_text or ''} {material_text or ''} {cells.text('description') or ''}"
    _about(cells, read, named)
    return _with_class(cells, read)


def _about(cells: Cells, read: Material, named: str) -> None:
    if read.spec and not re.search(r"[AB][ -]?\d{3}|SP[ -]?75", named, re.IGNORECASE):
        cells.note(
            Level.LEFT_OPEN,
            "spec",
            f"The material standard is not named; the grade {read.grade} was read as one of "
            f"{read.spec}.",
        )
    if read.also:
        cells.note(
            Level.NOTE,
            "grade",
            f"A dual grade was read as {read.grade}; the limits of {read.also}, its carbon "
            "above all, must be met as well.",
        )
    if read.spec and read.grade and (classes := strength_classes(read.spec, read.grade)):
        cells.note(
            Level.LEFT_OPEN,
            "grade",
            f"The strength class of {read.grade} is not named: write {' or '.join(classes)}.",
        )


def _with_class(cells: Cells, read: Material) -> Material:
    text = cells.text("suffix")
    if text is None:
        return read
    letters = re.sub(r"(?i)class|[^A-Z]", "", text.upper())
    strength = re.fullmatch(r"(?:CL(?:ASS)?)?\W*([123])", text.upper())
    if strength and read.grade and " CL" not in read.grade:
        grade = f"{read.grade} CL{strength[1]}"
        if read.spec and grade in strength_classes(read.spec, read.grade):
            cells.findings = [f for f in cells.findings if "strength class" not in f.sentence]
            return Material(spec=read.spec, grade=grade, suffix=read.suffix, also=read.also)
    if letters not in SUFFIXES or not letters:
        known = ", ".join(each for each in SUFFIXES if each)
        raise OrderError("suffix", f"{text!r} is no class letter; known are {known}")
    if read.suffix and read.suffix != letters:
        raise OrderError(
            "suffix",
            f"the class column says {letters}, the grade says {read.suffix}; keep one",
        )
    return Material(spec=read.spec, grade=read.grade, suffix=letters, also=read.also)


def _names_grade(text: str) -> bool:
    return re.search(r"\b(?:WP|CR)[A-Z0-9 ]", text, re.IGNORECASE) is not None
