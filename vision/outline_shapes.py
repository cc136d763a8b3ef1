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

Points = NDArray[np.float64]

_BREAK = np.full((1, 3), np.nan)
_TURN = np.linspace(0.0, 2.0 * np.pi, 49)
_BEND_STEPS = 33
_STRAIGHT_STEPS = 9
_ROOT_STEPS = 97


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


def _across(
    camera: Points, centre: Points, a: Points, b: Points, radius: float | Points
) -> list[Points]:
    """The two lines (K, 3) where rays touch a surface swept by circles of one radius, or of one
    that changes little along the way."""
    from_camera = centre - camera
    u, v = (a * from_camera).sum(-1), (b * from_camera).sum(-1)
    size = np.broadcast_to(radius, u.shape)
    return [
        centre + size[:, None] * (a * np.cos(t)[..., None] + b * np.sin(t)[..., None])
        for t in _touching(u, v, -size)
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

    The rounding is what a ball of that radius leaves that rolls along both cylinders: its centre
    runs on the intersection of the cylinders grown by its radius. Run and outlet end where the ball
    touches them. A bead is a tube about the intersection itself.
    """
    x, y, z = np.eye(3)
    grown_run, grown_outlet = 1.0 + crotch, outlet_radius + crotch
    lines = [
        ring(-half_run * x, y, z, 1.0),
        ring(half_run * x, y, z, 1.0),
        ring(height * z, x, y, outlet_radius),
    ]
    for point in _across(camera, np.zeros((1, 3)), y[None], z[None], 1.0):
        if not np.isfinite(point).all():
            continue
        aside = point[0, 1] * grown_run
        if bead:
            aside = point[0, 1]
        inside = grown_outlet**2 - aside**2
        if point[0, 2] <= 0.0 or inside <= 0.0:
            lines.append(point + np.linspace(-half_run, half_run, 25)[:, None] * x)
            continue
        start = np.sqrt(inside)
        for side in (-1.0, 1.0):
            lines.append(point + side * np.linspace(start, half_run, 13)[:, None] * x)
    for point in _across(camera, np.zeros((1, 3)), x[None], y[None], outlet_radius):
        if not np.isfinite(point).all():
            continue
        aside = point[0, 1] / outlet_radius * grown_outlet
        start = np.sqrt(max(grown_run**2 - aside**2, 0.0))
        if bead:
            start = np.sqrt(max(1.0 - point[0, 1] ** 2, 0.0)) + crotch
        lines.append(point + np.linspace(start, height, 17)[:, None] * z)
    if crotch > 1e-3:
        lines += _rolled(camera, outlet_radius, crotch, bead=bead)
    return strokes(lines)


def _rolled(camera: Points, outlet_radius: float, ball: float, *, bead: bool) -> list[Points]:
    """Where rays touch the rounding between run and outlet, or the bead in their corner.

    The rounding dies out where the two surfaces meet flat, as they do at the flanks of an equal
    tee: its radius is multiplied by 1 - c², c the cosine between their normals.
    """
    t = np.linspace(0.0, 2.0 * np.pi, _ROOT_STEPS)
    flat = outlet_radius * np.sin(t) ** 2
    radius = np.full(t.shape, ball) if bead else ball * np.maximum(1.0 - flat**2, 0.01)
    grown = 0.0 if bead else radius
    run, outlet = 1.0 + grown, outlet_radius + grown
    across, beside = outlet * np.cos(t), outlet * np.sin(t)
    high = np.sqrt(np.maximum(run**2 - beside**2, 1e-6))
    centre = np.stack([across, beside, high], -1)
    onward = np.stack([-beside, across, -beside * across / high], -1)
    onward /= np.linalg.norm(onward, axis=-1, keepdims=True)
    # From the ball's centre to where it touches run and outlet: both lie across its way.
    to_run = np.stack([0.0 * t, -beside, -high], -1)
    to_run /= np.linalg.norm(to_run, axis=-1, keepdims=True)
    to_outlet = np.stack([-across, -beside, 0.0 * t], -1)
    to_outlet /= np.linalg.norm(to_outlet, axis=-1, keepdims=True)
    a = to_run + to_outlet
    a /= np.linalg.norm(a, axis=-1, keepdims=True)
    b = np.cross(onward, a)
    least = (a * to_run).sum(-1)
    found = []
    for line in _across(camera, centre, a, b, radius):
        inward = ((line - centre) * a).sum(-1) / radius
        shown = inward >= least - 1e-9
        if bead:
            clear_of_run = np.hypot(line[:, 1], line[:, 2]) >= 1.0
            shown = clear_of_run & (np.hypot(line[:, 0], line[:, 1]) >= outlet_radius)
        found.append(np.where(shown[:, None], line, np.nan))
    return found


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
