"""A small drawing of each make: on the left how it is made, on the right where its seams lie.

Our own, made by code: plane geometry on a white card of 320 by 150 units, lines from
`fittings.words` for the seams, so that letter and pattern tell them apart in grey.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from math import cos, pi, radians, sin

from fittings.words import Orientation
from ui.trainer.makes import Make

_INK, _METAL, _TOOL = "#000", "#dfe3e6", "#b9b0a2"
_L, _C, _B = Orientation.LONGITUDINAL, Orientation.CIRCUMFERENTIAL, Orientation.BRANCH

Point = tuple[float, float]


def drawing_svg(make: Make) -> str:
    """The drawing of a make as SVG, with its words as the title that a screen reader reads."""
    about = make.about
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 320 150" role="img" '
        'font-family="DejaVu Sans, Arial, sans-serif" font-size="10">'
        f"<title>{about.kind.value}: {about.title}</title>"
        '<defs><marker id="tip" viewBox="0 0 8 8" refX="7" refY="4" markerWidth="7" '
        'markerHeight="7" orient="auto"><path d="M0 0L8 4L0 8z"/></marker></defs>'
        '<rect width="320" height="150" fill="#fff"/>'
        f"{''.join(_DRAWN[make]())}"
        f"{_words(80, 'how it is made')}{_words(240, 'where its seams are')}"
        '<path d="M160 8V128" stroke="#bbb"/></svg>'
    )


# ---------------------------------------------------------------------------------------- strokes


def _words(x: float, text: str, y: float = 144) -> str:
    return f'<text x="{x:g}" y="{y:g}" text-anchor="middle">{text}</text>'


def _path(points: Iterable[Point], *, closed: bool = False) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points) + ("z" if closed else "")


def _area(points: Iterable[Point], fill: str = _METAL) -> str:
    return f'<path d="{_path(points, closed=True)}" fill="{fill}" stroke="{_INK}"/>'


def _box(x: float, y: float, wide: float, high: float, fill: str = _METAL) -> str:
    return _area([(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)], fill)


def _ring(x: float, y: float, radius: float, wall: float, fill: str = _METAL) -> str:
    middle = radius - wall / 2
    return (
        f'<circle cx="{x:g}" cy="{y:g}" r="{middle:g}" fill="none" stroke="{_INK}" '
        f'stroke-width="{wall + 1.6:g}"/><circle cx="{x:g}" cy="{y:g}" r="{middle:g}" '
        f'fill="none" stroke="{fill}" stroke-width="{wall - 0.6:g}"/>'
    )


def _arrow(*points: Point) -> str:
    return (
        f'<path d="{_path(points)}" fill="none" stroke="{_INK}" stroke-width="1.6" '
        'marker-end="url(#tip)"/>'
    )


def _seam(orientation: Orientation, points: list[Point], at: float = 0.5) -> str:
    """A seam's line with its letter beside the point at the share `at` of its points."""
    style = orientation.style
    colour = "#{:02x}{:02x}{:02x}".format(*style.colour)
    dash = " ".join(f"{2.6 * each:g}" for each in style.dash)
    pattern = f' stroke-dasharray="{dash}"' if dash else ""
    path = _path(points)
    x, y = points[min(len(points) - 1, int(at * len(points)))]
    if len(points) == 2:
        (x0, y0), (x1, y1) = points
        x, y = x0 + at * (x1 - x0), y0 + at * (y1 - y0)
    return (
        f'<path d="{path}" fill="none" stroke="{_INK}" stroke-width="4.4"/>'
        f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="2.6"{pattern}/>'
        + _letter(orientation, x, y)
    )


def _letter(orientation: Orientation, x: float, y: float) -> str:
    colour = "#{:02x}{:02x}{:02x}".format(*orientation.style.colour)
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="7" fill="{colour}" stroke="{_INK}"/>'
        f'<text x="{x:.1f}" y="{y + 3.6:.1f}" text-anchor="middle" font-weight="bold">'
        f"{orientation.style.letter}</text>"
    )


def _weld(x: float, y: float, side: float) -> str:
    """A fillet in section, its corner at (x, y), leaning left (-1) or right (1)."""
    return _area([(x, y), (x, y - 8), (x + 8 * side, y)], _INK)


def _arc(
    centre: Point, radius: Callable[[float], float], start: float, end: float, n: int = 24
) -> list[Point]:
    turns = [radians(start + (end - start) * k / n) for k in range(n + 1)]
    x, y = centre
    return [(x + radius(i / n) * cos(a), y - radius(i / n) * sin(a)) for i, a in enumerate(turns)]


def _bend(centre: Point, radius: float, start: float, end: float, r0: float, r1: float) -> str:
    """A pipe along an arc, its half width going from `r0` to `r1`."""
    outside = _arc(centre, lambda t: radius + r0 + (r1 - r0) * t, start, end)
    inside = _arc(centre, lambda t: radius - r0 - (r1 - r0) * t, start, end)
    return _area([*outside, *reversed(inside)])


# ----------------------------------------------------------------------------------------- elbows


def _elbow() -> str:
    return _bend((196, 122), 64, 0, 90, 22, 22)


def _pushed_elbow() -> list[str]:
    return [
        _box(14, 25, 56, 22),  # the start pipe, narrow
        _bend((70, 96), 60, 90, 10, 11, 18),
        _bend((70, 96), 60, 90, 10, 4, 14).replace(_METAL, _TOOL),  # the horn within
        _arrow((20, 58), (62, 58)),
        _words(36, "push", 70),
        _words(40, "narrow", 18),
        _words(118, "wider", 124),
        _elbow(),
        _words(214, "no seam", 20),
    ]


def _halves_elbow() -> list[str]:
    shells = []
    for side, y in ((1, 58), (-1, 78)):
        outer = _arc((76, y), lambda _: 34, 0 if side > 0 else 180, 180 if side > 0 else 360)
        inner = _arc((76, y), lambda _: 27, 0 if side > 0 else 180, 180 if side > 0 else 360)
        shells.append(_area([*outer, *reversed(inner)]))
    return [
        *shells,
        _arrow((76, 4), (76, 20)),
        _arrow((76, 132), (76, 116)),
        _words(76, "two shells", 71),
        _letter(_L, 122, 68),
        _letter(_L, 30, 68),
        _elbow(),
        _seam(_L, _arc((196, 122), lambda _: 64, 0, 90)),
    ]


def _mitred_elbow() -> list[str]:
    pieces, cut = 3, 22.5
    centre, radius, half = (196.0, 122.0), 64.0, 22.0
    outside: list[Point] = []
    inside: list[Point] = []
    for k in range(pieces + 1):
        angle = 0.0 if k == 0 else 90.0 if k == pieces else (2 * k - 1) * cut
        stretch = 1.0 if k in (0, pieces) else 1 / cos(radians(cut))
        for line, r in ((outside, radius + half), (inside, radius - half)):
            x, y = r * stretch * cos(radians(angle)), r * stretch * sin(radians(angle))
            line.append((centre[0] + x, centre[1] - y))
    slants = [(46, 1), (96, -1)]
    return [
        _box(12, 44, 132, 40),
        *(
            _seam(_C, [(x - 9 * way, 44), (x + 9 * way, 84)], at=0.5)
            for x, way in slants
        ),
        _words(78, "cut at a slant,", 104),
        _words(78, "turn, weld round", 116),
        _area([*outside, *reversed(inside)]),
        *(_seam(_C, [outside[k], inside[k]]) for k in (1, 2)),
    ]  # fmt: skip


# ------------------------------------------------------------------------------------------- tees


def _tee(crotch: float) -> str:
    """A tee from the side: run, and outlet with crotches of that radius."""
    left, right = 214.0, 266.0
    top, low = 62.0, 122.0
    corner_left = _arc((left - crotch, top - crotch), lambda _: crotch, 0, -90, 8)
    corner_right = _arc((right + crotch, top - crotch), lambda _: crotch, -90, -180, 8)
    outline = [
        (174.0, low), (174.0, top), *reversed(corner_left), (left, 24.0), (right, 24.0),
        *reversed(corner_right), (306.0, top), (306.0, low),
    ]  # fmt: skip
    return _area(outline)


def _saddle(half: float = 26.0, drop: float = 22.0) -> list[Point]:
    """The branch curve from the side: from crotch to crotch, lowest in the middle."""
    return [
        (240 + half * cos(pi * k / 24), 62 + drop * sin(pi * k / 24)) for k in range(24, -1, -1)
    ]


def _drawn_tee() -> list[str]:
    stages = []
    for number, x in enumerate((30, 80, 130)):
        lift = 6 + 13 * number
        stages.append(_ring(x, 96, 21, 7))
        stages.append(_box(x - 11, 70, 22, 12, "#fff"))
        stages.append(_box(x - 15, 78 - lift, 5, lift + 5))
        stages.append(_box(x + 10, 78 - lift, 5, lift + 5))
        stages.append(_box(x - 9, 66 - lift + 8, 18, 10, _TOOL))
        stages.append(_arrow((x, 66 - lift + 4), (x, 54 - lift)))
    return [
        *stages,
        _words(80, "heat, draw, heat, draw", 131),
        _tee(14),
        _words(240, "no seam, round crotch", 96),
    ]


def _halves_tee() -> list[str]:
    """From above: the plane of the seams holds the run's and the outlet's axes."""
    far = [(14.0, 54.0), (14.0, 24.0), (138.0, 24.0), (138.0, 54.0)]
    near = [(x, 148 - y) for x, y in far]
    notch = _arc((76, 54), lambda _: 20, 0, 180, 12)
    return [
        _area([*far, *notch]),
        _area([*near, *((x, 148 - y) for x, y in notch)]),
        _arrow((76, 6), (76, 21)),
        _arrow((76, 136), (76, 128)),
        _words(76, "two halves, from above", 71),
        _words(76, "welded in one plane", 83),
        _words(240, "from above", 24),
        _box(174, 46, 132, 60),
        '<circle cx="240" cy="76" r="26" fill="#fff" stroke="#000"/>',
        '<circle cx="240" cy="76" r="20" fill="#ccc" stroke="#000"/>',
        _seam(_L, [(174.0, 76.0), (214.0, 76.0)]),
        _seam(_L, [(266.0, 76.0), (306.0, 76.0)]),
    ]


def _section(into: bool, pad: bool) -> list[str]:
    """Run and outlet cut across: the outlet stands on the run's wall, or goes through it."""
    x, y, radius, wall = 80.0, 92.0, 34.0, 8.0
    hole = 16.0 if not into else 22.0
    foot = y - radius + (wall + 4 if into else 4)
    parts = [
        _ring(x, y, radius, wall),
        f'<path d="M{x - hole:g} {y - radius - 6:g}h{2 * hole:g}v18h-{2 * hole:g}z" fill="#fff"/>',
    ]
    if pad:
        for way in (-1, 1):
            outer = _arc((x, y), lambda _: radius + 7, 90 - 36 * way, 90 - 68 * way, 8)
            inner = _arc((x, y), lambda _: radius + 1, 90 - 36 * way, 90 - 68 * way, 8)
            parts.append(_area([*outer, *reversed(inner)]))
    for way in (-1, 1):
        parts.append(_box(x + way * 18 - 3.5, 22, 7, foot - 22))
        corner = y - radius + 6 - (6 if pad else 0)
        parts.append(_weld(x + way * 21.5, corner, way))
    parts += [_letter(_B, x - 46, 44), _letter(_B, x + 46, 44)]
    return parts


def _set_on_tee() -> list[str]:
    return [*_section(False, False), _tee(0.1), _seam(_B, _saddle())]


def _set_in_tee() -> list[str]:
    return [*_section(True, False), _tee(0.1), _seam(_B, _saddle(31, 27))]


def _padded_tee() -> list[str]:
    return [
        *_section(False, True),
        _tee(0.1),
        _area([*_saddle(42, 38), (270.0, 56.0), (210.0, 56.0)], "#c9d0d6"),
        _box(214.5, 26, 51, 36),
        _seam(_B, _saddle(26, 18), 0.5),
        _seam(_B, _saddle(42, 38), 0.5),
    ]


# --------------------------------------------------------------------------------------- reducers


def _reducer(corners: bool) -> str:
    """A reducer from the side: an S, or straight lines between two rings."""
    upper: list[Point]
    if corners:
        upper = [(176.0, 24.0), (202.0, 24.0), (274.0, 48.0), (304.0, 48.0)]
    else:
        upper = [(176.0, 24.0)]
        for k in range(25):
            t = k / 24
            upper.append((192 + 96 * t, 24 + 24 * t * t * (3 - 2 * t)))
        upper.append((304.0, 48.0))
    lower = [(x, 148 - y) for x, y in reversed(upper)]
    return _area([*upper, *lower])


def _pressed_reducer() -> list[str]:
    return [
        _box(12, 44, 66, 60),
        _area([(84, 30), (140, 30), (140, 58), (118, 58), (98, 46), (84, 46)], _TOOL),
        _area([(84, 118), (140, 118), (140, 90), (118, 90), (98, 102), (84, 102)], _TOOL),
        _arrow((22, 74), (70, 74)),
        _words(46, "press", 68),
        _words(112, "die", 26),
        _reducer(False),
        _words(240, "no seam", 78),
    ]


def _plate_reducer() -> list[str]:
    return [
        _box(14, 30, 54, 7),
        _arrow((74, 34), (92, 44)),
        _ring(118, 74, 30, 7),
        '<path d="M114 40h8v12h-8z" fill="#fff"/>',
        _letter(_L, 118, 40),
        _words(42, "plate", 24),
        _words(80, "roll, weld, size in a die", 126),
        _reducer(False),
        _seam(_L, [(178.0, 74.0), (302.0, 74.0)]),
    ]


def _rolled_reducer() -> list[str]:
    blank = [
        *_arc((78, 130), lambda _: 92, 50, 130),
        *reversed(_arc((78, 130), lambda _: 48, 50, 130)),
    ]
    return [
        _area(blank),
        _arrow((24, 96), (40, 118), (62, 122)),
        _words(78, "a flat blank,", 66),
        _words(106, "rolled to a cone", 112),
        _reducer(True),
        _seam(_C, [(202.0, 24.0), (202.0, 124.0)], 0.28),
        _seam(_C, [(274.0, 48.0), (274.0, 100.0)], 0.28),
        _seam(_L, [(204.0, 84.0), (272.0, 80.0)]),
    ]


def _gored_reducer() -> list[str]:
    cuts = []
    for k in range(4):
        y = 34 + 20 * k
        cuts.append(_area([(140, y + 5), (70, y + 10), (140, y + 15)], "#fff"))
    return [
        _box(14, 34, 126, 80),
        *cuts,
        _words(42, "wedges", 70),
        _words(42, "cut out", 82),
        _arrow((146, 24), (146, 46)),
        _arrow((146, 124), (146, 102)),
        _reducer(True),
        _seam(_C, [(202.0, 24.0), (202.0, 124.0)], 0.1),
        _seam(_C, [(274.0, 48.0), (274.0, 100.0)], 0.5),
        _seam(_L, [(204.0, 50.0), (272.0, 60.0)]),
        _seam(_L, [(204.0, 98.0), (272.0, 88.0)]),
    ]


_DRAWN: dict[Make, Callable[[], list[str]]] = {
    Make.PUSHED_ELBOW: _pushed_elbow,
    Make.HALVES_ELBOW: _halves_elbow,
    Make.MITRED_ELBOW: _mitred_elbow,
    Make.DRAWN_TEE: _drawn_tee,
    Make.HALVES_TEE: _halves_tee,
    Make.SET_ON_TEE: _set_on_tee,
    Make.SET_IN_TEE: _set_in_tee,
    Make.PADDED_TEE: _padded_tee,
    Make.PRESSED_REDUCER: _pressed_reducer,
    Make.PLATE_REDUCER: _plate_reducer,
    Make.ROLLED_REDUCER: _rolled_reducer,
    Make.GORED_REDUCER: _gored_reducer,
}
