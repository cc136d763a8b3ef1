"""What a photo was found to say: plain results, and their one JSON form."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fittings.words import EvidenceSource, Kind, Orientation, Part, Reading
from vision.curves import SurfaceCurve

if TYPE_CHECKING:  # what is told about a photo stays light to import
    from vision.shape import Shape

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Seam:
    """One traced seam.

    `path` is ((x, y), …) in pixels of the photo as a person sees it. `surface_angle_deg` is the
    angle on the surface between the seam and the part's centreline, 0 along it and 90 around it;
    None where the surface map could not decide it. `orientation` is the seam map's opinion, that of
    `curve` the geometry's.
    """

    orientation: Orientation
    confidence: float
    length_px: float
    surface_angle_deg: float | None
    path: tuple[Point, ...]
    curve: SurfaceCurve | None = None

    @property
    def geometric_orientation(self) -> Orientation | None:
        """What its place on the surface alone says; None where that could not be told."""
        return None if self.curve is None else self.curve.orientation

    @property
    def middle(self) -> Point:
        """The point of the path halfway along its list of points."""
        return self.path[len(self.path) // 2]


@dataclass(frozen=True, slots=True, kw_only=True)
class EndJoint:
    """The joint between an end of the fitting and a pipe beyond it: no seam of the fitting.

    `end` is the end's `along` on its part, 0 or 1; the rest as a seam's.
    """

    part: Part
    end: int
    confidence: float
    length_px: float
    path: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """One line of evidence: a plain sentence with its figures, where it comes from, and the place
    (x, y) in the photo to look at; None for what speaks of the whole picture."""

    sentence: str
    source: EvidenceSource
    place: Point | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The advisory reading of one photo, with the evidence for it in plain sentences."""

    reading: Reading
    confidence: float
    fabricated_probability: float
    evidence: tuple[Evidence, ...]
    next_step: str

    @property
    def reasons(self) -> tuple[str, ...]:
        """The sentences of the evidence, in its order."""
        return tuple(each.sentence for each in self.evidence)


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
    end_joints: tuple[EndJoint, ...] = ()
    shape: Shape | None = None

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
                    "surface_angle_deg": _rounded(seam.surface_angle_deg, 1),
                    "path": _whole(seam.path),
                    "surface": None if seam.curve is None else _curve_json(seam.curve),
                }
                for seam in self.seams
            ],
            "end_joints": [
                {
                    "part": joint.part.value,
                    "end": joint.end,
                    "confidence": round(joint.confidence, 4),
                    "length_px": round(joint.length_px),
                    "path": _whole(joint.path),
                }
                for joint in self.end_joints
            ],
            "verdict": {
                "reading": self.verdict.reading.value,
                "confidence": round(self.verdict.confidence, 4),
                "fabricated_probability": round(self.verdict.fabricated_probability, 4),
                "reasons": list(self.verdict.reasons),
                "evidence": [_evidence_json(each) for each in self.verdict.evidence],
                "next_step": self.verdict.next_step,
            },
            "quality": {"usable": self.quality.usable, "problems": list(self.quality.problems)},
            "shape": None if self.shape is None else self.shape.as_json(),
            "seen_fraction": round(self.seen_fraction, 4),
            "model": {"version": self.model_version, "sha256": self.model_sha256},
            "seconds": round(self.seconds, 4),
        }


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def _whole(path: tuple[Point, ...]) -> list[list[int]]:
    return [[round(x), round(y)] for x, y in path]


def _curve_json(curve: SurfaceCurve) -> dict[str, Any]:
    return {
        "part": curve.part.value,
        "along": [round(value, 4) for value in curve.along],
        "around_deg": [round(value, 1) for value in curve.around_deg],
        "orientation": None if curve.orientation is None else curve.orientation.value,
        "angle_deg": _rounded(curve.angle_deg, 1),
        "angle_uncertainty_deg": round(curve.angle_uncertainty_deg, 1),
        "length_share": _rounded(curve.length_share, 3),
        "share_of": None if curve.share_of is None else curve.share_of.value,
    }


def _evidence_json(evidence: Evidence) -> dict[str, Any]:
    place = evidence.place
    return {
        "sentence": evidence.sentence,
        "place": None if place is None else {"x": round(place[0]), "y": round(place[1])},
        "source": evidence.source.value,
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
