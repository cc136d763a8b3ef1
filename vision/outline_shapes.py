"""The outlines that fittings of known shape show to a camera: closed forms, no rendering.

Every surface here is swept by circles, and where the camera's rays touch it is found circle by
circle. On a circle of centre P with unit vectors a, b across it, a point's normal is
n = a cos t + b sin t (plus a share of the axis where the surface tapers), and a ray from the camera
C touches where n · (P + r n - C) = 0: an equation u cos t + v sin t = w with two solutions. Plain
geometry (apparent contour of a canal surface); the tests hold it against dense ray casting.

Frames are those of the scenes (`synthetic.shapes`): an elbow bends about z with its middle on the
x axis; a tee's run lies along x, its outlet along +z; a reducer runs along x from its large end.
Lengths are in outside radii: of the elbow, of a tee's run, of a reducer's large end.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates
from skimage.measure import find_contours

Points = NDArray[np.float64]

_BREAK = np.full((1, 3), np.nan)
_TURN = np.linspace(0.0, 2.0 * np.pi, 49)
# From flank to flank and a step on, so that both crotches lie within.
_ROOT_TURN = np.linspace(0.5 * np.pi, 2.5 * np.pi + np.radians(5.0), 74)
_BEND_STEPS = 33
_STRAIGHT_STEPS = 9
_SECTION_STEPS = 9


def strokes(lines: Sequence[Points]) -> Points:
    """Polylines (K, 3) as one array with a row of NaN after each."""
    return np.concatenate([part for line in lines for part in (line, _BREAK)])


def _touching(u: Points, v: Points, w: Points) -> tuple[Points, Points]:
    """Both angles t with u cos t + v sin t = w; NaN where there is none."""
    size = np.hypot(u, v)
    share = w / np.maximum(size, 1e-9)
    half = np.arccos(np.where(np.abs(share) <= 1.0, share, np.nan))
    middle = np.arctan2(v, u)
    return middle - half, middle + half


def _across(camera: Points, centre: Points, a: Points, b: Points, radius: float) -> list[Points]:
    """The two lines (K, 3) where rays touch a surface swept by circles of one radius."""
    from_camera = centre - camera
    u, v = (a * from_camera).sum(-1), (b * from_camera).sum(-1)
    return [
        centre + radius * (a * np.cos(t)[..., None] + b * np.sin(t)[..., None])
        for t in _touching(u, v, np.full(u.shape, -radius))
    ]


def ring(centre: Points, a: Points, b: Points, radius: float) -> Points:
    """A closed circle (49, 3) from a on towards b."""
    return centre + radius * (np.cos(_TURN)[:, None] * a + np.sin(_TURN)[:, None] * b)


def elbow(
    camera: Points, *, bend_radius: float, half_rad: float, stub: float, pieces: int
) -> Points:
    """Outline of an elbow that turns by 2 `half_rad`: formed (`pieces` 1) or of straight pieces.

    `camera` (3,) in the piece's frame. A formed one is a torus between straight ends of length
    `stub`; a mitred one has its pieces' axes touch the circle of the bend radius at equal steps of
    the kink 2 half / (pieces - 1) (`fittings.geometry.mitre_kink_deg`).
    """
    z = np.array([0.0, 0.0, 1.0])
    lines: list[Points] = []
    for side in (-1.0, 1.0):
        out, along = _spoke(side * half_rad)
        lines.append(ring(bend_radius * out + side * stub * along, out, z, 1.0))
    if pieces == 1:
        angle = np.linspace(-half_rad, half_rad, _BEND_STEPS)
        out = np.stack([np.cos(angle), np.sin(angle), 0.0 * angle], -1)
        centre = bend_radius * out
        steps = np.linspace(0.0, stub, _STRAIGHT_STEPS)[1:, None]
        (first, first_along), (last, last_along) = _spoke(-half_rad), _spoke(half_rad)
        centre = np.concatenate(
            [
                (bend_radius * first - steps * first_along)[::-1],
                centre,
                bend_radius * last + steps * last_along,
            ]
        )
        ends = np.ones((len(steps), 1))
        frames = np.concatenate([ends * first, out, ends * last])
        lines += _across(camera, centre, frames, np.broadcast_to(z, frames.shape), 1.0)
        return strokes(lines)
    kink = 2.0 * half_rad / (pieces - 1)
    for number in range(pieces):
        facet = -half_rad + number * kink
        out, along = _spoke(facet)
        touching = _across(camera, (bend_radius * out)[None], out[None], z[None], 1.0)
        if number:
            mitre = mitre_edge(bend_radius, facet, kink)
            before, _ = _spoke(facet - kink)
            normals = [ring(0.0 * out, spoke, z, 1.0) for spoke in (before, out)]
            lines.append(_creased(camera, mitre, *normals))
        for point in touching:
            # From mitre plane to mitre plane (each holds the bend's axis), or to the open end.
            reach = np.tan(kink / 2.0) * (point[0] @ out)
            low = -stub if number == 0 else -reach
            high = stub if number == pieces - 1 else reach
            lines.append(point + np.linspace(low, high, _STRAIGHT_STEPS)[:, None] * along)
    return strokes(lines)


def mitre_edge(bend_radius: float, facet: float, kink: float) -> Points:
    """The ellipse (49, 3) where the piece about angle `facet` meets the one before it, from the
    extrados round."""
    out, along = _spoke(facet)
    girth = ring(bend_radius * out, out, np.array([0.0, 0.0, 1.0]), 1.0)
    return girth - np.tan(kink / 2.0) * (girth @ out)[:, None] * along


def _creased(camera: Points, line: Points, before: Points, after: Points) -> Points:
    """Of a line (K, 3) where two surfaces meet, what is outline: there one faces the camera and the
    other does not. The rest NaN. `before` and `after` are their normals."""
    ray = line - camera
    turned = (before * ray).sum(-1) * (after * ray).sum(-1) < 0.0
    return np.where(turned[:, None], line, np.nan)


def _spoke(angle: float) -> tuple[Points, Points]:
    """Unit vectors away from the bend's axis and along the bend, at that angle."""
    c, s = np.cos(angle), np.sin(angle)
    return np.array([c, s, 0.0]), np.array([-s, c, 0.0])


def tee(
    camera: Points,
    *,
    outlet_radius: float,
    crotch: float,
    half_run: float,
    height: float,
    bead: bool = False,
) -> Points:
    """Outline of a tee whose crotch has the radius `crotch`, 0 for a sharp corner; with `bead` one
    of a sharp corner under a round bead of that radius.

    Run and outlet end where rounding or bead begins.
    """
    x, y, z = np.eye(3)
    lines = [
        ring(-half_run * x, y, z, 1.0),
        ring(half_run * x, y, z, 1.0),
        ring(height * z, x, y, outlet_radius),
    ]
    for point in _across(camera, np.zeros((1, 3)), y[None], z[None], 1.0):
        aside = float(point[0, 1])
        reach = outlet_radius + _reach(aside, outlet_radius, crotch, bead=bead)
        if point[0, 2] <= 0.0 or abs(aside) >= reach:
            lines.append(point + np.linspace(-half_run, half_run, 25)[:, None] * x)
            continue
        start = np.sqrt(reach**2 - aside**2)
        for side in (-1.0, 1.0):
            lines.append(point + side * np.linspace(start, half_run, 13)[:, None] * x)
    for point in _across(camera, np.zeros((1, 3)), x[None], y[None], outlet_radius):
        aside = float(point[0, 1])
        reach = 1.0 + _reach(aside, outlet_radius, crotch, bead=bead)
        start = np.sqrt(max(reach**2 - aside**2, 0.0))
        lines.append(point + np.linspace(start, height, 17)[:, None] * z)
    if crotch > 1e-3:
        surface = _bead(outlet_radius, crotch) if bead else _rounding(outlet_radius, crotch)
        lines += _contour(camera, surface)
    return strokes(lines)


def _reach(aside: float, outlet_radius: float, crotch: float, *, bead: bool) -> float:
    """How far from the root a rounding, or a bead, covers run or outlet at `aside` from the plane
    of the axes (both surfaces taken to touch it at about the same angle)."""
    cosine = min(aside**2 / outlet_radius, 1.0)
    return crotch if bead else crotch * (1.0 - cosine**2)


def _rounding(outlet_radius: float, crotch: float) -> Points:
    """The rounding between run and outlet, (T, S, 3) points: round the outlet, and from run to
    outlet. The heights a, b over run and outlet lie on a quarter of a circle of radius f,
    (f - a)² + (f - b)² = f²; f falls by 1 - c² towards the flanks, c the cosine between the two
    surfaces' normals, since there they meet flat."""
    turn = _ROOT_TURN[:, None]
    section = np.linspace(0.0, 0.5 * np.pi, _SECTION_STEPS)[None]
    radius = np.full((len(_ROOT_TURN), _SECTION_STEPS), crotch)
    for _ in range(3):
        over_run = 1.0 + radius * (1.0 - np.cos(section))
        over_outlet = outlet_radius + radius * (1.0 - np.sin(section))
        y = over_outlet * np.sin(turn)
        radius = crotch * np.clip(1.0 - (y**2 / (over_run * over_outlet)) ** 2, 0.01, 1.0)
    high = np.sqrt(np.maximum(over_run**2 - y**2, 0.0))
    return np.stack([over_outlet * np.cos(turn), y, high], axis=-1)


def _bead(outlet_radius: float, size: float) -> Points:
    """A round bead along the root, (T, S, 3) points, NaN where it lies in the metal."""
    turn = _ROOT_TURN[:, None]
    x, y = outlet_radius * np.cos(turn), outlet_radius * np.sin(turn)
    high = np.sqrt(np.maximum(1.0 - y**2, 1e-6))
    onward = np.stack([-y, x, -y * x / high], axis=-1)
    onward /= np.linalg.norm(onward, axis=-1, keepdims=True)
    out = np.stack([0.0 * x, y, high], axis=-1)
    beside = np.cross(onward, out)
    section = np.linspace(0.0, 2.0 * np.pi, 4 * _SECTION_STEPS)[None, :, None]
    points = np.stack([x, y, high], axis=-1) + size * (
        np.cos(section) * out + np.sin(section) * beside
    )
    clear = (np.hypot(points[..., 1], points[..., 2]) >= 1.0) & (
        np.hypot(points[..., 0], points[..., 1]) >= outlet_radius
    )
    return np.where(clear[..., None], points, np.nan)


def _contour(camera: Points, surface: Points) -> list[Points]:
    """Where rays graze a surface given by a grid of points (T, S, 3): its normals are the cross
    products of the grid's directions, and the contour is where normal · ray changes sign (marching
    squares)."""
    normal = np.cross(np.gradient(surface, axis=0), np.gradient(surface, axis=1))
    facing = (normal * (surface - camera)).sum(axis=-1)
    return [
        np.stack([map_coordinates(surface[..., i], line.T, order=1) for i in range(3)], axis=-1)
        for line in find_contours(facing, 0.0)
    ]


def reducer(
    camera: Points,
    *,
    at: Points,
    radius: Points,
    slope: Points,
    eccentric: float,
) -> Points:
    """Outline of a reducer given by its profile: (K,) places along x, radii and slopes there.

    `eccentric` 1 keeps the side at -z straight, 0 keeps the centreline so. At a corner the profile
    holds the same place twice, once with each slope.
    """
    y, z = np.eye(3)[1:]
    shift = eccentric * (radius - radius[0])
    centre = np.stack([at, 0.0 * at, shift], -1)
    from_camera = centre - camera
    u = from_camera[:, 1]
    v = from_camera[:, 2] - eccentric * slope * from_camera[:, 0]
    w = slope * from_camera[:, 0] - radius
    lines = [ring(centre[i], y, z, float(radius[i])) for i in (0, -1)]
    x = np.eye(3)[0]
    flat = ring(np.zeros(3), y, z, 1.0)
    for i in np.flatnonzero(np.diff(at) == 0.0):
        normals = [flat - (m * (1.0 + eccentric * flat[:, 2:])) * x for m in slope[i : i + 2]]
        lines.append(_creased(camera, ring(centre[i], y, z, float(radius[i])), *normals))
    for t in _touching(u, v, w):
        lines.append(centre + radius[:, None] * (np.cos(t)[:, None] * y + np.sin(t)[:, None] * z))
    return strokes(lines)
