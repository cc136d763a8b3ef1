"""By how much the best fabricated shape is likelier than the best formed one, and how large a
crotch is: what the coefficients of the outline's evidence weigh."""

from __future__ import annotations

import numpy as np

from vision import outline_tee
from vision.outline_coefficients import CROTCH_SIZE
from vision.outline_match import Match

CORRELATED_PX = 2.0
"""Neighbouring outline points err together over about so many pixels, so that spreads from least
squares are too small by its root."""

LEAST_GAIN = 2.0
"""Difference of log likelihoods below which the view shows neither shape: e² is about 7 to 1."""

EDGE_ROUNDING = 0.4
"""By how much of the width of the map's edge a crotch's radius is uncertain (one standard
deviation). A square corner blurred by a Gaussian of spread s is cut, at one half, 0.77 s from the
corner on its diagonal, as by a radius of 1.86 s, and the edge is 2.51 s wide by its steepest slope:
0.74 of that is taken as two standard deviations. Worked out from the Gaussian's integral."""

MOST_EXCESS = 3.0
"""Mean square misfit, in units of the noise, from which on a crotch is not measured: the outline is
1.7 times as far from every shape as noise explains, and something else is in it."""

WIDEST_CROTCH = 0.07
"""Spread of a crotch's radius, in outside diameters, from which on the view does not show it: the
run seen from its end, or the crotch behind something. Of 57 tuning tees by their truth the six
beyond it were off by 0.08 in the median, the rest by 0.02."""


def contrast(found: Match) -> tuple[float, float] | None:
    """By how much the best fabricated shape is likelier than the best formed one, in log
    likelihoods: by the outline and by the surface. None where they come out alike."""
    formed, fabricated = found.best(False).fitted, found.best(True).fitted
    outline = 0.5 * (formed.outline_cost - fabricated.outline_cost) / _per_point(found)
    surface = 0.5 * (formed.surface_cost - fabricated.surface_cost)
    return (outline, surface) if abs(outline) + abs(surface) >= LEAST_GAIN else None


def _per_point(found: Match) -> float:
    """What a cost of the outline is to be divided by: neighbours err together, and where even the
    best shape leaves more than the noise (something stands before it), all of it counts less."""
    return CORRELATED_PX * max(_excess(found), 1.0)


def _excess(found: Match) -> float:
    """Mean square of the best shape's distances over that of the noise: about 1 where it fits."""
    return found.best().fitted.outline_cost / len(found.points)


def squashed(gain: float) -> float:
    """A log likelihood ratio, less trusted the larger it is: sign · log(1 + size). Shapes are never
    quite those of the models, so that large ratios mean less than they say."""
    return float(np.sign(gain) * np.log1p(abs(gain)))


def crotch_size(found: Match) -> tuple[float, float, float] | None:
    """Crotch radius and its spread in outlet diameters, and the mean of its logarithm.

    Each radius tried is as likely as its fit says (a flat expectation over the grid, which is even
    in log(radius + CROTCH_SIZE.floor)). None where the spread is wide, or where no shape fits the
    outline well enough for its corners to be believed.
    """
    if _excess(found) > MOST_EXCESS:
        return None
    trials = [t for t in found.trials if not t.hypothesis.fabricated]
    sizes = np.array([outline_tee.crotch_of(t) for t in trials]) / 2.0
    costs = np.array([t.fitted.cost for t in trials]) / _per_point(found)
    weight = np.exp(-0.5 * (costs - costs.min()))
    # A map that is not sharp rounds corners by itself.
    blur = EDGE_ROUNDING * found.piece.contour.edge_px / outline_tee.outlet_px(found)
    weight = np.exp(-0.5 * ((sizes[:, None] - sizes) / max(blur, 1e-6)) ** 2) @ weight
    weight /= weight.sum()
    mean = float((weight * sizes).sum())
    spread = float(np.sqrt((weight * (sizes - mean) ** 2).sum()))
    if spread > WIDEST_CROTCH:
        return None
    return mean, spread, float((weight * np.log(sizes + CROTCH_SIZE.floor)).sum())


def bead_gain(found: Match) -> float:
    """Log likelihood by which the outline's best bead beats its best radius."""
    radius, bead = found.best(False).fitted, found.best(True).fitted
    return 0.5 * (radius.outline_cost - bead.outline_cost) / _per_point(found)
