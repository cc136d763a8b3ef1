"""The strokes that the trainer's drawings are made of: SVG text, y downwards."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from math import cos, radians, sin

from fittings.words import Orientation

INK, METAL, TOOL = "#000", "#dfe3e6", "#b9b0a2"

Point = tuple[float, float]


def words(x: float, text: str, y: float = 144) -> str:
    return f'<text x="{x:g}" y="{y:g}" text-anchor="middle">{text}</text>'


def path(points: Iterable[Point], *, closed: bool = False) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points) + ("z" if closed else "")


def area(points: Iterable[Point], fill: str = METAL) -> str:
    return f'<path d="{path(points, closed=True)}" fill="{fill}" stroke="{INK}"/>'


def box(x: float, y: float, wide: float, high: float, fill: str = METAL) -> str:
    return area([(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)], fill)


def ring(x: float, y: float, radius: float, wall: float, fill: str = METAL) -> str:
    middle = radius - wall / 2
    return (
        f'<circle cx="{x:g}" cy="{y:g}" r="{middle:g}" fill="none" stroke="{INK}" '
        f'stroke-width="{wall + 1.6:g}"/><circle cx="{x:g}" cy="{y:g}" r="{middle:g}" '
        f'fill="none" stroke="{fill}" stroke-width="{wall - 0.6:g}"/>'
    )


def arrow(*points: Point) -> str:
    return (
        f'<path d="{path(points)}" fill="none" stroke="{INK}" stroke-width="1.6" '
        'marker-end="url(#tip)"/>'
    )


def seam(orientation: Orientation, points: list[Point], at: float = 0.5) -> str:
    """A seam's line with its letter beside the point at the share `at` of its points."""
    style = orientation.style
    colour = "#{:02x}{:02x}{:02x}".format(*style.colour)
    dash = " ".join(f"{2.6 * each:g}" for each in style.dash)
    pattern = f' stroke-dasharray="{dash}"' if dash else ""
    line = path(points)
    x, y = points[min(len(points) - 1, int(at * len(points)))]
    if len(points) == 2:
        (x0, y0), (x1, y1) = points
        x, y = x0 + at * (x1 - x0), y0 + at * (y1 - y0)
    return (
        f'<path d="{line}" fill="none" stroke="{INK}" stroke-width="4.4"/>'
        f'<path d="{line}" fill="none" stroke="{colour}" stroke-width="2.6"{pattern}/>'
        + letter(orientation, x, y)
    )


def letter(orientation: Orientation, x: float, y: float) -> str:
    colour = "#{:02x}{:02x}{:02x}".format(*orientation.style.colour)
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="7" fill="{colour}" stroke="{INK}"/>'
        f'<text x="{x:.1f}" y="{y + 3.6:.1f}" text-anchor="middle" font-weight="bold">'
        f"{orientation.style.letter}</text>"
    )


def weld(x: float, y: float, side: float) -> str:
    """A fillet in section, its corner at (x, y), leaning left (-1) or right (1)."""
    return area([(x, y), (x, y - 8), (x + 8 * side, y)], INK)


def arc(
    centre: Point, radius: Callable[[float], float], start: float, end: float, n: int = 24
) -> list[Point]:
    turns = [radians(start + (end - start) * k / n) for k in range(n + 1)]
    x, y = centre
    return [(x + radius(i / n) * cos(a), y - radius(i / n) * sin(a)) for i, a in enumerate(turns)]


def bend(centre: Point, radius: float, start: float, end: float, r0: float, r1: float) -> str:
    """A pipe along an arc, its half width going from `r0` to `r1`."""
    outside = arc(centre, lambda t: radius + r0 + (r1 - r0) * t, start, end)
    inside = arc(centre, lambda t: radius - r0 - (r1 - r0) * t, start, end)
    return area([*outside, *reversed(inside)])
