"""From evidence to a reading. The probability is calibrated; the reading is a threshold on it."""

from __future__ import annotations

import math

import numpy as np

from fittings.checks import settling_check
from fittings.words import EvidenceSource, Kind, Orientation, Reading, percent
from vision.calibration import Thresholds
from vision.curves import ShareOf
from vision.network import Maps
from vision.reading import Evidence, Quality, Seam, Verdict
from vision.tracing import Band, seam_strength

_TOP_SHARE = 0.0012
"""Share of the picture's pixels whose mean makes a seam map's evidence: about what a visible seam
covers at least (300 of 384 × 288 pixels is 0.0027)."""

_MOST_SENTENCES = 6

OUTLINE_DOUBT = 3.0
"""Log-odds of a fabricated shape by the outline, about 20 to 1, from which on no photo reads better
than unclear."""

SURE_OF_ORIENTATION = 0.5
"""Confidence of the seam map from which on it takes its orientation for likelier than all else."""


def features(
    maps: Maps, bands: tuple[Band, ...], outline_log_odds: float = 0.0
) -> tuple[float, ...]:
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
        float(outline_log_odds),
    )


def contested(seam: Seam) -> bool:
    """Whether seam map and geometry, each sure, differ about what the seam means.

    Circumferential and branch both speak of fabrication: between those two they may differ. Where
    the geometry cannot tell it abstains, so that a poor map silences no seam.
    """
    geometric = seam.geometric_orientation
    return (
        geometric is not None
        and seam.confidence >= SURE_OF_ORIENTATION
        and geometric.speaks_of_fabrication is not seam.orientation.speaks_of_fabrication
    )


def decide(
    *,
    kind: Kind,
    kind_confidence: float,
    seams: tuple[Seam, ...],
    probability: float,
    quality: Quality,
    thresholds: Thresholds,
    others: tuple[Evidence, ...] = (),
    outline_log_odds: float = 0.0,
) -> Verdict:
    """The advisory reading with its reasons; never one that accepts a piece.

    `others` is what else speaks (outline, proportions): it is told after the seams.
    """
    if kind is Kind.NONE:
        return _verdict(
            kind,
            Reading.UNCLEAR,
            kind_confidence,
            probability,
            (_whole("no elbow, tee or reducer was found in it."),),
        )
    reading, confidence, last = _decided(
        kind, kind_confidence, seams, probability, quality, thresholds, outline_log_odds
    )
    evidence = (*seam_evidence(seams), *others, last)
    return _verdict(kind, reading, confidence, probability, evidence)


def _verdict(
    kind: Kind,
    reading: Reading,
    confidence: float,
    probability: float,
    evidence: tuple[Evidence, ...],
) -> Verdict:
    return Verdict(
        reading=reading,
        confidence=float(np.clip(confidence, 0.0, 1.0)),
        fabricated_probability=probability,
        evidence=evidence,
        next_step=settling_check(kind, reading),
    )


def _decided(
    kind: Kind,
    kind_confidence: float,
    seams: tuple[Seam, ...],
    probability: float,
    quality: Quality,
    thresholds: Thresholds,
    outline_log_odds: float,
) -> tuple[Reading, float, Evidence]:
    """The reading, its confidence, and the sentence that says what decided."""
    across = [s for s in seams if s.orientation.speaks_of_fabrication]
    along = [s for s in seams if not s.orientation.speaks_of_fabrication]
    doubted = [s for s in seams if contested(s)]
    likely = percent(probability)
    if kind_confidence < thresholds.kind:
        # Before anything else: what is unlike all that the network has learnt from is often unlike
        # a sound fitting too.
        return (
            Reading.UNCLEAR,
            1.0 - kind_confidence,
            _whole(
                f"it could not be told with confidence what fitting this is ({kind.value} at "
                f"{percent(kind_confidence)}), so a fabrication, put at {likely}, is not called."
            ),
        )
    if probability >= thresholds.hold and not (across and all(s in doubted for s in across)):
        return (
            Reading.FABRICATION_SEAM,
            probability,
            _whole(
                f"seam map and shape together put a fabrication at {likely}."
                if across
                else f"its shape and surface resemble a fabrication at {likely}, though no single "
                "seam could be traced; look at the corners of the outline."
            ),
        )
    doubt = 1.0 - probability
    if not quality.usable:
        last = "the photo could not have shown a fine seam, so it decides nothing."
    elif doubted:
        last = (
            f"a fabrication is put at {likely}, but seam map and geometry disagree about "
            + ("a line" if len(doubted) == 1 else f"{len(doubted)} lines")
            + ", which leaves it open; look at it yourself."
        )
    elif across:
        last = (
            f"a fabrication is put at only {likely}, which does not agree with the line drawn; "
            "look at it yourself."
        )
    elif outline_log_odds >= OUTLINE_DOUBT:
        last = (
            f"a fabrication is put at only {likely}, but the outline is that of one; look at its "
            "corners yourself."
        )
    elif probability >= thresholds.doubt:
        last = f"a fabrication is put at {likely}, too much to pass over and too little to call."
    elif along:
        return (
            Reading.LONG_SEAM_ONLY,
            doubt,
            _whole(
                "no seam around the part or at an outlet's root was seen; a fabrication is put at "
                f"{likely}."
            ),
        )
    else:
        return (
            Reading.NO_SEAM_SEEN,
            doubt,
            _whole(
                f"no seam was seen; a fabrication is put at {likely}. A weld ground flush and "
                "painted would look the same."
            ),
        )
    return Reading.UNCLEAR, doubt, _whole(last)


def _whole(words: str) -> Evidence:
    source = EvidenceSource.WHOLE_PICTURE
    return Evidence(sentence=f"{source.title}: {words}", source=source)


# --------------------------------------------------------------------------------- sentences


def seam_evidence(seams: tuple[Seam, ...]) -> tuple[Evidence, ...]:
    """A sentence for each seam, those that speak of fabrication first, each at its middle."""
    ordered = sorted(seams, key=lambda seam: not seam.orientation.speaks_of_fabrication)
    told = [
        Evidence(
            sentence=_sentence(seam),
            source=EvidenceSource.SEAM_MAP,
            place=seam.middle if seam.path else None,
        )
        for seam in ordered[:_MOST_SENTENCES]
    ]
    if len(ordered) > _MOST_SENTENCES:
        more = len(ordered) - _MOST_SENTENCES
        told.append(
            Evidence(
                sentence=f"{EvidenceSource.SEAM_MAP.title}: {more} more "
                + ("line is" if more == 1 else "lines are")
                + " drawn on the picture.",
                source=EvidenceSource.SEAM_MAP,
            )
        )
    return tuple(told)


_COURSES = {
    Orientation.LONGITUDINAL: "along the part",
    Orientation.CIRCUMFERENTIAL: "around the part",
    Orientation.BRANCH: "along the outlet's root",
}

_SHARES = {
    Orientation.LONGITUDINAL: ShareOf.LENGTH,
    Orientation.CIRCUMFERENTIAL: ShareOf.GIRTH,
    Orientation.BRANCH: ShareOf.ROOT,
}


def _sentence(seam: Seam) -> str:
    figures = [f"{seam.length_px:.0f} pixels long"]
    curve = seam.curve
    # A line called lengthwise that lies askew is measured round the part: that share says nothing.
    if (
        curve is not None
        and curve.length_share is not None
        and curve.share_of is _SHARES[seam.orientation]
    ):
        figures.append(f"{percent(curve.length_share)} of the {curve.share_of.value}")
    figures.append(f"{percent(seam.confidence)} sure")
    meaning = seam.orientation.meaning.split("; ")[1]
    return (
        f"{EvidenceSource.SEAM_MAP.title}: a line {_COURSES[seam.orientation]} "
        f"({seam.orientation.style.letter}), {', '.join(figures)}; {_geometry(seam)}; {meaning}."
    )


def _geometry(seam: Seam) -> str:
    """What the place on the surface adds, with its angle."""
    curve, geometric = seam.curve, seam.geometric_orientation
    angle = ""
    if curve is not None and curve.angle_deg is not None:
        angle = (
            f"at {curve.angle_deg:.0f}° ± {max(1.0, curve.angle_uncertainty_deg):.0f}° to the "
            f"centreline of the {curve.part.value}"
        )
    if geometric is None:
        return (
            angle + ", which leaves its course open"
            if angle
            else ("its place on the surface could not be measured")
        )
    place = f"by its place on the surface it runs {_COURSES[geometric]}"
    if geometric is seam.orientation:
        return f"{place} too{', ' + angle if angle else ''}"
    return f"but {place}{', ' + angle if angle else ''}"
