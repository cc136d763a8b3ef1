"""The shape that surface coordinates belong to: a fitting in proportion, from a few ratios.

Everything is measured in outside radii of the body (elbow), the run (tee) or the large end
(reducer), because photographs without a known length give proportions and no millimetres. The
frames are those of `synthetic.shapes`: an elbow's bend centre at the origin and its centreline in
the plane z = 0, a tee's run along x with its outlet along +z, a reducer from its large end at
x = 0.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fittings.dimensions import ElbowRadius, elbow, reducer, tee
from fittings.words import Kind, Part

Field = NDArray[np.float64]

PARTS = {
    Kind.NONE: (),
    Kind.ELBOW: (Part.BODY,),
    Kind.TEE: (Part.RUN, Part.OUTLET),
    Kind.REDUCER: (Part.BODY,),
}
"""The parts of each kind that have a surface of their own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """Proportions of a fitting, lengths in outside radii.

    `length` is the bend radius of an elbow's centreline, half of a tee's run, or a reducer's
    end-to-end length; `second_radius` the radius of outlet or small end; `second_length` the
    outlet's height over the run's axis. An eccentric reducer's flat side is -z.
    """

    kind: Kind
    length: float
    second_radius: float = 1.0
    second_length: float = 1.0
    bend_deg: float = 90.0
    eccentric: bool = False

    def __post_init__(self) -> None:
        if self.kind is Kind.NONE:
            raise ValueError("a form belongs to an elbow, a tee or a reducer")
        if self.kind is Kind.ELBOW and not self.length > 1.0:
            raise ValueError(f"a bend's radius is more than the pipe's, not {self.length} of it")
        if self.kind is Kind.TEE and not 0.0 < self.second_radius <= 1.0:
            raise ValueError(f"an outlet is no larger than its run: {self.second_radius}")

    def points(self, part: Part, along: Any, around_rad: Any) -> Field:
        """(…, 3) points of the outside at those coordinates, in outside radii.

        The torus, cylinder and cone of the module's frames. A reducer's profile is the S of
        `synthetic.shapes` without stubs.
        """
        u, t = np.broadcast_arrays(np.asarray(along, float), np.asarray(around_rad, float))
        cos, sin = np.cos(t), np.sin(t)
        if self.kind is Kind.ELBOW:
            turn = (u - 0.5) * np.radians(self.bend_deg)
            reach = self.length + cos
            return np.stack([reach * np.cos(turn), reach * np.sin(turn), -sin], -1)
        if self.kind is Kind.TEE:
            if part is Part.OUTLET:
                r = self.second_radius
                return np.stack([r * cos, r * sin, u * self.second_length], -1)
            return np.stack([(2.0 * u - 1.0) * self.length, -sin, cos], -1)
        radius = self.radius_at(u)
        centre = (radius - 1.0) if self.eccentric else 0.0 * radius
        return np.stack([u * self.length, radius * sin, centre - radius * cos], -1)

    def normals(self, part: Part, along: Any, around_rad: Any) -> Field:
        """(…, 3) unit normals that point outwards: ∂P/∂around × ∂P/∂along by central differences,
        since `around` counts right-handed about the direction in which `along` grows."""
        u, t, h = np.asarray(along, float), np.asarray(around_rad, float), 1e-4
        by_along = self.points(part, u + h, t) - self.points(part, u - h, t)
        by_around = self.points(part, u, t + h) - self.points(part, u, t - h)
        normal = np.cross(by_around, by_along)
        return np.asarray(normal / np.linalg.norm(normal, axis=-1, keepdims=True))

    def radius_at(self, along: Any) -> Field:
        """A reducer's radius at `along`, from 1 at the large end to `second_radius`."""
        u = np.clip(np.asarray(along, float), 0.0, 1.0)
        return 1.0 + (self.second_radius - 1.0) * u * u * (3.0 - 2.0 * u)

    def exists(self, part: Part, along: Any, around_rad: Any) -> NDArray[np.bool_]:
        """Whether the part has a surface there: a tee's run has none under its outlet, and the
        outlet none below the branch curve (`fittings.geometry.branch_curve`)."""
        u, t = np.broadcast_arrays(np.asarray(along, float), np.asarray(around_rad, float))
        if self.kind is not Kind.TEE:
            return np.ones(u.shape, bool)
        if part is Part.OUTLET:
            return np.asarray(u * self.second_length >= self.root_height(t))
        off = np.hypot((2.0 * u - 1.0) * self.length, np.sin(t))
        return np.asarray((off >= self.second_radius) | (np.cos(t) <= 0.0))

    def root_height(self, around_rad: Any) -> Field:
        """Height of a tee's branch curve over the run's axis, at `around` of the outlet:
        √(1 − r² sin² t), as `fittings.geometry.branch_curve` has it."""
        across = self.second_radius * np.sin(np.asarray(around_rad, float))
        return np.sqrt(np.maximum(1.0 - across * across, 0.0))


def usual_form(kind: Kind) -> Form:
    """Proportions to start from where nothing was measured: the NPS 6 rows of ASME B16.9 (long
    radius 90° elbow, straight tee, 6 × 4 reducer). ValueError without a fitting."""
    if kind is Kind.ELBOW:
        row = elbow("6", ElbowRadius.LONG, 90)
        return Form(kind=kind, length=2 * row.bend_radius_mm / row.od_mm)
    if kind is Kind.TEE:
        straight = tee("6")
        radius_mm = straight.run_od_mm / 2
        return Form(
            kind=kind,
            length=straight.run_c_mm / radius_mm,
            second_radius=straight.outlet_od_mm / straight.run_od_mm,
            second_length=straight.outlet_m_mm / radius_mm,
        )
    if kind is Kind.REDUCER:
        cone = reducer("6", "4")
        return Form(
            kind=kind,
            length=2 * cone.end_to_end_mm / cone.large_od_mm,
            second_radius=cone.small_od_mm / cone.large_od_mm,
        )
    raise ValueError("without a fitting there are no proportions")
