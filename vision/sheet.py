"""A sheet of A4 paper in the picture: found by its outline, and the plane that it lies in.

ISO 216: A4 is 210 × 297 mm. The homography from the sheet to the picture gives millimetres anywhere
in the sheet's plane (and in no other).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.known_length import (
    LikelySize,
    Point,
    focal_px,
    pose,
    size_by_plane,
    size_by_touching,
)
from vision.proportions import Proportions

if TYPE_CHECKING:
    # Only named here: a reading holds what this module finds, and opening photos needs readings.
    from vision.photo import Photo

SHEET_WORDS = "the sheet of A4 paper (210 × 297 mm, ISO 216)"

A4_MM = (210.0, 297.0)
"""ISO 216:2007, Table 1 (from memory): width and height of A4, with ±1.5 and ±2 mm."""

SEARCH_SIDE_PX = 800
"""The sheet is looked for in a copy with this long side."""

MIN_SHARE, MAX_SHARE = 0.004, 0.7
"""Share of the picture that a sheet covers."""

MAX_SATURATION = 70
"""Paper is white or greyish: 8-bit saturation, in warm light too."""

BRIGHTER = 1.2
"""A sheet is brighter than what is about it by this factor, as the picture's values go: paper
throws back 0.8 or more of the light, dry concrete half of it, (0.8 / 0.5)^(1/2.2) = 1.24
(reflectances from memory). On a light ground it is not found."""

MAX_TAKEN = 0.5
"""Share of a sheet that the fitting may hide."""

FILLED = 0.96
"""Share of the four-cornered outline that a sheet's bright area fills, with its hollows."""

ASPECT_ERROR = 0.06
"""How far the sides may be from 1 : √2 once the view is taken out."""

CORNER_PX = 1.0
"""How far off a corner is found, in pixels of the copy searched."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """An A4 sheet: its corners in pixels of the photo, going round from one of the ends of a short
    side, that side first, and the homography from millimetres on the sheet to pixels."""

    corners: tuple[Point, Point, Point, Point]
    px_from_mm: NDArray[np.float64]
    photo_px: tuple[int, int]

    def mm(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """(N, 2) pixels of the photo → (N, 2) mm in the sheet's plane, from its first corner."""
        back = np.linalg.inv(self.px_from_mm)
        return np.asarray(cv2.perspectiveTransform(points[None].astype(np.float64), back)[0])

    def size_by_shape(self, found: Proportions) -> LikelySize:
        """The likely size of a piece that touches the sheet's plane, by its shape and place.

        KnownLengthError where the two don't go together.
        """
        long_side = max(self.photo_px)
        return size_by_touching(
            self.px_from_mm,
            found.outside(),
            found.focal * long_side,
            self.photo_px,
            scale_error=self._scale_error,
            measured_by=SHEET_WORDS,
        )

    def size_by_width(self, diameter_px: float, at: Point) -> LikelySize:
        """The same by its width alone, in pixels of the photo, about the middle `at`."""
        return size_by_plane(
            self.px_from_mm,
            diameter_px,
            at,
            self.photo_px,
            scale_error=self._scale_error,
            measured_by=SHEET_WORDS,
        )

    @property
    def _scale_error(self) -> float:
        """Of the shortest side, by its two corners."""
        sides = zip(self.corners, self.corners[1:] + self.corners[:1], strict=True)
        copy_px = max(1.0, max(self.photo_px) / SEARCH_SIDE_PX)
        return math.sqrt(2.0) * CORNER_PX * copy_px / min(math.dist(a, b) for a, b in sides)


def find_sheet(photo: Photo, piece: NDArray[np.bool_] | None = None) -> Sheet | None:
    """The sheet of A4 paper in a photo, None where none is surely there.

    `piece` (h, w), of any size, is where the fitting is: a white four-cornered patch of it is no
    sheet.

    Bright, colourless areas at several levels are tried; a sheet is one whose outline has four
    straight sides that are those of a rectangle of 1 : √2 seen by some camera. What lies on it may
    hide a part, but no corner. Of several the largest counts.
    """
    rows, columns = photo.pixels.shape[:2]
    factor = min(1.0, SEARCH_SIDE_PX / max(rows, columns))
    size = (round(columns * factor), round(rows * factor))
    copy = cv2.resize(photo.pixels, size, interpolation=cv2.INTER_AREA)
    scale = np.array([photo.width / size[0], photo.height / size[1]])
    taken = np.zeros(size[::-1], bool)
    if piece is not None:
        taken = cv2.resize(piece.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    best: tuple[float, Sheet] | None = None
    for quad in _quadrilaterals(np.asarray(copy, np.uint8), taken):
        area = float(cv2.contourArea(quad.astype(np.float32)))
        if best is not None and area <= best[0]:
            continue
        sheet = sheet_of((quad + 0.5) * scale - 0.5, (photo.width, photo.height))
        if sheet is not None:
            best = (area, sheet)
    return None if best is None else best[1]


def sheet_of(quad: NDArray[np.float64], photo_px: tuple[int, int]) -> Sheet | None:
    """The sheet with these corners, (4, 2) in order round it, if some camera sees A4 so."""
    fits = []
    for turn in (0, 1):
        corners = np.roll(quad, -turn, axis=0)
        matrix = homography(corners)
        if matrix is None:
            continue
        error = _aspect_error(matrix, photo_px)
        fits.append((error, turn, corners, matrix))
    if not fits:
        return None
    error, _, corners, matrix = min(fits, key=lambda fit: fit[:2])
    if error > ASPECT_ERROR:
        return None
    a, b, c, d = ((float(x), float(y)) for x, y in corners)
    return Sheet(corners=(a, b, c, d), px_from_mm=matrix, photo_px=photo_px)


def homography(corners: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """(3, 3) from millimetres on A4 to the pixels of its corners (4, 2), the first two of them the
    ends of a short side."""
    width, height = A4_MM
    flat = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    matrix = cv2.getPerspectiveTransform(flat, corners.astype(np.float32))
    return np.asarray(matrix) if np.isfinite(matrix).all() else None


def _aspect_error(px_from_mm: NDArray[np.float64], photo_px: tuple[int, int]) -> float:
    """How far the two axes of the plane are from equally long and at right angles, by the camera
    that suits them best."""
    found = focal_px(px_from_mm, photo_px)
    long_side = max(photo_px)
    shares = [0.5, 0.62, 0.75, 0.9, 1.1, 1.5, 2.5, 4.0]
    focals = [share * long_side for share in shares] + ([] if found is None else [found])
    errors = []
    for focal in focals:
        rotation, _ = pose(px_from_mm, photo_px, focal)
        x, y = (photo_px[0] - 1) / 2.0, (photo_px[1] - 1) / 2.0
        back = np.array([[1 / focal, 0, -x / focal], [0, 1 / focal, -y / focal], [0, 0, 1.0]])
        axes = back @ px_from_mm[:, :2]
        axes = axes * (2.0 / np.linalg.norm(axes, axis=0).sum())
        errors.append(min(float(np.abs(s * axes - rotation[:, :2]).max()) for s in (1, -1)))
    return min(errors)


def _quadrilaterals(
    pixels: NDArray[np.uint8], taken: NDArray[np.bool_]
) -> Iterator[NDArray[np.float64]]:
    """(4, 2) corners of bright four-cornered areas that are not `taken`, in pixels of the copy."""
    hsv = cv2.cvtColor(pixels, cv2.COLOR_RGB2HSV)
    value = np.asarray(cv2.GaussianBlur(hsv[..., 2], (0, 0), 0.8), np.uint8)
    plain = hsv[..., 1] <= MAX_SATURATION
    for level in np.unique(np.percentile(value, (40, 55, 65, 75, 82, 88, 92, 95, 97, 98.5))):
        for quad in _at_level(value, plain, float(level)):
            inside = np.zeros(value.shape, np.uint8)
            cv2.fillConvexPoly(inside, np.rint(quad).astype(np.int32), 1)
            if taken[inside > 0].mean() > MAX_TAKEN:
                continue
            # Wide enough to reach over the joint between two tiles.
            ring = (cv2.dilate(inside, np.ones((21, 21), np.uint8)) > 0) & (inside == 0)
            white, about = float(np.median(value[inside > 0])), float(np.median(value[ring]))
            if white < BRIGHTER * about:
                continue
            # The edge is where the light is halfway between paper and ground.
            halfway = (white + about) / 2.0
            middle = quad.mean(axis=0)
            again = _at_level(value, plain, float(halfway))
            yield min(
                again,
                key=lambda each: float(np.abs(each.mean(axis=0) - middle).max()),
                default=quad,
            )


def _at_level(
    value: NDArray[np.uint8], plain: NDArray[np.bool_], level: float
) -> list[NDArray[np.float64]]:
    """Corners of what is colourless, four-cornered and brighter than `level`."""
    mask = ((value > level) & plain).astype(np.uint8)
    opened = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    outlines, _ = cv2.findContours(opened, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    found = []
    for outline in outlines:
        if MIN_SHARE * value.size < cv2.contourArea(outline) < MAX_SHARE * value.size:
            quad = _corners(outline[:, 0, :].astype(np.float64), value.shape)
            if quad is not None:
                found.append(quad)
    return found


def _corners(outline: NDArray[np.float64], shape: tuple[int, ...]) -> NDArray[np.float64] | None:
    """The outline's four corners, where straight lines along its sides meet."""
    low, high = outline.min(axis=0), outline.max(axis=0)
    if low.min() <= 1 or high[0] >= shape[1] - 2 or high[1] >= shape[0] - 2:
        return None  # cut by the frame
    hull = cv2.convexHull(outline.astype(np.float32))
    length = cv2.arcLength(hull, True)
    rough = cv2.approxPolyDP(hull, 0.03 * length, True)[:, 0, :].astype(np.float64)
    if len(rough) != 4:
        return None
    if cv2.contourArea(hull) < FILLED * cv2.contourArea(rough.astype(np.float32)):
        return None
    middle = rough.mean(axis=0)
    lines = []
    for start, end in zip(rough, np.roll(rough, -1, axis=0), strict=True):
        side = end - start
        reach = float(np.hypot(*side))
        unit = side / max(reach, 1e-9)
        beside = outline - start
        on = np.abs(beside @ np.array([-unit[1], unit[0]])) < max(2.0, 0.02 * reach)
        at = beside @ unit / max(reach, 1e-9)
        points = outline[on & (at > 0.05) & (at < 0.95)]
        # Half a side must be there: what lies on the sheet may hide the rest.
        if len(points) < max(8, 0.4 * reach):
            return None
        vx, vy, x, y = cv2.fitLine(points.astype(np.float32), cv2.DIST_HUBER, 0, 0.01, 0.01).ravel()
        # The outline runs through the outermost pixels' centres, half a pixel inside the edge.
        outward = 0.5 * np.sign((start + end) @ [-vy, vx] - 2.0 * middle @ [-vy, vx])
        lines.append((-vy, vx, -vy * x + vx * y + outward))
    quad = []
    for (a, b, c), (d, e, f) in zip([lines[-1], *lines[:-1]], lines, strict=True):
        cross = a * e - b * d
        if abs(cross) < 0.05:
            return None
        quad.append(((c * e - b * f) / cross, (a * f - c * d) / cross))
    found = np.array(quad)
    return found if np.abs(found - rough).max() < 0.15 * length / 4 else None
