"""What people write for a form and a size: "90 LR elbow", "red. tee", "DN150".

The one reader of both, for the options of a command and for the cells and descriptions of an order.
"""

from __future__ import annotations

import difflib
import re
from functools import cache

from fittings.listed import ElbowRadius, table_rows
from fittings.order.lines import ELBOWS, FittingForm, OrderError
from fittings.sizes import format_nps
from fittings.words import Kind

_KINDS = {
    Kind.ELBOW: frozenset(("elbow", "elbows", "ell", "ells", "elb", "elbo", "bend")),
    Kind.TEE: frozenset(("tee", "tees")),
    Kind.REDUCER: frozenset(("reducer", "reducers", "redu", "redr")),
}
_CONCENTRIC = frozenset(("concentric", "conc", "con"))
_ECCENTRIC = frozenset(("eccentric", "ecc", "exc"))
_REDUCING = frozenset(("reducing", "red", "reduced", "unequal"))
_STRAIGHT = frozenset(("straight", "equal", "eq", "eql", "str"))
_OTHER_FITTINGS = frozenset(
    ("cap", "caps", "cross", "lateral", "stub", "return", "coupling", "flange", "union", "wye")
)
_RADII = {
    **dict.fromkeys(("lr", "long", "1.5d", "l.r"), ElbowRadius.LONG),
    **dict.fromkeys(("sr", "short", "1d", "1.0d", "s.r"), ElbowRadius.SHORT),
    **dict.fromkeys(("3d", "3.0d", "3r"), ElbowRadius.THREE_D),
}
_ANGLES = ("90", "45", "60", "30", "180")
_BY_RADIUS_AND_ANGLE = {pair: form for form, pair in ELBOWS.items()}
_FILLERS = frozenset(("radius", "degree", "degrees", "deg"))
_KNOWN = frozenset().union(
    *_KINDS.values(), _CONCENTRIC, _ECCENTRIC, _REDUCING, _STRAIGHT, _FILLERS, _RADII
)
_NAMES = ("bend", "concentric", "eccentric", "elbow", "reducer", "tee")  # what a slip is held to
_WRITE = "write it like '90 LR elbow', 'straight tee', 'reducing tee' or 'ecc reducer'"


def form_in(
    text: str, *, two_sizes: bool, bare_reducer: FittingForm | None = None
) -> FittingForm | None:
    """The form that a text names among other words, None when it names no fitting at all.

    `two_sizes` says whether there are two different sizes, which makes a tee a reducing one. A bend
    angle and a radius are never guessed, because the dimensions hang on them. A reducer that says
    neither concentric nor eccentric is `bare_reducer` where the caller may take one for the other,
    and refused where that is None. OrderError for what is not whole, on "form" or "second_nps".
    """
    words = _words(text)
    said = set(words)
    if other := sorted(said & _OTHER_FITTINGS):
        raise OrderError("form", f"{other[0]!r} is not one of the forms that are checked here")
    kind = _kind(said, text)
    if kind is None:
        return None
    if kind is Kind.ELBOW:
        return _elbow(words, text.strip())
    if kind is Kind.TEE:
        if said & _REDUCING and not two_sizes:
            raise OrderError("second_nps", "a reducing tee needs its outlet's size, as in 6 x 4")
        if said & _STRAIGHT and two_sizes:
            raise OrderError("second_nps", "a straight tee has one size; give one, or say reducing")
        return FittingForm.REDUCING_TEE if two_sizes else FittingForm.STRAIGHT_TEE
    return _reducer(said, text.strip(), bare_reducer, two_sizes=two_sizes)


def form_named(text: str, *, two_sizes: bool, field: str = "fitting") -> FittingForm:
    """The form that a text names and nothing besides, read as by `form_in`.

    For look-ups and sums, where concentric and eccentric come to the same (ASME B16.9 prints one
    length for both), so a bare "reducer" is read as concentric. OrderError names `field`, or
    "second" for what the second size is about.
    """
    try:
        form = form_in(text, two_sizes=two_sizes, bare_reducer=FittingForm.CONCENTRIC_REDUCER)
        if form is None:
            raise no_form(text)
    except OrderError as error:
        raise OrderError({"form": field}.get(error.field, "second"), error.message) from None
    unknown = [word for word in _words(text) if word not in _KNOWN and word not in _ANGLES]
    if unknown:
        raise OrderError(field, f"{unknown[0]!r} in {text!r} is not understood; {_WRITE}")
    return form


def kind_named(text: str, *, field: str = "fitting") -> Kind:
    """The kind alone: "tee", "elbow", "90 LR elbow". OrderError names `field`."""
    try:
        kind = _kind(set(_words(text)), text)
        if kind is None:
            raise no_form(text, "write elbow, tee or reducer")
    except OrderError as error:
        raise OrderError(field, error.message) from None
    return kind


def no_form(text: str, remedy: str = _WRITE) -> OrderError:
    """The error for a text that names no fitting, with the nearest word."""
    likeness, nearest = max(
        (difflib.SequenceMatcher(None, word, known).ratio(), known)
        for word in re.findall(r"[a-z]{3,20}", text.lower())[:50] or [""]
        for known in _NAMES
    )
    if likeness > 0.7:
        return OrderError("form", f"{text!r} names no fitting; did you mean {nearest!r}?")
    return OrderError("form", f"{text!r} names no fitting; {remedy}")


def _words(text: str) -> list[str]:
    lower = text.lower().replace("°", " deg ")
    return re.findall(r"\d+(?:\.\d+)?[dr]\b|[ls]\.r\b|[a-z]+|\d+(?:\.\d+)?", lower)


def _kind(said: set[str], text: str) -> Kind | None:
    kinds = [kind for kind, group in _KINDS.items() if said & group]
    if len(kinds) > 1:
        raise OrderError(
            "form", f"{text.strip()!r} names both {kinds[0].value} and {kinds[1].value}"
        )
    if not kinds and said & (_CONCENTRIC | _ECCENTRIC):
        return Kind.REDUCER
    return kinds[0] if kinds else None


def _elbow(words: list[str], text: str) -> FittingForm:
    if _REDUCING & set(words):
        raise OrderError("form", "reducing elbows are not among the forms that are checked here")
    radii = {_RADII[word] for word in words if word in _RADII}
    if len(radii) != 1:
        raise OrderError("form", f"{text!r} must say one bend radius; add LR, SR or 3D")
    angles = {int(word) for word in words if word in _ANGLES}
    if len(angles) != 1:
        raise OrderError("form", f"{text!r} must say one bend angle; add 90 or 45")
    form = _BY_RADIUS_AND_ANGLE.get((radii.pop(), angles.pop()))
    if form is None:
        listed = ", ".join(each.value for each in ELBOWS)
        raise OrderError("form", f"{text!r} has no table in ASME B16.9 here; there are: {listed}")
    return form


def _reducer(
    said: set[str], text: str, bare_reducer: FittingForm | None, *, two_sizes: bool
) -> FittingForm:
    concentric, eccentric = bool(said & _CONCENTRIC), bool(said & _ECCENTRIC)
    if (concentric and eccentric) or not (concentric or eccentric or bare_reducer):
        raise OrderError("form", f"{text!r} must say concentric or eccentric, one of them")
    if not two_sizes:
        raise OrderError("second_nps", "a reducer needs its small end's size, as in 6 x 4")
    if eccentric:
        return FittingForm.ECCENTRIC_REDUCER
    return FittingForm.CONCENTRIC_REDUCER if concentric or bare_reducer is None else bare_reducer


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
