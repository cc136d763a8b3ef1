"""From evidence to a reading. The probability is calibrated; the reading is a threshold on it."""

from __future__ import annotations

import math

import numpy as np

from fittings.checks import settling_check
from fittings.words import Kind, Orientation, Reading, percent
from vision.calibration import Thresholds
from vision.network import Maps
from vision.reading import Quality, Seam, Verdict
from vision.tracing import Band, seam_strength

_TOP_SHARE = 0.0012
"""Share of the picture's pixels whose mean makes a seam map's evidence: about what a visible seam
covers at least (300 of 384 × 288 pixels is 0.0027)."""


def features(maps: Maps, bands: tuple[Band, ...]) -> tuple[float, ...]:
    """The evidence for a fabrication, each in log-odds or log length, in the order of
    `vision.calibration.FEATURES`."""
    fabrication = seam_strength(maps)[..., 1:].sum(axis=-1).ravel()
    count = max(8, int(_TOP_SHARE * fabrication.size))
    top = float(np.partition(fabrication, -count)[-count:].mean())
    top = float(np.clip(top, 1e-3, 1 - 1e-3))
    length = sum(b.length * b.confidence for b in bands if b.orientation.speaks_of_fabrication)
    return (
        float(np.clip(maps.fabricated_logit, -12.0, 12.0)),
        math.log(top / (1.0 - top)),
        float(np.log1p(20.0 * length / max(maps.shape))),
    )


def decide(
    *,
    kind: Kind,
    kind_confidence: float,
    seams: tuple[Seam, ...],
    probability: float,
    quality: Quality,
    thresholds: Thresholds,
) -> Verdict:
    """The advisory reading with its reasons; never one that accepts a piece."""
    across = [s for s in seams if s.orientation.speaks_of_fabrication]
    along = [s for s in seams if s.orientation is Orientation.LONGITUDINAL]
    reasons = [_sentence(seam) for seam in (*across, *along)[:6]]
    if len(seams) > 6:
        reasons.append(f"{len(seams) - 6} more lines are drawn on the picture.")
    likely = percent(probability)
    if kind is Kind.NONE:
        reading, confidence = Reading.UNCLEAR, kind_confidence
        reasons = ["Whole picture: no elbow, tee or reducer was found in it."]
    elif kind_confidence < thresholds.kind:
        # Before anything else: what is unlike all that the network has learnt from is often unlike
        # a sound fitting too.
        reading, confidence = Reading.UNCLEAR, 1.0 - kind_confidence
        reasons.append(
            f"Whole picture: it could not be told with confidence what fitting this is "
            f"({kind.value} at {percent(kind_confidence)}), so a fabrication, put at {likely}, is "
            "not called."
        )
    elif probability >= thresholds.hold:
        reading, confidence = Reading.FABRICATION_SEAM, probability
        reasons.append(
            f"Whole picture: seam map and shape together put a fabrication at {likely}."
            if across
            else f"Whole picture: its shape and surface resemble a fabrication at {likely}, "
            "though no single seam could be traced; look at the corners of the outline."
        )
    elif not quality.usable:
        reading, confidence = Reading.UNCLEAR, 1.0 - probability
        reasons.append("The photo could not have shown a fine seam, so it decides nothing.")
    elif across:
        reading, confidence = Reading.UNCLEAR, 1.0 - probability
        reasons.append(
            f"Whole picture: a fabrication is put at only {likely}, which does not agree with the "
            "line drawn; look at it yourself."
        )
    elif probability >= thresholds.doubt:
        reading, confidence = Reading.UNCLEAR, 1.0 - probability
        reasons.append(
            f"Whole picture: a fabrication is put at {likely}, too much to pass over and too "
            "little to call."
        )
    elif along:
        reading, confidence = Reading.LONG_SEAM_ONLY, 1.0 - probability
        reasons.append(
            "Whole picture: no seam around the part or at an outlet's root was seen; a "
            f"fabrication is put at {likely}."
        )
    else:
        reading, confidence = Reading.NO_SEAM_SEEN, 1.0 - probability
        reasons.append(
            f"Whole picture: no seam was seen; a fabrication is put at {likely}. A weld ground "
            "flush and painted would look the same."
        )
    return Verdict(
        reading=reading,
        confidence=float(np.clip(confidence, 0.0, 1.0)),
        fabricated_probability=probability,
        reasons=tuple(reasons),
        next_step=settling_check(kind, reading),
    )


def _sentence(seam: Seam) -> str:
    angle = (
        "its angle on the surface could not be measured"
        if seam.surface_angle_deg is None
        else f"at about {seam.surface_angle_deg:.0f}° to the part's centreline"
    )
    meaning = {
        Orientation.LONGITUDINAL: "a line along the part",
        Orientation.CIRCUMFERENTIAL: "a line around the part",
        Orientation.BRANCH: "a line along the outlet's root",
    }[seam.orientation]
    return (
        f"Seam map: {meaning} ({seam.orientation.style.letter}), {seam.length_px:.0f} pixels long, "
        f"{angle}, {percent(seam.confidence)} sure; {seam.orientation.meaning.split('; ')[1]}."
    )
