"""Several photos of one piece as one advisory reading."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.special import expit, logit

from fittings.checks import settling_check
from fittings.words import Kind, Orientation, Part, Reading, percent
from vision.calibration import Thresholds
from vision.piece_evidence import combined_log_odds
from vision.piece_form import PARTS, Field, Form, usual_form
from vision.piece_others import Doubt, doubts
from vision.piece_photo import PieceView
from vision.piece_seams import PieceSeam, PlacedCurve, agreeing, gathered
from vision.piece_seen import seen_share, turned, union
from vision.piece_turns import Turns, has_datum, least_shown, middle_deg, resolved

CLEAR_PX_PER_RADIUS = 20.0
"""A cap as wide as a tenth of the outside radius is then two pixels wide at the network's size. The
cap of an NPS 6 pipe's butt weld, about 12 mm, is a seventh of its radius (common practice, no
source)."""

MOST_LOG_ODDS = 12.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """What the photos together show of the piece.

    `seen` is the share (ROWS, COLUMNS) of each cell that some photo shows, `clear` the share that
    is shown well enough for a usual cap (CLEAR_PX_PER_RADIUS). `photos` are the numbers of the
    photos that were put together, `turns` belongs to them in that order.
    """

    form: Form
    seen: dict[Part, Field] = field(repr=False)
    clear: dict[Part, Field] = field(repr=False)
    photos: tuple[int, ...]
    turns: Turns

    @property
    def seen_fraction(self) -> float:
        return seen_share(self.form, self.seen)

    @property
    def clear_fraction(self) -> float:
        return seen_share(self.form, self.clear)

    @property
    def unsure(self) -> tuple[int, ...]:
        """Numbers of the photos whose turn could not be told."""
        return tuple(p for p, s in zip(self.photos, self.turns.sure, strict=True) if not s)


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
    counted = _counted(views, kind, thresholds)
    surface = surface_of(views, kind, counted)
    seams: tuple[PieceSeam, ...] = ()
    groups: tuple[tuple[int, ...], ...] = ()
    if surface is not None:
        turn = dict(zip(surface.photos, surface.turns.columns, strict=True))
        sure = dict(zip(surface.photos, surface.turns.sure, strict=True))
        turns = [turn.get(i, 0) for i in range(len(views))]
        sures = [sure.get(i, False) for i in range(len(views))]
        seams = gathered(_curves(views, surface.photos, kind), kind, turns, sures)
        groups = agreeing(seams, kind, sures)
    odds = [_log_odds(view) for view in views]
    bar = float(logit(thresholds.hold))
    probability = 0.0
    if counted:
        number = {photo: place for place, photo in enumerate(counted)}
        together = combined_log_odds(
            [odds[i] for i in counted],
            [[number[i] for i in group if i in number] for group in groups],
            bar=bar,
        )
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
        reasons=tuple(_reasons(views, kind, counted, surface, seams, groups, probability)),
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


def _counted(views: Sequence[PieceView], kind: Kind, thresholds: Thresholds) -> tuple[int, ...]:
    """Numbers of the photos whose probability counts: each file once, those that could have shown a
    seam on a fitting; and any that reads as a fabrication seam, whatever else is the matter."""
    counted, known = [], set()
    for number, view in enumerate(views):
        reading = view.reading
        own = reading.kind is kind is not Kind.NONE and reading.quality.usable
        called = reading.verdict.reading is Reading.FABRICATION_SEAM
        if reading.sha256 not in known and (
            called or (own and reading.kind_confidence >= thresholds.kind)
        ):
            counted.append(number)
            known.add(reading.sha256)
    return tuple(counted)


def surface_of(views: Sequence[PieceView], kind: Kind, counted: Sequence[int]) -> Surface | None:
    """The surface that the counted photos of that kind show, unsure turns at their worst."""
    photos = [i for i in counted if views[i].reading.kind is kind and kind in views[i].seen]
    if kind is Kind.NONE or not photos:
        return None
    form = usual_form(kind)
    maps = [views[i].seen[kind] for i in photos]
    shares = [seen_share(form, {p: m[p].share for p in m}) for m in maps]
    datum = has_datum(kind, [middle_deg(form, m) for m in maps])
    turns = resolved(kind, maps, datum=datum, first=int(np.argmax(shares)))
    turns = least_shown(form, maps, turns)
    seen, clear = {}, {}
    for part in PARTS[kind]:
        own = [
            turned(kind, part, m[part].share, t) for m, t in zip(maps, turns.columns, strict=True)
        ]
        sharp = [
            turned(kind, part, m[part].px_per_radius, t)
            for m, t in zip(maps, turns.columns, strict=True)
        ]
        seen[part] = union(own)
        clear[part] = union(
            share * (px >= CLEAR_PX_PER_RADIUS) for share, px in zip(own, sharp, strict=True)
        )
    return Surface(form=form, seen=seen, clear=clear, photos=tuple(photos), turns=turns)


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


def _reasons(
    views: Sequence[PieceView],
    kind: Kind,
    counted: Sequence[int],
    surface: Surface | None,
    seams: Sequence[PieceSeam],
    groups: Sequence[tuple[int, ...]],
    probability: float,
) -> list[str]:
    names = [view.reading.photo for view in views]
    if not counted:
        return ["None of the photos shows a fitting well enough to count; take others."]
    lines = [f"Seam map: {seam_in_words(seam, names)}." for seam in seams[:8]]
    if len(seams) > 8:
        lines.append(f"{len(seams) - 8} more lines are in the table of seams.")
    first = max(counted, key=lambda i: views[i].reading.verdict.fabricated_probability)
    own = views[first].reading.verdict.fabricated_probability
    lines.append(
        f"Strongest photo: {names[first]} puts a fabrication at {percent(own)}; all "
        f"{len(counted)} that count, together, at {percent(probability)}."
        if len(counted) > 1
        else f"One photo counts: {names[first]} puts a fabrication at {percent(own)}."
    )
    if groups:
        lines.append(
            "Two photos or more show the same line in the same place, which says more than either."
        )
    if surface is not None:
        lines.append(
            f"Seen: the photos show at least {percent(surface.seen_fraction)} of the outside, "
            f"{percent(surface.clear_fraction)} of it well enough for a usual weld; the rest, and "
            "the bore, may hold anything."
        )
        if surface.unsure:
            lines.append(
                f"Which way round {listed([names[i] for i in surface.unsure])} show"
                f"{'s' if len(surface.unsure) == 1 else ''} the piece could not be told, so what "
                "may be the same side twice is counted once."
            )
    passed_over = [n for i, n in enumerate(names) if i not in counted]
    if passed_over:
        lines.append(
            f"Not counted, as too poor, the same file again or no clear {kind.value}: "
            f"{listed(passed_over)}."
        )
    return lines


def seam_in_words(seam: PieceSeam, names: Sequence[str]) -> str:
    """One seam with its place and the photos that show it."""
    what = {
        Orientation.LONGITUDINAL: f"a line along the {seam.part.value} at {seam.place:.0f}° around",
        Orientation.CIRCUMFERENTIAL: f"a line around the {seam.part.value} at "
        f"{percent(seam.place)} of its length",
        Orientation.BRANCH: "a line along the outlet's root",
    }[seam.orientation]
    count = len(seam.photos)
    seen_in = f"in {count} photos" if count > 1 else "in one photo"
    unsure = "" if seam.place_sure else ", at this place or half a turn from it"
    return (
        f"{what} ({seam.orientation.style.letter}), {seen_in} "
        f"({listed([names[i] for i in seam.photos])}), {percent(seam.confidence)} sure{unsure}"
    )


def listed(names: Sequence[str]) -> str:
    """ "a, b and c"."""
    return " and ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))
