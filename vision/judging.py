"""From a network's maps to the reading of the photo: seams, kind, quality, verdict."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fittings.words import Kind
from vision.calibration import Calibration, Thresholds
from vision.curves import SurfaceCurve
from vision.end_joints import End, ends_in_view, goes_on_as_pipe, lies_on, runs_around, without
from vision.known import Known
from vision.network import Maps
from vision.photo import Photo
from vision.pose import find_pose
from vision.quality import judge
from vision.reading import EndJoint, Evidence, PhotoReading, Point, Seam
from vision.shape import Shape, measure_shape
from vision.surface import seam_curve, seen_fraction
from vision.tracing import Band, path_length, trace
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
    known: Known,
) -> PhotoReading:
    """The reading of a photo that the network saw as `pixels` ((H, W, 3) uint8 RGB).

    `model` is the weights' version and sha256, `began_s` when the reading began by
    `time.perf_counter`, `known` what a person says of the photo.
    """
    found = look(photo, pixels, maps, kind_threshold=thresholds.kind, known=known)
    kind, kind_confidence, shape = found.kind, found.kind_confidence, found.shape
    probability = calibration.probability(found.features)
    quality = judge(pixels, maps, kind, shape.detail)
    seams = tuple(measured(band, curve, maps, photo) for band, curve in found.own)
    if kind is Kind.NONE:
        seams = ()
    verdict = decide(
        kind=kind,
        kind_confidence=kind_confidence,
        seams=seams,
        probability=probability,
        quality=quality,
        thresholds=thresholds,
        others=shape_evidence(shape, maps, photo),
        outline_log_odds=shape.log_odds,
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
        end_joints=tuple(joint(band, end, maps, photo) for band, end in found.joined),
        shape=shape,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Look:
    """What a photo shows, before anything is made of it. `own` are the bands that are not joints to
    a pipe, each with its curve on the surface; `features` is the evidence for a fabrication."""

    kind: Kind
    kind_confidence: float
    own: tuple[tuple[Band, SurfaceCurve | None], ...]
    joined: tuple[tuple[Band, End], ...]
    shape: Shape
    features: tuple[float, ...]


def look(
    photo: Photo, pixels: NDArray[np.uint8], maps: Maps, *, kind_threshold: float, known: Known
) -> Look:
    """Traces and measures; see `judged` for the arguments."""
    bands = trace(maps)
    kind, kind_confidence = choose_kind(maps)
    pose = find_pose(maps, kind) if bands else None
    curves = [seam_curve(band, maps, kind, pose) for band in bands]
    joined = end_bands(pixels, maps, kind, bands, curves)
    at_ends = [band for band, _ in joined]
    own = tuple(each for each in zip(bands, curves, strict=True) if each[0] not in at_ends)
    # A joint to a pipe is none of the fitting's seams: the features see maps without it.
    held = without(maps, at_ends) if at_ends else maps
    whole = known.wants_shape and kind_confidence >= kind_threshold
    shape = measure_shape(photo, pixels, maps, kind, known, whole=whole)
    return Look(
        kind=kind,
        kind_confidence=kind_confidence,
        own=own,
        joined=tuple(joined),
        shape=shape,
        features=features(held, tuple(band for band, _ in own), shape.log_odds),
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


def shape_evidence(shape: Shape, maps: Maps, photo: Photo) -> tuple[Evidence, ...]:
    """What the shape says, its places in the photo."""
    told = []
    for source, sentence, place in shape.sentences():
        spots = [] if place is None else thinned(to_photo(np.array([place]), maps, photo), photo)
        told.append(Evidence(sentence=sentence, source=source, place=spots[0] if spots else None))
    return tuple(told)


def end_bands(
    pixels: NDArray[np.uint8],
    maps: Maps,
    kind: Kind,
    bands: Sequence[Band],
    curves: Sequence[SurfaceCurve | None],
) -> list[tuple[Band, End]]:
    """The bands that lie on an end behind which a pipe goes on."""
    found = []
    around = {curve.part for curve in curves if curve is not None and runs_around(curve)}
    for end in ends_in_view(maps, kind, around):
        on_it = [b for b, c in zip(bands, curves, strict=True) if lies_on(c, end, kind)]
        if on_it and goes_on_as_pipe(pixels, maps, end):
            found += [(band, end) for band in on_it]
    return found


def joint(band: Band, end: End, maps: Maps, photo: Photo) -> EndJoint:
    """A band on an end as a joint in the photo."""
    path = to_photo(band.path, maps, photo)
    return EndJoint(
        part=end.part,
        end=end.end,
        confidence=min(1.0, band.confidence),
        length_px=path_length(path),
        path=thinned(path, photo),
    )


def thinned(path: NDArray[np.float64], photo: Photo) -> tuple[Point, ...]:
    """At most about 80 points of a path, its ends among them, within the photo."""
    step = max(1, len(path) // 80)
    kept = path[::step]
    if (len(path) - 1) % step:
        kept = np.concatenate([kept, path[-1:]])
    kept = np.clip(kept, 0.0, [photo.width - 1.0, photo.height - 1.0])
    return tuple((float(x), float(y)) for x, y in kept)


def measured(band: Band, curve: SurfaceCurve | None, maps: Maps, photo: Photo) -> Seam:
    """A traced band and its curve as a seam of the photo."""
    path = to_photo(band.path, maps, photo)
    return Seam(
        orientation=band.orientation,
        confidence=min(1.0, band.confidence),
        length_px=path_length(path),
        surface_angle_deg=None if curve is None else curve.angle_deg,
        path=thinned(path, photo),
        curve=curve,
    )
