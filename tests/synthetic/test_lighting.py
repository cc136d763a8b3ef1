"""Lambert's cosine law, by closed form, from a single look and through the whole renderer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fittings.words import Kind, Part
from synthetic.camera import looking_at
from synthetic.effects import constants, jpeg
from synthetic.lighting import lit
from synthetic.packing import Numbers, pack
from synthetic.render import item_layer, plain_stages
from synthetic.scene import Camera, Light, Piece, Scene
from synthetic.surfaces import Look
from tests.synthetic.scenes import EVEN_GROUND, MATT

SUN = np.array([0.36, -0.48, 0.8])
ONLY_SUN = Light(sun=(0.36, -0.48, 0.8), sun_rgb=(1.0, 0.9, 0.8), sun_power=2.0, sky_power=0.0)


def lambert(base: tuple[float, ...], cosine: np.ndarray) -> np.ndarray:
    """Radiance of a matt surface (times π): base · power · colour · cos, Lambert's law."""
    light = 2.0 * np.array([1.0, 0.9, 0.8])
    return np.asarray(base)[:, None] * light[:, None] * np.clip(cosine, 0, None)


def test_a_matt_sphere_follows_lambert() -> None:
    rng = np.random.default_rng(8)
    normals = rng.normal(size=(3, 500))
    normals /= np.linalg.norm(normals, axis=0)
    n = Numbers(pack([(Scene(light=ONLY_SUN), None)]))
    x, y, z = (c[None] for c in normals)
    ones = np.ones_like(x)
    look = Look(
        rgb=(0.5 * ones, 0.4 * ones, 0.3 * ones),
        roughness=ones,
        metallic=0 * ones,
        gloss=0 * ones,
        bend=(0 * ones, 0 * ones, 0 * ones),
    )
    eye = (0 * ones, 0 * ones, ones)
    rgb = np.concatenate(lit(np, n, look, (x, y, z), eye, ones, ones))
    assert rgb == pytest.approx(lambert((0.5, 0.4, 0.3), SUN @ normals), abs=1e-5)
    shadow = np.concatenate(lit(np, n, look, (x, y, z), eye, 0 * ones, ones))
    assert np.abs(shadow).max() < 1e-6


def test_an_even_ground_seen_from_above_follows_lambert() -> None:
    camera = Camera(
        position_mm=(0.0, 0.0, 800.0),
        rotation=looking_at((0, 0, 800), (0, 0, 0), 0.0),  # type: ignore[arg-type]
        focal=3.0,
    )
    scene = Scene(light=ONLY_SUN, ground=EVEN_GROUND, camera=camera)
    layer = item_layer(np, None, Numbers(pack([(scene, None)])), 32, 32, plain_stages())
    rgb = np.concatenate(layer.rgb)
    # Its small sheen at steep view is all that Lambert leaves out.
    assert rgb == pytest.approx(lambert((0.4, 0.3, 0.2), np.full(32 * 32, SUN[2])), rel=2e-3)


def test_a_matt_cylinder_follows_lambert_through_the_renderer() -> None:
    piece = Piece(
        kind=Kind.REDUCER, radius_mm=100.0, second_radius_mm=100.0, length_mm=600.0, stub_mm=50.0,
        second_stub_mm=50.0, skin=MATT, position_mm=(-300.0, 0.0, 500.0),
    )  # fmt: skip
    position = (0.0, -900.0, 1300.0)
    camera = Camera(
        position_mm=position,
        rotation=looking_at(position, (0, 0, 500), 0.0),  # type: ignore[arg-type]
        focal=1.5,
    )
    scene = Scene(pieces=(piece,), light=ONLY_SUN, ground=EVEN_GROUND, camera=camera)
    width, height = 96, 64
    n = Numbers(pack([(scene, piece)]))
    layer = item_layer(np, Kind.REDUCER, n, width, height, plain_stages())
    body = layer.part[0] == Part.BODY.label
    assert body.sum() > 300
    ys, xs = np.mgrid[0:height, 0:width] + 0.5
    rays = np.stack([(xs - width / 2), (ys - height / 2), 0 * xs + 1.5 * width], -1).reshape(-1, 3)
    rays = rays / np.linalg.norm(rays, axis=1, keepdims=True) @ np.reshape(camera.rotation, (3, 3))
    points = np.asarray(position) + layer.depth_mm[0][:, None] * rays
    across = points[:, 1:] - (0.0, 500.0)
    cosine = across / np.linalg.norm(across, axis=1, keepdims=True) @ SUN[1:]
    # Nearer to the terminator the shadow is soft; nearer to the ends a pixel spans the edge.
    clear = body & (cosine > 0.35) & (np.abs(points[:, 0]) < 280)
    assert clear.sum() > 300
    expected = lambert(MATT.rgb, cosine[clear])
    got = np.stack([c[0][clear] for c in layer.rgb])
    assert np.percentile(np.abs(got - expected) / expected, 99) < 0.02
    dark = body & (cosine < -0.1)
    if dark.any():
        assert np.stack([c[0][dark] for c in layer.rgb]).max() < 1e-3


def test_quality_0_leaves_the_picture_alone() -> None:
    scene = Scene()
    n = Numbers(pack([(replace(scene, effects=replace(scene.effects, jpeg_quality=0.0)), None)]))
    picture = np.random.default_rng(0).random((1, 3, 32, 48)).astype(np.float32)
    assert np.array_equal(jpeg(np, n, picture, constants()), picture)
