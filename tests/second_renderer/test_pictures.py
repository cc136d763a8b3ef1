"""The second renderer's pictures, truths and counts; one tiny render, checked by a closed form."""

from __future__ import annotations

import json

import numpy as np
import pytest

from fittings.words import Construction, Kind, Orientation
from tests.second_renderer.meshes import box, merged, moved, plain
from tests.second_renderer.noise import Noise
from tests.second_renderer.photographs import Phone, develop, gain, tone
from tests.second_renderer.pictures import SeenPiece, SeenSeam, Truth, truth_from_json
from tests.second_renderer.places import GROUNDS, SKIES, ground_bitmap, sky_bitmap
from tests.second_renderer.reading import exam_row
from tests.second_renderer.rendering import View
from tests.second_renderer.skins import SKINS, skin_look
from vision.exam_groups import is_fabricated

PHONE = Phone(
    exposure=0.18,
    contrast=1.0,
    white=(1.0, 1.0, 1.0),
    noise=0.0,
    blur_px=0.0,
    sharpen=0.0,
    quality=95,
    seed=1,
)


def truth(construction: Construction, *seams: SeenSeam) -> Truth:
    """A picture of 400 × 300 with one tee."""
    piece = SeenPiece(
        kind=Kind.TEE.value,
        construction=construction.value,
        text="NPS 6 × 6 tee",
        skin="paint",
        finish="painted over",
        joined=False,
        share=0.2,
        seams=seams,
    )
    return Truth(
        index=3,
        seed=1,
        name="second-1-0003.png",
        width_px=400,
        height_px=300,
        place="concrete, clear",
        things=2,
        pieces=(piece,),
    )


def test_a_truth_goes_through_json_and_back() -> None:
    seam = SeenSeam(orientation=Orientation.BRANCH.value, pixels=900, contrast=7.5)
    whole = truth(Construction.FABRICATED, seam)
    assert truth_from_json(json.loads(json.dumps(whole.as_json()))) == whole


@pytest.mark.parametrize(
    ("make", "orientation", "pixels", "contrast", "expected"),
    [
        # 300 of 384 × 288 pixels are 325.5 of 400 × 300; 4 levels: the exam's "visible".
        (Construction.FABRICATED, Orientation.BRANCH, 326, 4.1, True),
        (Construction.FABRICATED, Orientation.BRANCH, 325, 4.1, None),
        (Construction.FABRICATED, Orientation.BRANCH, 326, 3.9, None),
        (Construction.FABRICATED, Orientation.LONGITUDINAL, 900, 9.0, None),
        (Construction.WELDED, Orientation.LONGITUDINAL, 900, 9.0, False),
    ],
)
def test_pictures_count_as_in_the_exam(
    make: Construction, orientation: Orientation, pixels: int, contrast: float, expected: bool
) -> None:
    seam = SeenSeam(orientation=orientation.value, pixels=pixels, contrast=contrast)
    assert is_fabricated(exam_row(truth(make, seam), {})) is expected


def test_exposure_brings_an_even_picture_to_the_asked_brightness() -> None:
    for radiance in (0.01, 1.0, 50.0):
        flat = np.full((48, 64, 3), radiance)
        assert radiance * gain(flat, PHONE) == pytest.approx(0.18, rel=0.02)
        pixels = develop(flat, PHONE)
        assert pixels.dtype == np.uint8
        assert np.ptp(pixels.astype(int)) <= 2


def test_the_curve_rises_and_ends_at_white() -> None:
    ramp = np.repeat(np.linspace(0, 40, 200)[:, None], 3, 1)[None]
    values = tone(ramp, PHONE, 1.0)[0, :, 0]
    assert (np.diff(values) >= 0).all()
    assert values[0] < 0.02
    assert values[-1] == pytest.approx(1.0)


@pytest.mark.parametrize("name", SKINS)
def test_every_skin_gives_numbers_that_a_material_may_have(name: str) -> None:
    rng = np.random.default_rng(2)
    points = rng.uniform(-300, 300, (2000, 3))
    look = skin_look(name, points, rng, Noise(rng))
    for values in (look.color, look.rough, look.metal):
        assert np.isfinite(values).all()
        assert 0.0 <= values.min() <= values.max() <= 1.0
    assert np.ptp(look.color, axis=0).max() > 0.01


def test_unknown_names_are_refused_by_name() -> None:
    rng = np.random.default_rng(2)
    with pytest.raises(ValueError, match="mill scale"):
        skin_look("velvet", np.zeros((1, 3)), rng, Noise(rng))
    with pytest.raises(ValueError, match="gravel"):
        ground_bitmap("lava", rng)
    with pytest.raises(ValueError, match="overcast"):
        sky_bitmap("nebula", rng)


def test_the_lists_of_places_name_what_can_be_made() -> None:
    assert len(set(GROUNDS)) == len(GROUNDS)
    sun = sky_bitmap(SKIES[0], np.random.default_rng(4))
    assert sun.min() >= 0.0
    # A clear sky's light comes mostly from its sun: a few pixels hold most of the radiance.
    assert np.sort(sun.sum(-1).ravel())[-20:].sum() > 0.3 * sun.sum()


def test_a_tiny_render_shows_the_boxes_where_they_are() -> None:
    pytest.importorskip("mitsuba", reason="the extra `second` is not installed")
    from tests.second_renderer import rendering

    first = plain(*box([100, 100, 100]), (0.7, 0.1, 0.1), 0.6)
    second = plain(*box([60, 60, 200]), (0.1, 0.1, 0.7), 0.6)
    mesh = merged(
        [
            moved(first, np.eye(3), np.array([0, 0, 50.0])),
            moved(second, np.eye(3), np.array([90.0, 60, 100])),
        ]
    )
    view = View(
        eye=np.array([500.0, -300, 300]),
        target=np.array([30.0, 20, 60]),
        up=np.array([0, 0, 1.0]),
        fov_deg=40,
        width_px=32,
        height_px=24,
    )
    scene = rendering.load(mesh, np.full((4, 4, 3), 0.3), np.full((16, 32, 3), 1.0), view)
    faces = rendering.seen_faces(scene, mesh, view)
    forward = view.target - view.eye
    forward /= np.linalg.norm(forward)
    right = np.cross(forward, view.up)
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    half = np.tan(np.deg2rad(20))
    y, x = np.meshgrid(
        (np.arange(24) + 0.5 - 12) / 16, (np.arange(32) + 0.5 - 16) / 16, indexing="ij"
    )
    ways = forward + half * (x[..., None] * right + y[..., None] * down)
    near = np.stack(
        [
            _entry(view.eye, ways, (-50, -50, 0), (50, 50, 100)),
            _entry(view.eye, ways, (60, 30, 0), (120, 90, 200)),
        ]
    )
    expected = np.where(np.isfinite(near.min(0)), near.argmin(0), -1)
    # Rays along an edge may fall on either side of it.
    assert (expected == np.where(faces < 0, -1, faces // 12)).mean() > 0.99
    assert 0.1 < (faces >= 0).mean() < 0.6
    radiance = rendering.render(scene, 8, 1)
    assert radiance.shape == (24, 32, 3)
    red = np.isin(faces, np.arange(12))
    assert radiance[red, 0].mean() > 2 * radiance[red, 2].mean()
    assert radiance[(faces >= 12), 2].mean() > 2 * radiance[(faces >= 12), 0].mean()


def _entry(
    eye: np.ndarray, ways: np.ndarray, low: tuple[int, ...], high: tuple[int, ...]
) -> np.ndarray:
    """Where each ray enters a box, inf where it misses: the slab method (Kay and Kajiya, 1986)."""
    first, second = (low - eye) / ways, (high - eye) / ways
    enter, leave = np.minimum(first, second).max(-1), np.maximum(first, second).min(-1)
    return np.where(leave >= np.maximum(enter, 0), enter, np.inf)
