"""Chance for the light: sun, sky, halls with windows and lamps, a flash, and what shades them."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from synthetic.draws import Rng, colour_near, direction_to, grey, triple
from synthetic.scene import Camera, Lamp, Light, Triple

_PLACES = ("sun", "low sun", "overcast", "hall", "door", "flash")
_SHARES = (0.28, 0.14, 0.18, 0.22, 0.06, 0.12)
RAKED_SHARE = 0.16
"""Of scenes in sun, hall and studio, how many have their main light from the side and low."""
RAKED_ASIDE_DEG = (55.0, 125.0)
RAKED_HEIGHT_DEG = (6.0, 35.0)
_LAMP_COLOURS: tuple[Triple, ...] = (
    (1.0, 1.0, 1.0), (1.0, 0.82, 0.58), (0.8, 0.9, 1.0), (1.0, 0.62, 0.22), (0.75, 1.0, 0.85),
)  # fmt: skip
"""Of white, warm, cold, sodium and old fluorescent lamps."""


BARRED_SHARE = 0.3
"""Of sunny scenes, how many lie in the shadow of bars, cables and the like."""

BACKLIT_SHARE = 0.15
"""Of scenes with a sun, a door or windows, how many are taken against them by quota, the light
within BACKLIT_DEG of straight ahead; by chance it is a fifth of the rest."""

BACKLIT_DEG = 35.0


class _Shade(NamedTuple):
    """What hangs between the sun and the pieces: ranges of pitch, share of it that is dark,
    softness of its edges, sag in pitches, and whether it has rungs across."""

    pitch_mm: tuple[float, float]
    duty: tuple[float, float]
    edge: tuple[float, float]
    sag: tuple[float, float]
    rungs: float


_SHADES = (
    _Shade((30.0, 500.0), (0.1, 0.6), (0.01, 0.2), (0.0, 0.0), 0.0),  # bars, a fence
    _Shade((400.0, 3000.0), (0.3, 0.7), (0.001, 0.02), (0.0, 0.0), 0.0),  # a roof, a wall, a post
    _Shade((200.0, 1500.0), (0.015, 0.06), (0.006, 0.03), (0.3, 2.0), 0.0),  # cables
    _Shade((350.0, 500.0), (0.06, 0.14), (0.01, 0.06), (0.0, 0.0), 1.0),  # a ladder
    _Shade((40.0, 300.0), (0.05, 0.2), (0.02, 0.1), (0.0, 0.3), 1.0),  # mesh, scaffold
)


def sample_light(rng: Rng, camera: Camera, studio: bool) -> tuple[Light, float]:
    """Light and the exposure that a phone would choose for it."""
    place = "studio" if studio else _PLACES[int(rng.choice(len(_PLACES), p=_SHARES))]
    if place in ("sun", "low sun", "overcast"):
        light = _outdoors(rng, place)
    else:
        light = _indoors(rng, place, camera)
    if place in ("sun", "low sun", "hall", "studio") and rng.random() < RAKED_SHARE:
        light = _raked(rng, light, camera)
    if place in ("sun", "low sun"):
        light = _shaded(rng, light)
    dark = 1.0
    if place not in ("studio", "flash") and rng.random() < BACKLIT_SHARE:
        light, dark = _backlit(rng, light, camera), float(rng.uniform(0.55, 1.1))
    return light, _exposure(rng, light, camera) * dark


def _backlit(rng: Rng, light: Light, camera: Camera) -> Light:
    """The sun, door and windows beyond what the camera looks at."""
    ahead_x, ahead_y = camera.rotation[6:8]
    ahead = np.arctan2(ahead_y, ahead_x) if np.hypot(ahead_x, ahead_y) > 1e-3 else 0.0
    ahead += np.radians(rng.uniform(-BACKLIT_DEG, BACKLIT_DEG))
    turned = float(np.degrees(ahead))
    sun = direction_to(float(ahead), float(np.arcsin(np.clip(light.sun[2], -1.0, 1.0))))
    return replace(light, sun=sun, door_deg=turned, windows_deg=turned)


def _raked(rng: Rng, light: Light, camera: Camera) -> Light:
    """The main light from the side and low, so that it runs along the surface as the camera sees
    it: relief casts shades, and a rounded corner a bright line."""
    u = rng.uniform
    x, y, _ = camera.position_mm
    aside = np.radians(u(*RAKED_ASIDE_DEG)) * (1.0 if rng.random() < 0.5 else -1.0)
    return replace(
        light,
        sun=direction_to(float(np.arctan2(y, x) + aside), np.radians(u(*RAKED_HEIGHT_DEG))),
        sun_power=max(light.sun_power, float(u(1.5, 4.5))),
        sun_softness=min(light.sun_softness, float(u(0.0, 0.15))),
    )


def _outdoors(rng: Rng, place: str) -> Light:
    u = rng.uniform
    azimuth = u(0, 2 * np.pi)
    sun_rgb: Triple = (1.0, float(u(0.88, 1.0)), float(u(0.75, 1.0)))
    sky: Triple = (float(u(0.2, 0.6)), float(u(0.4, 0.7)), float(u(0.7, 1.0)))
    softness = float(u(0.0, 0.05))
    if place == "sun":
        elevation, power = u(20, 85), float(u(1.5, 5.5))
        sky_power = float(u(0.3, 1.2))
    elif place == "low sun":
        elevation, power = u(3, 20), float(u(2.0, 6.0))
        sky_power = float(u(0.25, 1.0))
        sun_rgb = (1.0, float(u(0.7, 0.95)), float(u(0.4, 0.85)))
    else:
        # Never quite even: clouds are brighter where the sun stands, so that an upright wall has a
        # light side.
        elevation, power, softness = u(40, 85), float(u(0.15, 0.7)), 0.3
        sky_power = float(u(0.9, 1.8))
        sky = grey(rng, float(u(0.7, 1.0)), 0.05)
    bounce = grey(rng, float(u(0.08, 0.4)), 0.1)
    kind = rng.random()
    if kind < 0.06:
        bounce = grey(rng, float(u(0.7, 0.95)), 0.02)  # bright ground all about, as of snow
    elif kind < 0.14:
        bounce = colour_near(rng, (0.55, 0.42, 0.27), 0.15, 0.05)  # sand
    return Light(
        name=place,
        sun=direction_to(azimuth, np.radians(elevation)),
        sun_rgb=sun_rgb,
        sun_power=power,
        sun_softness=softness,
        sky_rgb=sky,
        horizon_rgb=grey(rng, float(u(0.5, 1.0)), 0.08),
        ground_rgb=bounce,
        sky_power=sky_power,
        skyline=float(u(0.2, 1.6)),
        buildings=float(rng.random() < 0.4),
        clouds=float(u(0.1, 1.0)) if rng.random() < 0.6 else 0.0,
        cloud_scale=float(u(0.5, 2.5)),
        floor=float(u(0.0, 0.9)),
    )


def _indoors(rng: Rng, place: str, camera: Camera) -> Light:
    u = rng.uniform
    sun = direction_to(u(0, 2 * np.pi), np.radians(u(25, 85)))
    power, softness = float(u(0.2, 2.0)), float(u(0.05, 0.3))
    sky_power, flash, flash_mm = float(u(0.3, 1.2)), 0.0, 1000.0
    if place == "flash":
        # Beside the lens: the shadow lies close behind the piece, and light falls off from it.
        position = np.asarray(camera.position_mm)
        flash_mm = float(np.linalg.norm(position))
        toward = position + rng.normal(0, 0.03, 3) * flash_mm
        toward[2] = max(toward[2], 0.05 * flash_mm)
        sun = triple(toward / np.linalg.norm(toward))
        share = float(u(0.3, 1.0))
        power, flash = float(u(1.5, 4.0)), 0.0
        power, flash = power * (1.0 - share), power * share
        sky_power, softness = float(u(0.02, 0.5)), 0.03
    elif place == "door":
        sky_power, power = float(u(0.05, 0.4)), 0.0
    sky = grey(rng, float(u(0.15, 0.8)), 0.08)
    horizon = grey(rng, float(u(0.2, 0.9)), 0.12)
    light = Light(
        name=place,
        sun=sun,
        sun_rgb=colour_near(rng, _LAMP_COLOURS[int(rng.integers(5))], 0.05, 0.03),
        sun_power=power,
        sun_softness=softness,
        sky_rgb=sky,
        horizon_rgb=horizon,
        ground_rgb=grey(rng, float(u(0.08, 0.5)), 0.1),
        sky_power=sky_power,
        lamps=_lamps(rng),
        skyline=float(u(0.2, 1.4)),
        buildings=float(rng.random() < 0.6),
        floor=0.0 if place == "studio" else float(u(0.0, 0.9)),
        cloud_scale=float(u(0.5, 2.5)),
    )
    if place == "studio":
        even = grey(rng, float(u(0.8, 1.0)), 0.02)
        return replace(
            light, skyline=0.0, sky_rgb=even, horizon_rgb=even, sky_power=float(u(0.5, 1.3)),
            sun_softness=float(u(0.15, 0.5)), sun_rgb=(1.0, float(u(0.88, 1)), float(u(0.75, 1))),
            rows=float(u(0.5, 3.0)) if rng.random() < 0.25 else 0.0, rows_pitch=float(u(0.5, 1.5)),
            rows_deg=float(u(0, 180)),
        )  # fmt: skip
    if place == "door" or rng.random() < 0.2:
        light = replace(
            light,
            door=float(u(2.0, 9.0)),
            door_deg=float(u(0, 360)),
            door_width=float(u(0.15, 0.8)),
            door_height=float(u(0.25, 0.9)),
        )
    if rng.random() < 0.5:
        low = float(u(0.05, 0.8))
        light = replace(
            light,
            windows=float(u(0.8, 6.0)),
            windows_deg=float(u(0, 360)),
            windows_pitch=float(u(0.12, 0.6)),
            windows_low=low,
            windows_high=low + float(u(0.2, 1.2)),
            windows_span=float(u(0.3, 3.0)),
        )
    if rng.random() < 0.6:
        light = replace(
            light,
            rows=float(u(0.8, 8.0)),
            rows_rgb=colour_near(rng, _LAMP_COLOURS[int(rng.integers(5))], 0.05, 0.02),
            rows_deg=float(u(0, 180)),
            rows_pitch=float(u(0.3, 2.0)),
            rows_length=float(u(0.1, 0.99)),
        )
    return replace(light, flash=flash, flash_mm=flash_mm)


def _lamps(rng: Rng) -> tuple[Lamp, Lamp, Lamp]:
    """None to three lamps; the brighter, the smaller, and a third of the scenes have coloured
    ones."""
    count, coloured = int(rng.integers(0, 4)), rng.random() < 0.35
    lamps: list[Lamp] = []
    for _ in range(3):
        size = float(np.exp(rng.uniform(np.log(0.05), np.log(0.6))))
        colour = _LAMP_COLOURS[int(rng.integers(5))] if coloured else (1.0, 1.0, 1.0)
        lamp = Lamp(
            direction=direction_to(
                float(rng.uniform(0, 2 * np.pi)), float(np.radians(rng.uniform(10, 85)))
            ),
            size=size,
            power=float(rng.uniform(0.5, 5.0)) * min(3.0, 0.3 / size),
            rgb=colour,
        )
        lamps.append(lamp if len(lamps) < count else Lamp())
    return lamps[0], lamps[1], lamps[2]


def _shaded(rng: Rng, light: Light) -> Light:
    """The shadow of bars, cables, an edge, a ladder or mesh in BARRED_SHARE of sunny scenes, of
    leaves in 10 %."""
    u = rng.uniform
    shade = _SHADES[int(rng.integers(len(_SHADES)))]
    leafy, barred = rng.random() < 0.1, rng.random() < BARRED_SHARE
    return replace(
        light,
        bars=float(u(0.3, 1.0)) if barred else 0.0,
        bars_mm=float(np.exp(u(*np.log(shade.pitch_mm)))),
        bars_duty=float(u(*shade.duty)),
        bars_deg=float(u(0, 180)),
        bars_edge=float(u(*shade.edge)),
        bars_sag=float(u(*shade.sag)),
        rungs=shade.rungs,
        rungs_mm=float(u(240, 320)) if shade.pitch_mm[0] > 300 else float(u(40, 300)),
        leaves=float(u(0.3, 1.0)) if leafy else 0.0,
        leaves_mm=float(np.exp(u(np.log(20), np.log(250)))),
    )


def _exposure(rng: Rng, light: Light, camera: Camera) -> float:
    """What brings the light that falls on a grey thing to a middle tone, give or take."""
    level = 0.45 * light.sun_power + 0.6 * light.sky_power * float(np.mean(light.sky_rgb))
    level += sum(lamp.power * lamp.size**2 * 0.5 for lamp in light.lamps)
    level += 0.07 * light.rows * light.rows_length
    day = 0.18 * (light.windows_high - light.windows_low) * min(light.windows_span, 1.0)
    level += 0.4 * (light.windows * day + light.door * 0.5 * light.door_width * light.door_height)
    away = max(float(np.linalg.norm(camera.position_mm)), 1.0)
    level += 0.45 * light.flash * min((light.flash_mm / away) ** 2, 6.0)
    return float(np.clip(0.8 / max(level, 0.1) * np.exp(rng.normal(0, 0.35)), 0.05, 8.0))
