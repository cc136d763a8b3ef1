"""Reused photos: altered copies of the sample pictures are found, other pictures are not."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from tests.stand_in import encoded
from vision.photo import open_photo
from vision.reuse import SignatureError, _points, matches, mirrored_descriptors, signature
from vision.reuse_overlay import agreement

SAMPLES = Path(__file__).parents[2] / "ui" / "samples"
COUNT = 3

Pixels = NDArray[np.uint8]


@cache
def sample(number: int) -> Pixels:
    """(480, 640, 3) uint8, RGB."""
    pixels = cv2.imread(str(SAMPLES / f"piece-{number + 1:02d}.jpg"))
    small = cv2.resize(pixels, (640, 480), interpolation=cv2.INTER_AREA)
    return np.ascontiguousarray(small[..., ::-1])


def signed(pixels: Pixels, **options: object) -> bytes:
    form = "JPEG" if options else "PNG"
    return signature(open_photo(encoded(pixels, form, **options), "photo"))


@cache
def originals() -> tuple[bytes, ...]:
    return tuple(signed(sample(number)) for number in range(COUNT))


def resized(pixels: Pixels, factor: float) -> Pixels:
    return cv2.resize(pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)


def turned(pixels: Pixels, angle_deg: float) -> Pixels:
    matrix = cv2.getRotationMatrix2D((319.5, 239.5), angle_deg, 1.12)
    return np.asarray(cv2.warpAffine(pixels, matrix, (640, 480)), np.uint8)


def brighter(pixels: Pixels) -> Pixels:
    return np.clip(1.4 * pixels.astype(float) + 15, 0, 255).astype(np.uint8)


ALTERED: dict[str, Callable[[Pixels], bytes]] = {
    "recompressed": lambda p: signed(p, quality=35),
    "resized": lambda p: signed(resized(p, 0.55)),
    "squeezed": lambda p: signed(cv2.resize(p, (600, 500))),
    "mirrored": lambda p: signed(np.ascontiguousarray(p[:, ::-1])),
    "cropped to 60 %": lambda p: signed(np.ascontiguousarray(p[96:384, 192:576])),
    "brightened": lambda p: signed(brighter(p)),
    "darkened": lambda p: signed((0.5 * p).astype(np.uint8)),
    "turned by 4°": lambda p: signed(turned(p, 4.0)),
    "turned by 90°": lambda p: signed(np.ascontiguousarray(np.rot90(p))),
    "stamped": lambda p: signed(
        cv2.putText(p.copy(), "2024-05-17 08:41", (20, 460), 0, 0.5, (250, 200, 60), 1)
    ),
    "cropped, mirrored, brightened, small, quality 50": lambda p: signed(
        resized(brighter(np.ascontiguousarray(p[40:400, 30:500][:, ::-1])), 0.8), quality=50
    ),
}


def test_different_pictures_do_not_match() -> None:
    assert matches(originals()) == []


@pytest.mark.parametrize("how", ALTERED)
def test_altered_copies_are_found(how: str) -> None:
    """Each copy with its original, and with no other picture."""
    copies = [ALTERED[how](sample(number)) for number in range(COUNT)]
    found = matches([*originals(), *copies], new_from=COUNT)
    assert [(m.first, m.second - COUNT) for m in found] == [(n, n) for n in range(COUNT)]
    assert all(m.mirrored is ("mirrored" in how) for m in found)
    assert all("same picture" in m.sentence and f"{m.inliers} points" in m.sentence for m in found)


def test_another_piece_in_the_same_place_is_another_picture() -> None:
    """The middle tenth of the picture shows something else; the ground is the same."""
    for number in range(COUNT):
        other = sample(number).copy()
        stranger = sample((number + 1) % COUNT)
        other[165:315, 215:425] = stranger[165:315, 215:425]
        assert matches([originals()[number], signed(other)]) == []


def test_another_view_of_a_plane_is_another_picture() -> None:
    """Seen from elsewhere a plane is a homography away, which is no crop and no turn."""
    corners = np.array([[0, 0], [640, 0], [640, 480], [0, 480]], np.float32)
    other = np.array([[150, 60], [560, 0], [640, 480], [0, 380]], np.float32)
    matrix = cv2.getPerspectiveTransform(corners, other)
    for number in range(COUNT):
        moved = cv2.warpPerspective(sample(number), matrix, (640, 480))
        assert matches([originals()[number], signed(np.asarray(moved, np.uint8))]) == []


def test_a_plane_from_afar_is_another_picture() -> None:
    """Seen slanting from far away flat ground is squeezed one way, which no copy is so much."""
    for number in range(COUNT):
        slanting = cv2.resize(sample(number), (640, 330), interpolation=cv2.INTER_AREA)
        assert matches([originals()[number], signed(np.asarray(slanting, np.uint8))]) == []


def test_mirrored_descriptors_are_those_of_the_mirrored_picture() -> None:
    """OpenCV's own, computed on the mirrored pixels, where both find the same points. On a sharp
    sample: the points of soft ones shift by more than a tenth of a pixel when mirrored."""
    grey = cv2.cvtColor(sample(7), cv2.COLOR_RGB2GRAY)[:360, :480]
    points, descriptors = _points(np.ascontiguousarray(grey))
    other_points, others = _points(np.ascontiguousarray(grey[:, ::-1]))
    mirrored = np.stack([grey.shape[1] - 1 - points[:, 0], points[:, 1]], 1)
    away = np.linalg.norm(mirrored[:, None] - other_points[None], axis=2)
    same, place = away.min(axis=1) < 0.1, away.argmin(axis=1)
    assert same.mean() > 0.8
    ours = mirrored_descriptors(descriptors.astype(np.float32))[same]
    far = np.linalg.norm(ours - others[place][same].astype(np.float32), axis=1)
    # Points with two directions may pair up crosswise: those are the few that differ.
    assert np.median(far) < 25, "of descriptors about 512 long"
    unmirrored = descriptors.astype(np.float32)[same] - others[place][same]
    assert np.median(np.linalg.norm(unmirrored, axis=1)) > 100


def test_signatures_are_small_and_the_same_for_the_same_pixels() -> None:
    assert signed(sample(0)) == signed(sample(0).copy())
    assert all(8_000 < len(each) < 45_000 for each in originals())


def test_only_pairs_with_a_new_photo_are_sought() -> None:
    twice = [originals()[0], originals()[0], originals()[1]]
    assert [(m.first, m.second) for m in matches(twice)] == [(0, 1)]
    assert matches(twice, new_from=2) == []


def test_few_or_featureless_photos_give_no_match() -> None:
    plain = signed(np.full((300, 400, 3), 128, np.uint8))
    assert matches([]) == []
    assert matches([plain]) == []
    assert matches([plain, plain]) == []
    assert matches([plain, originals()[0]]) == []


@pytest.mark.parametrize("damage", [b"", b"stS1", b"x" * 200])
def test_damaged_signatures_name_their_place(damage: bytes) -> None:
    with pytest.raises(SignatureError, match="signature 1"):
        matches([originals()[0], damage])
    with pytest.raises(SignatureError, match="signature 1"):
        matches([originals()[0], originals()[1][:-40]])


def test_agreement_of_a_picture_with_itself_and_with_another() -> None:
    grey = [cv2.cvtColor(sample(n), cv2.COLOR_RGB2GRAY)[::3, ::3] for n in (0, 1)]
    size = (640, 480)
    unmoved = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    same = agreement(grey[0], size, grey[0], size, unmoved)
    assert same.same
    assert same.agreeing == pytest.approx(1.0)
    assert same.overlap == pytest.approx(1.0, abs=0.02)
    assert not agreement(grey[0], size, grey[1], size, unmoved).same
    shifted = np.array([[1.0, 0.0, 600.0], [0.0, 1.0, 0.0]])
    assert not agreement(grey[0], size, grey[0], size, shifted).same
