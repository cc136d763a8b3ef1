"""Where on a fitting a place in (`along`, `around`) lies, in words of the trade."""

from __future__ import annotations

from fittings.words import Kind, Part

_QUARTERS = {
    (Kind.ELBOW, Part.BODY): ("extrados", "side", "intrados", "side"),
    (Kind.TEE, Part.RUN): ("side facing the outlet", "flank", "side away from the outlet", "flank"),
    (Kind.TEE, Part.OUTLET): ("crotch", "flank", "crotch", "flank"),
    (Kind.REDUCER, Part.BODY): ("flat side", "quarter", "opposite side", "quarter"),
}
"""At 0, 90, 180 and -90 degrees around. A tee's flanks are the sides that look square on to run and
outlet; an eccentric reducer's flat side is the one on which both ends lie level."""

_ENDS = {
    (Kind.ELBOW, Part.BODY): ("one end", "other end"),
    (Kind.TEE, Part.RUN): ("one end of the run", "other end"),
    (Kind.TEE, Part.OUTLET): ("root at the crotch", "end"),
    (Kind.REDUCER, Part.BODY): ("large end", "small end"),
}


def quarters(kind: Kind, part: Part, *, datum: bool = True) -> tuple[str, str, str, str]:
    """The names at 0, 90, 180 and 270 degrees around; without a `datum` (a concentric reducer) only
    how far from the side that the first photo shows."""
    if kind is Kind.REDUCER and not datum:
        return (
            "side that faced the camera",
            "quarter turn on",
            "side behind it",
            "quarter turn on",
        )
    return _QUARTERS[kind, part]


def ends(kind: Kind, part: Part) -> tuple[str, str]:
    """The names of the places with `along` 0 and 1."""
    return _ENDS[kind, part]


def around_in_words(kind: Kind, part: Part, around_deg: float, *, datum: bool = True) -> str:
    """ "on the extrados" or "between the extrados and the side, 42° from the extrados"."""
    names = quarters(kind, part, datum=datum)
    turn = around_deg % 360.0
    nearest = round(turn / 90.0) % 4
    off = abs((turn - 90.0 * nearest + 180.0) % 360.0 - 180.0)
    if off <= 10.0:
        return f"on the {names[nearest]}"
    step = 1 if (turn - 90.0 * nearest + 180.0) % 360.0 - 180.0 > 0 else -1
    other = names[(nearest + step) % 4]
    return f"between the {names[nearest]} and the {other}, {off:.0f}° from the {names[nearest]}"
