"""A photo's reading back from its JSON form; `PhotoReading.as_json` is the way there.

The form rounds its numbers, so what comes back is the reading as it was printed and recorded. A
reading recorded before the form had lines of evidence, curves and end joints comes back without.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fittings.words import EvidenceSource, Kind, Orientation, Part, Reading
from vision.curves import ShareOf, SurfaceCurve
from vision.reading import EndJoint, Evidence, PhotoReading, Point, Quality, Seam, Verdict


def photo_reading(facts: Mapping[str, Any]) -> PhotoReading:
    """The reading that `facts` tells. KeyError, TypeError or ValueError when it is no such form."""
    verdict, quality = facts["verdict"], facts["quality"]
    return PhotoReading(
        photo=facts["photo"],
        sha256=facts["sha256"],
        width=facts["width"],
        height=facts["height"],
        kind=Kind(facts["fitting"]["kind"]),
        kind_confidence=facts["fitting"]["confidence"],
        seams=tuple(_seam(each) for each in facts["seams"]),
        verdict=Verdict(
            reading=Reading(verdict["reading"]),
            confidence=verdict["confidence"],
            fabricated_probability=verdict["fabricated_probability"],
            evidence=_evidence(verdict),
            next_step=verdict["next_step"],
        ),
        quality=Quality(usable=quality["usable"], problems=tuple(quality["problems"])),
        seen_fraction=facts["seen_fraction"],
        model_version=facts["model"]["version"],
        model_sha256=facts["model"]["sha256"],
        seconds=facts["seconds"],
        end_joints=tuple(_end_joint(each) for each in facts.get("end_joints", ())),
    )


def _seam(facts: Mapping[str, Any]) -> Seam:
    curve = facts.get("surface")
    return Seam(
        orientation=Orientation(facts["orientation"]),
        confidence=facts["confidence"],
        length_px=facts["length_px"],
        surface_angle_deg=facts["surface_angle_deg"],
        path=_path(facts["path"]),
        curve=None if curve is None else _curve(curve),
    )


def _curve(facts: Mapping[str, Any]) -> SurfaceCurve:
    orientation, share_of = facts["orientation"], facts["share_of"]
    return SurfaceCurve(
        part=Part(facts["part"]),
        along=tuple(facts["along"]),
        around_deg=tuple(facts["around_deg"]),
        orientation=None if orientation is None else Orientation(orientation),
        angle_deg=facts["angle_deg"],
        angle_uncertainty_deg=facts["angle_uncertainty_deg"],
        length_share=facts["length_share"],
        share_of=None if share_of is None else ShareOf(share_of),
    )


def _end_joint(facts: Mapping[str, Any]) -> EndJoint:
    return EndJoint(
        part=Part(facts["part"]),
        end=facts["end"],
        confidence=facts["confidence"],
        length_px=facts["length_px"],
        path=_path(facts["path"]),
    )


def _evidence(verdict: Mapping[str, Any]) -> tuple[Evidence, ...]:
    if "evidence" not in verdict:
        seam_map, whole = EvidenceSource.SEAM_MAP, EvidenceSource.WHOLE_PICTURE
        return tuple(
            Evidence(sentence=each, source=seam_map if each.startswith(seam_map.title) else whole)
            for each in verdict["reasons"]
        )
    return tuple(
        Evidence(
            sentence=each["sentence"],
            source=EvidenceSource(each["source"]),
            place=None if each["place"] is None else (each["place"]["x"], each["place"]["y"]),
        )
        for each in verdict["evidence"]
    )


def _path(points: list[list[float]]) -> tuple[Point, ...]:
    return tuple((x, y) for x, y in points)
