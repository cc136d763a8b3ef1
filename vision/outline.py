"""What a piece's profile says of how it was made, also where every weld is ground flush.

`read_outline` fits formed and fabricated shapes to the biggest piece (`vision.outline_match`) and
says in figures which it is: an arc or a polygon, a rounded or a sharp crotch, an S or cones. Its
log-odds are for the shape alone: a fabrication from formed halves has a formed profile. Places are
in pixels of the map, x then y, pixel centres at whole numbers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from fittings.words import Kind
from vision import outline_elbow, outline_reducer, outline_tee
from vision.network import Maps
from vision.outline_coefficients import CONE_CORNERS, CROTCH_SIZE, MITRE_KINKS, Contrast
from vision.outline_fit import NOISE_PX, POSE, Fitted
from vision.outline_gains import (
    CORRELATED_PX,
    LEAST_GAIN,
    bead_gain,
    contrast,
    crotch_size,
    squashed,
)
from vision.outline_match import Match
from vision.outline_size import LEAST_RADIUS_PX, TooSmall

Point = tuple[float, float]


SURE_OF_BEAD = 0.8

UNDERSTATED = 1.7
"""By how much least squares understates spreads beyond that: on 20 mitred tuning pieces the kinks
were off by 1.7 spreads (root mean square)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ElbowOutline:
    """An elbow's profile: `pieces` 1 for an arc, else the straight pieces, each joint a kink.

    `formed_off_px` and `mitred_off_px` are the root mean squares of the outline's distances from
    the best arc and the best polygon. `bend_radius` is in outside diameters.
    """

    pieces: int
    kink_deg: float | None
    kink_spread_deg: float | None
    bend_deg: float
    bend_spread_deg: float
    bend_radius: float
    formed_off_px: float
    mitred_off_px: float
    log_odds: float
    places: tuple[Point, ...]
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TeeOutline:
    """A tee's crotch: its radius and spread as fractions of the outlet's outside diameter, and
    whether a bead fits better than any radius."""

    crotch: float
    crotch_spread: float
    bead: bool
    log_odds: float
    places: tuple[Point, ...]
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReducerOutline:
    """A reducer's profile: `corners` 0 for a smooth S, else how many, and the sharpest one's angle
    between the generators beside it."""

    corners: int
    corner_deg: float | None
    corner_spread_deg: float | None
    smooth_off_px: float
    cones_off_px: float
    log_odds: float
    places: tuple[Point, ...]
    sentence: str


OutlineEvidence = ElbowOutline | TeeOutline | ReducerOutline | TooSmall


def read_outline(maps: Maps, kind: Kind) -> OutlineEvidence | None:
    """The profile of the biggest piece of that kind.

    None where there is no such piece, it is too small, cut off by the frame, hidden too far, or
    seen so that its profile shows nothing.
    """
    match kind:
        case Kind.ELBOW:
            found = outline_elbow.measure(maps)
            return None if found is None else elbow_outline(found)
        case Kind.TEE:
            found = outline_tee.measure(maps)
            return None if found is None else tee_outline(found)
        case Kind.REDUCER:
            found = outline_reducer.measure(maps)
            return None if found is None else reducer_outline(found)
        case _:
            return None


def elbow_outline(found: Match) -> ElbowOutline | None:
    """An elbow's figures from its match; None where arc and polygon fit alike."""
    gains = contrast(found)
    if gains is None:
        return None
    formed, mitred = found.best(False).fitted, found.best(True).fitted
    log_odds = _log_odds(MITRE_KINKS, gains)
    shown = mitred if log_odds > 0.0 else formed
    pieces = outline_elbow.pieces_of(found.best(True).hypothesis) if log_odds > 0.0 else 1
    bend, spread = float(shown.shape[1]), _spread(shown, 1)
    kink = bend / (pieces - 1) if pieces > 1 else None
    kink_spread = spread / (pieces - 1) if pieces > 1 else None
    radius = float(shown.shape[0]) / 2.0
    off = formed.root_mean_square_px, mitred.root_mean_square_px
    if kink is not None and kink_spread is not None:
        places = _seen_places(found, outline_elbow.kinks(found, found.best(True)))
        sentence = (
            f"Outline: the profile is a polygon of {pieces} straight pieces with kinks of "
            f"{kink:.0f}° ± {max(kink_spread, 0.5):.1f}°, which the outline follows to "
            f"{off[1]:.2f} pixels, an arc to {off[0]:.2f}; a formed elbow's profile has no kinks."
        )
    else:
        places = _seen_places(found, outline_elbow.middles(found, found.best(False)))
        sentence = (
            f"Outline: the profile is one arc, a bend of {bend:.0f}° ± {max(spread, 1.0):.0f}° "
            f"with a radius of {radius:.1f} outside diameters, which the outline follows to "
            f"{off[0]:.2f} pixels, straight pieces to {off[1]:.2f}; formed halves welded together "
            "look the same."
        )
    return ElbowOutline(
        pieces=pieces,
        kink_deg=kink,
        kink_spread_deg=kink_spread,
        bend_deg=bend,
        bend_spread_deg=spread,
        bend_radius=radius,
        formed_off_px=off[0],
        mitred_off_px=off[1],
        log_odds=log_odds,
        places=places,
        sentence=sentence + _by_surface(gains),
    )


def tee_outline(found: Match) -> TeeOutline | TooSmall | None:
    """A tee's figures from its match, or that it is too small for them; None where the crotch's
    radius does not show."""
    span = outline_tee.usual_crotch_px(found)
    if span < LEAST_RADIUS_PX:
        places = _seen_places(found, outline_tee.crotches(found, found.best(False)))
        return TooSmall(radius_px=span, places=places)
    return crotch_outline(found)


def crotch_outline(found: Match) -> TeeOutline | None:
    """A tee's figures at whatever size; None where the crotch's radius does not show."""
    size = crotch_size(found)
    if size is None:
        return None
    crotch, spread, log_size = size
    chance = float(expit(bead_gain(found) + CROTCH_SIZE.bead_before))
    by_size = CROTCH_SIZE.offset + CROTCH_SIZE.size * log_size
    log_odds = chance * CROTCH_SIZE.bead + (1.0 - chance) * by_size
    bead = chance > SURE_OF_BEAD
    figures = f"{crotch:.2f} ± {max(spread, 0.01):.2f} of the outlet's outside diameter"
    if bead:
        height = outline_tee.crotch_of(found.best(True)) / 2.0
        sentence = (
            f"Outline: a bead about {height:.2f} of the outlet's outside diameter high stands in "
            "the crotch; a formed tee's crotch is rounded."
        )
    elif log_odds > 0.0:
        sentence = (
            f"Outline: the crotch is sharp, its radius {figures}; a formed tee's is rounded, an "
            "outlet welded on leaves a corner that grinding can only soften."
        )
    else:
        sentence = (
            f"Outline: the crotch is rounded, its radius {figures}; a heavy wall or much filler "
            "can round a welded one as far."
        )
    return TeeOutline(
        crotch=crotch,
        crotch_spread=spread,
        bead=bead,
        log_odds=float(np.clip(log_odds, -_MOST, _MOST)),
        places=_seen_places(found, outline_tee.crotches(found, found.best(False))),
        sentence=sentence,
    )


def reducer_outline(found: Match) -> ReducerOutline | None:
    """A reducer's figures from its match; None where smooth and cones fit alike."""
    gains = contrast(found)
    if gains is None:
        return None
    smooth, cones = found.best(False).fitted, found.best(True).fitted
    log_odds = _log_odds(CONE_CORNERS, gains)
    off = smooth.root_mean_square_px, cones.root_mean_square_px
    steps = outline_reducer.steps_of(found.best(True).hypothesis)
    corners, angle, spread = 0, None, None
    if log_odds > 0.0:
        corners = steps + 1
        angle, spread = outline_reducer.sharpest_corner_deg(found.best(True))
        spread *= UNDERSTATED * np.sqrt(CORRELATED_PX)
        places = _seen_places(found, outline_reducer.corner_points(found, found.best(True)))
        sentence = (
            f"Outline: the profile has {corners} corners, the sharpest of {angle:.0f}° ± "
            f"{max(spread, 1.0):.0f}°; the outline follows straight cones to {off[1]:.2f} pixels, "
            f"a smooth curve to {off[0]:.2f}. A formed reducer's profile has no corners."
        )
    else:
        places = _seen_places(found, outline_reducer.middles(found, found.best(False)))
        sentence = (
            f"Outline: the profile is smooth, which the outline follows to {off[0]:.2f} pixels, "
            f"straight cones to {off[1]:.2f}; a cone with well ground corners looks much the same."
        )
    return ReducerOutline(
        corners=corners,
        corner_deg=angle,
        corner_spread_deg=None if spread is None else float(spread),
        smooth_off_px=off[0],
        cones_off_px=off[1],
        log_odds=log_odds,
        places=places,
        sentence=sentence + _by_surface(gains),
    )


_MOST = 8.0
"""Log-odds are cut there: 3 000 to 1, more than any trial here has pieces."""


def _by_surface(gains: tuple[float, float]) -> str:
    """What a sentence adds where the outline alone would not have told."""
    if abs(gains[0]) >= LEAST_GAIN:
        return ""
    return " What tells them apart here is less the outline than where the surface's points lie."


def _log_odds(weights: Contrast, gains: tuple[float, float]) -> float:
    outline, surface = map(squashed, gains)
    total = weights.offset + weights.outline * outline + weights.surface * surface
    return float(np.clip(total, -_MOST, _MOST))


def _spread(fitted: Fitted, number: int) -> float:
    """Spread of one of the shape's numbers."""
    noise = UNDERSTATED * max(fitted.root_mean_square_px / NOISE_PX, 1.0)
    variance = fitted.covariance[POSE + number, POSE + number]
    return float(np.sqrt(max(variance, 0.0) * CORRELATED_PX) * noise)


def _seen_places(found: Match, candidates: NDArray[Any]) -> tuple[Point, ...]:
    """Of places (N, 2) those that lie on the kept outline; all within the map where none does."""
    h, w = found.piece.contour.mask.shape
    places = candidates[np.isfinite(candidates).all(axis=1)]
    inside = ((places >= 0.0) & (places <= [w - 1.0, h - 1.0])).all(axis=1)
    places = places[inside]
    if len(places) == 0:
        return ()
    off = np.linalg.norm(places[:, None] - found.points[None], axis=-1).min(axis=1)
    near = places[off <= 4.0]
    return tuple((float(x), float(y)) for x, y in (near if len(near) else places))
