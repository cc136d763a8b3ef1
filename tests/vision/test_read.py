"""The reader with a perfect network, and the rules that turn evidence into a reading."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from fittings.words import Construction, Kind, Orientation, Reading
from synthetic.native import native_stages
from synthetic.render import VISIBLE_CONTRAST, render
from synthetic.sample import sample_scene
from synthetic.sample_pieces import sample_piece
from vision.calibration import Calibration, Thresholds, from_card
from vision.exam_rows import png_bytes
from vision.judging import to_photo
from vision.network import Maps, network_size
from vision.photo import open_photo
from vision.read import Reader, for_network
from vision.reading import Quality, Seam
from vision.truth import truth_maps
from vision.verdict import decide

THRESHOLDS = Thresholds(hold=0.7, doubt=0.4, kind=0.6)
USABLE = Quality(usable=True, problems=())


def seam(orientation: Orientation) -> Seam:
    return Seam(
        orientation=orientation,
        confidence=0.9,
        length_px=100.0,
        surface_angle_deg=88.0,
        path=((0.0, 0.0), (100.0, 0.0)),
    )


def reading_of(**changes: object) -> Reading:
    given = {
        "kind": Kind.TEE,
        "kind_confidence": 0.95,
        "seams": (),
        "probability": 0.1,
        "quality": USABLE,
        "thresholds": THRESHOLDS,
    }
    verdict = decide(**(given | changes))  # type: ignore[arg-type]
    assert verdict.reasons, "every reading gives a reason"
    assert "caution" in verdict.next_step or "injure" in verdict.next_step
    text = " ".join([*verdict.reasons, verdict.next_step]).lower()
    assert not any(word in text for word in ("accepted", " is safe", "genuine", "is seamless"))
    return verdict.reading


def test_rules_of_a_reading() -> None:
    branch, long = seam(Orientation.BRANCH), seam(Orientation.LONGITUDINAL)
    assert reading_of(probability=0.9, seams=(branch,)) is Reading.FABRICATION_SEAM
    assert reading_of(probability=0.5, seams=(branch,)) is Reading.UNCLEAR
    assert reading_of(probability=0.1, seams=(branch,)) is Reading.UNCLEAR, "they disagree"
    assert reading_of(probability=0.1, seams=(long,)) is Reading.LONG_SEAM_ONLY
    assert reading_of(probability=0.1) is Reading.NO_SEAM_SEEN
    assert reading_of(kind=Kind.NONE, probability=0.9) is Reading.UNCLEAR
    assert reading_of(kind_confidence=0.5) is Reading.UNCLEAR
    assert reading_of(kind_confidence=0.5, probability=0.9) is Reading.UNCLEAR, "like no fitting"
    poor = Quality(usable=False, problems=("blurred",))
    assert reading_of(quality=poor) is Reading.UNCLEAR, "a photo that could not show a seam"
    assert reading_of(quality=poor, probability=0.9) is Reading.FABRICATION_SEAM


def test_thresholds_must_rise() -> None:
    with pytest.raises(ValueError, match="must rise"):
        Thresholds(hold=0.3, doubt=0.5, kind=0.6)
    with pytest.raises(ValueError, match="no usable thresholds"):
        from_card({"thresholds": {"hold": 0.5}})


def test_paths_keep_pixel_centres() -> None:
    """The middle of a 2 × 2 block of photo pixels lies between them: closed form."""
    maps = _maps(4, 6)
    photo = open_photo(_png(96, 64), "x.png")
    assert (photo.width, photo.height) == (96, 64)
    # 6 map columns over 96 photo pixels: the first map pixel spans 0..15, its centre is 7.5.
    assert to_photo(np.array([[0.0, 0.0], [5.0, 3.0]]), maps, photo) == pytest.approx(
        np.array([[7.5, 7.5], [87.5, 55.5]])
    )


def test_network_size_is_a_multiple_and_keeps_the_shape() -> None:
    assert network_size(4032, 3024) == (512, 384)
    assert network_size(3024, 4032) == (384, 512)
    assert network_size(1000, 1000) == (512, 512)
    assert network_size(4000, 100) == (512, 32)


@pytest.mark.parametrize("kind", [Kind.ELBOW, Kind.TEE, Kind.REDUCER])
def test_with_a_perfect_network_the_seams_are_the_true_ones(kind: Kind) -> None:
    scene, picture = _fabricated(kind)
    reader = _perfect(picture, kind, fabricated=True)
    outcome = reader.read_bytes(png_bytes(picture), "piece.png")
    assert outcome.reading is not None
    found = {s.orientation for s in outcome.reading.seams}
    expected = Orientation.BRANCH if kind is Kind.TEE else Orientation.CIRCUMFERENTIAL
    assert expected in found
    assert outcome.reading.kind is kind
    assert outcome.reading.verdict.reading is Reading.FABRICATION_SEAM
    # Each path lies on pixels that the scene's truth calls by that orientation.
    truth = picture.truth.seam[0]
    for s in outcome.reading.seams:
        labels = [truth[round(y), round(x)] for x, y in s.path]
        assert np.mean(np.array(labels) == s.orientation.label) > 0.6
    if kind is not Kind.TEE:
        angles = [s.surface_angle_deg for s in outcome.reading.seams if s.orientation is expected]
        assert max(a for a in angles if a is not None) > 75
    assert scene.pieces[0].kind is kind


def test_json_has_the_contracts_keys() -> None:
    _, picture = _fabricated(Kind.ELBOW)
    reading = _perfect(picture, Kind.ELBOW, fabricated=True).read_bytes(png_bytes(picture), "a.png")
    assert reading.reading is not None
    data = json.loads(json.dumps(reading.reading.as_json()))
    assert list(data) == [
        "photo", "sha256", "width", "height", "fitting", "seams", "end_joints", "verdict",
        "quality", "shape", "seen_fraction", "model", "seconds",
    ]  # fmt: skip
    assert set(data["verdict"]) == {
        "reading", "confidence", "fabricated_probability", "reasons", "evidence",
        "next_step",
    }  # fmt: skip
    assert [each["sentence"] for each in data["verdict"]["evidence"]] == data["verdict"]["reasons"]
    assert set(data["verdict"]["evidence"][0]) == {"sentence", "place", "source"}
    assert set(data["seams"][0]) == {
        "orientation", "confidence", "length_px", "surface_angle_deg", "path", "surface",
    }  # fmt: skip
    assert set(data["seams"][0]["surface"]) == {
        "part", "along", "around_deg", "orientation", "angle_deg", "angle_uncertainty_deg",
        "length_share", "share_of",
    }  # fmt: skip


def test_a_photo_that_cannot_be_opened_gives_its_named_error() -> None:
    _, picture = _fabricated(Kind.ELBOW)
    outcome = _perfect(picture, Kind.ELBOW, fabricated=True).read_bytes(b"", "nothing.jpg")
    assert outcome.reading is None
    assert outcome.error is not None
    assert outcome.error.kind == "empty"


def _fabricated(kind: Kind):
    """A fabricated piece with a well visible weld, in the first scene that shows one."""
    for index in range(240):
        rng = np.random.default_rng([31, index])
        scene = sample_scene(rng, (kind,))
        piece = sample_piece(np.random.default_rng([32, index]), kind, Construction.FABRICATED)
        if piece.radius_mm < 80:  # on small pieces thick beads run into each other
            continue
        old = scene.pieces[0]
        piece = replace(piece, rotation=old.rotation, position_mm=old.position_mm)
        scene = replace(scene, pieces=(piece,))
        small = render(scene, 96, 64, native_stages())
        if small.pixels[0, 1] > 150 and small.contrast[0, 1] > VISIBLE_CONTRAST:
            return scene, render(scene, 384, 288, native_stages())
    raise AssertionError("no scene of 240 shows its weld")


def _perfect(picture, kind: Kind, *, fabricated: bool) -> Reader:
    maps = truth_maps(picture, kind, fabricated=fabricated)
    return Reader(
        network=lambda _pixels: maps,
        thresholds=THRESHOLDS,
        calibration=Calibration(weights=(1.0, 0.5, 0.5), offset=0.0),
        version="truth",
        sha256="0" * 64,
    )


def _maps(h: int, w: int) -> Maps:
    blank = np.zeros((h, w), np.float32)
    return Maps(
        part=np.zeros((h, w, 5), np.float32),
        seam=np.zeros((h, w, 4), np.float32),
        along=blank,
        around_cos=blank,
        around_sin=blank,
        kind=np.array([1, 0, 0, 0], np.float32),
        fabricated_logit=0.0,
    )


def _png(width: int, height: int) -> bytes:
    import cv2

    done, data = cv2.imencode(".png", np.zeros((height, width, 3), np.uint8))
    assert done
    return data.tobytes()


def test_the_network_sees_the_photo_at_its_size() -> None:
    photo = open_photo(_png(640, 480), "x.png")
    assert for_network(photo).shape == (384, 512, 3)


def test_reading_loads_neither_scipy_nor_scikit_image() -> None:
    """Importing them takes longer than a reading does."""
    code = (
        "import sys, vision.read, vision.sources\n"
        "print(sorted({name.partition('.')[0] for name in sys.modules} & {'scipy', 'skimage'}))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
