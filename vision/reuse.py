"""Photos that were submitted before: the same picture, cropped, resized, mirrored, recompressed,
brightened or slightly turned.

A photo's `signature` holds what is needed to know it again: the strongest points of a small grey
copy with their SIFT descriptors (Lowe 2004, "Distinctive image features from scale-invariant
keypoints", here with the square root of Arandjelović and Zisserman 2012), and a smaller grey copy.
`matches` finds in three steps:

1. an index of all descriptors (OpenCV's FLANN, randomised k-d trees) lets each photo, as it is and
   mirrored, vote for those whose points look like its own;
2. the points of the likeliest pairs must agree on one affine map that is nearly a similarity.
   Cropping, resizing, turning and mirroring are such maps; another view of the same piece, or of
   the same ground, is not;
3. laid over each other by that map, the two small copies must agree patch by patch, save for
   specks: another piece on the same ground before the same camera fails here.
"""

from __future__ import annotations

import itertools
import struct
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from fittings.words import percent
from vision.photo import Photo
from vision.reuse_overlay import agreement

_MAGIC = b"stS1"
_HEADER = struct.Struct("<4sHHHI")
"""Magic, (width, height) of the copy that the points lie in, number of points, bytes of the
smaller copy, a JPEG."""

POINT_SIDE_PX, GREY_SIDE_PX = 384, 192
"""Long sides of the copy that points are found in and of the copy that is kept."""

POINTS = 240
"""Most points of a signature, spread over _GRID by _GRID cells so that any part of the picture
keeps its own."""
_GRID = 4

VOTING_POINTS = 120
"""Points by which each photo asks the index, the strongest of each cell first."""

NEAR = 0.62
"""Distance of two descriptors (of length 1) up to which one votes for the other's photo."""
MIN_VOTES, SHORTLIST = 3, 8

RATIO = 0.85
"""A point's best partner must be nearer than this share of its second best (Lowe 2004: 0.8)."""
MIN_INLIERS = 7
REPROJECTION_PX = 2.5
MAX_STRETCH = 1.2
"""Largest ratio of the affine map's two scales: a resized copy may be squeezed a little."""


class SignatureError(ValueError):
    """Bytes that are no signature."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """Photos `first` and `second` (places in the sequence given) show the same picture.

    `inliers` points agree on the map from one to the other; `agreeing` is the share, 0 to 1, of
    their common, textured area that looks alike; `overlap` the share of the smaller picture that
    is in both.
    """

    first: int
    second: int
    inliers: int
    mirrored: bool
    agreeing: float
    overlap: float

    @property
    def sentence(self) -> str:
        """What was found, in plain words."""
        how = "mirrored" if self.mirrored else "not mirrored"
        return (
            f"The same picture: {self.inliers} points lie in the same places ({how}), "
            f"and {percent(self.agreeing)} of what both show looks alike."
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Signature:
    """`points` (N, 2) float32 and `descriptors` (N, 128) float32 of length 1, in the copy of
    `size` (width, height); `grey` (h, w) uint8, the smaller copy."""

    size: tuple[int, int]
    points: NDArray[np.float32]
    descriptors: NDArray[np.float32]
    grey: NDArray[np.uint8]


def signature(photo: Photo) -> bytes:
    """What is kept of a photo to know it again: about 35 kB, the same for the same pixels."""
    grey = np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY), np.uint8)
    copy = _shrunk(grey, POINT_SIDE_PX)
    height, width = copy.shape
    points, descriptors = _points(copy)
    kept, small = cv2.imencode(".jpg", _shrunk(grey, GREY_SIDE_PX), [cv2.IMWRITE_JPEG_QUALITY, 80])
    if not kept:
        raise SignatureError(f"{photo.name}: its small copy could not be written")
    small_bytes = small.tobytes()
    header = _HEADER.pack(_MAGIC, width, height, len(points), len(small_bytes))
    return header + small_bytes + points.astype("<f2").tobytes() + descriptors.tobytes()


def matches(signatures: Sequence[bytes], *, new_from: int = 0) -> list[Match]:
    """The pairs of photos that show the same picture, in the order of their places.

    Of the first `new_from` signatures, which were looked through before, no pairs among
    themselves are sought. SignatureError for bytes that are no signature, naming their place.
    """
    known = [_unpacked(data, place) for place, data in enumerate(signatures)]
    found = []
    for first, second, mirrored in _candidates(known, new_from):
        match = _verified(known, first, second, mirrored)
        if match is not None:
            found.append(match)
    best: dict[tuple[int, int], Match] = {}
    for match in found:
        pair = (match.first, match.second)
        if pair not in best or match.inliers > best[pair].inliers:
            best[pair] = match
    return [best[pair] for pair in sorted(best)]


def _shrunk(grey: NDArray[np.uint8], side_px: int) -> NDArray[np.uint8]:
    factor = side_px / max(grey.shape)
    if factor >= 1.0:
        return grey
    size = (max(1, round(grey.shape[1] * factor)), max(1, round(grey.shape[0] * factor)))
    return np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), np.uint8)


@cache
def _sift() -> cv2.SIFT:
    # A smooth painted piece before a plain wall has few strong points: take weak ones as well.
    # Without the precise upscaling every point lies a quarter pixel off, to the other side in the
    # mirrored picture.
    return cv2.SIFT.create(
        nfeatures=0, contrastThreshold=0.012, edgeThreshold=14, enable_precise_upscale=True
    )


def _points(grey: NDArray[np.uint8]) -> tuple[NDArray[np.float32], NDArray[np.uint8]]:
    """(N, 2) x, y and (N, 128) uint8, in rounds: the strongest of each cell, the second, …"""
    low, high = np.percentile(grey, (1, 99))
    stretched = np.clip((grey - low) * (255.0 / max(float(high - low), 16.0)), 0, 255)
    keypoints = _sift().detect(stretched.astype(np.uint8), None)
    height, width = grey.shape
    ranks: Counter[tuple[int, int]] = Counter()
    ordered = []
    for point in sorted(keypoints, key=lambda p: (-p.response, p.pt, p.angle)):
        cell = (int(_GRID * point.pt[0] / width), int(_GRID * point.pt[1] / height))
        ordered.append((ranks[cell], -point.response, point.pt, point.angle, point))
        ranks[cell] += 1
    chosen = [entry[-1] for entry in sorted(ordered, key=lambda e: e[:4])[:POINTS]]
    if not chosen:
        return np.zeros((0, 2), np.float32), np.zeros((0, 128), np.uint8)
    chosen, descriptors = _sift().compute(stretched.astype(np.uint8), chosen)
    return np.array([p.pt for p in chosen], np.float32), descriptors.astype(np.uint8)


def _unpacked(data: bytes, place: int) -> _Signature:
    try:
        magic, width, height, count, small_bytes = _HEADER.unpack_from(data)
    except struct.error as error:
        raise SignatureError(f"signature {place} is cut short") from error
    if magic != _MAGIC or len(data) != _HEADER.size + small_bytes + count * (4 + 128):
        raise SignatureError(f"signature {place} is damaged or of another version: make it again")
    end = _HEADER.size + small_bytes
    grey = cv2.imdecode(np.frombuffer(data[_HEADER.size : end], np.uint8), cv2.IMREAD_GRAYSCALE)
    if grey is None:
        raise SignatureError(f"signature {place} is damaged: make it again")
    points = np.frombuffer(data, "<f2", 2 * count, end).reshape(count, 2).astype(np.float32)
    raw = np.frombuffer(data, np.uint8, 128 * count, end + 4 * count).reshape(count, 128)
    rooted = np.sqrt(raw.astype(np.float32))
    rooted /= np.maximum(np.linalg.norm(rooted, axis=1, keepdims=True), 1e-6)
    return _Signature(
        size=(width, height), points=points, descriptors=rooted, grey=np.asarray(grey, np.uint8)
    )


def mirrored_descriptors(descriptors: NDArray[np.float32]) -> NDArray[np.float32]:
    """SIFT descriptors (N, 128) as the mirrored picture has them.

    OpenCV stores 4 rows by 4 columns of histograms of 8 directions, in the frame of the point's own
    direction. Mirroring turns that frame's second axis round: rows and directions change sign.
    """
    cells = descriptors.reshape(-1, 4, 4, 8)
    directions = (-np.arange(8)) % 8
    return np.ascontiguousarray(cells[:, ::-1][..., directions].reshape(-1, 128))


def _candidates(known: Sequence[_Signature], new_from: int) -> list[tuple[int, int, bool]]:
    """(first, second, mirrored) of the pairs worth a closer look."""
    voting = [each.descriptors[:VOTING_POINTS] for each in known]
    owner = np.repeat(np.arange(len(known)), [len(v) for v in voting])
    if len(owner) < 2 * MIN_VOTES:
        return []
    cv2.setRNGSeed(1)  # the trees are random: the same photos must give the same answer
    index = cv2.flann.Index()
    every = np.concatenate(voting)
    index.build(every, {"algorithm": 1, "trees": 4})
    neighbours = min(len(every), 6)
    pairs: set[tuple[int, int, bool]] = set()
    for place, mirrored in itertools.product(range(new_from, len(known)), (False, True)):
        if not len(voting[place]):
            continue
        asked = mirrored_descriptors(voting[place]) if mirrored else voting[place]
        near, squared = index.knnSearch(asked, neighbours, params={"checks": 96})
        owners = owner[near]
        good = (squared < NEAR**2) & (owners != place)
        # One point has one vote for each photo.
        ballots = {
            (row, int(who)) for row, who in zip(np.nonzero(good)[0], owners[good], strict=True)
        }
        votes = Counter(who for _, who in ballots)
        for other, count in votes.most_common(SHORTLIST):
            if count >= MIN_VOTES:
                pairs.add((min(place, other), max(place, other), mirrored))
    return sorted(pairs)


def _verified(known: Sequence[_Signature], first: int, second: int, mirrored: bool) -> Match | None:
    """The match of a candidate pair, None where it does not hold."""
    a, b = known[first], known[second]
    points, descriptors, grey = a.points, a.descriptors, a.grey
    if mirrored:
        points = np.stack([a.size[0] - 1.0 - points[:, 0], points[:, 1]], 1).astype(np.float32)
        descriptors, grey = mirrored_descriptors(descriptors), np.ascontiguousarray(grey[:, ::-1])
    pairs = _partners(descriptors, b.descriptors)
    if len(pairs) < MIN_INLIERS:
        return None
    matrix, inside = cv2.estimateAffine2D(
        points[pairs[:, 0]],
        b.points[pairs[:, 1]],
        ransacReprojThreshold=REPROJECTION_PX,
        maxIters=3000,
        confidence=0.999,
    )
    if matrix is None:
        return None
    # Several partners may share one place: count places.
    agreed = pairs[inside.ravel() > 0]
    inliers = len({tuple(np.rint(b.points[j] / 2)) for _, j in agreed})
    scales = np.linalg.svd(matrix[:, :2], compute_uv=False)
    flipped = np.linalg.det(matrix[:, :2]) <= 0
    if inliers < MIN_INLIERS or flipped or scales[0] > MAX_STRETCH * scales[1]:
        return None
    seen = agreement(grey, a.size, b.grey, b.size, np.asarray(matrix, np.float64))
    if not seen.same:
        return None
    return Match(
        first=first,
        second=second,
        inliers=inliers,
        mirrored=mirrored,
        agreeing=seen.agreeing,
        overlap=seen.overlap,
    )


def _partners(a: NDArray[np.float32], b: NDArray[np.float32]) -> NDArray[np.intp]:
    """(M, 2) indices of descriptors that are each other's best, and clearly so."""
    if len(a) < 2 or len(b) < 2:
        return np.zeros((0, 2), np.intp)
    likeness = a @ b.T
    rows = np.arange(len(a))
    best = likeness.argmax(axis=1)
    nearest = np.sqrt(np.maximum(2.0 - 2.0 * likeness[rows, best], 0.0))
    likeness_without = likeness.copy()
    likeness_without[rows, best] = -1.0
    second = np.sqrt(np.maximum(2.0 - 2.0 * likeness_without.max(axis=1), 0.0))
    mutual = likeness.argmax(axis=0)[best] == rows
    good = mutual & (nearest < RATIO * second)
    return np.stack([rows[good], best[good]], 1)
