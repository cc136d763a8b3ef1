"""What the phone does to a picture, against Pillow's encoder and closed forms."""

from __future__ import annotations

import io
from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
from PIL import Image

from synthetic import effects
from synthetic.packing import Numbers, pack
from synthetic.render import render
from synthetic.sample import sample_scene
from synthetic.scene import Effects, Scene

PLAIN = Effects(blur_x_px=0.0, blur_y_px=0.0)


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
        scene = replace(scene, effects=replace(scene.effects, jpeg_quality=0.0))
        pixels = np.rint(render(scene, 96, 64).rgb * 255.0).astype(np.uint8)
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
    # 8-bit levels; it depends on the pictures drawn: 0.8 to 1.35 in a few sets of three.
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
        blur_x_px=2.0, blur_y_px=2.0, noise=0.02, sharpen=0.5, jpeg_quality=60.0
    )  # fmt: skip
    value = getattr(base, name)
    changed: Any = (1.3, 0.9, 0.8) if name == "balance" else 0.6 * value + 0.25
    scene = sample_scene(np.random.default_rng([41, 1]))
    a = render(replace(scene, effects=base), 256, 32)
    b = render(replace(scene, effects=replace(base, **{name: changed})), 256, 32)
    assert np.abs(a.rgb - b.rgb).mean() > 1e-4
    assert np.array_equal(a.truth.part, b.truth.part)
