"""Words and short texts of an order: what they name. Each function reads one thing.

They read what is written and guess nothing: a bend angle, a radius, a unit that is not there gives
an OrderError which says what to add.
"""

from __future__ import annotations

import re
from fractions import Fraction

from fittings.form_names import nps_named
from fittings.listed import SizeTable, listed_sizes, not_listed, table_rows
from fittings.order.lines import OrderError
from fittings.sizes import format_nps, parse_nps
from fittings.units import QuantityError, length_mm
from fittings.words import Construction

# At most six digits, which is more than any size has and keeps the reckoning quick.
NUMBER = (
    r"(?:\d{1,6} ?- ?\d{1,6}/\d{1,6}|\d{1,6} \d{1,6}/\d{1,6}|\d{1,6}/\d{1,6}"
    r"|\d{1,6}[½¼¾⅛⅜⅝⅞]|[½¼¾⅛⅜⅝⅞]|\d{1,6}(?:\.\d{1,6})?)"
)
INCH = r"(?:\"|''|”|″|(?:in|inch|inches|zoll|pouces?|pulgadas?|polegadas?)\b\.?)"
_ONE_SIZE = re.compile(
    rf"(?P<before>NPS|DN|NB|Ø)?\s*[.:]?\s*(?P<number>{NUMBER})\s*(?P<after>{INCH}|mm\b|nb\b|dn\b)?",
    re.IGNORECASE,
)
_BETWEEN = re.compile(r"(?<=[\d\"”″½¼¾nNmMbB' )])\s*(?:[x×X*]|\bby\b)\s*(?=[\d½¼¾⅛⅜⅝⅞nNdDØ])")


def sizes_in(text: str, unit: str | None = None, field: str = "nps") -> tuple[str, ...]:
    """One or two sizes of a cell such as "6", "DN150 x DN100", '6" x 4"', as `format_nps` text.

    `unit` is "nps" or "dn" where the column's heading says it. A plain number without either is
    NPS. OrderError for units that are mixed, and for sizes that the pipe table lacks.
    """
    parts = [part.strip() for part in _BETWEEN.split(text.strip())]
    if len(parts) > 2:
        raise OrderError(field, f"{text!r} names more than two sizes")
    read = []
    for part in parts:
        match = _ONE_SIZE.fullmatch(part)
        if match is None:
            raise OrderError(field, f"{part!r} is no size; write it like 6, 1-1/2, 6 x 4 or DN150")
        read.append((match["number"], _size_unit(match, field)))
    units = {each for _, each in read if each} | ({unit} if unit else set())
    if len(units) > 1:
        raise OrderError(
            field, f"{text!r} mixes NPS (inch) and DN (mm) in one line; write both sizes in one"
        )
    metric = units == {"dn"}
    return tuple(_listed(number, metric=metric, field=field) for number, _ in read)


def says_unit(text: str) -> bool:
    """Whether a cell itself tells NPS from DN."""
    return any(bool(match["before"] or match["after"]) for match in _ONE_SIZE.finditer(text))


def _size_unit(match: re.Match[str], field: str) -> str | None:
    before, after = (match["before"] or "").upper(), (match["after"] or "").lower()
    inch = before == "NPS" or bool(after and re.fullmatch(INCH, after, re.IGNORECASE))
    metric = before in ("DN", "NB") or after in ("mm", "nb", "dn")
    if inch and metric:
        raise OrderError(field, f"{match[0].strip()!r} mixes NPS (inch) and DN (mm)")
    return "dn" if metric else "nps" if inch else None


def _listed(number: str, *, metric: bool, field: str) -> str:
    if metric:
        return nps_named(f"DN{number}", field)
    try:
        size = parse_nps(number)
    except ValueError as error:
        raise OrderError(field, str(error)) from None
    if (format_nps(size), "STD") not in listed_sizes(SizeTable.PIPE):
        error_text = str(not_listed(size, SizeTable.PIPE))
        if size in _dn_numbers():
            error_text += f"; if DN {number} is meant, write DN{number}"
        raise OrderError(field, error_text)
    return format_nps(size)


def may_be_dn(number: str) -> bool:
    """Whether a plain number is a listed NPS and a listed DN at once, such as 20."""
    return re.fullmatch(r"\d+", number.strip()) is not None and Fraction(number) in _dn_numbers()


def _dn_numbers() -> frozenset[Fraction]:
    return frozenset(Fraction(row["dn"]) for row in table_rows("pipe_b36"))


SCHEDULE = r"(?:XXS|XXH|XS|XH|STD|STANDARD|\d{1,3}\s?S?)"
_SCHEDULE_CELL = re.compile(
    rf"(?:(?:SCHEDULE|SCHED|SCH|S(?=[-/ ]?\d))\s*[.:/-]?\s*)?({SCHEDULE})\s*(?:WT|WALL)?\.?",
    re.IGNORECASE,
)
# The x between two schedules, which is not the X of XS.
_TWO_SCHEDULES = re.compile(r"\s*[x×*]\s+|(?<=\d)\s*[x×*]\s*(?=\d)|\s+[x×*](?=\d|SCH)", re.I)
_OTHER_NAMES = {"XXH": "XXS", "XH": "XS", "STANDARD": "STD"}


def schedule_in(text: str) -> str | None:
    """The schedule that a cell names, "SCH 40", "40S", "Std", as "40", "40S", "STD"; else None.

    OrderError for two different schedules, since one line holds one.
    """
    found = []
    for part in _TWO_SCHEDULES.split(text.strip()):
        match = _SCHEDULE_CELL.fullmatch(part.strip())
        if match is None:
            return None
        name = re.sub(r"\s", "", match[1].upper())
        name = _OTHER_NAMES.get(name, name)
        found.append(name.lstrip("0") if name.isdigit() else name)
    if len(set(found)) > 1:
        raise OrderError(
            "schedule",
            f"{text!r} names two schedules; a line is checked with one, so give the heavier end "
            "its own line or order both ends alike",
        )
    return found[0] or None


def wall_in(text: str, unit: str | None = None) -> float:
    """A wall in mm of a cell such as "9.53 mm", '0.375"', or "9,53" under a heading with unit.

    OrderError where neither says the unit, or where the two differ.
    """
    plain = re.sub(r"(?<=\d),(?=\d)", ".", text.strip())
    plain = re.sub(rf"(?i){INCH}$", "in", plain)
    bare = re.fullmatch(r"[-+−]?\d*\.?\d+", plain) is not None
    own = re.search(r"(mm|in)$", plain.lower())
    if bare and unit is None:
        raise OrderError(
            "wall_mm", f"{text!r} has no unit; write mm or in behind it or in the heading"
        )
    if own is not None and unit is not None and own[1] != unit:
        raise OrderError(
            "wall_mm", f"{text!r} mixes units: the heading says {unit}, the cell says {own[1]}"
        )
    try:
        return length_mm(f"{plain} {unit}" if bare else plain, "wall_mm")
    except QuantityError as error:
        raise OrderError("wall_mm", error.problem) from None


_NOT_A_SEAM = re.compile(r"\bbutt[- ]?weld\w*|\bweld(?:ed|ing)?[- ](?:ends?|neck)\b", re.I)
_CONSTRUCTIONS = (
    (Construction.SEAMLESS, re.compile(r"\b(?:seamless|smls+|smless|s'less)\b", re.I)),
    (Construction.WELDED, re.compile(r"\b(?:welded|wld|efw|erw|hfw|hfi|l?saw)\b", re.I)),
    (
        Construction.FABRICATED,
        re.compile(
            r"\b(?:fabricat(?:ed|ion)|fab|mit(?:re|er)(?:d|ed)?|segment(?:ed|al)|lobster"
            r"|set[- ]on|gored?)\b",
            re.I,
        ),
    ),
)


def constructions_in(text: str) -> tuple[Construction, ...]:
    """Every construction that a text names. "Butt-welded" and "welded ends" name none."""
    plain = _NOT_A_SEAM.sub(" ", text)
    return tuple(each for each, pattern in _CONSTRUCTIONS if pattern.search(plain))


_FROM = re.compile(r"\b(?:from|ex)\b[ :]+([^,;]{1,60})", re.I)
_RAW_FORM = re.compile(
    r"\b(?:S?[AB][ -]?\d{2,3}|API 5L|plate|sheet|strip|coil|(?<!\d )bar|forging|pipe|tube)\b", re.I
)


def start_in(text: str) -> str | None:
    """The raw material that a text names: "ERW pipe" (no filler metal), or what follows "from".

    None where there is neither; "ex stock" names no raw material.
    """
    if re.search(r"\b(?:erw|hfw|hfi)\b", text, re.I):
        return "ERW pipe"
    start = _FROM.search(text)
    return start[1].strip() if start and _RAW_FORM.search(start[1]) else None


_METHODS = {
    "radiography": re.compile(r"(?<![A-Z])(?:RT(?![A-Z])|RADIOGRAPH|X-?RAY)", re.I),
    "ultrasonics": re.compile(r"(?<![A-Z])(?:UT(?![A-Z])|ULTRASON)", re.I),
}
_REFUSED = re.compile(
    r"(?:none|nil|no|not required|(?:no|without|not) (?:rt|ut|nde|ndt|radiograph\w*|x-?ray\w*"
    r"|ultrason\w*|examination)(?: required)?)\W*",
    re.I,
)


def examinations_in(text: str) -> set[str]:
    """ "radiography", "ultrasonics" or both, as a text asks for; empty where it names neither."""
    return {name for name, pattern in _METHODS.items() if pattern.search(text)}


def refuses_examination(text: str) -> bool:
    """Whether a text about the welds' examination says that there is to be none."""
    return _REFUSED.fullmatch(text.strip()) is not None


_CERTIFICATE_TYPE = re.compile(
    r"(?:(?:EN ?10204|MTC|MTR|CERT\w*|TYPE|T)[ .:/-]*)*([23]\.[12])\.?", re.I
)


def certificate_name(text: str) -> str:
    """ "EN 10204 3.1" for a text that holds nothing but its type; other texts as they are."""
    kind = _CERTIFICATE_TYPE.fullmatch(text.strip())
    return f"EN 10204 {kind[1]}" if kind else text


_STANDARDS = (
    (re.compile(r"\b(?:ASME|ANSI)?[ /]*B ?16\.? ?9\b(?:M\b)?(?:-\d{4})?", re.I), "ASME B16.9"),
    (re.compile(r"\b(?:ASME|ANSI)?[ /]*B ?16\.28\b(?:-\d{4})?", re.I), "ASME B16.28"),
    (re.compile(r"\b(?:ASME|ANSI)?[ /]*B ?16\.11\b(?:-\d{4})?", re.I), "ASME B16.11"),
    (re.compile(r"\b(?:MSS[ -]?)?SP[ -]?43\b", re.I), "MSS SP-43"),
    (re.compile(r"\bMSS[ -]?SP[ -]?75\b", re.I), "MSS SP-75"),
    (re.compile(r"\b(?:DIN )?EN ?10253(?:-\d)?\b", re.I), "EN 10253"),
)


def dimension_standard_in(text: str) -> tuple[str | None, str]:
    """The dimension standard that a text names, and the text without it."""
    for pattern, name in _STANDARDS:
        if pattern.search(text):
            return name, pattern.sub(" ", text)
    return None, text
