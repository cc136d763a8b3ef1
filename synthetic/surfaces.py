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
    dot,
    hash3,
    mix,
    octaves,
    scaled,
    smoothstep,
    stones,
    value_noise,
    value_noise_gradient,
)
from synthetic.packing import Numbers
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


def _band(xp: ModuleType, u: Array, half_width: Array) -> Array:
    return 1.0 - smoothstep(xp, 0.7 * half_width, 1.2 * half_width, xp.abs(u))


def piece_look(
    xp: ModuleType,
    n: Numbers,
    p: Vec,
    up: Array,
    outside: Array,
    seams: tuple[tuple[Array, Array], tuple[Array, Array]],
    footprint: Array,
) -> Look:
    """The skin of a piece at local points `p`.

    `up` is the world normal's z, `outside` 1 on the outside surface and 0 on faces and bore,
    `seams` the lateral distance and position (mm) for the longitudinal and the cross weld,
    `footprint` a pixel's size on the surface in mm.
    """
    seed = n["noise_seed"]
    k = "piece.skin."
    patch = octaves(xp, scaled(p, 1.0 / n[k + "patch_mm"], seed), 3)
    grain = value_noise(xp, scaled(p, 1.0 / n[k + "grain_mm"], seed + 5.0))
    fine = xp.clip(1.5 - footprint / n[k + "grain_mm"] * 2.0, 0.0, 1.0)
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
    rust_rgb = n.several(k + "rust_rgb", 3)
    rgb = _blend(
        rgb, (rust_rgb[0] * rust_tone, rust_rgb[1] * rust_tone, rust_rgb[2] * rust_tone), rust
    )
    roughness = mix(roughness, 0.85, rust)
    metallic = metallic * (1.0 - rust)

    wobble = value_noise(xp, scaled(p, 0.08, seed + 13.0)) - 0.5
    for i, name in enumerate(("piece.along_weld.", "piece.cross_weld.")):
        u, v = seams[i]
        on = n[name + "present"] * outside
        u = u + wobble * 0.35 * n[name + "half_width_mm"]
        streak = value_noise(
            xp,
            (
                u * 0.8 + seed,
                v * 0.05,
                0.0 * u + 3.0 + 7.0 * i,
            ),
        )
        zone = n[name + "zone_mix"] * on * _band(xp, u, n[name + "zone_half_width_mm"])
        rgb = _blend(rgb, n.several(name + "zone_rgb", 3), zone * (0.6 + 0.4 * streak))
        band = n[name + "band_mix"] * on * _band(xp, u, n[name + "band_half_width_mm"])
        tone = 0.8 + 0.4 * streak
        band_rgb = n.several(name + "band_rgb", 3)
        rgb = _blend(rgb, (band_rgb[0] * tone, band_rgb[1] * tone, band_rgb[2] * tone), band)
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
        across = dot(n.several(name + "normal", 3), p) - n[name + "offset_mm"]
        length = n[name + "wobble_length_mm"]
        across = across + n[name + "wobble_mm"] * (
            value_noise(xp, scaled(p, 1.0 / length, seed + 17.0 * (i + 1))) - 0.5
        )
        here = dot(n.several(name + "gate", 3), p) > n[name + "gate_offset_mm"]
        width = n[name + "half_width_mm"]
        edge = xp.clip(0.6 * footprint / xp.clip(width, min=1e-3), 0.02, 1.0)
        cover = 1.0 - smoothstep(
            xp, 1.0 - edge, 1.0 + edge, xp.abs(across) / xp.clip(width, min=1e-3)
        )
        cell = xp.clip(width, min=1e-3) * 0.5
        letters = hash3(
            xp,
            xp.floor(across / cell),
            xp.floor((p[0] + 2.0 * p[1]) / cell),
            xp.floor((p[2] - p[1]) / cell),
        )
        cover = cover * xp.where((n[name + "dashes"] > 0.5) & (letters < 0.5), 0.0, 1.0)
        cover = cover * xp.clip(
            1.0 - n[name + "patchiness"] * 2.0 * patch * (0.4 + grain), 0.0, 1.0
        )
        cover = cover * xp.where(here & (width > 0.0), n[name + "opacity"], 0.0) * outside
        rgb = _blend(rgb, n.several(name + "rgb", 3), cover)
        roughness = mix(roughness, n[name + "roughness"], cover)
        metallic = metallic * (1.0 - cover)

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
    bend = (
        small * bump[0] + large * wave[0],
        small * bump[1] + large * wave[1],
        small * bump[2] + large * wave[2],
    )
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
