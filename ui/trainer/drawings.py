"""A small drawing of each make: on the left how it is made, on the right where its seams lie.

Our own, made by code: plane geometry on a white card of 320 by 150 units, lines from
`fittings.words` for the seams, so that letter and pattern tell them apart in grey.
"""

from __future__ import annotations

from collections.abc import Callable
from math import cos, pi, radians, sin

from fittings.words import Orientation
from ui.trainer import strokes
from ui.trainer.makes import Make
from ui.trainer.strokes import METAL, TOOL, Point

_L, _C, _B = Orientation.LONGITUDINAL, Orientation.CIRCUMFERENTIAL, Orientation.BRANCH


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
        f"{strokes.words(80, 'how it is made')}{strokes.words(240, 'where its seams are')}"
        '<path d="M160 8V128" stroke="#bbb"/></svg>'
    )


# ----------------------------------------------------------------------------------------- elbows


def _elbow() -> str:
    return strokes.bend((196, 122), 64, 0, 90, 22, 22)


def _pushed_elbow() -> list[str]:
    return [
        strokes.box(14, 25, 56, 22),  # the start pipe, narrow
        strokes.bend((70, 96), 60, 90, 10, 11, 18),
        strokes.bend((70, 96), 60, 90, 10, 4, 14).replace(METAL, TOOL),  # the horn within
        strokes.arrow((20, 58), (62, 58)),
        strokes.words(36, "push", 70),
        strokes.words(40, "narrow", 18),
        strokes.words(134, "wider", 112),
        _elbow(),
        strokes.words(214, "no seam", 20),
    ]


def _halves_elbow() -> list[str]:
    shells = []
    for side, y in ((1, 58), (-1, 78)):
        outer = strokes.arc((76, y), lambda _: 34, 0 if side > 0 else 180, 180 if side > 0 else 360)
        inner = strokes.arc((76, y), lambda _: 27, 0 if side > 0 else 180, 180 if side > 0 else 360)
        shells.append(strokes.area([*outer, *reversed(inner)]))
    return [
        *shells,
        strokes.arrow((76, 4), (76, 20)),
        strokes.arrow((76, 132), (76, 116)),
        strokes.words(76, "two shells", 71),
        strokes.letter(_L, 122, 68),
        strokes.letter(_L, 30, 68),
        _elbow(),
        strokes.seam(_L, strokes.arc((196, 122), lambda _: 64, 0, 90)),
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
        strokes.box(12, 44, 132, 40),
        *(
            strokes.seam(_C, [(x - 9 * way, 44), (x + 9 * way, 84)], at=0.5)
            for x, way in slants
        ),
        strokes.words(78, "cut at a slant,", 104),
        strokes.words(78, "turn, weld round", 116),
        strokes.area([*outside, *reversed(inside)]),
        *(strokes.seam(_C, [outside[k], inside[k]]) for k in (1, 2)),
    ]  # fmt: skip


# ------------------------------------------------------------------------------------------- tees


def _tee(crotch: float) -> str:
    """A tee from the side: run, and outlet with crotches of that radius."""
    left, right = 214.0, 266.0
    top, low = 62.0, 122.0
    corner_left = strokes.arc((left - crotch, top - crotch), lambda _: crotch, 0, -90, 8)
    corner_right = strokes.arc((right + crotch, top - crotch), lambda _: crotch, -90, -180, 8)
    outline = [
        (174.0, low), (174.0, top), *reversed(corner_left), (left, 24.0), (right, 24.0),
        *reversed(corner_right), (306.0, top), (306.0, low),
    ]  # fmt: skip
    return strokes.area(outline)


def _saddle(half: float = 26.0, drop: float = 22.0) -> list[Point]:
    """The branch curve from the side: from crotch to crotch, lowest in the middle."""
    return [
        (240 + half * cos(pi * k / 24), 62 + drop * sin(pi * k / 24)) for k in range(24, -1, -1)
    ]


def _drawn_tee() -> list[str]:
    stages = []
    for number, x in enumerate((30, 80, 130)):
        lift = 6 + 13 * number
        stages.append(strokes.ring(x, 96, 21, 7))
        stages.append(strokes.box(x - 11, 70, 22, 12, "#fff"))
        stages.append(strokes.box(x - 15, 78 - lift, 5, lift + 5))
        stages.append(strokes.box(x + 10, 78 - lift, 5, lift + 5))
        stages.append(strokes.box(x - 9, 66 - lift + 8, 18, 10, TOOL))
        stages.append(strokes.arrow((x, 66 - lift + 4), (x, 54 - lift)))
    return [
        *stages,
        strokes.words(80, "heat, draw, heat, draw", 131),
        _tee(14),
        strokes.words(240, "no seam, round crotch", 96),
    ]


def _halves_tee() -> list[str]:
    """From above: the plane of the seams holds the run's and the outlet's axes."""
    far = [(14.0, 48.0), (14.0, 18.0), (138.0, 18.0), (138.0, 48.0)]
    near = [(x, 134 - y) for x, y in far]
    notch = strokes.arc((76, 48), lambda _: 20, 0, 180, 12)
    return [
        strokes.area([*far, *notch]),
        strokes.area([*near, *((x, 134 - y) for x, y in notch)]),
        strokes.arrow((76, 3), (76, 16)),
        strokes.arrow((76, 132), (76, 119)),
        strokes.words(76, "two halves, from above", 63),
        strokes.words(76, "welded in one plane", 76),
        strokes.words(240, "from above", 24),
        strokes.box(174, 46, 132, 60),
        '<circle cx="240" cy="76" r="26" fill="#fff" stroke="#000"/>',
        '<circle cx="240" cy="76" r="20" fill="#ccc" stroke="#000"/>',
        strokes.seam(_L, [(174.0, 76.0), (214.0, 76.0)]),
        strokes.seam(_L, [(266.0, 76.0), (306.0, 76.0)]),
    ]


def _section(into: bool, pad: bool) -> list[str]:
    """Run and outlet cut across: the outlet stands on the run's wall, or goes through it."""
    x, y, radius, wall = 80.0, 92.0, 34.0, 8.0
    hole = 16.0 if not into else 22.0
    foot = y - radius + (wall + 4 if into else 4)
    parts = [
        strokes.ring(x, y, radius, wall),
        f'<path d="M{x - hole:g} {y - radius - 6:g}h{2 * hole:g}v18h-{2 * hole:g}z" fill="#fff"/>',
    ]
    if pad:
        for way in (-1, 1):
            outer = strokes.arc((x, y), lambda _: radius + 7, 90 - 36 * way, 90 - 68 * way, 8)
            inner = strokes.arc((x, y), lambda _: radius + 1, 90 - 36 * way, 90 - 68 * way, 8)
            parts.append(strokes.area([*outer, *reversed(inner)]))
    for way in (-1, 1):
        parts.append(strokes.box(x + way * 18 - 3.5, 22, 7, foot - 22))
        corner = y - radius + 6 - (6 if pad else 0)
        parts.append(strokes.weld(x + way * 21.5, corner, way))
    parts += [strokes.letter(_B, x - 46, 44), strokes.letter(_B, x + 46, 44)]
    return parts


def _set_on_tee() -> list[str]:
    return [*_section(False, False), _tee(0.1), strokes.seam(_B, _saddle())]


def _set_in_tee() -> list[str]:
    return [*_section(True, False), _tee(0.1), strokes.seam(_B, _saddle(31, 27))]


def _padded_tee() -> list[str]:
    return [
        *_section(False, True),
        _tee(0.1),
        strokes.area([*_saddle(42, 38), (270.0, 56.0), (210.0, 56.0)], "#c9d0d6"),
        strokes.box(214.5, 26, 51, 36),
        strokes.seam(_B, _saddle(26, 18), 0.5),
        strokes.seam(_B, _saddle(42, 38), 0.5),
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
    return strokes.area([*upper, *lower])


def _pressed_reducer() -> list[str]:
    return [
        strokes.box(12, 44, 66, 60),
        strokes.area([(84, 30), (140, 30), (140, 58), (118, 58), (98, 46), (84, 46)], TOOL),
        strokes.area([(84, 118), (140, 118), (140, 90), (118, 90), (98, 102), (84, 102)], TOOL),
        strokes.arrow((22, 74), (70, 74)),
        strokes.words(46, "press", 68),
        strokes.words(112, "die", 26),
        _reducer(False),
        strokes.words(240, "no seam", 78),
    ]


def _plate_reducer() -> list[str]:
    return [
        strokes.box(14, 30, 54, 7),
        strokes.arrow((74, 34), (92, 44)),
        strokes.ring(118, 74, 30, 7),
        '<path d="M114 40h8v12h-8z" fill="#fff"/>',
        strokes.letter(_L, 118, 40),
        strokes.words(42, "plate", 24),
        strokes.words(80, "roll, weld, size in a die", 126),
        _reducer(False),
        strokes.seam(_L, [(178.0, 74.0), (302.0, 74.0)]),
    ]


def _rolled_reducer() -> list[str]:
    blank = [
        *strokes.arc((78, 130), lambda _: 92, 50, 130),
        *reversed(strokes.arc((78, 130), lambda _: 48, 50, 130)),
    ]
    return [
        strokes.area(blank),
        strokes.arrow((24, 96), (40, 118), (62, 122)),
        strokes.words(78, "a flat blank,", 66),
        strokes.words(106, "rolled to a cone", 112),
        _reducer(True),
        strokes.seam(_C, [(202.0, 24.0), (202.0, 124.0)], 0.28),
        strokes.seam(_C, [(274.0, 48.0), (274.0, 100.0)], 0.28),
        strokes.seam(_L, [(204.0, 84.0), (272.0, 80.0)]),
    ]


def _gored_reducer() -> list[str]:
    cuts = []
    for k in range(4):
        y = 34 + 20 * k
        cuts.append(strokes.area([(140, y + 5), (70, y + 10), (140, y + 15)], "#fff"))
    return [
        strokes.box(14, 34, 126, 80),
        *cuts,
        strokes.words(42, "wedges", 70),
        strokes.words(42, "cut out", 82),
        strokes.arrow((146, 24), (146, 46)),
        strokes.arrow((146, 124), (146, 102)),
        _reducer(True),
        strokes.seam(_C, [(202.0, 24.0), (202.0, 124.0)], 0.1),
        strokes.seam(_C, [(274.0, 48.0), (274.0, 100.0)], 0.5),
        strokes.seam(_L, [(204.0, 50.0), (272.0, 60.0)]),
        strokes.seam(_L, [(204.0, 98.0), (272.0, 88.0)]),
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
