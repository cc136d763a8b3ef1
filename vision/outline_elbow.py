"""An elbow's profile: an arc, or a polygon of straight pieces."""

from __future__ import annotations

import numpy as np

from fittings.words import Kind
from vision.network import Maps
from vision.outline_fit import Array, Model, Number
from vision.outline_match import Hypothesis, Match, Trial, find_piece, match, on_outline
from vision.outline_shapes import elbow, mitre_edge, ring
from vision.outline_surfaces import elbow_surface

BENDS_DEG = (45.0, 90.0)
"""The bends of ASME B16.9 (2018, tables 6.1-1 and 6.1-4); a cut one may be off by some degrees."""

BEND_SPREAD_DEG = 3.0
MOST_PIECES = 5
"""A 90° bend of six pieces has kinks of 18°: at a network's size its polygon can't be told from an
arc. Common practice, no source, is two to five."""


def _model(pieces: int) -> Model:
    def outline(camera: Array, shape: Array) -> Array:
        return elbow(
            camera,
            bend_radius=shape[0],
            half_rad=np.radians(shape[1]) / 2.0,
            stub=shape[2] - shape[3],
            pieces=pieces,
        )

    return Model(outline=outline, surface=elbow_surface(pieces))


def hypotheses() -> tuple[Hypothesis, ...]:
    """Formed, and mitred of 2 pieces up to as many as leave kinks of 15° or more."""
    return tuple(
        Hypothesis(
            name=f"{bend:.0f}/{pieces}",
            fabricated=pieces > 1,
            model=_model(pieces),
            shape=(
                Number(low=1.05, high=5.0),
                Number(
                    low=bend - 4 * BEND_SPREAD_DEG,
                    high=bend + 4 * BEND_SPREAD_DEG,
                    middle=bend,
                    spread=BEND_SPREAD_DEG,
                ),
                Number(low=0.005, high=3.0),
                Number(low=0.0, high=0.4, middle=0.0, spread=0.15),
            ),
            guesses=tuple(
                (radius, bend, stub, 0.01) for radius in (1.7, 2.7) for stub in (0.1, 0.6)
            ),
        )
        for bend in BENDS_DEG
        for pieces in range(1, MOST_PIECES + 1)
        if pieces == 1 or bend / (pieces - 1) >= 15.0
    )


def measure(maps: Maps) -> Match | None:
    """The biggest elbow in the maps against all of them."""
    piece = find_piece(maps, Kind.ELBOW)
    return None if piece is None else match(piece, hypotheses())


def pieces_of(hypothesis: Hypothesis) -> int:
    """Of how many straight pieces; 1 for a formed one."""
    return int(hypothesis.name.split("/")[1])


def kinks(found: Match, trial: Trial) -> Array:
    """Where the mitres meet the outline, outside and inside of the bend: (N, 2) map pixels."""
    radius, bend = trial.fitted.shape[:2]
    pieces = pieces_of(trial.hypothesis)
    kink = np.radians(bend) / (pieces - 1)
    facets = -np.radians(bend) / 2.0 + kink * np.arange(1, pieces)
    edges = [mitre_edge(radius, facet, kink) for facet in facets]
    return np.concatenate([on_outline(found, trial, edge) for edge in edges])


def middles(found: Match, trial: Trial) -> Array:
    """The middle of the bend on the outline, outside and inside: (2, 2) map pixels."""
    x, _, z = np.eye(3)
    return on_outline(found, trial, ring(trial.fitted.shape[0] * x, x, z, 1.0))
