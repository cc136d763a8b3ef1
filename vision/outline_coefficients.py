"""The few fitted numbers of the outline's evidence, and where they come from.

    python -m vision.outline_trial --tune

fits them on tuning scenes (seed 910 001, 50 of each kind, exact and degraded maps together) by
logistic regression, both makes weighing the same; nothing is chosen on exam scenes. The tee's were
fitted anew to the 54 crotches that could be told in 80 such scenes by their truth, on maps of 256
pixels, and in 40 of these by version 4's network. A reducer's outline alone told nothing there that
its surface did not. What a bead adds is set by hand: the tuning scenes have no visible weld.
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
    outlet diameters + `floor`), or `bead` for a bead, by the chance of each: that of a bead is its
    gain over the best radius plus `bead_before` as log-odds."""

    offset: float
    size: float
    floor: float
    bead: float
    bead_before: float


MITRE_KINKS = Contrast(offset=-0.24, outline=1.0, surface=0.42)
CONE_CORNERS = Contrast(offset=0.22, outline=0.0, surface=0.87)
CROTCH_SIZE = CrotchSize(offset=-5.36, size=-2.20, floor=0.02, bead=2.0, bead_before=-3.5)
