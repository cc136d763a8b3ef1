"""Elbows and reducers as sweeps: a closed ring at each station, along arcs, pipes or cones.

Dimensions come from the tables of ASME B16.9 in `fittings/`. Bevels of 37.5° with a land of 1.6 mm:
ASME B16.25 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fittings.words import Construction, Kind, Orientation
from tests.second_renderer.meshes import Sheet, grid_sheet, pointing
from tests.second_renderer.welds import Seam, Weld

Array = NDArray[np.float64]

LAND_MM = 1.6
BEVEL = float(np.tan(np.deg2rad(37.5)))
AROUND = 560
"""Vertices around a ring: 0.9 mm apart at NPS 6, so that a ripple of 2 mm still shows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """One surface of a piece before it gets its skin. `region` is "outside", "face" (machined) or
    "bore"; `all_weld` says that nothing of it is parent metal."""

    sheet: Sheet
    region: str
    seams: tuple[Seam, ...] = ()
    all_weld: Seam | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A fitting as its surfaces."""

    kind: Kind
    construction: Construction
    text: str
    wall_mm: float
    ends: tuple[tuple[Array, Array, float], ...]  # centre, outward direction, outside radius
    blanks: tuple[Blank, ...]


Ring = Callable[[Array, Array, Array], Array]
"""(station (N,), angle (N,), radius inwards (N,) from the outside) → points (N, 3)."""


def shell(
    ring: Ring,
    stations: Array,
    wall_mm: float,
    seams_at: Callable[[Array, Array], tuple[Seam, ...]],
) -> tuple[Blank, ...]:
    """Outside, bevels, lands and bore of one sweep; `stations` run from the first end to the last,
    and `seams_at` tells the seams for stations and angles of the outside's vertices."""
    angle = np.linspace(0.0, 2 * np.pi, AROUND, endpoint=False)
    first, last = float(stations[0]), float(stations[-1])

    def grid(at: Array, inset_mm: Array, angles: Array = angle) -> Array:
        rows, around = np.meshgrid(np.arange(len(at)), angles, indexing="ij")
        points = ring(at[rows.ravel()], around.ravel(), inset_mm[rows.ravel()])
        return points.reshape(len(at), len(angles), 3)

    # The outside stops where the bevel begins: so much of the sweep as the bevel is long.
    depth_mm = max(wall_mm - LAND_MM, 0.2)
    ends = grid(np.array([first, stations[1]]), np.zeros(2))
    per_station = float(np.linalg.norm(ends[1] - ends[0], axis=-1).mean()) / (stations[1] - first)
    back = depth_mm * BEVEL / per_station
    outside = np.concatenate(
        [
            [first + back],
            stations[(stations > first + back) & (stations < last - back)],
            [last - back],
        ]
    )
    rows, around = np.meshgrid(outside, angle, indexing="ij")
    none = np.zeros(len(outside))
    points = grid(outside, none)
    sheet = pointing(grid_sheet(points), (points - grid(outside, none + wall_mm)).reshape(-1, 3))
    blanks = [Blank(sheet=sheet, region="outside", seams=seams_at(rows.ravel(), around.ravel()))]
    for end, inner in ((first, first + back), (last, last - back)):
        insets = np.array([0.0, depth_mm])
        blanks.append(Blank(sheet=grid_sheet(grid(np.array([inner, end]), insets)), region="face"))
        land = np.array([depth_mm, wall_mm])
        blanks.append(Blank(sheet=grid_sheet(grid(np.array([end, end]), land)), region="face"))
    few = np.linspace(first, last, 60)
    coarse = np.linspace(0.0, 2 * np.pi, 160, endpoint=False)
    bore = grid_sheet(grid(few, np.full(len(few), wall_mm), coarse))
    return (*blanks, Blank(sheet=bore, region="bore"))


def long_seam(weld: Weld, angle_deg: float, radius_mm: Array, around: Array, way_mm: Array) -> Seam:
    """A seam along the sweep at one angle of its rings."""
    off = np.angle(np.exp(1j * (around - np.deg2rad(angle_deg))))
    return Seam(
        orientation=Orientation.LONGITUDINAL, weld=weld, off_mm=radius_mm * off, way_mm=way_mm
    )


def formed_elbow(
    text: str,
    radius_mm: float,
    bend_mm: float,
    angle_deg: float,
    wall_mm: float,
    welds: Sequence[tuple[float, Weld]] = (),
) -> Piece:
    """An arc; `welds` are seams along it at angles from the extrados, in degrees."""
    total = np.deg2rad(angle_deg)

    def ring(station: Array, around: Array, inset_mm: Array) -> Array:
        away = bend_mm + (radius_mm - inset_mm) * np.cos(around)
        up = (radius_mm - inset_mm) * np.sin(around)
        return np.stack([away * np.cos(station), away * np.sin(station), up], -1)

    def seams_at(station: Array, around: Array) -> tuple[Seam, ...]:
        way = station * (bend_mm + radius_mm * np.cos(around))
        return tuple(
            long_seam(weld, at_deg, np.full(len(around), radius_mm), around, way)
            for at_deg, weld in welds
        )

    count = int(np.clip(bend_mm * total / (radius_mm * 2 * np.pi / AROUND), 200, 700))
    stations = np.linspace(0.0, total, count)
    ends = tuple(
        (
            bend_mm * np.array([np.cos(t), np.sin(t), 0]),
            sign * np.array([-np.sin(t), np.cos(t), 0]),
            radius_mm,
        )
        for t, sign in ((0.0, -1.0), (total, 1.0))
    )
    return Piece(
        kind=Kind.ELBOW,
        construction=Construction.WELDED if welds else Construction.SEAMLESS,
        text=text,
        wall_mm=wall_mm,
        ends=ends,
        blanks=shell(ring, stations, wall_mm, seams_at),
    )


def mitred_elbow(
    text: str,
    radius_mm: float,
    bend_mm: float,
    angle_deg: float,
    wall_mm: float,
    welds: Sequence[Weld],
    along: Weld | None = None,
) -> Piece:
    """Straight pieces of pipe, one more than there are `welds`, cut flat at equal angles and about
    the arc of the elbow that they stand for; `along` is a seam of the pipe itself."""
    cuts = len(welds)
    half = np.deg2rad(angle_deg) / (2 * cuts)
    # Corners of the polygon of tangents: the arc's angles at which the cuts lie.
    corner = half * (1 + 2 * np.arange(cuts))
    far = bend_mm / np.cos(half)
    total = np.deg2rad(angle_deg)
    knots = np.array(
        [
            [bend_mm, 0.0],
            *(far * np.array([np.cos(a), np.sin(a)]) for a in corner),
            bend_mm * np.array([np.cos(total), np.sin(total)]),
        ]
    )
    cut_at = np.array([0.0, *corner, total])
    """The planes of all cuts and ends hold the bend's axis: each is one angle about it."""

    def ring(station: Array, around: Array, inset_mm: Array) -> Array:
        part = np.clip(np.floor(station), 0, cuts).astype(int)
        share = (station - part)[:, None]
        start = knots[part]
        direction = knots[part + 1] - start
        direction = direction / np.linalg.norm(direction, axis=1, keepdims=True)
        outward = np.stack([direction[:, 1], -direction[:, 0]], -1)
        radius = radius_mm - inset_mm
        side = start + (radius * np.cos(around))[:, None] * outward

        def met(angle: Array) -> Array:
            normal = np.stack([-np.sin(angle), np.cos(angle)], -1)
            way = -(side * normal).sum(1) / (direction * normal).sum(1)
            return side + way[:, None] * direction

        flat = met(cut_at[part]) * (1 - share) + met(cut_at[part + 1]) * share
        return np.concatenate([flat, (radius * np.sin(around))[:, None]], 1)

    def seams_at(station: Array, around: Array) -> tuple[Seam, ...]:
        flat = ring(station, around, np.zeros(len(station)))
        found = [
            Seam(
                orientation=Orientation.CIRCUMFERENTIAL,
                weld=weld,
                way_mm=radius_mm * around,
                off_mm=-flat[:, 0] * np.sin(angle) + flat[:, 1] * np.cos(angle),
            )
            for weld, angle in zip(welds, corner, strict=True)
        ]
        if along is not None:
            way = station * bend_mm * total / (cuts + 1)
            found.append(long_seam(along, 100.0, np.full(len(around), radius_mm), around, way))
        return tuple(found)

    stations = np.concatenate(
        [[0.0], *(_dense(part, part + 1, 640 // (cuts + 1)) for part in range(cuts + 1))]
    )
    ends = (
        (np.array([*knots[0], 0.0]), np.array([0.0, -1.0, 0.0]), radius_mm),
        (np.array([*knots[-1], 0.0]), np.array([-np.sin(total), np.cos(total), 0.0]), radius_mm),
    )
    return Piece(
        kind=Kind.ELBOW,
        construction=Construction.FABRICATED,
        text=text,
        wall_mm=wall_mm,
        ends=ends,
        blanks=shell(ring, stations, wall_mm, seams_at),
    )


def reducer(
    text: str,
    large_mm: float,
    small_mm: float,
    length_mm: float,
    wall_mm: float,
    *,
    eccentric: bool,
    knees: Sequence[tuple[float, float, Weld]] = (),
    along: Sequence[tuple[float, Weld]] = (),
) -> Piece:
    """A reducer with these end radii. Without `knees` an S profile, formed; with them straight
    pieces between places (share of the length, share of the way from large to small) that are
    welded together. `along` are seams along it at angles in degrees."""
    drop = large_mm - small_mm
    places = np.array([0.0, *(knee[0] for knee in knees), 1.0])
    shares = np.array([0.0, *(knee[1] for knee in knees), 1.0])

    def profile(station: Array) -> Array:
        if knees:
            return np.asarray(np.interp(station, places, shares))
        inner = np.clip((station - 0.12) / 0.76, 0.0, 1.0)
        return np.asarray(inner * inner * (3 - 2 * inner))

    def ring(station: Array, around: Array, inset_mm: Array) -> Array:
        down = profile(station)
        radius = large_mm - drop * down - inset_mm
        lift = -drop * down * (1.0 if eccentric else 0.0)
        return np.stack(
            [station * length_mm, radius * np.cos(around) + lift, radius * np.sin(around)], -1
        )

    def seams_at(station: Array, around: Array) -> tuple[Seam, ...]:
        radius = large_mm - drop * profile(station)
        found = [
            Seam(
                orientation=Orientation.CIRCUMFERENTIAL,
                weld=weld,
                way_mm=radius * around,
                off_mm=(station - place) * length_mm,
            )
            for place, _, weld in knees
        ]
        found += [long_seam(weld, at, radius, around, station * length_mm) for at, weld in along]
        return tuple(found)

    stations = np.linspace(0.0, 1.0, int(np.clip(length_mm / 0.7, 200, 600)))
    fabricated = Construction.FABRICATED if knees else Construction.WELDED
    lift = -drop if eccentric else 0.0
    return Piece(
        kind=Kind.REDUCER,
        construction=fabricated if knees or along else Construction.SEAMLESS,
        text=text,
        wall_mm=wall_mm,
        blanks=shell(ring, stations, wall_mm, seams_at),
        ends=(
            (np.zeros(3), np.array([-1.0, 0, 0]), large_mm),
            (np.array([length_mm, lift, 0.0]), np.array([1.0, 0, 0]), small_mm),
        ),
    )


def _dense(start: float, end: float, count: int) -> Array:
    """Stations after `start` up to `end`, closer together near both, where the cuts are."""
    even = np.linspace(0.0, 1.0, count + 1)[1:]
    bent = 0.5 - 0.5 * np.cos(np.pi * even)
    return np.asarray(start + (end - start) * (0.5 * even + 0.5 * bent))
