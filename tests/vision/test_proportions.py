"""Proportions found in pictures, against the rows of ASME B16.9 that the pieces were made from."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest

from fittings import dimensions
from fittings.dimensions import ElbowRadius
from fittings.words import Kind, Part
from synthetic.native import native_stages
from synthetic.render import render
from synthetic.sample import sample_scene
from synthetic.scene import Effects, Piece, Scene
from vision.detail import measure as measure_detail
from vision.known import Known, sized
from vision.known_length import KnownLine
from vision.network import Maps
from vision.photo import Photo
from vision.piece_form import PARTS, Form, usual_form
from vision.proportion_shapes import (
    BEND,
    CENTRE_TO_END,
    END_TO_END,
    OUTLET_M,
    OUTLET_OD,
    RUN_C,
    SMALL_OD,
)
from vision.proportions import Proportions, measure
from vision.standard_rows import against_rows, standard_rows
from vision.truth import truth_maps

WIDTH, HEIGHT = 256, 192


@cache
def maps_of(
    form: Form, *, view: tuple[float, float, float] = (4.0, 6.0, 5.0), focal: float = 0.85,
    noise_deg: float = 0.0,
) -> Maps:  # fmt: skip
    """Maps of a form seen from `view` (outside radii from its middle), by projecting its surface
    point by point."""
    rng = np.random.default_rng(5)
    grids = []
    for part in PARTS[form.kind]:
        along, around = np.meshgrid(np.linspace(0, 1, 360), np.linspace(-np.pi, np.pi, 640))
        keep = form.exists(part, along, around)
        points = form.points(part, along, around)[keep]
        label = np.full(len(points), part.label)
        grids.append((points, label, along[keep], around[keep]))
    points, label, along, around = (np.concatenate(each) for each in zip(*grids, strict=True))
    middle = points.mean(axis=0)
    forward = -np.array(view) / np.linalg.norm(view)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    local = (points - middle - np.array(view)) @ np.stack(
        [right, np.cross(forward, right), forward]
    ).T
    at = focal * WIDTH * local[:, :2] / local[:, 2:] + np.array([WIDTH, HEIGHT]) / 2
    x, y = np.floor(at).astype(int).T
    depth = np.full((HEIGHT, WIDTH), np.inf)
    inside = np.nonzero((x >= 0) & (x < WIDTH) & (y >= 0) & (y < HEIGHT))[0]
    np.minimum.at(depth, (y[inside], x[inside]), local[inside, 2])
    # Of a pixel's points on the near side, the one nearest to its centre.
    near = inside[local[inside, 2] < depth[y[inside], x[inside]] + 0.15]
    off = np.linalg.norm(at[near] - np.floor(at[near]) - 0.5, axis=1)
    order = near[np.argsort(-off)]  # the nearest is written last
    maps = {name: np.zeros((HEIGHT, WIDTH), np.float32) for name in ("part", "along", "cos", "sin")}
    turned = around + np.radians(noise_deg) * rng.normal(size=len(around))
    fields = {"part": label, "along": along, "cos": np.cos(turned), "sin": np.sin(turned)}
    for name, values in fields.items():
        maps[name][y[order], x[order]] = values[order]
    hot = (maps["part"][..., None] == np.arange(len(Part))).astype(np.float32)
    seam = np.zeros((HEIGHT, WIDTH, 4), np.float32)
    seam[..., 0] = 1.0
    return Maps(
        part=hot, seam=seam, along=maps["along"], around_cos=maps["cos"], around_sin=maps["sin"],
        kind=(np.arange(4) == form.kind.label).astype(np.float32), fabricated_logit=0.0,
    )  # fmt: skip


def found(maps: Maps, kind: Kind) -> Proportions:
    proportions = measure(maps, kind)
    assert proportions is not None
    return proportions


ROWS = {
    "long-radius elbow NPS 8": (
        Form(kind=Kind.ELBOW, length=2 * 304.8 / 219.1),
        # A 305 mm (Table 6.1-1), OD 219.1 mm
        {BEND: 90.0, CENTRE_TO_END: 305 / 219.1},
    ),
    "short-radius elbow NPS 6": (
        Form(kind=Kind.ELBOW, length=2 * 152.4 / 168.3),
        {BEND: 90.0, CENTRE_TO_END: 152 / 168.3},
    ),
    "reducing tee NPS 6 x 4": (
        Form(
            kind=Kind.TEE, length=2 * 143 / 168.3, second_radius=114.3 / 168.3,
            second_length=2 * 130 / 168.3,
        ),
        # C 143, M 130 (Tables 6.1-7 and 6.1-8)
        {RUN_C: 143 / 168.3, OUTLET_M: 130 / 168.3, OUTLET_OD: 114.3 / 168.3},
    ),
    "reducer NPS 10 x 6": (
        Form(kind=Kind.REDUCER, length=2 * 178 / 273.0, second_radius=168.3 / 273.0),
        # H 178 (Table 6.1-11)
        {END_TO_END: 178 / 273.0, SMALL_OD: 168.3 / 273.0},
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", ROWS)
def test_proportions_of_listed_pieces(name: str) -> None:
    form, expected = ROWS[name]
    proportions = found(maps_of(form), form.kind)
    given = {ratio.name: ratio for ratio in proportions.ratios}
    assert given
    for ratio_name, ratio in given.items():
        assert abs(ratio.value - expected[ratio_name]) < 2.5 * ratio.error, ratio_name
        assert ratio.value == pytest.approx(expected[ratio_name], rel=0.06), ratio_name


@pytest.mark.parametrize("name", ROWS)
def test_its_own_row_fits(name: str) -> None:
    form, _ = ROWS[name]
    against = against_rows(found(maps_of(form), form.kind))
    assert against is None or (against.fits and "fits rows of ASME B16.9" in against.sentence)


def test_the_diameter_is_that_of_the_projection() -> None:
    """A far camera: OD · f / distance, closed form."""
    form = ROWS["reducing tee NPS 6 x 4"][0]
    view = (10.0, 15.0, 12.0)
    middle = np.concatenate(
        [form.points(p, *np.meshgrid(np.linspace(0, 1, 50), np.linspace(-3, 3, 50)))
         .reshape(-1, 3) for p in PARTS[Kind.TEE]]
    ).mean(axis=0)  # fmt: skip
    away = np.linalg.norm(np.array(view) + middle * 0.3)
    proportions = found(maps_of(form, view=view, focal=2.0), Kind.TEE)
    assert proportions.diameter_px == pytest.approx(2.0 * 2.0 * WIDTH / away, rel=0.05)


def test_a_piece_of_no_row_is_pointed_out_with_figures() -> None:
    """A tee whose run is half as long again as any row's: C 1.4 and more over OD is listed at
    NPS 1/2 alone, where M is as long."""
    long = Form(kind=Kind.TEE, length=3.2, second_radius=0.6, second_length=1.6)
    against = against_rows(found(maps_of(long, view=(5.0, 7.0, 6.0)), Kind.TEE))
    assert against is not None
    assert against.fits is False
    assert "fits no row of ASME B16.9" in against.sentence
    assert "1.6" in against.sentence
    assert "Measure it" in against.sentence


def test_a_known_size_asks_for_its_own_rows() -> None:
    form, _ = ROWS["short-radius elbow NPS 6"]
    proportions = replace(found(maps_of(form), Kind.ELBOW))
    sharp = replace(
        proportions, ratios=tuple(replace(r, error=0.01 * r.value) for r in proportions.ratios)
    )
    own = against_rows(sharp, "6")
    assert own is not None
    assert own.nearest.form == "short-radius 90° elbow"
    assert "NPS 6" in own.sentence
    with pytest.raises(ValueError, match="nominal pipe size"):
        against_rows(sharp, "six")


def test_rows_are_all_there() -> None:
    """One row for each of the tables' own, ratios from the same look-ups."""
    tables = dimensions.SizeTable
    counts = {kind: len(standard_rows(kind)) for kind in Kind}
    assert counts[Kind.NONE] == 0
    assert counts[Kind.REDUCER] == len(dimensions.listed_sizes(tables.REDUCER))
    elbow = next(r for r in standard_rows(Kind.ELBOW) if r.size == "NPS 12" and "long" in r.form)
    assert dict(elbow.ratios)[CENTRE_TO_END] == pytest.approx(457 / 323.8)
    assert dimensions.elbow("12", ElbowRadius.LONG).centre_to_end_mm == 457


def test_maps_that_belong_to_no_piece_say_nothing() -> None:
    form, _ = ROWS["long-radius elbow NPS 8"]
    true = maps_of(form)
    torn = replace(true, around_cos=0.5 * true.around_cos, around_sin=0.5 * true.around_sin)
    assert measure(torn, Kind.ELBOW) is None, "a network torn between places"
    assert measure(true, Kind.NONE) is None
    rng = np.random.default_rng(1)
    shuffled = replace(true, along=rng.uniform(0, 1, true.along.shape).astype(np.float32))
    wrong = measure(shuffled, Kind.ELBOW)
    assert wrong is None or not wrong.ratios


def test_noise_widens_the_errors() -> None:
    form, expected = ROWS["reducing tee NPS 6 x 4"]
    clean, noisy = (found(maps_of(form, noise_deg=n), Kind.TEE) for n in (0.0, 5.0))
    assert noisy.misfit > 3 * clean.misfit
    before, after = clean.ratio(RUN_C), noisy.ratio(RUN_C)
    assert before is not None
    assert after is None or after.error > before.error
    assert after is None or abs(after.value - expected[RUN_C]) < 3 * after.error


def test_an_outlet_out_of_view_is_not_guessed() -> None:
    """Seen from below, a tee shows its run alone."""
    form, _ = ROWS["reducing tee NPS 6 x 4"]
    proportions = found(maps_of(form, view=(2.5, 5.0, -9.0)), Kind.TEE)
    assert proportions.ratio(OUTLET_M) is None
    assert proportions.ratio(OUTLET_OD) is None


def seen(index: int, kind: Kind) -> tuple[Piece, np.ndarray, Maps]:
    """A drawn piece, its picture (192, 256, 3), and the truth of its maps."""
    scene: Scene = sample_scene(np.random.default_rng([910_001, 77, index]), (kind,))
    clean = replace(scene, effects=Effects(exposure=scene.effects.exposure, blur_px=0.3))
    picture = render(clean, WIDTH, HEIGHT, native_stages())
    pixels = np.rint(np.clip(picture.rgb[0], 0, 1).transpose(1, 2, 0) * 255).astype(np.uint8)
    return scene.pieces[0], pixels, truth_maps(picture, kind, fabricated=False)


@pytest.mark.parametrize(("index", "kind"), [(12, Kind.ELBOW), (4, Kind.TEE), (23, Kind.REDUCER)])
def test_rendered_pieces_have_the_proportions_they_were_made_with(index: int, kind: Kind) -> None:
    piece, _, maps = seen(index, kind)
    od_mm = 2 * piece.radius_mm
    expected = {
        Kind.ELBOW: {
            BEND: piece.bend_deg,
            # A 45° elbow's B: R tan 22.5° and its straight end.
            CENTRE_TO_END: (
                piece.length_mm * np.tan(np.radians(piece.bend_deg / 2)) + piece.stub_mm
            )
            / od_mm,
        },
        Kind.TEE: {
            RUN_C: piece.length_mm / od_mm,
            OUTLET_M: piece.second_length_mm / od_mm,
            OUTLET_OD: piece.second_radius_mm / piece.radius_mm,
        },
        Kind.REDUCER: {
            END_TO_END: piece.length_mm / od_mm,
            SMALL_OD: piece.second_radius_mm / piece.radius_mm,
        },
    }[kind]
    proportions = found(maps, kind)
    assert len(proportions.ratios) >= (1 if kind is Kind.ELBOW else 2)
    for ratio in proportions.ratios:
        assert abs(ratio.value - expected[ratio.name]) < 3 * ratio.error, ratio


def test_what_is_known_of_a_photo_gives_a_size() -> None:
    form, _ = ROWS["long-radius elbow NPS 8"]
    maps = maps_of(form)
    pixels = np.full((384, 512, 3), 90, np.uint8)
    grey = cv2.resize(maps.part[..., Part.BODY.label], (512, 384))
    pixels[grey > 0.5] = 180
    photo = Photo(name="x", sha256="0" * 64, width=512, height=384, pixels=pixels)
    proportions = found(maps, Kind.ELBOW)
    detail = measure_detail(pixels, maps, Kind.ELBOW, photo_px=512, proportions=proportions)
    assert detail.diameter_px is not None
    rule = KnownLine(
        start=(10.0, 370.0), end=(210.0, 370.0), length_mm=200 * 219.1 / detail.diameter_px
    )
    answer = sized(photo, maps, Kind.ELBOW, Known(line=rule), proportions, detail)
    assert answer.size is not None
    assert "8" in answer.size.sizes
    other = sized(photo, maps, Kind.ELBOW, Known(nps="20", line=rule), proportions, detail)
    assert "NPS 20" in other.sentences[-1]
    nothing = sized(photo, maps, Kind.ELBOW, Known(sheet=True), proportions, detail)
    assert nothing.size is None
    assert "No sheet of A4 paper was found" in nothing.sentences[0]
    assert sized(photo, maps, Kind.ELBOW, Known(), proportions, detail).sentences == ()
    with pytest.raises(LookupError):
        Known(nps="77")


def test_an_outline_alone_does_not_size_a_reducer() -> None:
    maps = maps_of(usual_form(Kind.REDUCER))
    pixels = np.full((384, 512, 3), 90, np.uint8)
    photo = Photo(name="x", sha256="0" * 64, width=512, height=384, pixels=pixels)
    detail = measure_detail(pixels, maps, Kind.REDUCER, photo_px=512)
    rule = KnownLine(start=(10.0, 370.0), end=(210.0, 370.0), length_mm=300.0)
    answer = sized(photo, maps, Kind.REDUCER, Known(line=rule), None, detail)
    assert answer.size is None
    assert "unclear" in answer.sentences[0]
