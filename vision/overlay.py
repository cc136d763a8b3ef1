"""Seams drawn on the photo: each orientation by colour, line pattern and letter; the joints at the
ends in a style of their own; and a numbered mark where each reason of the reading is to be seen.

Paths are in photo pixels (centres at whole numbers); the picture drawn on may be a reduced copy.
"""

from __future__ import annotations

import cv2
import numpy as np

from fittings.words import END_JOINT_MEANING, END_JOINT_STYLE, LineStyle, Orientation
from vision.legend import Entry, draw_legend
from vision.reading import PhotoReading, Point, Seam
from vision.strokes import (
    BLACK,
    SHIFT_BITS,
    WHITE,
    Pixels,
    Points,
    distances,
    draw_disc,
    draw_line,
    draw_tag,
    fixed,
    point_at,
    stroke,
)

LINE_SHARE = 0.0038  # line width, of the picture's longer side
LETTER_SHARE = 0.02  # radius of a letter's disc, of the longer side
MASK_SHARE = 0.006  # width of a seam in the label mask, of the longer side
NUMBERS = "Numbers: where each reason of the reading is to be seen."

_PLACES = (0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9)  # shares of a seam's length to try a letter at


def draw_overlay(
    pixels: Pixels, reading: PhotoReading, *, legend: bool = True, numbers: bool = True
) -> Pixels:
    """A copy of `pixels` ((H, W, 3) uint8, RGB) with the seams of `reading` drawn on it.

    The legend, a translucent box along the bottom (along the top where that hides less of the
    seams), names the lines present and carries the advisory line. The size stays. Numbers are those
    of the verdict's evidence, from 1; without `numbers` they are left out, for where the reasons do
    not stand beside the picture.
    """
    canvas = np.ascontiguousarray(pixels).copy()
    longest = max(canvas.shape[:2])
    width_px = max(2.0, LINE_SHARE * longest)
    lines = [
        (style, _path_in(path, reading, canvas)) for style, path in _lines(reading) if len(path)
    ]
    for style, path in lines:
        draw_line(canvas, path, style, width_px)
    marks = {
        number: _path_in((each.place,), reading, canvas)[0]
        for number, each in enumerate(reading.verdict.evidence, start=1)
        if numbers and each.place is not None
    }
    points = np.vstack([path for _, path in lines] or [np.zeros((0, 2))])
    top, bottom = 0, canvas.shape[0]
    if legend:
        notes = NUMBERS if marks else ""
        top, bottom = draw_legend(canvas, legend_entries(reading), notes, points)
    # Neither letters nor numbers may hide what a number points at.
    taken: list[Point] = [(float(x), float(y)) for x, y in marks.values()]
    radius_px = max(7.0, LETTER_SHARE * longest)
    frame = (0.0, float(top), float(canvas.shape[1]), float(bottom))
    for style, path in lines:
        place = _letter_place(path, points, radius_px, frame, taken)
        taken.append(place)
        draw_disc(canvas, place, style, radius_px)
    for number, spot in marks.items():
        place = _tag_place(spot, points, radius_px, frame, taken)
        taken.append(place)
        _draw_mark(canvas, spot, place, str(number), radius_px)
    return canvas


def legend_entries(reading: PhotoReading) -> list[Entry]:
    """The lines that a reading's picture shows, each with its meaning."""
    present = {seam.orientation for seam in reading.seams}
    entries = [(o.style, f"{o.value}: {o.meaning}") for o in Orientation if o in present]
    if reading.end_joints:
        entries.append((END_JOINT_STYLE, f"end joint: {END_JOINT_MEANING}"))
    return entries


def label_mask(reading: PhotoReading) -> Pixels:
    """(height, width) uint8 labels at the photo's size, 0 where no seam is.

    Each path is drawn 0.6 % of the longer side wide; where two meet, the higher number stands. End
    joints are no seams of the fitting and leave 0.
    """
    mask = np.zeros((reading.height, reading.width), dtype=np.uint8)
    wished_px = round(MASK_SHARE * max(mask.shape))
    width_px = max(1, wished_px - (2 if wished_px > 4 else 1))  # cv2 draws that much wider
    for seam in sorted(reading.seams, key=_label):
        points = fixed(np.array(seam.path, dtype=np.float64).reshape(-1, 2))
        cv2.polylines(mask, [points], False, _label(seam), width_px, cv2.LINE_8, SHIFT_BITS)
    return mask


def _label(seam: Seam) -> int:
    return seam.orientation.label


def _lines(reading: PhotoReading) -> list[tuple[LineStyle, tuple[Point, ...]]]:
    joints = [(END_JOINT_STYLE, joint.path) for joint in reading.end_joints]
    return [*joints, *((seam.orientation.style, seam.path) for seam in reading.seams)]


def _path_in(path: tuple[Point, ...], reading: PhotoReading, canvas: Pixels) -> Points:
    """(N, 2) x, y of photo points in pixels of `canvas`, half pixel included."""
    rows, columns = canvas.shape[:2]
    share = np.array([columns / reading.width, rows / reading.height])
    return np.asarray((np.array(path, dtype=np.float64).reshape(-1, 2) + 0.5) * share - 0.5)


# --------------------------------------------------------------------------- letters and numbers


def _letter_place(
    path: Points,
    points: Points,
    radius_px: float,
    frame: tuple[float, float, float, float],
    taken: list[Point],
) -> Point:
    """Centre of a letter beside `path`: in the frame (left, top, right, bottom), off all `points`
    of seams and clear of other letters where possible."""
    at = distances(path)
    margin = 1.4 * radius_px
    low = np.array(frame[:2]) + margin
    high = np.maximum(low, np.array(frame[2:]) - margin)
    best, best_cost = path[0], np.inf
    for order, share in enumerate(_PLACES):
        middle = point_at(path, at, share * at[-1])
        ahead = point_at(path, at, min(at[-1], share * at[-1] + radius_px)) - middle
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


def _tag_place(
    spot: Points,
    points: Points,
    radius_px: float,
    frame: tuple[float, float, float, float],
    taken: list[Point],
) -> Point:
    """Centre of a number near its spot, by the same rules as a letter's."""
    margin = 1.3 * radius_px
    low = np.array(frame[:2]) + margin
    high = np.maximum(low, np.array(frame[2:]) - margin)
    best, best_cost = spot, np.inf
    for reach in (3.0, 4.5, 6.5):
        for turn in np.arange(12) * np.pi / 6:
            wished = spot + reach * radius_px * np.array([np.cos(turn), np.sin(turn)])
            place = np.clip(wished, low, high)
            moved = float(np.hypot(*(place - wished)))
            crowded = sum(max(0.0, 3 * radius_px - np.hypot(*(place - other))) for other in taken)
            off = np.hypot(*(points - place).T).min() if len(points) else np.inf
            cost = 3 * crowded + moved + 2 * max(0.0, 1.8 * radius_px - off) + reach * radius_px / 4
            if cost < best_cost:
                best, best_cost = place, cost
    return float(best[0]), float(best[1])


def _draw_mark(canvas: Pixels, spot: Points, place: Point, text: str, radius_px: float) -> None:
    """A ring about the spot, a thin line from it, and the number at the line's end."""
    ring_px = 0.55 * radius_px
    away = np.array(place) - spot
    length = float(np.hypot(*away)) or 1.0
    leader = np.stack([spot + away / length * ring_px, np.array(place)])
    where = (round(spot[0] * 2**SHIFT_BITS), round(spot[1] * 2**SHIFT_BITS))
    for colour, width in ((WHITE, 0.32 * radius_px), (BLACK, 0.14 * radius_px)):
        wide, ring = max(1, round(width)), round(ring_px * 2**SHIFT_BITS)
        cv2.circle(canvas, where, ring, colour, wide, cv2.LINE_AA, SHIFT_BITS)
        stroke(canvas, leader, colour, width)
    draw_tag(canvas, place, text, 0.95 * radius_px)
