"""Skins: what lies over them reaches the picture, never the truth, and no skin carries a make."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from fittings.words import Construction, Kind, Part
from synthetic.camera import looking_at
from synthetic.sample_skins import SKINS, TURNED_SHARE, sample_skin
from synthetic.scene import Camera, Light, Mark, Piece, Scene, Skin
from tests.synthetic.scenes import MATT, drawn, hits, small


def skins(count: int = 900) -> list[Skin]:
    return [sample_skin(np.random.default_rng([14, i])) for i in range(count)]


def skinned(skin: Skin, kind: Kind = Kind.ELBOW, seed: int = 3) -> tuple[Scene, Piece]:
    scene, piece = drawn(kind, Construction.SEAMLESS, seed)
    piece = replace(piece, skin=skin, marks=(Mark(), Mark(), Mark()))
    light = Light(sun=(0.0, 0.0, 1.0), bars=0.0)
    return replace(scene, pieces=(piece,), light=light), piece


def test_every_skin_is_drawn_with_numbers_in_their_ranges() -> None:
    drawn_skins = skins()
    assert {skin.name for skin in drawn_skins} == set(SKINS)
    for skin in drawn_skins:
        shares = (
            skin.flakes, skin.pits, skin.spangle, skin.brush, skin.brush_along, skin.runs,
            skin.worn, skin.turned, skin.rust_amount,
        )  # fmt: skip
        assert all(0.0 <= share <= 1.0 for share in shares)
        lengths = (
            skin.pit_mm, skin.spangle_mm, skin.brush_mm, skin.runs_mm, skin.worn_mm, skin.turned_mm,
        )  # fmt: skip
        assert all(length > 0.2 for length in lengths)
        assert skin.spangle == 0.0 or skin.name == "galvanised"
        assert skin.worn == 0.0 or skin.name in ("varnish", "primer", "paint")


def test_a_third_has_turned_ends() -> None:
    share = np.mean([skin.turned > 0.0 for skin in skins()])
    assert share == pytest.approx(TURNED_SHARE, abs=0.06)


OVER: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
    "flakes": ({"rust_patch_mm": 30.0}, {"flakes": 0.9}),
    "flake_rgb": ({"rust_patch_mm": 30.0, "flakes": 0.9}, {"flake_rgb": (0.9, 0.1, 0.1)}),
    "pits": ({"pit_mm": 12.0}, {"pits": 0.9}),
    "pit_mm": ({"pit_mm": 12.0, "pits": 0.9}, {"pit_mm": 20.0}),
    "spangle": ({"spangle_mm": 20.0}, {"spangle": 1.0}),
    "spangle_mm": ({"spangle_mm": 20.0, "spangle": 1.0}, {"spangle_mm": 12.0}),
    "brush": ({"brush_mm": 5.0}, {"brush": 1.0}),
    "brush_mm": ({"brush_mm": 5.0, "brush": 1.0}, {"brush_mm": 2.5}),
    "brush_along": ({"brush_mm": 5.0, "brush": 1.0}, {"brush_along": 1.0}),
    "runs": ({"runs_mm": 30.0}, {"runs": 0.9}),
    "runs_rgb": ({"runs_mm": 30.0, "runs": 0.9}, {"runs_rgb": (0.9, 0.9, 0.9)}),
    "runs_roughness": ({"runs_mm": 30.0, "runs": 0.9, "gloss": 0.5}, {"runs_roughness": 0.1}),
    "runs_mm": ({"runs_mm": 30.0, "runs": 0.9}, {"runs_mm": 12.0}),
    "worn": ({}, {"worn": 0.7, "worn_rgb": (0.9, 0.9, 0.9)}),
    "worn_mm": ({"worn": 0.7, "worn_rgb": (0.9, 0.9, 0.9)}, {"worn_mm": 150.0}),
    "worn_rgb": ({"worn": 0.7}, {"worn_rgb": (0.9, 0.9, 0.9)}),
    "turned": ({"turned_mm": 30.0}, {"turned": 1.0}),
    "turned_mm": ({"turned_mm": 30.0, "turned": 1.0}, {"turned_mm": 5.0}),
    "turned_rgb": ({"turned_mm": 30.0, "turned": 1.0}, {"turned_rgb": (0.9, 0.3, 0.3)}),
}


@pytest.mark.parametrize("name", OVER)
def test_everything_over_a_skin_changes_the_picture_and_not_the_truth(name: str) -> None:
    before, after = OVER[name]
    base = replace(MATT, **before)
    a, b = (small(skinned(skin, seed=0)[0]) for skin in (base, replace(base, **after)))
    assert np.abs(a.rgb - b.rgb).max() > 0.02
    assert np.array_equal(a.truth.seam, b.truth.seam)
    assert np.array_equal(a.truth.part, b.truth.part)


@pytest.mark.parametrize("kind", [Kind.ELBOW, Kind.TEE, Kind.REDUCER])
def test_a_turned_band_lies_at_the_open_ends_and_is_no_seam(kind: Kind) -> None:
    scene, piece = skinned(MATT, kind)
    width = 0.2 * piece.second_radius_mm
    banded = replace(MATT, turned=1.0, turned_mm=width, turned_rgb=(0.9, 0.9, 0.9))
    a, b = small(scene), small(skinned(banded, kind)[0])
    assert (b.truth.seam == 0).all()
    truth = a.truth
    here = (np.abs(a.rgb - b.rgb).max(axis=1)[0] > 0.03) & (truth.part[0] < Part.FACE.label)
    here &= truth.part[0] > 0
    outlet = truth.part[0] == Part.OUTLET.label
    length = {
        Kind.ELBOW: np.radians(piece.bend_deg) * piece.length_mm + 2 * piece.stub_mm,
        Kind.TEE: 2 * piece.length_mm,
        Kind.REDUCER: piece.length_mm,
    }[kind]
    length = np.where(outlet, piece.second_length_mm, length)
    axial = truth.along[0] * length
    ends = np.where(outlet, length - axial, np.minimum(axial, length - axial))
    pixel = hits(scene, a).footprint_mm
    assert here.sum() > 20
    assert (ends <= width + 3.0 * pixel + 1.0)[here].all()


def test_runs_go_down_and_leave_what_lies_level_alone() -> None:
    """On a standing pipe a run keeps its place round it: what differs lies in upright stripes."""
    piece = Piece(
        kind=Kind.REDUCER, radius_mm=100.0, second_radius_mm=99.0, length_mm=300.0, stub_mm=100.0,
        second_stub_mm=100.0, rotation=(0.0, 0.0, -1.0, 0.0, 1.0, 0.0, 1.0, 0.0, 0.0),
        skin=replace(MATT, runs=0.9, runs_mm=25.0, runs_rgb=(0.0, 0.0, 0.0)),
    )  # fmt: skip
    plain = replace(piece, skin=MATT)
    position = (0.0, -1200.0, 300.0)
    level = looking_at(position, (0.0, 0.0, 150.0), 0.0)
    camera = Camera(position_mm=position, rotation=level, focal=1.2)  # type: ignore[arg-type]
    a, b = (small(Scene(pieces=(p,), camera=camera)) for p in (plain, piece))
    body = a.truth.part[0] == Part.BODY.label
    dark = (np.abs(a.rgb - b.rgb).max(axis=1)[0] > 0.05) & body
    assert 0.02 < dark.sum() / body.sum() < 0.9
    down = (dark[1:] != dark[:-1])[body[1:] & body[:-1]].mean()
    across = (dark[:, 1:] != dark[:, :-1])[body[:, 1:] & body[:, :-1]].mean()
    assert across > 1.5 * down
