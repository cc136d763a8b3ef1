"""Supposed shapes against one piece in the maps: which fits its outline and its surface best."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from fittings.words import Kind
from vision.network import Maps
from vision.outline_contour import Contour, biggest_piece, thinned
from vision.outline_fit import (
    POSE,
    Fitted,
    Model,
    Number,
    Places,
    camera_place,
    centred,
    fit,
    only,
    projected,
    signed_distances,
    to_map,
)
from vision.outline_search import POOR_START_PX, searched
from vision.outline_start import MORE_STEPS, Start, places, poses, refined, start

Array = NDArray[np.float64]

LEAST_POINTS = 30
"""Outline points (about pixels of the map) that a fit needs."""

LEAST_KEPT = 0.5
"""Share of the outline that must lie where some shape of this kind could have its outline. The rest
is what stands before the piece."""

MOST_CUT = 0.75
"""Share of the outline that the frame may cut off."""

FIRM = 0.75
"""Share of the kept points that the best shape must pass through, within three times the noise."""

STRAY_PX = 1.5
"""An outline point that no shape comes nearer to belongs to what stands before the piece: four
times the noise."""

_POINTS = 160
_GATE_PX = 4.0
_FITTED_GATE_PX = 2.5
"""The same of starts that were fitted to the outline: what is farther off lies on something
else."""
_LEAST_SURFACE_NOISE_PX = 0.3
_HANG_TOGETHER = 5.0
"""A map's errors hang together over large parts of a piece, so that some hundred places count as
about ten: each is known that many times less well than the places scatter."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hypothesis:
    """One supposed shape: `fabricated` or not, its model, the bounds of its numbers, and numbers to
    begin from."""

    name: str
    fabricated: bool
    model: Model
    shape: tuple[Number, ...]
    guesses: tuple[tuple[float, ...], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """The biggest piece of a kind in the maps: its outline and the places that know where they lie
    on the surface."""

    contour: Contour
    known: Places


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """A hypothesis and how its fit ended."""

    hypothesis: Hypothesis
    fitted: Fitted


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Match:
    """All trials of one piece. `points` (N, 2) are the outline's that were kept, map pixels, `kept`
    their share."""

    piece: Piece
    points: Array
    kept: float
    surface_noise_px: float
    trials: tuple[Trial, ...]

    def best(self, fabricated: bool | None = None) -> Trial:
        """The trial of least cost, of one side or of all."""
        asked = [
            t for t in self.trials if fabricated is None or t.hypothesis.fabricated == fabricated
        ]
        return min(asked, key=lambda trial: trial.fitted.cost)


def find_piece(maps: Maps, kind: Kind) -> Piece | None:
    """The biggest piece of that kind; None where there is none, it is too small or cut off too far,
    or its places on the surface are unknown."""
    contour = biggest_piece(maps, kind)
    if contour is None or len(contour.points) < 2 * LEAST_POINTS:
        return None
    known = places(maps, contour.mask)
    if known is None or contour.frame_share > MOST_CUT:
        return None
    return Piece(contour=contour, known=known)


def begin(piece: Piece, hypothesis: Hypothesis) -> Start | None:
    """Where the coordinates alone put the shape; None where no camera sees it so."""
    return start(piece.known, hypothesis.model.surface, hypothesis.guesses, hypothesis.shape)


def brought_on(piece: Piece, hypothesis: Hypothesis, begun: Start) -> Start:
    """The start after more steps."""
    surface = hypothesis.model.surface
    return refined(piece.known, surface, begun.numbers, hypothesis.shape, steps=MORE_STEPS)


def by_outline(
    piece: Piece, hypothesis: Hypothesis, begun: Start, starts: list[Array] | None = None
) -> Start:
    """The start searched for with the outline: from the places' cameras, or from `starts`."""
    if starts is None:
        starts = poses(piece.known, hypothesis.model.surface, hypothesis.guesses)
    model, shape = hypothesis.model, hypothesis.shape
    outline = piece.contour.points
    found = searched(outline, piece.known, model, shape, starts, off_px=begun.off_px)
    return begun if found is None else found


def kept_points(
    piece: Piece, begun: list[tuple[Hypothesis, Start]]
) -> tuple[Array, float, float] | None:
    """Of the outline the points (N, 2) that lie near where some start puts it, their share, and how
    far the surface's places scatter, in pixels. None where too few are left."""
    least_off = min(s.off_px for _, s in begun)
    outline = thinned(piece.contour.points, _POINTS)
    near = np.minimum.reduce([_off_px(outline, piece.known.size, *pair) for pair in begun])
    fitted = all(s.cost is not None for _, s in begun)
    keep = near < (_FITTED_GATE_PX if fitted else max(_GATE_PX, 3.0 * least_off))
    if keep.mean() < LEAST_KEPT or keep.sum() < LEAST_POINTS:
        return None
    noise = max(_LEAST_SURFACE_NOISE_PX, _HANG_TOGETHER * least_off)
    return outline[keep], float(keep.mean()), noise


def tried(
    piece: Piece, points: Array, noise_px: float, hypothesis: Hypothesis, numbers: Array
) -> Trial:
    """The hypothesis fitted to outline and surface, from `numbers` on."""
    fitted = fit(
        points,
        piece.known,
        hypothesis.model,
        hypothesis.shape,
        numbers,
        surface_noise_px=noise_px,
    )
    return Trial(hypothesis=hypothesis, fitted=fitted)


def match(
    piece: Piece, hypotheses: tuple[Hypothesis, ...], *, most_fabricated: int = 2
) -> Match | None:
    """Formed shapes against fabricated ones: the formed one that begins best and the few fabricated
    ones that do. None where nothing fits most of the outline."""
    begun = [(h, s) for h in hypotheses if (s := begin(piece, h)) is not None]
    formed = [pair for pair in begun if not pair[0].fabricated]
    fabricated = [pair for pair in begun if pair[0].fabricated]
    if not formed or not fabricated:
        return None
    if min(s.off_px for _, s in begun) > POOR_START_PX:
        formed, fabricated = _best_searched(piece, formed, fabricated, most_fabricated)
    else:
        formed = _best_begun(piece, formed, 1)
        fabricated = _best_begun(piece, fabricated, most_fabricated)
    kept = kept_points(piece, formed + fabricated)
    if kept is None:
        return None
    points, share, noise_px = kept
    found = Match(
        piece=piece,
        points=points,
        kept=share,
        surface_noise_px=noise_px,
        trials=tuple(tried(piece, points, noise_px, h, s.numbers) for h, s in formed + fabricated),
    )
    # What lost may only have got stuck: it goes once more from where the winner stands.
    winner = found.best()
    loser = found.best(not winner.hypothesis.fabricated)
    size = POSE + len(loser.hypothesis.shape)
    ends = winner.fitted.numbers[:size]
    numbers = np.concatenate([ends, loser.fitted.numbers[len(ends) :]])
    again = tried(piece, points, noise_px, loser.hypothesis, numbers)
    if again.fitted.cost < loser.fitted.cost:
        found = replace(found, trials=(*found.trials, again))
    return settled(found)


def _best_begun(
    piece: Piece, begun: list[tuple[Hypothesis, Start]], most: int
) -> list[tuple[Hypothesis, Start]]:
    """The best starts, twice as many as asked brought on before the choice."""
    begun = sorted(begun, key=lambda pair: pair[1].off_px)[: 2 * most]
    further = [(h, brought_on(piece, h, s)) for h, s in begun]
    return sorted(further, key=lambda pair: pair[1].off_px)[:most]


def _best_searched(
    piece: Piece,
    formed: list[tuple[Hypothesis, Start]],
    fabricated: list[tuple[Hypothesis, Start]],
    most: int,
) -> tuple[list[tuple[Hypothesis, Start]], list[tuple[Hypothesis, Start]]]:
    """The best formed start and some fabricated ones, all by the outline: the fabricated from where
    the formed ended, since from whichever side one looks the camera is the same."""
    best = min(((h, by_outline(piece, h, s)) for h, s in formed), key=_cost)
    numbers = best[1].numbers
    others = [(h, by_outline(piece, h, s, [numbers[: POSE + len(h.shape)]])) for h, s in fabricated]
    return [best], sorted(others, key=_cost)[:most]


def _cost(begun: tuple[Hypothesis, Start]) -> float:
    return np.inf if begun[1].cost is None else begun[1].cost


def settled(found: Match) -> Match | None:
    """The match without the points that no shape comes near, which lie on something else; None
    where too few are left or the best shape misses too many of them."""
    nearest = np.abs([trial.fitted.off_px for trial in found.trials]).min(axis=0)
    keep = nearest < STRAY_PX
    kept = found.kept * float(keep.mean())
    if kept < LEAST_KEPT or keep.sum() < LEAST_POINTS:
        return None
    trials = tuple(replace(trial, fitted=only(trial.fitted, keep)) for trial in found.trials)
    found = replace(found, points=found.points[keep], kept=kept, trials=trials)
    return found if found.best().fitted.inliers >= FIRM else None


def on_outline(found: Match, trial: Trial, ring: Array) -> Array:
    """Where a closed ring round the piece, (K, 3) from its far side on, meets the outline: for each
    half of it the point nearest to the outline's, (2, 2) map pixels."""
    numbers = trial.fitted.numbers
    drawn = to_map(ring, numbers, found.piece.known.size)
    turned = np.roll(drawn[:-1], (len(ring) - 1) // 4, axis=0)
    halves = np.array_split(turned, 2)
    tree = cKDTree(found.points)
    return np.stack([half[int(np.argmin(tree.query(half)[0]))] for half in halves])


def _off_px(
    outline: Array, size: tuple[int, int], hypothesis: Hypothesis, begun: Start
) -> NDArray[np.float64]:
    """Distances (N,) of outline points from where a start puts the outline."""
    x = begun.numbers
    strokes = projected(hypothesis.model.outline(camera_place(x), x[POSE:]), x)
    return np.abs(signed_distances(centred(outline, size), strokes)) * max(size)
