"""Poses of usual shapes: against OpenCV's projection, rays that meet a cylinder, B16.9's rows."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fittings import dimensions
from fittings.dimensions import SizeTable, listed_sizes, parse_nps
from fittings.listed import ELBOW_TABLES, ElbowRadius
from fittings.words import Kind, Orientation, Part
from vision.curves import direction
from vision.network import Maps
from vision.piece_form import PARTS
from vision.pose import ON_OUTLINE_SHARE, Pose, find_pose, posed_maps
from vision.pose_fit import CAMERA, Fit, Seen, camera_place, nearest_of, seen_from
from vision.pose_shapes import Supposed, outline, tangents, usual_shapes
from vision.posed_line import pose_error_deg, posed_direction
from vision.tracing import Band

SIZE = (96, 128)
FOCAL = 1.1
NONE = np.zeros((0, 2))


def looking(supposed: Supposed, turn: np.ndarray, radius_px: float) -> np.ndarray:
    """Numbers of a camera that has the middle of the piece in the middle of the map, so large."""
    middle = middle_of(supposed)
    away = FOCAL * max(SIZE) / radius_px
    shift = np.array([0.0, 0.0, away]) - cv2.Rodrigues(turn)[0] @ middle
    return np.concatenate([turn, shift, [np.log(FOCAL)], np.zeros(len(supposed.free))])


def middle_of(supposed: Supposed) -> np.ndarray:
    points = [
        supposed.surface(
            np.full(25, float(part.label)),
            np.repeat(np.linspace(0, 1, 5), 5),
            np.tile(np.linspace(-3, 3, 5), 5),
            supposed.usual,
        )
        for part in PARTS[supposed.kind]
    ]
    return np.concatenate(points).mean(axis=0)


def shown(points: np.ndarray, numbers: np.ndarray) -> np.ndarray:
    """Map pixels of points, by OpenCV with the principal point in the middle of the map."""
    height, width = SIZE
    focal = np.exp(numbers[6]) * max(SIZE)
    matrix = np.array([[focal, 0, (width - 1) / 2], [0, focal, (height - 1) / 2], [0, 0, 1.0]])
    return cv2.projectPoints(points, numbers[:3], numbers[3:6], matrix, None)[0][:, 0]


def drawn(supposed: Supposed, numbers: np.ndarray) -> Maps:
    """What a perfect network says of the piece before that camera."""
    part = np.zeros(SIZE, int)
    coordinates = np.zeros((3, *SIZE), np.float32)
    depth = np.full(SIZE, np.inf)
    along, around = np.meshgrid(np.linspace(0, 1, 260), np.linspace(-np.pi, np.pi, 420))
    along, around = along.ravel(), around.ravel()
    off = numbers[CAMERA:]
    for each in PARTS[supposed.kind]:
        points, by_along, by_around = tangents(supposed, each, along, around, off)
        normal = np.cross(by_around, by_along)
        faces = ((camera_place(numbers) - points) * normal).sum(axis=1) > 0
        faces &= supposed.exists(each, along, around, off)
        column, row = np.rint(shown(points, numbers)).astype(int).T
        faces &= (row >= 0) & (row < SIZE[0]) & (column >= 0) & (column < SIZE[1])
        far = (points @ cv2.Rodrigues(numbers[:3])[0].T + numbers[3:6])[:, 2]
        order = np.flatnonzero(faces)[np.argsort(-far[faces])]
        order = order[far[order] < depth[row[order], column[order]]]
        at = row[order], column[order]
        depth[at], part[at] = far[order], each.label
        coordinates[(slice(None), *at)] = along[order], np.cos(around[order]), np.sin(around[order])
    return Maps(
        part=np.where(part[..., None] == np.arange(5), 0.98, 0.005).astype(np.float32),
        seam=np.where(np.zeros((*SIZE, 1)) == np.arange(4), 0.97, 0.01).astype(np.float32),
        along=coordinates[0],
        around_cos=coordinates[1],
        around_sin=coordinates[2],
        kind=np.eye(4, dtype=np.float32)[supposed.kind.label],
        fabricated_logit=0.0,
    )


def posed(supposed: Supposed, numbers: np.ndarray, mask: np.ndarray | None = None) -> Pose:
    """The pose with just those numbers, not fitted to anything."""
    seen = Seen(
        mask=np.ones(SIZE, bool) if mask is None else mask,
        at=NONE,
        part=NONE[:, 0],
        along=NONE[:, 0],
        around=NONE[:, 0],
        edge=NONE,
        outward=NONE,
    )
    fit = Fit(seen=seen, supposed=supposed, numbers=numbers, cost=0.0)
    return Pose(fit=fit, covariance=np.zeros((len(numbers), len(numbers))))


def turned(elevation_deg: float, azimuth_deg: float, roll_deg: float) -> np.ndarray:
    """Rotation vector of a camera that has gone round the piece by those angles."""
    turns = [
        cv2.Rodrigues(np.radians(deg) * axis)[0]
        for deg, axis in zip(
            (roll_deg, elevation_deg, azimuth_deg), np.eye(3)[[2, 0, 1]], strict=True
        )
    ]
    return cv2.Rodrigues(turns[0] @ turns[1] @ turns[2])[0].ravel()


# ------------------------------------------------------------------------------------- the fit


@pytest.mark.parametrize("kind", [Kind.ELBOW, Kind.TEE, Kind.REDUCER])
@pytest.mark.parametrize("place", [(25.0, 20.0, 10.0), (-50.0, 30.0, -80.0)])
def test_a_known_pose_comes_back(kind: Kind, place: tuple[float, float, float]) -> None:
    """From maps drawn by OpenCV's projection of a listed piece's shape: the surface faces the same
    way to 4 degrees, and pixels come back to their own places."""
    supposed = usual_shapes(kind)[0]
    numbers = looking(supposed, turned(*place), 18.0)
    maps = drawn(supposed, numbers)
    pose = find_pose(maps, kind)
    assert pose is not None
    assert pose.fit.on_outline > 0.9
    same = cv2.Rodrigues(pose.fit.numbers[:3])[0] @ cv2.Rodrigues(numbers[:3])[0].T
    assert np.degrees(np.linalg.norm(cv2.Rodrigues(same)[0])) < 4.0
    for part in PARTS[kind]:
        inside = cv2.erode((maps.winner == part.label).astype(np.uint8), np.ones((5, 5)))
        rows, columns = np.nonzero(inside)
        if len(rows) < 40:
            continue  # behind the run
        places = pose.places(part, np.stack([columns, rows], axis=1).astype(float))
        known = np.flatnonzero(places.known)
        off = np.angle(
            np.exp(1j * places.around)
            / (maps.around_cos + 1j * maps.around_sin)[rows[known], columns[known]]
        )
        assert places.known.mean() > 0.95
        assert np.median(np.abs(np.degrees(off))) < 3.0
        assert np.median(np.abs(places.along - maps.along[rows[known], columns[known]])) < 0.02


def an_erring_elbow() -> tuple[Maps, Maps, np.ndarray]:
    """An elbow's true maps; the same with `around` off by up to 25 degrees and `along` by 0.1, both
    smoothly; and the camera."""
    supposed = usual_shapes(Kind.ELBOW)[0]
    numbers = looking(supposed, turned(25.0, 20.0, 10.0), 18.0)
    true = drawn(supposed, numbers)
    wave = np.sin(np.linspace(0, 2.5, SIZE[1])) * np.cos(np.linspace(0, 3.0, SIZE[0]))[:, None]
    around = np.arctan2(true.around_sin, true.around_cos) + np.radians(25.0) * wave
    erring = replace(
        true,
        along=(true.along + 0.1 * wave).astype(np.float32),
        around_cos=np.cos(around).astype(np.float32),
        around_sin=np.sin(around).astype(np.float32),
    )
    return true, erring, numbers


def test_a_network_that_errs_smoothly_about_the_place_does_not_turn_the_pose() -> None:
    """The outline holds the shape."""
    _, maps, numbers = an_erring_elbow()
    pose = find_pose(maps, Kind.ELBOW)
    assert pose is not None
    same = cv2.Rodrigues(pose.fit.numbers[:3])[0] @ cv2.Rodrigues(numbers[:3])[0].T
    assert np.degrees(np.linalg.norm(cv2.Rodrigues(same)[0])) < 5.0


def test_posed_maps_are_nearer_to_the_truth_and_the_same_off_the_piece() -> None:
    """The errors that the network makes of the places go; without a pose nothing is touched."""
    true, erring, _ = an_erring_elbow()
    mended = posed_maps(erring, Kind.ELBOW)
    body = true.winner == Part.BODY.label

    def errors(maps: Maps) -> tuple[float, float]:
        turn = np.angle(
            (maps.around_cos + 1j * maps.around_sin)[body]
            / (true.around_cos + 1j * true.around_sin)[body]
        )
        along = np.abs(maps.along - true.along)[body]
        return float(np.median(np.abs(np.degrees(turn)))), float(np.median(along))

    before, after = errors(erring), errors(mended)
    assert after[0] < 0.4 * before[0]
    assert after[1] < 0.4 * before[1]
    for name in ("along", "around_cos", "around_sin"):
        assert np.array_equal(getattr(mended, name)[~body], getattr(erring, name)[~body])
    assert posed_maps(erring, Kind.NONE) is erring


def test_what_is_no_such_piece_has_no_pose() -> None:
    """A star with an elbow's coordinates; an empty picture; no fitting."""
    supposed = usual_shapes(Kind.ELBOW)[0]
    maps = drawn(supposed, looking(supposed, turned(25.0, 20.0, 10.0), 18.0))
    y, x = np.mgrid[-48:48, -64:64]
    star = np.hypot(x, y) < 28 + 14 * np.sin(9 * np.arctan2(y, x))
    part = np.where(star[..., None], np.eye(5)[Part.BODY.label], np.eye(5)[0]).astype(np.float32)
    along, around = 0.5 + x / 128, np.arcsin(np.clip(y / 50, -1, 1))
    assert find_pose(maps, Kind.ELBOW) is not None
    other = replace(
        maps,
        part=part,
        along=along.astype(np.float32),
        around_cos=np.cos(around).astype(np.float32),
        around_sin=np.sin(around).astype(np.float32),
    )
    assert find_pose(other, Kind.ELBOW) is None
    empty = np.broadcast_to(np.eye(5, dtype=np.float32)[0], maps.part.shape)
    assert find_pose(replace(maps, part=np.array(empty)), Kind.ELBOW) is None
    assert find_pose(maps, Kind.NONE) is None


@given(seed=st.integers(0, 10_000), kind=st.sampled_from([Kind.ELBOW, Kind.TEE, Kind.REDUCER]))
@settings(max_examples=12)
def test_any_maps_give_a_pose_that_is_believed_or_none(seed: int, kind: Kind) -> None:
    """Blobs of parts with noise for coordinates: no error and no warning."""
    rng = np.random.default_rng(seed)

    def noise(count: int, px: float) -> np.ndarray:
        return np.stack(
            [cv2.GaussianBlur(rng.normal(size=SIZE), (0, 0), px) for _ in range(count)], -1
        )

    part = np.exp(rng.uniform(5, 60) * noise(5, rng.uniform(3, 20)))
    turn = noise(2, 8.0) * rng.uniform(0.1, 40)
    maps = Maps(
        part=(part / part.sum(axis=-1, keepdims=True)).astype(np.float32),
        seam=np.full((*SIZE, 4), 0.25, np.float32),
        along=(0.5 + 5 * noise(1, 6.0)[..., 0]).astype(np.float32),
        around_cos=turn[..., 0].astype(np.float32),
        around_sin=turn[..., 1].astype(np.float32),
        kind=np.full(4, 0.25, np.float32),
        fabricated_logit=0.0,
    )
    pose = find_pose(maps, kind)
    if pose is not None:
        assert pose.fit.on_outline >= ON_OUTLINE_SHARE
        assert np.isfinite(pose.covariance).all()
        assert (np.diag(pose.covariance) >= 0).all()


# ------------------------------------------------------------------------- the surface in view


def test_places_on_a_tee_are_where_rays_meet_a_cylinder() -> None:
    """The run below the outlet is a cylinder about x of radius 1: the near root of the quadratic
    |o + s d|² = 1 in y and z, and its derivatives by central differences."""
    supposed = usual_shapes(Kind.TEE)[0]
    numbers = looking(supposed, turned(140.0, 15.0, 12.0), 20.0)
    pose = posed(supposed, numbers)
    turn = cv2.Rodrigues(numbers[:3])[0]
    camera = -turn.T @ numbers[3:6]
    half_run = supposed.usual[1]

    def met(pixels: np.ndarray) -> np.ndarray:
        focal = np.exp(numbers[6]) * max(SIZE)
        rays = np.column_stack([(pixels - [63.5, 47.5]) / focal, np.ones(len(pixels))]) @ turn
        a = (rays[:, 1:] ** 2).sum(axis=1)
        b = rays[:, 1:] @ camera[1:]
        c = (camera[1:] ** 2).sum() - 1.0
        points = camera + ((-b - np.sqrt(b**2 - a * c)) / a)[:, None] * rays
        around = np.arctan2(-points[:, 1], points[:, 2])
        return np.stack([0.5 + points[:, 0] / (2 * half_run), around], axis=1)

    facing = np.arctan2(-camera[1], camera[2])
    around = facing + np.array([-0.5, 0.0, 0.6])
    x = np.array([-1.5, -1.2, 1.3])
    pixels = shown(np.stack([x, -np.sin(around), np.cos(around)], axis=1), numbers)
    places = pose.places(Part.RUN, pixels)
    true = met(pixels)
    assert places.known.all()
    assert places.along == pytest.approx(true[:, 0], abs=1e-3)
    assert np.angle(np.exp(1j * (places.around - true[:, 1]))) == pytest.approx(0.0, abs=2e-3)
    for axis, step in enumerate(1e-3 * np.eye(2)):
        slope = (met(pixels + step) - met(pixels - step)) / 2e-3
        assert places.per_pixel[:, :, axis] == pytest.approx(slope, rel=0.02, abs=2e-4)


def test_derivatives_by_every_number_are_those_of_differences() -> None:
    for kind in (Kind.ELBOW, Kind.TEE, Kind.REDUCER):
        supposed = usual_shapes(kind)[0]
        numbers = looking(supposed, turned(25.0, 20.0, 10.0), 18.0)
        part = np.array([float(PARTS[kind][-1].label)] * 3)
        at = np.array([0.8, 0.9, 0.95]), np.array([0.2, 1.0, -2.0])
        slopes = seen_from(supposed, part, *at, numbers)[1]
        for number, step in enumerate(1e-5 * np.eye(len(numbers))):
            ahead, behind = (
                seen_from(supposed, part, *at, numbers + side * step)[0] for side in (1, -1)
            )
            assert slopes[..., number] == pytest.approx((ahead - behind) / 2e-5, abs=1e-3)


def test_a_torus_seen_along_its_axis_has_two_circles_for_an_outline() -> None:
    """From far away: R + r and R - r about the bend's centre, over the bend's angle."""
    supposed = usual_shapes(Kind.ELBOW)[0]
    bend, angle_deg, stub = supposed.usual[:3]
    off = np.zeros(len(supposed.free))
    labels, along, around = outline(supposed, off, np.array([bend, 0.0, 5000.0]))
    points = supposed.points(labels, along, around, off)
    turn_deg = np.degrees(np.arctan2(points[:, 1], points[:, 0]))
    on_arc = (np.abs(turn_deg) < angle_deg / 2 - 3) & (along > 0.02) & (along < 0.98)
    from_axis = np.hypot(points[on_arc, 0], points[on_arc, 1])
    outer = from_axis > bend
    assert outer.any()
    assert (~outer).any()
    assert from_axis[outer] == pytest.approx(bend + 1.0, abs=0.02)
    assert from_axis[~outer] == pytest.approx(bend - 1.0, abs=0.02)
    assert stub > 0.0


def test_nearest_is_that_of_all_distances() -> None:
    rng = np.random.default_rng(5)
    points, others = rng.normal(size=(40, 2)), rng.normal(size=(70, 2))
    true = np.linalg.norm(points[:, None] - others[None], axis=2).argmin(axis=1)
    assert nearest_of(points, others).tolist() == true.tolist()


# ---------------------------------------------------------------------------- rows of B16.9


def within(supposed: Supposed, values: dict[int, float], spreads: float) -> bool:
    free = {each.place: each for each in supposed.free}
    return all(
        free[place].low <= value <= free[place].high
        and abs(value - supposed.usual[place]) <= spreads * free[place].spread
        if place in free
        else value == supposed.usual[place]
        for place, value in values.items()
    )


def test_a_usual_shape_is_near_every_listed_row() -> None:
    """ASME B16.9, NPS 2 to 24, by `fittings.dimensions`: within 2 spreads of one of them."""
    sized = ("2", "3", "4", "6", "8", "10", "12", "16", "20", "24")
    missed = []
    for radius, angle_deg in ELBOW_TABLES:
        if radius is ElbowRadius.THREE_D or (radius, angle_deg) == (ElbowRadius.SHORT, 45):
            continue
        for nps in sized:
            row = dimensions.elbow(nps, radius, angle_deg)
            values = {0: 2 * row.bend_radius_mm / row.od_mm, 1: float(angle_deg)}
            if not any(within(each, values, 2.0) for each in usual_shapes(Kind.ELBOW)):
                missed.append(row)
    for nps in sized:
        row = dimensions.tee(nps)
        radius_mm = row.run_od_mm / 2
        values = {1: row.run_c_mm / radius_mm, 2: row.outlet_m_mm / radius_mm}
        if not any(within(each, values, 2.0) for each in usual_shapes(Kind.TEE)):
            missed.append(row)
    for large, small in listed_sizes(SizeTable.REDUCER):
        if not 2 <= parse_nps(large) <= 24:
            continue
        row = dimensions.reducer(large, small)
        values = {
            0: row.small_od_mm / row.large_od_mm,
            1: 2 * row.end_to_end_mm / row.large_od_mm,
        }
        if not any(within(each, values, 2.0) for each in usual_shapes(Kind.REDUCER)):
            missed.append(row)
    assert missed == []


def test_the_length_of_a_listed_elbow_over_its_radius() -> None:
    """NPS 6 long radius 90°: the arc of 229 mm over 168.3/2 is 4.27, with two straight ends."""
    long, short, eighth = usual_shapes(Kind.ELBOW)
    for supposed, arc in (
        (long, 229 * np.pi / 2),
        (short, 152 * np.pi / 2),
        (eighth, 229 * np.pi / 4),
    ):
        ratio = supposed.ratio(Part.BODY, np.zeros(2))
        assert ratio == pytest.approx(arc / 84.15 + 2 * supposed.usual[2], rel=0.005)


# -------------------------------------------------------------------------- a line's direction


def a_band(pose: Pose, part: Part, along: np.ndarray, around: np.ndarray) -> Band:
    """What is traced of a line through those places."""
    labels = np.full(len(along), float(part.label))
    fit = pose.fit
    path = shown(fit.supposed.points(labels, along, around, fit.numbers[CAMERA:]), fit.numbers)
    columns, rows = np.rint(path).astype(int).T
    return Band(
        orientation=Orientation.LONGITUDINAL,
        confidence=1.0,
        path=path,
        closed=False,
        rows=rows,
        columns=columns,
    )


@pytest.fixture
def elbow() -> Pose:
    """Seen square on the plane of its bend, from a little above."""
    supposed = usual_shapes(Kind.ELBOW)[0]
    return posed(supposed, looking(supposed, turned(160.0, 0.0, 10.0), 18.0))


def test_lines_along_around_and_askew(elbow: Pose) -> None:
    """0 and 90 degrees by definition; a helix of equal steps along and around by its tangent."""
    middle = float(np.median(elbow.places(Part.BODY, np.array([[64.0, 48.0]])).around))
    step = np.linspace(-1, 1, 50)
    ratio = elbow.ratio(Part.BODY)
    for rise, run, true_deg in ((0.0, 0.35, 0.0), (0.8, 0.0, 90.0), (0.6, 0.6 / ratio, 45.0)):
        band = a_band(elbow, Part.BODY, 0.5 + run * step, middle + rise * step)
        found = posed_direction(band, Part.BODY, elbow)
        assert found is not None
        assert found[0] == pytest.approx(true_deg, abs=1.0)


def test_a_line_elsewhere_or_a_patch_is_not_measured(elbow: Pose) -> None:
    middle = float(np.median(elbow.places(Part.BODY, np.array([[64.0, 48.0]])).around))
    band = a_band(elbow, Part.BODY, 0.5 + 0.35 * np.linspace(-1, 1, 50), np.full(50, middle))
    assert posed_direction(band, Part.BODY, elbow) is not None
    aside = posed(elbow.fit.supposed, elbow.fit.numbers, mask=np.zeros(SIZE, bool))
    assert posed_direction(band, Part.BODY, aside) is None
    rows = np.repeat(band.rows, 20)
    patch = replace(band, rows=rows, columns=np.repeat(band.columns, 20))
    patched = posed_direction(patch, Part.BODY, elbow)
    assert patched is not None
    assert patched[1] == 90.0, "wholly uncertain"
    off = replace(band, path=band.path + np.array([50.0, 0.0]))
    beyond = posed_direction(off, Part.BODY, elbow)
    assert beyond is not None
    assert beyond[1] == 90.0


@pytest.mark.parametrize("number", range(9))
def test_a_doubtful_pose_turns_a_line_as_another_pose_would(elbow: Pose, number: int) -> None:
    """With one number of the fit uncertain, by as much as the same pixels measure otherwise when
    that number is moved."""
    middle = float(np.median(elbow.places(Part.BODY, np.array([[64.0, 48.0]])).around))
    step = np.linspace(-1, 1, 40)
    band = a_band(elbow, Part.BODY, 0.5 + 0.15 * step, middle + 0.4 * step)

    def measured(pose: Pose):
        places = pose.places(Part.BODY, band.path)
        ratio = elbow.ratio(Part.BODY)  # what the ratio's own change does is not asked
        unrolled = np.stack([places.along * ratio, places.around], axis=1)
        per_pixel = places.per_pixel * np.array([[ratio], [1.0]])
        return unrolled, per_pixel, direction(unrolled, per_pixel, band.length), places

    small = 2e-3
    moved = elbow.fit.numbers + small * np.eye(9)[number]
    other = measured(posed(elbow.fit.supposed, moved))[2]
    unrolled, per_pixel, fitted, places = measured(elbow)
    doubt = replace(elbow, covariance=small**2 * np.diag(np.eye(9)[number]))
    error = pose_error_deg(unrolled, per_pixel, fitted, places, Part.BODY, doubt)
    assert error == pytest.approx(abs(other.signed_deg - fitted.signed_deg), rel=0.15, abs=0.01)
