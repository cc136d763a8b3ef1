"""Real surfaces on rendered pieces: rust, scale, stone and plaster from photographs.

A procedural surface has only the spots that somebody thought of. A texture multiplies the light
that comes from a piece, with and without its welds alike, so that a seam's contrast counts what the
texture leaves of it. It lies flat in the picture, not around the piece, and so tells nothing of its
form.
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from models.photographs import opened
from synthetic.draws import Rng

STEPS = 50.0
"""Steps of the packed byte for a factor of e; 128 is no change."""

STRENGTH = (0.04, 0.4)
"""Standard deviation of the texture's natural logarithm, drawn evenly in its own logarithm."""

MOST_GAIN = 3.0
"""A faint texture is raised to no more than this many times what it is."""

ZOOM = (0.4, 3.0)
"""Pixels of the picture for one of the file."""


def sample_texture(rng: Rng, files: tuple[Path, ...], height: int, width: int) -> NDArray[np.uint8]:
    """(height, width, 3) uint8: the logarithm of what the light is multiplied by, see `STEPS`.

    NoPhotographs names a file that cannot be opened.
    """
    texture = np.asarray(opened(files[int(rng.integers(len(files)))]), np.float32)
    rows, columns = texture.shape[:2]
    zoom = float(np.exp(rng.uniform(*np.log(ZOOM))))
    turn, stretch = rng.uniform(0.0, 2.0 * np.pi), float(np.exp(rng.normal(0.0, 0.3)))
    cos, sin = np.cos(turn) / zoom, np.sin(turn) / zoom
    from_picture = np.array(
        [
            [cos * stretch, sin, rng.uniform(0.0, columns)],
            [-sin * stretch, cos, rng.uniform(0.0, rows)],
        ]
    )
    laid = cv2.warpAffine(
        texture,
        from_picture,
        (width, height),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REFLECT,
    )
    depth = np.log(laid + 8.0)
    depth -= depth.mean((0, 1))
    grey = depth.mean(2, keepdims=True)
    depth = grey + rng.random() * (depth - grey)
    wanted = float(np.exp(rng.uniform(*np.log(STRENGTH))))
    depth *= min(MOST_GAIN, wanted / max(float(grey.std()), 1e-3))
    packed: NDArray[np.uint8] = (depth * STEPS + 128.5).clip(0.0, 255.0).astype(np.uint8)
    return packed
