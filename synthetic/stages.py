"""The stages of rendering, each a pure function of packed numbers and arrays of pixels.

They are written so that the same code runs on numpy for one picture and, compiled, on torch for a
batch: no data-dependent control flow, fixed step counts. `kind` is the family of the item's piece
(None: no piece) and the only thing that decides which distance function is used.
"""

from __future__ import annotations

from types import ModuleType
from typing import NamedTuple

from fittings.words import Kind, Orientation, Part
from synthetic.camera import rays
from synthetic.fields import Array, Vec, dot, mix, move, normalise, rotate, smoothstep
from synthetic.lighting import bars_shadow, environment, lit, mirrored
from synthetic.packing import Numbers
from synthetic.places import Place, place_on, place_on_prop
from synthetic.shapes import (
    SHAPES,
    OneProp,
    prop_distance,
    prop_number,
    props_distance,
    to_piece,
)
from synthetic.surfaces import Look, ground_look, piece_look, props_look

MARCH_STEPS = 64
ARRIVED = 0.05  # share of a pixel within which a ray needs no further step
SHADOW_STEPS = 20
SHADOW_REACH = 12.0  # radii of the piece beyond which nothing casts a shadow on it
FAR_MM = 1.0e6
_TETRAHEDRON = ((1.0, -1.0, -1.0), (-1.0, -1.0, 1.0), (-1.0, 1.0, -1.0), (1.0, 1.0, 1.0))


class Geometry(NamedTuple):
    """What an item's rays met, (B, N) arrays, welds included: where on the piece, and how the
    surface stands. `local` is in the piece's frame, `normal` in the world's. `piece` and `solid`
    are truth values; `which` numbers the prop; `outside` is 1 on a piece's outside, 0 on face or
    bore."""

    point: Vec
    local: Vec
    normal: Vec
    open_share: Array
    depth_mm: Array
    solid: Array
    piece: Array
    which: Array
    outside: Array
    part: Array
    along: Array
    around: Array
    along_u_mm: Array
    along_v_mm: Array
    cross_u_mm: Array
    cross_v_mm: Array
    seam: Array
    slot: Array
    place: Place


def ground_depth(xp: ModuleType, origin: Vec, direction: Vec) -> Array:
    """Distance along the ray to the ground plane z = 0, FAR_MM where it never meets it."""
    down = direction[2] < -1e-4
    depth = -origin[2] / xp.where(down, direction[2], -1.0)
    return xp.where(down & (depth > 0.0) & (depth < FAR_MM), depth, FAR_MM)


class Beam(NamedTuple):
    """Rays at their start: `limit_mm` is where they end at the latest, `pixel` a pixel's size at
    1 mm distance in mm."""

    origin: Vec
    direction: Vec
    start_mm: Array
    limit_mm: Array
    pixel: Array


def beam(xp: ModuleType, n: Numbers, across: Array, down: Array, long_side_px: Array) -> Beam:
    """Rays through image points, given as in `synthetic.camera.rays`."""
    direction = rays(xp, n, across, down)
    origin = n.several("camera.position_mm", 3)
    # To well beyond the piece, which a long lens may show from farther off than what is about it.
    away = [c - p for c, p in zip(origin, n.several("piece.position_mm", 3), strict=True)]
    away_mm = xp.sqrt(away[0] * away[0] + away[1] * away[1] + away[2] * away[2])
    radius = n["piece.radius_mm"]
    reach = xp.maximum(60.0 * radius + origin[2] * 4.0, away_mm + SHADOW_REACH * radius)
    return Beam(
        origin=origin,
        direction=direction,
        start_mm=0.0 * direction[0] + 0.05 * n["piece.radius_mm"],
        limit_mm=xp.minimum(ground_depth(xp, origin, direction), reach),
        pixel=1.0 / (n["camera.focal"] * long_side_px),
    )


class Landing(NamedTuple):
    """Where the march ended and from where the sun is looked for, `near_mm` along the way to it;
    `footprint_mm` is a pixel's size there."""

    point: Vec
    near_mm: Array
    footprint_mm: Array


def landing(xp: ModuleType, n: Numbers, sent: Beam, depth: Array, distance: Array) -> Landing:
    """Given the march's last depth and distance; rays that hit nothing land on the ground."""
    hit = (distance < depth * sent.pixel) & (depth < sent.limit_mm)
    end = xp.where(hit, depth, ground_depth(xp, sent.origin, sent.direction))
    footprint = xp.clip(end * sent.pixel, 1e-4, 200.0)
    return Landing(
        point=move(sent.origin, sent.direction, xp.clip(end - 1.5 * footprint, min=0.0)),
        near_mm=0.0 * end + 0.02 * n["piece.radius_mm"],
        footprint_mm=footprint,
    )


def scene_distance(xp: ModuleType, kind: Kind | None, n: Numbers, p: Vec) -> Array:
    """Distance to the nearest solid thing but the ground, at world points, ripples left out."""
    props, _ = props_distance(xp, n, p)
    return props if kind is None else xp.minimum(props, piece_distance(xp, kind, n, p))


def piece_distance(xp: ModuleType, kind: Kind | None, n: Numbers, p: Vec) -> Array:
    """`scene_distance` without the props."""
    if kind is None:
        return 0.0 * p[0] + FAR_MM
    return SHAPES[kind](xp, n, to_piece(n, p), None).distance_mm


def march(
    xp: ModuleType, kind: Kind | None, n: Numbers, sent: Beam, depth: Array
) -> tuple[Array, Array]:
    """One step of sphere tracing from `depth`: the new depth, and the distance it was taken by."""
    p = move(sent.origin, sent.direction, depth)
    distance = scene_distance(xp, kind, n, p)
    return farther(xp, sent.limit_mm, depth, distance), distance


def farther(xp: ModuleType, limit: Array, depth: Array, distance: Array) -> Array:
    """The depth after a step of the march that found `distance` free."""
    return xp.minimum(depth + 0.9 * distance, limit)


def sunlight(
    xp: ModuleType, kind: Kind | None, n: Numbers, p: Vec, near: Array, light: Array
) -> tuple[Array, Array]:
    """One step towards the sun from `p`, now `near` mm away; `light` is the share let through so
    far: the least ratio of clearance to distance, which gives soft shadows."""
    distance = scene_distance(xp, kind, n, move(p, n.several("light.sun", 3), near))
    return shadowed(xp, n, distance, near, light)


def shadowed(
    xp: ModuleType, n: Numbers, distance: Array, near: Array, light: Array
) -> tuple[Array, Array]:
    """`sunlight` after its step found `distance` free."""
    sharpness = 1.0 / (0.02 + n["light.sun_softness"])
    passed = xp.clip(xp.minimum(light, sharpness * distance / near), min=0.0)
    # Beyond its reach nothing casts a shadow, though the distance no longer keeps up with `near`.
    light = xp.where(near < SHADOW_REACH * n["piece.radius_mm"], passed, light)
    least = 0.015 * n["piece.radius_mm"]
    return near + xp.clip(distance, min=0.0) * 0.9 + least, light


def surface_normal(
    xp: ModuleType, kind: Kind | None, n: Numbers, prop: OneProp, p: Vec, footprint: Array
) -> Vec:
    """World normal, ripples included, of the piece or the one prop at `p`, whichever is nearer:
    four-point differences."""
    step = 0.35 * footprint
    total = [0.0 * p[0], 0.0 * p[0], 0.0 * p[0]]
    pitch = n["piece.along_weld.ripple_pitch_mm"]
    detail = xp.clip(1.6 - 2.2 * footprint / pitch, 0.0, 1.0)
    for corner in _TETRAHEDRON:
        q = (p[0] + corner[0] * step, p[1] + corner[1] * step, p[2] + corner[2] * step)
        distance = prop_distance(xp, prop, "prop", q)
        if kind is not None:
            own = SHAPES[kind](xp, n, to_piece(n, q), detail).distance_mm
            distance = xp.minimum(distance, own)
        for i in range(3):
            total[i] = total[i] + corner[i] * distance
    return normalise(xp, (total[0], total[1], total[2]))


def openness(
    xp: ModuleType, kind: Kind | None, n: Numbers, prop: OneProp, p: Vec, normal: Vec
) -> Array:
    """1 in the open, less in crotches, bores, near the one prop and near the ground: three probes
    along the normal."""
    closed: Array = 0.0 * p[0]
    for share, weight in ((0.06, 0.25), (0.22, 0.3), (0.6, 0.35)):
        reach = share * n["piece.radius_mm"]
        q = move(p, normal, reach)
        solid = xp.minimum(prop_distance(xp, prop, "prop", q), piece_distance(xp, kind, n, q))
        clearance = xp.minimum(solid, q[2])
        closed = closed + weight * xp.clip((reach - clearance) / reach, 0.0, 1.0)
    return 1.0 - closed


def geometry(
    xp: ModuleType,
    kind: Kind | None,
    n: Numbers,
    sent: Beam,
    depth: Array,
    distance: Array,
    footprint: Array,
) -> Geometry:
    """Where rays ended, given the march's last depth and distance; `footprint` is a pixel in mm."""
    origin, direction = sent.origin, sent.direction
    ground = ground_depth(xp, origin, direction)
    # By the pixel where the march ended: `footprint` is that of the ground behind a near miss.
    solid = (distance < depth * sent.pixel) & (depth < ground)
    depth = xp.where(solid, depth, ground)
    p = move(origin, direction, depth)
    # Of the props only the nearest matters from here on.
    to_prop_mm, which = props_distance(xp, n, p)
    prop = OneProp(xp, n, which)
    reach = xp.minimum(footprint, 0.1 * n["piece.radius_mm"])
    normal = surface_normal(xp, kind, n, prop, p, reach)
    zero = 0.0 * depth
    normal = (
        xp.where(solid, normal[0], zero),
        xp.where(solid, normal[1], zero),
        xp.where(solid, normal[2], zero + 1.0),
    )
    open_share = openness(xp, kind, n, prop, p, normal)
    if kind is None:
        local_of_prop, place, outside = place_on_prop(xp, n, which, p, normal)
        # Nothing of a piece anywhere. No two fields are the same array, so that a compiled `shade`
        # sees the same kind of input as for a piece.
        return Geometry(
            point=p, local=local_of_prop, normal=normal,
            open_share=open_share, depth_mm=depth, solid=solid, piece=solid & (depth < 0.0),
            which=which, outside=outside, part=0.0 * p[1], along=0.0 * p[2],
            around=0.0 * footprint, along_u_mm=p[0] + FAR_MM, along_v_mm=p[0] + 1.0,
            cross_u_mm=p[1] + FAR_MM, cross_v_mm=p[1] + 1.0, seam=0.0 * distance,
            slot=0.0 * open_share, place=place,
        )  # fmt: skip
    local = to_piece(n, p)
    shape = SHAPES[kind](xp, n, local, None)
    piece = solid & (shape.distance_mm <= to_prop_mm)
    is_face = shape.outside_mm < -0.15 * n["piece.wall_mm"] - 0.3 * footprint
    part = xp.where(is_face, 1.0 * Part.FACE.label, shape.part)
    on = piece & ~is_face
    along_weld = on & _covered(xp, n, "piece.along_weld.", shape.along_u_mm, footprint)
    cross_weld = on & _covered(xp, n, "piece.cross_weld.", shape.cross_u_mm, footprint)
    cross = Orientation.BRANCH if kind is Kind.TEE else Orientation.CIRCUMFERENTIAL
    seam = xp.where(along_weld, 1.0 * Orientation.LONGITUDINAL.label, zero)
    return Geometry(
        point=p,
        local=local,
        normal=normal,
        open_share=open_share,
        depth_mm=depth,
        solid=solid,
        piece=piece,
        which=which,
        outside=xp.where(piece & is_face, zero, zero + 1.0),
        part=xp.where(piece, part, zero),
        along=shape.along,
        around=shape.around,
        along_u_mm=shape.along_u_mm,
        along_v_mm=shape.along_v_mm,
        cross_u_mm=shape.cross_u_mm,
        cross_v_mm=shape.cross_v_mm,
        seam=xp.where(cross_weld, 1.0 * cross.label, seam),
        slot=xp.where(cross_weld, 2.0, xp.where(along_weld, 1.0, zero)),
        place=place_on(xp, kind, n, local, shape.part, shape.along, shape.around),
    )


def _covered(xp: ModuleType, n: Numbers, weld: str, u: Array, footprint: Array) -> Array:
    """Whether a weld lies here; one narrower than a pixel still marks the pixel it runs through."""
    half_width = xp.maximum(n[weld + "half_width_mm"] + 0.0 * footprint, 0.7 * footprint)
    return (n[weld + "present"] > 0.5) & (xp.abs(u) < half_width)


def shade(
    xp: ModuleType, n: Numbers, g: Geometry, direction: Vec, light: Array, footprint: Array
) -> Vec:
    """Linear radiance (three arrays) towards the camera. The same for every kind of piece."""
    normal, solid = g.normal, g.solid
    look = ground_look(xp, n, g.point, footprint)
    look = _choose(xp, solid, props_look(xp, n, g.point, g.which), look)
    # Pipe painted together with the piece wears its skin, outside all over and without its welds.
    alike = solid & ~g.piece & (prop_number(xp, n, "own_skin", g.which) < 0.5)
    seams = (
        (xp.where(alike, FAR_MM, g.along_u_mm), g.along_v_mm),
        (xp.where(alike, FAR_MM, g.cross_u_mm), g.cross_v_mm),
    )
    own = piece_look(xp, n, g.local, g.place, g.point, normal, g.outside, seams, footprint)
    own = own._replace(bend=rotate(n.several("piece.rotation", 9), own.bend))
    look = _choose(xp, g.piece | alike, own, look)
    along_normal = dot(look.bend, normal)
    bent = normalise(
        xp,
        (
            normal[0] * (1.0 + along_normal) - look.bend[0],
            normal[1] * (1.0 + along_normal) - look.bend[1],
            normal[2] * (1.0 + along_normal) - look.bend[2],
        ),
    )
    open_share = g.open_share * _daylight(xp, n, g)
    eye = (-direction[0], -direction[1], -direction[2])
    shadow = light * bars_shadow(xp, n, g.point)
    far = g.depth_mm >= 0.9 * FAR_MM
    # The environment is worked out once: straight ahead for the sky, else as it is mirrored.
    mirror = mirrored(eye, bent)
    ahead = (
        xp.where(far, direction[0], mirror[0]),
        xp.where(far, direction[1], mirror[1]),
        xp.where(far, direction[2], mirror[2]),
    )
    sky = environment(xp, n, ahead, xp.where(far, 0.02, look.roughness), skyline=True)
    rgb = lit(xp, n, look, bent, eye, shadow, open_share, g.depth_mm, sky)
    studio = n["ground.studio"]
    backdrop = n.several("ground.rgb", 3)
    out = []
    for i in range(3):
        # A studio's backdrop is evenly lit: only part of the shadow is left on it.
        even = backdrop[i] * (1.0 - n["ground.contact"] * (1.0 - shadow * g.open_share))
        seen = xp.where(solid, rgb[i], mix(rgb[i], even, studio))
        out.append(xp.where(far, mix(sky[i], backdrop[i], studio), seen))
    return out[0], out[1], out[2]


def _daylight(xp: ModuleType, n: Numbers, g: Geometry) -> Array:
    """The share of the light from all about that comes as deep as this into a piece's bore, 1 on
    everything else.

    The view factor from the inside of a cylinder of radius r to its open end, x away, is
    (X² + 1/2) / sqrt(X² + 1) - X with X = x / 2r (Howell's catalogue of radiation view factors,
    from memory; 1/2 at the end itself), here for the ends at both sides.
    """
    place, axis = g.place, rotate(n.several("piece.rotation", 9), g.place.axis)
    # An end's face and bevel look along the axis, the bore's wall across it.
    wall = 1.0 - smoothstep(xp, 0.35, 0.7, xp.abs(dot(g.normal, axis)))
    inside = xp.where(g.piece, (1.0 - g.outside) * wall, 0.0 * wall)
    total: Array = 0.04  # light that came off the walls
    for away in (place.end_mm, place.length_mm - place.end_mm):
        x = 0.5 * xp.clip(away, min=0.0) / place.radius_mm
        square = x * x
        total = total + (square + 0.5) / xp.sqrt(square + 1.0) - x
    return 1.0 - inside * (1.0 - xp.clip(total, 0.0, 1.0))


def _choose(xp: ModuleType, first: Array, a: Look, b: Look) -> Look:
    return Look(
        rgb=(
            xp.where(first, a.rgb[0], b.rgb[0]),
            xp.where(first, a.rgb[1], b.rgb[1]),
            xp.where(first, a.rgb[2], b.rgb[2]),
        ),
        roughness=xp.where(first, a.roughness, b.roughness),
        metallic=xp.where(first, a.metallic, b.metallic),
        gloss=xp.where(first, a.gloss, b.gloss),
        bend=(
            xp.where(first, a.bend[0], b.bend[0]),
            xp.where(first, a.bend[1], b.bend[1]),
            xp.where(first, a.bend[2], b.bend[2]),
        ),
    )
