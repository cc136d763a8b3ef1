"""Lengths and pressures as people write them, turned into millimetres and megapascals exactly.

Every value carries its own unit word, so one command may mix them: "0.25 in" beside "9.53 mm". The
factors are exact: 1 in = 25.4 mm and 1 lb = 0.453 592 37 kg (international yard and pound agreement
of 1959), standard gravity 9.806 65 m/s² (General Conference on Weights and Measures, 1901), 1 bar =
0.1 MPa (SI brochure, table of other units). Values are reckoned as fractions and rounded once, at
the end.

Pressures are gauge pressures, as piping codes use them. Signs are read as written: whether a
negative value makes sense is for the field that takes it.
"""

from __future__ import annotations

import re
from fractions import Fraction

_INCH_MM = Fraction("25.4")
# A pound-force on a square inch, in newtons on a square millimetre.
_PSI_MPA = Fraction("0.45359237") * Fraction("9.80665") / _INCH_MM**2

# Unit word -> size of the unit. The first word of each size is the one that errors suggest.
LENGTH_UNITS: dict[str, Fraction] = {  # in mm
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": _INCH_MM,
    "ft": 12 * _INCH_MM,
}
PRESSURE_UNITS: dict[str, Fraction] = {  # in MPa
    "MPa": Fraction(1),
    "kPa": Fraction(1, 1000),
    "bar": Fraction(1, 10),
    "psi": _PSI_MPA,
    "ksi": 1000 * _PSI_MPA,
}

_OTHER_WORDS = {
    **{"inch": "in", "inches": "in", "in.": "in", '"': "in", "''": "in", "”": "in", "″": "in"},
    **{"millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm"},
    **{"metre": "m", "metres": "m", "meter": "m", "meters": "m"},
    **{"foot": "ft", "feet": "ft", "ft.": "ft"},
    **{"n/mm2": "MPa", "n/mm²": "MPa", "mn/m2": "MPa", "mn/m²": "MPa", "mpag": "MPa"},
    **{"barg": "bar", "bar(g)": "bar", "bars": "bar"},
    **{"psig": "psi", "psi(g)": "psi", "lbf/in2": "psi", "lbf/in²": "psi"},
}
_ABSOLUTE = {"bara", "bar(a)", "psia", "psi(a)", "mpaa"}
_VULGAR = {"⅛": "1/8", "¼": "1/4", "⅜": "3/8", "½": "1/2", "⅝": "5/8", "¾": "3/4", "⅞": "7/8"}
# Twenty digits hold any float as Python writes it, and keep the reckoning quick.
_QUANTITY = re.compile(
    r"(?P<sign>[-+−]?)\s*"
    r"(?:(?P<whole>\d{1,20})(?:\s*-\s*|\s+)(?P<part>\d{1,20}/\d{1,20})"
    r"|(?P<fraction>\d{1,20}/\d{1,20})"
    r"|(?P<number>\d{1,20}\.?\d{0,20}|\.\d{1,20})(?P<power>[eE][-+]?\d{1,2}(?![\d.]))?)"
    r"\s*(?P<unit>[^\d\s.,+−-].*)?",
    re.ASCII,
)


class QuantityError(ValueError):
    """A text that is no quantity; the message names the field and says how to write it."""

    def __init__(self, field: str, problem: str) -> None:
        self.field = field
        self.problem = problem
        super().__init__(field, problem)

    def __str__(self) -> str:
        return f"{self.field}: {self.problem}"


def length_mm(text: str, field: str) -> float:
    """The length that `text` names, in mm: "9.53 mm", "0.25in", '1-1/2"', "3/8 in", "1.2 m".

    QuantityError naming `field` when the unit is missing or unknown, or the number can't be read.
    """
    return float(_quantity(text, field, LENGTH_UNITS, "9.53 mm or 0.375 in"))


def pressure_mpa(text: str, field: str) -> float:
    """The gauge pressure or stress that `text` names, in MPa: "3 MPa", "30bar", "435 psi".

    QuantityError naming `field`, also for absolute pressures, which piping sums do not use.
    """
    return float(_quantity(text, field, PRESSURE_UNITS, "3 MPa, 30 bar or 435 psi"))


def mm_in(value_mm: float, unit: str) -> float:
    """A length in mm as a number of `unit`, one of LENGTH_UNITS (KeyError otherwise)."""
    return float(Fraction(value_mm) / LENGTH_UNITS[unit])


def mpa_in(value_mpa: float, unit: str) -> float:
    """A pressure in MPa as a number of `unit`, one of PRESSURE_UNITS (KeyError otherwise)."""
    return float(Fraction(value_mpa) / PRESSURE_UNITS[unit])


def _quantity(text: str, field: str, units: dict[str, Fraction], example: str) -> Fraction:
    plain = text
    for sign, fraction in _VULGAR.items():
        plain = plain.replace(sign, f" {fraction}")
    plain = plain.strip()
    if not plain:
        raise QuantityError(field, f"nothing is given; write it like {example}")
    if re.search(r"\d,\d", plain):
        raise QuantityError(
            field, f"{text!r} has a comma; write a point for decimals and nothing for thousands"
        )
    match = _QUANTITY.fullmatch(plain)
    if match is None:
        raise QuantityError(field, f"{text!r} is no number with a unit; write it like {example}")
    written = (match["unit"] or "").strip()
    if not written:
        raise QuantityError(field, f"{text!r} has no unit; write it like {example}")
    return _number(match, text, field) * units[_unit(written, field, units)]


def _number(match: re.Match[str], text: str, field: str) -> Fraction:
    try:
        if match["whole"]:
            size = int(match["whole"]) + Fraction(match["part"])
        else:
            size = Fraction(match["fraction"] or match["number"] + (match["power"] or ""))
    except ZeroDivisionError:
        raise QuantityError(field, f"{text!r} divides by 0") from None
    return -size if match["sign"] in ("-", "−") else size


def _unit(written: str, field: str, units: dict[str, Fraction]) -> str:
    """The unit word that `written` stands for; case does not matter (nobody means millipascal)."""
    word = written.casefold()
    if word in _ABSOLUTE:
        raise QuantityError(field, f"{written} is an absolute pressure; give the gauge pressure")
    by_word = {name.casefold(): name for name in units}
    unit = by_word.get(word) or _OTHER_WORDS.get(word)
    if unit not in units:
        raise QuantityError(field, f"unit {written!r} is not one of {', '.join(units)}")
    return unit
