"""Whether a tee's crotch is large enough in the maps for its radius to be told from a corner."""

from __future__ import annotations

from dataclasses import dataclass, field

USUAL_CROTCH = 0.1
"""Crotch radius over the outlet's outside diameter that has to be told from a corner. The rules ask
at least 0.05 of an extruded outlet (ASME B31.3-2016, 304.3.4, from page scans) and 1/8 of a tee
that is to count as strong (older editions' Table D300, from memory)."""

LEAST_RADIUS_PX = 2.0
"""Pixels of the map that such a radius must span. A corner rounded by r is cut by (1 - 1/√2) r on
its diagonal, and the outline scatters by 0.35 pixels (`outline_fit.NOISE_PX`): at 2 pixels that is
0.59, not yet twice the scatter."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TooSmall:
    """A tee whose crotch cannot be told at this size: `radius_px` is what a usual radius spans."""

    radius_px: float
    places: tuple[tuple[float, float], ...]
    log_odds: float = field(default=0.0, init=False)

    @property
    def sentence(self) -> str:
        return (
            "Outline: whether the crotch is rounded or sharp cannot be told at this size: a radius "
            f"of a tenth of the outlet's outside diameter spans {self.radius_px:.1f} pixels of the "
            f"network's maps, and {LEAST_RADIUS_PX:.0f} are needed; go nearer, or crop the photo "
            "to the tee."
        )
