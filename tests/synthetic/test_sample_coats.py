"""Thick coats: on every make alike, nothing but rounded relief of the seams below them."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

import numpy as np
import pytest

from fittings.words import Construction, Kind
from synthetic.draws import direction_to
from synthetic.packing import Numbers, pack
from synthetic.render import VISIBLE_CONTRAST, render
from synthetic.sample import PIECE_KINDS
from synthetic.sample_coats import COATED_SHARE, sample_coat, under_coat
from synthetic.sample_pieces import sample_piece
from synthetic.sample_welds import branch_half_width_mm, crown_limit_mm
from synthetic.scene import Finish, Light, Mark, Piece, Scene, Weld
from synthetic.shapes import SHAPES
from tests.synthetic.scenes import MATT, drawn
from tests.synthetic.test_sample_welds import relief


def coated(count: int, kind: Kind) -> list[Piece]:
    out = []
    for i in range(count):
        rng = np.random.default_rng([31, i])
        out.append(under_coat(rng, sample_piece(rng, kind, Construction.FABRICATED)))
    return out


@pytest.mark.parametrize("make", list(Construction))
def test_as_many_of_every_make_are_coated(make: Construction) -> None:
    pieces = [
        sample_piece(np.random.default_rng([32, i]), PIECE_KINDS[i % 3], make) for i in range(300)
    ]
    # Only under a coat is a weld rounded, and every piece has a weld's numbers, present or not.
    share = np.mean([piece.along_weld.rounded > 0.0 for piece in pieces])
    assert share == pytest.approx(COATED_SHARE, abs=0.07)


@pytest.mark.parametrize("kind", PIECE_KINDS)
def test_below_a_coat_no_seam_has_a_colour_of_its_own(kind: Kind) -> None:
    for piece in coated(60, kind):
        for weld in (piece.along_weld, piece.cross_weld):
            assert weld.finish is Finish.PAINTED_OVER
            assert weld.bead_mix == weld.band_mix == weld.zone_mix == weld.spatter == 0.0
            assert weld.rounded > 0.0
        assert piece.along_weld.crown_mm <= crown_limit_mm(piece.wall_mm)


def test_coats_are_dull_and_even() -> None:
    for i in range(100):
        skin = sample_coat(np.random.default_rng([33, i]))
        assert skin.metallic == skin.rust_amount == skin.flakes == skin.pits == 0.0
        assert 0.1 < skin.roughness < 1.0


def test_a_rounded_bead_has_no_crease_at_its_toes() -> None:
    """At a toe the parabola 1 - x² falls by 2 a unit, its square not at all."""
    step, v = 1e-3, np.zeros(2)
    inside = np.array([5.0 - step, 5.0 - 2 * step])
    sharp = Weld(half_width_mm=5.0, crown_mm=2.0)
    assert relief(sharp, inside, v) / 2.0 == pytest.approx(
        2.0 * np.array([1, 2]) * step / 5.0, 0.01
    )
    assert (relief(replace(sharp, rounded=1.0), inside, v) < 1e-5).all()
    top = np.zeros(1)
    assert relief(replace(sharp, rounded=1.0), top, top) == pytest.approx([2.0])


def test_a_filled_corner_leaves_a_swell_above_it() -> None:
    """The middle of a fillet's arc lies (√2 - 1) R from the corner of two walls at right angles."""
    filled = [p for p in coated(80, Kind.TEE) if p.crotch_radius_mm > p.cross_weld.crown_mm]
    assert len(filled) > 8
    for piece in filled:
        assert piece.cross_weld.crown_mm > (sqrt(2.0) - 1.0) * piece.crotch_radius_mm


@pytest.mark.parametrize("bead_mm", [1.5, 4.0, 10.0, 20.0])
@pytest.mark.parametrize("rounded", [0.0, 0.5, 1.0])
def test_a_branch_beads_label_reaches_its_own_surface(bead_mm: float, rounded: float) -> None:
    """On the corner's bisector, where the bead stands highest: between its outside surface and the
    corner the seam's half width is not used up."""
    weld = Weld(present=1.0, crown_mm=bead_mm, rounded=rounded, ripple_mm=0.0)
    tee = Piece(kind=Kind.TEE, crotch_radius_mm=0.0, radius_mm=400.0, second_radius_mm=100.0,
                length_mm=900.0, second_length_mm=700.0, cross_weld=weld)  # fmt: skip
    n = Numbers(pack([(Scene(), tee)]).astype(np.float64))
    out = np.linspace(0.0, 60.0, 1200)
    x, z = 100.0 + out, 400.0 + out
    shape = SHAPES[Kind.TEE](np, n, (x[None], 0 * x[None], z[None]), None)
    surface = np.argmax(shape.outside_mm[0] > 0.0)
    assert shape.cross_u_mm[0, surface] >= 0.9 * bead_mm
    assert shape.cross_u_mm[0, surface] < branch_half_width_mm(bead_mm, rounded)


def test_a_painted_fillet_is_seen_by_its_shading_and_not_where_nothing_is_left() -> None:
    scene, piece = drawn(Kind.TEE, Construction.FABRICATED, 2)
    piece = replace(under_coat(np.random.default_rng(3), piece), skin=MATT)
    leg = 0.12 * piece.second_radius_mm
    x, y, _ = scene.camera.position_mm
    # From the side, as the camera sees it, and low.
    light = Light(sun=direction_to(np.arctan2(y, x) + np.radians(80.0), 0.3), sun_power=3.0)
    contrast = []
    for bead in (0.0, leg):
        weld = replace(
            piece.cross_weld, crown_mm=bead, half_width_mm=branch_half_width_mm(leg, 0.7),
            rounded=0.7, trace_roughness=0.0,
        )  # fmt: skip
        bare = replace(
            piece, cross_weld=weld, along_weld=Weld(), marks=(Mark(), Mark(), Mark()),
            crotch_radius_mm=0.1, root_shift_mm=0.0, pad_width_mm=0.0,
        )  # fmt: skip
        picture = render(replace(scene, pieces=(bare,), light=light), 96, 64)
        contrast.append(float(picture.contrast[0, 1]))
    assert contrast[0] < 1.0  # nothing left: nothing seen, and no seam to be labelled
    assert contrast[1] > VISIBLE_CONTRAST
