"""The truth against closed forms that are written here anew, from the frames of `shapes`' text."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fittings.geometry import branch_curve, mitre_kink_deg, mitre_pieces
from fittings.words import Construction, Kind, Orientation, Part
from synthetic.camera import project
from synthetic.packing import Numbers, pack
from synthetic.render import Picture
from synthetic.sample import sample_scene
from synthetic.sample_formed import formed_ridge
from synthetic.sample_pieces import outside_points, sample_piece
from synthetic.scene import Piece, Scene, Weld
from synthetic.shapes import SHAPES, Shape
from tests.synthetic.scenes import HEIGHT, WIDTH, Hits, drawn, hits, small

FLAT = Weld(present=1.0)  # there, but without a crown: the surface stays the parent's


def welded(kind: Kind, make: Construction, seed: int, **changes: object) -> tuple[Scene, Piece]:
    """A drawn scene whose piece has weld lines, and no relief, of welds or of forming."""
    scene, piece = drawn(kind, make, seed)
    half = 0.03 * piece.radius_mm
    weld = replace(FLAT, half_width_mm=half)
    cross = replace(weld, present=float(make is Construction.FABRICATED))
    smooth = replace(piece, along_weld=weld, cross_weld=cross, ridge_mm=0.0, ridge_step_mm=0.0)
    piece = replace(smooth, **changes)  # type: ignore[arg-type]
    return replace(scene, pieces=(piece,)), piece


def around_deg(picture: Picture) -> np.ndarray:
    return np.degrees(np.arctan2(picture.truth.around_sin[0], picture.truth.around_cos[0]))


def nearest_turn_deg(angle_deg: np.ndarray, period_deg: float) -> np.ndarray:
    return np.abs(angle_deg - period_deg * np.round(angle_deg / period_deg))


def seam_here(picture: Picture, orientation: Orientation) -> np.ndarray:
    return picture.truth.seam[0] == orientation.label


def reach_mm(weld: Weld, found: Hits) -> np.ndarray:
    """How far from a seam's line its pixels may lie: half its width, or the pixel it runs through;
    and half a pixel more, since a hit is only exact to about that."""
    return np.maximum(weld.half_width_mm, 0.7 * found.footprint_mm) + 0.5 * found.footprint_mm


def test_truth_maps_hold_what_they_say() -> None:
    for index in range(12):
        scene = sample_scene(np.random.default_rng([21, index]))
        truth = small(scene).truth
        part, piece = truth.part[0], truth.piece[0]
        assert set(np.unique(part)) <= {p.label for p in Part}
        assert set(np.unique(piece)) <= set(range(len(scene.pieces) + 1))
        assert np.array_equal(part > 0, piece > 0)
        surface = (part > 0) & (part < Part.FACE.label)
        length = truth.around_cos[0] ** 2 + truth.around_sin[0] ** 2
        assert np.abs(length[surface] - 1.0).max(initial=0.0) < 1e-5
        assert (truth.along >= 0.0).all()
        assert (truth.along <= 1.0).all()
        for values in (truth.along, truth.around_cos, truth.around_sin):
            assert (values[0][~surface] == 0.0).all()
        seam, slot = truth.seam[0], truth.slot[0]
        assert np.array_equal(seam > 0, slot > 0)
        assert surface[seam > 0].all()  # every seam pixel lies on its fitting
        assert np.array_equal(np.ceil(slot / 2)[seam > 0], piece[seam > 0])
        for label in np.unique(seam[seam > 0]):
            kinds = {scene.pieces[int(i) - 1].kind for i in piece[seam == label]}
            if label == Orientation.BRANCH.label:
                assert kinds == {Kind.TEE}
            if label == Orientation.CIRCUMFERENTIAL.label:
                assert Kind.TEE not in kinds


def expected_coordinates(piece: Piece, local: np.ndarray) -> tuple[np.ndarray, ...]:
    """(along, around in degrees, arm in mm) of outside points of a formed piece, by its frame's
    definition; a point that is off by d mm has an `around` that is off by d / arm."""
    x, y, z = local.T
    if piece.kind is Kind.ELBOW:
        half, bend = np.radians(piece.bend_deg) / 2, piece.length_mm
        angle = np.arctan2(y, x)
        length = 2 * half * bend + 2 * piece.stub_mm
        along = (bend * (angle + half) + piece.stub_mm) / length
        around = np.degrees(np.arctan2(-z, np.hypot(x, y) - bend))
        for side in (-1, 1):  # the straight ends
            tangent, outward = (
                (-np.sin(half), side * np.cos(half)),
                (np.cos(half), side * np.sin(half)),
            )
            past = x * tangent[0] + y * tangent[1]
            end = past > 0
            mm = piece.stub_mm + 2 * half * bend + past if side > 0 else piece.stub_mm - past
            across = x * outward[0] + y * outward[1] - bend
            along = np.where(end, mm / length, along)
            around = np.where(end, np.degrees(np.arctan2(-z, across)), around)
        return along, around, np.hypot(np.hypot(x, y) - bend, z)
    if piece.kind is Kind.REDUCER:  # eccentric: the flat side is at -z, where both ends touch
        # All sections are circles that touch at the flat line. From there a chord's angle with the
        # tangent is half of the arc that it cuts off (Euclid III.32).
        height = z + piece.radius_mm
        around = np.sign(y) * np.degrees(2.0 * np.arctan2(height, np.abs(y)))
        return x / piece.length_mm, around, 0.5 * np.hypot(y, height)
    raise AssertionError(piece.kind)


@pytest.mark.parametrize("kind", [Kind.ELBOW, Kind.REDUCER])
@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_coordinates_of_every_pixel_are_those_of_its_point(kind: Kind, seed: int) -> None:
    changes = {"eccentric": 1.0} if kind is Kind.REDUCER else {}
    scene, piece = welded(kind, Construction.SEAMLESS, seed, **changes)
    picture = small(scene)
    found = hits(scene, picture)
    body = picture.truth.part[0] == Part.BODY.label
    assert body.sum() > 200
    along, around, arm_mm = expected_coordinates(piece, found.local[body])
    pixel = found.footprint_mm[body].max()
    error = np.abs(picture.truth.along[0][body] - np.clip(along, 0, 1))
    assert error.max() < 2 * pixel / piece.length_mm
    turn = np.radians(nearest_turn_deg(around_deg(picture)[body] - around, 360.0))
    # A ray that misses the piece by less than a pixel is on it, so a point may be off the surface.
    off_mm = np.abs(shape_at(piece, found.local[body]).outside_mm[0])
    assert (turn * arm_mm <= 1.5 * off_mm + 0.01 * pixel).all()


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_coordinates_of_a_tee_are_those_of_its_point(seed: int) -> None:
    scene, piece = welded(Kind.TEE, Construction.SEAMLESS, seed)
    picture = small(scene)
    found, truth = hits(scene, picture), picture.truth
    run, outlet = (truth.part[0] == p.label for p in (Part.RUN, Part.OUTLET))
    assert run.sum() > 200
    x, y, z = np.moveaxis(found.local, -1, 0)
    along = np.where(outlet, z / piece.second_length_mm, 0.5 + 0.5 * x / piece.length_mm)
    around = np.degrees(np.where(outlet, np.arctan2(y, x), np.arctan2(-y, z)))
    on = run | outlet
    pixel = found.footprint_mm[on].max()
    assert np.abs(truth.along[0] - np.clip(along, 0, 1))[on].max() < 2 * pixel / piece.length_mm
    turn = nearest_turn_deg(around_deg(picture) - around, 360.0)[on]
    assert np.percentile(turn, 99) < np.degrees(3 * pixel / piece.second_radius_mm)


@pytest.mark.parametrize("kind", [Kind.ELBOW, Kind.TEE, Kind.REDUCER])
def test_what_forming_left_moves_the_surface_and_not_its_coordinates(kind: Kind) -> None:
    """So the forms above hold for ridged pieces too: coordinates are those of the point."""
    rng = np.random.default_rng(11)
    for index in range(20):
        plain = sample_piece(np.random.default_rng([12, index]), kind, Construction.SEAMLESS)
        plain = replace(plain, ridge_mm=0.0, ridge_step_mm=0.0)
        ridged = plain
        while ridged == plain:
            ridged = formed_ridge(rng, plain)
        points = outside_points(plain)
        points = np.repeat(points, 20, axis=0) + rng.normal(
            0.0, 0.1 * plain.radius_mm, (20 * len(points), 3)
        )
        a, b = shape_at(plain, points), shape_at(ridged, points)
        assert np.abs(a.outside_mm - b.outside_mm).max() > 0.0
        for name in ("part", "along", "around", "along_u_mm", "cross_u_mm"):
            assert np.array_equal(getattr(a, name), getattr(b, name)), name


@pytest.mark.parametrize("kind", [Kind.ELBOW, Kind.TEE, Kind.REDUCER])
def test_surface_points_project_to_their_own_pixels(kind: Kind) -> None:
    """`camera.project` of each pixel's point gives that pixel's centre again."""
    scene, _ = drawn(kind, Construction.FABRICATED, 5)
    picture = small(scene)
    on = picture.truth.part[0] > 0
    pixels = project(
        hits(scene, picture).point[on], position_mm=scene.camera.position_mm,
        rotation=scene.camera.rotation, focal_px=scene.camera.focal * WIDTH,
        centre_px=(WIDTH / 2, HEIGHT / 2),
    )  # fmt: skip
    ys, xs = np.nonzero(on)
    assert np.abs(pixels - np.stack([xs, ys], 1) - 0.5).max() < 1e-3


def seen_points(scene: Scene, picture: Picture, points: np.ndarray) -> tuple[np.ndarray, ...]:
    """Rows and columns of the pixels that show these world points; hidden ones left out."""
    pixels = project(
        points, position_mm=scene.camera.position_mm, rotation=scene.camera.rotation,
        focal_px=scene.camera.focal * WIDTH, centre_px=(WIDTH / 2, HEIGHT / 2),
    )  # fmt: skip
    columns, rows = np.floor(pixels).astype(int).T
    inside = (rows >= 0) & (rows < HEIGHT) & (columns >= 0) & (columns < WIDTH)
    depth = np.linalg.norm(points - np.asarray(scene.camera.position_mm), axis=1)[inside]
    rows, columns = rows[inside], columns[inside]
    footprint = depth / (scene.camera.focal * WIDTH)
    seen = np.abs(picture.truth.depth_mm[0][rows, columns] - depth) < footprint
    return rows[seen], columns[seen]


def world(piece: Piece, local: np.ndarray) -> np.ndarray:
    rotation = np.asarray(piece.rotation).reshape(3, 3)
    return local @ rotation.T + np.asarray(piece.position_mm)


@pytest.mark.parametrize("seed", range(1, 9))
def test_longitudinal_seams_keep_around(seed: int) -> None:
    kind = (Kind.ELBOW, Kind.REDUCER)[seed % 2]
    changes = {"eccentric": 1.0} if kind is Kind.REDUCER else {}
    scene, piece = welded(kind, Construction.WELDED, seed, **changes)
    picture = small(scene)
    here = seam_here(picture, Orientation.LONGITUDINAL)
    found = hits(scene, picture)
    off = around_deg(picture) - piece.long_deg
    off = np.radians(nearest_turn_deg(off, 360.0 / piece.long_count))
    smallest = min(piece.radius_mm, piece.second_radius_mm if kind is Kind.REDUCER else 1e9)
    allowed = reach_mm(piece.along_weld, found)
    assert (off[here] * smallest <= allowed[here]).all()
    on = picture.truth.part[0] == Part.BODY.label
    # And the other way round: what lies well within the line's width is marked.
    well = on & (off * piece.radius_mm < 0.4 * piece.along_weld.half_width_mm)
    assert not well.any() or here[well].mean() > 0.97


def test_some_longitudinal_seams_are_in_view() -> None:
    """So that the test above has something to test."""
    counts = [
        seam_here(small(welded(kind, Construction.WELDED, seed)[0]), Orientation.LONGITUDINAL).sum()
        for seed, kind in enumerate((Kind.REDUCER, Kind.ELBOW) * 4, start=1)
    ]
    assert sum(counts) > 100


@pytest.mark.parametrize("seed", range(1, 6))
def test_circumferential_seams_keep_along_on_reducers(seed: int) -> None:
    scene, piece = welded(Kind.REDUCER, Construction.FABRICATED, seed, steps=float(1 + seed % 3))
    picture = small(scene)
    here = seam_here(picture, Orientation.CIRCUMFERENTIAL)
    assert here.sum() > 20
    taper = piece.length_mm - piece.stub_mm - piece.second_stub_mm
    joints = piece.stub_mm + taper * np.arange(piece.steps + 1) / piece.steps
    off = np.abs(picture.truth.along[0][..., None] * piece.length_mm - joints).min(-1)
    assert (off <= reach_mm(piece.cross_weld, hits(scene, picture)))[here].all()


@pytest.mark.parametrize("seed", [1, 2, 3, 4, 6])  # 5 shows its seam from the end
def test_circumferential_seams_of_elbows_lie_in_their_mitre_planes(seed: int) -> None:
    scene, piece = welded(Kind.ELBOW, Construction.FABRICATED, seed)
    picture = small(scene)
    here = seam_here(picture, Orientation.CIRCUMFERENTIAL)
    assert here.sum() > 20
    found = hits(scene, picture)
    x, y, _ = found.local[here].T
    # Planes through the bend centre at the odd multiples of θ: constant angle, so constant along.
    count = int(piece.pieces) - 1
    theta = np.radians(piece.bend_deg) / (2 * count)
    planes = (2 * np.arange(count) + 1) * theta - np.radians(piece.bend_deg) / 2
    off = np.abs(y[:, None] * np.cos(planes) - x[:, None] * np.sin(planes)).min(1)
    assert (off <= reach_mm(piece.cross_weld, found)[here]).all()


@pytest.mark.parametrize("seed", range(1, 6))
def test_branch_seams_lie_on_both_cylinders(seed: int) -> None:
    scene, piece = drawn(Kind.TEE, Construction.FABRICATED, seed)
    piece = replace(
        piece,
        second_radius_mm=(0.45 + 0.08 * seed) * piece.radius_mm,
        crotch_radius_mm=0.0,
        pad_width_mm=0.0,
        root_shift_mm=0.0,
        along_weld=Weld(),
        cross_weld=replace(FLAT, half_width_mm=0.05 * piece.radius_mm),
    )
    scene = replace(scene, pieces=(piece,))
    picture = small(scene)
    here = seam_here(picture, Orientation.BRANCH)
    found = hits(scene, picture)
    allowed = reach_mm(piece.cross_weld, found)[here]
    local = found.local[here]
    x, y, z = local.T
    assert (np.abs(np.hypot(y, z) - piece.radius_mm) <= allowed).all()
    assert (np.abs(np.hypot(x, y) - piece.second_radius_mm) <= allowed).all()
    curve = branch_curve(piece.radius_mm, piece.second_radius_mm, 720)
    # The width is measured in the plane of both normals; a curved line is a little farther.
    distance = np.linalg.norm(local[:, None] - curve, axis=-1).min(1)
    assert (distance <= 1.15 * allowed).all()
    # And the other way round: what is seen of the curve is marked.
    rows, columns = seen_points(scene, picture, world(piece, curve))
    # A bore in view lies less than a pixel before the curve on the outside.
    outside = picture.truth.part[0][rows, columns] != Part.FACE.label
    rows, columns = rows[outside], columns[outside]
    assert len(rows) > 20 or here.sum() < 20  # seen from below, there is little of it
    assert len(rows) == 0 or here[rows, columns].mean() > 0.9


@pytest.mark.parametrize("share", [0.7, 0.95, 0.999])
def test_the_branch_weld_grows_no_spur_where_run_and_outlet_are_tangent(share: float) -> None:
    """At the flanks of an equal tee both surfaces run on together, away from their curve: no point
    is nearer to the curve than to either surface."""
    piece = Piece(
        kind=Kind.TEE, radius_mm=100.0, second_radius_mm=100.0 * share, length_mm=200.0,
        second_length_mm=200.0, construction=Construction.FABRICATED,
    )  # fmt: skip
    x, t = (g.ravel() for g in np.meshgrid(np.linspace(0, 190, 60), np.linspace(-1.5, 1.5, 60)))
    points = np.stack([x, 104.0 * np.sin(t), 104.0 * np.cos(t)], 1)  # 4 mm off the run's surface
    n = Numbers(pack([(Scene(), piece)]).astype(np.float64))
    shape = SHAPES[Kind.TEE](np, n, tuple(points.T[:, None]), None)
    to_outlet = np.abs(np.hypot(points[:, 0], points[:, 1]) - 100.0 * share)
    assert (np.asarray(shape.cross_u_mm[0]) >= np.maximum(to_outlet, 4.0) - 1e-4).all()


PADDED = Piece(
    kind=Kind.TEE, radius_mm=150.0, second_radius_mm=60.0, length_mm=300.0, second_length_mm=260.0,
    construction=Construction.FABRICATED, pad_width_mm=50.0, pad_thickness_mm=9.0,
    cross_weld=Weld(present=1.0, half_width_mm=6.0),
)  # fmt: skip


def saddle(run_mm: float, outlet_mm: float) -> np.ndarray:
    """Points (N, 3) where a cylinder about the run's axis meets one about the outlet's."""
    turn = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    x, y = outlet_mm * np.cos(turn), outlet_mm * np.sin(turn)
    return np.stack([x, y, np.sqrt(run_mm**2 - y**2)], 1)


def shape_at(piece: Piece, points: np.ndarray) -> Shape:
    n = Numbers(pack([(Scene(), piece)]).astype(np.float64))
    return SHAPES[piece.kind](np, n, tuple(points.T[:, None]), None)  # type: ignore[arg-type]


def test_a_pad_lies_on_the_run_about_the_outlet() -> None:
    on_pad = shape_at(PADDED, saddle(159.0, 85.0))
    assert np.abs(on_pad.outside_mm[0]).max() < 1e-6
    assert (on_pad.part[0] == Part.RUN.label).all()
    beyond = shape_at(PADDED, saddle(150.0, 130.0))
    assert np.abs(beyond.outside_mm[0]).max() < 1e-6
    bare = shape_at(replace(PADDED, pad_width_mm=0.0), saddle(159.0, 85.0))
    assert (bare.outside_mm[0] > 8.0).all()


def test_both_welds_of_a_pad_are_branch_seams_and_neither_is_beneath_it() -> None:
    root, edge = shape_at(PADDED, saddle(159.0, 60.0)), shape_at(PADDED, saddle(150.0, 110.0))
    assert np.abs(root.cross_u_mm[0]).max() < 1e-4
    assert np.abs(edge.cross_u_mm[0]).max() < 1e-4
    assert (shape_at(PADDED, saddle(159.0, 85.0)).cross_u_mm[0] > 20.0).all()


@pytest.mark.parametrize("shift", [4.0, -4.0])
def test_a_root_weld_set_on_lies_up_the_outlet_and_set_in_out_on_the_run(shift: float) -> None:
    piece = replace(PADDED, pad_width_mm=0.0, root_shift_mm=shift)
    line = saddle(150.0 + max(shift, 0.0), 60.0 + max(-shift, 0.0))
    assert np.abs(shape_at(piece, line).cross_u_mm[0]).max() < 1e-4


def test_a_rolled_cones_long_seam_ends_at_its_stubs() -> None:
    piece = Piece(
        kind=Kind.REDUCER, radius_mm=100.0, second_radius_mm=60.0, length_mm=300.0, stub_mm=50.0,
        second_stub_mm=50.0, steps=1.0, long_deg=180.0, long_on_stubs=0.0,
    )  # fmt: skip
    points = np.array([[20.0, 0.0, 100.0], [150.0, 0.0, 80.0], [280.0, 0.0, 60.0]])
    u = np.abs(shape_at(piece, points).along_u_mm[0])
    assert (u < 1e-3).tolist() == [False, True, False]
    everywhere = shape_at(replace(piece, long_on_stubs=1.0), points)
    assert (np.abs(everywhere.along_u_mm[0]) < 1e-3).all()


def outside_mm(piece: Piece, points: np.ndarray) -> np.ndarray:
    """The shape's own distance to its outside at (N, 3) points of the piece's frame."""
    n = Numbers(pack([(Scene(), piece)]).astype(np.float64))
    x, y, z = (points[None, :, i].astype(np.float64) for i in range(3))
    shape = SHAPES[piece.kind](np, n, (x, y, z), None)
    return np.asarray(shape.outside_mm[0])


@pytest.mark.parametrize(
    ("bend_deg", "count"), [(90, 2), (90, 3), (90, 4), (90, 5), (45, 2), (45, 3)]
)
def test_a_mitred_outline_has_the_kinks_of_geometry(bend_deg: int, count: int) -> None:
    piece = Piece(
        kind=Kind.ELBOW, radius_mm=100.0, length_mm=300.0, bend_deg=float(bend_deg),
        cut_deg=bend_deg / (2 * (count - 1)), pieces=float(count), kinked=1.0, stub_mm=50.0,
    )  # fmt: skip
    half = np.radians(bend_deg) / 2
    angle = np.linspace(-0.999 * half, 0.999 * half, 2401)
    heading = np.stack([np.cos(angle), np.sin(angle), 0 * angle], 1)
    for side in (1, -1):  # extrados, intrados
        low, high = np.full_like(angle, 300.0), np.full_like(angle, 620.0 if side > 0 else 140.0)
        for _ in range(60):  # bisection for where the outside is
            middle = (low + high) / 2
            within = outside_mm(piece, middle[:, None] * heading) < 0
            low, high = np.where(within, middle, low), np.where(within, high, middle)
        outline = low[:, None] * heading[:, :2]
        step = np.diff(outline, axis=0)
        course = np.degrees(np.unwrap(np.arctan2(step[:, 1], step[:, 0])))
        straight = course[np.r_[True, np.abs(np.diff(course)) < 1e-3]]
        courses = np.unique(np.round(straight, 1))
        assert len(courses) == count
        assert np.diff(courses) == pytest.approx(mitre_kink_deg(bend_deg, count), abs=0.21)
        if side == 1:
            corner = mitre_pieces(300.0, 200.0, bend_deg, count).corner_beyond_arc_mm
            assert low.max() - 400.0 == pytest.approx(corner, abs=0.5)


def test_a_formed_outline_is_an_arc() -> None:
    piece = Piece(kind=Kind.ELBOW, radius_mm=100.0, length_mm=300.0)
    angle = np.linspace(-0.7, 0.7, 50)
    for rho in (400.0, 200.0):
        arc = rho * np.stack([np.cos(angle), np.sin(angle), 0 * angle], 1)
        assert np.abs(outside_mm(piece, arc)).max() < 1e-3


@pytest.mark.parametrize("kind", [Kind.ELBOW, Kind.TEE, Kind.REDUCER])
def test_the_crown_stands_over_the_parent_metal(kind: Kind) -> None:
    """Along the weld line the outside is higher by `crown_mm`, three widths away it is not."""
    weld = Weld(present=1.0, half_width_mm=5.0, crown_mm=2.0)
    rng = np.random.default_rng(1)
    piece = sample_piece(rng, kind, Construction.SEAMLESS)
    piece = replace(
        piece, kind=kind, radius_mm=200.0, second_radius_mm=120.0, length_mm=600.0,
        second_length_mm=400.0, stub_mm=20.0, second_stub_mm=20.0, long_count=1.0, long_deg=180.0,
        long_on_outlet=0.0, eccentric=0.0,
    )  # fmt: skip
    line = {
        Kind.ELBOW: np.array([[400.0, 0.0, 0.0]]),  # intrados
        Kind.TEE: np.array([[450.0, 0.0, -200.0]]),  # opposite the outlet
        Kind.REDUCER: np.array([[10.0, 0.0, 200.0]]),  # opposite the flat side
    }[kind]
    beside = line + {Kind.ELBOW: (0, 0, 15.0), Kind.TEE: (0, 15, 0), Kind.REDUCER: (0, 15, 0)}[kind]
    bare, raised = replace(piece, along_weld=Weld()), replace(piece, along_weld=weld)
    on = outside_mm(bare, line) - outside_mm(raised, line)
    assert on == pytest.approx(2.0, abs=1e-3)
    assert outside_mm(bare, beside) - outside_mm(raised, beside) == pytest.approx(0.0, abs=1e-6)
