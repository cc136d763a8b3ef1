"""Pictures of nothing in particular: overlapping shapes with textures, light and noise.

A photo folder holds faces, papers, machines and meadows, and what a network has never seen it takes
for what it has. Random shapes that hide each other ("dead leaves") share much of their statistics
with photographs (Lee, Mumford and Huang 2001; Baradad et al. 2021 train on them), so they teach
what is no fitting, and stand behind fittings in the place of a yard.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from synthetic.draws import Rng

Pixels = NDArray[np.float32]


def sample_collage(rng: Rng, height: int, width: int) -> NDArray[np.uint8]:
    """(height, width, 3) uint8, RGB: a few to some hundreds of shapes, largest first."""
    long_side = max(height, width)
    palette = _palette(rng)
    picture: NDArray[Any] = _texture(rng, height, width, palette)
    count = int(np.exp(rng.uniform(np.log(8), np.log(200))))
    smallest = float(rng.uniform(0.01, 0.06))
    sizes = np.sort(smallest * rng.power(1.2, count) ** -1)[::-1]
    for size in np.minimum(sizes, 0.6) * long_side:
        mask = _shape(rng, height, width, float(size))
        rows, columns = np.nonzero(mask)
        if len(rows) == 0:
            continue
        box = np.s_[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1]
        inside = mask[box][..., None].astype(np.float32) / 255.0
        rows_of, columns_of = inside.shape[:2]
        fill = _texture(rng, rows_of, columns_of, palette) * _roundness(rng, rows_of, columns_of)
        picture[box] = picture[box] * (1.0 - inside) + fill * inside
    light = rng.uniform(0.5, 1.3) * _gradient(rng, height, width, 0.6)
    picture = cv2.GaussianBlur(picture * light, (0, 0), float(rng.uniform(0.3, 1.6)))
    picture += rng.normal(0.0, rng.exponential(0.012), picture.shape)
    return (picture.clip(0.0, 1.0) * 255.0 + 0.5).astype(np.uint8)


def _palette(rng: Rng) -> NDArray[np.float64]:
    """(N, 3) colours: greys with a tint as often as bright ones, as in photographs."""
    bright = rng.random((int(rng.integers(3, 10)), 3)) ** rng.uniform(0.6, 2.0)
    grey = bright.mean(axis=1, keepdims=True)
    saturation = rng.power(0.7, (len(bright), 1)) * rng.uniform(0.2, 1.0)
    return grey + (bright - grey) * saturation


def _shape(rng: Rng, height: int, width: int, size_px: float) -> NDArray[np.uint8]:
    """(height, width) uint8, 255 in one shape about `size_px` long, smooth at its edge."""
    mask = np.zeros((height, width), np.uint8)
    x, y = rng.uniform(-0.1, 1.1) * width, rng.uniform(-0.1, 1.1) * height
    turn_deg = float(rng.uniform(0, 360))
    slim = float(rng.uniform(0.08, 1.0))
    half = (max(1, round(size_px / 2)), max(1, round(size_px * slim / 2)))
    centre = (round(x), round(y))
    what = int(rng.integers(5))
    if what == 0:
        cv2.ellipse(mask, centre, half, turn_deg, 0, 360, 255, -1, cv2.LINE_AA)
    elif what == 1:  # a ring or an arc
        thick = max(1, round(size_px * rng.uniform(0.02, 0.2)))
        begin = float(rng.uniform(0, 360))
        end = begin + float(rng.choice([360.0, rng.uniform(40, 300)]))
        cv2.ellipse(mask, centre, half, turn_deg, begin, end, 255, thick, cv2.LINE_AA)
    elif what == 2:
        corners = cv2.boxPoints(((x, y), (2.0 * half[0], 2.0 * half[1]), turn_deg))
        cv2.fillPoly(mask, [np.rint(corners).astype(np.int32)], 255, cv2.LINE_AA)
    elif what == 3:  # a blot
        around = np.linspace(0, 2 * np.pi, int(rng.integers(5, 14)), endpoint=False)
        reach = size_px / 2 * rng.uniform(0.4, 1.0, around.size)
        points = np.stack([x + reach * np.cos(around), y + slim * reach * np.sin(around)], 1)
        cv2.fillPoly(mask, [np.rint(points).astype(np.int32)], 255, cv2.LINE_AA)
    else:  # a stroke
        points = np.cumsum(rng.normal(0.0, size_px / 3, (int(rng.integers(3, 7)), 2)), axis=0)
        path = np.rint(points + np.array([x, y])).astype(np.int32)
        thick = max(1, round(size_px * rng.uniform(0.01, 0.12)))
        cv2.polylines(mask, [path], False, 255, thick, cv2.LINE_AA)
    return mask


def _texture(rng: Rng, height: int, width: int, palette: NDArray[np.float64]) -> Pixels:
    """(height, width, 3) in a colour near one of the palette: even, clouded, striped or checked."""
    first, second = palette[rng.integers(len(palette), size=2)]
    first = (first * np.exp(rng.normal(0, 0.15, 3))).astype(np.float32)
    what = int(rng.integers(4))
    if what == 0:
        return np.broadcast_to(first, (height, width, 3)).astype(np.float32)
    if what == 1:
        grain = max(2, round(float(np.exp(rng.uniform(np.log(2), np.log(40))))))
        size = (max(2, height // grain), max(2, width // grain))
        small = rng.random(size).astype(np.float32)
        t = cv2.resize(small, (width, height), interpolation=cv2.INTER_CUBIC)
    else:
        turn, period = rng.uniform(0, np.pi), np.exp(rng.uniform(np.log(4), np.log(80)))
        y, x = np.mgrid[:height, :width].astype(np.float32)
        t = np.sin((x * np.cos(turn) + y * np.sin(turn)) * 2 * np.pi / period)
        if what == 3:
            t = t * np.sin((y * np.cos(turn) - x * np.sin(turn)) * 2 * np.pi / period)
        sharp = float(rng.uniform(0.5, 8.0))
        t = (0.5 + 0.5 * np.tanh(sharp * t)).astype(np.float32)
    t = (t * float(rng.uniform(0.1, 1.0)))[..., None]
    return first * (1.0 - t) + second.astype(np.float32) * t


def _gradient(rng: Rng, height: int, width: int, most: float) -> Pixels:
    """(height, width, 1) light that changes evenly across the picture, 1 on the average."""
    turn = rng.uniform(0, 2 * np.pi)
    y, x = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j].astype(np.float32)
    slope = float(rng.uniform(0.0, most))
    return (1.0 + slope * (x * np.cos(turn) + y * np.sin(turn)))[..., None].astype(np.float32)


def _roundness(rng: Rng, height: int, width: int) -> Pixels:
    """(height, width, 1) shading of a flat thing or, as often, of a round one, with a highlight."""
    if rng.random() < 0.5:
        return _gradient(rng, height, width, 0.5)
    turn = rng.uniform(0, 2 * np.pi)
    y, x = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j].astype(np.float32)
    across = (x * np.cos(turn) + y * np.sin(turn)) / 1.5
    shade = np.sqrt((1.0 - across**2).clip(0.05, 1.0)) * float(rng.uniform(0.7, 1.3))
    at, width_of = float(rng.uniform(-0.6, 0.6)), float(rng.uniform(0.03, 0.3))
    shine = float(rng.uniform(0.0, 1.2)) * np.exp(-(((across - at) / width_of) ** 2))
    return (shade + shine)[..., None].astype(np.float32)
