"""What things look like: the colour, shine and small relief of pieces, props and ground.

Each function returns a `Look`: linear colour, roughness and so on, arrays of the points' shape.
"""

from __future__ import annotations

from math import pi
from types import ModuleType
from typing import Any, NamedTuple

from synthetic.fields import (
    Array,
    Vec,
    cross,
    dot,
    hash3,
    mix,
    octaves,
    rotate_back,
    scaled,
    smoothstep,
    stones,
    value_noise,
    value_noise_gradient,
)
from synthetic.packing import Numbers
from synthetic.places import Place
from synthetic.shapes import prop_number


class Look(NamedTuple):
    """Linear colour, roughness 0 to 1, metallic 0 to 1, reflectance at normal incidence, and the
    vector that the normal is bent by."""

    rgb: Vec
    roughness: Array
    metallic: Array
    gloss: Array
    bend: Vec


def _blend(a: Vec, b: Any, t: Array) -> Vec:
    return mix(a[0], b[0], t), mix(a[1], b[1], t), mix(a[2], b[2], t)


def _add(a: Vec, b: Vec, t: Array) -> Vec:
    return a[0] + b[0] * t, a[1] + b[1] * t, a[2] + b[2] * t


def _band(xp: ModuleType, u: Array, half_width: Array) -> Array:
    return 1.0 - smoothstep(xp, 0.7 * half_width, 1.2 * half_width, xp.abs(u))


# Temper colours of stainless in air, linear RGB by eye, from the cool rim of the zone inwards; the
# order is that of published heat-tint tables (pale yellow 290 °C to dark blue 600 °C).
HEAT_TINT: tuple[tuple[str, tuple[float, float, float]], ...] = (
    ("light yellow", (0.60, 0.54, 0.36)),
    ("straw yellow", (0.56, 0.44, 0.20)),
    ("yellow", (0.50, 0.34, 0.10)),
    ("brown", (0.30, 0.16, 0.06)),
    ("purple-brown", (0.20, 0.09, 0.09)),
    ("dark purple", (0.12, 0.06, 0.15)),
    ("blue", (0.07, 0.13, 0.34)),
    ("dark blue", (0.05, 0.07, 0.17)),
)


def heat_tint(xp: ModuleType, t: Array) -> Vec:
    """The temper colour at `t`, 0 at the zone's rim, 1 at the bead."""
    rgb: Vec = tuple(c + 0.0 * t for c in HEAT_TINT[0][1])  # type: ignore[assignment]
    steps = len(HEAT_TINT) - 1
    for i, (_, colour) in enumerate(HEAT_TINT[1:]):
        rgb = _blend(rgb, colour, xp.clip(t * steps - 1.0 * i, 0.0, 1.0))
    return rgb


def _dots(xp: ModuleType, q: Vec, seed: Array, share: Array) -> tuple[Array, Vec]:
    """One ball in that share of the unit cells: 1 at its centre to 0 at its edge, and the vector
    from the centre. No ball reaches out of its cell, so that one cell is looked up."""
    cell = [xp.floor(c) for c in q]
    tag = hash3(xp, cell[0] + seed, cell[1], cell[2])
    shift = hash3(xp, cell[0], cell[1] + seed, cell[2] + 19.0)
    radius = 0.12 + 0.3 * shift * shift
    room = 1.0 - 2.0 * radius
    ways = (shift, tag / xp.clip(share, min=1e-3), 1.0 - shift)
    d: Vec = tuple(
        c - b - radius - room * xp.clip(w, 0.0, 1.0) for c, b, w in zip(q, cell, ways, strict=True)
    )  # type: ignore[assignment]
    inside = xp.clip(1.0 - dot(d, d) / (radius * radius), min=0.0)
    return xp.where(tag < share, inside, 0.0 * inside), d


def _stroke(xp: ModuleType, which: Array, number: float, upper: Array) -> Array:
    """Whether a sign has that stroke; each counts twice, for the upper half and the lower."""
    turn = which * (17.0 * number + 3.0) + xp.where(upper, 0.37, 0.0 * which)
    return turn - xp.floor(turn) > 0.35


def piece_look(
    xp: ModuleType,
    n: Numbers,
    p: Vec,
    place: Place,
    world: Vec,
    normal: Vec,
    outside: Array,
    seams: tuple[tuple[Array, Array], tuple[Array, Array]],
    footprint: Array,
) -> Look:
    """The skin of a piece at local points `p`, which lie at `place` on it.

    `world` and `normal` are the point and the normal in the world's frame, `outside` 1 on the
    outside surface and 0 on faces and bore, `seams` the lateral distance and position (mm) for the
    longitudinal and the cross weld, `footprint` a pixel's size on the surface in mm.
    """
    seed = n["noise_seed"]
    k = "piece.skin."
    patch = octaves(xp, scaled(p, 1.0 / n[k + "patch_mm"], seed), 3)
    grain = value_noise(xp, scaled(p, 1.0 / n[k + "grain_mm"], seed + 5.0))
    fine = xp.clip(1.5 - footprint / n[k + "grain_mm"] * 2.0, 0.0, 1.0)
    up = normal[2]
    turning = n.several("piece.rotation", 9)
    upright = rotate_back(turning, normal)
    # The two directions on the surface: along the centreline, and round it as `around` grows.
    across_axis = cross(place.axis, upright)
    contrast = n[k + "patch_contrast"]
    t = xp.clip(0.5 + (patch - 0.5) * (1.0 + 6.0 * contrast) * contrast, 0.0, 1.0)
    rgb = _blend(n.several(k + "rgb", 3), n.several(k + "second_rgb", 3), t)
    shade = 1.0 + (grain - 0.5) * n[k + "grain_contrast"] * fine
    rgb = (rgb[0] * shade, rgb[1] * shade, rgb[2] * shade)
    roughness = n[k + "roughness"] + 0.0 * patch
    metallic = n[k + "metallic"] + 0.0 * patch
    gloss = n[k + "gloss"] + 0.0 * patch

    rusty = octaves(xp, scaled(p, 1.0 / n[k + "rust_patch_mm"], seed + 31.0), 3)
    amount = n[k + "rust_amount"]
    rust = smoothstep(xp, 1.0 - amount - 0.18, 1.0 - amount + 0.12, rusty) * xp.clip(
        amount * 20.0, 0.0, 1.0
    )
    rust_tone = 0.55 + 0.9 * grain
    bend: Vec = (0.0 * patch, 0.0 * patch, 0.0 * patch)

    # Crystals: cells with crooked walls, each with a tone and a tilt of its own.
    spangle_mm = xp.minimum(n[k + "spangle_mm"] + 0.0 * place.radius_mm, 0.2 * place.radius_mm)
    crooked = scaled(p, 1.0 / spangle_mm, seed)
    crooked = (
        0.8 * crooked[0] + 0.6 * crooked[1] + 1.2 * patch,
        0.8 * crooked[1] - 0.6 * crooked[2] + 0.9 * grain,
        0.8 * crooked[2] + 0.6 * crooked[0] - 1.2 * patch,
    )
    crystal = hash3(xp, xp.floor(crooked[0]), xp.floor(crooked[1]), xp.floor(crooked[2]))
    spangle = n[k + "spangle"] * xp.clip(1.6 - footprint / spangle_mm * 2.0, 0.0, 1.0)
    shade = 1.0 + (crystal - 0.5) * spangle
    rgb = (rgb[0] * shade, rgb[1] * shade, rgb[2] * shade)
    roughness = roughness + 0.3 * (crystal - 0.5) * spangle
    bend = _add(bend, place.axis, 0.1 * (crystal - 0.5) * spangle)

    # Brushing and turning: noise drawn out along one direction, closed round the body.
    ring = place.radius_mm
    circle = (ring * xp.cos(place.around), ring * xp.sin(place.around))
    pitch = xp.minimum(n[k + "brush_mm"] + 0.0 * ring, 0.03 * ring)
    lengthwise = n[k + "brush_along"]
    s_scale = mix(1.0, 0.01, lengthwise) / pitch
    t_scale = mix(0.01, 1.0, lengthwise) / pitch
    lines = value_noise(
        xp, (place.axial_mm * s_scale + seed, circle[0] * t_scale, circle[1] * t_scale)
    )
    brush = n[k + "brush"] * xp.clip(1.8 - footprint / pitch, 0.0, 1.0) * outside
    shade = 1.0 + 0.7 * (lines - 0.5) * brush
    rgb = (rgb[0] * shade, rgb[1] * shade, rgb[2] * shade)
    roughness = roughness + 0.35 * (lines - 0.5) * brush
    bend = _add(bend, place.axis, 0.25 * (lines - 0.5) * brush * (1.0 - lengthwise))
    bend = _add(bend, across_axis, 0.25 * (lines - 0.5) * brush * lengthwise)

    # Scale that flakes off: the same noise as the rust's, cut sharply, with a rim that stands up.
    loose = 1.0 - rusty + 0.12 * (grain - 0.5) * fine
    flake_at = 0.78 - 0.38 * n[k + "flakes"]
    on_flake = xp.where(n[k + "flakes"] > 0.0, outside, 0.0 * outside)
    flake = smoothstep(xp, flake_at, flake_at + 0.012, loose) * on_flake
    rim = xp.clip(1.0 - xp.abs(loose - flake_at) * 50.0, min=0.0) * on_flake
    rgb = _blend(rgb, n.several(k + "flake_rgb", 3), 0.85 * flake)
    rgb = (rgb[0] * (1.0 - 0.5 * rim), rgb[1] * (1.0 - 0.5 * rim), rgb[2] * (1.0 - 0.5 * rim))
    roughness = mix(roughness, 0.65, flake)
    rust_rgb = n.several(k + "rust_rgb", 3)
    rgb = _blend(
        rgb, (rust_rgb[0] * rust_tone, rust_rgb[1] * rust_tone, rust_rgb[2] * rust_tone), rust
    )
    roughness = mix(roughness, 0.85, rust)
    metallic = metallic * (1.0 - rust)

    # The lattice of pits is turned and bent, so that no rows of them show.
    q = scaled(p, 0.45 / n[k + "pit_mm"], seed + 3.0)
    q = (
        0.74 * q[0] + 0.58 * q[1] + 0.34 * q[2] + 5.0 * patch,
        0.80 * q[1] - 0.59 * q[0] + 0.2 * q[2] + 3.0 * rusty,
        0.91 * q[2] - 0.3 * q[0] - 0.28 * q[1] - 5.0 * patch,
    )
    pit, from_pit = _dots(xp, q, seed, n[k + "pits"] * smoothstep(xp, 0.35, 0.65, rusty))
    pit = pit * outside * xp.clip(1.6 - footprint / n[k + "pit_mm"], 0.0, 1.0)
    rgb = _blend(rgb, (0.05, 0.03, 0.02), 0.75 * pit)
    roughness = mix(roughness, 0.9, pit)
    bend = _add(bend, from_pit, 2.0 * pit * n[k + "pits"])

    # A coat worn through, most at the ends; a lathe's bright band is cut later than any coat.
    near_end = xp.exp(-xp.clip(place.end_mm, min=0.0) / n[k + "worn_mm"])
    bare = n[k + "worn"] * (0.35 + near_end)
    worn = smoothstep(xp, 1.0 - bare, 1.06 - bare, 0.75 * rusty + 0.25 * grain + 0.12) * outside
    worn = xp.where(n[k + "worn"] > 0.0, worn, 0.0 * worn)
    rgb = _blend(rgb, n.several(k + "worn_rgb", 3), worn)
    roughness = mix(roughness, 0.45, worn)
    metallic = mix(metallic, 0.6, worn)
    groove = value_noise(xp, (place.end_mm * 1.2 + seed, circle[0] * 0.01, circle[1] * 0.01)) - 0.5
    groove = groove * xp.clip(1.8 - footprint / 0.8, 0.0, 1.0)
    turned_mm = xp.minimum(n[k + "turned_mm"] + 0.0 * ring, 0.3 * ring)
    turned = (1.0 - smoothstep(xp, -0.4, 0.4, place.end_mm - turned_mm)) * outside
    turned = turned * n[k + "turned"] * (1.0 - 0.6 * rust)
    shade = 1.0 + 0.5 * groove
    bright = n.several(k + "turned_rgb", 3)
    rgb = _blend(rgb, (bright[0] * shade, bright[1] * shade, bright[2] * shade), turned)
    roughness = mix(roughness, 0.3, turned)
    metallic = mix(metallic, 0.9, turned)
    bend = _add(bend, place.axis, 0.3 * groove * turned)

    # Drips and streaks, down the world's vertical: noise by the horizontal way along the surface,
    # from the two upright planes of the world, whichever the surface faces less.
    steep = normal[0] * normal[0] + normal[1] * normal[1]
    facing_x = normal[0] * normal[0] / xp.clip(steep, min=1e-3)
    narrow = 1.0 / xp.minimum(n[k + "runs_mm"] + 0.0 * ring, 0.3 * ring)
    level = world[2] * narrow * 0.08
    by_x = value_noise(xp, (world[0] * narrow + seed, level, 0.0 * patch + 5.0))
    by_y = value_noise(xp, (world[1] * narrow + seed, level, 0.0 * patch + 9.0))
    run = mix(by_x, by_y, facing_x) + 0.5 * (rusty - 0.5)
    least = 1.0 - 0.55 * n[k + "runs"]
    run = smoothstep(xp, least, least + 0.12, run) * smoothstep(xp, 0.1, 0.6, steep) * outside
    run = xp.where(n[k + "runs"] > 0.0, run, 0.0 * run)
    rgb = _blend(rgb, n.several(k + "runs_rgb", 3), 0.75 * run)
    roughness = mix(roughness, n[k + "runs_roughness"], run)
    metallic = metallic * (1.0 - 0.8 * run)

    wobble = value_noise(xp, scaled(p, 0.08, seed + 13.0)) - 0.5
    for i, name in enumerate(("piece.along_weld.", "piece.cross_weld.")):
        u, v = seams[i]
        on = n[name + "present"] * outside
        u = u + wobble * 0.35 * n[name + "half_width_mm"]
        half_width = n[name + "half_width_mm"]
        # Grinding scratches run along the seam, or in the arcs that a disc leaves across it.
        swirl = n[name + "swirl"]
        arc = v + 0.12 * u * u / half_width
        streak = value_noise(
            xp,
            (
                mix(u * 0.8, arc * 0.8, swirl) + seed,
                mix(v * 0.05, u * 0.05, swirl),
                0.0 * u + 3.0 + 7.0 * i,
            ),
        )
        zone_half = n[name + "zone_half_width_mm"]
        zone = n[name + "zone_mix"] * on * _band(xp, u, zone_half)
        # Hottest at the bead; the rim lies where the zone's cover ends, not quite evenly.
        heat = 1.0 - (xp.abs(u) - 0.8 * half_width) / xp.clip(zone_half - 0.8 * half_width, min=0.1)
        heat = xp.clip(heat + 0.3 * (streak - 0.5), 0.0, 1.0)
        zone_rgb = _blend(
            n.several(name + "zone_rgb", 3), heat_tint(xp, heat), n[name + "tint_order"]
        )
        rgb = _blend(rgb, zone_rgb, zone * (0.6 + 0.4 * streak))
        drop, _ = _dots(
            xp,
            (u * 0.4 / n[name + "spatter_mm"], v * 0.4 / n[name + "spatter_mm"], 0.0 * u + 0.5),
            seed + 2.0 * i,
            n[name + "spatter"] * (1.0 - smoothstep(xp, half_width, 6.0 * half_width, xp.abs(u))),
        )
        drop = drop * on * xp.clip(1.7 - footprint / n[name + "spatter_mm"], 0.0, 1.0)
        drop_tone = 0.04 + 0.3 * drop
        rgb = _blend(rgb, (drop_tone, drop_tone, drop_tone), xp.clip(3.0 * drop, 0.0, 0.9))
        band = n[name + "band_mix"] * on * _band(xp, u, n[name + "band_half_width_mm"])
        deep = (0.4 + 0.5 * swirl) * xp.clip(1.8 - 0.5 * footprint, 0.3, 1.0)
        tone = 1.0 + deep * (streak - 0.5)
        band_rgb = n.several(name + "band_rgb", 3)
        rgb = _blend(rgb, (band_rgb[0] * tone, band_rgb[1] * tone, band_rgb[2] * tone), band)
        roughness = roughness + n[name + "trace_roughness"] * on * _band(xp, u, half_width)
        roughness = mix(roughness, n[name + "band_roughness"], band)
        metallic = mix(metallic, 0.8, band * 0.7)
        bead = n[name + "bead_mix"] * on * _band(xp, u, n[name + "half_width_mm"])
        bead_tone = 0.85 + 0.3 * grain
        bead_rgb = n.several(name + "bead_rgb", 3)
        rgb = _blend(
            rgb, (bead_rgb[0] * bead_tone, bead_rgb[1] * bead_tone, bead_rgb[2] * bead_tone), bead
        )
        roughness = mix(roughness, n[name + "bead_roughness"], bead)
        metallic = mix(metallic, 0.6, bead * 0.6)

    for i in range(3):
        name = f"piece.marks.{i}."
        follow = n[name + "follow"]
        straight = n.several(name + "normal", 3)
        turn = place.around - n[name + "turn_deg"] * (pi / 180.0)
        turn = turn - 2.0 * pi * xp.floor(turn / (2.0 * pi) + 0.5)
        # Millimetres from the mark's own place: lengthwise, round, from it, and from an end.
        s_mm, t_mm = place.axial_mm - n[name + "at"] * place.length_mm, place.radius_mm * turn
        spot = xp.sqrt(s_mm * s_mm + t_mm * t_mm + 1e-6)
        plane = dot(straight, p) - n[name + "offset_mm"]
        across = xp.where(follow > 0.5, t_mm, plane)
        across = xp.where(follow > 1.5, s_mm, across)
        across = xp.where(follow > 2.5, place.end_mm - n[name + "offset_mm"], across)
        across = xp.where(follow > 3.5, spot, across)
        skew = (p[0] + 2.0 * p[1] - 1.5 * p[2]) * 0.5
        onward = xp.where(follow > 0.5, s_mm, skew)
        onward = xp.where(follow > 1.5, t_mm, onward)
        reaches = (follow < 0.5) | (follow > 2.5) | (xp.abs(onward) < n[name + "reach_mm"])
        length = n[name + "wobble_length_mm"]
        crooked_by = value_noise(xp, scaled(p, 1.0 / length, seed + 17.0 * (i + 1))) - 0.5
        crooked_by = crooked_by + 0.3 * (patch - 0.5) + 0.06 * (grain - 0.5)
        across = across + n[name + "wobble_mm"] * crooked_by
        row = xp.floor(across / n[name + "pitch_mm"] + 0.5)
        row = xp.maximum(xp.minimum(row, n[name + "repeats"] + 0.0 * row), -n[name + "repeats"])
        across = across - row * n[name + "pitch_mm"]
        own = hash3(xp, row, 3.0 + 0.0 * row, seed + i)
        varied = xp.clip(n[name + "repeats"] * n[name + "patchiness"] * 4.0, 0.0, 1.0)
        strength = mix(1.0, 0.3 + 0.7 * own, varied)
        here = reaches & (dot(n.several(name + "gate", 3), p) > n[name + "gate_offset_mm"])
        here = here & (n[name + "half_width_mm"] > 0.0)
        # A line thinner than a pixel is spread over it, paler by as much.
        drawn = xp.clip(n[name + "half_width_mm"], min=1e-3)
        width = xp.maximum(drawn + 0.0 * footprint, 0.6 * footprint)
        strength = strength * drawn / width
        edge = xp.maximum(xp.clip(0.6 * footprint / width, 0.004, 1.0), n[name + "soft"])
        x = across / width
        cover = 1.0 - smoothstep(xp, 1.0 - edge, 1.0 + edge, xp.abs(x))
        # Signs of up to seven strokes, as on a counter's display: one number decides which.
        advance = 1.3 * drawn
        sign = xp.floor(onward / advance)
        pen, level = onward / advance - sign, across / drawn
        which = hash3(xp, sign, 5.0 + row, seed + 1.0 * i)
        upper = level > 0.0
        left, right = pen < 0.17, (pen > 0.57) & (pen < 0.74)
        tall = (left & _stroke(xp, which, 1.0, upper)) | (right & _stroke(xp, which, 3.0, upper))
        bar = (xp.abs(level) < 0.14) & _stroke(xp, which, 5.0, upper)
        bar = bar | ((xp.abs(level) > 0.74) & _stroke(xp, which, 6.0, upper))
        written = tall | (bar & (pen < 0.74))
        ink = xp.where(written & (which > 0.12), 1.0, 0.0 * which)
        cell = 0.25 * drawn
        seen = xp.clip(1.7 - footprint / cell, 0.0, 1.0)
        cover = cover * xp.where(n[name + "dashes"] > 0.5, mix(0.4, ink, seen), 1.0 + 0.0 * ink)
        cover = cover * xp.clip(
            1.0 - n[name + "patchiness"] * 2.0 * patch * (0.4 + grain), 0.0, 1.0
        )
        on = xp.where(here, outside, 0.0 * outside)
        cover = cover * n[name + "opacity"] * strength * on
        beside = 1.0 - smoothstep(xp, 1.0, 1.7, xp.abs(x))
        dark = 1.0 - n[name + "rim"] * beside * on
        rgb = (rgb[0] * dark, rgb[1] * dark, rgb[2] * dark)
        rgb = _blend(rgb, n.several(name + "rgb", 3), cover)
        roughness = mix(roughness, n[name + "roughness"], cover)
        metallic = mix(metallic, n[name + "metallic"], cover)
        # What is raised is flat with steep edges, as a strap is; what is sunk is a smooth hollow.
        raised = n[name + "raised"]
        square = x * x
        steep_edge = square * square * square * x
        hollow = 2.6 * x * xp.clip(1.0 - square, min=0.0)
        steep_edge = xp.where(square < 1.0, steep_edge, 0.0 * x)
        slope = -xp.where(raised > 0.0, steep_edge, hollow) * raised * strength * on * drawn / width
        flat = xp.where(follow < 0.5, slope, 0.0 * slope)
        lengthwise = xp.where((follow > 1.5) & (follow < 3.5), slope, 0.0 * slope)
        lengthwise = xp.where(follow > 3.5, slope * s_mm / spot, lengthwise)
        sideways = xp.where((follow > 0.5) & (follow < 1.5), slope, 0.0 * slope)
        sideways = xp.where(follow > 3.5, slope * t_mm / spot, sideways)
        bend = _add(_add(_add(bend, straight, flat), place.axis, lengthwise), across_axis, sideways)

    bore = n.several(k + "bore_rgb", 3)
    bore_tone = 0.7 + 0.6 * patch
    inner = 1.0 - outside
    rgb = _blend(rgb, (bore[0] * bore_tone, bore[1] * bore_tone, bore[2] * bore_tone), inner * 0.9)
    roughness = mix(roughness, 0.6, inner)
    dusty = n[k + "dust"] * smoothstep(xp, 0.2, 1.0, up) * (0.5 + 0.8 * (patch - 0.3))
    rgb = _blend(rgb, (0.35, 0.31, 0.25), xp.clip(dusty, 0.0, 0.9))
    roughness = mix(roughness, 0.9, xp.clip(dusty, 0.0, 0.9))

    _, bump = value_noise_gradient(xp, scaled(p, 1.0 / n[k + "bump_mm"], seed + 41.0))
    _, wave = value_noise_gradient(xp, scaled(p, 1.0 / n[k + "wave_mm"], seed + 47.0))
    small = (
        n[k + "bump"]
        * (1.0 + 1.5 * rust)
        * xp.clip(1.5 - footprint / n[k + "bump_mm"] * 2.0, 0.0, 1.0)
    )
    large = n[k + "wave"]
    bend = _add(_add(bend, bump, small), wave, large)
    roughness = xp.clip(roughness, 0.03, 1.0)
    return Look(rgb=rgb, roughness=roughness, metallic=metallic, gloss=gloss, bend=bend)


def props_look(xp: ModuleType, n: Numbers, p: Vec, which: Array) -> Look:
    """The props' colours at world points; `which` is the prop's number."""

    def chosen(field: str) -> Array:
        return prop_number(xp, n, field, which)

    seed = n["noise_seed"]
    axis = [chosen(f"rotation.{j}") for j in (0, 3, 6)]
    centre = [chosen(f"position_mm.{j}") for j in range(3)]
    s = sum(a * (c - o) for a, c, o in zip(axis, p, centre, strict=True))
    stripe = xp.sin(s / chosen("stripe_mm") * 2.0 * pi + seed) > 0.93
    tone = 0.65 + 0.7 * octaves(xp, scaled(p, 0.02, seed + 61.0), 2)
    tone = tone * (1.0 - chosen("stripe") * xp.where(stripe, 1.0, 0.0))
    rgb = (chosen("rgb.0") * tone, chosen("rgb.1") * tone, chosen("rgb.2") * tone)
    zero = 0.0 * tone
    return Look(
        rgb=rgb,
        roughness=chosen("roughness"),
        metallic=chosen("metallic"),
        gloss=zero + 0.04,
        bend=(zero, zero, zero),
    )


def ground_look(xp: ModuleType, n: Numbers, p: Vec, footprint: Array) -> Look:
    """The ground's colour at world points with z near 0."""
    seed = n["noise_seed"]
    turn = n["ground.turn_deg"] * (pi / 180.0)
    x = p[0] * xp.cos(turn) + p[1] * xp.sin(turn)
    y = p[1] * xp.cos(turn) - p[0] * xp.sin(turn)
    flat = (x, y, 0.0 * x)
    patch = octaves(xp, scaled(flat, 1.0 / n["ground.patch_mm"], seed + 71.0), 3)
    near = xp.clip(1.6 - footprint * 0.12, 0.0, 1.0)
    fine = octaves(xp, scaled(flat, 0.15, seed + 73.0), 2)
    contrast = n["ground.contrast"]
    t = xp.clip(
        0.5 + (patch - 0.5) * 4.0 * contrast + (fine - 0.5) * 2.0 * contrast * near, 0.0, 1.0
    )
    rgb = _blend(n.several("ground.rgb", 3), n.several("ground.second_rgb", 3), t)
    size = n["ground.stone_mm"]
    distance, own = stones(xp, x / size, y / size, seed)
    pebble = (0.35 + 1.1 * own) * (1.15 - 0.9 * distance)
    far = xp.clip(2.0 - footprint / size * 3.0, 0.0, 1.0)
    tone = mix(1.0, pebble, n["ground.stones"] * far)
    plank = n["ground.plank_mm"]
    row = xp.floor(y / plank)
    across = y / plank - row
    open_share, gap_tone = n["ground.gap"], n["ground.gap_tone"]
    gap = xp.where(across < open_share, gap_tone, 1.0)
    # From afar a gap is thinner than a pixel; what is left of all gaps is their mean.
    afar = xp.clip(5.0 * footprint / plank - 0.5, 0.0, 1.0)
    gap = mix(gap, 1.0 + (gap_tone - 1.0) * open_share, afar)
    board = (0.7 + 0.6 * hash3(xp, row, 0.0 * row, seed)) * (
        0.8 + 0.4 * octaves(xp, (x * 0.004, y * 0.09, 0.0 * x + seed), 2)
    )
    tone = tone * mix(1.0, board * gap, n["ground.planks"])
    # Cracks run where a slow noise passes its middle, as thin as a hundredth of its length.
    crack = scaled(flat, 1.0 / n["ground.crack_mm"], seed + 79.0)
    away = xp.abs(octaves(xp, crack, 2) - 0.5) * n["ground.crack_mm"]
    width = 0.012 * n["ground.crack_mm"] + 0.4 * footprint
    open_ = _band(xp, away, width) * smoothstep(xp, 0.42, 0.55, patch)
    tone = tone * (1.0 - 0.7 * n["ground.cracks"] * open_)
    slab = n["ground.joint_mm"]
    joint = xp.minimum(_from_line(xp, x / slab), _from_line(xp, y / slab)) * slab
    tone = tone * (1.0 - 0.75 * n["ground.joints"] * _band(xp, joint, 5.0 + 0.4 * footprint))
    # Gratings: bars in one direction, cross rods at three times their pitch, dark between; from
    # afar what is left is their mean.
    mesh = n["ground.grate_mm"]
    bar = xp.minimum(_from_line(xp, x / mesh), 3.0 * _from_line(xp, y / mesh / 3.0))
    bar = mix(_band(xp, bar, 0.14 + 0.0 * bar), 0.35, xp.clip(footprint / mesh * 3.0, 0.0, 1.0))
    tone = tone * mix(1.0, 0.12 + 0.88 * bar, n["ground.grate"])
    rib = n["ground.ribs_mm"]
    wave = xp.sin(y / rib * (2.0 * pi)) * xp.clip(1.5 - 3.0 * footprint / rib, 0.0, 1.0)
    tone = tone * (1.0 + 0.22 * n["ground.ribs"] * wave)
    lean = 6.0 * patch + 1.5 * fine
    blade = value_noise(xp, (x * 0.25 + lean, y * 0.05 - x * 0.02, 0.0 * x + seed))
    other = value_noise(xp, (y * 0.23 - lean, x * 0.05 + y * 0.02, 0.0 * x + seed + 9.0))
    grass = 2.2 * xp.maximum(blade, other) * xp.maximum(blade, other)
    sharp = xp.clip(1.4 - 0.25 * footprint, 0.0, 1.0)
    tone = tone * mix(1.0, mix(1.0, grass, sharp), n["ground.blades"])
    _, slope = value_noise_gradient(xp, scaled(flat, 1.0 / n["ground.fold_mm"], seed + 83.0))
    folds = n["ground.folds"] * xp.clip(2.0 - 4.0 * footprint / n["ground.fold_mm"], 0.0, 1.0)
    wet = n["ground.wet"]
    wet = xp.clip(wet * 4.0, 0.0, 1.0) * smoothstep(xp, 0.75 - 0.7 * wet, 0.85 - 0.7 * wet, patch)
    tone = tone * (1.0 - 0.45 * wet)
    tone = mix(tone, 1.0, n["ground.studio"])
    zero = 0.0 * tone
    return Look(
        rgb=(rgb[0] * tone, rgb[1] * tone, rgb[2] * tone),
        roughness=mix(zero + 0.6, 0.08, smoothstep(xp, 0.7, 1.0, wet)),
        metallic=zero,
        gloss=n["ground.gloss"] + 0.03 * wet,
        bend=(folds * slope[0], folds * slope[1], zero),
    )


def _from_line(xp: ModuleType, x: Array) -> Array:
    """Distance to the nearest whole number."""
    return xp.abs(x - xp.floor(x + 0.5))
