"""The few fitted numbers of the outline's evidence, and where they come from.

    python -m vision.outline_trial --tune

fits them on tuning scenes (seed 910 001) by logistic regression; nothing is chosen on exam scenes.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Contrast:
    """Log-odds of a fabricated shape: `offset`, and weights of the squashed log likelihood ratios
    of outline and surface."""

    offset: float
    outline: float
    surface: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CrotchSize:
    """Log-odds of a welded-on outlet: `offset` plus `size` times the mean of log(crotch radius in
    outlet diameters + `floor`); and `bead` more where a bead beats every radius by a log likelihood
    of `least_bead_gain`."""

    offset: float
    size: float
    floor: float
    bead: float
    least_bead_gain: float


MITRE_KINKS = Contrast(offset=-2.1, outline=1.67, surface=0.78)
CONE_CORNERS = Contrast(offset=0.65, outline=0.5, surface=0.72)
CROTCH_SIZE = CrotchSize(offset=-3.39, size=-1.57, floor=0.02, bead=2.0, least_bead_gain=15.0)
