"""Reading one line of free text, such as "ELBOW 90 LR 6in SCH 40 A234 WPB BE SMLS".

What is recognised is taken out of the text step by step, so that a number is never read twice: the
9 of B16.9 is no size. What is not recognised is left alone.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from fittings.form_names import form_in
from fittings.order.lines import FittingForm, OrderError
from fittings.order.material_text import Material, parse_material
from fittings.order.phrases import (
    INCH,
    NUMBER,
    SCHEDULE,
    certificate_name,
    constructions_in,
    dimension_standard_in,
    schedule_in,
    sizes_in,
    start_in,
    wall_in,
)
from fittings.words import Construction


@dataclass(frozen=True, slots=True, kw_only=True)
class Described:
    """What a description says; None or () for what it does not say."""

    form_text: str = ""
    sizes: tuple[str, ...] = ()
    sizes_text: str = ""
    schedule: str | None = None
    wall_mm: float | None = None
    material: Material | None = None
    constructions: tuple[Construction, ...] = ()
    dimension_standard: str | None = None
    certificate: str | None = None
    examination: str | None = None
    start_material: str | None = None

    def form(self, *, two_sizes: bool) -> FittingForm | None:
        """The form that it names; OrderError when it names one that is not whole."""
        return form_in(self.form_text, two_sizes=two_sizes)


_CERTIFICATE = re.compile(
    r"\b(?:EN ?10204(?:[ -]*(?:type|t)?[ -]*)?(?P<a>[23]\.[12])?|(?:MTC|MTR|CERT\w*|TYPE)[ .:-]*"
    r"(?P<b>[23]\.[12]))\b",
    re.IGNORECASE,
)
_EXAMINATION = re.compile(
    r"\b(?:100 ?% ?(?:RT|UT|X-?RAY|RADIOGRAPH\w*)|(?:RT|UT|X-?RAY|RADIOGRAPH\w*)"
    r"(?: ?100 ?%?)?)(?!\w)",
    re.IGNORECASE,
)
_MATERIAL = re.compile(
    r"(?:\b(?:ASTM|ASME) )?(?:\bS?[AB][ -]?\d{3}M?\b(?:/S?[AB]?[ -]?\d{3}M?)?(?:-\d\d)?"
    r"|\bMSS SP-75\b)?[ ,-]*(?:\bGR(?:ADE)?\b[. ]*)?"
    r"(?:\b(?:WP(?:HY)?[ -]?(?:S ?\d{5}|L?\d{1,5}[A-Z]{0,3}|[A-Z]{1,4})|CR ?(?:\d{3}[A-Z]{0,3}|NC))"
    r"(?: ?/ ?(?:WP|CR)? ?\d{3}[LH])?"
    r"(?:[ -]?CL(?:ASS)?\.? ?\d)?(?:[ -](?:S|WX|WU|W))?\b(?:,? CLASS (?:S|WX|WU|W)\b)?)",
    re.IGNORECASE,
)
_SPEC_ALONE = re.compile(
    r"\b(?:(?:ASTM|ASME) )?S?(?:A[ -]?(?:234|403|420|815)|B[ -]?(?:366|361))M?\b", re.IGNORECASE
)
_WALL = re.compile(
    rf"\b(?:(?:WT|WALL|THK|THICKNESS|T)\b[ .:=]*)?(\d+[.,]\d+ ?mm\b)"
    rf"|\b(?:WT|WALL|THK|THICKNESS)\b[ .:=]*(\d+(?:[.,]\d+)? ?(?:mm\b|{INCH}))"
    # "6 mm WALL", but in "6in WALL 7 mm" and "6in WALL 0.28in" the word belongs to what follows.
    r"|(\d+(?:[.,]\d+)? ?mm\b)[ ]*(?:WT|WALL|THK|THICK)\b(?![ .:=]*[\d.,]+ ?mm\b)"
    rf"|(\d+(?:[.,]\d+)? ?{INCH})[ ]*(?:WT|WALL|THK|THICK)\b(?![ .:=]*[\d.,]+ ?(?:mm\b|{INCH}))",
    re.IGNORECASE,
)
_SCHEDULE = re.compile(
    rf"\bSCH(?:EDULE|ED)?\b[ .:-]*{SCHEDULE}\b(?:[ ]*[x×*][ ]*(?:SCH[ .]*)?{SCHEDULE}\b)?"
    rf"|\bSCH{SCHEDULE}\b|\b(?:XXS|XXH|XS|XH|STD)\b(?: ?[x×*] ?(?:XXS|XXH|XS|XH|STD)\b)?"
    rf"|\bS-?\d{{2,3}}S?\b|\b(?:5|10|40|80)S\b",
    re.IGNORECASE,
)
_FORM_NUMBERS = re.compile(
    r"\b(?:R ?= ?)?(?:1(?:\.[05])?|3(?:\.0)?) ?[DR]\b|\b(?:90|45|180) ?(?:°|DEG\w*\b\.?)"
    r"|\b(?:90|45|180)(?=[ -]*(?:LR|SR|3D|1\.5D|LONG|SHORT|ELL?\b|ELB))"
    r"|(?<=ELBOW[ ,-])(?:90|45|180)\b(?! ?(?:mm|nb|\"|in\b))"
    r"|(?<=ELL[ ,-])(?:90|45|180)\b|(?<=LR[ ,-])(?:90|45)\b|(?<=SR[ ,-])90\b",
    re.IGNORECASE,
)
_UNIT_SIZE = rf"(?:(?:NPS|DN|NB)[ .:]?{NUMBER}|{NUMBER} ?(?:{INCH}|NB\b|DN\b|mm\b))"
_SIZE_PAIR = re.compile(
    rf"(?<![\w.])(?:(?:NPS|DN|NB)[ .:]?)?{NUMBER} ?(?:{INCH}|NB\b|DN\b|mm\b)?"
    rf" ?[x×*] ?(?:(?:NPS|DN|NB)[ .:]?)?{NUMBER}(?: ?(?:{INCH}|NB\b|DN\b|mm\b))?(?![\w.])",
    re.IGNORECASE,
)
_SIZE = re.compile(rf"(?<![\w./-]){_UNIT_SIZE}(?!\w)", re.IGNORECASE)


def describe(text: str) -> Described:
    """What a description says. OrderError for what it says in a way that cannot be used.

    GradeNotListed for a material that the table lacks. Two sizes or two schedules that do not
    belong together are refused, because nothing tells which of them is meant.
    """
    rest = " ".join(text.split())
    standard, rest = dimension_standard_in(rest)
    certificate, rest = _taken(_CERTIFICATE, rest, "certificate")
    examination, rest = _taken(_EXAMINATION, rest, "examination")
    material_text, rest = _taken(_MATERIAL, rest, "grade")
    if material_text is None:
        material_text, rest = _taken(_SPEC_ALONE, rest, "spec")
    wall_text, rest = _taken(_WALL, rest, "wall_mm")
    schedule_text, rest = _taken(_SCHEDULE, rest, "schedule")
    form_numbers = " ".join(match[0] for match in _FORM_NUMBERS.finditer(rest))
    rest = _FORM_NUMBERS.sub(" ", rest)
    sizes_text, rest = _sizes(rest)
    return Described(
        form_text=" ".join(f"{rest} {form_numbers}".replace("=", " ").split()),
        sizes=sizes_in(sizes_text) if sizes_text else (),
        sizes_text=sizes_text or "",
        schedule=schedule_in(schedule_text) if schedule_text else None,
        wall_mm=wall_in(_measure(wall_text)) if wall_text else None,
        material=parse_material(material_text) if material_text else None,
        constructions=constructions_in(rest),
        dimension_standard=standard,
        certificate=certificate_name(certificate) if certificate else None,
        examination=examination,
        start_material=start_in(rest),
    )


def _taken(pattern: re.Pattern[str], text: str, field: str) -> tuple[str | None, str]:
    """The one match of a pattern, and the text without it; OrderError for two different ones."""
    found = list(dict.fromkeys(match[0].strip(" ,-") for match in pattern.finditer(text)))
    if len(found) > 1:
        raise OrderError(field, f"the description says {found[0]!r} and {found[1]!r}; keep one")
    return (found[0] if found else None), pattern.sub(" ", text)


def _sizes(text: str) -> tuple[str | None, str]:
    pair, rest = _taken(_SIZE_PAIR, text, "nps")
    if pair is not None:
        return pair, rest
    singles = list(dict.fromkeys(match[0].strip() for match in _SIZE.finditer(text)))
    if len(singles) > 1:
        # A pair that is written apart, or NPS beside DN: both readings are kept if they agree.
        read = {_one_size(each) for each in singles}
        if len(read) > 1:
            raise OrderError(
                "nps",
                f"the description gives {' and '.join(singles)}; write two sizes as 6 x 4",
            )
    return (singles[0] if singles else None), _SIZE.sub(" ", text)


def _one_size(text: str) -> tuple[str, ...]:
    try:
        return sizes_in(text)
    except OrderError as error:
        if not text.lower().endswith("mm"):
            raise
        raise OrderError(
            error.field, f"{error.message}; if {text} is the wall, write WALL {text}"
        ) from None


def _measure(text: str) -> str:
    match = re.search(rf"\d+(?:[.,]\d+)? ?(?:mm\b|{INCH})", text, re.IGNORECASE)
    return match[0] if match else text
