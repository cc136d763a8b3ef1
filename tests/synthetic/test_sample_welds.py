"""Welds within the codes' limits, their relief against its own words, and every trace's effect."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fittings.words import Construction, Kind
from synthetic.packing import Numbers, pack
from synthetic.sample_skins import sample_skin
from synthetic.sample_welds import STAINLESS, crown_limit_mm, sample_weld
from synthetic.scene import Finish, Piece, Scene, Weld
from synthetic.shapes import _relief
from synthetic.surfaces import HEAT_TINT, heat_tint
from tests.synthetic.scenes import MATT, drawn, small

WALLS_MM = (3.0, 6.0, 9.5, 20.0, 30.0)


def drawn_welds(count: int = 150) -> list[tuple[float, Weld]]:
    out = []
    for i in range(count):
        rng = np.random.default_rng([12, i])
        wall = WALLS_MM[i % len(WALLS_MM)]
        out.append((wall, sample_weld(rng, wall, sample_skin(rng))))
    return out


def relief(weld: Weld, u: np.ndarray, v: np.ndarray, detail: float | None = 1.0) -> np.ndarray:
    """Height in mm at lateral distances `u` and positions `v`, (N,) each."""
    piece = Piece(along_weld=replace(weld, present=1.0))
    n = Numbers(pack([(Scene(), piece)]).astype(np.float64))
    fine = None if detail is None else np.full((1, 1), detail)
    return np.asarray(_relief(np, n, "piece.along_weld", u[None], v[None], fine)[0])


def test_the_words_that_exams_know_are_kept() -> None:
    words = [finish.value for finish in Finish]
    assert words == [
        "as welded",
        "brushed",
        "ground flush",
        "painted over",
        "blasted",
        "touched up",
    ]
    assert {weld.finish for _, weld in drawn_welds()} == set(Finish) - {Finish.TOUCHED_UP}


def test_width_and_ripple_keep_to_what_the_trade_knows() -> None:
    """A single V's crown is 2·t·tan 37.5° + gap + 3 mm wide, two-sided seams half to two thirds of
    that; ripples are 0.5 to 3 mm apart; undercut is at most 0.5 mm deep."""
    for wall, weld in drawn_welds():
        single_v = 2 * wall * np.tan(np.radians(37.5)) + 1.6 + 3.0
        if not (weld.crown_mm == 0.0 and weld.toe_mm != 0.0):  # an edge under paint is narrow
            assert 0.5 * single_v <= 2 * weld.half_width_mm <= 1.4 * single_v
        assert 0.5 <= weld.ripple_pitch_mm <= 3.0
        assert weld.ripple_mm <= 0.12 * weld.ripple_pitch_mm
        assert abs(weld.toe_mm) <= 0.5


def test_no_bead_stands_higher_than_the_code_lets_it() -> None:
    u, v = (g.ravel() for g in np.meshgrid(np.linspace(-30, 30, 61), np.linspace(0, 900, 901)))
    for wall, weld in drawn_welds(60):
        smooth = replace(weld, ripple_mm=0.0, hilo_mm=0.0)
        height = relief(smooth, u, v)
        assert height.max() <= crown_limit_mm(wall) + max(0.0, -weld.toe_mm) + 1e-6
        # And no crater or valley goes far into the parent metal.
        assert height.min() >= -max(weld.toe_mm, 0.0) - 0.1 * crown_limit_mm(wall) - 0.7


def test_valleys_lie_between_passes_and_toes_at_the_edges() -> None:
    v = np.zeros(3)
    capped = Weld(half_width_mm=9.0, crown_mm=2.0, passes=3.0, pass_mm=1.0)
    between, middle, aside = relief(capped, np.array([3.0, 0.0, 6.0]), v)
    assert between < middle - 0.6
    assert aside == pytest.approx(relief(replace(capped, pass_mm=0.0), np.array([6.0]), v[:1])[0])
    cut = Weld(half_width_mm=10.0, toe_mm=0.4)
    assert relief(cut, np.array([8.0, 0.0, 11.0]), v) == pytest.approx([-0.4, 0.0, 0.0])


def test_a_crater_returns_at_every_stop() -> None:
    weld = Weld(half_width_mm=5.0, crown_mm=1.5, crater_mm=0.8, stop_mm=100.0)
    at = relief(weld, np.zeros(4), np.array([0.0, 100.0, 300.0, 50.0]))
    assert at == pytest.approx([0.7, 0.7, 0.7, 1.5], abs=1e-6)


def test_an_uneven_bead_narrows_and_sinks_but_never_outgrows_its_label() -> None:
    weld = Weld(half_width_mm=5.0, crown_mm=2.0, uneven=0.3, wander_length_mm=60.0)
    v = np.linspace(0, 120, 400)
    crown = relief(weld, 0 * v, v)
    assert crown.max() <= 2.0 + 1e-9
    assert crown.min() == pytest.approx(1.4, abs=0.02)
    assert (relief(weld, 0 * v + 5.0, v) == 0.0).all()


def test_a_step_between_two_sides_does_not_come_back_elsewhere() -> None:
    weld = Weld(half_width_mm=5.0, hilo_mm=1.0)
    far = relief(weld, np.array([-40.0, -10.0, 10.0, 40.0]), np.zeros(4), None)
    assert (far == 0.0).all()
    assert relief(weld, np.array([-5.0, 5.0]), np.zeros(2), None) == pytest.approx([-0.5, 0.5])


def test_a_blasted_seam_keeps_its_relief_and_no_colour() -> None:
    blasted = [weld for _, weld in drawn_welds(400) if weld.finish is Finish.BLASTED]
    assert len(blasted) > 15
    for weld in blasted:
        assert weld.bead_mix == weld.band_mix == weld.zone_mix == weld.spatter == 0.0
        assert weld.crown_mm > 0.0


def test_some_painted_seams_keep_only_roughness_or_only_an_edge() -> None:
    painted = [weld for _, weld in drawn_welds(600) if weld.finish is Finish.PAINTED_OVER]
    rough = [weld for weld in painted if weld.trace_roughness != 0.0]
    edge = [weld for weld in painted if weld.crown_mm == 0.0 and weld.toe_mm != 0.0]
    for weld in (*rough, *edge):
        assert weld.crown_mm == weld.hilo_mm == weld.bead_mix == weld.band_mix == 0.0
    assert 0.05 < len(rough) / len(painted) < 0.2
    assert 0.05 < len(edge) / len(painted) < 0.2


def test_temper_colours_come_in_their_order_and_on_stainless_only() -> None:
    # Rim to bead: 290, 340, 370, 390, 420, 450, 540, 600 °C in published heat-tint tables.
    order = [
        "light yellow", "straw yellow", "yellow", "brown", "purple-brown", "dark purple", "blue",
        "dark blue",
    ]  # fmt: skip
    assert [name for name, _ in HEAT_TINT] == order
    at = np.stack(heat_tint(np, np.linspace(0.0, 1.0, len(order))), 1)
    assert at == pytest.approx(np.array([rgb for _, rgb in HEAT_TINT]))
    for i in range(300):
        rng = np.random.default_rng([13, i])
        skin = sample_skin(rng)
        weld = sample_weld(rng, 8.0, skin)
        assert weld.tint_order == 0.0 or skin.name in STAINLESS


TRACES: dict[str, tuple[dict[str, float], dict[str, float]]] = {
    "uneven": ({"crown_mm": 4.0}, {"uneven": 0.3}),
    "pass_mm": ({"crown_mm": 4.0, "passes": 3.0}, {"pass_mm": 2.0}),
    "passes": ({"crown_mm": 4.0, "passes": 2.0, "pass_mm": 2.0}, {"passes": 3.0}),
    "toe_mm": ({}, {"toe_mm": 0.5}),
    "crater_mm": ({"crown_mm": 4.0, "stop_mm": 60.0}, {"crater_mm": 2.5}),
    "stop_mm": ({"crown_mm": 4.0, "stop_mm": 60.0, "crater_mm": 2.5}, {"stop_mm": 90.0}),
    "spatter": ({}, {"spatter": 0.9, "spatter_mm": 4.0}),
    "spatter_mm": ({"spatter": 0.9, "spatter_mm": 2.0}, {"spatter_mm": 5.0}),
    "swirl": ({"band_mix": 1.0}, {"swirl": 1.0}),
    "tint_order": ({"zone_mix": 1.0}, {"tint_order": 1.0}),
    "trace_roughness": ({}, {"trace_roughness": -0.4}),
    "rounded": ({"crown_mm": 4.0}, {"rounded": 1.0}),
}


@pytest.mark.parametrize("name", TRACES)
def test_every_trace_of_a_weld_changes_the_picture(name: str) -> None:
    scene, piece = drawn(Kind.ELBOW, Construction.FABRICATED, 3)
    before, after = TRACES[name]
    weld = Weld(present=1.0, half_width_mm=0.1 * piece.radius_mm, band_half_width_mm=40.0)
    weld = replace(weld, zone_half_width_mm=0.3 * piece.radius_mm)
    weld = replace(weld, **before)  # type: ignore[arg-type]
    skin = replace(MATT, roughness=0.6, gloss=0.3)
    plain = replace(piece, skin=skin, cross_weld=weld, along_weld=Weld())
    other = replace(plain, cross_weld=replace(weld, **after))  # type: ignore[arg-type]
    a, b = (small(replace(scene, pieces=(p,))) for p in (plain, other))
    assert np.abs(a.rgb - b.rgb).max() > 0.01
    if name not in ("uneven", "rounded"):  # which move the surface itself, as `crown_mm` does
        assert np.array_equal(a.truth.seam, b.truth.seam)
