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
from synthetic.landmarks import landmarks
from synthetic.sample_alone import ALONE_SHARE, Alone, alone, worn
from synthetic.sample_close import CLOSE_SHARE, close_camera, with_band
from synthetic.sample_ground import sample_ground
from synthetic.sample_light import sample_light
from synthetic.sample_pieces import outside_points, piece_ends, sample_piece
from synthetic.sample_props import few_props, sample_props, something_before
from synthetic.sample_view import End, sample_camera, sample_end
from synthetic.scene import MOST_PROPS, Camera, Effects, Mark, Piece, Prop, Scene, Wear
from synthetic.sight import FULL_SHARE, in_the_way, piece_share, within, within_piece

PIECE_KINDS = (Kind.ELBOW, Kind.TEE, Kind.REDUCER)


HARD_SHARE = 0.12
"""Of single pieces, how many are drawn as one of a pair that is told apart by little."""

NEAR_SIZE_SHARE = 0.85
"""How often pieces lie among others of about their own size."""

HELD_SHARE = 0.3
"""Of single pieces that a hand can hold, how many are held."""

HELD_RADIUS_MM = 70.0

CLOSE = 0.65
"""Share of a lone thing's extent that the camera is set for: little of most reaches that far out,
and it is to be seen large."""

_LOOKS = 6
"""How often a camera that sees nothing but a prop is drawn anew."""


def sample_kinds(rng: Rng) -> tuple[Kind, ...]:
    """What is in view: mostly one fitting, sometimes several, often of one kind, sometimes none."""
    u = rng.random()
    if u < 0.18:
        return ()
    count = 1 if u < 0.85 else int(rng.integers(2, 5))
    kinds = tuple(PIECE_KINDS[i] for i in rng.integers(0, 3, count))
    return (kinds[0],) * count if rng.random() < 0.4 else kinds


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
    pieces = _placed(rng, _drawn(rng, kinds, plain))
    close = len(pieces) == 1 and not plain and rng.random() < CLOSE_SHARE
    if close:
        pieces = [with_band(rng, pieces[0])]
    held = (
        len(pieces) == 1
        and not plain
        and not close
        and pieces[0].radius_mm < HELD_RADIUS_MM
        and rng.random() < HELD_SHARE
    )
    if held:
        x, y, z = pieces[0].position_mm
        pieces = [replace(pieces[0], position_mm=(x, y, z + float(rng.uniform(100, 1300))))]
    single: Alone | None = None
    points = np.concatenate([_world(piece) for piece in pieces]) if pieces else np.zeros((0, 3))
    if pieces:
        first = _world(pieces[0])
        target, extent = (
            first.mean(axis=0),
            np.linalg.norm(first - first.mean(axis=0), axis=1).max(),
        )
        if len(pieces) > 1 and rng.random() < 0.6:
            target = points.mean(axis=0)
            extent = np.linalg.norm(points - target, axis=1).max() * 0.8
        size = pieces[0].radius_mm
    elif rng.random() < ALONE_SHARE:
        single = alone(rng)
        target, extent, size = single.target, CLOSE * single.extent_mm, single.wear.radius_mm
    else:
        size = float(np.exp(rng.uniform(np.log(20), np.log(500))))
        target, extent = np.array([0.0, 0.0, size]), size * rng.uniform(1.2, 3.0)
    if plain:
        pieces = [replace(piece, marks=(Mark(), Mark(), Mark())) for piece in pieces]
    props: tuple[Prop, ...] = ()
    if single is not None:
        props = few_props(rng, float(extent), single.props)
    elif not (plain and pieces):
        props = sample_props(rng, size, float(extent), pieces, studio, held=held)
    wear = Wear() if single is None else single.wear
    if single is None and not pieces:
        props, wear = worn(rng, props, size)
    aims = points if single is None else single.points
    camera, effects, props = _view(
        rng, target, float(extent), pieces, points, aims, props, studio, plain, close=close
    )
    light, exposure = sample_light(rng, camera, studio)
    scene = Scene(
        pieces=tuple(pieces),
        props=props,
        wear=wear,
        ground=sample_ground(rng, studio, pieces[0].skin if pieces else None),
        light=light,
        camera=camera,
        effects=replace(effects, exposure=exposure),
        noise_seed=float(rng.uniform(0.0, 279.0)),
    )
    return with_held_out(rng, scene) if held_out else scene


def _drawn(rng: Rng, kinds: tuple[Kind, ...], plain: bool) -> list[Piece]:
    """The pieces, not yet placed: one may be hard to tell, several are mostly alike in size."""
    if not kinds:
        return []
    hard = len(kinds) == 1 and not plain and rng.random() < HARD_SHARE
    pieces = [sample_piece(rng, kinds[0], hard=hard)]
    about = pieces[0].radius_mm if rng.random() < NEAR_SIZE_SHARE else None
    return pieces + [sample_piece(rng, kind, about_mm=about) for kind in kinds[1:]]


def _view(
    rng: Rng,
    target: np.ndarray,
    extent: float,
    pieces: list[Piece],
    points: np.ndarray,
    aims: np.ndarray,
    props: tuple[Prop, ...],
    studio: bool,
    plain: bool,
    *,
    close: bool,
) -> tuple[Camera, Effects, tuple[Prop, ...]]:
    """A camera that is in no piece or prop and has more in view than one; where a few draws find
    none, what is in its way is left out. And the props, with perhaps one before the pieces. Close
    views look at one of `aims`."""
    marked = np.concatenate([_world(p, landmarks(p)) for p in pieces]) if pieces else None
    one = len(pieces) == 1 and not plain and not close
    end = sample_end(rng, _ends(pieces[0], props)) if one else None
    for _ in range(_LOOKS):
        camera, effects = sample_camera(
            rng, target, extent, studio, plain=plain, points=aims if len(aims) else None,
            marked=marked, end=end,
        )  # fmt: skip
        if close:
            camera = close_camera(rng, camera, pieces[0])
        away = float(np.linalg.norm(np.asarray(camera.position_mm) - target))
        at = np.asarray(camera.position_mm)[None]
        if any(within_piece(piece, at, 0.1 * piece.radius_mm)[0] for piece in pieces):
            continue
        shown = [piece_share(camera, piece, 2.0 * away) for piece in pieces]
        if max(shown, default=0.0) > FULL_SHARE:
            continue
        if not in_the_way(camera, props, points[::5], away):
            break
    if len(points) and not plain and len(props) < MOST_PROPS:
        props = (*props, *something_before(rng, target, extent, at[0]))
    bad = in_the_way(camera, props, points[::5], away)
    return camera, effects, tuple(p for i, p in enumerate(props) if i not in bad)


def _world(piece: Piece, points: np.ndarray | None = None) -> np.ndarray:
    """Points of the piece's frame in the world's; those of its outside when None."""
    rotation = np.asarray(piece.rotation).reshape(3, 3)
    points = outside_points(piece) if points is None else points
    return np.asarray(points @ rotation.T + np.asarray(piece.position_mm))


def _ends(piece: Piece, props: tuple[Prop, ...]) -> list[End]:
    """The ends of the piece that no pipe is joined to."""
    rotation, out = np.asarray(piece.rotation).reshape(3, 3), []
    for centre, axis, radius in piece_ends(piece):
        before = _world(piece, (centre + 0.3 * radius * axis)[None])
        if not any(within(prop, before)[0] for prop in props):
            out.append(End(_world(piece, centre[None])[0], rotation @ axis, radius))
    return out


def _turned(rng: Rng) -> np.ndarray:
    """How a piece lies: on a side, on an end, or anyhow (held, hung, in a heap)."""
    quarter = np.pi / 2
    if rng.random() > 0.65:
        rotation = any_rotation(rng)
    else:
        axis = ((1, 0, 0), (0, 1, 0), (0, 0, 1))[int(rng.integers(3))]
        rotation = rotation_about(axis, quarter * int(rng.integers(4)))
        if rng.random() < 0.5:
            rotation = rotation_about((1, 0, 0), quarter * int(rng.integers(4))) @ rotation
        tilt = rng.normal(0.0, 0.06)
        rotation = rotation_about(rng.normal(size=3), tilt) @ rotation
    return np.asarray(rotation_about((0, 0, 1), rng.uniform(0, 2 * np.pi)) @ rotation)


def _placed(rng: Rng, pieces: list[Piece]) -> list[Piece]:
    """Lay the pieces down: one by itself, several scattered, in a row, or in a heap."""
    how = ("scattered", "row", "heap")[int(rng.choice(3, p=[0.45, 0.3, 0.25]))]
    heading = rng.uniform(0, 2 * np.pi)
    course = np.array([np.cos(heading), np.sin(heading)])
    shelf = 0.0 if rng.random() < 0.7 else float(rng.uniform(0.0, 1.5))
    gap = float(rng.uniform(1.0, 1.35))
    common = _turned(rng)
    placed: list[Piece] = []
    heights = [0.0]
    at = np.zeros(2)
    before = 0.0
    for number, piece in enumerate(pieces):
        # In a row like pieces lie alike, but for a small turn.
        slight = rotation_about((0, 0, 1), rng.normal(0.0, 0.08))
        rotation = slight @ common if how == "row" else _turned(rng)
        points = outside_points(piece) @ rotation.T
        middle = points.mean(axis=0)
        reach = float(np.linalg.norm(points - middle, axis=1).max())
        lift = shelf * reach if how == "row" or number == 0 else 0.0
        if number and how == "row":
            half = float(np.abs((points[:, :2] - middle[:2]) @ course).max())
            at = at + course * (before + half) * gap
        elif number:
            turn = rng.uniform(0, 2 * np.pi)
            near, far = ((0.7, 1.2) if number % 2 else (0.0, 0.6)) if how == "heap" else (0.9, 1.9)
            far = rng.uniform(near, far)
            at = np.array([np.cos(turn), np.sin(turn)]) * reach * far
            if how == "heap" and number % 2 == 0:  # on what lies there, somewhat into its hollows
                lift = min(heights[1:]) * float(rng.uniform(0.75, 1.0))
            elif how == "scattered" and rng.random() < 0.3:
                lift += float(rng.uniform(0.2, 1.0)) * reach
        before = float(np.abs((points[:, :2] - middle[:2]) @ course).max())
        low = points[:, 2].min()
        heights.append(lift + float(points[:, 2].max() - low))
        position = np.array([at[0] - middle[0], at[1] - middle[1], lift - low])
        placed.append(replace(piece, rotation=nine(rotation), position_mm=triple(position)))
    return placed
