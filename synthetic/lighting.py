"""Sun, sky, lamps and what a surface makes of them."""

from __future__ import annotations

from math import pi
from types import ModuleType
from typing import Any

from synthetic.fields import (
    Array,
    Vec,
    dot,
    hash3,
    mix,
    normalise,
    octaves,
    smoothstep,
    value_noise,
)
from synthetic.packing import Numbers
from synthetic.surfaces import Look


def environment(xp: ModuleType, n: Numbers, d: Vec, roughness: Any, *, skyline: bool) -> Vec:
    """Light from direction `d` (unit, world), blurred as a surface of that roughness blurs it.

    `skyline` adds the irregular dark shapes along a yard's horizon.
    """
    up = d[2]
    soft = 0.03 + 0.9 * roughness
    high = smoothstep(xp, -0.05 - soft, 0.35 + soft, up)
    above = smoothstep(xp, -soft, soft, up)
    sky, horizon = n.several("light.sky_rgb", 3), n.several("light.horizon_rgb", 3)
    ground = n.several("light.ground_rgb", 3)
    power = n["light.sky_power"]
    seed = n["noise_seed"]
    # Sky and ground as flat planes, drawn in so that clouds stay large near the horizon.
    reach = n["light.cloud_scale"] / (xp.abs(up) + 0.25)
    billow = octaves(xp, (d[0] * reach + seed, d[1] * reach + seed * 1.7, 0.0 * up + seed), 2)
    lumpy = 1.0 + n["light.floor"] * (2.0 * billow - 1.0) * xp.clip(1.2 - 2.0 * roughness, 0.0, 1.0)
    floor = [g * lumpy for g in ground]
    rgb = [power * mix(floor[i], mix(horizon[i], sky[i], high), above) for i in range(3)]
    clouds = n["light.clouds"]
    cloud = smoothstep(xp, 0.72 - 0.4 * clouds - 0.3 * soft, 0.8 - 0.2 * clouds + soft, billow)
    cloud = cloud * smoothstep(xp, -0.02, 0.2, up) * xp.clip(clouds * 3.0, 0.0, 1.0)
    bright = power * (1.9 - 1.2 * billow)  # bright edges, grey bellies
    rgb = [mix(c, bright * g, cloud) for c, g in zip(rgb, horizon, strict=True)]
    if skyline:
        azimuth = xp.atan2(d[1], d[0])
        lump = octaves(xp, (azimuth * 2.5 + seed, 0.0 * up + seed, 0.0 * up), 3)
        block = octaves(xp, (azimuth * 9.0, up * 9.0, 0.0 * up + seed * 1.3), 2)
        house = hash3(xp, xp.floor(azimuth * 4.0 + seed), 0.0 * up + 3.0, 0.0 * up + seed)
        top = mix(lump * lump, 0.05 + 0.6 * house * house, n["light.buildings"])
        top = 0.42 * top * n["light.skyline"]
        dark = (1.0 - smoothstep(xp, top - soft, top + soft, up)) * above
        dark = dark * xp.clip(n["light.skyline"] * 4.0, 0.0, 1.0)
        rgb = [
            mix(c, power * (0.08 + 0.5 * block * g), dark)
            for c, g in zip(rgb, horizon, strict=True)
        ]
    for i in range(3):
        name = f"light.lamps.{i}."
        size = n[name + "size"]
        c = dot(d, n.several(name + "direction", 3))
        edge = xp.cos(size)
        width = 0.02 + 0.8 * roughness * roughness
        lobe = smoothstep(xp, edge - width, edge + width * 0.5, c)
        # A rough surface spreads the lamp's light over a wider lobe, so it is weaker there.
        spread = (1.0 - edge) / (1.0 - edge + width)
        lobe = lobe * n[name + "power"] * spread
        own = n.several(name + "rgb", 3)
        rgb = [channel + lobe * c for channel, c in zip(rgb, own, strict=True)]
    hall = _hall(xp, n, d, roughness)
    return rgb[0] + hall[0], rgb[1] + hall[1], rgb[2] + hall[2]


def _hall(xp: ModuleType, n: Numbers, d: Vec, roughness: Any) -> Vec:
    """Windows and door in a hall's walls and rows of lamps under its roof, in direction `d`."""
    soft = 0.025 + 0.8 * roughness * roughness
    # A wall at distance 1: x sideways on it, z upwards.
    front, x, z = _on_wall(xp, n["light.windows_deg"], d)
    low, high, pitch = n["light.windows_low"], n["light.windows_high"], n["light.windows_pitch"]
    panes = _comb(xp, x / pitch, 0.42, soft / pitch) * _comb(xp, (z - low) / pitch, 0.42, soft)
    panes = panes * _between(xp, z, low, high, soft) * front
    panes = panes * _between(xp, x, -n["light.windows_span"], n["light.windows_span"], soft)
    front, x, z = _on_wall(xp, n["light.door_deg"], d)
    door = _between(xp, x, -n["light.door_width"], n["light.door_width"], soft)
    door = door * _between(xp, z, -0.3, n["light.door_height"], soft) * front
    day = n["light.windows"] * panes + n["light.door"] * door
    turn = n["light.rows_deg"] * (pi / 180.0)
    above = 1.0 / xp.clip(d[2], min=0.05)
    along = (d[0] * xp.cos(turn) + d[1] * xp.sin(turn)) * above
    across = (d[1] * xp.cos(turn) - d[0] * xp.sin(turn)) * above
    pitch = n["light.rows_pitch"]
    soft = soft * above / pitch  # rows draw together as they go away
    lamps = _comb(xp, across / pitch, 0.06, soft)
    lamps = lamps * _comb(xp, along / (1.6 * pitch), 0.5 * n["light.rows_length"], soft)
    lamps = n["light.rows"] * lamps * smoothstep(xp, 0.05, 0.3, d[2])
    r, g, b = n.several("light.rows_rgb", 3)
    return 0.95 * day + r * lamps, day + g * lamps, 1.05 * day + b * lamps


def _on_wall(xp: ModuleType, turn_deg: Array, d: Vec) -> tuple[Array, Array, Array]:
    """Whether `d` meets the wall at that azimuth (0 to 1), and where: sideways and upwards."""
    turn = turn_deg * (pi / 180.0)
    ahead = d[0] * xp.cos(turn) + d[1] * xp.sin(turn)
    scale = 1.0 / xp.clip(ahead, min=0.1)
    aside = d[1] * xp.cos(turn) - d[0] * xp.sin(turn)
    return smoothstep(xp, 0.1, 0.3, ahead), aside * scale, d[2] * scale


def _between(xp: ModuleType, x: Array, low: Array, high: Array, soft: Array) -> Array:
    """1 between low and high, with soft ends."""
    rise = smoothstep(xp, low - soft, low + soft, x)
    return rise * (1.0 - smoothstep(xp, high - soft, high + soft, x))


def _comb(xp: ModuleType, x: Array, half: Any, soft: Array) -> Array:
    """1 within `half` of each whole number, blurred; fully blurred it is its own mean."""
    phase = xp.abs(x - xp.floor(x + 0.5))
    edge = xp.clip(soft, 0.005, 0.5)
    teeth = 1.0 - smoothstep(xp, half - edge, half + edge, phase)
    return mix(teeth, 2.0 * half, xp.clip(2.0 * soft, 0.0, 1.0))


def ambient(xp: ModuleType, n: Numbers, normal: Vec) -> Vec:
    """Sky and lamp light that falls on a surface with this normal."""
    up = 0.5 + 0.5 * normal[2]
    sky, horizon = n.several("light.sky_rgb", 3), n.several("light.horizon_rgb", 3)
    ground = n.several("light.ground_rgb", 3)
    power = n["light.sky_power"]
    rgb = [
        power * mix(0.6 * ground[i] + 0.1 * horizon[i], 0.6 * sky[i] + 0.4 * horizon[i], up)
        for i in range(3)
    ]
    for i in range(3):
        name = f"light.lamps.{i}."
        c = xp.clip(dot(normal, n.several(name + "direction", 3)), min=0.0)
        size = n[name + "size"]
        own = n.several(name + "rgb", 3)
        c = c * n[name + "power"] * size * size
        rgb = [channel + c * share for channel, share in zip(rgb, own, strict=True)]
    # What a hall's windows, door and lamps send, by their rough size and where they are.
    high = n["light.windows_high"] - n["light.windows_low"]
    day = n["light.windows"] * _facing(xp, n["light.windows_deg"], normal)
    day = day * 0.18 * high * xp.clip(n["light.windows_span"], 0.0, 1.0)
    size = n["light.door_width"] * n["light.door_height"]
    day = day + n["light.door"] * _facing(xp, n["light.door_deg"], normal) * 0.5 * size
    rows = n["light.rows"] * 0.1 * n["light.rows_length"] * up
    tint = n.several("light.rows_rgb", 3)
    rgb = [channel + day + rows * c for channel, c in zip(rgb, tint, strict=True)]
    return rgb[0], rgb[1], rgb[2]


def _facing(xp: ModuleType, turn_deg: Array, normal: Vec) -> Array:
    """How far a surface faces the wall at that azimuth, 0 to 1."""
    turn = turn_deg * (pi / 180.0)
    return xp.clip(0.25 + 0.75 * (normal[0] * xp.cos(turn) + normal[1] * xp.sin(turn)), 0.0, 1.0)


def bars_shadow(xp: ModuleType, n: Numbers, p: Vec) -> Array:
    """1 in the light, less in the shadow of what hangs between the sun and world point `p`: bars or
    cables, a ladder's or scaffold's rungs between each other pair of them, leaves."""
    sun, seed = n.several("light.sun", 3), n["noise_seed"]
    turn = n["light.bars_deg"] * (pi / 180.0)
    x = p[0] - sun[0] / xp.clip(sun[2], min=0.1) * p[2]
    y = p[1] - sun[1] / xp.clip(sun[2], min=0.1) * p[2]
    pitch = n["light.bars_mm"]
    along = (y * xp.cos(turn) - x * xp.sin(turn)) / pitch
    sag = value_noise(xp, (along * 0.3 + seed, 0.0 * along + seed, 0.0 * along)) - 0.5
    s = (x * xp.cos(turn) + y * xp.sin(turn)) / pitch + seed + n["light.bars_sag"] * sag
    phase = xp.abs(s - xp.floor(s) - 0.5) * 2.0
    duty, edge = n["light.bars_duty"], n["light.bars_edge"]
    dark = 1.0 - smoothstep(xp, duty - edge, duty + edge, phase)
    t = along * pitch / n["light.rungs_mm"]
    rung = xp.abs(t - xp.floor(t) - 0.5) * 2.0
    rung = 1.0 - smoothstep(xp, duty - edge, duty + edge, rung)
    pair = xp.floor(s + 0.5) * 0.5
    rung = rung * n["light.rungs"] * xp.where(pair - xp.floor(pair) < 0.25, 1.0, 0.0)
    leaf = 1.0 / n["light.leaves_mm"]
    leaf = octaves(xp, (x * leaf + seed, y * leaf + seed, 0.0 * x + seed), 2)
    leaf = smoothstep(xp, 0.36, 0.62, leaf) * n["light.leaves"]
    return (1.0 - n["light.bars"] * xp.maximum(dark, rung)) * (1.0 - leaf)


def mirrored(towards_eye: Vec, normal: Vec) -> Vec:
    """The direction that a mirror with this normal shows to the eye."""
    twice = 2.0 * dot(normal, towards_eye)
    return (
        twice * normal[0] - towards_eye[0],
        twice * normal[1] - towards_eye[1],
        twice * normal[2] - towards_eye[2],
    )


def lit(
    xp: ModuleType,
    n: Numbers,
    look: Look,
    normal: Vec,
    towards_eye: Vec,
    sunlight: Array,
    openness: Array,
    depth_mm: Any = 1.0,
    reflected: Vec | None = None,
) -> Vec:
    """Linear radiance towards the eye, `depth_mm` away. `sunlight` is 0 to 1 (shadow), `openness`
    0 to 1; `reflected` is the environment as the look mirrors it, where that is known already.

    Lambert's cosine law for the matt part; a normalised Blinn–Phong lobe for the sun's highlight
    and the environment blurred by roughness for reflections, with Schlick's Fresnel term.
    """
    sun = n.several("light.sun", 3)
    cosine = xp.clip(dot(normal, sun), min=0.0)
    half = normalise(
        xp, (sun[0] + towards_eye[0], sun[1] + towards_eye[1], sun[2] + towards_eye[2])
    )
    rough = xp.clip(look.roughness + n["light.sun_softness"], 0.06, 1.0)
    exponent = 2.0 / (rough * rough * rough * rough) - 2.0
    exponent = xp.clip(exponent, 0.5, 4000.0)
    facing = xp.clip(dot(normal, half), 1e-4, 1.0)
    highlight = (exponent + 8.0) / 25.13 * xp.exp(exponent * xp.log(facing)) * cosine
    view = xp.clip(dot(normal, towards_eye), 0.0, 1.0)
    grazing = (1.0 - view) * (1.0 - view) * (1.0 - view) * (1.0 - view) * (1.0 - look.roughness)
    if reflected is None:
        reflected = environment(xp, n, mirrored(towards_eye, normal), look.roughness, skyline=True)
    soft = ambient(xp, n, normal)
    # A flash beside the lens: no shadow that the lens sees, and less light the farther it goes.
    fall_off = n["light.flash_mm"] / xp.clip(depth_mm, min=1.0)
    flash = n["light.flash"] * xp.clip(fall_off * fall_off, 0.0, 6.0)
    glint = (exponent + 8.0) / 25.13 * xp.exp(exponent * xp.log(xp.clip(view, 1e-4, 1.0))) * view
    sun_rgb = n.several("light.sun_rgb", 3)
    power = n["light.sun_power"] * sunlight
    matt = 1.0 - look.metallic
    out = []
    for i in range(3):
        base = look.rgb[i]
        mirror_share = mix(look.gloss, base, look.metallic)
        mirror_share = mirror_share + (1.0 - mirror_share) * 0.5 * grazing
        direct = power * sun_rgb[i] * cosine + flash * view
        diffuse = base * matt * (direct + soft[i] * openness)
        direct = power * sun_rgb[i] * highlight + flash * glint
        shine = mirror_share * (direct + reflected[i] * openness)
        out.append(diffuse + shine)
    return out[0], out[1], out[2]
