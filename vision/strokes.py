"""Strokes, discs, tags and text on a picture, each legible on any ground."""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from fittings.words import OKABE_ITO, LineStyle, Rgb

Pixels = NDArray[np.uint8]
Points = NDArray[np.float64]
Font = ImageFont.FreeTypeFont | ImageFont.ImageFont

BLACK = OKABE_ITO["black"]
WHITE: Rgb = (255, 255, 255)
SHIFT_BITS = 4  # cv2 draws at sixteenths of a pixel


def fixed(points: Points) -> NDArray[np.int32]:
    """Points as cv2 wants them: (N, 1, 2) in sixteenths of a pixel."""
    return np.round(points * 2**SHIFT_BITS).astype(np.int32).reshape(-1, 1, 2)


def draw_line(canvas: Pixels, path: Points, style: LineStyle, width_px: float) -> None:
    """A white halo and a dark casing under the coloured pattern, so it reads on any ground."""
    stroke(canvas, path, WHITE, 2.3 * width_px)
    stroke(canvas, path, BLACK, 1.8 * width_px)
    for piece in dashes(path, style.dash, width_px):
        stroke(canvas, piece, style.colour, width_px)


def stroke(canvas: Pixels, path: Points, colour: Rgb, width_px: float) -> None:
    """A plain line through the points."""
    width = max(1, round(width_px))
    cv2.polylines(canvas, [fixed(path)], False, colour, width, cv2.LINE_AA, SHIFT_BITS)


def dashes(path: Points, pattern: tuple[float, ...], width_px: float) -> Iterator[Points]:
    """The drawn pieces of `path` ((N, 2) x, y) for a pattern (on, off, …) in line widths.

    Strokes end round, half a width beyond their ends; pieces are shortened by as much.
    """
    at = distances(path)
    if not pattern or at[-1] <= pattern[0] * width_px:
        yield path
        return
    start, index = 0.0, 0
    while start < at[-1]:
        end = min(start + pattern[index % len(pattern)] * width_px, at[-1])
        if index % 2 == 0:
            cap = min(width_px / 2, (end - start) / 2)
            yield _piece(path, at, start + cap, end - cap)
        start, index = start + pattern[index % len(pattern)] * width_px, index + 1


def distances(path: Points) -> Points:
    """(N,) length of `path` from its start to each point, pixels."""
    steps = np.hypot(*np.diff(path, axis=0).T) if len(path) > 1 else np.zeros(0)
    return np.concatenate([[0.0], np.cumsum(steps)])


def point_at(path: Points, at: Points, distance: float) -> Points:
    return np.array([np.interp(distance, at, path[:, 0]), np.interp(distance, at, path[:, 1])])


def _piece(path: Points, at: Points, start: float, end: float) -> Points:
    inside = path[(at > start) & (at < end)]
    return np.vstack([point_at(path, at, start), inside, point_at(path, at, end)])


def draw_disc(
    canvas: Pixels, centre: tuple[float, float], style: LineStyle, radius_px: float
) -> None:
    """A disc in the style's colour with its letter."""
    for colour, share in ((WHITE, 1.3), (BLACK, 1.16), (style.colour, 1.0)):
        where = (round(centre[0] * 2**SHIFT_BITS), round(centre[1] * 2**SHIFT_BITS))
        radius = round(share * radius_px * 2**SHIFT_BITS)
        cv2.circle(canvas, where, radius, colour, -1, cv2.LINE_AA, SHIFT_BITS)
    font = ImageFont.load_default(size=1.45 * radius_px)
    write(canvas, style.letter, centre, font, BLACK, anchor="mm")


def draw_tag(canvas: Pixels, centre: tuple[float, float], text: str, radius_px: float) -> None:
    """A white square with a black rim and a text, apart from the round letters by its shape."""
    for colour, share in ((WHITE, 1.15), (BLACK, 1.0), (WHITE, 0.84)):
        half = share * radius_px
        low = (round(centre[0] - half), round(centre[1] - half))
        high = (round(centre[0] + half), round(centre[1] + half))
        cv2.rectangle(canvas, low, high, colour, -1)
    font = ImageFont.load_default(size=1.35 * radius_px)
    write(canvas, text, centre, font, BLACK, anchor="mm")


def write(
    canvas: Pixels,
    text: str,
    at: tuple[float, float],
    font: Font,
    colour: Rgb,
    anchor: str,
) -> None:
    """Writes on the part of `canvas` that the text covers, clipped to it."""
    left, top, right, bottom = (round(value) for value in font.getbbox(text, anchor=anchor))
    x0, y0 = max(0, round(at[0]) + left - 2), max(0, round(at[1]) + top - 2)
    x1 = min(canvas.shape[1], round(at[0]) + right + 3)
    y1 = min(canvas.shape[0], round(at[1]) + bottom + 3)
    if x1 <= x0 or y1 <= y0:
        return
    patch = Image.fromarray(canvas[y0:y1, x0:x1])
    ImageDraw.Draw(patch).text((at[0] - x0, at[1] - y0), text, colour, font, anchor)
    canvas[y0:y1, x0:x1] = np.asarray(patch)
