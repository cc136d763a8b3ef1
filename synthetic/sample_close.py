"""Chance for close-ups: a stretch of a piece from near by, its seam in the middle if it has one.

They come on every make alike; on a seamless piece the camera looks where a seam might be. On
welded pieces most have a wide ground band along the seam, which is one seam and not two edges.
"""

from __future__ import annotations

from dataclasses import replace
from math import cos, hypot, pi, radians, sin, sqrt

import numpy as np

from fittings.words import Construction, Kind
from synthetic.camera import looking_at
from synthetic.draws import Rng, colour_near, triple, unit
from synthetic.scene import Camera, Finish, Piece

CLOSE_SHARE = 0.08
"""Of scenes of one piece, how many are close-ups."""

BAND_PX = (30.0, 80.0)
"""How wide the grinding band is in the picture, pixels at a long side of 512."""

WIDE_BAND_SHARE = 0.75
"""Of close-ups of welded pieces, how many have a wide ground band along the seam."""

_NEAREST_RADII = 2.1  # from the surface; nearer, a picture no longer tells what it shows
_FARTHEST_RADII = 5.0
_MOST_ASLANT = 1.0  # the tangent of the angle between the surface's normal and the line of sight
_SPOTS = 16


def with_band(rng: Rng, piece: Piece) -> Piece:
    """A welded piece whose longitudinal seams are ground, mostly in a wide band; others as they
    are."""
    u, weld = rng.uniform, piece.along_weld
    if piece.construction is not Construction.WELDED or rng.random() >= WIDE_BAND_SHARE:
        return piece
    least, most = 1.3 * weld.half_width_mm, 0.2 * piece.radius_mm
    ground = replace(
        weld,
        finish=Finish.GROUND_FLUSH,
        crown_mm=weld.crown_mm * float(u(0.0, 0.12)),
        hilo_mm=weld.hilo_mm * float(u(0.0, 0.5)),
        ripple_mm=0.0, pass_mm=0.0, toe_mm=0.0, crater_mm=0.0, spatter=0.0, trace_roughness=0.0,
        bead_mix=float(u(0.0, 0.3)),
        zone_mix=0.0,
        band_half_width_mm=max(least, most * float(u(0.4, 1.0))),
        band_rgb=colour_near(rng, (0.45, 0.45, 0.45), 0.3, 0.03),
        band_mix=float(u(0.4, 1.0)),
        band_roughness=float(u(0.2, 0.55)),
    )  # fmt: skip
    return replace(piece, along_weld=ground)


def close_camera(rng: Rng, camera: Camera, piece: Piece) -> Camera:
    """The camera moved near to a spot on the placed piece's seam, or where one might be, with the
    lens it had; its axis in the middle of the picture."""
    u = rng.uniform
    across = piece.construction is Construction.FABRICATED
    if piece.construction is Construction.SEAMLESS:
        across = rng.random() < 0.5
    weld = piece.cross_weld if across else piece.along_weld
    turn, at = np.asarray(piece.rotation).reshape(3, 3), np.asarray(piece.position_mm)
    spots = [_spot(rng, piece, across) for _ in range(_SPOTS)]
    world = [(turn @ np.asarray(p) + at, turn @ np.asarray(out)) for p, out in spots]
    # The one that faces up the most of a few: what faces the ground is not photographed.
    point, out = max(world[: int(rng.integers(2, _SPOTS))], key=lambda each: float(each[1][2]))
    wide = camera.focal * 512.0 * 2.0 * weld.band_half_width_mm / float(u(*BAND_PX))
    radius = min(piece.radius_mm, 1.5 * piece.second_radius_mm)
    away = float(np.clip(wide, _NEAREST_RADII * radius, _FARTHEST_RADII * radius))
    aslant = np.asarray(unit(rng)) * float(u(0.0, _MOST_ASLANT))
    sight = out + aslant - out * float(aslant @ out)
    position = point + away * sight / np.linalg.norm(sight)
    position[2] = max(position[2], 0.3 * radius)
    aim = point + rng.normal(0.0, 0.12, 3) * radius
    roll = float(rng.normal(0.0, 10.0) if rng.random() < 0.8 else u(-180, 180))
    return replace(
        camera,
        position_mm=triple(position),
        rotation=looking_at(position, aim, roll),  # type: ignore[arg-type]
        centre_across=0.0,
        centre_down=0.0,
    )


_Spot = tuple[tuple[float, float, float], tuple[float, float, float]]


def _spot(rng: Rng, piece: Piece, across: bool) -> _Spot:
    """A point on the outside surface and the normal there, in the piece's frame: on a cross weld's
    line or on a longitudinal seam's, or where these would run."""
    u = rng.uniform
    whole = float(u(0, 2 * pi))
    seam = radians(piece.long_deg) + 2 * pi / piece.long_count * int(
        rng.integers(int(piece.long_count))
    )
    t = whole if across else seam
    if piece.kind is Kind.ELBOW:
        half = radians(piece.bend_deg) / 2
        a = half * float(u(-0.8, 0.8))
        if across and piece.cut_deg > 0.0:
            a = (2 * int(rng.integers(int(piece.pieces) - 1)) + 1) * radians(piece.cut_deg) - half
        out = (cos(t) * cos(a), cos(t) * sin(a), -sin(t))
        x, y = piece.length_mm * cos(a), piece.length_mm * sin(a)
        r = piece.radius_mm
        return (x + r * out[0], y + r * out[1], r * out[2]), out
    if piece.kind is Kind.TEE:
        run, outlet = piece.radius_mm, piece.second_radius_mm
        if across:
            x, y = outlet * cos(t), outlet * sin(t)
            z = sqrt(max(run * run - y * y, 0.0))
            normal = np.array([cos(t), sin(t) + y / run, z / run])
            return (x, y, z), triple(normal / np.linalg.norm(normal))
        x = piece.length_mm * float(u(-0.85, 0.85))
        y, z = -run * sin(t), run * cos(t)
        if z > 0 and hypot(x, y) < 1.1 * outlet:  # the outlet stands there
            x = piece.length_mm * 0.85 * (1.0 if x > 0 else -1.0)
        return (x, y, z), (0.0, y / run, z / run)
    first, last = piece.stub_mm, piece.length_mm - piece.second_stub_mm
    x = piece.length_mm * float(u(0.15, 0.85))
    if across and piece.steps > 0.5:
        x = first + (last - first) / piece.steps * int(rng.integers(int(piece.steps) + 1))
    share = min(max((x - first) / (last - first), 0.0), 1.0)
    r = piece.radius_mm + share * (piece.second_radius_mm - piece.radius_mm)
    centre = piece.eccentric * (r - piece.radius_mm)
    out = (0.0, sin(t), -cos(t))
    return (x, r * out[1], centre + r * out[2]), out
