"""Sun, sky, lamps and what a surface makes of them."""

from __future__ import annotations

from math import pi
from types import ModuleType
from typing import Any

from synthetic.fields import Array, Vec, dot, mix, normalise, octaves, smoothstep
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
    rgb = [power * mix(ground[i], mix(horizon[i], sky[i], high), above) for i in range(3)]
    if skyline:
        azimuth = xp.atan2(d[1], d[0])
        seed = n["noise_seed"]
        lump = octaves(xp, (azimuth * 2.5 + seed, 0.0 * up + seed, 0.0 * up), 3)
        block = octaves(xp, (azimuth * 9.0, up * 9.0, 0.0 * up + seed * 1.3), 2)
        top = 0.42 * lump * lump * n["light.skyline"]
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
        rgb = [channel + lobe for channel in rgb]
    return rgb[0], rgb[1], rgb[2]


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
        rgb = [channel + c * n[name + "power"] * size * size for channel in rgb]
    return rgb[0], rgb[1], rgb[2]


def bars_shadow(xp: ModuleType, n: Numbers, p: Vec) -> Array:
    """1 in the light, less in the shadow of bars or cables between the sun and world point `p`."""
    sun = n.several("light.sun", 3)
    turn = n["light.bars_deg"] * (pi / 180.0)
    x = p[0] - sun[0] / xp.clip(sun[2], min=0.1) * p[2]
    y = p[1] - sun[1] / xp.clip(sun[2], min=0.1) * p[2]
    s = (x * xp.cos(turn) + y * xp.sin(turn)) / n["light.bars_mm"] + n["noise_seed"]
    phase = xp.abs(s - xp.floor(s) - 0.5) * 2.0
    duty = n["light.bars_duty"]
    return 1.0 - n["light.bars"] * (1.0 - smoothstep(xp, duty - 0.08, duty + 0.08, phase))


def lit(
    xp: ModuleType,
    n: Numbers,
    look: Look,
    normal: Vec,
    towards_eye: Vec,
    sunlight: Array,
    openness: Array,
) -> Vec:
    """Linear radiance towards the eye. `sunlight` is 0 to 1 (shadow), `openness` 0 to 1.

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
    mirror = (
        2.0 * view * normal[0] - towards_eye[0],
        2.0 * view * normal[1] - towards_eye[1],
        2.0 * view * normal[2] - towards_eye[2],
    )
    reflected = environment(xp, n, mirror, look.roughness, skyline=True)
    soft = ambient(xp, n, normal)
    sun_rgb = n.several("light.sun_rgb", 3)
    power = n["light.sun_power"] * sunlight
    matt = 1.0 - look.metallic
    out = []
    for i in range(3):
        base = look.rgb[i]
        mirror_share = mix(look.gloss, base, look.metallic)
        mirror_share = mirror_share + (1.0 - mirror_share) * 0.5 * grazing
        diffuse = base * matt * (power * sun_rgb[i] * cosine + soft[i] * openness)
        shine = mirror_share * (power * sun_rgb[i] * highlight + reflected[i] * openness)
        out.append(diffuse + shine)
    return out[0], out[1], out[2]
