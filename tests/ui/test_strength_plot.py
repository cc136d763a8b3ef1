"""The plot: its lines are the sums, each told apart twice over, and its bytes repeat."""

from __future__ import annotations

import io
from itertools import pairwise

import numpy as np
import pytest
from PIL import Image

from fittings.order.lines import FittingForm
from fittings.strength.consequence import Consequence, Fabrication, consequence
from fittings.strength.ordered_piece import ordered_piece
from fittings.strength.tee_flexibility import formed_tee, welded_outlet
from fittings.words import Kind
from ui.strength_plot import intensification_figure, plot_bytes, schedule_walls


@pytest.fixture
def tee() -> Consequence:
    piece = ordered_piece(FittingForm.STRAIGHT_TEE, "12", schedule="STD")
    return consequence(piece, Fabrication(pad_mm=9.53))


def test_the_lines_are_the_sums(tee: Consequence) -> None:
    (axes, *_) = intensification_figure(tee).axes
    lines = [line for line in axes.get_lines() if len(np.asarray(line.get_xdata())) > 2]
    assert len(lines) == 3
    rows = (
        lambda wall: formed_tee(323.8, wall),
        lambda wall: welded_outlet(323.8, wall),
        lambda wall: welded_outlet(323.8, wall, 9.53),
    )
    for line, row in zip(lines, rows, strict=True):
        walls, factors = np.asarray(line.get_xdata()), np.asarray(line.get_ydata())
        assert factors == pytest.approx([row(wall).largest for wall in walls])
        # A pad that stays as it is while the wall grows changes rows on the way.
        if "with a pad" not in str(line.get_label()):
            assert all(later <= earlier for earlier, later in pairwise(factors))


def test_every_line_has_its_own_colour_pattern_and_name() -> None:
    piece = ordered_piece(FittingForm.ELBOW_90_LONG, "12", schedule="STD")
    figure = intensification_figure(consequence(piece))
    lines = [line for line in figure.axes[0].get_lines() if len(np.asarray(line.get_xdata())) > 2]
    assert len({line.get_color() for line in lines}) == len(lines) == 5
    # matplotlib keeps the pattern it draws in this attribute and offers no public reader.
    assert len({str(line._unscaled_dash_pattern) for line in lines}) == 5
    names = [str(line.get_label()) for line in lines]
    assert names[0] == "ordered: formed 90° long-radius elbow, i 2.86"
    assert names[1] == "fabricated: mitred bend of 2 pieces, i 5.83"


def test_the_ordered_wall_and_the_schedules_are_marked(tee: Consequence) -> None:
    figure = intensification_figure(tee)
    axes = figure.axes[0]
    assert any("ordered wall 9.53 mm" in text.get_text() for text in axes.texts)
    (top,) = axes.child_axes
    names = [label.get_text() for label in top.get_xticklabels()]
    assert {"STD, 40S", "40", "120, XXS"} <= set(names)
    assert schedule_walls("12")[9.53] == "STD, 40S"
    assert list(schedule_walls("12")) == sorted(schedule_walls("12"))
    (legend,) = figure.legends
    assert "the piping engineer of record decides" in legend.get_title().get_text()


def test_walls_beyond_the_table_are_hatched() -> None:
    piece = ordered_piece(FittingForm.STRAIGHT_TEE, "48", schedule="STD")
    axes = intensification_figure(consequence(piece)).axes[0]
    assert any("outside the table" in text.get_text() for text in axes.texts)
    assert any(patch.get_hatch() for patch in axes.patches)
    small = ordered_piece(FittingForm.STRAIGHT_TEE, "6", schedule="STD")
    assert not intensification_figure(consequence(small)).axes[0].patches


@pytest.mark.parametrize("form", FittingForm)
def test_every_form_and_any_wall_can_be_drawn(form: FittingForm) -> None:
    second = "1" if form.two_sizes else None
    for wall in (0.5, 25.0):
        second_wall = None if form.kind is Kind.ELBOW else 4
        piece = ordered_piece(form, "2", second, wall_mm=wall, second_wall_mm=second_wall)
        image = Image.open(io.BytesIO(plot_bytes(consequence(piece), "png")))
        assert image.size == (1350, 960)
        assert len(set(image.convert("L").tobytes())) > 20


def test_the_same_piece_gives_the_same_bytes(tee: Consequence) -> None:
    for kind in ("svg", "png"):
        assert plot_bytes(tee, kind) == plot_bytes(tee, kind)
    svg = plot_bytes(tee, "svg").decode()
    assert "NPS 12 straight tee: stress intensification against wall" in svg
    assert tee.sentence.split(",")[0].replace("'", "") in svg.replace("'", "").replace("&#39;", "")
    with pytest.raises(ValueError, match=r"svg or png, not 'gif'"):
        plot_bytes(tee, "gif")
