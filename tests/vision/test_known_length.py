"""Lengths known in a picture: against OpenCV's homography, and cameras and pieces made up."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fittings.dimensions import outside_diameter_mm
from synthetic.camera import looking_at, project
from vision.known_length import (
    KnownLengthError,
    KnownLine,
    focal_px,
    likely_size,
    pose,
    size_by_line,
    size_by_plane,
    size_by_touching,
)
from vision.photo import Photo
from vision.sheet import A4_MM, Sheet, find_sheet, homography, sheet_of

PHOTO_PX = (1600, 1200)
CORNERS_MM = np.array([[0, 0], [A4_MM[0], 0], A4_MM, [0, A4_MM[1]]], float)


class Camera:
    """A pinhole camera of `focal` long sides that looks at the origin of the ground, z = 0."""

    def __init__(self, position_mm: tuple[float, float, float], focal: float, roll: float = 0.0):
        self.position_mm, self.focal = np.array(position_mm), focal
        self.rotation = np.reshape(looking_at(position_mm, (0, 0, 0), roll), (3, 3))

    def pixels(self, points: np.ndarray) -> np.ndarray:
        """(N, 3) mm → (N, 2) pixels, centres at whole numbers."""
        middle = (PHOTO_PX[0] / 2, PHOTO_PX[1] / 2)
        focal_px = self.focal * PHOTO_PX[0]
        return (
            project(
                points, position_mm=self.position_mm, rotation=self.rotation,
                focal_px=focal_px, centre_px=middle,
            )
            - 0.5
        )  # fmt: skip

    def sheet(
        self, turn_deg: float = 20.0, at: tuple[float, float] = (-150.0, -60.0)
    ) -> np.ndarray:
        """(4, 2) pixels of the corners of an A4 sheet on the ground."""
        c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
        flat = CORNERS_MM @ np.array([[c, s], [-s, c]]) + np.array(at)
        return self.pixels(np.concatenate([flat, np.zeros((4, 1))], axis=1))


SLANTED = Camera((300.0, -1100.0, 800.0), 0.8)


def test_the_sheet_is_210_by_297() -> None:
    """ISO 216: A4. Its area is a sixteenth of a square metre, its sides as 1 to √2."""
    assert A4_MM[1] / A4_MM[0] == pytest.approx(np.sqrt(2.0), rel=1e-3)
    assert A4_MM[0] * A4_MM[1] * 16 == pytest.approx(1e6, rel=3e-3)


@pytest.mark.parametrize("seed", range(4))
def test_the_homography_is_opencvs(seed: int) -> None:
    rng = np.random.default_rng(seed)
    quad = np.array([[200, 200], [900, 250], [850, 1100], [150, 1000]]) + rng.uniform(
        -90, 90, (4, 2)
    )
    ours = homography(quad)
    theirs, _ = cv2.findHomography(CORNERS_MM.astype(np.float32), quad.astype(np.float32))
    assert ours is not None
    assert ours / ours[2, 2] == pytest.approx(theirs / theirs[2, 2], rel=1e-3, abs=1e-6)
    points = rng.uniform(0, 297, (20, 1, 2))
    assert cv2.perspectiveTransform(points, ours) == pytest.approx(
        cv2.perspectiveTransform(points, theirs), abs=0.05
    )


def test_millimetres_come_back_from_pixels() -> None:
    sheet = sheet_of(SLANTED.sheet(), PHOTO_PX)
    assert sheet is not None
    flat = sheet.mm(np.array(sheet.corners))
    sides = np.linalg.norm(flat - np.roll(flat, -1, axis=0), axis=1)
    assert sides == pytest.approx([210, 297, 210, 297], abs=0.05)


@settings(max_examples=25)
@given(
    st.floats(0.55, 2.0), st.floats(20, 65), st.floats(-180, 180), st.floats(-20, 20),
    st.floats(-90, 90),
)  # fmt: skip
def test_camera_and_plane_are_found_again(
    focal: float, elevation: float, heading: float, roll: float, turn: float
) -> None:
    e, h, away = np.radians(elevation), np.radians(heading), 1300.0 * focal
    position = away * np.array([np.cos(e) * np.cos(h), np.cos(e) * np.sin(h), np.sin(e)])
    camera = Camera(tuple(position), focal, roll)
    matrix = homography(camera.sheet(turn, (-100.0, -140.0)))
    assert matrix is not None
    found = focal_px(matrix, PHOTO_PX)
    if found is not None:  # a sheet with a side square to the view tells less
        assert found == pytest.approx(focal * PHOTO_PX[0], rel=0.02)
    rotation, origin = pose(matrix, PHOTO_PX, focal * PHOTO_PX[0])
    assert abs(float(rotation[:, 2] @ origin)) == pytest.approx(position[2], rel=0.01)


def cylinder(radius_mm: float, lift_mm: float = 0.0) -> np.ndarray:
    """(N, 3) points of a pipe that lies on the ground along x beside the sheet."""
    x, t = np.meshgrid(np.linspace(0, 300, 20), np.linspace(-np.pi, np.pi, 90))
    return np.stack(
        [x.ravel(), (250 + radius_mm * np.cos(t)).ravel(),
         (radius_mm + lift_mm + radius_mm * np.sin(t)).ravel()], 1
    )  # fmt: skip


@pytest.mark.parametrize("nps", ["1", "4", "8"])
def test_a_piece_that_touches_the_ground_has_its_size(nps: str) -> None:
    radius = outside_diameter_mm(nps) / 2
    matrix = homography(SLANTED.sheet())
    assert matrix is not None
    local = (cylinder(radius) - SLANTED.position_mm) @ SLANTED.rotation.T
    found = size_by_touching(
        matrix, local / radius, 0.8 * PHOTO_PX[0], PHOTO_PX, scale_error=0.01, measured_by="x"
    )
    assert found.od_mm == pytest.approx(2 * radius, rel=0.005)
    assert found.nps == nps
    lifted = (cylinder(radius, lift_mm=200.0) - SLANTED.position_mm) @ SLANTED.rotation.T
    raised = size_by_touching(
        matrix, lifted / radius, 0.8 * PHOTO_PX[0], PHOTO_PX, scale_error=0.01, measured_by="x"
    )
    assert raised.od_mm > found.od_mm, "a raised piece looks larger, and the sentence says so"
    assert "raised" in raised.sentence


@pytest.mark.parametrize("nps", ["2", "6", "10"])
def test_its_width_alone_gives_a_range_that_holds_the_truth(nps: str) -> None:
    radius = outside_diameter_mm(nps) / 2
    across = SLANTED.pixels(cylinder(radius))
    # Width of the outline across the pipe's direction in the picture.
    axis = SLANTED.pixels(np.array([[0.0, 250, radius], [300, 250, radius]]))
    unit = (axis[1] - axis[0]) / np.linalg.norm(axis[1] - axis[0])
    off = (across - axis[0]) @ np.array([-unit[1], unit[0]])
    middle = tuple(axis.mean(axis=0))
    matrix = homography(SLANTED.sheet())
    assert matrix is not None
    found = size_by_plane(
        matrix, float(np.ptp(off)), middle, PHOTO_PX, scale_error=0.01, measured_by="x"
    )
    assert found.od_low_mm < 2 * radius < found.od_high_mm
    assert found.od_high_mm < 1.6 * found.od_low_mm
    assert nps in found.sizes


def test_above_the_horizon_there_is_no_size() -> None:
    matrix = homography(SLANTED.sheet())
    assert matrix is not None
    with pytest.raises(KnownLengthError, match="horizon"):
        size_by_plane(matrix, 50.0, (800.0, -3000.0), PHOTO_PX, scale_error=0.01, measured_by="x")


def test_a_rule_beside_the_piece() -> None:
    """500 mm over 1000 pixels, a piece 228 pixels wide: 114 mm on the rule's own plane, NPS 4, less
    where it is nearer to the camera."""
    line = KnownLine(start=(100.0, 900.0), end=(1100.0, 900.0), length_mm=500.0)
    assert line.mm_per_px == pytest.approx(0.5)
    found = size_by_line(line, 228.0, 1600)
    assert found.od_low_mm < 114.3 < found.od_high_mm
    assert "4" in found.sizes
    assert "Measure it with a tape" in found.sentence


@pytest.mark.parametrize(
    ("end", "length_mm", "said"),
    [((5.0, 5.0), 300.0, "5 pixels apart"), ((400.0, 0.0), 0.0, "above 0 mm"),
     ((400.0, 0.0), float("nan"), "above 0 mm")],
)  # fmt: skip
def test_useless_lines_say_why(end: tuple[float, float], length_mm: float, said: str) -> None:
    with pytest.raises(KnownLengthError, match=said):
        KnownLine(
            start=(0.0, 0.0) if length_mm != 300.0 else (2.0, 1.0), end=end, length_mm=length_mm
        )


def test_no_listed_size_is_said() -> None:
    """Between NPS 8 (219.1) and NPS 10 (273.0) B36.10M has nothing."""
    found = likely_size(245.0, 240.0, 250.0, "a rule")
    assert found.nps is None
    assert "no listed size" in found.sentence
    assert likely_size(219.1, 215.0, 223.0, "a rule").sizes == ("8",)


def ground(seed: int = 0) -> np.ndarray:
    """(1200, 1600, 3) uint8 concrete."""
    rng = np.random.default_rng(seed)
    grey = 105 + cv2.GaussianBlur(rng.normal(0, 60, (1200, 1600)).astype(np.float32), (0, 0), 3)
    return np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


def with_sheet(corners: np.ndarray) -> np.ndarray:
    pixels = ground()
    mask = np.zeros((2400, 3200), np.uint8)
    cv2.fillConvexPoly(mask, np.rint((corners + 0.5) * 2 - 0.5).astype(int), 255)
    share = cv2.resize(mask, (1600, 1200), interpolation=cv2.INTER_AREA)[..., None] / 255.0
    return np.rint(pixels * (1 - share) + 226 * share).astype(np.uint8)


def photo(pixels: np.ndarray) -> Photo:
    return Photo(name="x", sha256="0" * 64, width=1600, height=1200, pixels=pixels)


def off(sheet: Sheet, corners: np.ndarray) -> float:
    """Largest distance of a corner found from the nearest true one."""
    found = np.array(sheet.corners)
    return float(np.linalg.norm(found[:, None] - corners[None], axis=2).min(axis=1).max())


@pytest.mark.parametrize("turn_deg", [0.0, 35.0, 90.0])
def test_a_sheet_is_found_to_a_pixel_or_two(turn_deg: float) -> None:
    corners = SLANTED.sheet(turn_deg)
    sheet = find_sheet(photo(with_sheet(corners)))
    assert sheet is not None
    assert off(sheet, corners) < 2.0, "a pixel of the copy searched is two of the photo"
    assert sheet.mm(corners[:2])[0] == pytest.approx(sheet.mm(corners[:1])[0])


def test_what_lies_on_a_sheet_may_hide_a_part_of_it() -> None:
    corners = SLANTED.sheet()
    pixels = with_sheet(corners)
    middle = np.rint((corners[0] + corners[1]) / 2).astype(int)
    cv2.circle(pixels, tuple(middle.tolist()), 40, (70, 60, 50), -1)
    sheet = find_sheet(photo(pixels))
    assert sheet is not None
    assert off(sheet, corners) < 3.0


def test_what_is_no_sheet_is_not_taken_for_one() -> None:
    assert find_sheet(photo(ground())) is None
    square = SLANTED.pixels(np.array([[0, 0, 0], [250, 0, 0], [250, 250, 0], [0, 250, 0.0]]))
    assert find_sheet(photo(with_sheet(square))) is None, "a square is not 1 to √2"
    corners = SLANTED.sheet()
    here = np.zeros((1200, 1600), bool)
    low, high = corners.min(axis=0).astype(int), corners.max(axis=0).astype(int)
    here[low[1] : high[1], low[0] : high[0]] = True
    assert find_sheet(photo(with_sheet(corners)), here) is None, "a white patch of the fitting"
