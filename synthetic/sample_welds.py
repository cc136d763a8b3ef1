"""Chance for butt and branch welds: shape within the codes, and what the finish left."""

from __future__ import annotations

from dataclasses import replace

from fittings.welds import bead_half_width_mm
from synthetic.draws import Rng, colour_near
from synthetic.scene import Finish, Piece, Skin, Triple, Weld
from synthetic.shapes import COAT_TOE


def crown_limit_mm(wall_mm: float) -> float:
    """Largest weld reinforcement for a wall: ASME B31.3 Table 341.3.2, criterion L."""
    return 1.5 if wall_mm <= 6 else 3.0 if wall_mm <= 13 else 4.0 if wall_mm <= 25 else 5.0


SWIRL = (0.15, 0.75)
"""How far grinding scratches lie across the seam, where they do not lie along it: mostly aslant."""

STAINLESS = ("pickled", "polished")
"""Skins on which a weld leaves temper colours in their order."""

_FINISHES = (
    Finish.AS_WELDED, Finish.BRUSHED, Finish.GROUND_FLUSH, Finish.PAINTED_OVER, Finish.BLASTED,
)  # fmt: skip
_FINISH_SHARES = (0.28, 0.13, 0.27, 0.25, 0.07)
_BLASTED_SHARES = (0.2, 0.1, 0.22, 0.13, 0.35)


def ripple_pitch_mm(rng: Rng) -> float:
    """Ripple spacing: hand arc and TIG 1 to 3 mm, submerged arc 0.5 to 2 mm (trade habit)."""
    return float(rng.uniform(1.0, 3.0) if rng.random() < 0.75 else rng.uniform(0.5, 2.0))


def _unevenness(rng: Rng, weld: Weld) -> Weld:
    """What a hand leaves in a bead that nobody ground: uneven, in passes, with toes and stops."""
    u, half, crown = rng.uniform, weld.half_width_mm, weld.crown_mm
    passes = float(rng.integers(2, 4)) if half > 6.0 and rng.random() < 0.4 else 1.0
    crater = float(u(0.2, 0.7)) if rng.random() < 0.6 else 0.0
    crown = crown / (1.0 + 0.4 * crater)  # where two runs lap, the bead stands that much higher
    return replace(
        weld,
        crown_mm=crown,
        uneven=float(u(0.0, 0.3)),
        passes=passes,
        pass_mm=crown * float(u(0.2, 0.6)) if passes > 1.0 else 0.0,
        toe_mm=float(u(0.1, 0.5)) if rng.random() < 0.35 else 0.0,
        stop_mm=half * float(u(12.0, 45.0)),
        crater_mm=crown * crater,
    )


def _trace(rng: Rng, weld: Weld) -> Weld:
    """Ground away and painted: only a rougher stretch of coat is left, or only an edge."""
    u = rng.uniform
    sign = 1.0 if rng.random() < 0.6 else -1.0
    bare = replace(
        weld, crown_mm=0.0, hilo_mm=0.0, ripple_mm=0.0, bead_mix=0.0, band_mix=0.0, zone_mix=0.0
    )
    if rng.random() < 0.5:
        return replace(bare, trace_roughness=sign * float(u(0.1, 0.4)))
    # An edge is a narrow thing, and so is its label.
    narrow = weld.half_width_mm * float(u(0.35, 0.6))
    return replace(bare, half_width_mm=narrow, toe_mm=sign * float(u(0.15, 0.5)))


def sample_weld(rng: Rng, wall_mm: float, skin: Skin) -> Weld:
    """A butt weld through that wall, with what its finish left."""
    shares = _BLASTED_SHARES if skin.name == "blasted" else _FINISH_SHARES
    finish = _FINISHES[int(rng.choice(len(_FINISHES), p=shares))]
    u = rng.uniform
    half = bead_half_width_mm(wall_mm) * float(u(0.65, 1.35))
    crown = float(u(0.35, 1.0)) * crown_limit_mm(wall_mm)
    hilo = float(rng.normal(0, 0.06)) * wall_mm
    pitch = ripple_pitch_mm(rng)
    ripple = float(u(0.04, 0.12)) * pitch
    metal = colour_near(rng, (0.33, 0.32, 0.31), 0.4, 0.04)
    bright = colour_near(rng, (0.5, 0.5, 0.5), 0.25, 0.03)
    dark = colour_near(rng, (0.12, 0.1, 0.1), 0.4, 0.1)
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
        zone_rgb=colour_near(rng, tint, 0.3, 0.1),
        phase=float(u(0, 6.28)),
        swirl=float(rng.random() < 0.5) * float(u(*SWIRL)),
        tint_order=float(skin.name in STAINLESS and rng.random() < 0.85),
    )
    if finish is Finish.AS_WELDED:
        bare = float(rng.random() < 0.75)
        tinted = float(u(0.5, 1.0) if weld.tint_order > 0.5 else u(0.1, 0.8))
        spattered = rng.random() < 0.4
        return replace(
            _unevenness(rng, weld),
            bead_mix=float(u(0.2, 1.0)) * bare,
            zone_mix=tinted * bare if rng.random() < 0.7 else 0.0,
            spatter=float(u(0.03, 0.25)) if spattered else 0.0,
            spatter_mm=float(u(0.6, 2.2)),
        )
    if finish is Finish.BLASTED:
        # Shot takes every colour and rounds the ripple; the relief stays.
        return replace(_unevenness(rng, weld), ripple_mm=ripple * float(u(0.3, 1.0)))
    if finish is Finish.BRUSHED:
        return replace(
            _unevenness(rng, replace(weld, crown_mm=crown * float(u(0.3, 0.9)))),
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
    if ground_first and rng.random() < 0.4:
        return _trace(rng, weld)
    left = replace(weld, crown_mm=crown * float(u(-0.04, 0.25) if ground_first else u(0.3, 1.0)))
    return replace(
        left if ground_first else _unevenness(rng, left),
        hilo_mm=hilo * float(u(0.1, 0.7)),
        ripple_mm=ripple * (0.0 if ground_first else float(u(0.1, 0.8))),
        bead_mix=0.0 if painted else float(u(0.0, 0.12)),
        band_mix=0.0 if rng.random() < 0.5 else float(u(0.0, 0.15)),
    )


def touched_up(rng: Rng, weld: Weld, skin: Skin) -> Weld:
    """The weld under a stripe of fresh coat in another shade, which hides its colours and not its
    relief (common practice, no source). Training never draws it: see `synthetic.held_out`."""
    u = rng.uniform
    near = colour_near(rng, skin.rgb, 0.3, 0.04)
    other: Triple = ((0.55, 0.56, 0.57), (0.3, 0.07, 0.04), (0.35, 0.35, 0.36))[
        int(rng.integers(3))  # zinc, red and grey primer
    ]
    return replace(
        weld,
        finish=Finish.TOUCHED_UP,
        ripple_mm=weld.ripple_mm * float(u(0.1, 0.6)),
        bead_mix=0.0,
        band_mix=0.0,
        spatter=0.0,
        zone_mix=float(u(0.6, 1.0)),
        zone_rgb=near if rng.random() < 0.6 else colour_near(rng, other, 0.2, 0.05),
        zone_half_width_mm=weld.half_width_mm * float(u(1.5, 3.5)),
        tint_order=0.0,
        trace_roughness=float(u(-0.2, 0.3)),
    )


def branch_half_width_mm(bead_mm: float, rounded: float = 0.0) -> float:
    """Half the width that a branch bead of that radius about the corner takes up: the bead, its
    ripple, and a third of what `synthetic.shapes` fills at its toes. A narrower seam's label would
    lie below the bead's own surface, and be lost."""
    return 1.25 * bead_mm + 0.35 * (2.0 + COAT_TOE * rounded * bead_mm)


def branch_weld(rng: Rng, piece: Piece, weld: Weld) -> Weld:
    """The weld of an outlet on its run: for it `crown_mm` is the bead's radius about the corner."""
    leg = piece.second_wall_mm * float(rng.uniform(0.5, 1.0))
    share = {
        Finish.AS_WELDED: float(rng.uniform(0.7, 1.1)),
        Finish.BRUSHED: float(rng.uniform(0.5, 1.0)),
        Finish.GROUND_FLUSH: float(rng.uniform(0.0, 0.35)),
        Finish.PAINTED_OVER: float(rng.uniform(0.0, 0.9)),
        Finish.BLASTED: float(rng.uniform(0.6, 1.1)),
    }[weld.finish]
    bead = leg * share
    return replace(
        weld,
        crown_mm=bead,
        hilo_mm=0.0,
        half_width_mm=max(leg, 0.8 * weld.half_width_mm, branch_half_width_mm(bead)),
        band_half_width_mm=max(1.2 * leg, weld.band_half_width_mm),
    )
