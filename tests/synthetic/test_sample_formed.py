"""What forming leaves: on every make alike, where it is said to lie, and never a seam."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fittings.words import Construction, Kind
from synthetic.packing import Numbers, pack
from synthetic.render import render
from synthetic.sample import PIECE_KINDS
from synthetic.sample_formed import RIDGE_SHARE, TIGHT_OF_OD, TIGHT_SHARE, formed_ridge
from synthetic.sample_pieces import sample_piece
from synthetic.scene import Mark, Piece, Scene
from synthetic.shapes import SHAPES
from tests.synthetic.scenes import MATT, drawn


def outside_mm(piece: Piece, points: np.ndarray) -> np.ndarray:
    """(N,) distance of (N, 3) points in the piece's frame to its outside surface."""
    n = Numbers(pack([(Scene(), piece)]).astype(np.float64))
    x, y, z = (points[None, :, i] for i in range(3))
    return np.asarray(SHAPES[piece.kind](np, n, (x, y, z), None).outside_mm[0])


@pytest.mark.parametrize("make", list(Construction))
def test_as_many_of_every_make_bear_a_ridge(make: Construction) -> None:
    pieces = [
        sample_piece(np.random.default_rng([34, i]), PIECE_KINDS[i % 3], make) for i in range(300)
    ]
    share = np.mean([p.ridge_mm != 0.0 or p.ridge_step_mm != 0.0 for p in pieces])
    assert share == pytest.approx(RIDGE_SHARE, abs=0.07)


def test_many_formed_tees_have_a_tight_crotch() -> None:
    tees = [
        sample_piece(np.random.default_rng([35, i]), Kind.TEE, Construction.SEAMLESS)
        for i in range(300)
    ]
    widest = TIGHT_OF_OD[1] * 2.0 * np.array([tee.second_radius_mm for tee in tees])
    walls = 1.2 * np.array([tee.wall_mm for tee in tees])
    radius = np.array([tee.crotch_radius_mm for tee in tees])
    # A thick wall allows no tighter one.
    assert np.mean(radius <= np.maximum(widest, walls) + 1e-9) > TIGHT_SHARE


def test_a_ridge_stands_as_high_and_as_far_from_the_ends_as_it_says() -> None:
    """A 90° bend of radius 300: its straight end begins at 45°, 20 mm of it on the tangent."""
    elbow = Piece(stub_mm=20.0, ridge_mm=1.5, ridge_at_mm=15.0, ridge_half_mm=4.0)
    turn, out = np.radians(45.0), np.array([np.cos(np.radians(45.0)), np.sin(np.radians(45.0)), 0])
    course = np.array([-np.sin(turn), np.cos(turn), 0.0])
    distance = np.array([15.0, 11.0, 19.0, 1.0])
    crown = (300.0 + 100.0) * out + (20.0 - distance)[:, None] * course
    assert -outside_mm(elbow, crown) == pytest.approx([1.5, 0.0, 0.0, 0.0], abs=0.01)
    stepped = replace(elbow, ridge_mm=0.0, ridge_step_mm=0.8)
    assert -outside_mm(stepped, crown) == pytest.approx([-0.4, -0.8, 0.0, -0.8], abs=0.01)
    reducer = Piece(kind=Kind.REDUCER, stub_mm=40.0, second_stub_mm=40.0, length_mm=200.0,
                    ridge_mm=1.5, ridge_at_mm=15.0, ridge_half_mm=4.0)  # fmt: skip
    top = np.array([[15.0, 0.0, 100.0], [185.0, 0.0, 60.0], [30.0, 0.0, 100.0]])
    assert -outside_mm(reducer, top) == pytest.approx([1.5, 1.5, 0.0], abs=0.01)


@pytest.mark.parametrize("kind", PIECE_KINDS)
def test_what_forming_leaves_is_seen_and_is_no_seam(kind: Kind) -> None:
    scene, piece = drawn(kind, Construction.SEAMLESS, 4)
    piece = replace(piece, skin=MATT, marks=(Mark(), Mark(), Mark()), ridge_mm=0.0,
                    ridge_step_mm=0.0)  # fmt: skip
    rng = np.random.default_rng(6)
    ridged = piece
    while ridged.ridge_mm == 0.0:
        ridged = formed_ridge(rng, piece)
    ridged = replace(ridged, ridge_mm=0.3 * ridged.ridge_half_mm)
    a, b = (render(replace(scene, pieces=(p,)), 96, 64) for p in (piece, ridged))
    assert np.abs(a.rgb - b.rgb).max() > 0.01
    assert (b.truth.seam == 0.0).all()
    assert (b.contrast < 1.0).all()
