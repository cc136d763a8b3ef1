"""Chance for pieces: dimensions from the standards, make, and where welds run."""

from __future__ import annotations

from dataclasses import replace
from math import cos, log, pi, radians, sin
from typing import TypedDict

import numpy as np

from fittings import dimensions
from fittings.dimensions import ElbowRadius, SizeNotListed, SizeTable
from fittings.geometry import mitre_cut_angle_deg
from fittings.welds import bead_half_width_mm
from fittings.words import Construction, Kind
from synthetic.draws import Rng
from synthetic.sample_coats import COATED_SHARE, under_coat
from synthetic.sample_formed import (
    BRIGHT_SHARE,
    TIGHT_OF_OD,
    TIGHT_SHARE,
    bright_skin,
    formed_ridge,
)
from synthetic.sample_marks import sample_mark
from synthetic.sample_skins import sample_skin
from synthetic.sample_welds import branch_weld, sample_weld
from synthetic.scene import Finish, Piece, Weld


class _LongSeams(TypedDict, total=False):
    long_count: float
    long_deg: float
    long_on_outlet: float


def outside_points(piece: Piece) -> np.ndarray:
    """About a hundred points (N, 3) on the outside surface, in the piece's frame, mm."""
    turn = np.linspace(0, 2 * pi, 13)[:-1]
    r, s = piece.radius_mm, piece.second_radius_mm
    if piece.kind is Kind.ELBOW:
        half = radians(piece.bend_deg) / 2
        stub = piece.stub_mm / piece.length_mm
        angle = np.concatenate([[-half - stub], np.linspace(-half, half, 7), [half + stub]])
        a, t = (g.reshape(-1) for g in np.meshgrid(angle, turn))
        rho = piece.length_mm + r * np.cos(t)
        return np.stack([rho * np.cos(a), rho * np.sin(a), r * np.sin(t)], 1)
    if piece.kind is Kind.TEE:
        x, t = (g.reshape(-1) for g in np.meshgrid(np.linspace(-1, 1, 5) * piece.length_mm, turn))
        run = np.stack([x, r * np.cos(t), r * np.sin(t)], 1)
        top = np.stack([s * np.cos(turn), s * np.sin(turn), 0 * turn + piece.second_length_mm], 1)
        return np.concatenate([run, top])
    rings = []
    for at, radius in ((0.0, r), (piece.length_mm / 2, (r + s) / 2), (piece.length_mm, s)):
        centre = piece.eccentric * (radius - r)
        rings.append(
            np.stack([0 * turn + at, radius * np.sin(turn), centre + radius * np.cos(turn)], 1)
        )
    return np.concatenate(rings)


def piece_ends(piece: Piece) -> list[tuple[np.ndarray, np.ndarray, float]]:
    """Each open end: its centre (3,) and outward axis (3,) in the piece's frame, its radius, mm."""
    r, s = piece.radius_mm, piece.second_radius_mm
    if piece.kind is Kind.ELBOW:
        half = radians(piece.bend_deg) / 2
        ends = []
        for side in (-1.0, 1.0):
            out = np.array([-sin(half), side * cos(half), 0.0])
            arc = np.array([cos(half), side * sin(half), 0.0]) * piece.length_mm
            ends.append((arc + out * piece.stub_mm, out, r))
        return ends
    x = np.array([1.0, 0.0, 0.0])
    if piece.kind is Kind.TEE:
        z = np.array([0.0, 0.0, 1.0])
        length = piece.length_mm
        return [(-x * length, -x, r), (x * length, x, r), (z * piece.second_length_mm, z, s)]
    centre = np.array([piece.length_mm, 0.0, piece.eccentric * (s - r)])
    return [(0 * x, -x, r), (centre, x, s)]


UNKINKED = 0.15
"""Share of fabricated elbows and reducers that have joints but no kinks: the weld alone speaks."""

SIZE_SPREAD = 1.75
"""Pieces that lie together differ from the first in radius by no more than this factor."""

_PAD = " with a pad"
_PAINTED = ("paint", "primer", "varnish")
_HIDDEN = (Finish.GROUND_FLUSH, Finish.PAINTED_OVER)


def sample_piece(
    rng: Rng,
    kind: Kind,
    construction: Construction | None = None,
    *,
    about_mm: float | None = None,
    hard: bool = False,
) -> Piece:
    """A piece of that kind at the origin, with dimensions of a listed size.

    With `about_mm` a size whose radius is within SIZE_SPREAD of it. `hard` draws one of a pair that
    is told apart by little: formed with a tight crotch or a smooth profile, or fabricated to the
    same proportions and ground or painted over, both mostly painted.
    """
    if construction is None:
        shares = [0.5, 0.0, 0.5] if hard else [0.3, 0.24, 0.46]
        construction = (Construction.SEAMLESS, Construction.WELDED, Construction.FABRICATED)[
            int(rng.choice(3, p=shares))
        ]
    make = {Kind.ELBOW: _elbow, Kind.TEE: _tee, Kind.REDUCER: _reducer}[kind]
    piece = make(rng, construction, about_mm, hard)
    look = rng.random()
    skin = bright_skin(rng) if look < BRIGHT_SHARE else sample_skin(rng)
    if hard and rng.random() < 0.6:
        for _ in range(8):
            skin = skin if skin.name in _PAINTED else sample_skin(rng)
    long_present = construction is Construction.WELDED or (
        construction is Construction.FABRICATED and rng.random() < _long_share(piece)
    )
    along = sample_weld(rng, piece.wall_mm * float(rng.uniform(0.7, 1.0)), skin)
    cross = sample_weld(rng, piece.wall_mm, skin)
    if hard:
        for _ in range(12):
            cross = cross if cross.finish in _HIDDEN else sample_weld(rng, piece.wall_mm, skin)
    if kind is Kind.TEE:
        cross = branch_weld(rng, piece, cross)
        piece = _with_room_for_pad(piece, cross)
    piece = replace(
        formed_ridge(rng, piece),
        construction=construction,
        skin=skin,
        along_weld=replace(along, present=float(long_present)),
        cross_weld=replace(cross, present=float(construction is Construction.FABRICATED)),
    )
    # Hard pairs have paint and corners of their own, alike on both.
    if look > 1.0 - COATED_SHARE and not hard:
        piece = under_coat(rng, piece)
        piece = _with_room_for_pad(piece, piece.cross_weld)  # a coat leaves broader welds
    return replace(
        piece,
        marks=(sample_mark(rng, piece), sample_mark(rng, piece), sample_mark(rng, piece)),
    )


def _with_room_for_pad(piece: Piece, cross: Weld) -> Piece:
    """The piece without its pad, if that is too narrow: its two welds would be one, and there is no
    pad on so small a piece."""
    if not 0 < piece.pad_width_mm < 3.0 * cross.half_width_mm:
        return piece
    label = piece.label.removesuffix(_PAD)
    return replace(piece, pad_width_mm=0.0, pad_thickness_mm=0.0, label=label)


def _long_share(piece: Piece) -> float:
    """How often a fabricated piece has longitudinal seams too: gores always, a rolled cone mostly,
    other segments where they are cut from welded pipe."""
    if piece.kind is Kind.REDUCER and piece.steps < 1.5:
        return 1.0 if piece.long_count > 3 else 0.85
    return 0.25


def _listed(rng: Rng, table: SizeTable, about_mm: float | None) -> str:
    """A size of the table; every size is as likely, since small and large look alike here."""
    sizes = dimensions.listed_sizes(table)
    if about_mm is not None:
        ratios = [dimensions.outside_diameter_mm(size[0]) / (2 * about_mm) for size in sizes]
        near = tuple(
            size
            for size, ratio in zip(sizes, ratios, strict=True)
            if 1 / SIZE_SPREAD <= ratio <= SIZE_SPREAD
        )
        sizes = near or (min(zip(sizes, ratios, strict=True), key=lambda s: abs(log(s[1])))[0],)
    return sizes[int(rng.integers(len(sizes)))][0]


def _wall_mm(rng: Rng, nps: str) -> float:
    standard = dimensions.pipe(nps, "STD")
    wall = standard.wall_mm * float(np.exp(rng.uniform(np.log(0.6), np.log(2.2))))
    return min(wall, 0.35 * standard.od_mm / 2)


def _long(rng: Rng, two: float) -> _LongSeams:
    """Where longitudinal seams run: one anywhere, or two opposite at the sides or in the plane."""
    if rng.random() < two:
        return {"long_count": 2.0, "long_deg": float(rng.choice([0.0, 90.0]) + rng.normal(0, 2))}
    place = float(rng.choice([0.0, 90.0, 180.0, 270.0])) + float(rng.normal(0, 4))
    return {
        "long_count": 1.0,
        "long_deg": place if rng.random() < 0.6 else float(rng.uniform(0, 360)),
    }


def _elbow(rng: Rng, construction: Construction, about_mm: float | None, hard: bool) -> Piece:
    short = rng.random() < 0.3
    table = SizeTable.ELBOW_SHORT_90 if short else SizeTable.ELBOW_LONG_90
    nps = _listed(rng, table, about_mm)
    angle = 90 if short or rng.random() < 0.7 else 45
    row = dimensions.elbow(nps, ElbowRadius.SHORT if short else ElbowRadius.LONG, angle)
    radius = row.od_mm / 2
    piece = Piece(
        kind=Kind.ELBOW,
        label=f"NPS {row.nps} {'short' if short else 'long'}-radius {angle}° elbow",
        radius_mm=radius,
        wall_mm=_wall_mm(rng, nps),
        length_mm=max(row.bend_radius_mm, 1.02 * radius),
        bend_deg=float(angle),
        stub_mm=row.tangent_mm
        + (float(rng.uniform(0, 0.15)) * radius if rng.random() < 0.3 else 0),
        bevel=float(rng.random() < 0.8),
        **_long(rng, 0.45),
    )
    if construction is Construction.FABRICATED:
        # The hard ones are cut so fine, or of formed bends, that the outline says little.
        shares = [0.3, 0.0, 0.3, 0.4] if hard else [0.2, 0.35, 0.28, 0.17]
        pieces = int(rng.choice([2, 3, 4, 5], p=shares))
        if angle == 45:
            pieces = int(rng.choice([2, 3]))
        # Two formed bends butted together.
        formed = pieces == 2 and rng.random() < (1.0 if hard else 0.5)
        piece = replace(
            piece,
            pieces=float(pieces),
            cut_deg=float(mitre_cut_angle_deg(angle, pieces)),
            kinked=0.0 if formed or rng.random() < UNKINKED else 1.0,
            stub_mm=piece.stub_mm
            + float(rng.uniform(0, 0.8)) * radius * (not hard and rng.random() < 0.5),
            length_mm=piece.length_mm * (1.0 if hard else float(rng.uniform(0.95, 1.15))),
            long_stagger_deg=float(rng.uniform(40, 180)),
            label=piece.label + f", {pieces} pieces welded",
        )
    return piece


def _tee(rng: Rng, construction: Construction, about_mm: float | None, hard: bool) -> Piece:
    nps = _listed(rng, SizeTable.STRAIGHT_TEE, about_mm)
    row = dimensions.tee(nps)
    if rng.random() < 0.5:
        try:
            outlets = [
                o
                for o in dimensions.outlets(nps)
                if dimensions.outside_diameter_mm(o) > 0.3 * row.run_od_mm
            ]
            if outlets:
                row = dimensions.tee(nps, outlets[int(rng.integers(len(outlets)))])
        except SizeNotListed:
            pass  # no reducing tee is listed for this run: keep the straight one
    wall = _wall_mm(rng, nps)
    run, outlet = row.run_od_mm / 2, row.outlet_od_mm / 2
    fabricated = construction is Construction.FABRICATED
    # A formed crotch has a radius; a branch weld leaves a corner that grinding can only round.
    crotch = outlet * float(rng.uniform(0.12, 0.55))
    if rng.random() < TIGHT_SHARE:
        crotch = 2.0 * outlet * float(rng.uniform(*TIGHT_OF_OD))
    crotch = wall * float(rng.uniform(0.0, 1.0)) if fabricated else max(crotch, 1.2 * wall)
    if hard:
        crotch = wall * float(rng.uniform(0.7, 1.3))
    longer = fabricated and not hard
    placement = int(rng.integers(3))
    placements: tuple[_LongSeams, ...] = (
        {"long_count": 1.0, "long_deg": 180.0 + float(rng.normal(0, 6)), "long_on_outlet": 0.0},
        {"long_count": 2.0, "long_deg": 0.0, "long_on_outlet": 1.0},
        {"long_count": 2.0, "long_deg": 90.0 + float(rng.normal(0, 3)), "long_on_outlet": 0.0},
    )
    long = placements[placement]
    if fabricated:
        long = {
            "long_count": 1.0,
            "long_deg": float(rng.uniform(60, 300)),
            "long_on_outlet": float(rng.random() < 0.3),
        }
    piece = Piece(
        kind=Kind.TEE,
        label=f"NPS {row.run_nps} × {row.outlet_nps} tee"
        + (", outlet welded on" if fabricated else ""),
        radius_mm=run,
        second_radius_mm=min(outlet, 0.999 * run),
        wall_mm=wall,
        second_wall_mm=max(wall * float(rng.uniform(0.7, 1.0)), 0.03 * outlet),
        length_mm=row.run_c_mm * (float(rng.uniform(1.0, 1.5)) if longer else 1.0),
        second_length_mm=max(row.outlet_m_mm, 1.08 * run)
        * (float(rng.uniform(1.0, 1.3)) if longer else 1.0),
        crotch_radius_mm=crotch,
        bevel=float(rng.random() < 0.8),
        **long,
    )
    return _welded_on(rng, piece) if longer else piece


def _welded_on(rng: Rng, piece: Piece) -> Piece:
    """The outlet's joint: set on, set in or between the two; with a pad where there is room."""
    if rng.random() < 0.7:
        shift = piece.second_wall_mm * float(rng.uniform(0.15, 0.45))
        piece = replace(piece, root_shift_mm=shift if rng.random() < 0.5 else -shift)
    outlet = piece.second_radius_mm
    # A pad that reached the run's flanks would be a full saddle; it stays on the upper side.
    room = min(0.92 * piece.radius_mm, 0.92 * piece.length_mm) - outlet
    width = min(outlet * float(rng.uniform(0.3, 0.8)), room)
    if rng.random() < 0.5 and width > 0.2 * outlet:
        piece = replace(
            piece,
            pad_width_mm=width,
            pad_thickness_mm=piece.wall_mm * float(rng.uniform(0.8, 1.3)),
            second_length_mm=piece.second_length_mm + piece.wall_mm,
            label=piece.label + _PAD,
        )
    return piece


def _reducer(rng: Rng, construction: Construction, about_mm: float | None, hard: bool) -> Piece:
    large = _listed(rng, SizeTable.REDUCER, about_mm)
    smalls = [
        s
        for s in dimensions.small_ends(large)
        if dimensions.outside_diameter_mm(s) > 0.3 * dimensions.outside_diameter_mm(large)
    ]
    row = dimensions.reducer(large, smalls[int(rng.integers(len(smalls)))])
    eccentric = rng.random() < 0.45
    form, length = "eccentric" if eccentric else "concentric", row.end_to_end_mm
    piece = Piece(
        kind=Kind.REDUCER,
        label=f"NPS {row.large_nps} × {row.small_nps} {form} reducer",
        radius_mm=row.large_od_mm / 2,
        second_radius_mm=row.small_od_mm / 2,
        wall_mm=_wall_mm(rng, row.small_nps),
        length_mm=length,
        stub_mm=length * float(rng.uniform(0.05, 0.22)),
        second_stub_mm=length * float(rng.uniform(0.05, 0.22)),
        bell=float(rng.uniform(0.5, 1.0)) if rng.random() < 0.6 else float(rng.uniform(0.0, 0.5)),
        corner=float(rng.uniform(0.08, 0.35)),
        eccentric=float(eccentric),
        bevel=float(rng.random() < 0.8),
        **_long(rng, 0.35),
    )
    if hard:
        piece = replace(piece, bell=float(rng.uniform(0.85, 1.0)))
    if construction is Construction.FABRICATED:
        length *= 1.0 if hard else float(rng.uniform(1.0, 1.6))
        ways = ("cone", "gores", "rings")
        how = "rings" if hard else ways[int(rng.choice(3, p=[0.35, 0.3, 0.35]))]
        gores = float(rng.choice([4, 6, 8]))
        if how == "gores":  # fewer round a small end, so that seams do not cover it
            room = piece.second_radius_mm / bead_half_width_mm(piece.wall_mm)
            gores = 8.0 if gores > 6 and room > 5.0 else 6.0 if gores > 4 and room > 4.0 else 4.0
            how = "gores" if room > 2.5 else "cone"
        piece = replace(
            piece,
            steps=float(rng.choice([2, 3], p=[0.6, 0.4])) if how == "rings" else 1.0,
            kinked=float(rng.random() > UNKINKED),
            length_mm=length,
            stub_mm=length * float(rng.uniform(0.1, 0.22 if hard else 0.3)),
            second_stub_mm=length * float(rng.uniform(0.1, 0.22 if hard else 0.3)),
            long_count=gores if how == "gores" else 1.0,
            long_on_stubs=float(how == "rings" or rng.random() < 0.2),
            label=f"{piece.label}, {'rolled cone' if how == 'cone' else how + ' welded'}",
        )
    return piece
