"""The plain shape of a butt weld, as far as codes and habit give it."""

from __future__ import annotations


def bead_half_width_mm(wall_mm: float) -> float:
    """Half the crown's width of a single V: t·tan 37.5° + half of (gap + 3 mm overlap).

    Geometry of the plain bevel of ASME B16.25 (from memory); the overlap is common practice, no
    source.
    """
    return wall_mm * 0.767 + 2.3
