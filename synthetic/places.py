"""Where on a piece a point lies, in the numbers that marks and skins are laid out by."""

from __future__ import annotations

from math import pi
from types import ModuleType
from typing import NamedTuple

from fittings.words import Kind, Part
from synthetic.fields import Array, Vec, mix
from synthetic.packing import Numbers
from synthetic.shapes import prop_number

_FAR_MM = 1.0e6


class Place(NamedTuple):
    """A point's place on its piece (all arrays of the points' shape).

    `axial_mm` counts along the centreline of the part from where its `along` is 0, `length_mm` is
    that centreline's length; `around` is the angle in radians, from a datum that no camera moves;
    `radius_mm` is about the outside radius there; `end_mm` the distance along the centreline to
    the nearest open end; `axis` the centreline's direction, unit, in the piece's frame.
    """

    axial_mm: Array
    length_mm: Array
    around: Array
    radius_mm: Array
    end_mm: Array
    axis: Vec


def place_on(
    xp: ModuleType, kind: Kind, n: Numbers, local: Vec, part: Array, along: Array, around: Array
) -> Place:
    """The place of `local` points (piece's frame) with these surface coordinates."""
    x, y, z = local
    zero = 0.0 * along
    radius = n["piece.radius_mm"] + zero
    if kind is Kind.ELBOW:
        half = n["piece.bend_deg"] * (0.5 * pi / 180.0)
        length = 2.0 * (half * n["piece.length_mm"] + n["piece.stub_mm"]) + zero
        # The straight ends keep the direction of the bend's end.
        angle = xp.maximum(xp.minimum(xp.atan2(y, x), half + zero), zero - half)
        axis = (-xp.sin(angle), xp.cos(angle), zero)
    elif kind is Kind.TEE:
        # A number, 1 on the outlet: choosing by a truth value here keeps GCC 12 from vectorising.
        outlet = xp.clip(1.0 - xp.abs(part - 1.0 * Part.OUTLET.label), min=0.0)
        length = mix(2.0 * n["piece.length_mm"], n["piece.second_length_mm"], outlet)
        radius = mix(radius, n["piece.second_radius_mm"], outlet)
        axis = (1.0 - outlet, zero, outlet + 0.0)
        axial = along * length
        from_start = axial + _FAR_MM * outlet
        return Place(
            axial_mm=axial,
            length_mm=length,
            around=around + 0.0,
            radius_mm=radius,
            end_mm=xp.minimum(from_start, length - axial),
            axis=axis,
        )
    else:
        length = n["piece.length_mm"] + zero
        taper = length - n["piece.stub_mm"] - n["piece.second_stub_mm"]
        share = xp.clip((along * length - n["piece.stub_mm"]) / taper, 0.0, 1.0)
        radius = radius + share * (n["piece.second_radius_mm"] - radius)
        axis = (zero + 1.0, zero, zero)
        # A concentric reducer's own datum faces the camera; marks must not turn with it.
        around = xp.where(n["piece.eccentric"] > 0.5, around, xp.atan2(y, -z))
    axial = along * length
    return Place(
        axial_mm=axial,
        length_mm=length,
        around=around + 0.0,
        radius_mm=radius,
        end_mm=xp.minimum(axial, length - axial),
        axis=axis,
    )


def place_on_prop(
    xp: ModuleType, n: Numbers, which: Array, p: Vec, normal: Vec
) -> tuple[Vec, Place, Array]:
    """World points in the frame of the prop numbered `which`, x counted from its end at -x as on a
    reducer; their place on it; and 1 on its outside, 0 in its bore, where the `normal` (world)
    faces the axis. The place's `axis` is in the world's frame."""

    def chosen(field: str) -> Array:
        return prop_number(xp, n, field, which)

    offset = [c - chosen(f"position_mm.{j}") for j, c in enumerate(p)]
    x, y, z = (
        sum(chosen(f"rotation.{column + 3 * row}") * offset[row] for row in range(3))
        for column in range(3)
    )
    up, side = (
        sum(chosen(f"rotation.{column + 3 * row}") * normal[row] for row in range(3))
        for column in (1, 2)
    )
    outside = xp.where(y * up + z * side < -0.3 * xp.hypot(y, z), 0.0 * x, 0.0 * x + 1.0)
    half = chosen("half_length_mm")
    radius = n["piece.radius_mm"] + 0.0 * x
    place = Place(
        axial_mm=x + half,
        length_mm=2.0 * half,
        around=xp.atan2(y, 0.0 - z),
        radius_mm=radius,
        end_mm=half - xp.abs(x),
        axis=(chosen("rotation.0") + 0.0, chosen("rotation.3") + 0.0, chosen("rotation.6") + 0.0),
    )
    return (x + half, y + 0.0, z + 0.0), place, outside
