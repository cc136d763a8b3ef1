"""Which parts of a photo to show at full size: windows around its seams."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from vision.reading import PhotoReading, Seam

MAX_SIDE_PX = 1400  # a page shrinks wider pictures
MAX_WINDOWS = 6
_MARGIN_SHARE = 0.055  # of the photo's longer side, around a seam: room for its letter and number


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Columns `left` to `right` and rows `top` to `bottom` of a photo (ends excluded)."""

    left: int
    top: int
    right: int
    bottom: int
    title: str

    def covers(self, other: Window) -> bool:
        """Whether most of `other` (four fifths of its area) lies in this window."""
        width = min(self.right, other.right) - max(self.left, other.left)
        height = min(self.bottom, other.bottom) - max(self.top, other.top)
        area = (other.right - other.left) * (other.bottom - other.top)
        return width > 0 and height > 0 and width * height >= 0.8 * area


def seam_windows(reading: PhotoReading) -> tuple[Window, ...]:
    """Windows around the seams, those that speak of fabrication first; none without seams."""
    chosen: list[Window] = []
    for seam in sorted(reading.seams, key=_telling):
        for window in _along(seam, reading):
            if not any(each.covers(window) for each in chosen):
                chosen.append(window)
    return tuple(chosen[:MAX_WINDOWS])


def _telling(seam: Seam) -> tuple[bool, float]:
    return not seam.orientation.speaks_of_fabrication, -seam.confidence


def _along(seam: Seam, reading: PhotoReading) -> Iterator[Window]:
    """Windows of at most MAX_SIDE_PX that follow the seam from end to end."""
    chunk: list[tuple[float, float]] = []
    for point in seam.path:
        if chunk and _too_wide([*chunk, point], reading):
            yield _around(chunk, seam, reading)
            chunk = [chunk[-1]]
        chunk.append(point)
    if chunk:
        yield _around(chunk, seam, reading)


def _too_wide(points: Sequence[tuple[float, float]], reading: PhotoReading) -> bool:
    room = MAX_SIDE_PX - 2 * _margin_px(reading)
    return any(max(values) - min(values) > room for values in zip(*points, strict=True))


def _margin_px(reading: PhotoReading) -> int:
    return max(24, min(MAX_SIDE_PX // 4, round(_MARGIN_SHARE * max(reading.width, reading.height))))


def _around(points: Sequence[tuple[float, float]], seam: Seam, reading: PhotoReading) -> Window:
    """The window around `points`, at least a quarter as high as wide and the other way round."""
    ends = []
    spans = [max(values) - min(values) for values in zip(*points, strict=True)]
    for values, size in zip(
        zip(*points, strict=True), (reading.width, reading.height), strict=True
    ):
        missing = max(0.0, 0.6 * max(spans) - (max(values) - min(values))) / 2
        low = round(min(values) - _margin_px(reading) - missing)
        high = round(max(values) + _margin_px(reading) + missing) + 1
        high = min(high, low + MAX_SIDE_PX)
        ends.append((max(0, low), min(size, max(high, 1))))
    (left, right), (top, bottom) = ends
    title = f"{seam.orientation.style.letter}: {seam.orientation.value} seam"
    return Window(left=left, top=top, right=right, bottom=bottom, title=title)
