"""A tee's crotch: a radius, a sharp corner, or a bead."""

from __future__ import annotations

import numpy as np

from fittings.words import Kind, Part
from vision.network import Maps
from vision.outline_fit import POSE, Array, Model, Number, to_map
from vision.outline_match import (
    Hypothesis,
    Match,
    Piece,
    Trial,
    begin,
    brought_on,
    by_outline,
    find_piece,
    kept_points,
    settled,
    tried,
)
from vision.outline_search import POOR_START_PX
from vision.outline_shapes import tee
from vision.outline_size import USUAL_CROTCH
from vision.outline_surfaces import tee_surface

CROTCHES = (0.0, 0.07, 0.16, 0.28, 0.45, 0.7)
"""Crotch radii that are tried, in outlet radii (half of it in outside diameters)."""

BEADS = (0.09, 0.17, 0.26)
"""Heights of a bead that are tried, in outlet radii."""

LEAST_SHARE = 0.03
"""Share of the piece's pixels below which run or outlet counts as not in view."""

_CROTCH = 3


def _model(*, bead: bool) -> Model:
    def outline(camera: Array, shape: Array) -> Array:
        return tee(
            camera,
            outlet_radius=shape[0],
            half_run=shape[1] - shape[4],
            height=shape[2] - shape[5],
            crotch=shape[_CROTCH] * shape[0],
            bead=bead,
        )

    def surface(part: Array, along: Array, around: Array, shape: Array) -> Array:
        inner = shape.copy()
        inner[_CROTCH] = 0.0 if bead else shape[_CROTCH] * shape[0]
        return tee_surface(part, along, around, inner)

    return Model(outline=outline, surface=surface)


def _hypothesis(crotch: float, *, bead: bool = False) -> Hypothesis:
    """A tee of that crotch radius, or bead, and free in all else."""
    bevel = Number(low=0.0, high=0.4, middle=0.0, spread=0.15)
    return Hypothesis(
        name=f"{'bead' if bead else 'crotch'} {crotch:g}",
        fabricated=bead,
        model=_model(bead=bead),
        shape=(
            Number(low=0.2, high=1.0),
            Number(low=0.8, high=5.0),
            Number(low=1.01, high=5.0),
            Number(low=crotch - 1e-4, high=crotch + 1e-4),
            bevel,
            bevel,
        ),
        guesses=tuple(
            (ratio, length, length, crotch, 0.01, 0.01)
            for ratio in (0.5, 0.9)
            for length in (1.6, 2.2)
        ),
    )


def measure(maps: Maps) -> Match | None:
    """The biggest tee in the maps, fitted with every crotch: their costs are its profile."""
    piece = find_piece(maps, Kind.TEE)
    if piece is None or not _both_seen(maps, piece):
        return None
    tries = [_hypothesis(crotch) for crotch in CROTCHES]
    middle = tries[2]
    begun = begin(piece, middle)
    if begun is None:
        return None
    poor = begun.off_px > POOR_START_PX
    begun = (by_outline if poor else brought_on)(piece, middle, begun)
    kept = kept_points(piece, [(middle, begun)])
    if kept is None:
        return None
    points, share, noise_px = kept
    first = tried(piece, points, noise_px, middle, begun.numbers)
    trials = [first]
    # Outwards from the middle, each from where its neighbour ended.
    for side in (tries[1::-1], tries[3:]):
        numbers = first.fitted.numbers
        for hypothesis in side:
            trial = tried(piece, points, noise_px, hypothesis, _with(numbers, hypothesis))
            trials.append(trial)
            numbers = trial.fitted.numbers
    sharp = next(t for t in trials if t.hypothesis is tries[0])
    for height in BEADS:
        bead = _hypothesis(height, bead=True)
        trials.append(tried(piece, points, noise_px, bead, _with(sharp.fitted.numbers, bead)))
    found = Match(
        piece=piece, points=points, kept=share, surface_noise_px=noise_px, trials=tuple(trials)
    )
    return settled(found)


def _both_seen(maps: Maps, piece: Piece) -> bool:
    """Whether run and outlet are both in view, and with them perhaps what lies between."""
    parts = maps.part[piece.contour.mask].argmax(axis=-1)
    shares = [(parts == part.label).mean() for part in (Part.RUN, Part.OUTLET)]
    return min(shares) >= LEAST_SHARE


def _with(numbers: Array, hypothesis: Hypothesis) -> Array:
    moved = numbers.copy()
    crotch = hypothesis.shape[_CROTCH]
    moved[POSE + _CROTCH] = 0.5 * (crotch.low + crotch.high)
    return moved


def crotch_of(trial: Trial) -> float:
    """Crotch radius of a trial in outlet radii."""
    return float(trial.fitted.shape[_CROTCH])


def outlet_px(found: Match) -> float:
    """The outlet's outside diameter in map pixels, at the distance of the piece's middle."""
    numbers = found.best().fitted.numbers
    return float(2.0 * numbers[POSE] * np.exp(numbers[5]) * max(found.piece.known.size))


def usual_crotch_px(found: Match) -> float:
    """Map pixels that a usual crotch radius spans there."""
    return USUAL_CROTCH * outlet_px(found)


def crotches(found: Match, trial: Trial) -> Array:
    """The two crotches, (2, 2) map pixels: halfway round the rounding, in the plane of the axes."""
    outlet = trial.fitted.shape[0]
    # A rounding of radius r between square surfaces is farthest in at r (1 - 1/√2) from both.
    inset = (1.0 - np.sqrt(0.5)) * crotch_of(trial) * outlet
    points = np.array([[side * (outlet + inset), 0.0, 1.0 + inset] for side in (-1.0, 1.0)])
    return to_map(points, trial.fitted.numbers, found.piece.known.size)
