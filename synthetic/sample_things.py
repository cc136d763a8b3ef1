"""Chance for things of a pipe yard that are no elbow, tee or reducer: flanges, outlets, caps, loose
pipe, valves, clamps and sections of steel.

Each maker returns the parts of one thing, in mm, about the x axis (`TURNED`) or on the plane z = 0
(`SET`); `main` is the look of its body, `other` that of what is fixed to it. Sizes are as they are
in the trade, by eye. At most MOST_PROPS parts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from synthetic.assembly import ACROSS, AXIS, UP, bead_along, box, by_logs, cone, hoop
from synthetic.draws import Rng, nine, rotation_about, triple
from synthetic.sample_joined import flange, girth_weld, tube
from synthetic.sample_yard import valve
from synthetic.scene import Prop, Triple

Look = dict[str, Any]
Maker = Callable[[Rng, Look, Look], list[Prop]]


def neck_flange(rng: Rng, main: Look, other: Look) -> list[Prop]:
    """A welding-neck flange: raised face, bolt holes, a hub that tapers to the neck, and now and
    then a piece of pipe welded to it."""
    radius = by_logs(rng, 20, 320)
    wall = radius * float(rng.uniform(0.05, 0.18))
    disc, hub = flange(rng, AXIS, np.zeros(3), radius, wall, **main)
    out = [disc]
    thick = disc.half_length_mm
    if rng.random() < 0.7:
        face = radius + (disc.hole_circle_mm - disc.hole_mm - radius) * float(rng.uniform(0.4, 0.9))
        high = thick * float(rng.uniform(0.05, 0.3))
        bore = face - radius + wall
        out.append(tube(AXIS, -AXIS * (thick + high), face, high, wall_mm=bore, **main))
    tip = max(hub, thick)
    neck = radius * float(rng.uniform(0.03, 0.5))
    out.append(tube(AXIS, AXIS * (tip + neck), radius, neck, wall_mm=wall, **main))
    if rng.random() < 0.25:
        long = radius * float(rng.uniform(0.3, 4.0))
        at = AXIS * (tip + 2 * neck)
        bead = radius * float(rng.uniform(0.03, 0.1))
        out.append(girth_weld(AXIS, at, radius, bead, bead * float(rng.uniform(0.1, 0.4)), **other))
        out.append(tube(AXIS, at + AXIS * long, radius, long, wall_mm=wall, **main))
    return out


def flange_stack(rng: Rng, main: Look, _other: Look) -> list[Prop]:
    """Two to six flanges of one size on each other, a little askew."""
    radius = by_logs(rng, 20, 250)
    wall = radius * float(rng.uniform(0.05, 0.15)) if rng.random() < 0.75 else 0.0
    disc, hub = flange(rng, AXIS, np.zeros(3), radius, wall, **main)
    step = disc.half_length_mm + max(hub, disc.half_length_mm)
    out = []
    for number in range(int(rng.integers(2, 7))):
        off = rng.normal(0.0, 0.04 * radius, 2)
        turn = rotation_about(AXIS, float(rng.uniform(0, 2 * np.pi)))
        at = triple((number * step, off[0], off[1]))
        out.append(replace(disc, rotation=nine(turn), position_mm=at))
    return out


def flat_flange(rng: Rng, main: Look, other: Look) -> list[Prop]:
    """A slip-on or a blind flange, mostly with a raised face; a blind one may have an eye."""
    radius = by_logs(rng, 20, 320)
    blind = rng.random() < 0.5
    wall = 0.0 if blind else 0.02 * radius
    disc, hub = flange(rng, AXIS, np.zeros(3), radius, wall, **main)
    thick = disc.half_length_mm
    if not blind:
        low = max(thick * float(rng.uniform(1.2, 2.2)), 0.02 * radius)
        disc = replace(disc, hub_mm=min(low, hub))
    out = [disc]
    if rng.random() < 0.7:
        face = radius * float(rng.uniform(1.05, 1.2))
        high = thick * float(rng.uniform(0.05, 0.3))
        bore = face - radius + wall if not blind else 0.0
        out.append(tube(AXIS, -AXIS * (thick + high), face, high, wall_mm=bore, **main))
    if blind and rng.random() < 0.3:
        eye = radius * float(rng.uniform(0.1, 0.25))
        out.append(hoop(ACROSS, AXIS * (thick + eye), eye, 0.2 * eye, **other))
    return out


def branch_outlet(rng: Rng, main: Look, _other: Look) -> list[Prop]:
    """A forged branch outlet lying alone: a thick hollow foot that narrows to a bevelled end."""
    radius = by_logs(rng, 12, 120)
    wall = radius * float(rng.uniform(0.2, 0.45))
    half = radius * float(rng.uniform(0.25, 0.6))
    foot = radius * float(rng.uniform(1.2, 1.7))
    land = half * float(rng.uniform(0.1, 0.5))
    out = [
        cone((0, 0, 0), foot, radius * 1.04, half, wall + foot - radius, 0.0, **main),
        tube(AXIS, AXIS * (half + land), radius, land, wall_mm=wall, **main),
    ]
    if rng.random() < 0.6:
        bevel = 0.4 * wall
        at = (half + 2 * land + bevel, 0, 0)
        out.append(cone(at, radius, radius - bevel, bevel, 0.6 * wall, 0.0, **main))
    if rng.random() < 0.5:
        rim = foot * float(rng.uniform(0.02, 0.08))
        out.append(tube(AXIS, -AXIS * (half + rim), foot, rim, wall_mm=foot - 0.7 * radius, **main))
    return out


def caps(rng: Rng, main: Look, _other: Look) -> list[Prop]:
    """One to four pipe caps side by side, each its dome or its mouth up."""
    radius = by_logs(rng, 20, 320)
    dome = radius * float(rng.choice([0.5, 0.5, 0.5, 0.25, 1.0]))
    skirt = radius * float(rng.uniform(0.05, 0.4))
    wall = radius * float(rng.uniform(0.04, 0.15))
    out = []
    for number in range(int(rng.choice([1, 1, 1, 2, 3, 4]))):
        turn = number * 1.57
        at = radius * (2.1 if number else 0.0) * np.array([np.cos(turn), np.sin(turn), 0.0])
        mouth_up = rng.random() < 0.45
        axis, low = (-UP, skirt + dome) if mouth_up else (UP, skirt)
        if rng.random() < 0.3:  # on its rim
            axis, low = np.array([np.cos(turn), np.sin(turn), 0.0]), radius
        out.append(
            tube(
                axis,
                at + UP * low,
                0.0,
                skirt,
                shape=2.0,
                half_depth_mm=radius,
                dome_mm=dome,
                wall_mm=wall,
                **main,
            )
        )
    return out


def loose_pipe(rng: Rng, main: Look, other: Look) -> list[Prop]:
    """One pipe with open ends, girth welds on it or a long seam, or a plug in an end."""
    radius = by_logs(rng, 15, 400)
    half = radius * by_logs(rng, 0.5, 9.0)
    wall = radius * float(rng.uniform(0.03, 0.2))
    out = [tube(AXIS, np.zeros(3), radius, half, wall_mm=wall, **main)]
    bead = radius * float(rng.uniform(0.02, 0.1))
    metal = main if rng.random() < 0.4 else other
    for _ in range(int(rng.choice([0, 0, 0, 1, 1, 2]))):
        at = AXIS * half * float(rng.uniform(-0.85, 0.85))
        if rng.random() < 0.4:  # ground flush: a band of bare metal is left
            band = bead * float(rng.uniform(1.5, 4.0))
            out.append(tube(AXIS, at, 1.0025 * radius, band, wall_mm=0.5 * wall, **other))
        else:
            crown = bead * float(rng.uniform(0.05, 0.4))
            out.append(girth_weld(AXIS, at, radius, bead, crown, **metal))
    if rng.random() < 0.25:
        out.append(bead_along(half, radius, 0.6 * bead, float(rng.uniform(0, 6.28)), **metal))
    if rng.random() < 0.15:
        out.append(tube(AXIS, AXIS * half, radius * 1.03, 0.15 * radius, **other))
    return out


def pipe_pile(rng: Rng, main: Look, other: Look) -> list[Prop]:
    """Three to eight pipes of one size lying side by side and on each other: many round holes."""
    radius = by_logs(rng, 12, 250)
    half = radius * by_logs(rng, 1.0, 12.0)
    wall = radius * float(rng.uniform(0.04, 0.2))
    rows = ((2, 1), (3, 2), (3, 2, 1), (4, 3), (4, 3, 1), (2, 2, 2), (4, 4))[int(rng.integers(7))]
    out = []
    for level, count in enumerate(rows):
        for i in range(count):
            y = 2.02 * radius * (i - 0.5 * (count - 1))
            z = radius * (1.0 + 1.75 * level)
            x = float(rng.normal(0.0, 0.06)) * half
            pipe = tube(AXIS, np.array([x, y, z]), radius, half, wall_mm=wall, **main)
            out.append(replace(pipe, **other) if rng.random() < 0.12 else pipe)
    return out


def crossed_pipes(rng: Rng, main: Look, _other: Look) -> list[Prop]:
    """Pipe lying across pipe, which from some sides looks joined."""
    radius = by_logs(rng, 15, 250)
    wall = radius * float(rng.uniform(0.04, 0.15))
    out = []
    for i in range(int(rng.integers(1, 4))):
        half = radius * by_logs(rng, 2.0, 8.0)
        at = np.array([0.0, 2.2 * i * radius, radius])
        out.append(tube(AXIS, at, radius, half, wall_mm=wall, **main))
    turn = float(np.radians(rng.uniform(40, 140)))
    axis = np.array([np.cos(turn), np.sin(turn), 0.0])
    second = radius * float(rng.uniform(0.5, 1.0))
    half = second * by_logs(rng, 2.0, 7.0)
    centre = axis * half * float(rng.uniform(-0.8, 0.8)) + UP * (2 * radius + second)
    out.append(tube(axis, centre, second, half, wall_mm=0.1 * second, **main))
    return out


def lone_valve(rng: Rng, main: Look, _other: Look) -> list[Prop]:
    """A valve by itself."""
    parts = valve(rng, by_logs(rng, 30, 200), 0.0, False)
    # Painted all over but for stem and wheel.
    return [replace(part, **main) for part in parts[:-2]] + parts[-2:]


def clamp(rng: Rng, main: Look, other: Look) -> list[Prop]:
    """A pipe clamp of two halves with bolted ears, with or without its pipe; or a U-bolt."""
    radius = by_logs(rng, 15, 150)
    wide = radius * float(rng.uniform(0.1, 0.5))
    thick = radius * float(rng.uniform(0.06, 0.16))
    outer = radius + thick
    out = []
    if rng.random() < 0.35:  # a U-bolt: its legs go on down from the ring's sides, through a plate
        rod = 0.5 * thick
        out.append(hoop(AXIS, (0, 0, 0), outer, rod, **main))
        for side in (-1.0, 1.0):
            leg = np.array([0.0, side * outer, -radius])
            out.append(tube(UP, leg, rod, radius, **main))
        plate = (2 * rod, 1.25 * outer, rod)
        out.append(box((0, 0, -1.05 * outer), (plate[0] * 2, plate[1], plate[2]), **main))
    else:
        out.append(tube(AXIS, np.zeros(3), outer, wide, wall_mm=thick, **main))
        for side in (-1.0, 1.0):
            ear = (wide, 0.3 * radius, 1.3 * thick)
            out.append(box((0, side * (outer + 0.25 * radius), 0), ear, **main))
            bolt = np.array([0.0, side * (outer + 0.3 * radius), 0.0])
            out.append(tube(UP, bolt, 0.08 * radius, 0.3 * radius, **other))
    if rng.random() < 0.6:
        half = radius * float(rng.uniform(1.0, 6.0))
        out.append(tube(AXIS, np.zeros(3), radius, half, wall_mm=0.1 * radius, **other))
    return out


def steel_section(rng: Rng, main: Look, _other: Look) -> list[Prop]:
    """An I-beam, a channel, an angle iron or a box section, one or two, across each other."""
    h = by_logs(rng, 25, 300)
    half = h * by_logs(rng, 1.5, 12.0)
    t = h * float(rng.uniform(0.04, 0.12))
    b = h * float(rng.uniform(0.4, 1.0))
    form = int(rng.integers(4))
    parts: list[tuple[Triple, Triple]]
    if form == 0:
        parts = [((0, 0, 0), (half, t, h)), ((0, 0, h), (half, b, t)), ((0, 0, -h), (half, b, t))]
    elif form == 1:
        parts = [((0, -b, 0), (half, t, h)), ((0, 0, h), (half, b, t)), ((0, 0, -h), (half, b, t))]
    elif form == 2:
        parts = [((0, -b, 0), (half, t, b)), ((0, 0, -b), (half, b, t))]
        h = b
    else:
        parts = [((0, -b, 0), (half, t, h)), ((0, b, 0), (half, t, h)),
                 ((0, 0, h), (half, b, t)), ((0, 0, -h), (half, b, t))]  # fmt: skip
    # On its foot or on its side.
    roll = rotation_about(AXIS, 0.5 * np.pi * int(rng.integers(4)))
    out = [box(roll @ np.asarray(at, float), size, roll, **main) for at, size in parts]
    if rng.random() < 0.35:
        turn = rotation_about(UP, float(np.radians(rng.uniform(30, 150))))
        up = 2.1 * max(h, b)
        out += [box(turn @ np.asarray(at, float) + UP * up, size, turn, **main)
                for at, size in parts]  # fmt: skip
    return out


def bar_bundle(rng: Rng, main: Look, other: Look) -> list[Prop]:
    """Round bar in a bundle, solid ends towards one, mostly strapped together."""
    radius = by_logs(rng, 6, 60)
    half = radius * by_logs(rng, 4.0, 30.0)
    out = [
        tube(AXIS, np.array([float(rng.normal(0, 0.02)) * half, 0.0, 0.0]), radius, half, **main)
    ]
    for i in range(6):
        turn = i * np.pi / 3
        at = 2.0 * radius * np.array([0.0, np.cos(turn), np.sin(turn)])
        at[0] = float(rng.normal(0, 0.03)) * half
        out.append(tube(AXIS, at, radius, half, **main))
    if rng.random() < 0.7:
        at = AXIS * half * float(rng.uniform(-0.6, 0.6))
        wide = float(rng.uniform(0.2, 0.6)) * radius
        out.append(tube(AXIS, at, 3.05 * radius, wide, wall_mm=0.1 * radius, **other))
    return out


TURNED: dict[str, tuple[Maker, float, float]] = {
    "welding-neck flange": (neck_flange, 0.4, 0.3),
    "stack of flanges": (flange_stack, 0.75, 0.15),
    "flat flange": (flat_flange, 0.45, 0.3),
    "branch outlet": (branch_outlet, 0.5, 0.3),
    "loose pipe": (loose_pipe, 0.25, 0.5),
    "clamp": (clamp, 0.25, 0.5),
    "bar bundle": (bar_bundle, 0.1, 0.75),
}
"""Makers of things about the x axis, with how often they stand on it and lie along it."""

SET: dict[str, Maker] = {
    "caps": caps,
    "pile of pipe": pipe_pile,
    "crossed pipe": crossed_pipes,
    "valve": lone_valve,
    "steel section": steel_section,
}
"""Makers of things that are made as they stand."""
