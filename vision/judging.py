"""From a network's maps to the reading of the photo: seams, kind, quality, verdict."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fittings.words import EvidenceSource, Kind
from vision.calibration import Calibration, Thresholds
from vision.curves import SurfaceCurve
from vision.end_joints import End, ends_in_view, goes_on_as_pipe, lies_on, runs_beside, without
from vision.known import Known
from vision.network import Maps
from vision.photo import Photo
from vision.pipe_beyond import TOLD_FROM, pipe_probability
from vision.pose import find_pose
from vision.quality import judge
from vision.reading import EndJoint, Evidence, PhotoReading, Point, Seam
from vision.shape import Shape, measure_shape
from vision.surface import seam_curve, seen_fraction
from vision.tracing import Band, path_length, trace
from vision.verdict import decide, features

LEAST_SURE = 0.45
"""A line of which the seam map is less sure is none: of 45 such, on 639 tuning scenes, 30 lay on no
seam, of the other 385 89 did."""


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
    joints = tuple(joint(each, maps, photo) for each in (*found.joined, *found.piped))
    verdict = decide(
        kind=kind,
        kind_confidence=kind_confidence,
        seams=seams,
        probability=probability,
        quality=quality,
        thresholds=thresholds,
        others=(*shape_evidence(shape, maps, photo), *joint_evidence(joints)),
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
        end_joints=joints,
        shape=shape,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Joined:
    """A place (N, 2) on the maps where an end is joined to a pipe, and how sure that is; `band` is
    the line traced there, if one was."""

    end: End
    path: NDArray[np.float64]
    confidence: float
    band: Band | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Look:
    """What a photo shows, before anything is made of it. `own` are the bands sure enough to be told
    of that are not joints to a pipe, each with its curve on the surface; `joined` those that are,
    `piped` the ends told for joined without such a band, where it is told what fitting this is;
    `features` is the evidence for a fabrication."""

    kind: Kind
    kind_confidence: float
    own: tuple[tuple[Band, SurfaceCurve | None], ...]
    joined: tuple[Joined, ...]
    piped: tuple[Joined, ...]
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
    ends = ends_in_view(maps, kind)
    joined = end_bands(pixels, maps, kind, ends, bands, curves)
    at_ends = [each.band for each in joined if each.band is not None]
    own = tuple(
        (band, curve)
        for band, curve in zip(bands, curves, strict=True)
        if band not in at_ends and band.confidence >= LEAST_SURE
    )
    # A joint to a pipe is none of the fitting's seams: the features see maps without it.
    held = without(maps, at_ends) if at_ends else maps
    kind_is_told = kind_confidence >= kind_threshold
    whole = known.wants_shape and kind_is_told
    shape = measure_shape(photo, pixels, maps, kind, known, whole=whole)
    return Look(
        kind=kind,
        kind_confidence=kind_confidence,
        own=own,
        joined=tuple(joined),
        piped=tuple(piped_ends(pixels, maps, ends, bands) if kind_is_told else ()),
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
    ends: Sequence[End],
    bands: Sequence[Band],
    curves: Sequence[SurfaceCurve | None],
) -> list[Joined]:
    """The bands that lie on an end behind which a pipe goes on."""
    found = []
    for end in ends:
        on_it = [b for b, c in zip(bands, curves, strict=True) if lies_on(c, end, kind)]
        if on_it and goes_on_as_pipe(pixels, maps, end):
            found += [
                Joined(end=end, path=band.path, confidence=min(1.0, band.confidence), band=band)
                for band in on_it
            ]
    return found


def piped_ends(
    pixels: NDArray[np.uint8], maps: Maps, ends: Sequence[End], bands: Sequence[Band]
) -> list[Joined]:
    """The ends behind which a pipe goes on by the look of them, where no line is traced.

    A line there has been taken for the joint, or it is a seam of the piece and stays one: then the
    maps may well have the end in the wrong place, and no joint is told.
    """
    found = []
    for end in ends:
        if any(runs_beside(band, end) for band in bands):
            continue
        probability = pipe_probability(pixels, maps, end)
        if probability >= TOLD_FROM:
            found.append(Joined(end=end, path=end.path, confidence=probability))
    return found


def joint(joined: Joined, maps: Maps, photo: Photo) -> EndJoint:
    """An end's joint in the photo."""
    path = to_photo(joined.path, maps, photo)
    return EndJoint(
        part=joined.end.part,
        end=joined.end.end,
        confidence=joined.confidence,
        length_px=path_length(path),
        path=thinned(path, photo),
    )


def joint_evidence(joints: Sequence[EndJoint]) -> tuple[Evidence, ...]:
    """One sentence for each end that is told for joined, at its middle."""
    source = EvidenceSource.END_JOINT
    first = {(each.part, each.end): each for each in reversed(joints)}
    return tuple(
        Evidence(
            sentence=f"{source.title}: a pipe seems to go on beyond this end. A weld there joins "
            "it to that pipe and is not counted against the piece.",
            source=source,
            place=each.path[len(each.path) // 2] if each.path else None,
        )
        for each in first.values()
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
