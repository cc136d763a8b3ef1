"""Grounds: what each is drawn with, and what its numbers do to it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from synthetic.fields import Array
from synthetic.packing import Numbers, pack
from synthetic.sample_ground import ALIKE_SHARE, sample_ground
from synthetic.scene import Ground, Scene, Skin
from synthetic.surfaces import Look, ground_look
from tests.synthetic.scenes import EVEN_GROUND

GROUNDS = [sample_ground(np.random.default_rng([4, i]), False) for i in range(1500)]


def look(ground: Ground, span_mm: float = 400.0, footprint_mm: float = 0.5) -> Look:
    """200 x 200 points of a square of ground, x along the columns."""
    n = Numbers(pack([(Scene(ground=ground), None)]))
    y, x = np.mgrid[0:span_mm:200j, 0:span_mm:200j]
    return ground_look(np, n, (x, y, 0.0 * x), np.full_like(x, footprint_mm))


def green(ground: Ground, span_mm: float = 400.0, footprint_mm: float = 0.5) -> Array:
    return look(ground, span_mm, footprint_mm).rgb[1]


def test_grounds_are_made_of_what_their_names_say() -> None:
    shares = dict.fromkeys({g.name for g in GROUNDS}, 0)
    for ground in GROUNDS:
        shares[ground.name] += 1
        assert (ground.planks > 0) == (ground.name in ("timber", "pallet", "rack"))
        assert (ground.grate > 0) == (ground.name == "grating")
        assert (ground.folds > 0) == (ground.name == "tarpaulin")
        assert (ground.ribs > 0) == (ground.name == "cardboard")
        assert (ground.cracks > 0) <= (ground.name in ("concrete", "soil"))
        assert ground.name != "gravel" or ground.stones >= 0.7
        assert ground.studio == 0.0
    assert set(shares) == {
        "concrete", "soil", "gravel", "timber", "pallet", "rack", "grating", "cardboard", "sand",
        "grass", "steel", "painted floor", "tarpaulin",
    }  # fmt: skip
    assert min(shares.values()) > 0.02 * len(GROUNDS)
    assert 0.08 < np.mean([g.wet > 0 for g in GROUNDS]) < 0.15


def test_some_ground_has_the_pieces_colour_and_no_dark_gravel_is_among_it() -> None:
    rust = Skin(rgb=(0.3, 0.12, 0.05), second_rgb=(0.25, 0.1, 0.05))
    black = Skin(rgb=(0.05, 0.05, 0.05), second_rgb=(0.06, 0.06, 0.06))
    for skin, least in ((rust, 0.08), (black, 0.01)):
        near = []
        for i in range(1500):
            ground = sample_ground(np.random.default_rng([4, i]), False, skin)
            if ground.rgb != GROUNDS[i].rgb:
                near.append(ground)
        assert least < len(near) / 1500 < ALIKE_SHARE + 0.04
        for ground in near:
            assert np.abs(np.log(np.divide(ground.rgb, skin.rgb))).max() < 1.0
            assert skin is rust or ground.name in ("steel", "rack", "painted floor", "tarpaulin")


def test_a_studio_is_even_with_some_shadow_left() -> None:
    for i in range(40):
        ground = sample_ground(np.random.default_rng([4, i]), True)
        assert ground.name == "studio"
        assert ground.rgb == ground.second_rgb
        assert 0.05 <= ground.contact <= 0.6


def test_planks_lie_at_their_pitch_with_gaps_of_their_width() -> None:
    board = replace(EVEN_GROUND, planks=1.0, plank_mm=100.0, gap=0.3, gap_tone=0.05)
    dark = green(board) < 0.04
    assert dark.mean() == pytest.approx(0.3, abs=0.02)
    assert (dark.all(axis=1) | ~dark.any(axis=1)).all()  # gaps run along x
    turned = green(replace(board, turn_deg=90.0)) < 0.04
    assert (np.abs(turned.mean(axis=0) - 0.5) > 0.4).mean() > 0.98
    assert turned.mean() == pytest.approx(0.3, abs=0.02)


def test_a_grating_has_holes_that_run_together_from_afar() -> None:
    grate = replace(EVEN_GROUND, grate=1.0, grate_mm=40.0)
    near, far = green(grate), green(grate, footprint_mm=40.0)
    assert near.min() < 0.2 * near.max()
    assert 0.2 < (near > 0.5 * near.max()).mean() < 0.6
    assert far.std() < 0.05 * far.mean()
    assert far.mean() == pytest.approx(near.mean(), rel=0.35)


@pytest.mark.parametrize(
    ("changes", "span_mm", "share"),
    [
        ({"cracks": 1.0, "crack_mm": 200.0}, 2000.0, (0.002, 0.1)),
        ({"joints": 1.0, "joint_mm": 400.0}, 2000.0, (0.01, 0.1)),
    ],
)
def test_cracks_and_joints_are_thin_dark_lines(
    changes: dict[str, float], span_mm: float, share: tuple[float, float]
) -> None:
    before, after = (green(replace(EVEN_GROUND, **c), span_mm) for c in ({}, changes))
    assert share[0] < (after < 0.8 * before).mean() < share[1]
    assert (after <= before + 1e-6).all()


def test_ribs_folds_blades_and_water() -> None:
    even = look(EVEN_GROUND)
    ribbed = green(replace(EVEN_GROUND, ribs=1.0))
    assert ribbed.std(axis=0).mean() > 0.02 > 100 * ribbed.std(axis=1).mean()  # along x
    folded = look(replace(EVEN_GROUND, folds=0.5))
    assert np.abs(folded.bend[0]).max() > 0.1
    assert np.abs(even.bend[0]).max() == 0.0
    assert green(replace(EVEN_GROUND, blades=1.0)).std() > 0.05
    wet = look(replace(EVEN_GROUND, wet=0.6))
    water = wet.roughness < 0.2
    assert 0.1 < water.mean() < 0.95
    assert (wet.rgb[1][water] < even.rgb[1][water]).all()
