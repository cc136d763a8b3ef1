"""Chance for pieces: dimensions from the standards, make, welds, skin and marks."""

from __future__ import annotations

from dataclasses import replace
from math import cos, pi, radians, sin

import numpy as np

from fittings import dimensions
from fittings.dimensions import ElbowRadius, SizeNotListed, SizeTable
from fittings.geometry import mitre_cut_angle_deg
from fittings.words import Construction, Kind
from synthetic.scene import Finish, Mark, Piece, Skin, Triple, Weld

Rng = np.random.Generator


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
        top = np.stack(
            [s * np.cos(turn), s * np.sin(turn), 0 * turn + piece.second_length_mm], 1
        )
        return np.concatenate([run, top])
    rings = []
    for x, radius in ((0.0, r), (piece.length_mm / 2, (r + s) / 2), (piece.length_mm, s)):
        centre = piece.eccentric * (radius - r)
        rings.append(
            np.stack([0 * turn + x, radius * np.sin(turn), centre + radius * np.cos(turn)], 1)
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


def sample_piece(rng: Rng, kind: Kind, construction: Construction | None = None) -> Piece:
    """A piece of that kind at the origin, with dimensions of a listed size."""
    if construction is None:
        construction = (Construction.SEAMLESS, Construction.WELDED, Construction.FABRICATED)[
            int(rng.choice(3, p=[0.3, 0.24, 0.46]))
        ]
    make = {Kind.ELBOW: _elbow, Kind.TEE: _tee, Kind.REDUCER: _reducer}[kind]
    piece = make(rng, construction)
    skin = sample_skin(rng)
    long_present = construction is Construction.WELDED or (
        construction is Construction.FABRICATED and rng.random() < 0.25
    )
    along = sample_weld(rng, piece.wall_mm * float(rng.uniform(0.7, 1.0)), skin)
    cross = sample_weld(rng, piece.wall_mm, skin)
    if kind is Kind.TEE:
        cross = _branch_weld(rng, piece, cross)
    return replace(
        piece,
        construction=construction,
        skin=skin,
        along_weld=replace(along, present=float(long_present)),
        cross_weld=replace(cross, present=float(construction is Construction.FABRICATED)),
        marks=(sample_mark(rng, piece), sample_mark(rng, piece), sample_mark(rng, piece)),
    )


def _listed(rng: Rng, table: SizeTable) -> str:
    """A size of the table; every size is as likely, since small and large look alike here."""
    sizes = dimensions.listed_sizes(table)
    return sizes[int(rng.integers(len(sizes)))][0]


def _wall_mm(rng: Rng, nps: str) -> float:
    standard = dimensions.pipe(nps, "STD")
    wall = standard.wall_mm * float(np.exp(rng.uniform(np.log(0.6), np.log(2.2))))
    return min(wall, 0.35 * standard.od_mm / 2)


def _long(rng: Rng, two: float) -> dict[str, float]:
    """Where longitudinal seams run: one anywhere, or two opposite at the sides or in the plane."""
    if rng.random() < two:
        return {"long_count": 2.0, "long_deg": float(rng.choice([0.0, 90.0]) + rng.normal(0, 2))}
    place = float(rng.choice([0.0, 90.0, 180.0, 270.0])) + float(rng.normal(0, 4))
    return {"long_count": 1.0, "long_deg": place if rng.random() < 0.6 else float(rng.uniform(0, 360))}


def _elbow(rng: Rng, construction: Construction) -> Piece:
    short = rng.random() < 0.3
    table = SizeTable.ELBOW_SHORT_90 if short else SizeTable.ELBOW_LONG_90
    nps = _listed(rng, table)
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
        stub_mm=row.tangent_mm + (float(rng.uniform(0, 0.15)) * radius if rng.random() < 0.3 else 0),
        bevel=float(rng.random() < 0.8),
        **_long(rng, 0.45),
    )
    if construction is Construction.FABRICATED:
        pieces = int(rng.choice([2, 3, 4, 5], p=[0.2, 0.35, 0.28, 0.17]))
        if angle == 45:
            pieces = int(rng.choice([2, 3]))
        formed = pieces == 2 and rng.random() < 0.5  # two formed bends butted together
        piece = replace(
            piece,
            pieces=float(pieces),
            cut_deg=float(mitre_cut_angle_deg(angle, pieces)),
            kinked=0.0 if formed or rng.random() < 0.06 else 1.0,
            stub_mm=piece.stub_mm + float(rng.uniform(0, 0.8)) * radius * (rng.random() < 0.5),
            length_mm=piece.length_mm * float(rng.uniform(0.95, 1.15)),
            long_stagger_deg=float(rng.uniform(40, 180)),
            label=piece.label + f", {pieces} pieces welded",
        )
    return piece


def _tee(rng: Rng, construction: Construction) -> Piece:
    nps = _listed(rng, SizeTable.STRAIGHT_TEE)
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
    if fabricated:
        crotch = wall * float(rng.uniform(0.0, 1.0))
    else:
        crotch = max(crotch, 1.2 * wall)
    placement = int(rng.integers(3))
    long = (
        {"long_count": 1.0, "long_deg": 180.0 + float(rng.normal(0, 6)), "long_on_outlet": 0.0},
        {"long_count": 2.0, "long_deg": 0.0, "long_on_outlet": 1.0},
        {"long_count": 2.0, "long_deg": 90.0 + float(rng.normal(0, 3)), "long_on_outlet": 0.0},
    )[placement]
    if fabricated:
        long = {
            "long_count": 1.0,
            "long_deg": float(rng.uniform(60, 300)),
            "long_on_outlet": float(rng.random() < 0.3),
        }
    return Piece(
        kind=Kind.TEE,
        label=f"NPS {row.run_nps} × {row.outlet_nps} tee" + (", outlet welded on" if fabricated else ""),
        radius_mm=run,
        second_radius_mm=min(outlet, 0.999 * run),
        wall_mm=wall,
        second_wall_mm=max(wall * float(rng.uniform(0.7, 1.0)), 0.03 * outlet),
        length_mm=row.run_c_mm * (float(rng.uniform(1.0, 1.5)) if fabricated else 1.0),
        second_length_mm=max(row.outlet_m_mm, 1.08 * run) * (float(rng.uniform(1.0, 1.3)) if fabricated else 1.0),
        crotch_radius_mm=crotch,
        bevel=float(rng.random() < 0.8),
        **long,
    )


def _reducer(rng: Rng, construction: Construction) -> Piece:
    large = _listed(rng, SizeTable.REDUCER)
    smalls = [
        s
        for s in dimensions.small_ends(large)
        if dimensions.outside_diameter_mm(s) > 0.3 * dimensions.outside_diameter_mm(large)
    ]
    row = dimensions.reducer(large, smalls[int(rng.integers(len(smalls)))])
    eccentric = rng.random() < 0.45
    length = row.end_to_end_mm
    piece = Piece(
        kind=Kind.REDUCER,
        label=f"NPS {row.large_nps} × {row.small_nps} {'eccentric' if eccentric else 'concentric'} reducer",
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
    if construction is Construction.FABRICATED:
        longer = float(rng.uniform(1.0, 1.6))
        piece = replace(
            piece,
            steps=float(rng.choice([1, 2, 3], p=[0.6, 0.25, 0.15])),
            kinked=float(rng.random() > 0.06),
            length_mm=length * longer,
            stub_mm=length * longer * float(rng.uniform(0.1, 0.3)),
            second_stub_mm=length * longer * float(rng.uniform(0.1, 0.3)),
            long_count=float(rng.choice([1, 2, 4])),
            label=piece.label + ", segments welded",
        )
    return piece


def _colour(rng: Rng, rgb: Triple, level: float, tint: float) -> Triple:
    k = np.exp(rng.normal(0, level))
    r, g, b = (float(np.clip(c * k * np.exp(rng.normal(0, tint)), 0.0, 1.0)) for c in rgb)
    return r, g, b


def sample_skin(rng: Rng) -> Skin:
    """One of the surfaces that fittings come with."""
    name = SKINS[int(rng.choice(len(SKINS), p=_SKIN_SHARES))]
    u = rng.uniform
    if name == "mill scale":
        a, rough, metal, gloss, bump = (0.07, 0.075, 0.085), u(0.35, 0.7), u(0.1, 0.5), 0.05, u(0, 0.15)
    elif name == "rust":
        a, rough, metal, gloss, bump = (0.16, 0.08, 0.045), u(0.7, 0.95), 0.0, 0.02, u(0.05, 0.3)
    elif name == "blasted":
        a, rough, metal, gloss, bump = (0.33, 0.33, 0.34), u(0.55, 0.8), u(0.1, 0.5), 0.04, u(0.02, 0.2)
    elif name == "varnish":
        a, rough, metal, gloss, bump = (0.02, 0.02, 0.022), u(0.12, 0.5), 0.0, 0.05, u(0, 0.06)
    elif name == "primer":
        base: Triple = ((0.3, 0.07, 0.04), (0.3, 0.3, 0.31), (0.5, 0.46, 0.3))[int(rng.integers(3))]
        a, rough, metal, gloss, bump = base, u(0.6, 0.95), 0.0, 0.03, u(0, 0.1)
    elif name == "paint":
        hue = rng.random(3) ** 2
        a = (float(hue[0]) * 0.8 + 0.01, float(hue[1]) * 0.8 + 0.01, float(hue[2]) * 0.8 + 0.01)
        rough, metal, gloss, bump = u(0.1, 0.6), 0.0, 0.05, u(0, 0.06)
    elif name == "galvanised":
        a, rough, metal, gloss, bump = (0.5, 0.51, 0.53), u(0.3, 0.6), u(0.5, 0.9), 0.05, u(0, 0.05)
    elif name == "pickled":
        a, rough, metal, gloss, bump = (0.5, 0.49, 0.48), u(0.35, 0.6), u(0.5, 0.9), 0.05, u(0, 0.05)
    elif name == "polished":
        a, rough, metal, gloss, bump = (0.62, 0.61, 0.6), u(0.08, 0.3), u(0.85, 1.0), 0.06, u(0, 0.02)
    else:  # copper-nickel
        a, rough, metal, gloss, bump = (0.6, 0.36, 0.24), u(0.2, 0.5), u(0.6, 1.0), 0.06, u(0, 0.04)
    rgb = _colour(rng, a, 0.3, 0.06)
    painted = name in ("paint", "varnish", "primer")
    rusting = name in ("mill scale", "rust", "blasted", "varnish", "primer", "paint")
    rust = 0.0
    if rusting and rng.random() < (0.85 if name == "rust" else 0.4):
        rust = float(rng.uniform(0.05, 0.9 if name == "rust" else 0.55))
    return Skin(
        name=name,
        rgb=rgb,
        second_rgb=_colour(rng, rgb, 0.3, 0.05),
        patch_mm=float(np.exp(u(np.log(8), np.log(300)))),
        patch_contrast=float(u(0.0, 0.35) if painted else u(0.1, 1.0)),
        grain_mm=float(np.exp(u(np.log(0.6), np.log(8)))),
        grain_contrast=float(u(0.0, 0.2) if painted else u(0.0, 0.6)),
        rust_rgb=_colour(rng, (0.24, 0.095, 0.035), 0.3, 0.12),
        rust_amount=rust,
        rust_patch_mm=float(np.exp(u(np.log(6), np.log(250)))),
        roughness=float(rough),
        metallic=float(metal),
        gloss=float(gloss),
        bump=float(bump),
        bump_mm=float(np.exp(u(np.log(1.0), np.log(10)))),
        wave=float(rng.exponential(0.025)),
        wave_mm=float(np.exp(u(np.log(25), np.log(300)))),
        dust=float(u(0.1, 0.9)) if rng.random() < 0.2 else 0.0,
        bore_rgb=_colour(rng, (0.07, 0.06, 0.055), 0.5, 0.1),
    )


SKINS = (
    "mill scale", "rust", "blasted", "varnish", "primer", "paint", "galvanised", "pickled",
    "polished", "copper-nickel",
)  # fmt: skip
_SKIN_SHARES = (0.17, 0.13, 0.12, 0.12, 0.11, 0.11, 0.05, 0.1, 0.06, 0.03)


def crown_limit_mm(wall_mm: float) -> float:
    """Largest weld reinforcement for a wall: ASME B31.3 Table 341.3.2, criterion L."""
    return 1.5 if wall_mm <= 6 else 3.0 if wall_mm <= 13 else 4.0 if wall_mm <= 25 else 5.0


def bead_half_width_mm(wall_mm: float) -> float:
    """Half the crown's width of a single V: t·tan 37.5° + half of (gap + 3 mm overlap).

    Geometry of the plain bevel of ASME B16.25 (from memory); the overlap is common practice, no
    source.
    """
    return wall_mm * 0.767 + 2.3


def sample_weld(rng: Rng, wall_mm: float, skin: Skin) -> Weld:
    """A butt weld through that wall, with what its finish left."""
    finish = (Finish.AS_WELDED, Finish.BRUSHED, Finish.GROUND_FLUSH, Finish.PAINTED_OVER)[
        int(rng.choice(4, p=[0.3, 0.14, 0.28, 0.28]))
    ]
    u = rng.uniform
    half = bead_half_width_mm(wall_mm) * float(u(0.65, 1.35))
    crown = float(u(0.35, 1.0)) * crown_limit_mm(wall_mm)
    hilo = float(rng.normal(0, 0.06)) * wall_mm
    pitch = float(u(1.2, 4.5))
    ripple = float(u(0.04, 0.12)) * pitch
    metal = _colour(rng, (0.33, 0.32, 0.31), 0.4, 0.04)
    bright = _colour(rng, (0.5, 0.5, 0.5), 0.25, 0.03)
    dark = _colour(rng, (0.12, 0.1, 0.1), 0.4, 0.1)
    tint = ((0.3, 0.2, 0.08), (0.2, 0.12, 0.14), (0.1, 0.13, 0.25), (0.06, 0.06, 0.07))[
        int(rng.integers(4))
    ]
    painted = skin.name in ("paint", "varnish", "primer")
    weld = Weld(
        finish=finish,
        half_width_mm=half,
        crown_mm=crown,
        hilo_mm=hilo,
        ripple_mm=ripple,
        ripple_pitch_mm=pitch,
        wander_mm=float(rng.exponential(0.08)) * half,
        wander_length_mm=float(u(8, 40)) * half,
        bead_rgb=(metal, bright, dark)[int(rng.integers(3))],
        bead_roughness=float(u(0.25, 0.7)),
        band_half_width_mm=half * float(u(1.1, 2.6)),
        band_rgb=bright,
        band_roughness=float(u(0.2, 0.55)),
        zone_half_width_mm=half * float(u(1.5, 3.5)),
        zone_rgb=_colour(rng, tint, 0.3, 0.1),
        phase=float(u(0, 6.28)),
    )
    if finish is Finish.AS_WELDED:
        bare = float(rng.random() < 0.75)
        return replace(
            weld,
            bead_mix=float(u(0.2, 1.0)) * bare,
            zone_mix=float(u(0.1, 0.8)) * bare if rng.random() < 0.7 else 0.0,
        )
    if finish is Finish.BRUSHED:
        return replace(
            weld,
            crown_mm=crown * float(u(0.3, 0.9)),
            ripple_mm=ripple * float(u(0.1, 0.5)),
            bead_mix=float(u(0.2, 0.9)),
            bead_rgb=bright,
            band_mix=float(u(0.1, 0.7)),
            zone_mix=float(u(0.0, 0.4)),
        )
    if finish is Finish.GROUND_FLUSH:
        return replace(
            weld,
            crown_mm=float(u(-0.06, 0.12)) * crown,
            hilo_mm=hilo * float(u(0, 0.5)),
            ripple_mm=0.0,
            bead_mix=float(u(0.0, 0.35)),
            band_mix=float(u(0.25, 1.0)),
            zone_mix=float(u(0.0, 0.3)) if rng.random() < 0.3 else 0.0,
        )
    ground_first = rng.random() < 0.6
    return replace(
        weld,
        crown_mm=crown * float(u(-0.04, 0.25) if ground_first else u(0.3, 1.0)),
        hilo_mm=hilo * float(u(0.1, 0.7)),
        ripple_mm=ripple * (0.0 if ground_first else float(u(0.1, 0.8))),
        bead_mix=0.0 if painted else float(u(0.0, 0.12)),
        band_mix=0.0 if rng.random() < 0.5 else float(u(0.0, 0.15)),
    )


def _branch_weld(rng: Rng, piece: Piece, weld: Weld) -> Weld:
    """The weld of an outlet on its run: for it `crown_mm` is the bead's radius about the corner."""
    leg = piece.second_wall_mm * float(rng.uniform(0.5, 1.0))
    share = {
        Finish.AS_WELDED: float(rng.uniform(0.7, 1.1)),
        Finish.BRUSHED: float(rng.uniform(0.5, 1.0)),
        Finish.GROUND_FLUSH: float(rng.uniform(0.0, 0.35)),
        Finish.PAINTED_OVER: float(rng.uniform(0.0, 0.9)),
    }[weld.finish]
    return replace(
        weld,
        crown_mm=leg * share,
        hilo_mm=0.0,
        half_width_mm=max(leg, 0.8 * weld.half_width_mm),
        band_half_width_mm=max(1.2 * leg, weld.band_half_width_mm),
    )


def _unit(rng: Rng) -> Triple:
    v = rng.normal(size=3)
    v = v / np.linalg.norm(v)
    return float(v[0]), float(v[1]), float(v[2])


def sample_mark(rng: Rng, piece: Piece) -> Mark:
    """Usually nothing; else a paint line, band, strap, tape, chalk, stencil or scratch."""
    if rng.random() < 0.6:
        return Mark(normal=_unit(rng))
    r = piece.radius_mm
    square_on = rng.random()
    normal = _unit(rng)
    offset = float(rng.uniform(-0.8, 0.8)) * r
    if piece.kind is Kind.ELBOW:
        a = float(rng.uniform(-0.5, 0.5)) * radians(piece.bend_deg)
        middle = (piece.length_mm * cos(a), piece.length_mm * sin(a), 0.0)
        if square_on < 0.45:
            normal, offset = (-sin(a), cos(a), 0.0), 0.0
        elif square_on < 0.6:
            normal, offset = (0.0, 0.0, 1.0), float(rng.uniform(-0.7, 0.7)) * r
        else:
            offset += float(np.dot(normal, middle))
        gate_at = middle
    elif piece.kind is Kind.TEE:
        middle = (float(rng.uniform(-0.8, 0.8)) * piece.length_mm, 0.0, 0.0)
        if square_on < 0.3:
            normal, offset = (1.0, 0.0, 0.0), middle[0]
        elif square_on < 0.45:
            normal, offset = (0.0, 0.0, 1.0), float(rng.uniform(1.0, 1.4)) * r
        elif square_on < 0.6:
            normal, offset = (0.0, 1.0, 0.0), float(rng.uniform(-0.7, 0.7)) * r
        gate_at = middle
    else:
        middle = (float(rng.uniform(0.1, 0.9)) * piece.length_mm, 0.0, 0.0)
        if square_on < 0.45:
            normal, offset = (1.0, 0.0, 0.0), middle[0]
        elif square_on < 0.6:
            normal, offset = (0.0, 1.0, 0.0), float(rng.uniform(-0.7, 0.7)) * r
        else:
            offset += float(np.dot(normal, middle))
        gate_at = middle
    gate = _unit(rng)
    gate_offset = float(np.dot(gate, gate_at)) + float(rng.uniform(-1.5, 0.6)) * r
    what = ("line", "band", "strap", "tape", "chalk", "stencil", "scratch", "streak")[
        int(rng.integers(8))
    ]
    u = rng.uniform
    strong = ((0.85, 0.85, 0.82), (0.8, 0.7, 0.05), (0.6, 0.04, 0.03), (0.03, 0.12, 0.5), (0.02, 0.02, 0.02), (0.05, 0.35, 0.1))[
        int(rng.integers(6))
    ]
    rgb = _colour(rng, strong, 0.2, 0.1)
    width, opacity, patchy, wobble, dashes = r * float(u(0.01, 0.03)), float(u(0.6, 1.0)), 0.2, 0.03 * r, 0.0
    if what == "band":
        width, opacity, wobble = r * float(u(0.05, 0.3)), float(u(0.7, 1.0)), 0.01 * r
    elif what in ("strap", "tape"):
        width, opacity, patchy, wobble = r * float(u(0.03, 0.12)), 1.0, 0.0, 0.0
        rgb = _colour(rng, strong if what == "tape" else (0.2, 0.2, 0.21), 0.3, 0.05)
    elif what == "chalk":
        width, opacity, patchy = r * float(u(0.008, 0.03)), float(u(0.3, 0.9)), float(u(0.4, 1.0))
        wobble, rgb = r * float(u(0.02, 0.2)), _colour(rng, (0.8, 0.8, 0.76), 0.15, 0.05)
    elif what == "stencil":
        width, opacity, dashes, wobble = r * float(u(0.05, 0.16)), float(u(0.6, 1.0)), 1.0, 0.0
    elif what == "scratch":
        width, opacity, patchy = r * float(u(0.003, 0.01)), float(u(0.3, 0.9)), float(u(0.2, 0.8))
        rgb = _colour(rng, (0.45, 0.45, 0.45), 0.3, 0.03)
    elif what == "streak":
        width, opacity, patchy = r * float(u(0.02, 0.12)), float(u(0.2, 0.7)), float(u(0.5, 1.0))
        rgb, wobble = _colour(rng, (0.22, 0.09, 0.03), 0.4, 0.1), r * float(u(0.05, 0.3))
    return Mark(
        normal=normal,
        offset_mm=offset,
        half_width_mm=width,
        gate=gate,
        gate_offset_mm=gate_offset,
        wobble_mm=wobble,
        wobble_length_mm=r * float(u(0.2, 1.0)),
        rgb=rgb,
        opacity=opacity,
        patchiness=patchy,
        dashes=dashes,
        roughness=float(u(0.3, 0.9)),
    )
