"""Chance for marks that are no seams: paint, straps, chalk, stencils, wire, die lines, dents.

Every mark falls on every class of piece alike and is drawn without looking at its make, so that it
says nothing about it.
"""

from __future__ import annotations

from dataclasses import replace
from math import cos, radians, sin

import numpy as np

from fittings.words import Kind
from synthetic.draws import Rng, colour_near, unit
from synthetic.scene import Mark, Piece, Triple

NO_MARK_SHARE = 0.79
"""Of a piece's three places for marks, how many stay empty: half of the pieces bear none."""

_SHARES = {
    "line": 0.08, "band": 0.06, "end band": 0.07, "strap": 0.07, "tape": 0.05, "sling": 0.04,
    "wire": 0.05, "chalk": 0.08, "stencil": 0.08, "stamp": 0.03, "scratch": 0.06, "score": 0.03,
    "streak": 0.03, "die lines": 0.09, "scale edge": 0.03, "daub": 0.03, "dent": 0.03,
    "heat band": 0.06, "die mark": 0.03,
}  # fmt: skip
MARK_NAMES = tuple(_SHARES)
_WOUND_SHARES = {
    "hose": 0.34, "strap": 0.2, "tape": 0.16, "sling": 0.12, "wire": 0.12, "band": 0.06,
}  # fmt: skip
_PAINTS: tuple[Triple, ...] = (
    (0.85, 0.85, 0.82),
    (0.8, 0.7, 0.05),
    (0.6, 0.04, 0.03),
    (0.03, 0.12, 0.5),
    (0.02, 0.02, 0.02),
    (0.05, 0.35, 0.1),
)


def sample_mark(rng: Rng, piece: Piece) -> Mark:
    """Usually nothing; else one of the marks named above."""
    if rng.random() < NO_MARK_SHARE:
        return Mark(normal=unit(rng))
    name = MARK_NAMES[int(rng.choice(len(_SHARES), p=list(_SHARES.values())))]
    return mark_named(rng, piece, name)


def mark_named(rng: Rng, piece: Piece, name: str) -> Mark:
    """A mark of that name on that piece. KeyError for a name that is not drawn here."""
    mark = _MAKERS[name](rng, piece)
    return replace(mark, name=name, wobble_length_mm=piece.radius_mm * float(rng.uniform(0.2, 1.0)))


def with_wound(rng: Rng, piece: Piece) -> Piece:
    """The piece with something wound about it, in the place of its first mark.

    For training, which is to learn from more of these than the exam holds; a hose only from here.
    """
    name = str(rng.choice(list(_WOUND_SHARES), p=list(_WOUND_SHARES.values())))
    return replace(piece, marks=(mark_named(rng, piece, name), *piece.marks[1:]))


def _centre(rng: Rng, piece: Piece) -> tuple[Triple, Triple]:
    """A point somewhere on the centreline and the centreline's direction there."""
    if piece.kind is Kind.ELBOW:
        a = float(rng.uniform(-0.5, 0.5)) * radians(piece.bend_deg)
        place = (piece.length_mm * cos(a), piece.length_mm * sin(a), 0.0)
        return place, (-sin(a), cos(a), 0.0)
    if piece.kind is Kind.TEE:
        if rng.random() < 0.35:
            share = float(rng.uniform(0.0, 0.95))
            reach = piece.second_length_mm - piece.radius_mm
            return (0.0, 0.0, piece.radius_mm + share * reach), (0.0, 0.0, 1.0)
        return (float(rng.uniform(-0.9, 0.9)) * piece.length_mm, 0.0, 0.0), (1.0, 0.0, 0.0)
    return (float(rng.uniform(0.05, 0.95)) * piece.length_mm, 0.0, 0.0), (1.0, 0.0, 0.0)


def _plane(rng: Rng, piece: Piece, *, slack: float) -> Mark:
    """A cut by a plane about square to the centreline (`slack` is the sine of its lean), all round
    the piece: what is wound about it."""
    centre, axis = _centre(rng, piece)
    normal = np.asarray(axis) + rng.normal(0.0, slack, 3)
    normal = normal / np.linalg.norm(normal)
    x, y, z = (float(v) for v in normal)
    gate_offset = -1.0e5
    gate: Triple = (0.0, 0.0, 1.0)
    if piece.kind is Kind.TEE and axis[0] > 0.5:
        # Round the run only: its plane would cut the outlet lengthwise.
        gate, gate_offset = (0.0, 0.0, -1.0), -1.05 * piece.radius_mm
    elif piece.kind is Kind.TEE:
        gate_offset = 0.6 * piece.radius_mm
    elif piece.kind is Kind.ELBOW:
        # A plane through the bend's centre cuts the far side of a short bend as well.
        gate, gate_offset = (1.0, 0.0, 0.0), 0.0
    return Mark(
        normal=(x, y, z),
        offset_mm=float(np.dot(normal, centre)),
        gate=gate,
        gate_offset_mm=gate_offset,
    )


def _anyhow(rng: Rng, piece: Piece) -> Mark:
    """A cut by any plane near the middle, kept on one side of another: a line that stops."""
    centre, axis = _centre(rng, piece)
    normal = unit(rng)
    if rng.random() < 0.35:
        normal = axis
    gate = unit(rng)
    r = piece.radius_mm
    return Mark(
        normal=normal,
        offset_mm=float(np.dot(normal, centre)) + float(rng.uniform(-0.6, 0.6)) * r,
        gate=gate,
        gate_offset_mm=float(np.dot(gate, centre)) + float(rng.uniform(-1.5, 0.6)) * r,
    )


def _lengthwise(rng: Rng, piece: Piece, shortest: float, longest: float) -> Mark:
    """A line along the body; its half length is drawn between those shares of the radius."""
    return Mark(
        follow=1.0,
        at=float(rng.uniform(0.1, 0.9)),
        turn_deg=float(rng.uniform(0, 360)),
        reach_mm=piece.radius_mm * float(np.exp(rng.uniform(np.log(shortest), np.log(longest)))),
        gate_offset_mm=-1.0e5,
    )


def _crosswise(rng: Rng, piece: Piece, shortest: float, longest: float) -> Mark:
    """A line round the body; half lengths above 3.2 radii close it."""
    return replace(_lengthwise(rng, piece, shortest, longest), follow=2.0)


def _drawn(rng: Rng, piece: Piece) -> Mark:
    """Where a hand draws: anyhow, along, or round."""
    u = rng.random()
    if u < 0.4:
        return _anyhow(rng, piece)
    return _lengthwise(rng, piece, 0.4, 8.0) if u < 0.7 else _crosswise(rng, piece, 0.3, 5.0)


def _paint(rng: Rng) -> Triple:
    return colour_near(rng, _PAINTS[int(rng.integers(len(_PAINTS)))], 0.2, 0.1)


def _line(rng: Rng, piece: Piece) -> Mark:
    r, u = piece.radius_mm, rng.uniform
    return replace(
        _drawn(rng, piece),
        half_width_mm=r * float(u(0.01, 0.035)),
        rgb=_paint(rng),
        opacity=float(u(0.6, 1.0)),
        patchiness=float(u(0.0, 0.4)),
        wobble_mm=r * float(u(0.01, 0.08)),
        roughness=float(u(0.2, 0.7)),
    )


def _band(rng: Rng, piece: Piece) -> Mark:
    r, u = piece.radius_mm, rng.uniform
    return replace(
        _plane(rng, piece, slack=0.01) if rng.random() < 0.6 else _anyhow(rng, piece),
        half_width_mm=r * float(u(0.05, 0.3)),
        rgb=_paint(rng),
        opacity=float(u(0.7, 1.0)),
        patchiness=float(u(0.0, 0.4)),
        wobble_mm=r * float(u(0.0, 0.04)),
        roughness=float(u(0.2, 0.8)),
    )


def _end_band(rng: Rng, piece: Piece) -> Mark:
    """A colour band round the ends, as stores mark a grade."""
    r, u = piece.radius_mm, rng.uniform
    half = r * float(u(0.03, 0.14))
    return replace(
        _band(rng, piece),
        follow=3.0,
        gate_offset_mm=-1.0e5,
        half_width_mm=half,
        offset_mm=half + r * float(u(0.0, 0.35)),
        repeats=float(rng.random() < 0.25),
        pitch_mm=half * float(u(2.6, 5.0)),
    )


def _strap(rng: Rng, piece: Piece) -> Mark:
    """A steel strap: dark or blued, even, with edges that stand off the surface and shade it."""
    r, u = piece.radius_mm, rng.uniform
    blued: Triple = ((0.08, 0.09, 0.12), (0.2, 0.2, 0.21), (0.35, 0.35, 0.36))[int(rng.integers(3))]
    return replace(
        _plane(rng, piece, slack=0.05),
        half_width_mm=min(r * float(u(0.03, 0.12)), 18.0),
        rgb=colour_near(rng, blued, 0.25, 0.05),
        opacity=1.0,
        roughness=float(u(0.25, 0.5)),
        metallic=float(u(0.2, 0.9)),
        raised=float(u(0.4, 0.9)),
        rim=float(u(0.45, 0.8)),
    )


def _tape(rng: Rng, piece: Piece) -> Mark:
    r, u = piece.radius_mm, rng.uniform
    return replace(
        _plane(rng, piece, slack=0.06) if rng.random() < 0.7 else _anyhow(rng, piece),
        half_width_mm=r * float(u(0.04, 0.14)),
        rgb=_paint(rng) if rng.random() < 0.7 else colour_near(rng, (0.5, 0.4, 0.25), 0.3, 0.05),
        opacity=1.0,
        roughness=float(u(0.15, 0.5)),
        raised=float(u(0.02, 0.15)),
        rim=float(u(0.0, 0.3)),
    )


def _sling(rng: Rng, piece: Piece) -> Mark:
    """A woven lifting sling: broad, coloured, ribbed along its length."""
    r, u = piece.radius_mm, rng.uniform
    half = r * float(u(0.02, 0.05))
    return replace(
        _plane(rng, piece, slack=0.12),
        half_width_mm=half,
        repeats=float(rng.integers(2, 5)),
        pitch_mm=half * float(u(1.9, 2.1)),
        # Never pale or grey: ribs of that colour would pass for the beads of a weld.
        rgb=colour_near(rng, _PAINTS[int(rng.choice([1, 2, 3, 5]))], 0.2, 0.1),
        opacity=1.0,
        wobble_mm=0.02 * r,
        roughness=0.95,
        raised=float(u(0.1, 0.35)),
        rim=float(u(0.2, 0.5)),
    )


def _wire(rng: Rng, piece: Piece) -> Mark:
    """Tie wire: one to a few turns, seldom square, round and often rusty or bright."""
    u = rng.uniform
    half = min(float(u(0.8, 3.0)), 0.03 * piece.radius_mm)
    metal: Triple = ((0.4, 0.4, 0.41), (0.12, 0.11, 0.1), (0.2, 0.09, 0.04))[int(rng.integers(3))]
    return replace(
        _plane(rng, piece, slack=0.12),
        half_width_mm=half,
        repeats=float(rng.integers(0, 3)),
        pitch_mm=half * float(u(2.2, 8.0)),
        rgb=colour_near(rng, metal, 0.3, 0.05),
        opacity=1.0,
        wobble_mm=piece.radius_mm * float(u(0.0, 0.06)),
        roughness=float(u(0.3, 0.7)),
        metallic=float(u(0.0, 0.8)),
        raised=float(u(0.8, 1.5)),
        rim=float(u(0.3, 0.7)),
    )


def _hose(rng: Rng, piece: Piece) -> Mark:
    """A hose or a cable about the piece: round and even, black or in a colour, one turn or a few,
    apart or side by side."""
    r, u = piece.radius_mm, rng.uniform
    half = r * float(np.exp(u(np.log(0.012), np.log(0.07))))
    dark = rng.random() < 0.5
    return replace(
        _plane(rng, piece, slack=float(u(0.01, 0.15))),
        half_width_mm=half,
        repeats=float(rng.integers(0, 3)),
        pitch_mm=half * float(u(2.0, 7.0)),
        # Pale, grey and brown would pass for the bead of a weld.
        rgb=colour_near(rng, _PAINTS[4 if dark else int(rng.choice([1, 2, 3, 5]))], 0.3, 0.1),
        opacity=1.0,
        wobble_mm=r * float(u(0.0, 0.06)),
        roughness=float(u(0.25, 0.9)),
        raised=float(u(0.6, 1.4)),
        rim=float(u(0.3, 0.8)),
    )


def _chalk(rng: Rng, piece: Piece) -> Mark:
    r, u = piece.radius_mm, rng.uniform
    return replace(
        _drawn(rng, piece),
        half_width_mm=r * float(u(0.006, 0.03)),
        rgb=colour_near(rng, (0.8, 0.8, 0.76), 0.15, 0.05),
        opacity=float(u(0.3, 0.9)),
        patchiness=float(u(0.4, 1.0)),
        wobble_mm=r * float(u(0.02, 0.2)),
        roughness=0.95,
    )


def _stencil(rng: Rng, piece: Piece) -> Mark:
    """A line of signs, one or two rows, along or round; or, as before, by any plane."""
    r, u = piece.radius_mm, rng.uniform
    where = rng.random()
    if where < 0.25:
        mark = _anyhow(rng, piece)
    else:
        make = _lengthwise if where < 0.6 else _crosswise
        mark = make(rng, piece, 0.25, 1.5)
    half = r * float(u(0.04, 0.14))
    dark = rng.random() < 0.35
    return replace(
        mark,
        half_width_mm=half,
        rgb=colour_near(rng, (0.03, 0.03, 0.03), 0.3, 0.1) if dark else _paint(rng),
        opacity=float(u(0.5, 1.0)),
        patchiness=float(u(0.0, 0.5)),
        dashes=1.0,
        repeats=float(rng.random() < 0.3),
        pitch_mm=half * float(u(2.5, 3.5)),
        roughness=float(u(0.4, 0.9)),
    )


def _stamp(rng: Rng, piece: Piece) -> Mark:
    """Hard-stamped signs: small, dark in their depth, without paint."""
    u = rng.uniform
    return replace(
        (_lengthwise if rng.random() < 0.5 else _crosswise)(rng, piece, 0.2, 0.6),
        half_width_mm=float(u(3.0, 7.0)),
        rgb=(0.03, 0.03, 0.03),
        opacity=float(u(0.3, 0.7)),
        dashes=1.0,
        repeats=float(rng.random() < 0.4),
        pitch_mm=float(u(16.0, 26.0)),
        roughness=0.8,
    )


def _scratch(rng: Rng, piece: Piece) -> Mark:
    r, u = piece.radius_mm, rng.uniform
    return replace(
        _anyhow(rng, piece) if rng.random() < 0.5 else _lengthwise(rng, piece, 0.15, 2.0),
        half_width_mm=r * float(u(0.002, 0.008)),
        rgb=colour_near(rng, (0.45, 0.45, 0.45), 0.3, 0.03),
        opacity=float(u(0.3, 0.9)),
        patchiness=float(u(0.2, 0.8)),
        wobble_mm=r * float(u(0.0, 0.05)),
        repeats=float(rng.integers(0, 4)),
        pitch_mm=r * float(u(0.01, 0.06)),
        roughness=float(u(0.2, 0.5)),
        metallic=float(u(0.2, 0.8)),
        raised=-float(u(0.0, 0.4)),
    )


def _score(rng: Rng, piece: Piece) -> Mark:
    """One deeper groove along the body, that a die or a fork truck left: relief, little colour."""
    r, u = piece.radius_mm, rng.uniform
    return replace(
        _lengthwise(rng, piece, 0.4, 6.0),
        half_width_mm=r * float(u(0.004, 0.02)),
        rgb=colour_near(rng, (0.3, 0.3, 0.3), 0.4, 0.05),
        opacity=float(u(0.0, 0.25)),
        wobble_mm=r * float(u(0.0, 0.01)),
        roughness=float(u(0.3, 0.6)),
        metallic=float(u(0.0, 0.5)),
        raised=-float(u(0.15, 0.5)),
    )


def _streak(rng: Rng, piece: Piece) -> Mark:
    r, u = piece.radius_mm, rng.uniform
    return replace(
        _anyhow(rng, piece),
        half_width_mm=r * float(u(0.02, 0.12)),
        rgb=colour_near(rng, (0.22, 0.09, 0.03), 0.4, 0.1),
        opacity=float(u(0.2, 0.7)),
        patchiness=float(u(0.5, 1.0)),
        wobble_mm=r * float(u(0.05, 0.3)),
        roughness=0.9,
    )


def _die_lines(rng: Rng, piece: Piece) -> Mark:
    """What die and mandrel drag along the body: faint, thin, straight, several side by side."""
    r, u = piece.radius_mm, rng.uniform
    bright = rng.random() < 0.5
    return replace(
        _lengthwise(rng, piece, 1.0, 12.0),
        half_width_mm=float(u(0.3, 1.2)) * max(r / 100.0, 0.5),
        rgb=colour_near(rng, (0.4, 0.4, 0.4) if bright else (0.06, 0.06, 0.06), 0.3, 0.04),
        opacity=float(u(0.08, 0.5)),
        patchiness=float(u(0.1, 0.5)),
        wobble_mm=r * float(u(0.0, 0.006)),
        repeats=float(rng.integers(0, 9)),
        pitch_mm=r * float(np.exp(u(np.log(0.02), np.log(0.3)))),
        roughness=float(u(0.25, 0.6)),
        metallic=float(u(0.0, 0.6)),
        raised=float(u(-0.15, 0.15)),
    )


def _heat_band(rng: Rng, piece: Piece) -> Mark:
    """Where it was hot when it was formed over a mandrel or pressed: a tone of oxide round the
    body, fading at its edges."""
    r, u = piece.radius_mm, rng.uniform
    tone: Triple = ((0.07, 0.075, 0.1), (0.14, 0.1, 0.07), (0.3, 0.29, 0.28), (0.2, 0.15, 0.08))[
        int(rng.integers(4))
    ]
    half = r * float(np.exp(u(np.log(0.06), np.log(0.6))))
    return replace(
        _crosswise(rng, piece, 4.0, 8.0),
        half_width_mm=half,
        rgb=colour_near(rng, tone, 0.3, 0.06),
        opacity=float(u(0.2, 0.75)),
        patchiness=float(u(0.0, 0.5)),
        wobble_mm=half * float(u(0.0, 0.5)),
        repeats=float(rng.integers(0, 3)),
        pitch_mm=half * float(u(2.4, 5.0)),
        roughness=float(u(0.3, 0.8)),
        metallic=float(u(0.0, 0.5)),
        soft=float(u(0.25, 0.95)),
    )


def _die_mark(rng: Rng, piece: Piece) -> Mark:
    """What the edge of a die or a clamp pressed in: a short, shallow step across the body, mostly
    near an end."""
    r, u = piece.radius_mm, rng.uniform
    near_end = float(u(0.04, 0.2))
    return replace(
        _crosswise(rng, piece, 0.3, 2.5),
        at=near_end if rng.random() < 0.5 else 1.0 - near_end,
        half_width_mm=r * float(u(0.006, 0.03)),
        rgb=colour_near(rng, (0.25, 0.25, 0.25), 0.5, 0.05),
        opacity=float(u(0.0, 0.3)),
        patchiness=float(u(0.0, 0.4)),
        wobble_mm=r * float(u(0.0, 0.02)),
        roughness=float(u(0.3, 0.7)),
        metallic=float(u(0.0, 0.6)),
        raised=float(u(0.08, 0.35)) * (1.0 if rng.random() < 0.3 else -1.0),
        soft=float(u(0.0, 0.6)),
    )


def _scale_edge(rng: Rng, piece: Piece) -> Mark:
    """Two tones with a ragged edge between them: one side of a cut, wavy, all the way."""
    r, u = piece.radius_mm, rng.uniform
    mark = _plane(rng, piece, slack=0.15) if rng.random() < 0.5 else _anyhow(rng, piece)
    half = 6.0 * r
    return replace(
        mark,
        half_width_mm=half,
        offset_mm=mark.offset_mm + half,
        gate_offset_mm=-1.0e5,
        rgb=colour_near(rng, (0.15, 0.13, 0.12), 0.4, 0.1),
        opacity=float(u(0.2, 0.7)),
        patchiness=float(u(0.0, 0.3)),
        wobble_mm=r * float(u(0.1, 0.8)),
        roughness=float(u(0.4, 0.9)),
    )


def _daub(rng: Rng, piece: Piece) -> Mark:
    """An inspector's dab of paint."""
    r, u = piece.radius_mm, rng.uniform
    return replace(
        _lengthwise(rng, piece, 1.0, 2.0),
        follow=4.0,
        half_width_mm=r * float(u(0.04, 0.16)),
        rgb=_paint(rng),
        opacity=float(u(0.7, 1.0)),
        patchiness=float(u(0.0, 0.3)),
        wobble_mm=r * float(u(0.02, 0.15)),
        roughness=float(u(0.2, 0.7)),
    )


def _dent(rng: Rng, piece: Piece) -> Mark:
    """A shallow hollow: nothing but a bend of the surface's normal."""
    r, u = piece.radius_mm, rng.uniform
    return replace(
        _daub(rng, piece),
        half_width_mm=r * float(u(0.08, 0.35)),
        opacity=float(u(0.0, 0.1)),
        rgb=(0.3, 0.3, 0.3),
        wobble_mm=r * float(u(0.0, 0.05)),
        raised=-float(u(0.1, 0.35)),
    )


_MAKERS = {
    "line": _line, "band": _band, "end band": _end_band, "strap": _strap, "tape": _tape,
    "sling": _sling, "wire": _wire, "chalk": _chalk, "stencil": _stencil, "stamp": _stamp,
    "scratch": _scratch, "score": _score, "streak": _streak, "die lines": _die_lines,
    "scale edge": _scale_edge, "daub": _daub, "dent": _dent,
    "heat band": _heat_band, "die mark": _die_mark, "hose": _hose,
}  # fmt: skip
MARKS = tuple(_MAKERS)
"""The names of all marks that training draws, the hose with them."""
