"""A reducer's profile: a smooth S, or straight cones that meet in corners."""

from __future__ import annotations

import numpy as np

from fittings.words import Kind
from vision.network import Maps
from vision.outline_fit import POSE, Array, Model, Number
from vision.outline_match import Hypothesis, Match, Trial, find_piece, match, on_outline
from vision.outline_shapes import reducer, ring
from vision.outline_surfaces import chord_profile, formed_profile, reducer_surface

STEPS = (1, 3)
"""Cones between the straight ends of a fabricated one. Two that halve the S are one straight cone
to the eye, with a joint in its middle."""

LEAST_ROUNDING = 0.08
"""How sharp a formed one's corners may be: the half width over which the slope changes, as a share
of the taper's length. The smallest of the generator; common practice, no source."""

_PLACES = np.linspace(0.0, 1.0, 41)


def _formed(eccentric: float) -> Model:
    def outline(camera: Array, shape: Array) -> Array:
        low, high = shape[4] / shape[1], 1.0 - shape[5] / shape[1]
        at = low + (high - low) * _PLACES
        radius, slope = formed_profile(at, shape)
        return reducer(camera, at=at * shape[1], radius=radius, slope=slope, eccentric=eccentric)

    return Model(outline=outline, surface=reducer_surface(eccentric))


def _cones(eccentric: float, steps: int) -> Model:
    def outline(camera: Array, shape: Array) -> Array:
        at, radius, slope = chord_profile(steps, shape)
        at = np.clip(at, shape[4] / shape[1], 1.0 - shape[5] / shape[1])
        return reducer(camera, at=at * shape[1], radius=radius, slope=slope, eccentric=eccentric)

    def surface(_part: Array, along: Array, around: Array, shape: Array) -> Array:
        at, radii, _ = chord_profile(steps, shape)
        radius = np.interp(along, at, radii)
        shift = eccentric * (radius - 1.0)
        return np.stack(
            [along * shape[1], radius * np.sin(around), shift - radius * np.cos(around)], axis=-1
        )

    return Model(outline=outline, surface=surface)


def hypotheses() -> tuple[Hypothesis, ...]:
    """Concentric and eccentric, each formed and of one cone or three."""
    bevel = Number(low=0.0, high=0.4, middle=0.0, spread=0.15)
    shares = Number(low=0.01, high=0.4, middle=0.15, spread=0.15)
    body = (Number(low=0.25, high=0.97), Number(low=0.5, high=6.0), shares, shares, bevel, bevel)
    guesses = tuple(
        (small, length, 0.12, 0.12, 0.01, 0.01) for small in (0.5, 0.75) for length in (1.2, 2.4)
    )
    found = []
    for eccentric, name in ((0.0, "concentric"), (1.0, "eccentric")):
        found.append(
            Hypothesis(
                name=f"{name} smooth",
                fabricated=False,
                model=_formed(eccentric),
                shape=(
                    *body,
                    Number(low=LEAST_ROUNDING, high=0.6, middle=0.2, spread=0.3),
                    Number(low=0.0, high=1.0, middle=0.5, spread=0.5),
                ),
                guesses=tuple((*guess, 0.2, 0.5) for guess in guesses),
            )
        )
        found += [
            Hypothesis(
                name=f"{name} {steps}",
                fabricated=True,
                model=_cones(eccentric, steps),
                shape=body,
                guesses=guesses,
            )
            for steps in STEPS
        ]
    return tuple(found)


def measure(maps: Maps) -> Match | None:
    """The biggest reducer in the maps against all of them."""
    piece = find_piece(maps, Kind.REDUCER)
    return None if piece is None else match(piece, hypotheses())


def steps_of(hypothesis: Hypothesis) -> int:
    """Of how many cones a fabricated one is."""
    return int(hypothesis.name.split()[1])


def sharpest_corner_deg(trial: Trial) -> tuple[float, float]:
    """The largest angle between neighbouring straight stretches of the profile, on the slanted side
    of an eccentric one, and its spread from the fit's covariance."""
    steps, double = steps_of(trial.hypothesis), _eccentric(trial)

    def corner(shape: Array) -> float:
        slope = chord_profile(steps, shape)[2][::9] * (1.0 + double)
        return float(np.degrees(np.abs(np.diff(np.arctan(slope)))).max())

    shape = trial.fitted.shape
    small = 1e-4
    gradient = np.array(
        [(corner(shape + small * unit) - corner(shape)) / small for unit in np.eye(len(shape))]
    )
    variance = gradient @ trial.fitted.covariance[POSE:, POSE:] @ gradient
    return corner(shape), float(np.sqrt(max(variance, 0.0)))


def corner_points(found: Match, trial: Trial) -> Array:
    """The corners on the outline, on both sides: (N, 2) map pixels."""
    at, radius, _ = chord_profile(steps_of(trial.hypothesis), trial.fitted.shape)
    corners = np.flatnonzero(np.diff(at) == 0.0)
    return _rings(found, trial, at[corners], radius[corners])


def middles(found: Match, trial: Trial) -> Array:
    """The middle of the length on the outline: (2, 2) map pixels."""
    at = np.array([0.5])
    return _rings(found, trial, at, formed_profile(at, trial.fitted.shape)[0])


def _rings(found: Match, trial: Trial, at: Array, radius: Array) -> Array:
    y, z = np.eye(3)[1:]
    length, eccentric = trial.fitted.shape[1], _eccentric(trial)
    rings = [
        ring(np.array([a * length, 0.0, eccentric * (r - 1.0)]), y, z, r)
        for a, r in zip(at, radius, strict=True)
    ]
    return np.concatenate([on_outline(found, trial, each) for each in rings])


def _eccentric(trial: Trial) -> float:
    return float(trial.hypothesis.name.startswith("eccentric"))
