"""Chance for what stands around the pieces: camera, phone, light and ground."""

from __future__ import annotations

import numpy as np

from synthetic.camera import looking_at
from synthetic.draws import Rng, direction_to, grey, triple
from synthetic.sample_phone import sample_effects
from synthetic.scene import Camera, Effects, Ground, Lamp, Light, Triple


def sample_camera(
    rng: Rng, target: np.ndarray, extent: float, studio: bool, *, plain: bool = False
) -> tuple[Camera, Effects]:
    """A camera that looks at about `target`, and what the phone does to the picture; a `plain` view
    is neither far nor close."""
    focal = float(rng.uniform(0.68, 1.1)) if rng.random() < 0.7 else float(rng.uniform(1.1, 3.5))
    if studio and rng.random() < 0.6:
        focal = float(rng.uniform(1.5, 4.0))
    how_near = rng.random()
    fill = float(rng.uniform(0.45, 1.05))
    if plain:
        fill = float(rng.uniform(0.6, 1.0))
    elif how_near < 0.2:
        fill = float(rng.uniform(0.18, 0.5))
    elif how_near < 0.38:
        fill = float(rng.uniform(1.0, 3.2))  # close-ups
    distance = extent * focal / (0.375 * fill)
    if distance < 1.35 * extent:  # no camera inside a piece: step back and zoom in
        focal *= 1.35 * extent / distance
        distance = 1.35 * extent
    elevation = np.radians(rng.uniform(3, 55) if rng.random() < 0.75 else rng.uniform(-5, 88))
    azimuth = rng.uniform(0, 2 * np.pi)
    toward = np.array(
        [
            np.cos(elevation) * np.cos(azimuth),
            np.cos(elevation) * np.sin(azimuth),
            np.sin(elevation),
        ]
    )
    position = target + distance * toward
    position[2] = max(position[2], 0.15 * extent)
    astray = 0.05 if plain else 0.18 if fill < 1.1 else 0.35
    aim = target + rng.normal(0.0, astray, 3) * extent
    roll = rng.normal(0, 5) if rng.random() < 0.8 else rng.uniform(-180, 180)
    k1 = float(rng.normal(0.0, 0.03))
    camera = Camera(
        position_mm=triple(position),
        rotation=looking_at(position, aim, float(roll)),  # type: ignore[arg-type]
        focal=focal,
        k1=k1,
        k2=float(rng.normal(0.0, 0.01)),
    )
    return camera, sample_effects(rng, plain=plain)


def sample_light(rng: Rng, camera: Camera, studio: bool) -> tuple[Light, float]:
    """Light and the exposure that a phone would choose for it."""
    place = (
        "studio"
        if studio
        else ("sun", "low sun", "overcast", "hall", "flash")[
            int(rng.choice(5, p=[0.34, 0.16, 0.2, 0.2, 0.1]))
        ]
    )
    azimuth = rng.uniform(0, 2 * np.pi)
    sun_rgb: Triple = (1.0, float(rng.uniform(0.88, 1.0)), float(rng.uniform(0.75, 1.0)))
    lamps = [Lamp(), Lamp(), Lamp()]
    softness, skyline = 0.02, float(rng.uniform(0.2, 1.4))
    sky: Triple = (
        float(rng.uniform(0.2, 0.6)),
        float(rng.uniform(0.4, 0.7)),
        float(rng.uniform(0.7, 1.0)),
    )
    horizon = grey(rng, float(rng.uniform(0.5, 1.0)), 0.08)
    if place == "sun":
        sun, power = (
            direction_to(azimuth, np.radians(rng.uniform(20, 80))),
            float(rng.uniform(1.5, 5.0)),
        )
        sky_power, softness = float(rng.uniform(0.4, 1.2)), float(rng.uniform(0.0, 0.05))
    elif place == "low sun":
        sun, power = (
            direction_to(azimuth, np.radians(rng.uniform(4, 20))),
            float(rng.uniform(2.0, 5.0)),
        )
        sky_power, softness = float(rng.uniform(0.4, 1.0)), float(rng.uniform(0.0, 0.05))
        sun_rgb = (1.0, float(rng.uniform(0.7, 0.95)), float(rng.uniform(0.45, 0.85)))
    elif place == "overcast":
        sun, power = (
            direction_to(azimuth, np.radians(rng.uniform(40, 85))),
            float(rng.uniform(0.0, 0.6)),
        )
        sky_power, softness = float(rng.uniform(1.0, 1.8)), 0.3
        sky = grey(rng, float(rng.uniform(0.7, 1.0)), 0.05)
    else:
        if place == "flash":
            toward = np.asarray(camera.position_mm) + rng.normal(0, 0.03, 3) * np.linalg.norm(
                camera.position_mm
            )
            toward = toward / np.linalg.norm(toward)
            toward[2] = max(toward[2], 0.05)
            sun = triple(toward / np.linalg.norm(toward))
            power = float(rng.uniform(1.5, 4.0))
            sky_power, softness = float(rng.uniform(0.1, 0.5)), 0.03
        else:
            sun = direction_to(azimuth, np.radians(rng.uniform(25, 85)))
            power = float(rng.uniform(0.2, 2.0))
            sky_power, softness = float(rng.uniform(0.5, 1.3)), float(rng.uniform(0.05, 0.3))
        sky = grey(rng, float(rng.uniform(0.15, 0.8)), 0.08)
        horizon = grey(rng, float(rng.uniform(0.2, 0.9)), 0.12)
        for i in range(int(rng.integers(0, 4))):
            lamps[i] = Lamp(
                direction=direction_to(
                    float(rng.uniform(0, 2 * np.pi)), float(np.radians(rng.uniform(10, 85)))
                ),
                size=float(rng.uniform(0.08, 0.6)),
                power=float(rng.uniform(0.5, 5.0)),
            )
    if studio:
        skyline = 0.0
        sky = horizon = grey(rng, float(rng.uniform(0.8, 1.0)), 0.02)
        softness = float(rng.uniform(0.15, 0.5))
    bars = (
        float(rng.uniform(0.3, 0.9)) if rng.random() < 0.12 and place in ("sun", "low sun") else 0.0
    )
    light = Light(
        name=place,
        sun=sun,
        sun_rgb=sun_rgb,
        sun_power=power,
        sun_softness=softness,
        sky_rgb=sky,
        horizon_rgb=horizon,
        ground_rgb=grey(rng, float(rng.uniform(0.08, 0.4)), 0.1),
        sky_power=sky_power,
        lamps=(lamps[0], lamps[1], lamps[2]),
        bars=bars,
        bars_mm=float(np.exp(rng.uniform(np.log(30), np.log(500)))),
        bars_duty=float(rng.uniform(0.1, 0.6)),
        bars_deg=float(rng.uniform(0, 180)),
        skyline=skyline,
    )
    lamp_light = sum(lamp.power * lamp.size**2 * 0.5 for lamp in lamps)
    level = 0.45 * power + 0.6 * sky_power * float(np.mean(sky)) + lamp_light
    return light, float(np.clip(0.8 / max(level, 0.1) * np.exp(rng.normal(0, 0.35)), 0.05, 8.0))


_GROUNDS: tuple[tuple[str, Triple, Triple], ...] = (
    ("concrete", (0.34, 0.33, 0.31), (0.22, 0.21, 0.2)),
    ("soil", (0.2, 0.13, 0.08), (0.11, 0.08, 0.05)),
    ("gravel", (0.32, 0.3, 0.27), (0.17, 0.16, 0.15)),
    ("timber", (0.38, 0.26, 0.14), (0.22, 0.14, 0.08)),
    ("sand", (0.5, 0.4, 0.27), (0.36, 0.28, 0.18)),
    ("grass", (0.1, 0.16, 0.04), (0.2, 0.2, 0.08)),
    ("steel", (0.16, 0.16, 0.17), (0.1, 0.09, 0.08)),
    ("painted floor", (0.15, 0.3, 0.22), (0.2, 0.33, 0.27)),
    ("tarpaulin", (0.06, 0.16, 0.4), (0.05, 0.12, 0.3)),
)


def sample_ground(rng: Rng, studio: bool) -> Ground:
    """What the pieces lie on; a studio has an even backdrop."""
    if studio:
        level = (
            float(rng.uniform(0.75, 1.0)) if rng.random() < 0.75 else float(rng.uniform(0.02, 0.6))
        )
        rgb = grey(rng, level, 0.02)
        return Ground(name="studio", rgb=rgb, second_rgb=rgb, contrast=0.0, studio=1.0)
    name, a, b = _GROUNDS[int(rng.integers(len(_GROUNDS)))]
    level = np.exp(rng.normal(0, 0.3))

    def jitter(c: Triple) -> Triple:
        return triple(np.clip(v * level * np.exp(rng.normal(0, 0.12)), 0, 1) for v in c)

    return Ground(
        name=name,
        rgb=jitter(a),
        second_rgb=jitter(b),
        patch_mm=float(np.exp(rng.uniform(np.log(20), np.log(800)))),
        contrast=float(rng.uniform(0.1, 1.0)),
        stone_mm=float(np.exp(rng.uniform(np.log(8), np.log(90)))),
        stones=1.0
        if name == "gravel"
        else (float(rng.uniform(0, 0.7)) if rng.random() < 0.2 else 0.0),
        plank_mm=float(rng.uniform(70, 220)),
        planks=1.0 if name == "timber" else 0.0,
        turn_deg=float(rng.uniform(0, 360)),
        gloss=float(rng.uniform(0, 0.08)),
    )
