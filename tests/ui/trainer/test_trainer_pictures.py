"""The trainer's pictures against the renderer's truth, and its charts against closed formulas."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from fittings import dimensions
from fittings.geometry import branch_curve
from fittings.words import Construction, Kind, Orientation, Part
from synthetic.native import native_stages
from synthetic.render import render
from synthetic.scene import Finish
from ui.trainer import pictures, scenes, unrolled
from ui.trainer.makes import Make, makes_of
from ui.trainer.scenes import SIZES, SMALL_END, SURFACES, Choice

SMALL = (208, 160)


@pytest.mark.parametrize("nps", SIZES)
def test_every_size_is_listed_for_every_kind(nps: str) -> None:
    assert dimensions.elbow(nps).nps == nps
    assert dimensions.tee(nps, SMALL_END[nps]).outlet_nps == SMALL_END[nps]
    assert dimensions.reducer(nps, SMALL_END[nps]).small_nps == SMALL_END[nps]


@pytest.mark.parametrize("make", Make)
def test_a_scene_has_the_welds_that_its_make_tells_of(make: Make) -> None:
    (piece,) = scenes.scene_of(Choice(make=make)).pieces
    about = make.about
    assert piece.kind is about.kind
    assert piece.construction is about.construction
    orientations = {
        curve.orientation for curve in unrolled.seam_curves(scenes.scene_of(Choice(make=make)))
    }
    assert orientations <= set(about.seams)
    assert bool(orientations) is (about.construction is not Construction.SEAMLESS)
    across = {each for each in orientations if each.speaks_of_fabrication}
    assert bool(across) is (about.construction is Construction.FABRICATED)


def test_every_surface_and_finish_can_be_drawn_and_the_same_choice_gives_the_same_scene() -> None:
    for surface in SURFACES:
        for finish in Finish:
            choice = Choice(make=Make.MITRED_ELBOW, surface=surface, finish=finish, look=7)
            scene = scenes.scene_of(choice)
            assert scene.pieces[0].skin.name == surface
            assert scene.pieces[0].cross_weld.finish is finish
            assert scene == scenes.scene_of(choice)


@pytest.mark.parametrize(
    "wrong",
    [
        {"nps": "7"},
        {"surface": "chrome"},
        {"pieces": 1},
        {"light_height_deg": 90.0},
        {"camera_height_deg": 0.0},
        {"even_light": -1.0},
    ],
)
def test_what_no_slider_gives_is_refused(wrong: dict) -> None:
    with pytest.raises(ValueError, match=r"no size|no surface|2 to 6|high|even light"):
        Choice(make=Make.PUSHED_ELBOW, **wrong)


def _distance_to_curves(along, around_deg, curves, steps=400):
    """Least distance, in chart units (along 0..1, around in turns), to any of the curves."""
    best = np.full(along.shape, np.inf)
    for curve in curves:
        share = np.linspace(0, len(curve.along) - 1, steps)
        at = np.interp(share, np.arange(len(curve.along)), curve.along)
        turn = np.interp(share, np.arange(len(curve.along)), curve.around_deg)
        turns = (around_deg[:, None] - turn[None] + 180.0) % 360.0 - 180.0
        d = np.hypot(along[:, None] - at[None], turns / 360.0)
        best = np.minimum(best, d.min(axis=1))
    return best


@pytest.mark.parametrize("make", [make for make in Make if make.about.seams])
def test_the_chart_draws_seams_where_the_truth_has_them(make: Make) -> None:
    """Every seam pixel of a render, by its own surface coordinates, lies on a drawn curve."""
    scene = scenes.scene_of(Choice(make=make, nps="12", turn_deg=50.0))
    truth = render(scene, *SMALL, native_stages()).truth
    curves = unrolled.seam_curves(scene)
    checked = 0
    for part in (Part.BODY, Part.RUN, Part.OUTLET):
        for orientation in Orientation:
            here = (truth.part[0].round() == part.label) & (
                truth.seam[0].round() == orientation.label
            )
            if here.sum() < 5:
                continue
            own = [c for c in curves if c.part is part and c.orientation is orientation]
            assert own, f"{orientation.value} seam of the {part.value} is not drawn"
            around = np.degrees(np.arctan2(truth.around_sin[0][here], truth.around_cos[0][here]))
            off = _distance_to_curves(truth.along[0][here], around, own)
            # Half a bead (15 mm at most) over the shortest part, 203 mm long or 685 mm around.
            assert np.percentile(off, 95) < 0.09
            checked += 1
    assert checked


def test_the_branch_curve_of_the_chart_is_the_classical_intersection() -> None:
    """Against `fittings.geometry.branch_curve`, for an outlet welded between the two cylinders."""
    scene = scenes.scene_of(Choice(make=Make.SET_ON_TEE))
    piece = replace(scene.pieces[0], root_shift_mm=0.0)
    curves = unrolled.seam_curves(replace(scene, pieces=(piece,)))
    on_outlet = next(c for c in curves if c.part is Part.OUTLET)
    on_run = next(c for c in curves if c.part is Part.RUN)
    points = branch_curve(piece.radius_mm, piece.second_radius_mm, count=360)
    height = np.interp(
        np.degrees(np.arctan2(points[:, 1], points[:, 0])), on_outlet.around_deg, on_outlet.along
    )
    assert height * piece.second_length_mm == pytest.approx(points[:, 2], abs=0.05)
    x = (2 * on_run.along - 1) * piece.length_mm
    y = -piece.radius_mm * np.sin(np.radians(on_run.around_deg))
    assert np.hypot(x, y) == pytest.approx(piece.second_radius_mm, abs=0.05)


def test_a_shot_has_pictures_that_differ_only_where_seams_are_drawn() -> None:
    shot = pictures.shoot(Choice(make=Make.SET_ON_TEE), *SMALL)
    plain, marked = (np.asarray(Image.open(io.BytesIO(data))) for data in (shot.plain, shot.marked))
    assert plain.shape == marked.shape == (SMALL[1], SMALL[0], 3)
    changed = (plain != marked).any(axis=2)
    assert 0.001 < changed.mean() < 0.2
    assert [each.orientation for each in shot.seams] == [Orientation.BRANCH]
    assert shot.plain == pictures.shoot(Choice(make=Make.SET_ON_TEE), *SMALL).plain
    seamless = pictures.shoot(Choice(make=Make.DRAWN_TEE), *SMALL)
    assert seamless.plain != shot.plain
    assert seamless.seams == ()
    assert np.array_equal(
        np.asarray(Image.open(io.BytesIO(seamless.plain))),
        np.asarray(Image.open(io.BytesIO(seamless.marked))),
    )


def test_low_light_from_the_best_side_brings_out_what_even_light_hides() -> None:
    """A painted mitre with its bead left on: the lesson of the page, measured on the truth."""
    choice = Choice(make=Make.MITRED_ELBOW, surface="primer", finish=Finish.PAINTED_OVER, look=2)
    levels = []
    for _, lit in pictures.under_four_lights(choice):
        scene = pictures.metered(scenes.scene_of(lit))
        (seam,) = pictures.standings(scene, render(scene, *SMALL, native_stages()))
        levels.append(seam.levels)
    _, even, least, most = levels
    assert most > 2 * least
    assert most > 2 * even


def test_metering_brings_dark_and_bright_pieces_to_the_same_tone() -> None:
    tones = []
    for surface in ("varnish", "pickled"):
        scene = pictures.metered(scenes.scene_of(Choice(make=Make.PUSHED_ELBOW, surface=surface)))
        picture = render(scene, *SMALL, native_stages())
        on_piece = picture.truth.part[0] > 0.5
        tones.append(float(picture.rgb[0].mean(axis=0)[on_piece].mean()))
    assert tones[0] == pytest.approx(tones[1], abs=0.15)
    assert all(0.15 < tone < 0.6 for tone in tones)


def test_every_kind_has_formed_and_fabricated_makes() -> None:
    for kind in (Kind.ELBOW, Kind.TEE, Kind.REDUCER):
        constructions = [make.about.construction for make in makes_of(kind)]
        assert set(constructions) == set(Construction)
        assert constructions.index(Construction.FABRICATED) > 0
