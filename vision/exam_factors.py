"""What the exam records of a picture beside its seams: what else might mislead, how blurred it is,
and where its visible seams lie."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from synthetic.render import VISIBLE_CONTRAST, VISIBLE_SHARE, Picture
from synthetic.scene import Effects, Scene
from vision.metrics import seam_iou
from vision.overlay import label_mask
from vision.reading import PhotoReading

IOU_PX = 3.0
"""How far labelled and true seam pixels may lie apart and still meet, in pixels of the exam."""


def distractors(scene: Scene) -> tuple[str, ...]:
    """What is no seam but may look like one: marks, and shadows of bars, cables and leaves."""
    worn = [*(piece.marks for piece in scene.pieces), scene.wear.marks]
    marks = {mark.name for some in worn for mark in some}
    shadows = {"shadows of bars": scene.light.bars, "shadows of leaves": scene.light.leaves}
    return tuple(sorted((marks - {"none"}) | {name for name, on in shadows.items() if on > 0.0}))


def blur_spread_px(effects: Effects) -> float:
    """Spread (standard deviation) of lens and shake in pixels of a 512-pixel long side, in the
    direction of the shake: a line of length L has the spread of L / √12."""
    return float(np.hypot(effects.blur_px, effects.motion_px / np.sqrt(12.0)))


def visible_seams(picture: Picture) -> NDArray[np.bool_]:
    """(H, W) bool: the pixels of those seams that are visible as a whole."""
    pixels, contrast = picture.pixels[0], picture.contrast[0]
    slot = np.rint(picture.truth.slot[0])
    shows = (pixels >= VISIBLE_SHARE * slot.size) & (contrast >= VISIBLE_CONTRAST)
    return np.asarray(np.isin(slot, 1 + np.flatnonzero(shows)))


def pixel_iou(reading: PhotoReading, seams: NDArray[np.bool_]) -> float | None:
    """IoU of the pixels that the reading labels as seam (as `screen --out` writes them) and those
    that are, within IOU_PX; None where none are."""
    return seam_iou(label_mask(reading) > 0, seams, IOU_PX) if seams.any() else None
