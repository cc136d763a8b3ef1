"""What the exam asks of joints to a pipe: which ends have one, and which of them were told."""

from __future__ import annotations

import numpy as np

from synthetic.joined import PieceEnd, ends_in_picture
from synthetic.render import Picture
from synthetic.scene import Scene
from vision.reading import EndJoint

IN_VIEW_SHARE = 0.0005
"""An end is in view with at least this share of the frame on the last twentieth of its part."""

_LAST = 0.05
_NEAR = 1.2  # radii from the end's middle


def joined_in_view(scene: Scene, picture: Picture) -> tuple[PieceEnd, ...]:
    """The ends with a pipe joined to them that the picture shows."""
    truth = picture.truth
    along, owner = truth.along[0], np.rint(truth.piece[0])
    height, width = along.shape
    y, x = np.mgrid[:height, :width]
    at_an_end = (along <= _LAST) | (along >= 1.0 - _LAST)
    found = []
    for end in ends_in_picture(scene, width, height):
        off = np.hypot(x - end.middle_px[0], y - end.middle_px[1])
        own = (owner == end.piece + 1) & at_an_end & (off <= _NEAR * end.radius_px)
        if end.joined and own.mean() >= IN_VIEW_SHARE:
            found.append(end)
    return tuple(found)


def end_told(joint: EndJoint, ends: tuple[PieceEnd, ...]) -> PieceEnd | None:
    """The end that a told joint lies on: of those within their radius of it, the nearest."""
    middle = np.mean(joint.path, axis=0)
    away = [float(np.hypot(*(middle - each.middle_px))) / each.radius_px for each in ends]
    near = [(off, number) for number, off in enumerate(away) if off <= 1.0]
    return ends[min(near)[1]] if near else None


def right_and_wrong(
    joints: tuple[EndJoint, ...], ends: tuple[PieceEnd, ...], shown: tuple[PieceEnd, ...]
) -> tuple[int, int]:
    """How many of the `shown` ends were told, and how many joints lie on none of the joined
    `ends`."""
    told = [end_told(joint, ends) for joint in joints]
    return sum(end in told for end in shown), sum(e is None or not e.joined for e in told)
