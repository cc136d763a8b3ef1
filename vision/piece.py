"""Several photos of one piece as one advisory reading."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import expit, logit

from fittings.checks import settling_check
from fittings.words import Kind, Reading
from vision.calibration import Thresholds
from vision.piece_evidence import combined_log_odds
from vision.piece_form import PARTS
from vision.piece_others import Doubt, doubts
from vision.piece_photo import PieceView
from vision.piece_seams import PieceSeam, PlacedCurve, gathered
from vision.piece_surface import Surface, surface_of
from vision.piece_words import reasons

MOST_LOG_ODDS = 12.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PieceReading:
    """The advisory reading of one piece. `surface` is None where no photo could be placed."""

    tag: str | None
    views: tuple[PieceView, ...]
    kind: Kind
    kind_confidence: float
    counted: tuple[int, ...]
    surface: Surface | None
    seams: tuple[PieceSeam, ...]
    doubts: tuple[Doubt, ...]
    reading: Reading
    fabricated_probability: float
    reasons: tuple[str, ...]
    next_step: str


def read_piece(
    views: Sequence[PieceView], thresholds: Thresholds, *, tag: str | None = None
) -> PieceReading:
    """One reading from the photos of one piece; ValueError without any."""
    if not views:
        raise ValueError("a piece's reading needs at least one photo that could be read")
    kind, confidence = kind_of(views)
    doubted = doubts(views, kind, thresholds.kind)
    counted = _counted(views, kind, thresholds, doubted)
    surface = surface_of(views, kind, counted)
    seams: tuple[PieceSeam, ...] = ()
    if surface is not None:
        turn = dict(zip(surface.photos, surface.turns.columns, strict=True))
        sure = dict(zip(surface.photos, surface.turns.sure, strict=True))
        turns = [turn.get(i, 0) for i in range(len(views))]
        sures = [sure.get(i, False) for i in range(len(views))]
        seams = gathered(_curves(views, surface.photos, kind), kind, turns, sures)
    together = combined_log_odds([_log_odds(views[i]) for i in counted]) if counted else -np.inf
    probability = float(expit(together))
    reading = _reading(views, kind, counted, probability, thresholds)
    return PieceReading(
        tag=tag,
        views=tuple(views),
        kind=kind,
        kind_confidence=confidence,
        counted=counted,
        surface=surface,
        seams=seams,
        doubts=doubted,
        reading=reading,
        fabricated_probability=probability,
        reasons=reasons(views, kind, counted, surface, seams, probability, reading),
        next_step=settling_check(kind, reading),
    )


def kind_of(views: Sequence[PieceView]) -> tuple[Kind, float]:
    """The kind that the photos together speak for: the mean of their log-probabilities over the
    photos in which a fitting was found. One photo more or less does not turn it."""
    found = [view for view in views if view.reading.kind is not Kind.NONE]
    if not found:
        return Kind.NONE, float(np.mean([view.kinds[Kind.NONE.label] for view in views]))
    logs = np.log(np.maximum([view.kinds for view in found], 1e-4)).mean(axis=0)
    shares = np.exp(logs - logs.max())
    shares /= shares.sum()
    best = int(shares.argmax())
    return list(Kind)[best], float(shares[best])


def _counted(
    views: Sequence[PieceView], kind: Kind, thresholds: Thresholds, doubted: Sequence[Doubt]
) -> tuple[int, ...]:
    """Numbers of the photos whose probability counts: each picture once, those that could have
    shown a seam on a fitting of that kind; and any that reads as a fabrication seam, whatever else
    is the matter."""
    repeated = {doubt.photo for doubt in doubted if doubt.repeated}
    counted = []
    for number, view in enumerate(views):
        reading = view.reading
        own = reading.kind is kind is not Kind.NONE and reading.quality.usable
        called = reading.verdict.reading is Reading.FABRICATION_SEAM
        if number not in repeated and (
            called or (own and reading.kind_confidence >= thresholds.kind)
        ):
            counted.append(number)
    return tuple(counted)


def _curves(views: Sequence[PieceView], photos: Sequence[int], kind: Kind) -> list[PlacedCurve]:
    return [
        replace(curve, photo=i)
        for i in photos
        for curve in views[i].curves
        if curve.part in PARTS[kind]
    ]


def _log_odds(view: PieceView) -> float:
    probability = view.reading.verdict.fabricated_probability
    with np.errstate(divide="ignore"):
        return float(np.clip(logit(probability), -MOST_LOG_ODDS, MOST_LOG_ODDS))


def _reading(
    views: Sequence[PieceView],
    kind: Kind,
    counted: Sequence[int],
    probability: float,
    thresholds: Thresholds,
) -> Reading:
    own = [views[i].reading for i in counted]
    if not own:
        return Reading.UNCLEAR
    if probability >= thresholds.hold:
        return Reading.FABRICATION_SEAM
    readings = {each.verdict.reading for each in own}
    across = any(seam.orientation.speaks_of_fabrication for each in own for seam in each.seams)
    if (
        kind is Kind.NONE
        or probability >= thresholds.doubt
        or Reading.FABRICATION_SEAM in readings
        or across
    ):
        # A photo that is called by itself, or a line that nobody can explain, keeps the piece from
        # reading better than unclear.
        return Reading.UNCLEAR
    if Reading.LONG_SEAM_ONLY in readings:
        return Reading.LONG_SEAM_ONLY
    return Reading.NO_SEAM_SEEN
