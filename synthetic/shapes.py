"""The three kinds of fitting, and the props, as signed distances with surface coordinates.

Frames (the piece's own, millimetres):

- elbow: bend centre at the origin, centreline in the plane z = 0, symmetric about the x axis;
  `along` runs from the end at -bend/2 to that at +bend/2, `around` counts from the extrados.
- tee: run along x, outlet along +z; run `along` from -x to +x, `around` from the side facing the
  outlet; outlet `along` from the run's axis up, `around` from the run's direction +x.
- reducer: from the large end at x = 0 to the small end; `around` from the flat side (eccentric, -z)
  or from the side facing the camera (concentric).

`around` counts right-handed about the direction in which `along` grows, in radians.
"""

from __future__ import annotations

from math import pi, radians, sin, tan
from types import ModuleType
from typing import Any, NamedTuple

from fittings.words import Kind, Part
from synthetic.fields import Array, Vec, rotate_back, smoothstep
from synthetic.packing import Numbers
from synthetic.scene import MOST_PROPS

BEVEL_DEG = 37.5  # from the end plane; ASME B16.25 plain bevel (from memory)
_FAR_MM = 1.0e6
COAT_TOE = 1.2  # of a branch bead's radius, what a coat that rounds it fully fills at its toes


class Shape(NamedTuple):
    """What a piece is at some points near it (all arrays of the points' shape).

    `outside_mm` is the distance to the outside surface alone (negative within the wall), so that
    end faces and bore can be told from it. The lateral distances `along_u_mm`, `cross_u_mm` are to
    the nearest longitudinal and the nearest circumferential or branch seam line, with the position
    `_v_mm` along that line.
    """

    distance_mm: Array
    outside_mm: Array
    part: Array
    along: Array
    around: Array
    along_u_mm: Array
    along_v_mm: Array
    cross_u_mm: Array
    cross_v_mm: Array


def _wrap(xp: ModuleType, angle: Array, period: Any) -> Array:
    return angle - period * xp.floor(angle / period + 0.5)


def _relief(xp: ModuleType, n: Numbers, name: str, u: Array, v: Array, detail: Array | None) -> Any:
    """Height in mm of a weld over the parent metal. `detail` (0 to 1) adds the ripple, and with it
    what is too small for the march: valleys between passes, toes, and craters."""
    sway = xp.sin(v / n[name + ".wander_length_mm"] * 6.28 + n[name + ".phase"])
    lean = 1.0 - n[name + ".uneven"] * sway * sway
    x = (u + n[name + ".wander_mm"] * sway) / (n[name + ".half_width_mm"] * lean)
    cap = xp.clip(1.0 - x * x, min=0.0)
    # The step dies out away from the seam: it would come back as a line halfway to the next one.
    step = xp.clip(x, -1.0, 1.0) * xp.clip(2.0 - xp.abs(x), 0.0, 1.0)
    # Paint fills the crease at the toes: the parabola's square has none.
    coated = cap * (1.0 + n[name + ".rounded"] * (cap - 1.0))
    height = n[name + ".crown_mm"] * lean * coated + 0.5 * n[name + ".hilo_mm"] * step
    if detail is not None:
        passes = n[name + ".passes"]
        # A cap of several passes is several crescents side by side, each its own ripple.
        inner = (x + 1.0) * 0.5 * passes
        inner = 2.0 * (inner - xp.floor(inner)) - 1.0
        pitch = n[name + ".ripple_pitch_mm"]
        wave = xp.cos(6.2832 * v / pitch + 2.2 * inner * inner + n[name + ".phase"])
        height = height + detail * n[name + ".ripple_mm"] * wave * xp.clip(cap * 2.0, 0.0, 1.0)
        valley = inner * inner
        height = height - n[name + ".pass_mm"] * valley * valley * xp.clip(cap * 3.0, 0.0, 1.0)
        toe = (xp.abs(x) - 0.8) * 4.5
        height = height - n[name + ".toe_mm"] * xp.clip(1.0 - toe * toe, min=0.0)
        stop = n[name + ".stop_mm"]
        d = (v - stop * xp.floor(v / stop + 0.5)) / n[name + ".half_width_mm"]
        crater = xp.clip(1.0 - d * d - 1.5 * x * x, min=0.0)
        lap = xp.clip(1.0 - 4.0 * (d - 1.2) * (d - 1.2), min=0.0) * cap
        height = height - n[name + ".crater_mm"] * (crater - 0.4 * lap)
    return height * n[name + ".present"]


def _forming(xp: ModuleType, n: Numbers, e: Array) -> Array:
    """Height in mm of what forming left, `e` mm from an end or from a tee's corner."""
    x = (e - n["piece.ridge_at_mm"]) / n["piece.ridge_half_mm"]
    cap = xp.clip(1.0 - x * x, min=0.0)
    lower = n["piece.ridge_step_mm"] * (1.0 - smoothstep(xp, -1.0, 1.0, x))
    return n["piece.ridge_mm"] * cap * cap - lower


def _bevelled(xp: ModuleType, n: Numbers, outside: Array, wall: Array, end: Array) -> Array:
    """Distance to the bevel cone at an open end; `end` is negative inside the end plane."""
    cone = (outside + (wall - n["piece.root_face_mm"]) + end / tan(radians(BEVEL_DEG))) * sin(
        radians(BEVEL_DEG)
    )
    return xp.where(n["piece.bevel"] * wall > 3.0, cone, -_FAR_MM)


def _elbow(xp: ModuleType, n: Numbers, p: Vec, detail: Array | None) -> Shape:
    x, y, z = p
    bend_radius, radius, wall = n["piece.length_mm"], n["piece.radius_mm"], n["piece.wall_mm"]
    half = n["piece.bend_deg"] * (0.5 * pi / 180.0)
    cut = xp.clip(n["piece.cut_deg"], min=0.5) * (pi / 180.0)
    mitred = n["piece.cut_deg"] > 0.0
    pieces = n["piece.pieces"]
    rho, angle = xp.hypot(x, y), xp.atan2(y, x)
    # A mitred bend is a torus whose bend angle is rounded to the middle of its straight piece.
    index = xp.clip(xp.floor((angle + half) / (2.0 * cut) + 0.5), min=0.0)
    index = xp.where(index > pieces - 1.0, pieces - 1.0, index)
    facet = index * 2.0 * cut - half
    kinked = mitred & (n["piece.kinked"] > 0.5)
    q = rho * xp.where(kinked, xp.cos(angle - facet), 1.0) - bend_radius
    sin_half, cos_half = xp.sin(half), xp.cos(half)
    past_far = -x * sin_half + y * cos_half
    past_near = -x * sin_half - y * cos_half
    far = (past_far > 0.0) & (past_far >= past_near)
    near = (past_near > 0.0) & (past_near > past_far)
    q = xp.where(far, x * cos_half + y * sin_half - bend_radius, q)
    q = xp.where(near, x * cos_half - y * sin_half - bend_radius, q)
    stub = n["piece.stub_mm"]
    arc = bend_radius * (angle + half)
    s = xp.where(far, 2.0 * half * bend_radius + past_far, xp.where(near, -past_near, arc))
    around = xp.atan2(-z, q)

    count = n["piece.long_count"]
    offset = around - n["piece.long_deg"] * (pi / 180.0)
    offset = offset - xp.where(mitred, index, 0.0) * n["piece.long_stagger_deg"] * (pi / 180.0)
    along_u = radius * _wrap(xp, offset, 2.0 * pi / count)
    joint = xp.clip(xp.floor(((angle + half) / cut - 1.0) * 0.5 + 0.5), min=0.0)
    joint = xp.where(joint > pieces - 2.0, pieces - 2.0, joint)
    cross_u = rho * xp.sin(angle - ((2.0 * joint + 1.0) * cut - half))
    cross_u = xp.where(mitred & (xp.cos(angle) > -0.5), cross_u, _FAR_MM)
    cross_v = radius * around + joint * 37.0

    outside = xp.hypot(q, z) - radius
    raised = outside - _relief(xp, n, "piece.along_weld", along_u, s, detail)
    raised = raised - _relief(xp, n, "piece.cross_weld", cross_u, cross_v, detail)
    end = xp.maximum(past_far, past_near) - stub
    # A mitred elbow's ends are cut from pipe, but pipe ends are sized and swaged too.
    raised = raised - _forming(xp, n, -end)
    distance = xp.maximum(xp.maximum(raised, -(outside + wall)), end)
    distance = xp.maximum(distance, _bevelled(xp, n, outside, wall, end))
    return Shape(
        distance_mm=distance,
        outside_mm=raised,
        part=0.0 * x + Part.BODY.label,
        along=(s + stub) / (2.0 * half * bend_radius + 2.0 * stub),
        around=around,
        along_u_mm=along_u,
        along_v_mm=s,
        cross_u_mm=cross_u,
        cross_v_mm=cross_v,
    )


def _tee(xp: ModuleType, n: Numbers, p: Vec, detail: Array | None) -> Shape:
    x, y, z = p
    run_radius, outlet_radius = n["piece.radius_mm"], n["piece.second_radius_mm"]
    wall, outlet_wall = n["piece.wall_mm"], n["piece.second_wall_mm"]
    half_run, height = n["piece.length_mm"], n["piece.second_length_mm"]
    run_r, outlet_r = xp.hypot(y, z), xp.hypot(x, y)
    run, outlet = run_r - run_radius, outlet_r - outlet_radius
    upper = z > 0.0
    run_around, outlet_around = xp.atan2(-y, z), xp.atan2(y, x)

    # Longitudinal seams: on the run, and (halves parted in the plane y = 0) up the outlet's sides.
    count = n["piece.long_count"]
    offset = run_around - n["piece.long_deg"] * (pi / 180.0)
    run_u = run_radius * _wrap(xp, offset, 2.0 * pi / count)
    outlet_u = xp.where(
        n["piece.long_on_outlet"] > 0.5, outlet_radius * _wrap(xp, outlet_around, pi), _FAR_MM
    )
    run_high = run - _relief(xp, n, "piece.along_weld", run_u, x, detail)
    # A reinforcing pad: between the run and a cylinder about the run's axis, out to one about the
    # outlet's. The outlet then stands on the pad.
    padded = n["piece.pad_width_mm"] > 0.5
    thick = xp.where(padded, n["piece.pad_thickness_mm"], 0.0)
    skirt = outlet - n["piece.pad_width_mm"]
    footing = run - thick
    pad = xp.maximum(footing, xp.maximum(skirt, -z))
    run_high = xp.minimum(run_high, xp.where(padded, pad, _FAR_MM))
    outlet_high = outlet - _relief(xp, n, "piece.along_weld", outlet_u, z, detail)
    outlet_high = xp.maximum(outlet_high, -z)

    # c is the cosine between the two surfaces' normals; at the flanks of an equal tee they meet
    # tangentially, and a fillet has nothing to fill.
    c = y * y / xp.clip(run_r * outlet_r, min=1e-3)
    square = xp.clip(1.0 - c * c, min=0.06)
    fillet = n["piece.crotch_radius_mm"] * xp.clip(1.0 - c * c, min=0.0) + 0.01
    corner = xp.hypot(xp.clip(fillet - run_high, min=0.0), xp.clip(fillet - outlet_high, min=0.0))
    outer = xp.maximum(fillet, xp.minimum(run_high, outlet_high)) - corner

    # Distance to the curve where both surfaces are zero, in the plane of both normals.
    def to_corner(a: Array, b: Array) -> Array:
        reach = xp.sqrt(xp.clip((a * a + b * b - 2.0 * a * b * c) / square, min=0.0))
        # At an equal tee's flanks the two surfaces are tangent and this falls to zero outwards;
        # the curve is never nearer than the farther of the two surfaces.
        return xp.maximum(reach, xp.maximum(xp.abs(a), xp.abs(b)))

    shift = n["piece.root_shift_mm"]
    up, aside = xp.clip(shift, min=0.0), xp.clip(-shift, min=0.0)
    root_u = to_corner(footing - up, outlet - aside)
    edge_u = xp.where(padded, to_corner(run, skirt), _FAR_MM)
    cross_u = xp.where(upper, xp.minimum(root_u, edge_u), _FAR_MM)
    cross_v = outlet_radius * outlet_around
    # What forming left dies out with the corner, where the two surfaces run into each other.
    formed = _forming(xp, n, root_u) * xp.clip(1.0 - c * c, min=0.0)
    outer = outer - xp.where(upper, formed, 0.0 * formed)
    welded = n["piece.cross_weld.present"] > 0.5
    bead = n["piece.cross_weld.crown_mm"]
    if detail is not None:
        pitch = n["piece.cross_weld.ripple_pitch_mm"]
        wave = xp.cos(6.2832 * cross_v / pitch + n["piece.cross_weld.phase"])
        bead = bead + detail * n["piece.cross_weld.ripple_mm"] * wave
    # The pad's fillet is no higher than the pad.
    tube = xp.minimum(root_u - bead, edge_u - xp.minimum(bead, 0.9 * thick))
    # A weld's toes are not razor sharp: a smooth minimum of 2 mm, wider under a thick coat.
    toe = 2.0 + COAT_TOE * n["piece.cross_weld.rounded"] * xp.clip(bead, min=0.0)
    h = xp.clip(0.5 + 0.5 * (outer - tube) / toe, 0.0, 1.0)
    toed = outer + (tube - outer) * h - toe * h * (1.0 - h)
    outer = xp.where(welded & upper & (bead > 0.3), toed, outer)

    end_run, end_outlet = xp.abs(x) - half_run, z - height
    bore = xp.minimum(run + wall, xp.maximum(outlet + outlet_wall, -z))
    is_outlet = (outlet < footing) & upper
    distance = xp.maximum(xp.maximum(outer, -bore), xp.maximum(end_run, end_outlet))
    distance = xp.maximum(
        distance, _bevelled(xp, n, run, wall, xp.where(upper & is_outlet, -_FAR_MM, end_run))
    )
    cone = _bevelled(xp, n, outlet, outlet_wall, end_outlet)
    distance = xp.maximum(distance, xp.where(is_outlet, cone, -_FAR_MM))
    return Shape(
        distance_mm=distance,
        outside_mm=outer,
        part=xp.where(is_outlet, 1.0 * Part.OUTLET.label, 1.0 * Part.RUN.label),
        along=xp.where(is_outlet, z / height, (x + half_run) / (2.0 * half_run)),
        around=xp.where(is_outlet, outlet_around, run_around),
        along_u_mm=xp.where(is_outlet, outlet_u, run_u),
        along_v_mm=xp.where(is_outlet, z, x),
        cross_u_mm=cross_u,
        cross_v_mm=cross_v,
    )


def _reducer(xp: ModuleType, n: Numbers, p: Vec, detail: Array | None) -> Shape:
    x, y, z = p
    large, small, wall = n["piece.radius_mm"], n["piece.second_radius_mm"], n["piece.wall_mm"]
    length, first, last = n["piece.length_mm"], n["piece.stub_mm"], n["piece.second_stub_mm"]
    taper = length - first - last
    u = (x - first) / taper
    steps = n["piece.steps"]
    inside = xp.clip(u, 0.0, 1.0)
    # Formed: an S (bell) or a cone with rounded corners. Segmented: chords of the S.
    k = n["piece.corner"]
    bell = inside * inside * (3.0 - 2.0 * inside)
    low, high = xp.sqrt(u * u + k * k), xp.sqrt((u - 1.0) * (u - 1.0) + k * k)
    span = xp.sqrt(1.0 + k * k) - k
    ramp = xp.clip(0.5 + 0.5 * (low - high) / span, 0.0, 1.0)
    formed = ramp + (bell - ramp) * n["piece.bell"]
    m = xp.clip(steps, min=1.0)
    node = xp.clip(xp.floor(inside * m), min=0.0)
    node = xp.where(node > m - 1.0, m - 1.0, node)
    a, b = node / m, (node + 1.0) / m
    fa, fb = a * a * (3.0 - 2.0 * a), b * b * (3.0 - 2.0 * b)
    chords = fa + (inside * m - node) * (fb - fa)
    f = xp.where((steps > 0.5) & (n["piece.kinked"] > 0.5), chords, formed)
    radius = large + (small - large) * f
    centre = n["piece.eccentric"] * (radius - large)
    zc = z - centre
    around = xp.atan2(y, -zc)

    slope = (large - small) / taper * xp.where(steps > 0.5, 1.5, 1.6)
    lipschitz = 1.0 / xp.sqrt(1.0 + slope * slope * (1.0 + 3.0 * n["piece.eccentric"]))
    count = n["piece.long_count"]
    offset = around - n["piece.long_deg"] * (pi / 180.0)
    on_cone = (n["piece.long_on_stubs"] > 0.5) | ((u > 0.0) & (u < 1.0))
    along_u = xp.where(on_cone, radius * _wrap(xp, offset, 2.0 * pi / count), _FAR_MM)
    nearest = xp.clip(xp.floor(u * m + 0.5), min=0.0)
    nearest = xp.where(nearest > m, m, nearest)
    cross_u = xp.where(steps > 0.5, x - (first + nearest / m * taper), _FAR_MM)
    cross_v = radius * around + nearest * 41.0

    outside = xp.hypot(y, zc) - radius
    raised = outside - _relief(xp, n, "piece.along_weld", along_u, x, detail)
    raised = raised - _relief(xp, n, "piece.cross_weld", cross_u, cross_v, detail)
    end = xp.abs(x - 0.5 * length) - 0.5 * length
    raised = raised - _forming(xp, n, -end)
    distance = xp.maximum(xp.maximum(raised, -(outside + wall)) * lipschitz, end)
    distance = xp.maximum(distance, _bevelled(xp, n, outside, wall, end))
    camera = rotate_back(n.several("piece.rotation", 9), _camera_offset(n))
    datum = xp.where(n["piece.eccentric"] > 0.5, 0.0 * camera[1], xp.atan2(camera[1], -camera[2]))
    return Shape(
        distance_mm=distance,
        outside_mm=raised,
        part=0.0 * x + Part.BODY.label,
        along=x / length,
        around=_wrap(xp, around - datum, 2.0 * pi),
        along_u_mm=along_u,
        along_v_mm=x + 0.0,
        cross_u_mm=cross_u,
        cross_v_mm=cross_v,
    )


def _camera_offset(n: Numbers) -> Vec:
    camera, piece = n.several("camera.position_mm", 3), n.several("piece.position_mm", 3)
    return camera[0] - piece[0], camera[1] - piece[1], camera[2] - piece[2]


SHAPES = {Kind.ELBOW: _elbow, Kind.TEE: _tee, Kind.REDUCER: _reducer}


def to_piece(n: Numbers, p: Vec) -> Vec:
    """World points in the piece's frame."""
    t = n.several("piece.position_mm", 3)
    return rotate_back(n.several("piece.rotation", 9), (p[0] - t[0], p[1] - t[1], p[2] - t[2]))


def props_distance(xp: ModuleType, n: Numbers, p: Vec) -> tuple[Array, Array]:
    """Distance to the nearest prop, and its number, at world points: never more than the true one
    outside of it."""
    best: Array = 0.0 * p[0] + _FAR_MM
    which: Array = 0.0 * p[0]
    for i in range(MOST_PROPS):
        d = prop_distance(xp, n, f"props.{i}", p)
        nearer = d < best
        best = xp.where(nearer, d, best)
        which = xp.where(nearer, 1.0 * i, which)
    return best, which


def prop_distance(xp: ModuleType, n: Numbers, name: str, p: Vec) -> Array:
    """Distance to the prop of that name, at world points."""
    shape, local = n[f"{name}.shape"], to_prop(n, name, p)
    d = PROP_FORMS[-1][1](xp, n, name, local)
    for below, form in reversed(PROP_FORMS[:-1]):
        d = xp.where(shape < below, form(xp, n, name, local), d)
    return d


def prop_number(xp: ModuleType, n: Numbers, field: str, which: Array) -> Array:
    """That number of the prop numbered `which`, pixel by pixel."""
    value: Array = n[f"props.0.{field}"] + 0.0 * which
    for i in range(1, MOST_PROPS):
        value = xp.where(which > i - 0.5, n[f"props.{i}.{field}"], value)
    return value


class OneProp(Numbers):
    """The numbers of the prop that is nearest, pixel by pixel, under the name "prop"."""

    __slots__ = ("_known", "_n", "_which", "_xp")

    def __init__(self, xp: ModuleType, n: Numbers, which: Array) -> None:
        super().__init__(None)
        self._xp, self._n, self._which = xp, n, which
        self._known: dict[str, Array] = {}

    def __getitem__(self, name: str) -> Array:
        if name not in self._known:
            field = name.removeprefix("prop.")
            self._known[name] = prop_number(self._xp, self._n, field, self._which)
        return self._known[name]


def to_prop(n: Numbers, name: str, p: Vec) -> Vec:
    """World points in the frame of the prop of that name."""
    t = n.several(f"{name}.position_mm", 3)
    return rotate_back(n.several(f"{name}.rotation", 9), (p[0] - t[0], p[1] - t[1], p[2] - t[2]))


def _within(xp: ModuleType, n: Numbers, name: str) -> Array:
    """How deep the prop is hollow, from the outside; without a wall, not at all."""
    wall = n[f"{name}.wall_mm"]
    return xp.where(wall > 0.0, wall, _FAR_MM)


def _cylinder(xp: ModuleType, n: Numbers, name: str, p: Vec) -> Array:
    out = xp.hypot(p[1], p[2]) - n[f"{name}.half_height_mm"]
    end = xp.abs(p[0]) - n[f"{name}.half_length_mm"]
    return xp.maximum(xp.maximum(out, -out - _within(xp, n, name)), end)


def _box(xp: ModuleType, n: Numbers, name: str, p: Vec) -> Array:
    a, b = xp.abs(p[1]) - n[f"{name}.half_height_mm"], xp.abs(p[2]) - n[f"{name}.half_depth_mm"]
    return xp.maximum(xp.abs(p[0]) - n[f"{name}.half_length_mm"], xp.maximum(a, b))


def _round(xp: ModuleType, n: Numbers, name: str, p: Vec) -> Array:
    """Cap, ring and rod: an ellipse about the ring's circle, held between two planes so that a flat
    one is not taken to be nearer along the axis than it is."""
    length, depth = n[f"{name}.half_length_mm"], n[f"{name}.half_depth_mm"]
    is_cap = n[f"{name}.shape"] < 2.5
    dome = xp.clip(n[f"{name}.dome_mm"], min=1e-3)
    stretch = depth / dome
    ease = xp.minimum(1.0 / xp.clip(stretch, min=1e-6), 1.0 + 0.0 * stretch)
    axial = xp.where(is_cap, p[0], xp.abs(p[0])) - length
    out = xp.hypot(p[1], p[2]) - n[f"{name}.half_height_mm"]
    bulge = (xp.hypot(xp.clip(axial, min=0.0) * stretch, out) - depth) * ease
    solid = xp.maximum(bulge, axial - dome)
    shell = xp.maximum(solid, -bulge - _within(xp, n, name))
    return xp.maximum(shell, -p[0] - xp.where(is_cap, length, _FAR_MM))


def _flange(xp: ModuleType, n: Numbers, name: str, p: Vec) -> Array:
    x, y, z = p[0], xp.abs(p[1]), xp.abs(p[2])
    r = xp.hypot(y, z)
    out = r - n[f"{name}.half_height_mm"]
    disc = xp.maximum(xp.abs(x) - n[f"{name}.half_length_mm"], out)
    # A hub's cone falls by 0.3 a millimetre; 0.957 is the cosine of that slope.
    cone = (r + 0.3 * x - n[f"{name}.hub_radius_mm"]) * 0.957
    hub = xp.maximum(cone, xp.maximum(x - n[f"{name}.hub_mm"], -x))
    # Folded to an eighth of a turn, in which there is one hole.
    turn, circle = pi / n[f"{name}.holes"], n[f"{name}.hole_circle_mm"]
    hole = n[f"{name}.hole_mm"] - xp.hypot(
        xp.maximum(y, z) - circle * xp.cos(turn), xp.minimum(y, z) - circle * xp.sin(turn)
    )
    return xp.maximum(xp.minimum(disc, hub), xp.maximum(-out - _within(xp, n, name), hole))


def _cone(xp: ModuleType, n: Numbers, name: str, p: Vec) -> Array:
    half, low, high = (n[f"{name}.half_{s}_mm"] for s in ("length", "height", "depth"))
    slope = (high - low) / xp.clip(2.0 * half, min=1e-3)
    out = (xp.hypot(p[1], p[2]) - 0.5 * (low + high) - slope * p[0]) / xp.sqrt(1.0 + slope * slope)
    floor = n[f"{name}.dome_mm"]
    above = xp.where(floor > 0.0, p[0] + half - floor, _FAR_MM)
    hollow = xp.minimum(-out - _within(xp, n, name), above)
    return xp.maximum(xp.maximum(out, hollow), xp.abs(p[0]) - half)


PROP_FORMS = ((0.5, _cylinder), (1.5, _box), (3.5, _round), (4.5, _flange), (_FAR_MM, _cone))
"""Distance functions by the shape's number, each for those below its bound; the points are in the
prop's frame."""
