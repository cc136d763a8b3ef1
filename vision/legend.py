"""The legend under a picture with seams: what each line is, and the advisory."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from PIL import ImageFont

from fittings.words import ADVISORY, LineStyle
from vision.strokes import WHITE, Font, Pixels, Points, draw_disc, draw_line, write

TEXT_SHARE = 0.019  # height of the legend's letters, of the longer side

Entry = tuple[LineStyle, str]
"""How a line is drawn, and what it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Legend:
    """Lines of text, the orientation that some of them begin with, and the sizes, pixels."""

    lines: tuple[tuple[str, LineStyle | None, float], ...]  # text, sample before it, left edge
    text_px: float

    @property
    def step_px(self) -> float:
        return 1.75 * self.text_px

    @property
    def height_px(self) -> int:
        return round(self.step_px * len(self.lines) + 0.5 * self.text_px)


def draw_legend(
    canvas: Pixels, entries: Sequence[Entry], notes: str, points: Points
) -> tuple[int, int]:
    """Draws the legend; returns the first and last row (exclusive) that stay free."""
    rows, columns = canvas.shape[:2]
    text_px = max(9.0, min(TEXT_SHARE * max(rows, columns), columns / 28))
    tries = (
        _laid_out(entries, " ".join(filter(None, (notes, ADVISORY))), columns, text_px),
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
    for index, (text, style, left) in enumerate(legend.lines):
        y = (index + 0.5) * legend.step_px + 0.25 * text_px
        if style is not None:
            sample = np.array([[text_px, y], [5.2 * text_px, y]])
            draw_line(box, sample, style, max(2.0, 0.22 * text_px))
            draw_disc(box, (6.6 * text_px, y), style, 0.6 * text_px)
        write(box, text, (left, y), font, WHITE, anchor="lm")
    return (height, rows) if at_top else (0, rows - height)


def _laid_out(entries: Sequence[Entry], caution: str, columns: int, text_px: float) -> _Legend:
    font = ImageFont.load_default(size=text_px)
    lines: list[tuple[str, LineStyle | None, float]] = []
    indent = 8.0 * text_px
    for style, words in entries:
        for index, text in enumerate(_wrapped(words, font, columns - indent - text_px)):
            lines.append((text, None if index else style, indent))
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
