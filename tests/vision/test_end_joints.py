"""Lines on the ends of a piece, with and without a pipe beyond, and mitres that lie near an end."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fittings.geometry import mitre_cut_angle_deg
from fittings.words import Construction, Kind, Orientation, Part, Reading
from synthetic.camera import looking_at
from synthetic.native import native_stages
from synthetic.render import Picture, render
from synthetic.scene import Camera, Piece, Scene, Weld
from tests.stand_in import encoded
from vision import shape
from vision.calibration import Calibration, Thresholds
from vision.end_joints import along_tolerance, ends_in_view, lies_on, pipe_likeness, without
from vision.network import Maps
from vision.read import Reader
from vision.reading import PhotoReading
from vision.surface import seam_curve
from vision.tracing import trace
from vision.truth import truth_maps
from vision.verdict import features

CIRCUMFERENTIAL = Orientation.CIRCUMFERENTIAL


def spool(*, beyond: bool = True, lines: tuple[float, ...] = (1.0,)) -> tuple[np.ndarray, Maps]:
    """A straight body seen square on, its end at column 90 of 128, with or without a pipe beyond;
    and the maps of it, with lines around it at those places of `along`."""
    y, x = np.mgrid[:96, :128].astype(np.float64)
    across = (y - 48.0) / 30.0
    on = (np.abs(across) < 1.0) & (x >= 10) & (x < (128 if beyond else 90))
    body = on & (x < 90)
    ground = 0.45 + 0.05 * np.sin(x / 3.0 + 0.7 * y)
    shade = np.where(on, 0.2 + 0.7 * np.sqrt(np.clip(1 - (across + 0.3) ** 2, 0, 1)), ground)
    grey = np.repeat(np.repeat(np.rint(255 * shade).astype(np.uint8), 2, 0), 2, 1)
    part = np.where(body, Part.BODY.label, Part.BACKGROUND.label)
    along = np.where(body, (x - 9.5) / 80.0, 0.0)
    turn = np.where(body, np.arcsin(np.clip(across, -1, 1)), 0.0)
    seam = np.zeros(part.shape)
    for at in lines:
        seam[body & (np.abs(along - at) < 0.03)] = CIRCUMFERENTIAL.label
    maps = Maps(
        part=np.where(part[..., None] == np.arange(5), 0.98, 0.005).astype(np.float32),
        seam=np.where(seam[..., None] == np.arange(4), 0.97, 0.01).astype(np.float32),
        along=along.astype(np.float32),
        around_cos=np.cos(turn).astype(np.float32),
        around_sin=np.sin(turn).astype(np.float32),
        kind=np.array([0.01, 0.97, 0.01, 0.01], np.float32),
        fabricated_logit=-6.0,
    )
    return np.repeat(grey[..., None], 3, 2), maps


def read(pixels: np.ndarray, maps: Maps) -> PhotoReading:
    reader = Reader(
        network=lambda _: maps,
        thresholds=Thresholds(hold=0.5, doubt=0.3, kind=0.5),
        calibration=Calibration(weights=(0.1, 0.5, 0.5), offset=0.0),
        version="truth",
        sha256="",
    )
    outcome = reader.read_bytes(encoded(pixels, "PNG"), "spool.png")
    assert outcome.reading is not None
    return outcome.reading


def test_an_end_is_found_with_its_width_and_its_direction() -> None:
    """Both ends are in view without a face; the picture's own geometry says where."""
    _, maps = spool(lines=())
    first, last = ends_in_view(maps, Kind.ELBOW)
    assert (first.end, last.end) == (0, 1)
    assert last.width_px == pytest.approx(60.0, abs=4)
    assert last.outward == pytest.approx([1.0, 0.0], abs=0.05)
    assert first.outward == pytest.approx([-1.0, 0.0], abs=0.05)
    assert np.median(last.path[:, 0]) == pytest.approx(89.0, abs=1.5)
    assert last.step == pytest.approx(1 / 80.0, rel=0.3)  # smoothed, so less at an end


@pytest.mark.parametrize("hidden_px", [0, 20])
def test_an_open_face_is_no_joint(hidden_px: int) -> None:
    """Also where something hides a third of the face."""
    _, maps = spool(lines=())
    y, x = np.mgrid[:96, :128]
    face = (np.abs(y - 48) < 30) & (y >= 18 + hidden_px) & (x >= 90) & (x < 96)
    part = maps.part.copy()
    part[face] = np.eye(5, dtype=np.float32)[Part.FACE.label]
    assert [e.end for e in ends_in_view(replace(maps, part=part), Kind.ELBOW)] == [0]


def test_a_cut_off_piece_has_no_end_there() -> None:
    """The same piece, its last stretch outside the frame."""
    _, maps = spool(lines=())
    cut = {
        name: getattr(maps, name)[:, :80]
        for name in ("part", "seam", "along", "around_cos", "around_sin")
    }
    assert [e.end for e in ends_in_view(replace(maps, **cut), Kind.ELBOW)] == [0]


def test_light_goes_on_over_a_pipe_and_not_over_the_ground() -> None:
    for beyond in (True, False):
        pixels, maps = spool(beyond=beyond)
        end = ends_in_view(maps, Kind.ELBOW)[1]
        likeness = pipe_likeness(pixels, maps, end)
        assert (likeness > 0.95) if beyond else (likeness < 0.5)


@pytest.fixture
def no_shape(monkeypatch: pytest.MonkeyPatch) -> None:
    """No outline and no proportions, which take their time and are not what is asked here."""
    for name in ("read_outline", "measure_proportions"):
        monkeypatch.setattr(shape, name, lambda *_: None)


@pytest.mark.usefixtures("no_shape")
def test_a_joint_is_reported_and_held_against_nothing() -> None:
    """Reasons, features and reading are those of the same picture without the line."""
    joined, plain = read(*spool()), read(*spool(lines=()))
    (joint,) = joined.end_joints
    assert (joint.part, joint.end) == (Part.BODY, 1)
    assert joined.seams == ()
    assert joined.verdict.reasons == plain.verdict.reasons
    assert joined.verdict.reading is plain.verdict.reading is Reading.NO_SEAM_SEEN
    assert joined.verdict.fabricated_probability == plain.verdict.fabricated_probability
    form = joined.as_json()
    assert form["end_joints"][0]["end"] == 1
    assert form["seams"] == []


@pytest.mark.usefixtures("no_shape")
def test_without_a_pipe_and_away_from_the_end_it_stays_a_seam() -> None:
    for picture, joints in ((spool(beyond=False), []), (spool(lines=(0.875,)), [1])):
        reading = read(*picture)
        assert [joint.end for joint in reading.end_joints] == joints
        assert [seam.orientation for seam in reading.seams] == [CIRCUMFERENTIAL]


def test_maps_without_a_line_are_those_that_never_had_it() -> None:
    _, lined = spool()
    _, plain = spool(lines=())
    bands = trace(lined)
    assert features(without(lined, bands), ()) == pytest.approx(features(plain, ()), abs=0.05)
    assert features(lined, bands)[1:] != pytest.approx(features(plain, ())[1:], abs=0.5)
    assert trace(lined) != (), "the argument is left as it was"


@pytest.mark.parametrize("pieces", [3, 5, 7])
def test_the_tolerance_leaves_the_outermost_mitre_alone(pieces: int) -> None:
    """It lies at the cut angle over the bend, 1 / (2 (pieces - 1)); at the network's size a map
    pixel is about a two hundredth of an elbow."""
    outermost = mitre_cut_angle_deg(90.0, pieces) / 90.0
    assert along_tolerance(Kind.ELBOW, Part.BODY, 1 / 200) < 0.5 * outermost
    assert along_tolerance(Kind.ELBOW, Part.BODY, 1 / 20) < 0.75 * outermost, "however small"


@pytest.fixture(scope="module")
def elbow() -> tuple[Scene, Picture]:
    """A mitred elbow of five pieces, lying flat, its back to the camera: of neither end is the face
    seen, as when pipes are welded to both."""
    piece = Piece(
        kind=Kind.ELBOW, construction=Construction.FABRICATED, radius_mm=100.0, length_mm=300.0,
        bend_deg=90.0, stub_mm=30.0, pieces=5.0, cut_deg=mitre_cut_angle_deg(90.0, 5),
        position_mm=(0.0, 0.0, 100.0), cross_weld=Weld(present=1.0, half_width_mm=8.0),
    )  # fmt: skip
    eye, middle = (1700.0, -150.0, 800.0), (230.0, 0.0, 100.0)
    camera = Camera(position_mm=eye, rotation=looking_at(eye, middle, 0.0), focal=1.7)
    scene = Scene(pieces=(piece,), camera=camera)
    return scene, render(scene, 384, 288, run=native_stages())


def test_mitres_of_a_joined_elbow_stay_seams_and_a_line_on_its_end_does_not(
    elbow: tuple[Scene, Picture],
) -> None:
    """Truth maps both ways: the true mitres, of which the outermost lies an eighth of the bend from
    the end, and the same maps with the end's own line painted in."""
    maps = truth_maps(elbow[1], Kind.ELBOW, fabricated=True)
    ends = ends_in_view(maps, Kind.ELBOW)
    assert 0 in {end.end for end in ends}
    mitres = [seam_curve(band, maps, Kind.ELBOW) for band in trace(maps)]
    assert any(curve is not None and curve.orientation is CIRCUMFERENTIAL for curve in mitres)
    assert not any(lies_on(curve, end, Kind.ELBOW) for curve in mitres for end in ends)
    body = maps.part.argmax(axis=-1) == Part.BODY.label
    seam = maps.seam.copy()
    seam[body & (maps.along < 0.03)] = np.eye(4, dtype=np.float32)[CIRCUMFERENTIAL.label]
    painted = replace(maps, seam=seam)
    on_end = [
        band
        for band in trace(painted)
        for end in ends
        if end.end == 0 and lies_on(seam_curve(band, painted, Kind.ELBOW), end, Kind.ELBOW)
    ]
    assert len(on_end) == 1
    assert np.median(maps.along[on_end[0].rows, on_end[0].columns]) < 0.03
