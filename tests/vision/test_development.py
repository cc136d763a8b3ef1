"""The development: cylinders unroll to the curves of drawing handbooks, and the drawing says what
it shows."""

from __future__ import annotations

import io

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from PIL import Image

from fittings.geometry import (
    branch_curve,
    elbow_area_mm2,
    extrados_length_mm,
    intrados_length_mm,
    mitre_cut_angle_deg,
)
from fittings.words import ADVISORY, Kind, Orientation, Part
from tests.vision.pieces import a_view, girth, lengthwise, window
from tests.vision.test_piece import THRESHOLDS
from vision.development import development_bytes, development_figure, root_on_run, unrolled
from vision.piece import PieceReading, read_piece
from vision.piece_form import Form
from vision.piece_seams import PlacedCurve


@pytest.mark.parametrize("pieces", [2, 3, 4, 5])
def test_a_cylinder_cut_by_a_plane_unrolls_to_a_sine_curve(pieces: int) -> None:
    """The mitre template of drawing handbooks, y = (D / 2) tan θ cos φ (parallel-line development;
    from memory, and plane geometry): points of a run on the plane x = z tan θ."""
    slope = np.tan(np.radians(mitre_cut_angle_deg(90.0, pieces)))
    form = Form(kind=Kind.TEE, length=1.7, second_radius=0.7, second_length=1.6)
    around = np.linspace(-np.pi, np.pi, 97)
    z = form.points(Part.RUN, 0.5, around)[:, 2]
    along = (z * slope / form.length + 1.0) / 2.0
    x, s = unrolled(form, Part.RUN, along, around)
    assert s == pytest.approx(around)  # the girth, in radii
    assert x == pytest.approx(slope * np.cos(around))


def test_the_branch_curve_on_both_sheets() -> None:
    """Hole in the run and edge of the outlet against `fittings.geometry.branch_curve`: lengths are
    kept, since cylinders unroll without stretching."""
    form = Form(kind=Kind.TEE, length=1.7, second_radius=0.6, second_length=1.6)
    turn = 2 * np.pi * np.arange(720) / 720
    curve = branch_curve(1.0, 0.6, 720)
    x, s = root_on_run(form, turn)
    assert x == pytest.approx(curve[:, 0])
    assert np.sin(s) == pytest.approx(-curve[:, 1])
    assert np.cos(s) == pytest.approx(curve[:, 2])
    across, height = unrolled(form, Part.OUTLET, curve[:, 2] / form.second_length, turn)
    assert across == pytest.approx(0.6 * turn)
    assert height == pytest.approx(np.sqrt(1.0 - 0.36 * np.sin(turn) ** 2))
    space = np.linalg.norm(np.diff(curve, axis=0), axis=1).sum()
    for sheet in ((x, s), (across, height)):
        assert np.hypot(*np.diff(np.stack(sheet), axis=1)).sum() == pytest.approx(space, rel=1e-4)


def test_an_elbows_sheet_has_the_elbows_area() -> None:
    """Strips at their true length: the sheet's area is the torus's (Pappus)."""
    form = Form(kind=Kind.ELBOW, length=2.7)
    around = np.linspace(-np.pi, np.pi, 2001)
    left, right = (unrolled(form, Part.BODY, end, around)[0] for end in (0.0, 1.0))
    area = float(np.trapezoid(right - left, around))
    assert area == pytest.approx(elbow_area_mm2(2.7, 1.0), rel=1e-6)


@pytest.fixture(scope="module")
def tee() -> PieceReading:
    views = [
        a_view(
            "a.jpg", kind=Kind.TEE, seen=window(0, 150), curves=(lengthwise(90, part=Part.RUN),)
        ),
        a_view("b.jpg", kind=Kind.TEE, seen=window(0, 150)),
    ]
    return read_piece(views, THRESHOLDS, tag="T-0042")


def all_text(piece: PieceReading) -> str:
    figure = development_figure(piece)
    texts = [figure.get_suptitle()]
    for axes in figure.axes:
        texts += [axes.get_title(), *(text.get_text() for text in axes.texts)]
        texts += [t.get_text() for t in (*axes.get_xticklabels(), *axes.get_yticklabels())]
    for legend in figure.legends:
        texts += [legend.get_title().get_text(), *(t.get_text() for t in legend.get_texts())]
    return "\n".join(texts)


def test_the_drawing_says_what_is_seen_and_where(tee: PieceReading) -> None:
    text = all_text(tee)
    assert tee.surface is not None
    assert f"{round(100 * tee.surface.seen_fraction)} % seen" in text
    for word in ("T-0042", "run: ", "outlet: ", "crotch", "flank", "not seen", "L: longitudinal"):
        assert word in text
    assert ADVISORY in text
    elbow = read_piece([a_view(curves=(girth(0.5),))], THRESHOLDS)
    words = all_text(elbow)
    assert "extrados" in words
    assert "intrados" in words
    assert "C: circumferential" in words


def test_a_branch_seam_lies_on_the_root_on_both_sheets() -> None:
    """However far off it was traced: on the edge of the hole, and on the outlet's lower edge."""
    turn = np.linspace(-70.0, 70.0, 15)
    traced = PlacedCurve(
        photo=0,
        orientation=Orientation.BRANCH,
        part=Part.OUTLET,
        confidence=0.9,
        along=0.3 + 0.2 * np.sin(turn),
        around_deg=turn,
    )
    own = read_piece([a_view(kind=Kind.TEE, seen=window(-90, 90), curves=(traced,))], THRESHOLDS)
    assert own.surface is not None
    form = own.surface.form
    style = Orientation.BRANCH.style.colour
    run, outlet = (
        next(
            line
            for line in axes.lines
            if np.allclose(to_rgb(line.get_color()), np.divide(style, 255))
        )
        for axes in development_figure(own).axes
    )
    x, s = run.get_data()
    assert np.hypot(x, np.sin(s)) == pytest.approx(form.second_radius)
    across, height = outlet.get_data()
    assert height == pytest.approx(
        np.sqrt(1 - (form.second_radius * np.sin(across / form.second_radius)) ** 2)
    )


def test_what_may_be_seen_or_not_is_drawn_so() -> None:
    """Two photos of which nobody knows which way round they were taken; one leaves nothing open."""
    label = "seen or not, by how a photo was taken"
    views = [a_view("a.jpg", seen=window(-60, 0)), a_view("b.jpg", seen=window(60, 120))]
    both = read_piece(views, THRESHOLDS)
    assert label in all_text(both)
    assert "seen in 2 photos" in all_text(both)
    assert label not in all_text(read_piece(views[:1], THRESHOLDS))


def test_png_and_svg_and_the_same_bytes_again(tee: PieceReading) -> None:
    data = development_bytes(tee, "png")
    with Image.open(io.BytesIO(data)) as picture:
        grey = np.asarray(picture.convert("L"))
    assert grey.shape[0] > 500
    # Printed in grey, the unseen hatching stays: dark strokes on white over a good part of it.
    assert (grey < 120).mean() > 0.01
    vector = development_bytes(tee, "svg")
    assert b"<svg" in vector
    assert development_bytes(tee, "svg") == vector
    with pytest.raises(ValueError, match="svg or png"):
        development_bytes(tee, "pdf")


def test_a_piece_that_could_not_be_placed_has_no_drawing() -> None:
    nothing = read_piece([a_view(kind=Kind.NONE)], THRESHOLDS)
    with pytest.raises(ValueError, match="no photo"):
        development_figure(nothing)


def test_an_elbows_strips_are_as_long_as_they_are_there() -> None:
    """Extrados (R + r) φ and intrados (R − r) φ, as `fittings.geometry` has them."""
    form = Form(kind=Kind.ELBOW, length=2.7)
    for around, length in (
        (0.0, extrados_length_mm(2.7, 1.0)),
        (np.pi, intrados_length_mm(2.7, 1.0)),
    ):
        left, right = (unrolled(form, Part.BODY, end, around)[0] for end in (0.0, 1.0))
        assert float(right - left) == pytest.approx(length)
