"""Seams drawn on the photo: each orientation by colour, line pattern and letter.

Paths are in photo pixels (centres at whole numbers); the picture drawn on may be a reduced copy.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from fittings.words import ADVISORY, OKABE_ITO, Orientation, Rgb
from vision.reading import PhotoReading, Seam

Pixels = NDArray[np.uint8]
Points = NDArray[np.float64]
Font = ImageFont.FreeTypeFont | ImageFont.ImageFont

LINE_SHARE = 0.0038  # line width, of the picture's longer side
LETTER_SHARE = 0.02  # radius of a letter's disc, of the longer side
TEXT_SHARE = 0.019  # height of the legend's letters, of the longer side
MASK_SHARE = 0.006  # width of a seam in the label mask, of the longer side

_BLACK = OKABE_ITO["black"]
_WHITE: Rgb = (255, 255, 255)
_SHIFT_BITS = 4  # cv2 draws at sixteenths of a pixel
_PLACES = (0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9)  # shares of a seam's length to try a letter at


def draw_overlay(pixels: Pixels, reading: PhotoReading, *, legend: bool = True) -> Pixels:
    """A copy of `pixels` ((H, W, 3) uint8, RGB) with the seams of `reading` drawn on it.

    The legend, a translucent box along the bottom (along the top where that hides less of the
    seams), names the orientations present and carries the advisory line. The size stays.
    """
    canvas = np.ascontiguousarray(pixels).copy()
    longest = max(canvas.shape[:2])
    width_px = max(2.0, LINE_SHARE * longest)
    paths = [(seam, _path_in(seam, reading, canvas)) for seam in reading.seams if seam.path]
    for seam, path in paths:
        _draw_line(canvas, path, seam.orientation, width_px)
    points = np.vstack([path for _, path in paths] or [np.zeros((0, 2))])
    top, bottom = 0, canvas.shape[0]
    if legend:
        top, bottom = _draw_legend(canvas, _orientations(reading), points)
    taken: list[tuple[float, float]] = []
    radius_px = max(7.0, LETTER_SHARE * longest)
    for seam, path in paths:
        frame = (0.0, float(top), float(canvas.shape[1]), float(bottom))
        place = _letter_place(path, points, radius_px, frame, taken)
        taken.append(place)
        _draw_letter(canvas, place, seam.orientation, radius_px)
    return canvas


def label_mask(reading: PhotoReading) -> Pixels:
    """(height, width) uint8 labels at the photo's size, 0 where no seam is.

    Each path is drawn 0.6 % of the longer side wide; where two meet, the higher number stands.
    """
    mask = np.zeros((reading.height, reading.width), dtype=np.uint8)
    wished_px = round(MASK_SHARE * max(mask.shape))
    width_px = max(1, wished_px - (2 if wished_px > 4 else 1))  # cv2 draws that much wider
    for seam in sorted(reading.seams, key=_label):
        points = _fixed(np.array(seam.path, dtype=np.float64).reshape(-1, 2))
        cv2.polylines(mask, [points], False, _label(seam), width_px, cv2.LINE_8, _SHIFT_BITS)
    return mask


def _label(seam: Seam) -> int:
    return seam.orientation.label


def _orientations(reading: PhotoReading) -> list[Orientation]:
    present = {seam.orientation for seam in reading.seams}
    return [orientation for orientation in Orientation if orientation in present]


def _path_in(seam: Seam, reading: PhotoReading, canvas: Pixels) -> Points:
    """(N, 2) x, y of a seam in pixels of `canvas`, half pixel included."""
    rows, columns = canvas.shape[:2]
    share = np.array([columns / reading.width, rows / reading.height])
    return (np.array(seam.path, dtype=np.float64).reshape(-1, 2) + 0.5) * share - 0.5


def _fixed(points: Points) -> NDArray[np.int32]:
    """Points as cv2 wants them: (N, 1, 2) in sixteenths of a pixel."""
    return np.round(points * 2**_SHIFT_BITS).astype(np.int32).reshape(-1, 1, 2)


# ------------------------------------------------------------------------------------- lines


def _draw_line(canvas: Pixels, path: Points, orientation: Orientation, width_px: float) -> None:
    """A white halo and a dark casing under the coloured pattern, so it reads on any ground."""
    _stroke(canvas, path, _WHITE, 2.3 * width_px)
    _stroke(canvas, path, _BLACK, 1.8 * width_px)
    for piece in dashes(path, orientation.style.dash, width_px):
        _stroke(canvas, piece, orientation.style.colour, width_px)


def _stroke(canvas: Pixels, path: Points, colour: Rgb, width_px: float) -> None:
    width = max(1, round(width_px))
    cv2.polylines(canvas, [_fixed(path)], False, colour, width, cv2.LINE_AA, _SHIFT_BITS)


def dashes(path: Points, pattern: tuple[float, ...], width_px: float) -> Iterator[Points]:
    """The drawn pieces of `path` ((N, 2) x, y) for a pattern (on, off, …) in line widths.

    Strokes end round, half a width beyond their ends; pieces are shortened by as much.
    """
    at = _distances(path)
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


def _distances(path: Points) -> Points:
    """(N,) length of `path` from its start to each point, pixels."""
    steps = np.hypot(*np.diff(path, axis=0).T) if len(path) > 1 else np.zeros(0)
    return np.concatenate([[0.0], np.cumsum(steps)])


def _point(path: Points, at: Points, distance: float) -> Points:
    return np.array([np.interp(distance, at, path[:, 0]), np.interp(distance, at, path[:, 1])])


def _piece(path: Points, at: Points, start: float, end: float) -> Points:
    inside = path[(at > start) & (at < end)]
    return np.vstack([_point(path, at, start), inside, _point(path, at, end)])


# ----------------------------------------------------------------------------------- letters


def _letter_place(
    path: Points,
    points: Points,
    radius_px: float,
    frame: tuple[float, float, float, float],
    taken: list[tuple[float, float]],
) -> tuple[float, float]:
    """Centre of a letter beside `path`: in the frame (left, top, right, bottom), off all `points`
    of seams and clear of other letters where possible."""
    at = _distances(path)
    margin = 1.4 * radius_px
    low = np.array(frame[:2]) + margin
    high = np.maximum(low, np.array(frame[2:]) - margin)
    best, best_cost = path[0], np.inf
    for order, share in enumerate(_PLACES):
        middle = _point(path, at, share * at[-1])
        ahead = _point(path, at, min(at[-1], share * at[-1] + radius_px)) - middle
        length = float(np.hypot(*ahead)) or 1.0
        normal = np.array([-ahead[1], ahead[0]]) / length
        for side in (1, -1):
            wished = middle + side * 2.0 * radius_px * normal
            place = np.clip(wished, low, high)
            moved = float(np.hypot(*(place - wished)))
            crowded = sum(max(0.0, 3 * radius_px - np.hypot(*(place - other))) for other in taken)
            on_line = max(0.0, 1.8 * radius_px - float(np.hypot(*(points - place).T).min()))
            cost = 3 * crowded + moved + 2 * on_line + 0.1 * radius_px * order
            if cost < best_cost:
                best, best_cost = place, cost
    return float(best[0]), float(best[1])


def _draw_letter(
    canvas: Pixels, centre: tuple[float, float], orientation: Orientation, radius_px: float
) -> None:
    for colour, share in ((_WHITE, 1.3), (_BLACK, 1.16), (orientation.style.colour, 1.0)):
        where = (round(centre[0] * 2**_SHIFT_BITS), round(centre[1] * 2**_SHIFT_BITS))
        radius = round(share * radius_px * 2**_SHIFT_BITS)
        cv2.circle(canvas, where, radius, colour, -1, cv2.LINE_AA, _SHIFT_BITS)
    font = ImageFont.load_default(size=1.45 * radius_px)
    _write(canvas, orientation.style.letter, centre, font, _BLACK, anchor="mm")


# ------------------------------------------------------------------------------------ legend


@dataclass(frozen=True, slots=True, kw_only=True)
class _Legend:
    """Lines of text, the orientation that some of them begin with, and the sizes, pixels."""

    lines: tuple[tuple[str, Orientation | None, float], ...]  # text, sample before it, left edge
    text_px: float

    @property
    def step_px(self) -> float:
        return 1.75 * self.text_px

    @property
    def height_px(self) -> int:
        return round(self.step_px * len(self.lines) + 0.5 * self.text_px)


def _draw_legend(
    canvas: Pixels, orientations: list[Orientation], points: Points
) -> tuple[int, int]:
    """Draws the legend; returns the first and last row (exclusive) that stay free."""
    rows, columns = canvas.shape[:2]
    text_px = max(9.0, min(TEXT_SHARE * max(rows, columns), columns / 28))
    tries = (
        _laid_out(orientations, ADVISORY, columns, text_px),
        _laid_out([], ADVISORY, columns, text_px),
        _laid_out([], ADVISORY.partition(":")[0] + ".", columns, max(7.0, 0.75 * text_px)),
    )
    legend = next((each for each in tries if each.height_px <= 0.4 * rows), tries[-1])
    height = min(legend.height_px, rows)
    hidden_below = np.count_nonzero(points[:, 1] >= rows - height)
    at_top = hidden_below > np.count_nonzero(points[:, 1] < height)
    box = canvas[:height] if at_top else canvas[rows - height :]
    cv2.convertScaleAbs(box, dst=box, alpha=0.22)
    text_px = legend.text_px
    font = ImageFont.load_default(size=text_px)
    for index, (text, orientation, left) in enumerate(legend.lines):
        y = (index + 0.5) * legend.step_px + 0.25 * text_px
        if orientation is not None:
            sample = np.array([[text_px, y], [5.2 * text_px, y]])
            _draw_line(box, sample, orientation, max(2.0, 0.22 * text_px))
            _draw_letter(box, (6.6 * text_px, y), orientation, 0.6 * text_px)
        _write(box, text, (left, y), font, _WHITE, anchor="lm")
    return (height, rows) if at_top else (0, rows - height)


def _laid_out(
    orientations: list[Orientation], caution: str, columns: int, text_px: float
) -> _Legend:
    font = ImageFont.load_default(size=text_px)
    lines: list[tuple[str, Orientation | None, float]] = []
    indent = 8.0 * text_px
    for orientation in orientations:
        words = f"{orientation.value}: {orientation.meaning}"
        for index, text in enumerate(_wrapped(words, font, columns - indent - text_px)):
            lines.append((text, None if index else orientation, indent))
    for text in _wrapped(caution, font, columns - 2 * text_px):
        lines.append((text, None, text_px))
    return _Legend(lines=tuple(lines), text_px=text_px)


def _wrapped(text: str, font: Font, width_px: float) -> list[str]:
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if not lines[-1] or font.getlength(longer) <= width_px:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _write(
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
