"""From the photos' probabilities to one for the piece.

Two demands shape the rule. More photos of a sound piece never raise suspicion by themselves, though
the highest of many readings is high by chance; and one clear fabrication seam is never voted down
by photos that do not show it.

Of N photos with log-odds l₁ ≥ l₂ ≥ … ≥ l_N the piece's are

    max over k of  l_k − min(ln(N / k), MOST_TAKEN_OFF)

which is Simes' combination of N tests (R. J. Simes, Biometrika 73, 1986, 751–754; from memory),
written for odds in place of p-values: the highest reading stands alone only after a price for
having picked it out of N, while a level that k photos reach pays only ln(N / k). The price has a
ceiling, and a photo that clears the bar by more than the ceiling cannot be outvoted by any number.

That two photos show the same line in the same place adds nothing: a strap, a painted line and the
highlight along a formed crotch do so too. With such a bonus 3 instead of 1 of 84 sound tuning
pieces, of six photos each, read as a fabrication, and 57 instead of 56 of 60 fabricated ones.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log

MOST_TAKEN_OFF = log(12.0)
"""Ceiling of the price: from twelve photos on it no longer grows."""


def combined_log_odds(log_odds: Sequence[float]) -> float:
    """The piece's log-odds of a fabrication from those of its photos; ValueError without any.

    Adding a photo whose own log-odds do not exceed the piece's never raises the piece's.
    """
    if not log_odds:
        raise ValueError("a piece's reading needs at least one photo's")
    ordered = sorted(log_odds, reverse=True)
    count = len(ordered)
    return max(
        value - min(log(count / rank), MOST_TAKEN_OFF)
        for rank, value in enumerate(ordered, start=1)
    )
