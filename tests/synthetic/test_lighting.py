"""Lambert's cosine law, by closed form, from a single look and through the whole renderer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fittings.words import Kind, Part
from synthetic.camera import looking_at
from synthetic.effects import constants, jpeg
from synthetic.lighting import bars_shadow, environment, lit
from synthetic.packing import Numbers, pack
from synthetic.places import Place
from synthetic.render import item_layer, plain_stages
from synthetic.sample_light import BACKLIT_DEG, BACKLIT_SHARE, BARRED_SHARE, sample_light
from synthetic.scene import Camera, Lamp, Light, Piece, Scene
from synthetic.stages import Geometry, _daylight
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


def mirror(light: Light, roughness: float, directions: np.ndarray) -> np.ndarray:
    """Green light from (N, 3) directions, as a surface of that roughness reflects it."""
    n = Numbers(pack([(Scene(light=light), None)]))
    d = directions / np.linalg.norm(directions, axis=1, keepdims=True)
    x, y, z = (c[None] for c in d.T.astype(np.float32))
    return np.asarray(environment(np, n, (x, y, z), roughness + 0.0 * x, skyline=True)[1])[0]


DARK_HALL = Light(sun_power=0.0, sky_power=0.0)
ABOVE = np.stack([*np.mgrid[-1:1:61j, -1:1:61j].reshape(2, -1), np.ones(61 * 61)], 1)


def test_rows_of_lamps_hang_at_their_pitch_and_blur_to_their_mean() -> None:
    light = replace(DARK_HALL, rows=1.0, rows_pitch=0.5, rows_length=1.0, rows_deg=0.0)
    sharp = mirror(light, 0.0, ABOVE).reshape(61, 61)
    rows = sharp.mean(axis=0)  # rows run along x
    lit_at = np.linspace(-1, 1, 61)[rows > 0.5 * rows.max()]
    assert np.abs(lit_at - 0.5 * np.round(lit_at / 0.5)).max() < 0.08
    assert sharp.max() > 4 * sharp.mean() > 0
    rough = mirror(light, 0.9, ABOVE)
    assert rough.std() < 0.1 * rough.mean()
    assert rough.mean() == pytest.approx(0.12, rel=0.1)


def test_windows_and_door_are_on_their_walls() -> None:
    ways = np.stack([np.cos(np.arange(8) * np.pi / 4), np.sin(np.arange(8) * np.pi / 4)], 1)
    up = np.linspace(0.25, 0.85, 40)
    directions = np.array([[x, y, z] for x, y in ways for z in up])
    for light in (
        replace(DARK_HALL, windows=1.0, windows_deg=90.0, windows_span=0.5),
        replace(DARK_HALL, door=1.0, door_deg=90.0, door_height=0.9),
    ):
        seen = mirror(light, 0.0, directions).reshape(8, 40).mean(axis=1)
        assert seen.argmax() == 2
        assert seen[2] > 0.2
        assert np.delete(seen, 2).max() < 0.02


def test_clouds_buildings_and_floor_change_what_is_mirrored() -> None:
    level = np.array([[np.cos(a), np.sin(a), 0.12] for a in np.linspace(0, 6, 200)])
    bare = replace(Light(), skyline=1.2, sky_rgb=(0.2, 0.35, 0.8))
    for word, directions, changes in (
        ("clouds", ABOVE, {"clouds": 0.6}),
        ("buildings", level, {"buildings": 1.0}),
        ("floor", -ABOVE, {"floor": 0.8}),
    ):
        difference = mirror(replace(bare, **changes), 0.1, directions) - mirror(
            bare, 0.1, directions
        )
        assert difference.std() > 0.02, word


def one_look(light: Light, depth_mm: float, sunlight: float) -> np.ndarray:
    """Radiance of a matt surface that faces the eye."""
    n = Numbers(pack([(Scene(light=light), None)]))
    one, zero = np.ones((1, 1)), np.zeros((1, 1))
    look = Look(
        rgb=(0.5 * one, 0.5 * one, 0.5 * one), roughness=one, metallic=zero, gloss=zero,
        bend=(zero, zero, zero),
    )  # fmt: skip
    up = (zero, zero, one)
    lights = lit(np, n, look, up, up, sunlight * one, one, depth_mm * one)
    return np.concatenate(lights)[:, 0]


def test_a_flash_falls_off_with_the_square_of_distance_and_throws_no_shadow() -> None:
    light = replace(DARK_HALL, flash=2.0, flash_mm=800.0)
    assert one_look(light, 800.0, 0.0) == pytest.approx([1.0, 1.0, 1.0], rel=1e-4)
    assert one_look(light, 1600.0, 1.0) == pytest.approx([0.25, 0.25, 0.25], rel=1e-4)
    assert one_look(light, 80.0, 1.0) == pytest.approx([6.0, 6.0, 6.0], rel=1e-4)


def test_lamps_have_their_colour() -> None:
    lamps = (Lamp(size=0.5, power=2.0, rgb=(1.0, 0.5, 0.25)), Lamp(), Lamp())
    rgb = one_look(replace(DARK_HALL, lamps=lamps), 1.0, 0.0)
    assert rgb / rgb[0] == pytest.approx([1.0, 0.5, 0.25], rel=1e-4)


def shadow(light: Light) -> np.ndarray:
    """Shade on the ground: 201 × 201 points, 10 mm apart, x along the columns."""
    n = Numbers(pack([(Scene(light=replace(light, sun=(0.0, 0.0, 1.0))), None)]))
    y, x = np.mgrid[-1000:1000:201j, -1000:1000:201j]
    return bars_shadow(np, n, (x, y, 0.0 * x))


def test_bars_rungs_cables_and_leaves_throw_their_shadows() -> None:
    bars = Light(bars=1.0, bars_mm=400.0, bars_duty=0.1, bars_edge=0.02)
    plain = shadow(bars)
    assert (plain.std(axis=0) < 1e-6).all()  # bars run along y
    assert (plain < 0.5).mean() == pytest.approx(0.1, abs=0.04)
    ladder = shadow(replace(bars, rungs=1.0, rungs_mm=250.0))
    rungs = (ladder < 0.5) & (plain > 0.5)
    assert 0.02 < rungs.mean() < 0.08  # between every other pair of rails
    between = rungs.any(axis=0)
    assert 0.3 < between.mean() < 0.6
    cables = shadow(replace(bars, bars_sag=1.0))
    assert (cables.std(axis=0) > 0.05).mean() > 0.5
    leaves = shadow(Light(leaves=0.8, leaves_mm=80.0))
    assert leaves.min() < 0.3
    assert leaves.max() == 1.0
    assert shadow(Light()).min() == 1.0


def test_every_place_and_shade_is_drawn_within_its_range() -> None:
    drawn = [sample_light(np.random.default_rng([5, i]), Camera(), False) for i in range(1500)]
    lights = [light for light, _ in drawn]
    assert {light.name for light in lights} == {
        "sun", "low sun", "overcast", "hall", "door", "flash",
    }  # fmt: skip
    for light in lights:
        sunny = light.name in ("sun", "low sun")
        assert sunny or light.bars == light.leaves == 0.0
        assert (light.clouds > 0) <= (light.name in ("sun", "low sun", "overcast"))
        assert (light.flash > 0) == (light.name == "flash")
        assert light.windows_low < light.windows_high
    halls = [light for light in lights if light.name in ("hall", "door")]
    assert 0.4 < np.mean([light.windows > 0 for light in halls]) < 0.6
    assert 0.5 < np.mean([light.rows > 0 for light in halls]) < 0.7
    barred = np.mean([light.bars > 0 for light in lights if "sun" in light.name])
    assert barred == pytest.approx(BARRED_SHARE, abs=0.05)
    assert all(0.05 <= exposure <= 8.0 for _, exposure in drawn)
    studio, _ = sample_light(np.random.default_rng(5), Camera(), True)
    assert studio.name == "studio"
    assert studio.skyline == studio.floor == 0.0


def test_a_bore_grows_dark_as_an_open_tube_does() -> None:
    """Daylight on a tube's inside wall against the view factor of its two ends, integrated over
    their discs: cos · cos / (pi · distance²)."""
    radius, length = 50.0, 300.0
    piece = Piece(kind=Kind.REDUCER, radius_mm=radius, second_radius_mm=radius, length_mm=length)
    n = Numbers(pack([(Scene(pieces=(piece,)), piece)]))
    deep = np.linspace(2.0, length - 2.0, 9)[None]
    zero, one = 0.0 * deep, 0.0 * deep + 1.0
    place = Place(
        axial_mm=deep, length_mm=zero + length, around=zero, radius_mm=zero + radius,
        end_mm=np.minimum(deep, length - deep), axis=(one, zero, zero),
    )  # fmt: skip
    empty = dict.fromkeys(Geometry._fields, zero)
    g = Geometry(**empty | {"piece": one > 0.5, "normal": (zero, zero, one), "place": place})
    # The wall's point is (deep, 0, -radius) and looks along z; the discs lie across the x axis.
    rho, turn = np.meshgrid((np.arange(200) + 0.5) * radius / 200, np.arange(400) * np.pi / 200)
    area = rho * (radius / 200) * (np.pi / 200)
    y, z = rho * np.cos(turn), rho * np.sin(turn) + radius
    factor = [
        sum((area * z * away / (np.pi * (away**2 + y**2 + z**2) ** 2)).sum()
            for away in (d, length - d))
        for d in deep[0]
    ]  # fmt: skip
    assert _daylight(np, n, g)[0] - 0.04 == pytest.approx(np.array(factor), abs=0.004)
    outside = g._replace(outside=one)
    face = g._replace(normal=(one, zero, zero))
    assert (_daylight(np, n, outside) == 1.0).all()
    assert (_daylight(np, n, face) == 1.0).all()


def test_some_pictures_are_taken_against_the_light() -> None:
    """A quota on top of the tenth that chance gives for ±35° of 360°."""
    ahead = (0.0, 1.0, 0.0)
    camera = Camera(rotation=looking_at((0, 0, 500), (0, 1000, 300), 0.0))  # type: ignore[arg-type]
    against, exposures = [], []
    for i in range(1500):
        light, exposure = sample_light(np.random.default_rng([6, i]), camera, False)
        if "sun" not in light.name:
            continue
        flat = np.array(light.sun[:2]) / np.hypot(*light.sun[:2])
        against.append(bool(flat @ ahead[:2] > np.cos(np.radians(BACKLIT_DEG))))
        exposures.append(exposure)
    by_chance = BACKLIT_DEG / 180.0
    assert np.mean(against) == pytest.approx(
        BACKLIT_SHARE + (1 - BACKLIT_SHARE) * by_chance, abs=0.06
    )
    assert min(exposures) > 0.0


def test_quality_0_leaves_the_picture_alone() -> None:
    scene = Scene()
    n = Numbers(pack([(replace(scene, effects=replace(scene.effects, jpeg_quality=0.0)), None)]))
    picture = np.random.default_rng(0).random((1, 3, 32, 48)).astype(np.float32)
    assert np.array_equal(jpeg(np, n, picture, constants()), picture)
