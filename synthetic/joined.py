"""Which ends of a scene's pieces have a pipe welded on, and where each end lies in the picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from synthetic.camera import project
from synthetic.sample_pieces import piece_ends
from synthetic.scene import Prop, Scene

_TOUCHING_SHARE = 0.05
"""A pipe begins at an end when its axis meets it within this share of the radius."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceEnd:
    """An open end of a piece: the pixel (x, y) of its middle (NaN behind the camera), pixel centres
    at whole numbers; its radius there, pixels; whether pipe is joined to it."""

    piece: int
    middle_px: tuple[float, float]
    radius_px: float
    joined: bool


def ends_in_picture(scene: Scene, width_px: int, height_px: int) -> tuple[PieceEnd, ...]:
    """All ends of all pieces, whether or not the picture shows them."""
    camera, long_side = scene.camera, max(width_px, height_px)
    found = []
    for number, piece in enumerate(scene.pieces):
        rotation = np.asarray(piece.rotation).reshape(3, 3)
        for centre, outward, radius_mm in piece_ends(piece):
            point = rotation @ centre + np.asarray(piece.position_mm)
            axis = rotation @ outward
            (middle,) = project(
                point[None],
                position_mm=camera.position_mm,
                rotation=camera.rotation,
                focal_px=camera.focal * long_side,
                centre_px=(
                    0.5 * width_px + camera.centre_across * long_side,
                    0.5 * height_px + camera.centre_down * long_side,
                ),
                k1=camera.k1,
                k2=camera.k2,
            )
            away_mm = float(np.linalg.norm(point - np.asarray(camera.position_mm)))
            found.append(
                PieceEnd(
                    piece=number,
                    middle_px=(float(middle[0]) - 0.5, float(middle[1]) - 0.5),
                    radius_px=radius_mm / away_mm * camera.focal * long_side,
                    joined=any(_begins(prop, point, axis, radius_mm) for prop in scene.props),
                )
            )
    return tuple(found)


def _begins(prop: Prop, point: np.ndarray, axis: np.ndarray, radius_mm: float) -> bool:
    """Whether that is a pipe of the end's own radius that goes on from it along its axis."""
    if prop.shape != 0.0 or abs(prop.half_height_mm - radius_mm) > _TOUCHING_SHARE * radius_mm:
        return False
    if prop.half_length_mm < radius_mm * 0.2:  # a ground band about the joint is no pipe
        return False
    course = np.asarray(prop.rotation).reshape(3, 3)[:, 0]
    start = np.asarray(prop.position_mm) - course * prop.half_length_mm
    return bool(
        course @ axis > 0.99 and np.linalg.norm(start - point) < _TOUCHING_SHARE * radius_mm
    )
