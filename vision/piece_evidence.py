"""From the photos' probabilities to one for the piece.

Three demands shape the rule. More photos of a sound piece never raise suspicion by themselves,
though the highest of many readings is high by chance; one clear fabrication seam is never voted
down by photos that do not show it; and two photos that show the same girth line in the same place
say more than either.

Of N photos with log-odds l₁ ≥ l₂ ≥ … ≥ l_N the piece's are

    max over k of  l_k − min(ln(N / k), MOST_TAKEN_OFF)

which is Simes' combination of N tests (R. J. Simes, Biometrika 73, 1986, 751–754; from memory),
written for odds in place of p-values: the highest reading stands alone only after a price for
having picked it out of N, while a level that k photos reach pays only ln(N / k). The price has a
ceiling, and a photo that clears the bar by more than the ceiling cannot be outvoted by any number.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log

MOST_TAKEN_OFF = log(12.0)
"""Ceiling of the price: from twelve photos on it no longer grows."""

AGREEING_SHARE = 0.5
"""How much of the second photo's log-odds is added to the first's where both show the same line in
the same place. Not all of it: a painted line, a strap or a scratch is there in both photos too."""


def combined_log_odds(
    log_odds: Sequence[float], agreeing: Sequence[Sequence[int]] = (), *, bar: float = 0.0
) -> float:
    """The piece's log-odds of a fabrication from those of its photos.

    `agreeing` holds, for each line found in several photos that speaks of a fabrication, the
    numbers of those photos. Where at least two of them reach `bar` by themselves, the strongest
    pays no price and half the second's log-odds, where positive, come on top. ValueError without
    any photo.

    Adding a photo whose own log-odds do not exceed the piece's never raises the piece's, unless it
    shows a line in the same place as another photo that reaches the bar.
    """
    if not log_odds:
        raise ValueError("a piece's reading needs at least one photo's")
    ordered = sorted(log_odds, reverse=True)
    count = len(ordered)
    best = max(
        value - min(log(count / rank), MOST_TAKEN_OFF)
        for rank, value in enumerate(ordered, start=1)
    )
    for group in agreeing:
        strongest = sorted((log_odds[i] for i in set(group)), reverse=True)[:2]
        if len(strongest) == 2 and strongest[1] >= bar:
            best = max(best, strongest[0] + AGREEING_SHARE * max(0.0, strongest[1]))
    return best
