"""A piece's outside unrolled: its true seams, and hatched what one picture does not show.

A chart in surface coordinates: `along` the centreline upwards, `around` it sideways, each part by
itself. The seams are curves of closed form, the same as `synthetic.shapes` welds along.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from math import pi, radians

import numpy as np
from numpy.typing import NDArray

from fittings.words import Kind, Orientation, Part
from synthetic.render import Picture
from synthetic.scene import Piece, Scene

_POINTS = 181
_ROWS, _COLUMNS = 24, 36  # cells of the chart that a picture has seen or not
_WIDE, _HIGH = 360.0, 170.0  # of a part's chart, in the drawing's own units
_LEFT, _TOP, _BELOW, _GAP = 46.0, 26.0, 40.0, 22.0
_PARTS = {
    Kind.ELBOW: (Part.BODY,),
    Kind.TEE: (Part.OUTLET, Part.RUN),
    Kind.REDUCER: (Part.BODY,),
}
_TITLES = {Part.BODY: "Body", Part.RUN: "Run", Part.OUTLET: "Outlet"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """A seam's middle on a part: `along` (N,) 0 to 1, `around_deg` (N,) from the part's datum."""

    part: Part
    orientation: Orientation
    along: NDArray[np.float64]
    around_deg: NDArray[np.float64]


def seam_curves(scene: Scene) -> tuple[Curve, ...]:
    """All seams of the scene's first piece; empty for a seamless one."""
    piece = scene.pieces[0]
    if piece.kind is Kind.ELBOW:
        return tuple(_elbow(piece))
    if piece.kind is Kind.TEE:
        return tuple(_tee(piece))
    return tuple(_reducer(piece, _reducer_datum_deg(scene)))


def _elbow(piece: Piece) -> Iterator[Curve]:
    arc = piece.length_mm * radians(piece.bend_deg)
    whole = arc + 2 * piece.stub_mm
    if piece.along_weld.present > 0.5:
        yield from _lengthwise(piece, Part.BODY, 0.0, 1.0)
    if piece.cross_weld.present > 0.5:
        for joint in range(int(piece.pieces) - 1):
            at = piece.stub_mm + piece.length_mm * radians((2 * joint + 1) * piece.cut_deg)
            yield _girth(at / whole)


def _tee(piece: Piece) -> Iterator[Curve]:
    run, outlet = piece.radius_mm, piece.second_radius_mm
    if piece.along_weld.present > 0.5:
        root = outlet / (2 * piece.length_mm)  # the outlet's foot covers the run's top
        for line in _lengthwise(piece, Part.RUN, 0.0, 1.0):
            if abs(line.around_deg[0]) < 1.0:
                yield _straight(Part.RUN, 0.0, 0.0, 0.5 - root)
                yield _straight(Part.RUN, 0.0, 0.5 + root, 1.0)
            else:
                yield line
        if piece.long_on_outlet > 0.5:
            for turn in (0.0, 180.0):
                yield _straight(Part.OUTLET, turn, run / piece.second_length_mm, 1.0)
    if piece.cross_weld.present > 0.5:
        pad = piece.pad_thickness_mm if piece.pad_width_mm > 0.5 else 0.0
        up, aside = max(piece.root_shift_mm, 0.0), max(-piece.root_shift_mm, 0.0)
        yield _on_outlet(piece, run + pad + up, outlet + aside)
        yield _on_run(piece, run + pad + up, outlet + aside)
        if pad:
            yield _on_run(piece, run, outlet + piece.pad_width_mm)


def _meeting(run_mm: float, outlet_mm: float) -> tuple[NDArray[np.float64], ...]:
    """Points of the curve where cylinders of these radii meet; closed formula of the classical
    intersection (see `fittings.geometry.branch_curve`), its ends both given."""
    turn = np.linspace(-pi, pi, _POINTS)
    x, y = outlet_mm * np.cos(turn), outlet_mm * np.sin(turn)
    return turn, x, y, np.sqrt(np.maximum(run_mm**2 - y**2, 0.0))


def _on_outlet(piece: Piece, run_mm: float, outlet_mm: float) -> Curve:
    turn, _, _, z = _meeting(run_mm, outlet_mm)
    return Curve(
        part=Part.OUTLET,
        orientation=Orientation.BRANCH,
        along=z / piece.second_length_mm,
        around_deg=np.degrees(turn),
    )


def _on_run(piece: Piece, run_mm: float, outlet_mm: float) -> Curve:
    _, x, y, z = _meeting(run_mm, outlet_mm)
    return Curve(
        part=Part.RUN,
        orientation=Orientation.BRANCH,
        along=(x + piece.length_mm) / (2 * piece.length_mm),
        around_deg=np.degrees(np.arctan2(-y, z)),
    )


def _reducer(piece: Piece, datum_deg: float) -> Iterator[Curve]:
    first = piece.stub_mm / piece.length_mm
    last = 1.0 - piece.second_stub_mm / piece.length_mm
    if piece.along_weld.present > 0.5:
        low, high = (0.0, 1.0) if piece.long_on_stubs > 0.5 else (first, last)
        yield from _lengthwise(piece, Part.BODY, low, high, datum_deg)
    if piece.cross_weld.present > 0.5:
        for node in range(int(piece.steps) + 1):
            yield _girth(first + (last - first) * node / piece.steps)


def _reducer_datum_deg(scene: Scene) -> float:
    """Where a concentric reducer's `around` counts from: the side facing the camera, by the body's
    own angle; 0 for an eccentric one, whose datum is its flat side."""
    piece = scene.pieces[0]
    if piece.eccentric > 0.5:
        return 0.0
    rotation = np.reshape(piece.rotation, (3, 3))
    away = np.asarray(scene.camera.position_mm) - np.asarray(piece.position_mm)
    _, y, z = rotation.T @ away
    return float(np.degrees(np.arctan2(y, -z)))


def _lengthwise(
    piece: Piece, part: Part, low: float, high: float, datum_deg: float = 0.0
) -> Iterator[Curve]:
    for number in range(int(piece.long_count)):
        turn = piece.long_deg + 360.0 / piece.long_count * number - datum_deg
        yield _straight(part, (turn + 180.0) % 360.0 - 180.0, low, high)


def _straight(part: Part, around_deg: float, low: float, high: float) -> Curve:
    return Curve(
        part=part,
        orientation=Orientation.LONGITUDINAL,
        along=np.array([low, high]),
        around_deg=np.array([around_deg, around_deg]),
    )


def _girth(along: float) -> Curve:
    return Curve(
        part=Part.BODY,
        orientation=Orientation.CIRCUMFERENTIAL,
        along=np.full(2, along),
        around_deg=np.array([-180.0, 180.0]),
    )


def seen_cells(picture: Picture, part: Part) -> NDArray[np.bool_]:
    """(rows, columns) bool: which cells of a part's chart the first picture shows."""
    truth = picture.truth
    here = truth.part[0].round() == part.label
    seen = np.zeros((_ROWS, _COLUMNS), bool)
    around = np.arctan2(truth.around_sin[0][here], truth.around_cos[0][here]) / (2 * pi) + 0.5
    rows = np.clip((truth.along[0][here] * _ROWS).astype(int), 0, _ROWS - 1)
    seen[rows, np.clip((around * _COLUMNS).astype(int), 0, _COLUMNS - 1)] = True
    return seen


# -------------------------------------------------------------------------------------- drawing


def unrolled_svg(scene: Scene, picture: Picture) -> str:
    """The chart of every part as one SVG on white, with words along its axes."""
    piece, curves = scene.pieces[0], seam_curves(scene)
    parts = _PARTS[piece.kind]
    step = _TOP + _HIGH + _BELOW + _GAP
    height = len(parts) * step - _GAP + 6
    body = [
        _chart(part, piece, [c for c in curves if c.part is part], picture, number * step)
        for number, part in enumerate(parts)
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_LEFT + _WIDE + 14:g} {height:g}" '
        'font-family="DejaVu Sans, Arial, sans-serif" font-size="11">'
        '<defs><pattern id="unseen" width="7" height="7" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><rect width="7" height="7" fill="#fff"/>'
        '<path d="M0 0V7" stroke="#888" stroke-width="1.6"/></pattern></defs>'
        f'<rect width="100%" height="100%" fill="#fff"/>{"".join(body)}</svg>'
    )


def _chart(part: Part, piece: Piece, curves: list[Curve], picture: Picture, top: float) -> str:
    x0, y0 = _LEFT, top + _TOP
    seen = seen_cells(picture, part)
    low = piece.radius_mm / piece.second_length_mm if part is Part.OUTLET else 0.0
    title = f"{_TITLES[part]} unrolled; hatched: not seen in this picture"
    pieces = [
        f'<text x="{x0:g}" y="{top + 16:g}" font-weight="bold">{title}</text>',
        f'<rect x="{x0:g}" y="{y0:g}" width="{_WIDE:g}" height="{_HIGH:g}" fill="url(#unseen)"/>',
        _seen_rects(seen, x0, y0),
    ]
    for curve in curves:
        pieces.append(_line(curve, x0, y0))
    pieces.append(
        f'<rect x="{x0:g}" y="{y0:g}" width="{_WIDE:g}" height="{_HIGH:g}" fill="none" '
        'stroke="#000"/>'
    )
    pieces += [
        f'<text x="{x0 + _WIDE * share:g}" y="{y0 + _HIGH + 14:g}" text-anchor="{anchor}">'
        f"{escape(word)}</text>"
        for share, word, anchor in zip(
            (0.0, 0.25, 0.5, 0.75, 1.0), _words(part, piece),
            ("start", "middle", "middle", "middle", "end"), strict=True,
        )
    ]  # fmt: skip
    ends = {Part.OUTLET: ("run's axis", "end")}.get(
        part, ("large end", "small end") if piece.kind is Kind.REDUCER else ("one end", "other end")
    )
    for word, y, anchor in ((ends[0], y0 + _HIGH, "start"), (ends[1], y0, "end")):
        pieces.append(
            f'<text transform="translate({x0 - 8:g} {y:g}) rotate(-90)" text-anchor="{anchor}">'
            f"{word}</text>"
        )
    if low:
        pieces.append(
            f'<text x="{x0 + _WIDE / 2:g}" y="{y0 + _HIGH + 28:g}" text-anchor="middle" '
            'fill="#444">below the outlet’s root there is no outlet</text>'
        )
    return "".join(pieces)


def _words(part: Part, piece: Piece) -> tuple[str, str, str, str, str]:
    """What lies at -180°, -90°, 0°, 90° and 180° of `around`."""
    if piece.kind is Kind.ELBOW:
        return "intrados", "side", "extrados", "side", "intrados"
    if part is Part.RUN:
        return "underside", "flank", "facing the outlet", "flank", "underside"
    if part is Part.OUTLET:
        return "crotch", "side", "crotch", "side", "crotch"
    if piece.eccentric > 0.5:
        return "sloping side", "flank", "flat side", "flank", "sloping side"
    return "far side", "", "facing the camera", "", "far side"


def _seen_rects(seen: NDArray[np.bool_], x0: float, y0: float) -> str:
    wide, high = _WIDE / _COLUMNS, _HIGH / _ROWS
    rects = []
    for row, column in zip(*np.nonzero(seen), strict=True):
        x, y = x0 + column * wide, y0 + _HIGH - (row + 1) * high
        rects.append(f"M{x:.1f} {y:.1f}h{wide + 0.1:.1f}v{high + 0.1:.1f}h-{wide + 0.1:.1f}z")
    return f'<path d="{"".join(rects)}" fill="#dfe3e6"/>'


def _line(curve: Curve, x0: float, y0: float) -> str:
    style = curve.orientation.style
    x = x0 + (curve.around_deg + 180.0) / 360.0 * _WIDE
    y = y0 + (1.0 - curve.along) * _HIGH
    path = "M" + "L".join(f"{a:.1f} {b:.1f}" for a, b in zip(x, y, strict=True))
    colour = "#{:02x}{:02x}{:02x}".format(*style.colour)
    dash = " ".join(f"{3.2 * each:g}" for each in style.dash)
    pattern = f' stroke-dasharray="{dash}"' if dash else ""
    at = len(x) // 3 if len(x) > 2 else 0
    share = 0.0 if len(x) > 2 else 0.3
    cx = x[at] + share * (x[-1] - x[0])
    cy = y[at] + share * (y[-1] - y[0])
    cx = min(max(cx, x0 + 9), x0 + _WIDE - 9)
    return (
        f'<path d="{path}" fill="none" stroke="#000" stroke-width="5.4"/>'
        f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="3.2"{pattern}/>'
        f'<circle cx="{cx:.1f}" cy="{cy:.1f}" r="8" fill="{colour}" stroke="#000"/>'
        f'<text x="{cx:.1f}" y="{cy + 4:.1f}" text-anchor="middle" font-weight="bold">'
        f"{style.letter}</text>"
    )
