"""A known length in the picture: millimetres, a likely outside diameter, and the sizes that fit it.

Three ways: a sheet of A4 paper found in the picture (`vision.sheet`), a steel rule whose two ends
are pointed out, or any two points with their distance. Each gives the scale of one plane only, that
of the sheet or of the rule. The axis of a piece that lies on the ground beside it is half its
diameter nearer to the camera, so it looks larger than the scale says; that is reckoned with, as
far as the camera's height and the piece's place are known, and said.

Pixels are those of the photo as a person sees it, (x, y), centres at whole numbers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fittings.dimensions import SizeTable, listed_sizes, outside_diameter_mm, tolerances

Point = tuple[float, float]

FOCAL_OVER_LONG_SIDE = (0.62, 1.1)
"""Focal lengths of phones' main lenses over the picture's long side, where nothing tells: 24 to
28 mm on a 36 mm frame are 0.67 to 0.78, cropped pictures more (common practice, no source)."""

POINTING_PX = 2.0
"""How far off a person points, in pixels of the photo; a long side of 1000 pixels shown in full."""

OUTLINE_SHARE = 0.03
"""How far off the fitting's diameter in the picture is measured, as a share of it."""

TOUCHING_ERROR = 0.05
"""Relative standard error of a piece's size from where it touches the plane: its own shape and
place in the picture, as far as the network and a formed fitting's smooth shape tell them."""

AXIS_HEIGHTS = (1.0, 3.0)
"""Where only the piece's width is known, its axis is taken to be this many outside radii above the
ground: lying on it, or standing on an end (a tee's M is about 2 radii, a long radius A about 3)."""


class KnownLengthError(ValueError):
    """A known length that can't be used; the message says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownLine:
    """Two points of the photo and their distance: a rule's two ends, say."""

    start: Point
    end: Point
    length_mm: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.length_mm) and self.length_mm > 0):
            raise KnownLengthError(f"the known length must be above 0 mm, not {self.length_mm:g}")
        if not self.length_px >= 10 * POINTING_PX:
            raise KnownLengthError(
                f"the two points lie {self.length_px:.0f} pixels apart; give two that lie at least "
                f"{10 * POINTING_PX:.0f} apart"
            )

    @property
    def length_px(self) -> float:
        """Distance of the two points in the photo."""
        return math.dist(self.start, self.end)

    @property
    def mm_per_px(self) -> float:
        """Scale along the line, in a plane through it that faces the camera."""
        return self.length_mm / self.length_px


@dataclass(frozen=True, slots=True, kw_only=True)
class LikelySize:
    """A likely outside diameter with its lowest and highest, in mm, and the listed sizes whose
    outside diameter lies between them, the nearest first."""

    od_mm: float
    od_low_mm: float
    od_high_mm: float
    sizes: tuple[str, ...]
    measured_by: str

    @property
    def nps(self) -> str | None:
        """The nearest size, None where none fits."""
        return self.sizes[0] if self.sizes else None

    @property
    def sentence(self) -> str:
        """What was measured, how sure it is, and what it takes for granted."""
        figures = (
            f"By {self.measured_by} the outside diameter is about {self.od_mm:.0f} mm "
            f"({self.od_low_mm:.0f} to {self.od_high_mm:.0f} mm)"
        )
        ground = (
            "This takes it that the piece touches the same ground: raised, it looks larger than "
            "it is. Measure it with a tape."
        )
        if not self.sizes:
            return f"{figures}, which is that of no listed size. {ground}"
        others = f", perhaps NPS {', '.join(self.sizes[1:])}" if len(self.sizes) > 1 else ""
        return f"{figures}: likely NPS {self.sizes[0]}{others}. {ground}"


def size_by_line(line: KnownLine, diameter_px: float, long_side_px: int) -> LikelySize:
    """Outside diameter by two points with their distance, lying on the ground beside the piece.

    The plane of the line is some d = f · mm_per_px away, f the focal length in pixels. The piece's
    axis is at most as much nearer as it is high (seen from above), and no nearer (seen from the
    side). A line that runs away from the camera looks shorter and makes the piece too large: that
    cannot be told from two points.
    """
    _check_diameter(diameter_px)
    flat_mm = diameter_px * line.mm_per_px
    highest = max(AXIS_HEIGHTS)
    least_focal = min(FOCAL_OVER_LONG_SIDE) * long_side_px
    low_mm = flat_mm / (1.0 + highest * flat_mm / 2.0 / (least_focal * line.mm_per_px))
    error = math.hypot(OUTLINE_SHARE, math.sqrt(2.0) * POINTING_PX / line.length_px)
    return likely_size(
        (low_mm + flat_mm) / 2.0,
        low_mm * (1.0 - error),
        flat_mm * (1.0 + error),
        "the length pointed out",
    )


def size_by_plane(
    px_from_mm: NDArray[np.float64],
    diameter_px: float,
    at: Point,
    picture_px: tuple[int, int],
    *,
    scale_error: float,
    measured_by: str,
) -> LikelySize:
    """Outside diameter of a piece on a plane whose homography is known, from its width alone.

    `px_from_mm` (3, 3) takes millimetres on the plane to pixels, `at` is the middle of the piece's
    outline there, `picture_px` (width, height), `scale_error` the relative error of the plane's
    scale.

    The homography gives the camera's height above the plane and the plane's depth behind `at`. On
    the way from the plane to the camera the height grows evenly, so at the axis, m radii r high,
    the depth is that of the plane times 1 - m r / height: r = k / (1 + m k / height) with k the
    radius that the outline would have on the plane itself (similar triangles). The focal length
    comes from the homography where the plane is seen slanting, else it is a phone's.
    """
    _check_diameter(diameter_px)
    found = focal_px(px_from_mm, picture_px)
    long_side = max(picture_px)
    # A pixel in the corners moves the focal length found by about this much.
    focals = [share * long_side for share in FOCAL_OVER_LONG_SIDE]
    focals = focals if found is None else [0.85 * found, found / 0.85]
    sizes = [
        _on_plane(px_from_mm, diameter_px, at, picture_px, focal, height)
        for focal in focals
        for height in AXIS_HEIGHTS
    ]
    error = math.hypot(OUTLINE_SHARE, scale_error)
    low, high = min(sizes), max(sizes)
    return likely_size((low + high) / 2.0, low * (1.0 - error), high * (1.0 + error), measured_by)


def size_by_touching(
    px_from_mm: NDArray[np.float64],
    outside: NDArray[np.float64],
    focal: float,
    picture_px: tuple[int, int],
    *,
    scale_error: float,
    measured_by: str,
) -> LikelySize:
    """Outside diameter of a piece whose shape and place were found, touching the plane.

    `outside` (N, 3) are points of it in the camera's frame in outside radii, found with the focal
    length `focal` in pixels. Its lowest point lies on the plane: so many millimetres is a radius as
    the camera is high above the plane, over the radii that the lowest point is below the camera.
    """
    rotation, origin_mm = pose(px_from_mm, picture_px, focal)
    normal = rotation[:, 2]
    height_mm = float(normal @ origin_mm)
    below = float((np.sign(height_mm) * (outside @ normal)).max())
    if below <= 1e-6:
        raise KnownLengthError("the piece lies beyond the horizon of the plane measured")
    od_mm = 2.0 * abs(height_mm) / below
    error = math.hypot(TOUCHING_ERROR, scale_error)
    return likely_size(od_mm, od_mm * (1.0 - 2.0 * error), od_mm * (1.0 + 2.0 * error), measured_by)


def _on_plane(
    px_from_mm: NDArray[np.float64],
    diameter_px: float,
    at: Point,
    picture_px: tuple[int, int],
    focal: float,
    axis_height: float,
) -> float:
    rotation, origin_mm = pose(px_from_mm, picture_px, focal)
    # The camera in the plane's own frame, and the ray through `at`.
    camera_mm = -rotation.T @ origin_mm
    x, y = at[0] - (picture_px[0] - 1) / 2.0, at[1] - (picture_px[1] - 1) / 2.0
    ray = rotation.T @ np.array([x, y, focal])
    if abs(ray[2]) < 1e-9 or -camera_mm[2] / ray[2] <= 0:
        raise KnownLengthError("the piece lies beyond the horizon of the plane measured")
    depth_mm = float(-camera_mm[2] / ray[2]) * focal
    # How wide the outline of a cylinder looks: the tangents touch it before its middle.
    half = diameter_px / 2.0 / math.hypot(1.0, diameter_px / (2.0 * focal))
    on_plane_mm = half * depth_mm / focal
    return 2.0 * on_plane_mm / (1.0 + axis_height * on_plane_mm / abs(float(camera_mm[2])))


def focal_px(px_from_mm: NDArray[np.float64], picture_px: tuple[int, int]) -> float | None:
    """Focal length in pixels from a plane's homography; None where the view is too square to tell.

    With square pixels and the lens's axis in the middle, the first two columns of K⁻¹H are two
    equally long vectors at right angles (Zhang 2000, "A flexible new technique for camera
    calibration", eqs. 3 and 4): two linear equations in 1/f², solved by least squares. A picture
    cut off its middle breaks the second assumption.
    """
    long_side = max(picture_px)
    a, b = _centred(px_from_mm, picture_px, 1.0 / long_side)[:, :2].T
    left = np.array([a[0] * b[0] + a[1] * b[1], a[0] ** 2 + a[1] ** 2 - b[0] ** 2 - b[1] ** 2])
    right = -np.array([a[2] * b[2], a[2] ** 2 - b[2] ** 2])
    unit = a[0] ** 2 + a[1] ** 2 + b[0] ** 2 + b[1] ** 2
    if float(left @ left) < (0.02 * unit) ** 2:
        return None
    squared = float(left @ right) / float(left @ left)
    if squared <= 0:
        return None
    share = 1.0 / math.sqrt(squared)
    return share * long_side if 0.3 < share < 6.0 else None


def pose(
    px_from_mm: NDArray[np.float64], picture_px: tuple[int, int], focal: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(rotation (3, 3) camera_from_plane, the plane's origin in the camera's frame, mm).

    H ~ K [r1 r2 t]; the rotation nearest to the columns found (Zhang 2000, appendix C).
    """
    columns = np.diag([1.0 / focal, 1.0 / focal, 1.0]) @ _centred(px_from_mm, picture_px, 1.0)
    columns = columns * (2.0 / (np.linalg.norm(columns[:, 0]) + np.linalg.norm(columns[:, 1])))
    if columns[2, 2] < 0:
        columns = -columns
    rough = np.stack([columns[:, 0], columns[:, 1], np.cross(columns[:, 0], columns[:, 1])], axis=1)
    u, _, vt = np.linalg.svd(rough)
    return u @ np.diag([1.0, 1.0, np.linalg.det(u @ vt)]) @ vt, columns[:, 2]


def _centred(
    px_from_mm: NDArray[np.float64], picture_px: tuple[int, int], unit: float
) -> NDArray[np.float64]:
    """The homography into pixels from the picture's middle, times `unit`."""
    x, y = (picture_px[0] - 1) / 2.0, (picture_px[1] - 1) / 2.0
    return np.array([[unit, 0, -unit * x], [0, unit, -unit * y], [0, 0, 1.0]]) @ px_from_mm


def likely_size(od_mm: float, low_mm: float, high_mm: float, measured_by: str) -> LikelySize:
    """The sizes that B16.9 lists elbows of whose outside diameter at the bevel, with the tolerance
    of Table 11-1, lies between `low_mm` and `high_mm`."""
    fits = []
    for (nps,) in listed_sizes(SizeTable.ELBOW_LONG_90):
        nominal, allowed = outside_diameter_mm(nps), tolerances(nps)
        if low_mm <= nominal + allowed.od_plus_mm and high_mm >= nominal - allowed.od_minus_mm:
            fits.append((abs(nominal - od_mm), nps))
    return LikelySize(
        od_mm=od_mm,
        od_low_mm=low_mm,
        od_high_mm=high_mm,
        sizes=tuple(nps for _, nps in sorted(fits)),
        measured_by=measured_by,
    )


def _check_diameter(diameter_px: float) -> None:
    if not diameter_px > 0:
        raise KnownLengthError("the fitting's diameter in the picture must be above 0 pixels")
