"""Material grades of wrought fittings, and what a class letter says about a seam.

The rows lie in `tables/grades.csv` and `tables/class_suffixes.csv`. No bought edition of a material
standard was at hand, and much is from memory; every value carries a source text that says so. That
a grade is missing here says nothing about whether the standard has it.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from fittings.listed import table_rows


class GradeNotListed(LookupError):
    """The table has no such grade, or no such material standard.

    `nearest` holds grades that it may have been meant for, as text such as "WPB" or "A403 WP304L".
    """

    def __init__(self, asked: str, place: str, nearest: Iterable[str] = ()) -> None:
        self.asked = asked
        self.place = place
        self.nearest = tuple(nearest)
        # The arguments as they came, so that the error survives a trip between processes.
        super().__init__(asked, place, self.nearest)

    def __str__(self) -> str:
        near = f"; did you mean {' or '.join(self.nearest)}?" if self.nearest else ""
        return f"{self.asked!r} is not in {self.place}{near}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Grade:
    """One grade: least strengths in MPa (None where the table has no limit), start, treatment.

    `group` is carbon, low alloy, low temperature, high strength, austenitic, duplex, nickel or
    aluminium. `class_rule` says how seamless and welded are told apart: "class" (S, W, WX, WU),
    "letter W" (a welded fitting adds W), "as ordered", or "none". The start materials are those
    that are usual; the seamless ones leave no seam, the others bring one or need one.
    """

    spec: str
    grade: str
    alloy: str
    group: str
    class_rule: str
    min_uts_mpa: float | None
    min_yield_mpa: float | None
    seamless_start: tuple[str, ...]
    welded_start: tuple[str, ...]
    heat_treatment: str
    tensile_source: str
    start_source: str
    heat_treatment_source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassRule:
    """What a class letter, or its absence, says about a seam in an order line.

    `construction` is seamless, welded, either or unsaid. `seam` is "none" (no weld in the body),
    "longitudinal" (allowed) or "not forbidden" (the letters leave it open).
    """

    spec: str
    suffix: str
    construction: str
    seam: str
    examination: str
    reading: str
    examination_source: str
    source: str


@cache
def grades() -> tuple[Grade, ...]:
    """Every grade of the table, in its order."""
    return tuple(
        Grade(
            spec=row["spec"],
            grade=row["grade"],
            alloy=row["alloy"],
            group=row["group"],
            class_rule=row["class_rule"],
            min_uts_mpa=_number(row["min_uts_mpa"]),
            min_yield_mpa=_number(row["min_ys_mpa"]),
            seamless_start=tuple(row["seamless_start"].split("; ")),
            welded_start=tuple(row["welded_start"].split("; ")),
            heat_treatment=row["heat_treatment"],
            tensile_source=row["tensile_source"],
            start_source=row["start_source"],
            heat_treatment_source=row["heat_treatment_source"],
        )
        for row in table_rows("grades")
    )


@cache
def specs() -> tuple[str, ...]:
    """The material standards that the table has grades of: "A234", "A403" and so on."""
    return tuple(dict.fromkeys(each.spec for each in grades()))


def find_grade(spec: str, grade: str) -> Grade:
    """The grade by its plain names, such as ("A234", "WPB"); GradeNotListed with the nearest.

    A grade that needs a strength class, such as WP11, is listed with it only (WP11 CL1):
    `strength_classes` gives them.
    """
    for each in grades():
        if each.spec == spec and each.grade == grade:
            return each
    raise grade_not_listed(grade, spec)


def strength_classes(spec: str, grade: str) -> tuple[str, ...]:
    """("WP11 CL1", "WP11 CL2", "WP11 CL3") for a bare WP11; () where none is needed.

    CL1, CL2 and CL3 are strength classes by heat treatment and say nothing about seams.
    """
    return tuple(
        each.grade
        for each in grades()
        if each.spec == spec and each.grade.startswith(f"{grade} CL")
    )


def class_rule(spec: str, suffix: str) -> ClassRule | None:
    """What the letters say in an order to that standard; None where the table has no such row."""
    for row in table_rows("class_suffixes"):
        if (row["spec"], row["suffix"], row["seen_on"]) == (spec, suffix, "order"):
            return ClassRule(
                spec=spec,
                suffix=suffix,
                construction=row["construction"],
                seam=row["seam"],
                examination=row["examination"],
                reading=row["reading"],
                examination_source=row["examination_source"],
                source=row["source"],
            )
    return None


@cache
def names_of_grades() -> dict[str, list[tuple[str, str]]]:
    """(spec, grade) of every way of writing a grade, without spaces and signs.

    Also a grade that needs a strength class without it, so that WP11 is known.
    """
    names: dict[str, list[tuple[str, str]]] = {}
    for row in table_rows("grades"):
        ways = [row["grade"], *filter(None, row["also_written"].split(";"))]
        for way in ways:
            names.setdefault(plain_name(way), []).append((row["spec"], row["grade"]))
            if " CL" in way:
                base = way.partition(" CL")[0]
                listed = names.setdefault(plain_name(base), [])
                if (row["spec"], base) not in listed:
                    listed.append((row["spec"], base))
    return names


def grade_not_listed(asked: str, spec: str | None) -> GradeNotListed:
    """The error for an unknown grade, with the listed grades that are spelt most like it."""
    names = {
        name: listed
        for name, listed in names_of_grades().items()
        if spec is None or spec in {place for place, _ in listed}
    }
    plain = plain_name(asked)
    # A text without its prefix (304L) may have been meant for either prefix.
    near = [name for name in names if name in (f"WP{plain}", f"CR{plain}")]
    if not near:
        likeness = {name: _likeness(name, plain) for name in names}
        least = max(0.5, max(likeness.values()) - 0.1)
        near = sorted((name for name in names if likeness[name] >= least), key=likeness.__getitem__)
        near.reverse()
    suggested = dict.fromkeys(
        whole if spec else f"{place} {whole}"
        for name in near
        for place, grade in names[name]
        if spec in (None, place)
        for whole in strength_classes(place, grade) or (grade,)
    )
    place = f"the grades listed for {spec}" if spec else "the table of grades"
    return GradeNotListed(asked.strip(), place, tuple(suggested)[:4])


def _likeness(name: str, plain: str) -> float:
    """1 for the same letters in another order, which is the commonest slip."""
    if sorted(name) == sorted(plain):
        return 1.0
    return difflib.SequenceMatcher(None, plain, name).ratio()


def plain_name(text: str) -> str:
    """The capital letters and digits of a text, which is all that tells names apart."""
    return re.sub(r"[^A-Z0-9]", "", text.upper())


def _number(text: str) -> float | None:
    return float(text) if text else None
