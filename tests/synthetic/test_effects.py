"""What the phone does to a picture, against Pillow's encoder and closed forms."""

from __future__ import annotations

import io
from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
import torch
from PIL import Image

from fittings.words import Construction, Kind
from synthetic import effects
from synthetic.native import native_stages
from synthetic.packing import Numbers, pack
from synthetic.render import render
from synthetic.sample import sample_scene
from synthetic.sample_phone import MOST_BAR, MOST_NOISE, sample_effects
from synthetic.scene import Effects, Scene
from synthetic.stages import FAR_MM
from tests.synthetic.scenes import drawn, small

PLAIN = Effects(blur_px=0.0)


def numbers(changed: Effects) -> Numbers:
    return Numbers(pack([(Scene(effects=changed), None)]))


def blocks(picture: np.ndarray) -> np.ndarray:
    """Means of 16 × 16 pixels of (1, 3, H, W): what is left when upsampling no longer matters."""
    _, _, height, width = picture.shape
    return picture.reshape(1, 3, height // 16, 16, width // 16, 16).mean(axis=(3, 5))


@pytest.mark.parametrize("quality", [30, 60, 85, 95])
def test_jpeg_is_that_of_an_encoder(quality: int) -> None:
    """Pillow's libjpeg with 4:2:0 chroma at the same quality leaves much the same picture."""
    errors, left, own, colours = [], [], [], []
    for index in range(3):
        scene = sample_scene(np.random.default_rng([41, index]))
        phone = Effects(exposure=scene.effects.exposure, noise=0.01, colour_noise=0.005)
        scene = replace(scene, effects=phone)
        pixels = np.rint(render(scene, 96, 64, native_stages()).rgb * 255.0).astype(np.uint8)
        n = numbers(replace(PLAIN, jpeg_quality=float(quality)))
        before = (pixels / 255.0).astype(np.float32)
        ours = effects.jpeg(np, n, before, effects.constants()) * 255.0
        file = io.BytesIO()
        Image.fromarray(pixels[0].transpose(1, 2, 0)).save(
            file, "JPEG", quality=quality, subsampling="4:2:0"
        )
        theirs = np.asarray(Image.open(file)).transpose(2, 0, 1)[None].astype(np.float64)
        colours.append(np.abs(blocks(ours) - blocks(theirs)).mean())
        errors.append(np.abs(effects.luma(ours) - effects.luma(theirs)).mean())
        own.append(np.abs(effects.luma(ours) - effects.luma(pixels.astype(float))).mean())
        left.append(np.abs(effects.luma(theirs) - effects.luma(pixels.astype(float))).mean())
    # 8-bit levels, on pictures full of noise and of colours that the file cuts off.
    assert np.mean(errors) < 1.5
    assert np.mean(colours) < 1.0
    assert np.mean(own) == pytest.approx(np.mean(left), rel=0.06)


def test_a_flat_grey_picture_passes_jpeg_unchanged() -> None:
    picture = np.full((1, 3, 32, 32), 0.5, np.float32)
    n = numbers(replace(PLAIN, jpeg_quality=75.0))
    assert effects.jpeg(np, n, picture, effects.constants()) == pytest.approx(0.5, abs=0.01)


def test_the_cosine_transform_is_orthonormal() -> None:
    dct = effects.constants()["dct"].astype(np.float64)
    assert dct @ dct.T == pytest.approx(np.eye(8), abs=1e-6)


@pytest.mark.parametrize("sigma", [0.6, 1.0, 1.6])
def test_blur_has_the_width_it_says(sigma: float) -> None:
    """An impulse keeps its sum and spreads to the variance of the sampled Gaussian."""
    line = np.zeros((1, 1, 1, 33), np.float64)
    line[..., 16] = 1.0
    out = effects.gaussian(np, line, np.full((1, 1, 1, 1), sigma), -1)[0, 0, 0]
    offsets = np.arange(33) - 16
    assert out.sum() == pytest.approx(1.0)
    assert (out * offsets**2).sum() == pytest.approx(sigma**2, rel=0.06)


def test_noise_is_about_as_strong_as_it_says() -> None:
    grey = np.full((1, 3, 256, 512), 0.36, np.float32)
    n = numbers(replace(PLAIN, noise=0.01))
    out = effects.expose(np, n, grey)
    # Strength · (0.4 + sqrt(value)), variance 1 before.
    assert out.std(axis=(2, 3)) == pytest.approx(np.full((1, 3), 0.01), rel=0.05)
    assert out.mean() == pytest.approx(0.36, abs=1e-3)
    assert np.array_equal(out[:, 0], out[:, 1])  # one noise for the three colours
    coloured = effects.expose(np, numbers(replace(PLAIN, colour_noise=0.01)), grey)
    parted = np.corrcoef(coloured.reshape(3, -1))
    assert np.abs(parted - np.eye(3)).max() < 0.05


@pytest.mark.parametrize("size", [1.0, 2.5])
def test_blotches_are_as_strong_and_as_wide_as_they_say(size: float) -> None:
    """White noise blurred by a Gaussian of sigma has the autocorrelation exp(-d² / (4 sigma²))."""
    grey = np.full((1, 3, 256, 512), 0.36, np.float32)
    out = effects.expose(np, numbers(replace(PLAIN, blotch=0.02, blotch_px=size)), grey) - 0.36
    assert out.std() == pytest.approx(0.02, rel=0.1)
    assert np.allclose(out[:, 0], out[:, 1], atol=1e-6)  # brightness alone
    beside = (out[0, 0, :, :-3] * out[0, 0, :, 3:]).mean() / out[0, 0].var()
    assert beside == pytest.approx(np.exp(-9.0 / (4.0 * size * size)), abs=0.05)
    coloured = effects.expose(np, numbers(replace(PLAIN, colour_blotch=0.02, blotch_px=size)), grey)
    assert coloured.std() == pytest.approx(0.02, rel=0.15)
    assert np.abs(np.corrcoef(coloured.reshape(3, -1)) - np.eye(3)).max() < 0.15


def test_exposure_and_white_balance_scale_dark_light() -> None:
    """Far below the shoulder the display value goes as (gain · light) to the power 1 / 2.2."""
    linear = np.full((1, 3, 16, 16), 1e-3, np.float32)
    once = effects.develop(np, numbers(PLAIN), linear)
    changed = replace(PLAIN, exposure=2.0, balance=(1.5, 1.0, 0.5))
    twice = effects.develop(np, numbers(changed), linear)
    ratio = (twice / once)[0].mean(axis=(1, 2))
    assert ratio == pytest.approx(np.array([3.0, 2.0, 1.0]) ** (1 / 2.2), rel=0.01)


@pytest.mark.parametrize("name", [f.name for f in fields(Effects)])
def test_every_effect_changes_the_picture(name: str) -> None:
    # Blurs are in pixels of a long side of 512: strong enough here to reach over small pixels.
    base = Effects(
        blur_px=2.0, motion_px=20.0, motion_deg=20.0, noise=0.02, colour_noise=0.02, sharpen=0.5,
        blotch=0.02, colour_blotch=0.02, blotch_px=4.0,
        sharpen_px=4.0, first_jpeg_quality=30.0, jpeg_quality=60.0, smudge=0.3, smear=0.3,
        bar_left=0.05, stamp=1.0, stamp_size=0.02, stamp_across=0.1, stamp_down=0.0, scale=0.8,
        stamp_box=float(name == "bar_rgb"),
    )  # fmt: skip
    value = getattr(base, name)
    changed: Any
    if isinstance(value, tuple):
        changed = (1.3, 0.9, 0.8) if name == "balance" else (0.2, 0.3, 0.4)
    elif name == "stamp_box":
        changed = 1.0
    elif name.startswith("grid"):
        changed = 3.0
    else:
        changed = 0.6 * value + 0.25
    scene = sample_scene(np.random.default_rng([41, 6]))
    a = render(replace(scene, effects=base), 256, 32, native_stages())
    other = replace(base, **{name: changed})
    b = render(replace(scene, effects=other), 256, 32, native_stages())
    assert np.abs(a.rgb - b.rgb).mean() > 1e-4
    hides = (name.startswith("bar_") and name != "bar_rgb") or name == "stamp_box"
    assert hides or np.array_equal(a.truth.part, b.truth.part)


def test_a_phone_that_does_nothing_leaves_whole_levels() -> None:
    picture = np.random.default_rng(3).random((1, 3, 48, 64)).astype(np.float32)
    n = numbers(PLAIN)
    out = effects.finished(np, n, effects.expose(np, n, picture), effects.constants())
    assert np.abs(out - picture).max() <= 0.5 / 255 + 1e-5
    assert out * 255.0 == pytest.approx(np.rint(out * 255.0), abs=1e-3)


@pytest.mark.parametrize("motion_deg", [0.0, 30.0, 90.0])
def test_motion_blur_spreads_a_point_along_its_direction(motion_deg: float) -> None:
    """A uniform line of length L has the variance L² / 12 along itself and none across."""
    point = np.zeros((1, 3, 64, 64), np.float32)
    point[..., 32, 32] = 1.0
    length_px = 9.0
    motion = length_px * effects.REFERENCE_LONG_SIDE_PX / 64
    n = numbers(replace(PLAIN, blur_px=8.0, motion_px=motion, motion_deg=motion_deg))
    out = effects.lens(np, n, point)[0, 0].astype(np.float64)
    ys, xs = np.mgrid[0:64, 0:64] - 32.0
    c, s = np.cos(np.radians(motion_deg)), np.sin(np.radians(motion_deg))
    assert out.sum() == pytest.approx(1.0, abs=1e-3)
    assert (out * (xs * c + ys * s) ** 2).sum() == pytest.approx(1.0 + length_px**2 / 12, rel=0.1)
    assert (out * (ys * c - xs * s) ** 2).sum() == pytest.approx(1.0, abs=0.35)


def test_scaling_keeps_means_and_ramps_and_loses_detail() -> None:
    n = numbers(replace(PLAIN, scale=0.5))
    ramp = np.broadcast_to(np.linspace(0.0, 1.0, 64, dtype=np.float32), (1, 3, 32, 64))
    out = effects.rescaled(np, n, ramp)
    assert np.abs(out - ramp)[..., 3:-3].max() < 0.005
    board = (np.indices((32, 64)).sum(0) % 2).astype(np.float32)[None, None]
    assert np.abs(effects.rescaled(np, n, board) - 0.5)[..., 3:-3, 3:-3].max() < 0.01


def test_denoising_takes_faint_detail_and_leaves_edges() -> None:
    picture = np.full((1, 3, 32, 64), 0.4, np.float32)
    picture[..., 32:] = 0.9
    faint = picture.copy()
    faint[..., 10] += 0.008
    n = numbers(replace(PLAIN, smear=1.0, sharpen_px=16.0))
    out, without = effects.expose(np, n, faint), effects.expose(np, n, picture)
    assert np.abs(out - without)[..., 8:13].max() < 0.004
    assert np.abs(without - picture)[..., :30].max() < 0.02
    assert np.abs(without - picture)[..., 31:33].max() < 0.06


def test_shadows_are_lifted_where_the_surroundings_are_dark() -> None:
    linear = np.full((1, 3, 64, 128), 0.02, np.float32)
    linear[..., 64:] = 0.8
    before = effects.develop(np, numbers(PLAIN), linear)
    after = effects.develop(np, numbers(replace(PLAIN, lift=1.0)), linear)
    gain = (after / before)[0, 0, 32]
    assert gain[:40].min() > 1.4
    assert gain[90:].max() < 1.25


def test_the_first_jpeg_has_its_grid_out_of_step() -> None:
    """Its blocks' borders lie `grid` pixels on, where the second differences are greatest."""
    ramp = np.random.default_rng(5).random((1, 1, 8, 12)).astype(np.float32)
    smooth = np.repeat(np.kron(ramp, np.ones((16, 16), np.float32)), 3, axis=1)
    smooth = effects.gaussian(np, smooth, np.full((1, 1, 1, 1), 3.0), -1)
    for shift in (0, 3):
        changed = replace(PLAIN, first_jpeg_quality=8.0, grid_across_px=float(shift))
        out = effects.luma(effects.first_jpeg(np, numbers(changed), smooth, effects.constants()))
        jump = np.abs(np.diff(out, axis=-1)).mean(axis=(0, 1))[: 8 * 23].reshape(23, 8).mean(0)
        assert int(jump.argmax()) == (7 - shift) % 8


def test_bars_cover_the_picture_and_its_truth() -> None:
    scene, _ = drawn(Kind.ELBOW, Construction.FABRICATED, 3)
    bars = {"bar_left": 0.125, "bar_right": 0.0625, "bar_top": 0.25, "bar_bottom": 0.375}
    changed = replace(scene, effects=replace(scene.effects, **bars, bar_rgb=(0.2, 0.4, 0.6)))
    before, after = small(scene), small(changed)
    inside = np.zeros((1, 96, 128), bool)
    inside[:, 24:60, 16:120] = True
    for f in fields(after.truth):
        a, b = getattr(before.truth, f.name), getattr(after.truth, f.name)
        assert np.array_equal(a[inside], b[inside])
        assert (b[~inside] == (FAR_MM if f.name == "depth_mm" else 0.0)).all()
    assert (before.truth.seam > 0)[~inside].any()
    assert after.rgb.transpose(0, 2, 3, 1)[~inside] == pytest.approx(
        np.broadcast_to([0.2, 0.4, 0.6], (int((~inside).sum()), 3)), abs=1e-3
    )
    assert after.pixels[0, 1] == (after.truth.slot == 2).sum() < before.pixels[0, 1]


def test_a_stamp_stays_in_its_place_and_its_box_is_background() -> None:
    scene, _ = drawn(Kind.ELBOW, Construction.FABRICATED, 3)
    stamp = replace(scene.effects, stamp=1.0, stamp_size=0.05, stamp_across=0.2, stamp_down=0.4)
    before = small(scene)
    after = small(replace(scene, effects=stamp))
    changed = np.abs(after.rgb - before.rgb).max(axis=(0, 1)) > 0.02
    assert 0.005 < changed.mean() < 0.08
    assert not changed[:80].any()
    assert np.array_equal(after.truth.part, before.truth.part)
    boxed = small(replace(scene, effects=replace(stamp, stamp_box=1.0)))
    assert (boxed.truth.part[0][changed] == 0).all()


def test_a_quarter_of_drawn_pictures_is_bad_and_half_are_good() -> None:
    drawn_ = [sample_effects(np.random.default_rng([10, i])) for i in range(2000)]
    noisy = [max(e.noise, e.blotch) for e in drawn_]
    blurred = [np.hypot(e.blur_px, e.motion_px / np.sqrt(12.0)) for e in drawn_]
    coarse = [0.0 < e.jpeg_quality < 28.0 for e in drawn_]
    bad = (np.array(noisy) > 0.02) | (np.array(blurred) > 1.3) | coarse
    clean = (np.array(noisy) < 0.013) & (np.array(blurred) < 1.0) & ~np.array(coarse)
    assert 0.18 < bad.mean() < 0.33, bad.mean()
    assert 0.5 < clean.mean() < 0.7
    assert max(noisy) <= MOST_NOISE + 1e-9
    assert 0.005 < np.mean(np.array(blurred) > 2.0) < 0.06
    assert max(e.blur_px for e in drawn_) <= 3.0


def test_drawn_phones_keep_to_their_ranges() -> None:
    drawn_ = [sample_effects(np.random.default_rng([9, i])) for i in range(2000)]
    for name in ("bar_left", "bar_right", "bar_top", "bar_bottom"):
        assert 0.0 <= max(getattr(e, name) for e in drawn_) <= MOST_BAR
    barred = np.mean([e.bar_left + e.bar_top > 0 for e in drawn_])
    grey = np.mean([e.saturation == 0.0 for e in drawn_])
    small = np.mean([e.scale < 1.0 for e in drawn_])
    assert 0.05 < barred < 0.11
    assert 0.025 < grey < 0.06
    assert 0.3 < small < 0.45
    assert min(e.scale for e in drawn_) >= 0.4
    plain = [sample_effects(np.random.default_rng([9, i]), plain=True) for i in range(50)]
    assert {(e.scale, e.bar_top, e.stamp, e.motion_px) for e in plain} == {(1.0, 0.0, 0.0, 0.0)}


def test_effects_on_torch_are_those_of_numpy() -> None:
    rng = np.random.default_rng(6)
    linear = rng.random((4, 3, 32, 48)).astype(np.float32)
    drawn_ = [replace(sample_effects(np.random.default_rng([9, i])), stamp=1.0) for i in range(4)]
    # JPEG turns a difference in the last bit into one of a whole step; it is tried by itself.
    drawn_ = [replace(e, jpeg_quality=0.0, first_jpeg_quality=0.0) for e in drawn_]
    drawn_[1] = replace(drawn_[1], scale=0.5, bar_left=0.1)
    rows = pack([(Scene(effects=e), None) for e in drawn_])
    a, b = Numbers(rows), Numbers(torch.from_numpy(rows))
    fixed = effects.constants()
    on_device = {name: torch.from_numpy(value) for name, value in fixed.items()}
    ours = effects.expose(np, a, effects.develop(np, a, linear))
    theirs = effects.expose(torch, b, effects.develop(torch, b, torch.from_numpy(linear)))
    assert np.abs(ours - theirs.numpy()).max() < 2e-3
    ours = effects.finished(np, a, ours, fixed)
    theirs = effects.finished(torch, b, theirs, on_device)
    assert np.abs(ours - theirs.numpy()).max() < 1.01 / 255 + 2e-3
    rolled = effects.rolled(np, linear, rows[:, :1] * 0 + 3, rows[:, :1] * 0 + 5)
    assert np.array_equal(rolled, np.roll(linear, (5, 3), (2, 3)))
