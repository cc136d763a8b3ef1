"""Chance for round things of stores and sites that have nothing to do with pipe, and yet an outline
like a fitting's: buckets, drums, bottles, reels, tyres, traffic cones, cans, mugs, pots, logs.

Makers as in `synthetic.sample_things`. Sizes are as met every day, by eye.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from synthetic.assembly import ACROSS, AXIS, bead_along, box, by_logs, cone, hoop
from synthetic.draws import Rng, clipped_rgb, grey
from synthetic.sample_joined import rod, tube
from synthetic.sample_things import Look, Maker
from synthetic.scene import Prop


def bucket(rng: Rng, main: Look, other: Look) -> list[Prop]:
    """A bucket or a bin: wider at the open end, a rim, hoops or a seam, and a wire handle."""
    top = float(rng.uniform(110, 190))
    low = top * float(rng.uniform(0.6, 0.92))
    half = top * float(rng.uniform(0.6, 1.4))
    wall = top * float(rng.uniform(0.012, 0.04))
    out = [cone((0, 0, 0), low, top, half, wall, 2 * wall, **main)]
    if rng.random() < 0.8:
        out.append(hoop(AXIS, (half, 0, 0), top, wall * float(rng.uniform(1.2, 3.0)), **main))
    if rng.random() < 0.4:
        x = half * float(rng.uniform(0.4, 0.85))
        at = 0.5 * (low + top) + 0.5 * (top - low) * x / half
        wide = top * float(rng.uniform(0.02, 0.08))
        out.append(tube(AXIS, AXIS * x, at + 2 * wall, wide, wall_mm=3 * wall, **main))
    if rng.random() < 0.5:  # the handle, fallen to one side
        lean = np.array([1.0, 0.0, float(rng.uniform(0.02, 0.15))])
        lean /= np.linalg.norm(lean)
        out.append(hoop(lean, (half * 0.9, 0, 0), top + 2.5 * wall, 2.0, **other))
    return out


def drum(rng: Rng, main: Look, other: Look) -> list[Prop]:
    """A steel drum with rolling hoops, a sunk lid with its bungs, now and then a side seam."""
    radius = float(rng.uniform(140, 310))
    half = radius * float(rng.uniform(1.1, 1.6))
    out = [cone((0, 0, 0), radius, radius, half, 0.03 * radius, 1.93 * half, **main)]
    bead = radius * float(rng.uniform(0.02, 0.05))
    for share in (-0.36, 0.36) if rng.random() < 0.8 else (0.0,):
        out.append(hoop(AXIS, (half * share, 0, 0), radius, bead, **main))
    for end in (-1.0, 1.0):
        out.append(hoop(AXIS, (end * half, 0, 0), radius, 0.7 * bead, **main))
    if rng.random() < 0.6:
        at = np.array([0.96 * half, 0.6 * radius, 0.0])
        out.append(tube(AXIS, at, 0.12 * radius, 0.02 * half, **other))
    if rng.random() < 0.4:
        turn = float(rng.uniform(0, 6.28))
        out.append(bead_along(half, radius, 0.3 * bead, turn, **main))
    return out


def gas_bottles(rng: Rng, main: Look, other: Look) -> list[Prop]:
    """One or two gas bottles: a long body, a round shoulder, a neck and a valve or a cap."""
    radius = float(rng.uniform(70, 150))
    skirt = radius * float(rng.uniform(1.0, 4.5))
    dome = radius * float(rng.uniform(0.6, 1.1))
    out = []
    for number in range(int(rng.integers(1, 3))):
        look = main if number == 0 else other
        at = ACROSS * 2.1 * radius * number
        out.append(
            tube(AXIS, at, 0.0, skirt, shape=2.0, half_depth_mm=radius, dome_mm=dome, **look)
        )
        tip = at + AXIS * (skirt + dome)
        out.append(tube(AXIS, tip, 0.3 * radius, 0.25 * radius, **look))
        if rng.random() < 0.6:
            out.append(tube(AXIS, tip + AXIS * 0.35 * radius, 0.12 * radius, 0.3 * radius, **other))
        else:
            guard = 0.55 * radius
            out.append(tube(AXIS, tip + AXIS * 0.1 * radius, guard, 0.4 * radius,
                            wall_mm=0.06 * radius, **look))  # fmt: skip
    return out


def reel(rng: Rng, main: Look, other: Look) -> list[Prop]:
    """A cable reel, a hose reel or a bobbin: two discs, what is wound between, and the bore."""
    rim = by_logs(rng, 25, 700)
    half = rim * float(rng.uniform(0.3, 1.1))
    plate = rim * float(rng.uniform(0.02, 0.08))
    bore = rim * float(rng.uniform(0.04, 0.25))
    wound = rim * float(rng.uniform(0.35, 0.92))
    cable = rim * float(rng.uniform(0.02, 0.12))
    out = [
        tube(
            AXIS,
            np.zeros(3),
            wound,
            half,
            stripe_mm=cable,
            stripe=float(rng.uniform(0.3, 0.9)),
            **other,
        )
    ]
    for side in (-1.0, 1.0):
        out.append(tube(AXIS, AXIS * side * half, rim, plate, wall_mm=rim - bore, **main))
        if rng.random() < 0.6:
            boss = bore * float(rng.uniform(1.2, 2.0))
            out.append(tube(AXIS, AXIS * side * (half + plate), boss, plate,
                            wall_mm=boss - bore, **main))  # fmt: skip
    return out


def hose_coil(rng: Rng, main: Look, _other: Look) -> list[Prop]:
    """A hose, cable or rope in turns on each other, a strap about them."""
    thick = by_logs(rng, 4, 45)
    radius = thick * float(rng.uniform(4.0, 12.0))
    out = []
    for number in range(int(rng.integers(3, 8))):
        layer, within = divmod(number, 2)
        off = rng.normal(0.0, 0.25 * thick, 2)
        at = (layer * 1.75 * thick, float(off[0]), float(off[1]))
        wide = radius - within * 2.0 * thick * float(rng.uniform(0.9, 1.1))
        out.append(hoop(AXIS, at, wide, thick, **main))
    return out


def tyres(rng: Rng, main: Look, _other: Look) -> list[Prop]:
    """One to three tyres, one perhaps on its wheel; black mostly."""
    radius = float(rng.uniform(200, 420))
    half = radius * float(rng.uniform(0.25, 0.38))
    thick = radius * float(rng.uniform(0.2, 0.32))
    dark: Look = {"rgb": grey(rng, float(rng.uniform(0.015, 0.06)), 0.1), "roughness": 0.8}
    look = dark if rng.random() < 0.85 else main
    out = [
        tube(
            AXIS,
            AXIS * 2.1 * half * number,
            radius - thick,
            0.02 * half,
            shape=3.0,
            half_depth_mm=thick,
            dome_mm=half,
            stripe_mm=half * 0.3,
            stripe=0.6 if rng.random() < 0.6 else 0.0,
            **look,
        )
        for number in range(int(rng.choice([1, 1, 2, 3])))
    ]
    if rng.random() < 0.3:
        out.append(tube(AXIS, np.zeros(3), radius - 1.6 * thick, 0.4 * half, **main))
        out.append(tube(AXIS, AXIS * 0.4 * half, 0.2 * radius, 0.3 * half, **main))
    return out


def traffic_cone(rng: Rng, main: Look, _other: Look) -> list[Prop]:
    """A traffic cone on its square foot, with pale bands: a reducer's outline."""
    base = float(rng.uniform(80, 170))
    half = base * float(rng.uniform(1.0, 2.3))
    top = base * float(rng.uniform(0.12, 0.35))
    hot: Look = {
        "rgb": clipped_rgb(np.array([0.75, 0.12, 0.02]) * np.exp(rng.normal(0, 0.25, 3))),
        "roughness": float(rng.uniform(0.3, 0.8)),
    }
    look = hot if rng.random() < 0.7 else main
    out = [cone((0, 0, 0), base, top, half, 0.04 * base, 0.0, **look)]
    foot = base * float(rng.uniform(1.1, 1.4))
    black = look if rng.random() < 0.5 else look | {"rgb": grey(rng, 0.03, 0.1), "own_skin": 1.0}
    if look is main or rng.random() < 0.8:
        slab = 0.08 * base
        out.append(box((-half - slab, 0, 0), (slab, foot, foot), **black))
    pale: Look = {"rgb": grey(rng, float(rng.uniform(0.5, 0.9)), 0.03), "roughness": 0.4}
    for number in range(int(rng.integers(0, 3))):
        long = half * float(rng.uniform(0.08, 0.2))
        x = half * (-0.1 + 0.5 * number)
        ends = [0.5 * (base + top) - 0.5 * (base - top) * (x + d) / half for d in (-long, long)]
        lift = 0.012 * base
        out.append(cone((x, 0, 0), ends[0] + lift, ends[1] + lift, long, 2 * lift, 0.0, **pale))
    return out


def can(rng: Rng, main: Look, other: Look) -> list[Prop]:
    """A paint can or a tin, open or with its lid on, a label round it and a handle."""
    radius = float(rng.uniform(35, 140))
    half = radius * float(rng.uniform(0.8, 1.6))
    open_ = rng.random() < 0.5
    floor = half * float(rng.uniform(0.1, 1.6)) if open_ else 1.94 * half  # paint in it, or a lid
    out = [cone((0, 0, 0), radius, radius, half, 0.03 * radius, floor, **main)]
    for end in (-1.0, 1.0):
        out.append(hoop(AXIS, (end * half, 0, 0), radius, 0.035 * radius, **main))
    if not open_:
        out.append(tube(AXIS, AXIS * 0.95 * half, 0.8 * radius, 0.05 * half, **main))
    if rng.random() < 0.3:
        out.append(bead_along(half, radius, 0.02 * radius, float(rng.uniform(0, 6.28)), **main))
    if rng.random() < 0.6:
        long = half * float(rng.uniform(0.4, 0.85))
        out.append(tube(AXIS, np.zeros(3), 1.006 * radius, long, wall_mm=0.03 * radius, **other))
    if rng.random() < 0.5:
        lean = np.array([1.0, 0.0, float(rng.uniform(0.1, 0.7))])
        lean /= np.linalg.norm(lean)
        out.append(hoop(lean, (0.7 * half, 0, 0), 1.06 * radius, 0.02 * radius, **other))
    return out


def mug(rng: Rng, main: Look, _other: Look) -> list[Prop]:
    """A mug or a jug with its handle: a branch on a run, to who does not look twice."""
    radius = float(rng.uniform(32, 75))
    half = radius * float(rng.uniform(0.8, 1.8))
    low = radius * float(rng.uniform(0.75, 1.1))
    out = [cone((0, 0, 0), low, radius, half, 0.07 * radius, 0.15 * radius, **main)]
    thick = radius * float(rng.uniform(0.08, 0.16))
    reach, up = radius * float(rng.uniform(1.4, 1.9)), half * float(rng.uniform(0.35, 0.65))
    corners = [np.array([x, y, 0.0]) for x, y in (
        (up, 0.97 * min(low, radius)), (0.8 * up, reach), (-0.8 * up, reach),
        (-up, 0.97 * min(low, radius)),
    )]  # fmt: skip
    for a, b in pairwise(corners):
        out.append(rod(a, b, thick, **main))
    if rng.random() < 0.4:
        out.append(hoop(AXIS, (half, 0, 0), radius, 0.05 * radius, **main))
    return out


def pot(rng: Rng, main: Look, _other: Look) -> list[Prop]:
    """A plant pot or a tapered crate liner with a broad rim, or two in each other."""
    top = by_logs(rng, 40, 260)
    low = top * float(rng.uniform(0.5, 0.85))
    half = top * float(rng.uniform(0.6, 1.2))
    wall = top * float(rng.uniform(0.03, 0.08))
    fill = half * float(rng.choice([0.1, 0.1, 1.6]))
    out = [cone((0, 0, 0), low, top, half, wall, fill, **main)]
    rim = half * float(rng.uniform(0.08, 0.25))
    if rng.random() < 0.75:
        at = AXIS * (half - rim)
        out.append(tube(AXIS, at, top * 1.04, rim, wall_mm=0.04 * top + wall, **main))
    if rng.random() < 0.3:
        out.append(cone((rim * 2.5, 0, 0), low, top, half, wall, 2 * wall, **main))
    return out


def log(rng: Rng, _main: Look, _other: Look) -> list[Prop]:
    """A trunk or a post with pale ends, tapered, with the stump of a branch on it."""
    radius = by_logs(rng, 40, 260)
    half = radius * by_logs(rng, 1.2, 7.0)
    thin = radius * float(rng.uniform(0.7, 0.98))
    bark: Look = {
        "rgb": clipped_rgb(np.array([0.16, 0.1, 0.06]) * np.exp(rng.normal(0, 0.3, 3))),
        "roughness": 0.9, "stripe_mm": radius * float(rng.uniform(0.15, 0.6)),
        "stripe": float(rng.uniform(0.0, 0.4)),
    }  # fmt: skip
    wood = {"rgb": clipped_rgb(np.array([0.5, 0.35, 0.2]) * np.exp(rng.normal(0, 0.25, 3)))}
    out = [cone((0, 0, 0), radius, thin, half, 0.0, 0.0, **bark)]
    for end, wide in ((-1.0, radius), (1.0, thin)):
        out.append(tube(AXIS, AXIS * end * half, 0.93 * wide, 0.01 * half, **wood, roughness=0.8))
    for _ in range(int(rng.integers(0, 3))):
        lean = np.array([float(rng.normal(0, 0.5)), 0.0, 1.0])
        turn = float(rng.uniform(0, 6.28))
        lean = np.array([lean[0], np.cos(turn), np.sin(turn)])
        lean /= np.linalg.norm(lean)
        branch = radius * float(rng.uniform(0.15, 0.5))
        reach = radius * float(rng.uniform(1.1, 1.9))
        at = AXIS * half * float(rng.uniform(-0.6, 0.6))
        out.append(tube(lean, at + lean * 0.5 * reach, branch, 0.5 * reach, **bark))
        out.append(tube(lean, at + lean * reach, 0.9 * branch, 0.03 * branch, **wood))
    return out


def bolts(rng: Rng, main: Look, _other: Look) -> list[Prop]:
    """A few bolts lying about: a head and a threaded shank each."""
    radius = by_logs(rng, 4, 25)
    half = radius * float(rng.uniform(3.0, 8.0))
    out = []
    for _ in range(int(rng.integers(1, 4))):
        turn = float(rng.uniform(0, 6.28))
        axis = np.array([np.cos(turn), np.sin(turn), 0.0])
        at = np.append(rng.normal(0.0, 0.8 * half, 2), 0.0)
        out.append(tube(axis, at, radius, half, stripe_mm=0.35 * radius, stripe=0.7, **main))
        out.append(tube(axis, at + axis * half, 1.75 * radius, 0.6 * radius, **main))
    return out


GOODS: dict[str, tuple[Maker, float, float]] = {
    "bucket": (bucket, 0.65, 0.25),
    "drum": (drum, 0.6, 0.3),
    "gas bottle": (gas_bottles, 0.65, 0.3),
    "reel": (reel, 0.35, 0.5),
    "hose coil": (hose_coil, 0.8, 0.1),
    "tyre": (tyres, 0.5, 0.4),
    "traffic cone": (traffic_cone, 0.75, 0.2),
    "can": (can, 0.7, 0.2),
    "mug": (mug, 0.7, 0.2),
    "pot": (pot, 0.7, 0.2),
    "log": (log, 0.25, 0.65),
}
"""Makers of things about the x axis, with how often they stand on it and lie along it."""

SET_GOODS: dict[str, Maker] = {"bolts": bolts}
"""Makers of things that are made as they lie."""
