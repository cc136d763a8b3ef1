"""The form lies where the generator's pieces do, and its areas are those of closed formulas."""

from __future__ import annotations

import numpy as np
import pytest

from fittings.geometry import branch_curve, elbow_area_mm2
from fittings.words import Kind, Part
from synthetic.packing import Numbers, pack
from synthetic.scene import Piece, Scene
from synthetic.shapes import SHAPES
from vision.piece_form import PARTS, Form, usual_form
from vision.piece_seen import cell_areas

RADIUS_MM = 100.0
PIECES = {
    "elbow": (
        Piece(kind=Kind.ELBOW, radius_mm=RADIUS_MM, length_mm=300.0, bend_deg=90.0),
        Form(kind=Kind.ELBOW, length=3.0),
    ),
    "tee": (
        Piece(
            kind=Kind.TEE,
            radius_mm=RADIUS_MM,
            second_radius_mm=70.0,
            length_mm=170.0,
            second_length_mm=160.0,
        ),
        Form(kind=Kind.TEE, length=1.7, second_radius=0.7, second_length=1.6),
    ),
    "concentric reducer": (
        Piece(kind=Kind.REDUCER, radius_mm=RADIUS_MM, second_radius_mm=65.0, length_mm=180.0),
        Form(kind=Kind.REDUCER, length=1.8, second_radius=0.65),
    ),
    "eccentric reducer": (
        Piece(
            kind=Kind.REDUCER,
            radius_mm=RADIUS_MM,
            second_radius_mm=65.0,
            length_mm=180.0,
            eccentric=1.0,
        ),
        Form(kind=Kind.REDUCER, length=1.8, second_radius=0.65, eccentric=True),
    ),
}


def shape_at(piece: Piece, points: np.ndarray):
    n = Numbers(pack([(Scene(pieces=(piece,)), piece)]))
    return SHAPES[piece.kind](np, n, tuple(points.T[:, None]), None)


@pytest.mark.parametrize("name", PIECES)
def test_points_and_normals_against_the_generators_shapes(name: str) -> None:
    """Signed distance and coordinates of `synthetic.shapes`, which the pictures are made with."""
    piece, form = PIECES[name]
    rng = np.random.default_rng(1)
    for part in PARTS[piece.kind]:
        along, around = rng.uniform(0.03, 0.97, 400), rng.uniform(-np.pi, np.pi, 400)
        # Off the crotch, where a formed tee has its radius.
        real = form.exists(part, along, around)
        points = form.points(part, along, around)
        if part is Part.RUN:
            real &= np.hypot(points[:, 0], points[:, 1]) > 1.15 * form.second_radius
        if part is Part.OUTLET:
            real &= points[:, 2] > 1.1
        along, around, points = along[real], around[real], points[real]
        shape = shape_at(piece, RADIUS_MM * points)
        assert np.abs(shape.outside_mm).max() < 0.5
        assert (shape.part == part.label).all()
        assert shape.along[0] == pytest.approx(along, abs=1e-6)
        if name != "concentric reducer":  # its datum is where the camera stands
            apart = np.angle(np.exp(1j * (shape.around[0] - around)))
            assert np.abs(apart).max() < 1e-6
        outside = points + 0.02 * form.normals(part, along, around)
        assert (shape_at(piece, RADIUS_MM * outside).outside_mm > 1.0).all()


def test_the_cells_of_an_elbow_add_up_to_a_torus() -> None:
    """Pappus's theorem, as `fittings.geometry.elbow_area_mm2` has it."""
    form = Form(kind=Kind.ELBOW, length=2.82)
    total = float(cell_areas(form)[Part.BODY].sum())
    assert total == pytest.approx(elbow_area_mm2(2.82, 1.0), rel=1e-4)


def test_the_cells_of_a_tee_leave_out_what_is_not_there() -> None:
    """The hole's area in the run, and the outlet's above the branch curve, by integration of the
    closed curve (`fittings.geometry.branch_curve`)."""
    form = Form(kind=Kind.TEE, length=1.7, second_radius=0.7, second_length=1.6)
    areas = cell_areas(form)
    curve = branch_curve(1.0, 0.7, 4096)
    around_run = np.arcsin(curve[:, 1])
    x = curve[:, 0]
    hole = 0.5 * abs(np.sum(x * np.roll(around_run, -1) - np.roll(x, -1) * around_run))
    assert float(areas[Part.RUN].sum()) == pytest.approx(2 * np.pi * 3.4 - hole, rel=2e-3)
    outlet = 0.7 * 2 * np.pi * (1.6 - curve[:, 2].mean())
    assert float(areas[Part.OUTLET].sum()) == pytest.approx(outlet, rel=2e-3)


def test_a_form_must_be_a_fitting() -> None:
    with pytest.raises(ValueError, match="belongs to"):
        Form(kind=Kind.NONE, length=1.0)
    with pytest.raises(ValueError, match="bend's radius"):
        Form(kind=Kind.ELBOW, length=0.9)
    with pytest.raises(ValueError, match="no larger than its run"):
        Form(kind=Kind.TEE, length=1.7, second_radius=1.2)
    with pytest.raises(ValueError, match="without a fitting"):
        usual_form(Kind.NONE)


def test_the_usual_elbow_is_long_radius() -> None:
    """ASME B16.9: a long-radius bend is 1.5 nominal diameters, NPS 6: 9 in over 6.625 in."""
    assert usual_form(Kind.ELBOW).length == pytest.approx(2 * 9 / 6.625, rel=2e-3)
