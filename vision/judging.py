"""From a network's maps to the reading of the photo: seams, kind, quality, verdict."""

from __future__ import annotations

import time
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fittings.words import Kind
from vision.calibration import Calibration, Thresholds
from vision.network import Maps
from vision.photo import Photo
from vision.quality import judge
from vision.reading import PhotoReading, Seam
from vision.surface import seam_angle_deg, seen_fraction
from vision.tracing import Band, trace
from vision.verdict import decide, features


def judged(
    photo: Photo,
    pixels: NDArray[np.uint8],
    maps: Maps,
    *,
    thresholds: Thresholds,
    calibration: Calibration,
    model: tuple[str, str],
    began_s: float,
) -> PhotoReading:
    """The reading of a photo that the network saw as `pixels` ((H, W, 3) uint8 RGB).

    `model` is the weights' version and sha256, `began_s` when the reading began by
    `time.perf_counter`.
    """
    bands = trace(maps)
    kind, kind_confidence = choose_kind(maps)
    probability = calibration.probability(features(maps, bands))
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
        thresholds=thresholds,
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
        model_version=model[0],
        model_sha256=model[1],
        seconds=time.perf_counter() - began_s,
    )


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
