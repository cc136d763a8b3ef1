"""Looks kept for the exam: drawn only when asked for, and named."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from synthetic import held_out
from synthetic.sample import sample_scene
from synthetic.scene import Mark, Scene, Weld


def scenes(wanted: bool, count: int = 120) -> list[Scene]:
    return [
        sample_scene(np.random.default_rng([5, index]), held_out=wanted) for index in range(count)
    ]


def shape_alone(weld: Weld) -> Weld:
    """Where the weld is and how it stands out, without its colours, ripple and drops."""
    return Weld(
        present=weld.present,
        half_width_mm=weld.half_width_mm,
        crown_mm=weld.crown_mm,
        hilo_mm=weld.hilo_mm,
        passes=weld.passes,
        toe_mm=weld.toe_mm,
        crater_mm=weld.crater_mm,
    )


def without_looks(scene: Scene) -> Scene:
    """The scene with all that may be held out set to one value."""
    pieces = tuple(
        replace(
            piece,
            skin=type(piece.skin)(),
            marks=(Mark(), Mark(), Mark()),
            along_weld=shape_alone(piece.along_weld),
            cross_weld=shape_alone(piece.cross_weld),
        )
        for piece in scene.pieces
    )
    plain = Scene()
    effects = replace(scene.effects, exposure=1.0)
    return replace(scene, pieces=pieces, ground=plain.ground, light=plain.light, effects=effects)


def test_training_never_draws_what_is_held_out() -> None:
    assert all(held_out.tags(scene)["held_out"] == () for scene in scenes(False))


def test_every_held_out_look_is_drawn_and_each_factor_about_half_of_the_time() -> None:
    drawn = [held_out.tags(scene) for scene in scenes(True) if scene.pieces]
    names = {name for tag in drawn for name in tag["held_out"]}
    assert names == {
        *held_out.SKINS,
        *held_out.GROUNDS,
        *held_out.LIGHTS,
        *held_out.MARKS,
        *held_out.FINISHES,
    }
    outdoors = [tag for tag in drawn if tag["light"] != ("studio",)]
    for factor, kept in (("ground", held_out.GROUNDS), ("light", held_out.LIGHTS)):
        share = np.mean([tag[factor][0] in kept for tag in outdoors])
        assert 0.35 < share < 0.65, factor


def test_the_rest_of_the_scene_stays() -> None:
    for plain, changed in zip(scenes(False, 40), scenes(True, 40), strict=True):
        assert without_looks(plain) == without_looks(changed)


def test_tags_name_what_is_there() -> None:
    scene = next(scene for scene in scenes(True) if "rope" in held_out.tags(scene)["mark"])
    tag = held_out.tags(scene)
    assert tag["skin"] == tuple(sorted({piece.skin.name for piece in scene.pieces}))
    assert "rope" in tag["held_out"]
    assert held_out.tags(Scene())["held_out"] == ()
