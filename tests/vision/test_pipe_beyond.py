"""Ends told for joined by the look of them alone: drawn and rendered pipes that go on or stop."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.words import EvidenceSource, Kind, Orientation, Part
from synthetic.camera import looking_at
from synthetic.joined import ends_in_picture
from synthetic.native import native_stages
from synthetic.render import Picture, render
from synthetic.sample_joined import girth_weld, tube
from synthetic.sample_pieces import piece_ends
from synthetic.scene import Camera, Piece, Scene
from tests.vision.test_end_joints import no_shape, read, spool
from vision import judging
from vision.end_joints import ends_in_view, runs_beside
from vision.exam_joints import end_told, joined_in_view, right_and_wrong
from vision.exam_rows import png_bytes
from vision.judging import piped_ends
from vision.network import Maps
from vision.pipe_beyond import FIGURES, TOLD_FROM, figures, pipe_probability
from vision.reading import EndJoint
from vision.tracing import trace
from vision.truth import truth_maps

__all__ = ["no_shape"]  # a fixture

CIRCUMFERENTIAL = Orientation.CIRCUMFERENTIAL


def probability(pixels: np.ndarray, maps: Maps, end: int = 1) -> float:
    (found,) = (each for each in ends_in_view(maps, Kind.ELBOW) if each.end == end)
    return pipe_probability(pixels, maps, found)


def turned(pixels: np.ndarray, maps: Maps, quarters: int, mirrored: bool) -> tuple:
    """Picture and maps turned by quarters, and mirrored."""

    def turn(array: np.ndarray) -> np.ndarray:
        array = np.rot90(array, quarters)
        return np.ascontiguousarray(array[:, ::-1] if mirrored else array)

    names = ("part", "seam", "along", "around_cos", "around_sin")
    fields = {name: turn(getattr(maps, name)) for name in names}
    if mirrored:
        fields["around_sin"] = -fields["around_sin"]
    return turn(pixels), replace(maps, **fields)


def test_a_cylinder_that_goes_on_is_told_and_one_that_stops_is_not() -> None:
    assert probability(*spool(lines=())) > 0.9
    assert probability(*spool(beyond=False, lines=())) < 0.3
    assert probability(*spool(lines=()), end=0) < 0.3, "its other end is bare"


@given(st.integers(0, 3), st.booleans(), st.booleans())
def test_turning_or_mirroring_the_photo_changes_nothing(
    quarters: int, mirrored: bool, beyond: bool
) -> None:
    plain = spool(beyond=beyond, lines=())
    assert probability(*turned(*plain, quarters, mirrored)) == pytest.approx(
        probability(*plain), abs=0.03
    )


@given(st.floats(0.0, 6.0), st.integers(0, 9))
def test_noise_of_a_few_levels_decides_nothing(level: float, seed: int) -> None:
    pixels, maps = spool(lines=())
    noise = np.random.default_rng(seed).normal(0.0, level, pixels.shape)
    noisy = np.clip(pixels + noise, 0, 255).astype(np.uint8)
    assert probability(noisy, maps) >= TOLD_FROM
    bare, maps = spool(beyond=False, lines=())
    assert probability(np.clip(bare + noise, 0, 255).astype(np.uint8), maps) < TOLD_FROM


def test_each_figure_says_what_it_is_for() -> None:
    """The drawn cylinder has sides and light beyond its end; a grey card in their place has
    neither, and ground on the pipe's place is like the ground beside it."""
    pixels, maps = spool(lines=())
    bare, _ = spool(beyond=False, lines=())
    end = ends_in_view(maps, Kind.ELBOW)[1]
    on, off = (dict(zip(FIGURES, figures(p, maps, end) or (), strict=True)) for p in (pixels, bare))
    assert on["sides"] > off["sides"] + 1.0
    assert on["light"] > 0.9 > 0.5 > off["light"]
    assert on["ground"] > off["ground"] + 0.5
    assert on["bulge"] == pytest.approx(0.0, abs=0.02), "square on, an end is straight"
    bulging = replace(end, path=end.path + [[5.0, 0.0]] * _arch(end.path))
    assert figures(pixels, maps, bulging)[3] == pytest.approx(5.0 / end.width_px, abs=0.02)


def _arch(path: np.ndarray) -> np.ndarray:
    """(N, 1) 0 at the ends of the path and 1 at its middle, a parabola between."""
    share = (path[:, 1] - path[0, 1]) / (path[-1, 1] - path[0, 1])
    return (4.0 * share * (1.0 - share))[:, None]


def test_what_the_frame_hides_is_not_told() -> None:
    """Cut a few pixels beyond the end, as wide a pipe as before."""
    pixels, maps = spool(lines=())
    fields = ("part", "seam", "along", "around_cos", "around_sin")
    cut = replace(maps, **{name: getattr(maps, name)[:, :100] for name in fields})
    assert probability(pixels, maps) > TOLD_FROM
    assert probability(np.ascontiguousarray(pixels[:, :200]), cut) == 0.0


@pytest.mark.usefixtures("no_shape")
def test_a_joint_told_without_a_line_is_drawn_explained_and_changes_no_probability(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    told = read(*spool(lines=()))
    (joint,) = told.end_joints
    assert (joint.part, joint.end) == (Part.BODY, 1)
    assert 0.0 < joint.confidence <= 1.0
    assert np.median(np.array(joint.path)[:, 0]) == pytest.approx(179.0, abs=3.0)
    assert joint.length_px == pytest.approx(120.0, abs=8.0)
    (reason,) = (e for e in told.verdict.evidence if e.source is EvidenceSource.END_JOINT)
    assert reason.place in joint.path
    assert "not counted against the piece" in reason.sentence
    monkeypatch.setattr(judging, "pipe_probability", lambda *_: 0.0)
    silent = read(*spool(lines=()))
    assert silent.end_joints == ()
    rest = tuple(e for e in told.verdict.evidence if e is not reason)
    assert replace(told.verdict, evidence=rest) == silent.verdict
    assert told.seams == silent.seams == ()


@pytest.mark.usefixtures("no_shape")
def test_where_it_is_not_told_what_fitting_it_is_no_joint_is() -> None:
    pixels, maps = spool(lines=())
    doubtful = replace(maps, kind=np.array([0.3, 0.4, 0.2, 0.1], np.float32))
    assert read(pixels, doubtful).end_joints == ()


# ------------------------------------------------------------------------------ rendered pieces


def joined_elbow() -> Scene:
    """An elbow lying flat, its back to the camera, so that neither end's face is seen; a pipe is
    welded to its first end."""
    piece = Piece(
        kind=Kind.ELBOW, radius_mm=100.0, length_mm=300.0,
        bend_deg=90.0, stub_mm=10.0, position_mm=(0.0, 0.0, 100.0),
    )  # fmt: skip
    centre, axis, radius = piece_ends(piece)[0]
    start = centre + np.array(piece.position_mm)
    props = (
        tube(axis, start + axis * 300.0, radius, 300.0, wall_mm=8.0, own_skin=0.0),
        girth_weld(axis, start, radius, 7.0, 2.0, rgb=(0.4, 0.4, 0.4)),
    )
    eye, middle = (1700.0, -250.0, 800.0), (200.0, -100.0, 100.0)
    camera = Camera(position_mm=eye, rotation=looking_at(eye, middle, 0.0), focal=1.5)
    return Scene(pieces=(piece,), props=props, camera=camera)


@pytest.fixture(scope="module")
def joined() -> tuple[Scene, Picture]:
    scene = joined_elbow()
    return scene, render(scene, 512, 384, run=native_stages())


def pixels_of(picture: Picture) -> np.ndarray:
    data = np.frombuffer(png_bytes(picture), np.uint8)
    return cv2.cvtColor(cv2.imdecode(data, cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB)


def test_of_a_rendered_elbow_the_end_with_the_pipe_is_told(joined: tuple[Scene, Picture]) -> None:
    """The scene says which end that is, and where it lies in the picture."""
    scene, picture = joined
    maps = truth_maps(picture, Kind.ELBOW, fabricated=False)
    ends = ends_in_view(maps, Kind.ELBOW)
    assert len(ends) == 2
    told = piped_ends(pixels_of(picture), maps, ends, ())
    true_ends = ends_in_picture(scene, 512, 384)
    assert [end.joined for end in true_ends] == [True, False]
    (shown,) = joined_in_view(scene, picture)
    assert shown == true_ends[0]
    assert len(told) == 1
    path = tuple((2.0 * x + 0.5, 2.0 * y + 0.5) for x, y in told[0].path)
    joint = EndJoint(part=Part.BODY, end=0, confidence=0.9, length_px=60.0, path=path)
    assert end_told(joint, true_ends) == shown
    assert right_and_wrong((joint,), true_ends, (shown,)) == (1, 0)
    elsewhere = replace(joint, path=((5.0, 5.0), (9.0, 9.0)))
    bare = replace(joint, path=(true_ends[1].middle_px,))
    assert right_and_wrong((joint, elsewhere, bare), true_ends, (shown,)) == (1, 2)


def test_a_seam_where_the_maps_end_is_no_joint(joined: tuple[Scene, Picture]) -> None:
    """A network that takes the last segment of a mitred elbow for pipe ends the piece at its
    outermost mitre, an eighth of the bend from the end: the look of it is a pipe's, but a seam is
    traced there, so that none is told and the seam stays."""
    _, picture = joined
    maps = truth_maps(picture, Kind.ELBOW, fabricated=True)
    ends = ends_in_view(maps, Kind.ELBOW)
    (end,) = (e for e in ends if piped_ends(pixels_of(picture), maps, (e,), ()))
    off = np.abs(maps.along - end.end)
    body = maps.winner == Part.BODY.label
    part, seam = maps.part.copy(), maps.seam.copy()
    part[body & (off < 0.125)] = np.eye(5, dtype=np.float32)[Part.BACKGROUND.label]
    seam[body & (np.abs(off - 0.13) < 0.03)] = np.eye(4, dtype=np.float32)[CIRCUMFERENTIAL.label]
    short = replace(maps, part=part, seam=seam)
    bands = trace(short)
    moved = [e for e in ends_in_view(short, Kind.ELBOW) if e.end == end.end]
    assert len(moved) == 1
    assert piped_ends(pixels_of(picture), short, moved, ()) != [], "without the line it is told"
    assert any(runs_beside(band, moved[0]) for band in bands)
    assert piped_ends(pixels_of(picture), short, moved, bands) == []
