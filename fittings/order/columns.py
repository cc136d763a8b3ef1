"""Which column of an order file holds what: headings as people write them.

A heading is read without regard to case, spaces, underscores, stops or order, and may carry a unit:
"Wall (mm)", "WALL_IN", "wall thickness [inch]", "Size DN".
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

# Field -> headings, without their unit. "form" to "quantity" are the fields of OrderLine;
# "standard" and "material" are columns that may hold one field or another.
HEADINGS: dict[str, tuple[str, ...]] = {
    "form": ("fitting", "type", "fitting type", "item type", "form", "product", "component"),
    "size": (
        *("size", "nps", "dn", "nb", "nominal size", "nominal diameter", "nominal bore", "sizes"),
        *("size 1", "nps 1", "dn 1", "run", "run size", "large end", "large size", "pipe size"),
        *("nominal pipe size", "diameter", "dia", "run nps", "large nps", "main size"),
    ),
    "second": (
        *("second size", "size 2", "nps 2", "dn 2", "outlet", "outlet size", "branch", "second"),
        *("branch size", "small end", "small size", "outlet nps", "small nps", "second nps"),
        *("outlet or small end", "reduced size", "second dn"),
    ),
    "schedule": ("schedule", "sch", "sched", "schedule no", "schedule wall", "sch no"),
    "wall": ("wall", "wall thickness", "wt", "w t", "thk", "thickness", "nominal wall"),
    "spec": ("spec", "specification", "material standard", "material spec", "astm", "spec no"),
    "grade": ("grade", "material grade", "gr", "symbol"),
    "material": ("material", "matl", "mat", "material and grade", "spec and grade"),
    "suffix": ("class", "class letter", "class letters", "suffix"),
    "construction": (
        *("construction", "wanted construction", "construction wanted", "manufacture", "seam"),
        *("seamless or welded", "seamless welded", "process", "execution", "make"),
    ),
    "quantity": ("quantity", "qty", "pcs", "pieces", "pc", "number", "count", "q ty", "nos"),
    "dimension_standard": (
        *("dimension standard", "dimensional standard", "dimensions", "dim standard", "dim std"),
        *("dimension", "dimensions to", "manufacturing standard"),
    ),
    "standard": ("standard", "std", "norm"),
    "description": (
        *("description", "desc", "item description", "text", "long description", "details"),
        *("material description", "short text", "commodity description"),
    ),
    "start_material": ("start material", "raw material", "starting material", "base material"),
    "certificate": ("certificate", "cert", "mtc", "mtr", "certificate type", "test certificate"),
    "examination": ("examination", "nde", "ndt", "radiography", "radiographs", "ndt nde", "rt"),
}
_FIELD = {heading: field for field, headings in HEADINGS.items() for heading in headings}
_SINGULAR_UNITS = {
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), "mm"),
    **dict.fromkeys(
        ("in", "inch", "inches", "zoll", "pouce", "pouces", "pulgada", "pulgadas", "polegadas"),
        "in",
    ),
    **dict.fromkeys(("dn", "nb"), "dn"),
    "nps": "nps",
}
_TAKES_UNIT = {"size", "second", "wall"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column in use: its place (0 is the first), its heading as written, what it holds.

    `unit` is "nps" or "dn" for a size, "mm" or "in" for a wall, None where the heading is silent.
    """

    index: int
    heading: str
    field: str
    unit: str | None = None


def column_of(heading: str, index: int) -> Column | None:
    """What a heading says that its column holds; None for a heading that is not known."""
    # "WallMm" is two words, but "sIZE" is one that a key got stuck on.
    for text in (heading, _CAMEL.sub(" ", heading)):
        if column := _column(_words(text), heading, index):
            return column
    return None


_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z0-9])|(?<=[A-Z])(?=\d)")


def _column(words: list[str], heading: str, index: int) -> Column | None:
    field, unit = _FIELD.get(" ".join(words)), None
    if field is None and len(words) > 1:
        # The unit may stand at either end: "DN size", "wall mm".
        for last, rest in ((words[-1], words[:-1]), (words[0], words[1:])):
            if last in _SINGULAR_UNITS and _FIELD.get(" ".join(rest)) in _TAKES_UNIT:
                field, unit = _FIELD[" ".join(rest)], _SINGULAR_UNITS[last]
                break
    if field is None:
        return None
    if field in ("size", "second"):
        named = next((_SINGULAR_UNITS[word] for word in words if word in _SINGULAR_UNITS), unit)
        unit = {"mm": "dn", "in": "nps"}.get(named or "", named)
    return Column(index=index, heading=" ".join(heading.split()), field=field, unit=unit)


def columns_of(headings: Sequence[str]) -> tuple[Column, ...]:
    """The columns in use of a heading line; empty where it is no heading line for an order.

    An order needs a form and a size, or a description that may hold both.
    """
    columns = known_columns(headings)
    fields = {each.field for each in columns}
    if "description" in fields or {"form", "size"} <= fields:
        return columns
    return ()


def known_columns(headings: Sequence[str]) -> tuple[Column, ...]:
    """Every column whose heading is known, whether or not they are enough for an order."""
    found = [column_of(heading, index) for index, heading in enumerate(headings)]
    return tuple(each for each in found if each is not None)


def _words(heading: str) -> list[str]:
    plain = unicodedata.normalize("NFKC", heading).replace("″", '"')
    plain = re.sub(r'"|\'\'', " in ", plain)
    return re.findall(r"[a-z]+|\d+", plain.lower())
