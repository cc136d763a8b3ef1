"""Rendered pieces photographed from several places, and the truth about what the photos show."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import cv2
import numpy as np

from fittings.words import Kind, Part
from synthetic.render import Picture
from synthetic.sample import sample_scene
from synthetic.sample_pieces import outside_points
from synthetic.sample_view import sample_camera
from synthetic.scene import Piece, Scene
from vision.network import Maps
from vision.piece_form import PARTS, Field, Form
from vision.piece_seen import COLUMNS, ROWS

FINE = 2


def views_of(
    rng: np.random.Generator, kind: Kind, count: int, *, turned_over: bool = False
) -> Iterator[Scene]:
    """One piece of that kind, alone, from `count` places; with `turned_over` it hangs in the air
    another way up in the last half of them."""
    scene = replace(sample_scene(rng, (kind,)), props=())
    for number in range(count):
        if turned_over and number == (count + 1) // 2:
            scene = replace(scene, pieces=(_another_way_up(rng, scene.pieces[0]),))
        piece = scene.pieces[0]
        rotation = np.reshape(piece.rotation, (3, 3))
        points = outside_points(piece) @ rotation.T + np.asarray(piece.position_mm)
        middle = points.mean(axis=0)
        extent = float(np.linalg.norm(points - middle, axis=1).max())
        camera, effects = sample_camera(rng, middle, extent, False, plain=True, points=points)
        yield replace(
            scene, camera=camera, effects=replace(effects, exposure=scene.effects.exposure)
        )


def _another_way_up(rng: np.random.Generator, piece: Piece) -> Piece:
    """Turned any way, and lifted as far as it reaches, so that none of it is in the ground."""
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    turn *= np.sign(np.linalg.det(turn))
    x, y, _z = piece.position_mm
    low = float((outside_points(piece) @ turn.T)[:, 2].min())
    return replace(piece, rotation=tuple(turn.reshape(-1).tolist()), position_mm=(x, y, -low))


def half_turned(maps: Maps, kind: Kind) -> Maps:
    """The maps as a network may give them that starts from the fitting's other end."""
    if kind is Kind.ELBOW:
        return replace(maps, along=1.0 - maps.along, around_sin=-maps.around_sin)
    outlet = maps.winner == Part.OUTLET.label
    return replace(
        maps,
        along=np.where(outlet, maps.along, 1.0 - maps.along),
        around_cos=np.where(outlet, -maps.around_cos, maps.around_cos),
        around_sin=-maps.around_sin,
    )


def true_form(piece: Piece) -> Form:
    """The proportions that the piece was made with."""
    radius = piece.radius_mm
    if piece.kind is Kind.ELBOW:
        return Form(kind=piece.kind, length=piece.length_mm / radius, bend_deg=piece.bend_deg)
    return Form(
        kind=piece.kind,
        length=piece.length_mm / radius,
        second_radius=piece.second_radius_mm / radius,
        second_length=piece.second_length_mm / radius,
        eccentric=piece.eccentric > 0.5,
    )


def true_shares(picture: Picture, kind: Kind) -> dict[Part, Field]:
    """(ROWS, COLUMNS) share of each cell in which a finely rendered picture shows the surface: the
    truth of what is seen, without any tracing or filling in.

    A cell is seen where a pixel lies in it. Large cells tell too much so, at the outline, and small
    ones too little, where pixels are far apart: the mean of both was within 0.02 of the outside of
    what pictures three times as fine tell.
    """
    truth = picture.truth
    shares = {}
    for part in PARTS[kind]:
        here = (truth.part[0] == part.label) & (truth.piece[0] == 1)
        turn = np.arctan2(truth.around_sin[0][here], truth.around_cos[0][here]) / (2 * np.pi) + 0.5
        rows = np.clip((truth.along[0][here] * ROWS * FINE).astype(int), 0, ROWS * FINE - 1)
        columns = (turn * COLUMNS * FINE).astype(int) % (COLUMNS * FINE)
        cells = np.zeros((ROWS * FINE, COLUMNS * FINE))
        cells[rows, columns] = 1.0
        quarters = cells.reshape(ROWS, FINE, COLUMNS, FINE)
        shares[part] = 0.5 * (quarters.mean(axis=(1, 3)) + quarters.max(axis=(1, 3)))
    return shares


def camera_columns(scene: Scene) -> int:
    """By how many columns a concentric reducer's `around` is turned in this picture."""
    piece = scene.pieces[0]
    offset = np.asarray(scene.camera.position_mm) - np.asarray(piece.position_mm)
    _, y, z = offset @ np.reshape(piece.rotation, (3, 3))
    return round(float(np.arctan2(y, -z)) / (2 * np.pi) * COLUMNS)


def turn_between(maps: Maps, truth: Maps, kind: Kind) -> int:
    """The turn that brings the coordinates of `maps` nearest to the true ones of the same picture
    where both see the same part: of the half turns the one with the smaller median distance, of a
    reducer's columns the mean."""
    part = PARTS[kind][0]
    own = cv2.resize(
        np.dstack([truth.winner, truth.along, truth.around_cos, truth.around_sin]).astype(
            np.float32
        ),
        maps.shape[::-1],
        interpolation=cv2.INTER_NEAREST,
    )
    both = (maps.winner == part.label) & (own[..., 0] == part.label)
    if not both.any():
        return 0
    around = np.arctan2(maps.around_sin, maps.around_cos)[both]
    real = np.arctan2(own[..., 3], own[..., 2])[both]
    if kind is Kind.REDUCER:
        mean = np.angle(np.exp(1j * (real - around)).mean())
        return round(float(mean) / (2 * np.pi) * COLUMNS)
    along, true_along = maps.along[both], own[..., 1][both]
    apart = [
        np.median(np.abs(np.angle(np.exp(1j * (real - t)))) / np.pi + np.abs(true_along - u))
        for t, u in ((around, along), (-around, 1.0 - along))
    ]
    return int(np.argmin(apart))
