"""The path tracer's noise taken out of a picture of few samples, edges and relief left in.

Light and material are parted (radiance over albedo), since the noise is the light's; the light is
smoothed by the edge-avoiding à-trous filter of Dammertz, Sewtz, Hanika and Lensch (2010), led by
normals, depth and brightness; the material is put back.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.floating]

_KERNEL = np.array([1, 4, 6, 4, 1]) / 16
_LEVELS = 4
_NORMAL = 0.12
"""Normals this far apart (length of their difference) lead to a weight of 1/e: a weld's flanks are
0.2 to 0.4 off the wall."""

_DEPTH = 0.02
_BRIGHTNESS = 0.3


def denoised(radiance: Array, albedo: Array, normals: Array, depth_mm: Array) -> Array:
    """(H, W, 3) radiance; `albedo` and `normals` (H, W, 3) and `depth_mm` (H, W) as the renderer
    gives them, nearly free of noise."""
    radiance, albedo, normals, depth_mm = (
        np.asarray(values, np.float32) for values in (radiance, albedo, normals, depth_mm)
    )
    material = np.clip(albedo, 0.02, None)
    light = _without_specks(radiance / material)
    for level in range(_LEVELS):
        step = 2**level
        guide = np.log(cv2.blur(light, (3, 3)).mean(-1) + 1e-3)
        total = np.zeros_like(light)
        weight = np.zeros(light.shape[:2], np.float32)
        for i, down in enumerate(_KERNEL):
            for j, across in enumerate(_KERNEL):
                move = ((i - 2) * step, (j - 2) * step)
                off = ((normals - _shifted(normals, move)) ** 2).sum(-1) / _NORMAL**2
                off += np.abs(1 - _shifted(depth_mm, move) / np.maximum(depth_mm, 1.0)) / _DEPTH
                off += np.abs(guide - _shifted(guide, move)) * 2**level / (3 * _BRIGHTNESS)
                share = np.float32(down * across) * np.exp(-off)
                total += share[..., None] * _shifted(light, move)
                weight += share
        light = total / weight[..., None]
    return np.asarray(light * material, np.float64)


def _shifted(values: Array, move: tuple[int, int]) -> Array:
    """The values `move` (rows, columns) away, the border's repeated."""
    down, across = move
    rows = np.clip(np.arange(values.shape[0]) + down, 0, values.shape[0] - 1)
    columns = np.clip(np.arange(values.shape[1]) + across, 0, values.shape[1] - 1)
    return np.asarray(values[rows][:, columns])


def _without_specks(values: Array) -> Array:
    """Pixels that outshine all about them are the path tracer's, not the scene's."""
    middle = cv2.medianBlur(values, 5)
    speck = values.sum(-1) > 2.5 * middle.sum(-1) + 0.05
    return np.asarray(np.where(speck[..., None], middle, values))
