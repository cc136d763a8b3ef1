"""A photo's reading back from its JSON form; `PhotoReading.as_json` is the way there.

The form rounds its numbers, so what comes back is the reading as it was printed and recorded.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fittings.words import Kind, Orientation, Reading
from vision.reading import PhotoReading, Quality, Seam, Verdict


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
            reasons=tuple(verdict["reasons"]),
            next_step=verdict["next_step"],
        ),
        quality=Quality(usable=quality["usable"], problems=tuple(quality["problems"])),
        seen_fraction=facts["seen_fraction"],
        model_version=facts["model"]["version"],
        model_sha256=facts["model"]["sha256"],
        seconds=facts["seconds"],
    )


def _seam(facts: Mapping[str, Any]) -> Seam:
    return Seam(
        orientation=Orientation(facts["orientation"]),
        confidence=facts["confidence"],
        length_px=facts["length_px"],
        surface_angle_deg=facts["surface_angle_deg"],
        path=tuple((x, y) for x, y in facts["path"]),
    )
