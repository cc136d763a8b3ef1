"""Close-ups: of spots on the surface, on the line where the seam runs, its band as wide as said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fittings.words import Construction, Kind
from synthetic.draws import nine, triple
from synthetic.packing import Numbers, pack
from synthetic.sample import PIECE_KINDS
from synthetic.sample_close import BAND_PX, _spot, close_camera, with_band
from synthetic.sample_pieces import sample_piece
from synthetic.scene import Camera, Finish, Scene
from synthetic.shapes import SHAPES


@pytest.mark.parametrize("across", [False, True])
@pytest.mark.parametrize("kind", PIECE_KINDS)
def test_a_spot_lies_on_the_surface_and_on_the_seams_line(kind: Kind, across: bool) -> None:
    for i in range(30):
        rng = np.random.default_rng([36, i])
        make = Construction.FABRICATED if across else Construction.WELDED
        piece = sample_piece(rng, kind, make)
        piece = replace(piece, ridge_mm=0.0, ridge_step_mm=0.0, kinked=0.0, pad_width_mm=0.0)
        piece = replace(piece, root_shift_mm=0.0, crotch_radius_mm=0.0, bell=0.0, corner=0.01)
        bare = replace(
            piece,
            along_weld=replace(piece.along_weld, present=0.0),
            cross_weld=replace(piece.cross_weld, present=0.0),
        )
        point, out = _spot(rng, bare, across)
        n = Numbers(pack([(Scene(), bare)]).astype(np.float64))
        shape = SHAPES[kind](np, n, tuple(np.full((1, 1), c) for c in point), None)
        assert np.linalg.norm(out) == pytest.approx(1.0)
        assert abs(shape.outside_mm[0, 0]) < 0.02 * piece.radius_mm
        u = shape.cross_u_mm if across else shape.along_u_mm
        assert abs(u[0, 0]) < 0.01 * piece.radius_mm


def test_most_welded_close_ups_have_a_wide_ground_band_and_no_other_make_has() -> None:
    wide = 0
    for i in range(60):
        rng = np.random.default_rng([37, i])
        make = list(Construction)[i % 3]
        piece = sample_piece(rng, PIECE_KINDS[i % 2], make)
        banded = with_band(rng, piece)
        if make is not Construction.WELDED:
            assert banded == piece
        elif banded != piece:
            wide += 1
            assert banded.along_weld.finish is Finish.GROUND_FLUSH
            assert banded.along_weld.band_half_width_mm > banded.along_weld.half_width_mm
    assert wide > 10


def test_the_band_is_mostly_30_to_80_pixels_wide() -> None:
    """By the pinhole: a width w at distance d is f · w / d of the long side."""
    widths = []
    for i in range(90):
        rng = np.random.default_rng([38, i])
        piece = sample_piece(rng, PIECE_KINDS[i % 3], Construction.WELDED)
        piece = with_band(rng, replace(piece, rotation=nine(np.eye(3)), position_mm=(0, 0, 5e3)))
        camera = close_camera(rng, Camera(focal=0.9), piece)
        assert camera.position_mm == triple(camera.position_mm)
        forward = np.asarray(camera.rotation).reshape(3, 3)[2]
        # Along the line of sight to where it comes nearest to the piece's surface.
        n = Numbers(pack([(Scene(), piece)]).astype(np.float64))
        depths = np.linspace(0.0, 8.0, 400) * piece.radius_mm
        points = np.asarray(camera.position_mm) + depths[:, None] * forward - [0, 0, 5e3]
        shape = SHAPES[piece.kind](np, n, tuple(points[None, :, k] for k in range(3)), None)
        hit = np.flatnonzero(shape.distance_mm[0] < 0.01 * piece.radius_mm)
        if len(hit):
            band = 2.0 * piece.along_weld.band_half_width_mm
            widths.append(0.9 * 512.0 * band / depths[hit[0]])
    assert len(widths) > 60
    inside = [BAND_PX[0] * 0.85 <= width <= BAND_PX[1] * 1.15 for width in widths]
    assert np.mean(inside) > 0.6
