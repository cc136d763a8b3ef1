"""The camera against hand-worked values and OpenCV's."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from fittings.words import Construction, Kind
from synthetic import sample_view
from synthetic.camera import looking_at, project, rays
from synthetic.landmarks import landmarks
from synthetic.packing import Numbers, pack
from synthetic.sample import PIECE_KINDS, sample_scene
from synthetic.sample_pieces import piece_ends, sample_piece
from synthetic.sample_view import (
    BORE_DEG,
    BORE_SHARE,
    CUT_SHARE,
    MOST_OFF_CENTRE,
    End,
    sample_camera,
    sample_end,
)
from synthetic.scene import IDENTITY, Camera, Scene
from synthetic.shapes import SHAPES


def projected(points: list[tuple[float, ...]], k1: float = 0.0, k2: float = 0.0) -> np.ndarray:
    """Pixels of points before a camera at the origin, f = 1000 px, centre (320, 240)."""
    return project(
        np.array(points), position_mm=(0, 0, 0), rotation=IDENTITY, focal_px=1000.0,
        centre_px=(320.0, 240.0), k1=k1, k2=k2,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("point", "k1", "k2", "pixel"),
    [
        # Worked by hand: 320 + 1000 · 0.1 / 2, 240 - 1000 · 0.05 / 2.
        ((0.1, -0.05, 2.0), 0.0, 0.0, (370.0, 215.0)),
        # r² = 0.25; 1 - 0.2 · 0.25 + 0.05 · 0.0625 = 0.953125.
        ((0.4, 0.3, 1.0), -0.2, 0.05, (701.25, 525.9375)),
    ],
)
def test_hand_worked_points(
    point: tuple[float, ...], k1: float, k2: float, pixel: tuple[float, float]
) -> None:
    assert projected([point], k1, k2)[0] == pytest.approx(pixel, abs=1e-9)


def test_points_behind_the_camera_have_no_pixel() -> None:
    assert np.isnan(projected([(0.0, 0.0, -1.0), (0.1, 0.1, 0.0)])).all()


def test_projection_is_that_of_opencv() -> None:
    rng = np.random.default_rng(3)
    for _ in range(20):
        position, target = rng.normal(0, 800, 3), rng.normal(0, 100, 3)
        rotation = np.reshape(looking_at(position, target, rng.uniform(-180, 180)), (3, 3))
        k1, k2 = rng.normal(0, 0.1), rng.normal(0, 0.05)
        points = target + rng.normal(0, 60, (30, 3))
        centre, focal = (300.5, 222.0), 750.0
        ours = project(
            points, position_mm=position, rotation=rotation, focal_px=focal, centre_px=centre,
            k1=k1, k2=k2,
        )  # fmt: skip
        matrix = np.array([[focal, 0, centre[0]], [0, focal, centre[1]], [0, 0, 1.0]])
        theirs, _ = cv2.projectPoints(
            points, cv2.Rodrigues(rotation)[0], -rotation @ position, matrix,
            np.array([k1, k2, 0.0, 0.0]),
        )  # fmt: skip
        assert np.abs(ours - theirs[:, 0]).max() < 1e-6


@pytest.mark.parametrize("centre", [(0.0, 0.0), (0.15, -0.1)])
@pytest.mark.parametrize(("k1", "k2"), [(0.0, 0.0), (0.06, 0.01), (-0.06, 0.02), (-0.1, -0.01)])
def test_rays_undo_projection(k1: float, k2: float, centre: tuple[float, float]) -> None:
    width, height, focal = 640, 480, 0.9
    rng = np.random.default_rng(4)
    position = np.array([200.0, -900.0, 400.0])
    camera = Camera(
        position_mm=(200.0, -900.0, 400.0),
        rotation=looking_at(position, (0, 0, 50), 7.0),  # type: ignore[arg-type]
        focal=focal,
        k1=k1,
        k2=k2,
        centre_across=centre[0],
        centre_down=centre[1],
    )
    n = Numbers(pack([(replace(Scene(), camera=camera), None)]))
    pixels = rng.uniform((0, 0), (width, height), (400, 2))
    across, down = (pixels - (width / 2, height / 2)).T.astype(np.float32) / width
    directions = np.stack([c[0] for c in rays(np, n, across[None], down[None])], 1)
    assert np.linalg.norm(directions, axis=1) == pytest.approx(1.0, abs=1e-5)
    back = project(
        position + 1000.0 * directions.astype(np.float64), position_mm=position,
        rotation=camera.rotation, focal_px=focal * width,
        centre_px=(width * (0.5 + centre[0]), height / 2 + width * centre[1]),
        k1=k1, k2=k2,
    )  # fmt: skip
    assert np.abs(back - pixels).max() < 0.1  # of a pixel, at the corners of a wide picture


CAMERAS = [
    sample_camera(np.random.default_rng([7, i]), np.array([100.0, 50.0, 200.0]), 250.0, False)[0]
    for i in range(1500)
]


def corners(camera: Camera) -> np.ndarray:
    """Directions through the edge of a 4:3 picture, (N, 3), in order round it."""
    side = np.linspace(-0.5, 0.5, 17)
    x = np.concatenate([side, np.full(17, 0.5), side[::-1], np.full(17, -0.5)])
    y = 0.75 * np.concatenate([np.full(17, -0.5), side, np.full(17, 0.5), side[::-1]])
    n = Numbers(pack([(replace(Scene(), camera=camera), None)]))
    across, down = (v[None].astype(np.float32) for v in (x, y))
    return np.stack([c[0] for c in rays(np, n, across, down)], 1)


def test_drawn_lenses_can_be_undone() -> None:
    """No lens is so strong that its polynomial turns back within the picture."""
    for camera in [c for c in CAMERAS if c.focal < 0.65][:100]:
        out = corners(camera).astype(np.float64)
        back = project(
            np.asarray(camera.position_mm) + 500.0 * out, position_mm=camera.position_mm,
            rotation=camera.rotation, focal_px=camera.focal,
            centre_px=(camera.centre_across, camera.centre_down), k1=camera.k1, k2=camera.k2,
        )  # fmt: skip
        # To about a pixel of 400, where the lens bends most.
        assert np.abs(np.abs(back[:17, 1]) - 0.375).max() < 3e-3
        assert np.abs(np.abs(back[17:34, 0]) - 0.5).max() < 3e-3


def test_drawn_cameras_see_what_they_aim_at() -> None:
    """Cut from a larger picture or not, the thing stays in the frame: its middle within the picture
    in 97 of 100."""
    middles = np.concatenate([
        project(
            np.array([[100.0, 50.0, 200.0]]), position_mm=c.position_mm, rotation=c.rotation,
            focal_px=c.focal, centre_px=(c.centre_across, c.centre_down), k1=c.k1, k2=c.k2,
        )
        for c in CAMERAS
    ])  # fmt: skip
    within = (np.abs(middles[:, 0]) < 0.5) & (np.abs(middles[:, 1]) < 0.375)
    assert within.mean() > 0.97
    cut = np.array([c.centre_across != 0.0 for c in CAMERAS])
    assert cut.mean() == pytest.approx(CUT_SHARE, abs=0.05)
    assert within[cut].mean() > 0.95
    assert max(abs(c.centre_down) for c in CAMERAS) <= MOST_OFF_CENTRE
    fill = np.array([250.0 * c.focal / 0.375 for c in CAMERAS]) / [
        np.linalg.norm(np.subtract(c.position_mm, (100.0, 50.0, 200.0))) for c in CAMERAS
    ]
    assert 0.08 < (fill > 1.6).mean() < 0.16
    assert 0.5 < ((fill > 0.45) & (fill < 1.0)).mean() < 0.7
    wide = np.mean([c.focal < 0.62 for c in CAMERAS])
    assert 0.05 < wide < 0.2


def test_close_views_look_at_what_is_there() -> None:
    """Given points of a ring, a close camera looks at the ring, not through it."""
    turn = np.linspace(0, 2 * np.pi, 100)
    ring = 250.0 * np.stack([np.cos(turn), np.sin(turn), 1.0 + 0.0 * turn], 1)
    missed = {True: 0, False: 0}
    for i in range(400):
        for given in (True, False):
            camera, _ = sample_camera(
                np.random.default_rng([8, i]), np.array([0.0, 0.0, 250.0]), 250.0, False,
                points=ring if given else None,
            )  # fmt: skip
            pixels = project(
                ring, position_mm=camera.position_mm, rotation=camera.rotation,
                focal_px=camera.focal, centre_px=(camera.centre_across, camera.centre_down),
            )  # fmt: skip
            inside = (np.abs(pixels[:, 0]) < 0.4) & (np.abs(pixels[:, 1]) < 0.3)
            missed[given] += not inside.any()
    assert missed[True] <= 6
    assert missed[True] < missed[False] + 4


def looks_into_a_bore(scene: Scene) -> bool:
    (piece,), turn = scene.pieces, np.reshape(scene.pieces[0].rotation, (3, 3))
    angles = []
    for centre, axis, _ in piece_ends(piece):
        to = np.subtract(scene.camera.position_mm, turn @ centre + piece.position_mm)
        angles.append(np.degrees(np.arccos((to @ (turn @ axis)) / np.linalg.norm(to))))
    return min(angles) < BORE_DEG[1]


@pytest.mark.parametrize(("share", "least", "most"), [(0.0, 0.0, 0.3), (1.0, 0.6, 1.0)])
def test_the_quota_of_views_into_bores_is_what_gives_them(
    monkeypatch: pytest.MonkeyPatch, share: float, least: float, most: float
) -> None:
    """All of them wanted, most are: not the close-ups, nor where all open ends face the ground."""
    monkeypatch.setattr(sample_view, "BORE_SHARE", share)
    found = [
        looks_into_a_bore(sample_scene(np.random.default_rng([78, i]), (PIECE_KINDS[i % 3],)))
        for i in range(60)
    ]
    assert least <= np.mean(found) <= most, np.mean(found)


def test_some_pictures_look_into_a_bore() -> None:
    """Within BORE_DEG of an end's axis: the quota and, of the rest, what chance gives anyhow. No
    class of piece has more of them than another."""
    into: dict[Kind | Construction, list[bool]] = {}
    for i in range(480):
        scene = sample_scene(np.random.default_rng([77, i]), (PIECE_KINDS[i % 3],))
        piece = scene.pieces[0]
        for group in (piece.kind, piece.construction):
            into.setdefault(group, []).append(looks_into_a_bore(scene))
    assert len(into) == len(PIECE_KINDS) + len(Construction)
    together = np.concatenate([into[kind] for kind in PIECE_KINDS]).mean()
    assert BORE_SHARE < together < 0.36
    for found in into.values():
        spread = 3.5 * np.sqrt(together * (1 - together) / len(found))
        assert np.mean(found) == pytest.approx(together, abs=spread)


def test_nobody_looks_into_an_end_that_faces_the_ground() -> None:
    ends = [End(np.zeros(3), np.array([0.0, 0.0, z]), 50.0) for z in (-1.0, 1.0)]
    found = [sample_end(np.random.default_rng([2, i]), ends) for i in range(200)]
    assert {float(end.axis[2]) for end in found if end is not None} == {1.0}
    assert np.mean([end is not None for end in found]) == pytest.approx(BORE_SHARE, abs=0.07)
    assert sample_end(np.random.default_rng(0), ends[:1]) is None


@pytest.mark.parametrize("kind", PIECE_KINDS)
def test_landmarks_lie_on_the_outside(kind: Kind) -> None:
    """But for a shoulder that is rounded, and the quarters of a bend that is cut in two."""
    for i in range(20):
        piece = sample_piece(np.random.default_rng([3, i]), kind)
        points = landmarks(piece)
        n = Numbers(pack([(Scene(pieces=(piece,)), piece)]))
        shape = SHAPES[kind](np, n, tuple(points.T[:, None]), None)  # type: ignore[arg-type]
        assert np.abs(shape.outside_mm).max() < 0.35 * piece.radius_mm
        assert np.median(np.abs(shape.outside_mm)) < 0.06 * piece.radius_mm


def test_looking_at_keeps_upright_and_turns_clockwise() -> None:
    rotation = np.reshape(looking_at((0, -100, 0), (0, 0, 0), 0.0), (3, 3))
    # Camera x right, y down, z forward, for a camera that looks along world +y.
    assert rotation == pytest.approx(np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]]), abs=1e-12)
    turned = np.reshape(looking_at((0, -100, 0), (0, 0, 0), 90.0), (3, 3))
    # Turned clockwise by a quarter, what was up now points to the picture's left.
    assert turned @ (0, 0, 1) == pytest.approx((-1, 0, 0), abs=1e-12)
    assert np.linalg.det(turned) == pytest.approx(1.0)
    straight_down = np.reshape(looking_at((0, 0, 50), (0, 0, 0), 0.0), (3, 3))
    assert straight_down @ straight_down.T == pytest.approx(np.eye(3), abs=1e-12)
