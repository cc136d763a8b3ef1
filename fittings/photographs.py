"""Which photographs show a fitting from all sides, so that a seam has few places to hide.

Common practice, no source. They are the photographs that `fittings.checks` asks for in a sentence,
told one by one, in words that a yard hand follows.
"""

from __future__ import annotations

from fittings.words import Kind

LIGHT = (
    "Each in even light, and once more with a lamp held low beside the piece, so that light grazes "
    "the surface: it shows what light from the front hides."
)
FRAME = (
    "One piece in a photo, filling it, sharp, with its tag or marking in view in at least one; the "
    "photos as the camera made them, not screenshots."
)

_BORE = "into {}, with a lamp in the bore"

VIEWS: dict[Kind, tuple[str, ...]] = {
    Kind.NONE: (
        "the whole piece against a plain ground, from one side",
        "the same from the other side",
        _BORE.format("each open end"),
    ),
    Kind.ELBOW: (
        "one side, square on to the bend",
        "the other side, square on to the bend",
        "the outside of the bend (extrados)",
        "the inside of the bend (intrados)",
        _BORE.format("one end"),
        _BORE.format("the other end"),
    ),
    Kind.TEE: (
        "one side of the run, the outlet upright",
        "the other side of the run",
        "the crotch, where the outlet leaves the run, from one end of the run",
        "the crotch from the other end of the run",
        _BORE.format("the outlet"),
        "the back of the run, opposite to the outlet",
    ),
    Kind.REDUCER: (
        "one side, square on; of an eccentric piece the flat side",
        "the side a quarter turn on",
        "the side a half turn on",
        "the side three quarters of a turn on",
        _BORE.format("the large end"),
        _BORE.format("the small end"),
    ),
}
"""The views of each kind; `Kind.NONE` where the kind is not known."""
