"""Does a picture show of which kind a piece is? A tee seen along its run with the outlet behind it,
an elbow or a reducer of which only one end is in the frame, could each be a piece of pipe.

The levels are ours, set before any reader was measured with them: no source.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fittings.words import Kind, Part

BRANCH_SHARE = 0.04
"""A tee is in view with at least this share of its pixels on the outside of its run, and as much on
that of its outlet."""

BEND_SPAN = 0.3
"""An elbow is in view with at least this share of its bend: 27° of a quarter bend."""

TAPER_ENDS = (0.4, 0.6)
"""A reducer is in view when what shows of its length begins before the first and ends behind the
second: the middle of the taper, where radius changes fastest, with something on either side."""

_TAIL_PERCENT = 5.0  # of the pixels at either end of what shows do not count


def kind_in_view(kind: Kind, part: NDArray[np.floating], along: NDArray[np.floating]) -> bool:
    """Whether (N,) pixels of one piece, with their part labels and lengthwise places 0 to 1, show
    of which kind it is. False for no pixels."""
    if len(part) == 0:
        return False
    label = np.rint(part)
    if kind is Kind.TEE:
        shares = [float((label == p.label).mean()) for p in (Part.RUN, Part.OUTLET)]
        return min(shares) >= BRANCH_SHARE
    outside = along[label == Part.BODY.label]
    if len(outside) == 0:
        return False
    first, last = np.percentile(outside, (_TAIL_PERCENT, 100.0 - _TAIL_PERCENT))
    if kind is Kind.ELBOW:
        return bool(last - first >= BEND_SPAN)
    return bool(first <= TAPER_ENDS[0] and last >= TAPER_ENDS[1])
