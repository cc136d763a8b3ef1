"""Which piece a picture shows: kind, size and make, by chance."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fittings import dimensions
from fittings.words import Construction, Kind
from tests.second_renderer.sweeps import Piece, formed_elbow, mitred_elbow, reducer
from tests.second_renderer.tees import fabricated_tee, formed_tee
from tests.second_renderer.welds import Weld, draw_weld

_SIZES = ("2", "3", "4", "6", "8", "10", "12", "16", "20", "24")
_SCHEDULES = ("STD", "XS")
KINDS = (Kind.ELBOW, Kind.TEE, Kind.REDUCER)


def draw_construction(rng: np.random.Generator) -> Construction:
    """Half fabricated, a fifth welded, the rest seamless."""
    makes = (Construction.FABRICATED, Construction.WELDED, Construction.SEAMLESS)
    return makes[rng.choice(3, p=[0.5, 0.2, 0.3])]


def draw_piece(rng: np.random.Generator, kind: Kind, make: Construction, *, painted: bool) -> Piece:
    """A piece of that kind and make; `painted` says that paint lies over its welds."""
    size = str(rng.choice(_SIZES))
    pipe = dimensions.pipe(size, str(rng.choice(_SCHEDULES)))
    wall = pipe.wall_mm
    radius = pipe.od_mm / 2

    def weld() -> Weld:
        return draw_weld(rng, wall, painted=painted)

    if kind is Kind.ELBOW:
        return _elbow(rng, size, make, radius, wall, weld)
    if kind is Kind.TEE:
        return _tee(rng, size, make, wall, weld)
    if kind is Kind.REDUCER:
        return _reducer(rng, size, make, wall, weld)
    raise ValueError(f"no piece of kind {kind.value!r}")


def _elbow(
    rng: np.random.Generator,
    size: str,
    make: Construction,
    radius: float,
    wall: float,
    weld: Callable[[], Weld],
) -> Piece:
    short = rng.random() < 0.25
    angle = 90 if short or rng.random() < 0.75 else 45
    which = dimensions.ElbowRadius.SHORT if short else dimensions.ElbowRadius.LONG
    bend = dimensions.elbow(size, which, angle).bend_radius_mm
    text = f"NPS {size} {angle}° {which.value} radius elbow"
    if make is Construction.FABRICATED:
        pieces = int(rng.integers(3, 6)) if angle == 90 else int(rng.integers(2, 4))
        along = weld() if rng.random() < 0.2 else None
        welds = [weld()] * (pieces - 1)  # one welder, one setting
        return mitred_elbow(f"{text}, {pieces} pieces", radius, bend, angle, wall, welds, along)
    if make is Construction.WELDED:
        first = weld()
        places = [(0.0, 180.0), (90.0, 270.0), (180.0,), (90.0,)][rng.integers(4)]
        return formed_elbow(text, radius, bend, angle, wall, [(at, first) for at in places])
    return formed_elbow(text, radius, bend, angle, wall)


def _tee(
    rng: np.random.Generator, size: str, make: Construction, wall: float, weld: Callable[[], Weld]
) -> Piece:
    outlets = [each for each in dimensions.outlets(size) if each in _SIZES]
    outlet = str(rng.choice(outlets)) if outlets and rng.random() < 0.5 else size
    dims = dimensions.tee(size, outlet)
    text = f"NPS {size} × {outlet} tee"
    sizes = (dims.run_od_mm / 2, dims.outlet_od_mm / 2, dims.run_c_mm, dims.outlet_m_mm, wall)
    if make is Construction.FABRICATED:
        along = weld() if rng.random() < 0.2 else None
        return fabricated_tee(f"{text}, welded on", *sizes, weld(), along)
    # What is left between the run's wall and the outlet's end bounds the crotch's radius.
    room = 0.6 * (dims.outlet_m_mm - dims.run_od_mm / 2)
    crotch = min(rng.uniform(0.1, 0.22) * dims.outlet_od_mm, room)
    if make is Construction.WELDED:
        split = str(rng.choice(["in plane", "sides"]))
        return formed_tee(text, *sizes, crotch, split, weld())
    return formed_tee(text, *sizes, crotch)


def _reducer(
    rng: np.random.Generator, size: str, make: Construction, wall: float, weld: Callable[[], Weld]
) -> Piece:
    small = str(rng.choice(list(dimensions.small_ends(size)[:4])))
    dims = dimensions.reducer(size, small)
    eccentric = bool(rng.random() < 0.4)
    shape = "eccentric" if eccentric else "concentric"
    text = f"NPS {size} × {small} {shape} reducer"
    sizes = (dims.large_od_mm / 2, dims.small_od_mm / 2, dims.end_to_end_mm, wall)
    if make is Construction.FABRICATED:
        first, last = rng.uniform(0.12, 0.3), rng.uniform(0.7, 0.88)
        one = weld()
        knees = [(first, 0.0, one), (last, 1.0, one)]
        if rng.random() < 0.35:
            middle = 0.5 * (first + last)
            knees.insert(1, (middle, float(rng.uniform(0.42, 0.58)), one))
        along = [(float(rng.uniform(0, 360)), weld())] if rng.random() < 0.5 else []
        return reducer(f"{text}, rolled", *sizes, eccentric=eccentric, knees=knees, along=along)
    if make is Construction.WELDED:
        first_deg = float(rng.uniform(0, 360))
        one = weld()
        places = [first_deg] if rng.random() < 0.5 else [first_deg, first_deg + 180.0]
        return reducer(text, *sizes, eccentric=eccentric, along=[(at, one) for at in places])
    return reducer(text, *sizes, eccentric=eccentric)
