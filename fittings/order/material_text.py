"""Reading a material as people write it: "A403 Gr. WP304L-WX", "SA-234 WPBW", "WP11 class 1"."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass

from fittings.order.grades import (
    GradeNotListed,
    grade_not_listed,
    names_of_grades,
    plain_name,
    specs,
)
from fittings.order.lines import SUFFIXES


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """A material as a text named it: standard, grade without class letters, and the letters.

    `also` is the second grade of a dual one such as WP316/316L, which must meet both.
    """

    spec: str | None
    grade: str | None
    suffix: str = ""
    also: str | None = None


def parse_spec(text: str) -> str:
    """The material standard that a text names: "ASTM A-234M", "SA234", "a234" are "A234".

    GradeNotListed where the table has no grade of it.
    """
    plain = re.sub(r"\b(ASTM|ASME)\b|[^A-Z0-9]", "", text.upper())
    plain = re.sub(r"^S(?=[AB]\d)", "", plain)
    for spec in specs():
        key = re.sub(r"[^A-Z0-9]", "", spec)
        if re.fullmatch(rf"{key}M?(S?{key}M?)?(\d\dE?\d?[A-Z]?)?", plain):
            return spec
        if spec.startswith("MSS") and plain == key.removeprefix("MSS"):
            return spec
    near = difflib.get_close_matches(plain, specs(), n=2, cutoff=0.6)
    raise GradeNotListed(text, f"the table of material standards ({', '.join(specs())})", near)


def parse_material(text: str, spec: str | None = None) -> Material:
    """Standard, grade and class letters of a text such as "ASTM A403 Gr. WP304L-WX" or "WPBW".

    `spec` is the standard where another column names it. GradeNotListed for a text that names no
    listed grade, with the nearest as suggestions.
    """
    upper = " ".join(text.upper().split())
    for found in _SPEC.findall(upper):  # "ASTM A234 / ASME SA234" names it twice
        named = parse_spec(found)
        if spec is not None and named != spec:
            raise GradeNotListed(text, f"{spec}, because it names {named}; keep one of them")
        spec = named
    upper = _SPEC.sub(" ", upper)
    # "WP11-1" is a way to write WP11 CL1.
    upper = re.sub(r"\b(WP\d\d?) ?- ?([123])\b", r"\1 CL\2", upper)
    upper = re.sub(r"\b(ASTM|ASME|GRADE|GR|UNS|ALLOY|MATERIAL)\b\.?", " ", upper)
    upper = re.sub(r"\bCLASS\b\.?", "CL", upper)
    upper = " ".join(upper.split())
    if not re.search(r"[A-Z0-9]", upper):
        return Material(spec=spec, grade=None)
    return _read_grade(upper, spec)


_SPEC = re.compile(
    r"(?:ASTM |ASME )?(?:\bS?[AB][ -]?\d{3}M?\b(?:/S?[AB]?[ -]?\d{3}M)?(?:-\d\d(?:E\d)?[A-Z]?\b)?"
    r"|\b(?:MSS )?SP[ -]?75\b)"
)


def _read_grade(upper: str, spec: str | None) -> Material:
    dual = re.fullmatch(r"\W*(WP|CR)\W*(\d{3}H?)\s*/\s*(?:(?:WP|CR)\W*)?(\d{3}[LH])\b(.*)", upper)
    if dual is not None:
        first = _read_grade(f"{dual[1]}{dual[2]}{dual[4]}", spec)
        second = _read_grade(f"{dual[1]}{dual[3]}", first.spec)
        return Material(spec=first.spec, grade=first.grade, suffix=first.suffix, also=second.grade)
    plain = plain_name(upper)
    for letters in ("", *_LETTERS):
        for name in _without(plain, letters):
            listed = names_of_grades().get(name)
            if not listed or (spec is not None and spec not in {each[0] for each in listed}):
                continue
            place, grade = next(each for each in listed if spec in (None, each[0]))
            cr = "CR" if grade.startswith("CR") else ""
            return Material(spec=place, grade=grade, suffix=letters or cr)
    bare = next(
        (n for s in ("", *_LETTERS) for n in _without(plain, s) if n in names_of_grades()), None
    )
    if bare is not None and spec is not None:
        others = " or ".join(f"{place} {grade}" for place, grade in names_of_grades()[bare])
        raise GradeNotListed(upper, f"{spec}: it is {others}; correct the standard or the grade")
    raise grade_not_listed(upper, spec)


_LETTERS = tuple(each for each in SUFFIXES if each)


def _without(plain: str, letters: str) -> tuple[str, ...]:
    """`plain` with the class letters taken off, at its end or before its strength class."""
    if not letters:
        return (plain,)
    names = []
    if plain.endswith(letters):
        names.append(plain[: -len(letters)])
    if match := re.fullmatch(rf"(.+){letters}(CL\d)", plain):
        names.append(match[1] + match[2])
    return tuple(names)
