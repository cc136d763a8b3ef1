"""The check of an order line: what it asks for, what contradicts itself, what it leaves open.

Advisory: a finding says what a standard is known to say, with its source and how that was checked,
and never that a line or a piece is good. The rules of the class letters and the grades are rows of
`tables/class_suffixes.csv` and `tables/grades.csv`.
"""

from __future__ import annotations

import re

from fittings.order.findings import COMMON_PRACTICE, FROM_MEMORY, Finding, Level
from fittings.order.grades import ClassRule, Grade, GradeNotListed, class_rule, find_grade
from fittings.order.lines import OrderLine
from fittings.order.listed_size import dimension_findings
from fittings.order.phrases import examinations_in, refuses_examination
from fittings.order.rows import ReadLine
from fittings.order.start_material import start_findings
from fittings.words import Construction

FABRICATION_SOURCE = (
    "ASME B16.9 1.3 (2007 edition), two public copies agree; that later editions keep it is from "
    "memory"
)
_RANK = list(Level)


def check_line(line: OrderLine) -> tuple[Finding, ...]:
    """Every finding about a line, contradictions first, then what is left open, then notes."""
    rule = class_rule(line.spec, line.suffix) if line.spec else None
    grade = grade_of(line)
    found = [
        *_construction(line, rule),
        *_seam(line, rule),
        *_examination(line, rule),
        *start_findings(line, grade),
        *_heat_treatment(grade),
        *_strength(grade),
        *dimension_findings(line),
        *_certificate(line),
        *_unsaid(line),
    ]
    return sorted_findings(found)


def findings_of(read: ReadLine) -> tuple[Finding, ...]:
    """What reading a row and checking its line found, sorted as by `check_line`."""
    return sorted_findings([*read.findings, *check_line(read.line)])


def sorted_findings(findings: list[Finding]) -> tuple[Finding, ...]:
    """The worst level first; within a level in the order they came."""
    return tuple(sorted(findings, key=lambda each: _RANK.index(each.level)))


def grade_of(line: OrderLine) -> Grade | None:
    """The table's row for the line's grade; None where the line names none that is whole."""
    if line.spec is None or line.grade is None:
        return None
    try:
        return find_grade(line.spec, line.grade)
    except GradeNotListed:
        return None


def seam_allowed(line: OrderLine) -> bool | None:
    """Whether the line allows a longitudinal seam; None where its words contradict each other.

    True also where the line is silent: what an order does not forbid, it lets through. No line
    allows a circumferential or branch seam.
    """
    said = {line.construction_by_letter, line.construction} - {None}
    if len(said) > 1 or line.construction is Construction.FABRICATED:
        return None
    return Construction.SEAMLESS not in said


def _construction(line: OrderLine, rule: ClassRule | None) -> list[Finding]:
    wanted, by_letter = line.construction, line.construction_by_letter
    found = []
    if wanted is Construction.FABRICATED:
        found.append(
            Finding(
                level=Level.CONTRADICTION,
                field="construction",
                sentence="The line asks for a fabricated piece: one with circumferential or "
                "intersection welds is pipe fabrication and lies outside ASME B16.9.",
                source=FABRICATION_SOURCE,
            )
        )
    if wanted and by_letter and wanted is not by_letter:
        found.append(
            Finding(
                level=Level.CONTRADICTION,
                field="construction",
                sentence=f"The line wants {wanted.value} construction, but "
                f"{line.material or line.suffix} is {by_letter.value}.",
                source=rule.source if rule else COMMON_PRACTICE,
            )
        )
    return found


def _seam(line: OrderLine, rule: ClassRule | None) -> list[Finding]:
    if rule is None:
        if line.spec is None or not line.suffix:
            return []
        return [
            Finding(
                level=Level.LEFT_OPEN,
                field="suffix",
                sentence=f"What the letters {line.suffix} mean for {line.spec} is not in the table "
                "here; say seamless or welded in words.",
                source=COMMON_PRACTICE,
            )
        ]
    name = line.material
    open_end = rule.seam == "not forbidden" and line.construction is None
    found = [
        Finding(
            level=Level.LEFT_OPEN if open_end else Level.NOTE,
            field="suffix",
            sentence=f"{name}: {rule.reading}."
            + (" A longitudinal seam is not forbidden." if open_end and not line.suffix else ""),
            source=rule.source,
        )
    ]
    if line.construction is Construction.SEAMLESS and rule.seam == "not forbidden":
        found.append(
            Finding(
                level=Level.NOTE,
                field="construction",
                sentence="The line says seamless in words, so it allows no seam in the body, "
                "whatever the bare grade leaves open.",
                source=COMMON_PRACTICE,
            )
        )
    if line.spec == "A234" and line.suffix != "S":
        found.append(
            Finding(
                level=Level.NOTE,
                field="suffix",
                sentence="A welded fitting must carry the letter W behind its grade; a mark "
                "without W declares a seamless one.",
                source="ASTM A234 Table 1 footnote A (edition not recorded), two public tables "
                "agree",
            )
        )
    return found


def _examination(line: OrderLine, rule: ClassRule | None) -> list[Finding]:
    allowed = seam_allowed(line)
    if rule is None or allowed is not True:
        return []
    found = [
        Finding(
            level=Level.NOTE,
            field="examination",
            sentence=f"Examination of the welds: {rule.examination}.",
            source=rule.examination_source,
        )
    ]
    said = line.examination or ""
    refused = refuses_examination(said)
    welded = rule.construction == "welded" or line.construction is Construction.WELDED
    other_method = {"WX": {"ultrasonics"}, "WU": {"radiography"}}.get(line.suffix)
    wrong = examinations_in(said) == other_method or (
        refused and welded and rule.examination != "none required"
    )
    if wrong:
        found.append(
            Finding(
                level=Level.CONTRADICTION,
                field="examination",
                sentence=f"The line says {line.examination} of the welds' examination, but "
                f"{line.material} means: {rule.examination}.",
                source=rule.examination_source,
            )
        )
    elif (refused or not said) and rule.construction != "seamless":
        found.append(
            Finding(
                level=Level.LEFT_OPEN,
                field="examination",
                sentence="The line allows a longitudinal seam and asks for no record of its "
                "examination; ask for the radiographs or the report with the certificate.",
                source=COMMON_PRACTICE,
            )
        )
    return found


def _heat_treatment(grade: Grade | None) -> list[Finding]:
    if grade is None:
        return []
    return [
        Finding(
            level=Level.NOTE,
            field="grade",
            sentence=f"{grade.grade} is {grade.alloy}; heat treatment: {grade.heat_treatment}.",
            source=f"{_standard(grade.spec)}; alloy from memory; heat treatment: "
            f"{grade.heat_treatment_source}",
        )
    ]


def _strength(grade: Grade | None) -> list[Finding]:
    if grade is None:
        return []
    limits = [
        f"{what} at least {value:g} MPa"
        for what, value in (
            ("tensile strength", grade.min_uts_mpa),
            ("yield strength", grade.min_yield_mpa),
        )
        if value is not None
    ]
    words = ", ".join(limits) if limits else "no tensile limit is in the table here"
    return [
        Finding(
            level=Level.NOTE,
            field="grade",
            sentence=f"Strength of {grade.grade}: {words}.",
            source=f"{_standard(grade.spec)}; {grade.tensile_source}",
        )
    ]


def _standard(spec: str) -> str:
    return f"{spec if spec.startswith('MSS') else f'ASTM {spec}'} (edition not recorded)"


def _certificate(line: OrderLine) -> list[Finding]:
    kind = re.search(r"(?<![\d.])2\.[12](?![\d.])", line.certificate or "")
    if kind is None:
        return []
    return [
        Finding(
            level=Level.LEFT_OPEN,
            field="certificate",
            sentence=f"A certificate of type {kind[0]} rests on no test of the pieces delivered, "
            "so it ties neither raw material nor heat to them; type 3.1 or 3.2 does.",
            source=f"EN 10204 types, {FROM_MEMORY}",
        )
    ]


def _unsaid(line: OrderLine) -> list[Finding]:
    """What a fabrication slips through, because the line does not say it."""
    gaps, by_letter = [], line.construction_by_letter
    if line.spec is None:
        gaps.append(("spec", "No material standard is named, so no rule about seams applies."))
    if line.grade is None:
        gaps.append(("grade", "No grade is named."))
    if line.construction is None:
        gaps.append(
            (
                "construction",
                "The line does not say seamless or welded in words"
                + (f"; only the letter {line.suffix} does." if by_letter else "."),
            )
        )
    if line.schedule is None and line.wall_mm is None:
        gaps.append(("schedule", "Neither schedule nor wall is named."))
    if line.certificate is None:
        gaps.append(
            (
                "certificate",
                "No certificate type is named; without one the raw material and its form need not "
                "be shown.",
            )
        )
    return [
        Finding(level=Level.LEFT_OPEN, field=field, sentence=sentence, source=COMMON_PRACTICE)
        for field, sentence in gaps
    ]
