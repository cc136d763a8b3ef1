from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fittings.words import END_JOINT_STYLE, EvidenceSource, Orientation, Part
from tests.stand_in import a_reading
from vision.overlay import draw_overlay, label_mask, legend_entries
from vision.reading import EndJoint, Evidence, PhotoReading
from vision.strokes import dashes


@pytest.mark.parametrize("ground", [0, 128, 255])
@pytest.mark.parametrize("orientation", list(Orientation))
def test_a_seam_shows_its_colour_on_any_ground(orientation: Orientation, ground: int) -> None:
    pixels = np.full((480, 640, 3), ground, dtype=np.uint8)
    reading = a_reading(640, 480, orientations=(orientation,))
    reading = replace(reading, verdict=replace(reading.verdict, evidence=()))
    drawn = draw_overlay(pixels, reading, legend=False)
    path = np.round(reading.seams[0].path).astype(int)
    near = np.abs(drawn[path[:, 1], path[:, 0]].astype(int) - orientation.style.colour).sum(axis=1)
    assert (near < 40).mean() > (0.95 if not orientation.style.dash else 0.4)
    assert (near < 40).all() == (not orientation.style.dash)
    assert pixels.min() == pixels.max() == ground  # the argument is left as it was


@pytest.mark.parametrize("size", [(640, 480), (64, 64), (2000, 300), (300, 2000), (101, 67)])
@pytest.mark.parametrize("orientations", [(), tuple(Orientation)])
def test_the_size_stays_and_the_legend_hides_the_smaller_part(
    size: tuple[int, int], orientations: tuple[Orientation, ...]
) -> None:
    width, height = size
    pixels = np.full((height, width, 3), 200, dtype=np.uint8)
    drawn = draw_overlay(pixels, a_reading(width, height, orientations=orientations))
    assert drawn.shape == pixels.shape
    assert drawn.dtype == np.uint8
    box_rows = (drawn[:, 0, 0] < 60).sum()
    assert 0 < box_rows <= 0.5 * height


def test_a_reduced_copy_carries_the_seams_at_the_same_places() -> None:
    reading = a_reading(1600, 1200, orientations=(Orientation.LONGITUDINAL,))
    drawn = draw_overlay(np.zeros((300, 400, 3), np.uint8), reading, legend=False)
    x, y = reading.seams[0].path[5]
    assert drawn[round(y / 4), round(x / 4)].tolist() == list(Orientation.LONGITUDINAL.style.colour)


def test_the_mask_carries_the_labels_at_the_photos_size() -> None:
    reading = a_reading(800, 600)
    mask = label_mask(reading)
    assert mask.shape == (600, 800)
    assert mask.dtype == np.uint8
    assert set(np.unique(mask)) == {0, 1, 2, 3}
    for seam in reading.seams:
        path = np.round(seam.path).astype(int)
        on_path = mask[path[:, 1], path[:, 0]]
        assert (on_path == seam.orientation.label).mean() > 0.9
    columns = (mask == Orientation.LONGITUDINAL.label)[:, 500]
    assert columns.sum() == pytest.approx(0.006 * 800, abs=1.5)


def test_no_seam_gives_an_empty_mask() -> None:
    assert label_mask(a_reading(80, 70, orientations=())).max() == 0


def test_dashes_cover_their_share_of_a_line() -> None:
    path = np.array([[0.0, 0.0], [400.0, 0.0]])
    width = 4.0
    pieces = list(dashes(path, (5, 3), width))
    drawn = sum(float(piece[-1, 0] - piece[0, 0]) + width for piece in pieces)
    assert drawn == pytest.approx(400 * 5 / 8, rel=0.03)
    assert next(dashes(path, (), width)) is path


def test_a_seam_of_one_point_or_outside_the_frame_does_no_harm() -> None:
    reading = a_reading(100, 100, orientations=(Orientation.BRANCH,))
    (seam,) = reading.seams
    for path in (((50.0, 50.0),), ((-500.0, -500.0), (900.0, 2000.0)), ()):
        odd = type(seam)(
            orientation=seam.orientation,
            confidence=1,
            length_px=1,
            surface_angle_deg=None,
            path=path,
        )
        changed = type(reading)(
            **{f: getattr(reading, f) for f in reading.__slots__ if f != "seams"}, seams=(odd,)
        )
        assert draw_overlay(np.zeros((100, 100, 3), np.uint8), changed).shape == (100, 100, 3)
        assert label_mask(changed).shape == (100, 100)


def joined(width: int, height: int) -> PhotoReading:
    """A reading with an end joint near the right and one reason at its middle."""
    path = tuple((0.9 * width, y) for y in np.linspace(0.2 * height, 0.8 * height, 20).tolist())
    joint = EndJoint(part=Part.RUN, end=1, confidence=0.9, length_px=0.6 * height, path=path)
    return replace(a_reading(width, height, orientations=()), end_joints=(joint,))


def test_an_end_joint_is_drawn_in_its_own_colour_and_is_no_seam() -> None:
    reading = joined(640, 480)
    drawn = draw_overlay(np.zeros((480, 640, 3), np.uint8), reading, legend=False)
    path = np.round(reading.end_joints[0].path).astype(int)
    rows = drawn[path[:, 1].min() : path[:, 1].max(), path[0, 0]].astype(int)
    near = np.abs(rows - END_JOINT_STYLE.colour).sum(axis=1) < 40
    assert 0.15 < near.mean() < 0.8, "dotted"
    assert label_mask(reading).max() == 0
    assert [style for style, _ in legend_entries(reading)] == [END_JOINT_STYLE]


def test_each_placed_reason_is_marked_at_its_place() -> None:
    """A ring lies about the place, in black within white; a reason without a place has no mark."""
    reading = a_reading(640, 480, orientations=())
    blank = np.full((480, 640, 3), 128, np.uint8)
    bare = draw_overlay(blank, reading, legend=False)
    assert (bare == blank).all()
    place = (320.0, 200.0)
    evidence = Evidence(sentence="Here.", source=EvidenceSource.OUTLINE, place=place)
    marked = replace(reading, verdict=replace(reading.verdict, evidence=(evidence,) * 2))
    drawn = draw_overlay(blank, marked, legend=False)
    changed = np.argwhere((drawn != blank).any(axis=2))[:, ::-1]
    assert np.hypot(*(changed - place).T).min() < 12
    assert np.hypot(*(changed - place).T).max() < 140
    assert (drawn[200, 320] == 128).all(), "what the ring is about stays to be seen"
    one = replace(marked, verdict=replace(marked.verdict, evidence=(evidence,)))
    single = (draw_overlay(blank, one, legend=False) != blank).any(axis=2)
    assert len(changed) > 1.3 * np.count_nonzero(single)


def test_marks_stay_in_the_picture() -> None:
    for place in ((0.0, 0.0), (639.0, 479.0), (5000.0, -40.0)):
        evidence = Evidence(sentence="Here.", source=EvidenceSource.OUTLINE, place=place)
        reading = a_reading(640, 480)
        reading = replace(reading, verdict=replace(reading.verdict, evidence=(evidence,)))
        assert draw_overlay(np.zeros((480, 640, 3), np.uint8), reading).shape == (480, 640, 3)
