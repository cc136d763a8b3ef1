"""The classical yardstick: its filter against the closed formula, its rule on drawn pieces."""

from __future__ import annotations

import io
from collections.abc import Callable

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from skimage.filters import sato

from fittings.words import Kind, Orientation, Reading
from vision import classical


@pytest.mark.parametrize(
    ("sigma_px", "response"),
    [(2.0, 0.35355), (2 * 2**0.5, 0.38490), (3.0, 0.38402), (4.0, 0.35777)],
)
def test_filter_on_a_gaussian_line_as_the_analytic_formula(
    sigma_px: float, response: float
) -> None:
    """A bright line of profile exp(−x²/2σ0²) gives s²σ0/(σ0² + s²)^1.5, largest at s = √2·σ0.

    Analytic: the line blurred by s is a Gaussian of variance σ0² + s² and height σ0/√(σ0² + s²);
    its curvature on the crest is height ÷ variance. Here σ0 = 2.
    """
    x = np.arange(-40, 41, dtype=float)
    picture = np.repeat(np.exp(-(x**2) / 8)[None], 81, axis=0)
    found = sato(picture, sigmas=[sigma_px], black_ridges=False)[40, 40]
    assert sigma_px**2 * 2 / (4 + sigma_px**2) ** 1.5 == pytest.approx(response, abs=6e-6)
    assert found == pytest.approx(response, rel=0.01)


def bar(
    draw: Callable[[NDArray[np.uint8]], object] | None = None, size: tuple[int, int] = (288, 384)
) -> NDArray[np.uint8]:
    """(H, W, 3) uint8: a grey bar lying across a darker ground, with something drawn on it."""
    canvas = np.full((*size, 3), (70, 95, 60), np.uint8)
    cv2.rectangle(canvas, (70, 90), (313, 197), (128, 128, 130), -1)
    if draw is not None:
        draw(canvas)
    return canvas


def weld(start: tuple[int, int], end: tuple[int, int], level: int) -> NDArray[np.uint8]:
    """The bar with a soft line 5 px wide on it."""
    canvas = bar(lambda c: cv2.line(c, start, end, (level, level, level), 5))
    return np.asarray(cv2.GaussianBlur(canvas, (0, 0), 1.0), np.uint8)


def png(pixels: NDArray[np.uint8]) -> bytes:
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG")
    return out.getvalue()


def bands(pixels: NDArray[np.uint8]) -> set[int]:
    """Seam labels in the map of these pixels."""
    return set(np.unique(classical.classical_maps(pixels).seam.argmax(axis=-1)).tolist()) - {0}


@pytest.mark.parametrize("level", [190, 60])
def test_bright_and_dark_lines_along_and_across(level: int) -> None:
    along = weld((110, 140), (270, 140), level)
    across = weld((190, 100), (190, 188), level)
    assert bands(along) == {Orientation.LONGITUDINAL.label}
    assert bands(across) == {Orientation.CIRCUMFERENTIAL.label}


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_turning_the_picture_leaves_the_orientation(turns: int) -> None:
    across = np.ascontiguousarray(np.rot90(weld((190, 100), (190, 188), 190), turns))
    assert bands(across) == {Orientation.CIRCUMFERENTIAL.label}


def test_a_plain_bar_has_no_lines_and_scores_lower() -> None:
    plain = classical.classical_maps(bar())
    seamed = classical.classical_maps(weld((190, 100), (190, 188), 190))
    along = classical.classical_maps(weld((110, 140), (270, 140), 190))
    assert plain.seam[..., 1:].sum() == 0.0
    assert plain.fabricated_logit < along.fabricated_logit < seamed.fabricated_logit


def test_a_ring_is_no_seam() -> None:
    ring = bar(lambda c: cv2.circle(c, (190, 144), 25, (200, 200, 200), 4))
    assert bands(np.asarray(cv2.GaussianBlur(ring, (0, 0), 1.0), np.uint8)) == set()


def test_lines_are_traced_where_they_are() -> None:
    """A picture twice the filter's size: paths come back in the picture's own pixels."""
    large = np.asarray(cv2.resize(weld((190, 100), (190, 188), 190), (768, 576)), np.uint8)
    outcome = classical.classical_reader().read_bytes(png(large), "bar.png")
    assert outcome.error is None
    assert outcome.reading is not None
    (seam,) = outcome.reading.seams
    x, y = np.array(seam.path).T
    assert np.abs(x - 380.5).max() < 4.0
    assert y.min() < 260 < 320 < y.max()
    assert seam.surface_angle_deg is not None
    assert seam.surface_angle_deg > 75


def test_the_piece_is_found_against_its_ground() -> None:
    truth = np.zeros((288, 384), bool)
    truth[90:198, 70:314] = True
    found = classical.piece_mask(bar())
    assert (found & truth).sum() / (found | truth).sum() > 0.9


def test_a_weld_like_the_ground_does_not_cut_the_piece_in_two() -> None:
    cut = bar(lambda c: cv2.line(c, (190, 90), (190, 197), (70, 95, 60), 7))
    found = classical.piece_mask(cut)
    assert found[100:190, 80:180].mean() > 0.95
    assert found[100:190, 205:300].mean() > 0.95


def test_the_axis_follows_the_bar() -> None:
    axis, depth = classical.local_axis(np.pad(np.ones((60, 200), bool), 40))
    middle = axis[70, 80:200]
    assert np.abs(np.angle(np.exp(2j * middle)) / 2).max() < np.radians(3)
    assert depth.max() == pytest.approx(30, abs=1.5)


def outline(points: list[tuple[int, int]]) -> NDArray[np.bool_]:
    canvas = np.zeros((240, 320), np.uint8)
    cv2.fillPoly(canvas, [np.array(points)], 1)
    return canvas.astype(bool)


TEE = [(40, 60), (280, 60), (280, 120), (200, 120), (200, 200), (120, 200), (120, 120), (40, 120)]


@pytest.mark.parametrize(
    ("points", "kind"),
    [
        ([(60, 60), (260, 90), (260, 150), (60, 180)], Kind.REDUCER),
        ([(60, 40), (120, 40), (120, 140), (260, 140), (260, 200), (60, 200)], Kind.ELBOW),
        (TEE, Kind.TEE),
        ([(0, 0), (3, 0), (3, 3)], Kind.NONE),
    ],
)
def test_kind_by_the_hollows_of_the_outline(points: list[tuple[int, int]], kind: Kind) -> None:
    assert classical.kind_of_outline(outline(points)) is kind


def test_across_a_tee_is_the_branch() -> None:
    line = classical.Line(mask=np.ones((2, 2), bool), off_axis_deg=80.0, span=1.0, spread=0.0)
    assert classical.orientation_of(line, Kind.TEE) is Orientation.BRANCH
    assert classical.orientation_of(line, Kind.ELBOW) is Orientation.CIRCUMFERENTIAL


def test_length_within_the_piece() -> None:
    piece = np.zeros((50, 60), bool)
    piece[10:30, 5:45] = True
    assert classical.chord_px(piece, 20, 20, 0.0) == 40
    assert classical.chord_px(piece, 20, 20, np.pi / 2) == 20
    assert classical.chord_px(piece, 50, 40, 0.0) == 1


@pytest.mark.parametrize("level", [0, 128, 255])
def test_an_even_picture_gives_a_reading(level: int) -> None:
    even = np.full((96, 128, 3), level, np.uint8)
    outcome = classical.classical_reader().read_bytes(png(even), "even.png")
    assert outcome.reading is not None
    assert outcome.reading.kind is Kind.NONE
    assert outcome.reading.verdict.reading is Reading.UNCLEAR


def test_same_picture_same_answer() -> None:
    noise = np.random.default_rng(3).integers(0, 256, (96, 128, 3)).astype(np.uint8)
    first, second = (classical.classical_maps(noise) for _ in range(2))
    assert np.array_equal(first.seam, second.seam)
    assert first.fabricated_logit == second.fabricated_logit
