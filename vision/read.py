"""A photo in, its advisory reading out: the one way that command line, pages and exam all take."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from fittings.words import Kind
from models.weights import WeightsError, load_weights
from vision.errors import PhotoUnreadable
from vision.network import Maps, Network, OnnxNetwork, network_size
from vision.photo import Photo, open_photo
from vision.quality import judge
from vision.reading import PhotoError, PhotoReading, Seam
from vision.surface import seam_angle_deg, seen_fraction
from vision.tracing import Band, trace
from vision.verdict import Calibration, Thresholds, decide, features, from_card


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of one photo: a reading, or the error that stands in its place."""

    reading: PhotoReading | None
    error: PhotoError | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reader:
    """A network with its calibration. `version` and `sha256` are the weights'."""

    network: Network
    thresholds: Thresholds
    calibration: Calibration
    version: str
    sha256: str

    @staticmethod
    def load() -> Reader:
        """The reader with the shipped weights; WeightsError when they are missing or altered."""
        weights = load_weights()
        try:
            thresholds, calibration = from_card(weights.card)
        except ValueError as error:
            raise WeightsError(f"the shipped weights cannot be used: {error}") from error
        return Reader(
            network=OnnxNetwork(weights),
            thresholds=thresholds,
            calibration=calibration,
            version=weights.version,
            sha256=weights.sha256,
        )

    def read_bytes(self, data: bytes, name: str) -> Outcome:
        """Open and read a photo's bytes; a photo that cannot be opened gives its named error."""
        began_s = time.perf_counter()
        try:
            photo = open_photo(data, name, max_side_px=OPEN_SIDE_PX)
        except PhotoUnreadable as error:
            return Outcome(reading=None, error=error.as_photo_error())
        return Outcome(reading=self.read(photo, began_s=began_s), error=None)

    def read(self, photo: Photo, *, began_s: float | None = None) -> PhotoReading:
        """Read an opened photo."""
        began_s = time.perf_counter() if began_s is None else began_s
        pixels = for_network(photo)
        maps = self.network(pixels)
        bands = trace(maps)
        kind, kind_confidence = choose_kind(maps)
        probability = self.calibration.probability(features(maps, bands))
        quality = judge(pixels, maps, kind)
        seams = tuple(measured(band, maps, kind, photo) for band in bands)
        if kind is Kind.NONE:
            seams = ()
        verdict = decide(
            kind=kind,
            kind_confidence=kind_confidence,
            seams=seams,
            probability=probability,
            quality=quality,
            thresholds=self.thresholds,
        )
        return PhotoReading(
            photo=photo.name,
            sha256=photo.sha256,
            width=photo.width,
            height=photo.height,
            kind=kind,
            kind_confidence=kind_confidence,
            seams=seams,
            verdict=verdict,
            quality=quality,
            seen_fraction=seen_fraction(maps, kind),
            model_version=self.version,
            model_sha256=self.sha256,
            seconds=time.perf_counter() - began_s,
        )


OPEN_SIDE_PX = 1024
"""Photos are decoded no larger than this: twice what the network looks at."""


def for_network(photo: Photo) -> NDArray[np.uint8]:
    """The photo at the network's size, (H, W, 3) uint8 RGB."""
    size = network_size(photo.width, photo.height)
    rows, columns = photo.pixels.shape[:2]
    shrinks = size[0] <= columns and size[1] <= rows
    how = cv2.INTER_AREA if shrinks else cv2.INTER_LINEAR
    return np.ascontiguousarray(cv2.resize(photo.pixels, size, interpolation=how))


def choose_kind(maps: Maps) -> tuple[Kind, float]:
    """The likeliest kind and its probability."""
    best = int(maps.kind.argmax())
    return list(Kind)[best], float(maps.kind[best])


def to_photo(path: NDArray[Any], maps: Maps, photo: Photo) -> NDArray[np.float64]:
    """Map pixels (N, 2) as photo pixels, pixel centres to pixel centres."""
    height, width = maps.shape
    scale = np.array([photo.width / width, photo.height / height])
    return (np.asarray(path, np.float64) + 0.5) * scale - 0.5


def measured(band: Band, maps: Maps, kind: Kind, photo: Photo) -> Seam:
    """A traced band as a seam of the photo."""
    path = to_photo(band.path, maps, photo)
    step = max(1, len(path) // 80)
    kept = (
        path[::step] if (len(path) - 1) % step == 0 else np.concatenate([path[::step], path[-1:]])
    )
    kept = np.clip(kept, 0.0, [photo.width - 1.0, photo.height - 1.0])
    return Seam(
        orientation=band.orientation,
        confidence=min(1.0, band.confidence),
        length_px=float(np.hypot(*np.diff(path, axis=0).T).sum()),
        surface_angle_deg=seam_angle_deg(band, maps, kind),
        path=tuple((float(x), float(y)) for x, y in kept),
    )
