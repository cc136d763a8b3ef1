"""What people type for a form and a size: "90 LR elbow", "red. tee", "DN150"."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from functools import cache

from fittings.listed import table_rows
from fittings.order.lines import FittingForm, OrderError
from fittings.sizes import format_nps
from fittings.words import Kind

# (bend angle, radius word) of every elbow that ASME B16.9 has a table for.
_ELBOWS = {
    (90, "long"): FittingForm.ELBOW_90_LONG,
    (45, "long"): FittingForm.ELBOW_45_LONG,
    (90, "short"): FittingForm.ELBOW_90_SHORT,
    (90, "3d"): FittingForm.ELBOW_90_3D,
    (45, "3d"): FittingForm.ELBOW_45_3D,
}
_KINDS = {
    "elbow": ("elbow", "elbows", "ell", "ells", "elb", "el", "bend"),
    "tee": ("tee", "tees", "t"),
    "reducer": ("reducer", "reducers"),
}
_RADII = {"long": ("lr", "long"), "short": ("sr", "short"), "3d": ("3d", "3r")}
_FILLERS = frozenset(("radius", "degree", "degrees", "deg", "equal", "straight", "red", "reducing"))
_TAPERS = ("conc", "concentric", "ecc", "eccentric")
_KNOWN = frozenset(
    (
        *(word for group in (*_KINDS.values(), *_RADII.values()) for word in group),
        *_FILLERS,
        *_TAPERS,
    )
)
_WRITE = "write it like '90 LR elbow', '45 LR elbow', 'tee', 'reducing tee' or 'ecc reducer'"


def form_named(text: str, *, two_sizes: bool, field: str = "fitting") -> FittingForm:
    """The form that a text names; `two_sizes` says whether a second, smaller size is given.

    A bend angle and a radius are never guessed, because the dimensions hang on them: "elbow" alone
    is refused. "tee" is a reducing tee when there are two sizes, and a bare "reducer" is read as
    concentric, since ASME B16.9 prints one length for both. OrderError names `field`.
    """
    words = _words(text)
    kind = _one(words, _KINDS, text, field)
    if kind is None and set(_TAPERS) & set(words):
        kind = "reducer"
    if kind is None:
        raise OrderError(field, f"{text!r} names no fitting{_suggestion(words)}; {_WRITE}")
    unknown = [word for word in words if word not in _KNOWN and not word.isdigit()]
    if unknown:
        raise OrderError(field, f"{unknown[0]!r} in {text!r} is not understood; {_WRITE}")
    if kind == "elbow":
        return _elbow(words, text, field)
    if kind == "tee":
        if {"straight", "equal"} & set(words) and two_sizes:
            raise OrderError("second", "a straight tee has one size; leave the second one out")
        says_reducing = bool({"red", "reducing"} & set(words))
        if says_reducing and not two_sizes:
            raise OrderError("second", "a reducing tee needs the outlet's size as well, such as 4")
        return FittingForm.REDUCING_TEE if two_sizes else FittingForm.STRAIGHT_TEE
    if not two_sizes:
        raise OrderError("second", "a reducer needs the small end's size as well, such as 4")
    eccentric = bool({"ecc", "eccentric"} & set(words))
    return FittingForm.ECCENTRIC_REDUCER if eccentric else FittingForm.CONCENTRIC_REDUCER


def kind_named(text: str, *, field: str = "fitting") -> Kind:
    """The kind alone: "tee", "elbow", "90 LR elbow". OrderError names `field`."""
    words = _words(text)
    kind = _one(words, _KINDS, text, field)
    if kind is None:
        raise OrderError(
            field, f"{text!r} names no fitting{_suggestion(words)}; write elbow, tee or reducer"
        )
    return Kind(kind)


def _words(text: str) -> list[str]:
    return re.findall(r"[a-z]+|\d+d|\d+r|\d+", text.lower().replace("°", " deg "))


def _elbow(words: list[str], text: str, field: str) -> FittingForm:
    radius = _one(words, _RADII, text, field)
    angles = [int(word) for word in words if word.isdigit()]
    if radius is None:
        raise OrderError(field, f"{text!r} says no radius; add LR, SR or 3D")
    if len(angles) != 1:
        raise OrderError(field, f"{text!r} must say one bend angle; add 90 or 45")
    form = _ELBOWS.get((angles[0], radius))
    if form is None:
        known = ", ".join(each.value for each in _ELBOWS.values())
        raise OrderError(field, f"ASME B16.9 has no table for {text!r}; it has {known}")
    return form


def _one(
    words: list[str], groups: Mapping[str, tuple[str, ...]], text: str, field: str
) -> str | None:
    found = [name for name, group in groups.items() if set(group) & set(words)]
    if len(found) > 1:
        raise OrderError(field, f"{text!r} names both {found[0]} and {found[1]}")
    return found[0] if found else None


def _suggestion(words: list[str]) -> str:
    for word in words:
        known = sorted(each for each in _KNOWN if len(each) > 2)
        if word not in _KNOWN and (near := difflib.get_close_matches(word, known, n=1, cutoff=0.7)):
            return f" (did you mean {near[0]!r}?)"
    return ""


def nps_named(text: str, field: str = "nps") -> str:
    """The size that "6", "NPS 1-1/2" or "DN150" names, as `format_nps` writes it.

    DN against NPS as the pipe table pairs them, ASME B36.10M (edition not recorded). OrderError
    names `field`; a DN that the table lacks is refused with the nearest ones.
    """
    metric = re.fullmatch(r"\s*DN\s*[-. ]?\s*(\d+)\s*", text, re.IGNORECASE | re.ASCII)
    if metric is None:
        try:
            return format_nps(text)
        except ValueError as error:
            raise OrderError(field, f"{error}, or DN150") from None
    dn = int(metric[1])
    if dn not in _nps_by_dn():
        near = sorted(sorted(_nps_by_dn(), key=lambda each: abs(each - dn))[:2])
        names = ", ".join(f"DN{each}" for each in near)
        raise OrderError(
            field, f"DN{dn} is not listed in ASME B36.10M pipe; nearest listed: {names}"
        )
    return _nps_by_dn()[dn]


def dn_of(nps: str) -> int | None:
    """The DN beside an NPS in the pipe table; None for a size that the table lacks."""
    return next((dn for dn, each in _nps_by_dn().items() if each == nps), None)


@cache
def _nps_by_dn() -> dict[int, str]:
    return {int(row["dn"]): row["nps"] for row in table_rows("pipe_b36")}
