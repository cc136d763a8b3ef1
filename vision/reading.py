"""What a photo was found to say: plain results, and their one JSON form."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fittings.words import Kind, Orientation, Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Seam:
    """One traced seam.

    `path` is ((x, y), …) in pixels of the photo as a person sees it. `surface_angle_deg` is the
    angle on the surface between the seam and the part's centreline, 0 along it and 90 around it;
    None where the surface map could not decide it.
    """

    orientation: Orientation
    confidence: float
    length_px: float
    surface_angle_deg: float | None
    path: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The advisory reading of one photo, with the evidence for it in plain sentences."""

    reading: Reading
    confidence: float
    fabricated_probability: float
    reasons: tuple[str, ...]
    next_step: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Quality:
    """Whether the photo could have shown a seam, and what stands in the way."""

    usable: bool
    problems: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoReading:
    """All that one photo was found to say."""

    photo: str
    sha256: str
    width: int
    height: int
    kind: Kind
    kind_confidence: float
    seams: tuple[Seam, ...]
    verdict: Verdict
    quality: Quality
    seen_fraction: float
    model_version: str
    model_sha256: str
    seconds: float

    def as_json(self) -> dict[str, Any]:
        """The object that `seamtriage screen --json` prints; numbers rounded, JSON types only."""
        return {
            "photo": self.photo,
            "sha256": self.sha256,
            "width": self.width,
            "height": self.height,
            "fitting": {"kind": self.kind.value, "confidence": round(self.kind_confidence, 4)},
            "seams": [
                {
                    "orientation": seam.orientation.value,
                    "confidence": round(seam.confidence, 4),
                    "length_px": round(seam.length_px),
                    "surface_angle_deg": None
                    if seam.surface_angle_deg is None
                    else round(seam.surface_angle_deg, 1),
                    "path": [[round(x), round(y)] for x, y in seam.path],
                }
                for seam in self.seams
            ],
            "verdict": {
                "reading": self.verdict.reading.value,
                "confidence": round(self.verdict.confidence, 4),
                "fabricated_probability": round(self.verdict.fabricated_probability, 4),
                "reasons": list(self.verdict.reasons),
                "next_step": self.verdict.next_step,
            },
            "quality": {"usable": self.quality.usable, "problems": list(self.quality.problems)},
            "seen_fraction": round(self.seen_fraction, 4),
            "model": {"version": self.model_version, "sha256": self.model_sha256},
            "seconds": round(self.seconds, 4),
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoError:
    """A photo that gave no reading: `kind` is a stable word, `message` says what to do."""

    photo: str
    kind: str
    message: str

    def as_json(self) -> dict[str, Any]:
        """The object that stands for this photo on the `--json` stream."""
        return {"photo": self.photo, "error": {"kind": self.kind, "message": self.message}}
