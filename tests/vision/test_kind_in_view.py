"""Views of one piece that do and do not show of which kind it is, rendered from chosen sides."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from fittings.words import Kind, Part
from synthetic.native import native_stages
from synthetic.render import render
from synthetic.sample import sample_scene
from synthetic.scene import Scene
from vision.kind_in_view import kind_in_view


def pixels(part: Part, count: int) -> np.ndarray:
    return np.full(count, float(part.label))


@pytest.mark.parametrize(("outlet", "shown"), [(0, False), (3, False), (10, True), (90, True)])
def test_a_tee_needs_both_its_cylinders(outlet: int, shown: bool) -> None:
    part = np.concatenate([pixels(Part.RUN, 100 - outlet), pixels(Part.OUTLET, outlet)])
    assert kind_in_view(Kind.TEE, part, np.zeros(100)) is shown


@pytest.mark.parametrize(
    ("kind", "span", "shown"),
    [
        (Kind.ELBOW, (0.0, 1.0), True),
        (Kind.ELBOW, (0.5, 0.95), True),
        (Kind.ELBOW, (0.0, 0.25), False),
        (Kind.REDUCER, (0.0, 1.0), True),
        (Kind.REDUCER, (0.2, 0.8), True),
        (Kind.REDUCER, (0.0, 0.5), False),
        (Kind.REDUCER, (0.5, 1.0), False),
    ],
)
def test_a_bend_or_a_taper_must_be_long_enough(
    kind: Kind, span: tuple[float, float], shown: bool
) -> None:
    assert kind_in_view(kind, pixels(Part.BODY, 200), np.linspace(*span, 200)) is shown


def test_end_faces_and_bores_tell_nothing() -> None:
    for kind in (Kind.ELBOW, Kind.TEE, Kind.REDUCER):
        assert not kind_in_view(kind, pixels(Part.FACE, 50), np.linspace(0.0, 1.0, 50))
        assert not kind_in_view(kind, np.zeros(0), np.zeros(0))


def _seen_from(scene: Scene, direction: tuple[float, float, float]) -> bool:
    """Of a scene's one piece, turned so that the camera looks at it from that side of its own."""
    piece = scene.pieces[0]
    towards = np.array(scene.camera.position_mm) - np.array(piece.position_mm)
    towards /= np.linalg.norm(towards)
    own = np.array(direction) / np.linalg.norm(direction)
    # The shortest turn of `own` onto `towards` (Rodrigues).
    axis = np.cross(own, towards)
    cross = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    turn = np.eye(3) + cross + cross @ cross / (1.0 + own @ towards)
    piece = dataclasses.replace(piece, rotation=tuple(turn.ravel()))
    scene = dataclasses.replace(scene, pieces=(piece,), props=())
    truth = render(scene, 96, 80, run=native_stages()).truth
    there = truth.piece[0] == 1
    return kind_in_view(piece.kind, truth.part[0][there], truth.along[0][there])


def test_a_tee_from_the_side_and_from_beneath() -> None:
    """In the tee's own frame the run lies along x and the outlet along z."""
    scene = sample_scene(np.random.default_rng([31, 4]), (Kind.TEE,), plain=True)
    assert _seen_from(scene, (0.1, 1.0, 0.2))
    assert not _seen_from(scene, (0.05, 0.1, -1.0))
