"""The renderer as a whole: repeatable bytes, numpy against torch, and two golden pictures."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
import torch
from PIL import Image

from fittings.words import Construction, Kind
from synthetic import effects
from synthetic.camera import looking_at
from synthetic.draws import triple
from synthetic.gallery import rgb_pixels
from synthetic.native import native_stages
from synthetic.packing import Numbers, pack
from synthetic.render import (
    Picture,
    compose,
    finish,
    item_layer,
    plain_stages,
    render,
    seam_orientation,
)
from synthetic.sample import PIECE_KINDS, sample_scene
from synthetic.scene import Camera, Piece, Scene
from tests.synthetic.golden import check_golden
from tests.synthetic.scenes import drawn

WIDTH, HEIGHT = 96, 64


@pytest.fixture
def one_thread() -> Iterator[None]:
    """Pictures this small go slower on several threads, many times so on a busy machine."""
    before = torch.get_num_threads()
    torch.set_num_threads(1)
    yield
    torch.set_num_threads(before)


def all_bytes(picture: Picture) -> bytes:
    truth = (getattr(picture.truth, f.name) for f in fields(picture.truth))
    arrays = (picture.rgb, picture.contrast, picture.pixels, *truth)
    return b"".join(np.ascontiguousarray(a).tobytes() for a in arrays)


@pytest.mark.parametrize("index", range(3))
def test_same_scene_same_bytes_whatever_the_global_seeds(index: int) -> None:
    scene = sample_scene(np.random.default_rng([0, index]))  # seed 0 is a seed like any other
    first = all_bytes(render(scene, WIDTH, HEIGHT))
    np.random.seed(1234 + index)  # noqa: NPY002 - the global state is what must not matter
    random.seed(4321)
    torch.manual_seed(5)
    render(Scene(), 32, 32)
    assert all_bytes(render(scene, WIDTH, HEIGHT)) == first


def test_another_noise_seed_is_another_picture_of_the_same_truth() -> None:
    scene, _ = drawn(Kind.ELBOW, Construction.WELDED, 3)
    a = render(scene, WIDTH, HEIGHT)
    b = render(replace(scene, noise_seed=77.0), WIDTH, HEIGHT)
    assert np.abs(a.rgb - b.rgb).mean() > 0.002
    assert np.array_equal(a.truth.seam, b.truth.seam)


@pytest.mark.parametrize(("width", "height"), [(100, 64), (96, 60), (0, 64), (96, -16)])
def test_sizes_off_the_grid_are_refused(width: int, height: int) -> None:
    with pytest.raises(ValueError, match="multiples of 16"):
        render(Scene(), width, height)


def test_values_are_finite_and_in_range() -> None:
    for index in range(10):
        scene = sample_scene(np.random.default_rng([61, index]))
        # The compiled stages, which most pictures come from, are quicker than numpy's.
        picture = render(scene, WIDTH, HEIGHT, None if index < 3 else native_stages())
        assert picture.rgb.shape == (1, 3, HEIGHT, WIDTH)
        assert np.isfinite(picture.rgb).all()
        assert picture.rgb.min() >= 0.0
        assert picture.rgb.max() <= 1.0
        assert (picture.truth.depth_mm > 0).all()


def test_a_weld_that_leaves_no_trace_has_no_contrast() -> None:
    scene, piece = drawn(Kind.ELBOW, Construction.WELDED, 4)
    bare = replace(
        piece.along_weld, crown_mm=0.0, hilo_mm=0.0, ripple_mm=0.0, bead_mix=0.0, band_mix=0.0,
        zone_mix=0.0, toe_mm=0.0, pass_mm=0.0, crater_mm=0.0, spatter=0.0, trace_roughness=0.0,
    )  # fmt: skip
    bold = replace(bare, bead_mix=1.0, bead_rgb=(0.9, 0.9, 0.9))
    contrast = {}
    for word, weld in (("bare", bare), ("bold", bold)):
        changed = replace(scene, pieces=(replace(piece, along_weld=weld),))
        picture = render(changed, WIDTH, HEIGHT)
        assert picture.pixels[0, 0] == (picture.truth.slot == 1).sum() > 0
        contrast[word] = picture.contrast[0, 0]
    assert contrast["bare"] < 0.01
    assert contrast["bold"] > 4.0


@pytest.mark.parametrize("front_first", [True, False])
def test_the_nearer_piece_hides_the_farther_one(front_first: bool) -> None:
    scene, front = drawn(Kind.ELBOW, Construction.FABRICATED, 3)
    aside = 0.4 * np.asarray(scene.camera.rotation)[:3] * front.length_mm
    away = 0.2 * (np.asarray(front.position_mm) - np.asarray(scene.camera.position_mm))
    back = replace(front, position_mm=triple(front.position_mm + away + aside))
    pieces = (front, back) if front_first else (back, front)
    scene = replace(scene, pieces=pieces)
    both = render(scene, WIDTH, HEIGHT).truth
    alone = [render(replace(scene, pieces=(p,)), WIDTH, HEIGHT).truth for p in pieces]
    shows = np.stack([truth.part > 0 for truth in alone])
    assert (shows[0] & shows[1]).sum() > 50
    depths = np.where(shows, np.stack([truth.depth_mm for truth in alone]), np.inf)
    nearest = np.where(shows.any(axis=0), depths.argmin(axis=0) + 1, 0)
    # But for pixels where the piece behind would stand in the ground.
    assert (both.piece == nearest).mean() > 0.995
    assert set(np.unique(both.slot)) >= {2, 4}
    assert np.array_equal(np.ceil(both.slot / 2)[both.slot > 0], both.piece[both.slot > 0])


def test_seams_are_named_by_kind_and_slot() -> None:
    assert [seam_orientation(Kind.TEE, slot).value for slot in (1, 2, 3, 4)] == [
        "longitudinal", "branch", "longitudinal", "branch",
    ]  # fmt: skip
    assert seam_orientation(Kind.ELBOW, 2).value == "circumferential"


def on_torch(scene: Scene) -> Picture:
    """`render` of a scene of one piece or none, on torch."""
    piece = scene.pieces[0] if scene.pieces else None
    n = Numbers(torch.from_numpy(pack([(scene, piece)])))
    kind = piece.kind if piece else None
    run = plain_stages()
    layer = item_layer(torch, kind, n, WIDTH, HEIGHT, run)
    whole, number = compose(torch, [layer])
    fixed = {name: torch.from_numpy(value) for name, value in effects.constants().items()}
    return finish(torch, n, whole, number, WIDTH, HEIGHT, 2, run, fixed)


@pytest.mark.usefixtures("one_thread")
@pytest.mark.parametrize("kind", [*PIECE_KINDS, None])
def test_numpy_and_torch_agree(kind: Kind | None) -> None:
    scene = sample_scene(np.random.default_rng([63, 2]), () if kind is None else (kind,))
    # JPEG turns a difference in the last bit into one of a whole step.
    quiet = replace(scene.effects, jpeg_quality=0.0, first_jpeg_quality=0.0)
    scene = replace(scene, effects=quiet)
    a, b = render(scene, WIDTH, HEIGHT), on_torch(scene)
    part, seam = b.truth.part.numpy(), b.truth.seam.numpy()
    assert (a.truth.part == part).mean() >= 0.995
    assert (a.truth.seam == seam).mean() >= 0.995
    assert (np.abs(a.truth.along - b.truth.along.numpy()) < 0.01).mean() >= 0.995
    difference = np.abs(a.rgb - b.rgb.numpy()).max(axis=1)
    assert (difference < 0.05).mean() >= 0.985
    assert difference.mean() < 0.004
    if kind is not None:
        assert (part > 0).sum() > 100


def test_a_long_lens_shows_a_small_piece_from_afar() -> None:
    """100 radii away at a focal length of 6 long sides it spans 0.12 of the frame and more."""
    piece = Piece(radius_mm=20.0, length_mm=60.0, position_mm=(-60.0, 0.0, 40.0))
    position = (2000.0, 0.0, 60.0)
    rotation = looking_at(position, (0.0, 0.0, 40.0), 0.0)
    camera = Camera(position_mm=position, rotation=rotation, focal=6.0)  # type: ignore[arg-type]
    part = render(Scene(pieces=(piece,), camera=camera), WIDTH, HEIGHT).truth.part
    assert (part > 0.5).sum() > 0.12 * 0.12 * WIDTH * WIDTH


GOLDENS = {
    "elbow": (Kind.ELBOW, Construction.FABRICATED, 12),
    "tee": (Kind.TEE, Construction.FABRICATED, 9),  # with a pad: two branch welds,
}


@pytest.mark.parametrize("name", GOLDENS)
def test_golden_pictures(name: str, update_golden: bool) -> None:
    scene, piece = drawn(*GOLDENS[name])
    weld = replace(piece.cross_weld, bead_mix=0.8)
    picture = render(replace(scene, pieces=(replace(piece, cross_weld=weld),)), WIDTH, HEIGHT)
    labels = np.concatenate([picture.truth.part[0], picture.truth.seam[0]], axis=1)
    check_golden(name, rgb_pixels(picture), labels=False, update=update_golden)
    check_golden(f"{name}.labels", labels.astype(np.uint8), labels=True, update=update_golden)


def test_a_golden_that_differs_or_is_missing_fails(tmp_path: Path) -> None:
    places = {"golden": tmp_path / "golden", "failures": tmp_path / "failures"}
    colours = np.full((20, 30, 3), 100, np.uint8)
    with pytest.raises(pytest.fail.Exception, match="missing"):
        check_golden("x", colours, labels=False, update=False, **places)
    check_golden("x", colours, labels=False, update=True, **places)
    check_golden("x", colours + np.uint8(12), labels=False, update=False, **places)
    changed = colours.copy()
    changed[3, 4:6] = 160  # 2 of 600 pixels: more than 0.2 %
    with pytest.raises(pytest.fail.Exception, match="agree"):
        check_golden("x", changed, labels=False, update=False, **places)
    names = {path.name for path in (tmp_path / "failures").iterdir()}
    assert names == {"x.actual.png", "x.expected.png", "x.difference.png"}
    with Image.open(tmp_path / "failures" / "x.difference.png") as image:
        assert np.asarray(image).any()
