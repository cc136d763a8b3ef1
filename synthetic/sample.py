"""Scenes drawn by chance: the one place where chance comes in.

`sample_scene(rng, kinds)` draws a scene with one piece per entry of `kinds`. Give it
`np.random.default_rng([seed, index])`, so that picture `index` does not depend on order or workers.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fittings.words import Kind
from synthetic.draws import Rng, any_rotation, nine, rotation_about, triple
from synthetic.held_out import with_held_out
from synthetic.sample_ground import sample_ground
from synthetic.sample_light import sample_light
from synthetic.sample_pieces import outside_points, sample_piece
from synthetic.sample_props import sample_props
from synthetic.sample_view import sample_camera
from synthetic.scene import Mark, Piece, Prop, Scene

PIECE_KINDS = (Kind.ELBOW, Kind.TEE, Kind.REDUCER)


def sample_kinds(rng: Rng) -> tuple[Kind, ...]:
    """What is in view: mostly one fitting, sometimes several, sometimes none."""
    u = rng.random()
    if u < 0.18:
        return ()
    count = 1 if u < 0.85 else int(rng.integers(2, 5))
    return tuple(PIECE_KINDS[i] for i in rng.integers(0, 3, count))


def sample_scene(
    rng: Rng,
    kinds: tuple[Kind, ...] | None = None,
    *,
    held_out: bool = False,
    plain: bool = False,
) -> Scene:
    """A scene with one piece per entry of `kinds` (drawn too when None).

    With `held_out` the scene is the same but for looks that training never sees (see
    `synthetic.held_out`); without, it never has them. `plain` scenes are what training begins
    with: the pieces whole and large in the frame, nothing about them and no marks on them.
    """
    if kinds is None:
        kinds = sample_kinds(rng)
    studio = rng.random() < 0.12
    pieces = _placed(rng, [sample_piece(rng, kind) for kind in kinds])
    points: np.ndarray | None = None
    if pieces:
        points = np.concatenate([_world(piece) for piece in pieces])
        first = _world(pieces[0])
        target, extent = (
            first.mean(axis=0),
            np.linalg.norm(first - first.mean(axis=0), axis=1).max(),
        )
        if len(pieces) > 1 and rng.random() < 0.6:
            target = points.mean(axis=0)
            extent = np.linalg.norm(points - target, axis=1).max() * 0.8
        size = pieces[0].radius_mm
    else:
        size = float(np.exp(rng.uniform(np.log(20), np.log(500))))
        target, extent = np.array([0.0, 0.0, size]), size * rng.uniform(1.2, 3.0)
    if plain:
        pieces = [replace(piece, marks=(Mark(), Mark(), Mark())) for piece in pieces]
    camera, effects = sample_camera(rng, target, float(extent), studio, plain=plain, points=points)
    light, exposure = sample_light(rng, camera, studio)
    scene = Scene(
        pieces=tuple(pieces),
        props=(Prop(),) * 5
        if plain and pieces
        else sample_props(rng, size, float(extent), pieces, studio),
        ground=sample_ground(rng, studio),
        light=light,
        camera=camera,
        effects=replace(effects, exposure=exposure),
        noise_seed=float(rng.uniform(0.0, 279.0)),
    )
    return with_held_out(rng, scene) if held_out else scene


def _world(piece: Piece) -> np.ndarray:
    rotation = np.asarray(piece.rotation).reshape(3, 3)
    return outside_points(piece) @ rotation.T + np.asarray(piece.position_mm)


def _placed(rng: Rng, pieces: list[Piece]) -> list[Piece]:
    """Lay each piece down: on a side, on an end, or anyhow (held, hung, in a heap)."""
    placed: list[Piece] = []
    for number, piece in enumerate(pieces):
        quarter = np.pi / 2
        if rng.random() < 0.65:
            axis = ((1, 0, 0), (0, 1, 0), (0, 0, 1))[int(rng.integers(3))]
            rotation = rotation_about(axis, quarter * int(rng.integers(4)))
            if rng.random() < 0.5:
                rotation = rotation_about((1, 0, 0), quarter * int(rng.integers(4))) @ rotation
            tilt = rng.normal(0.0, 0.06)
            rotation = rotation_about(rng.normal(size=3), tilt) @ rotation
        else:
            rotation = any_rotation(rng)
        rotation = rotation_about((0, 0, 1), rng.uniform(0, 2 * np.pi)) @ rotation
        points = outside_points(piece) @ rotation.T
        middle = points.mean(axis=0)
        reach = float(np.linalg.norm(points - middle, axis=1).max())
        lift = 0.0 if rng.random() < 0.7 else float(rng.uniform(0.0, 1.5)) * reach
        sideways = np.zeros(2)
        if number:
            heading = rng.uniform(0, 2 * np.pi)
            sideways = np.array([np.cos(heading), np.sin(heading)]) * reach * rng.uniform(0.7, 1.8)
            if rng.random() < 0.4:
                lift += float(rng.uniform(0.2, 1.0)) * reach
        position = np.array(
            [sideways[0] - middle[0], sideways[1] - middle[1], lift - points[:, 2].min()]
        )
        placed.append(replace(piece, rotation=nine(rotation), position_mm=triple(position)))
    return placed
