"""The fitted direction of a line against scipy's regression, where both answer the same question: a
flat surface seen square on, and noise across the line alone."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import linregress

from vision.curves import CORRELATED_PX, direction

PX_PER_RADIUS = 60.0


@pytest.mark.parametrize("slope_deg", [0.0, 12.0, 30.0])
def test_direction_and_uncertainty_are_those_of_scipys_regression(slope_deg: float) -> None:
    rng = np.random.default_rng(5)
    tangent = np.tan(np.radians(slope_deg))
    ours, theirs, said = [], [], []
    for _ in range(40):
        x = np.linspace(0.0, 160.0, 41)
        y = x * tangent + rng.normal(0.0, 1.0, x.size)
        slopes = np.tile(np.eye(2) / PX_PER_RADIUS, (x.size, 1, 1))
        # As long as it takes for every point to count by itself.
        found = direction(np.stack([x, y], 1) / PX_PER_RADIUS, slopes, CORRELATED_PX * x.size)
        line = linregress(x, y)
        error_deg = np.degrees(line.stderr / (1.0 + line.slope**2))
        ours.append(found.signed_deg - np.degrees(np.arctan(line.slope)))
        theirs.append(error_deg)
        said.append(found.uncertainty_deg)
    # Robust weights cost a little of least squares' precision, and no more.
    assert np.abs(ours).max() < 2.0 * np.mean(theirs)
    assert abs(np.mean(ours)) < 0.3 * np.mean(theirs)
    # The middle of what is said is scipy's; what two halves disagree about comes on top.
    assert np.median(said) == pytest.approx(np.median(theirs), rel=0.5)
    assert (np.array(said) > 0.5 * np.array(theirs)).all()
