"""A fitting's shape as the fit of its proportions sees it: form, straight ends, ratios."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fittings.words import Kind, Part
from vision.piece_form import PARTS, Form

Floats = NDArray[np.float64]

BEND, CENTRE_TO_END = "bend in degrees", "centre to end over OD"
RUN_C, OUTLET_M, OUTLET_OD = "run C over OD", "outlet M over OD", "outlet OD over run OD"
END_TO_END, SMALL_OD = "H over large OD", "small OD over large OD"

ENDS, ENDS_SPREAD = {Kind.ELBOW: 0.35, Kind.TEE: 0.35, Kind.REDUCER: 0.5}, 0.3
"""Expected root of a straight end's share of the length, and its spread: 0 to 0.4 of an elbow's
or reducer's length, mostly below 0.2. B16.9 leaves the ends' straight length to the maker."""


def numbers_of(form: Form) -> Floats:
    """What is sought beside the camera: the form's proportions, so that any number makes a form,
    and last two lengths of no interest, a straight stretch at each end (`ENDS`)."""
    ends = [ENDS[form.kind]] * 2
    if form.kind is Kind.ELBOW:
        return np.array([np.log(form.length - 1.0), np.log(form.bend_deg), *ends])
    if form.kind is Kind.TEE:
        lengths = (form.length, form.second_radius, form.second_length)
        return np.array([*np.log(lengths), *ends])
    return np.array([np.log(form.length), np.log(form.second_radius), *ends])


def shape_of(like: Form, numbers: Floats) -> Shape:
    n = np.clip(numbers, -6.0, 6.0)
    first, last = (min(0.4, float(each**2)) for each in n[-2:])
    if like.kind is Kind.ELBOW:
        length, bend_deg = 1.0 + float(np.exp(n[0])), float(np.exp(n[1]))
        return Shape(form=replace(like, length=length, bend_deg=bend_deg), first=first, last=last)
    second = float(np.exp(n[1]))
    form = replace(like, length=float(np.exp(n[0])), second_radius=min(1.0, second))
    if like.kind is Kind.TEE:
        form = replace(form, second_length=float(np.exp(n[2])))
    return Shape(form=form, first=first, last=last, second_radius=second)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A form with straight ends, as shares of an elbow's or a reducer's length that are no part of
    its arc or cone (an elbow's are alike). `second_radius` is the form's, which stops at 1, before
    it is stopped."""

    form: Form
    first: float = 0.0
    last: float = 0.0
    second_radius: float = 1.0

    def points(self, part_labels: NDArray[np.int64], along: Floats, around: Floats) -> Floats:
        """(N, 3) in outside radii, of places (N,) on the parts with these labels."""
        form = self.form
        if form.kind is Kind.ELBOW:
            return self._bent(along, around)
        if form.kind is Kind.REDUCER:
            taper = (along - self.first) / (1.0 - self.first - self.last)
            inside = np.clip(taper, 0.0, 1.0)
            points = form.points(Part.BODY, inside, around)
            points[:, 0] = along * form.length
            return points
        points = np.empty((len(along), 3))
        for part in PARTS[Kind.TEE]:
            here = part_labels == part.label
            points[here] = form.points(part, along[here], around[here])
            if part is Part.OUTLET:
                points[here, :2] *= self.second_radius / form.second_radius
        return points

    def _bent(self, along: Floats, around: Floats) -> Floats:
        """An elbow with a straight stretch of the same share at both ends."""
        share = 0.5 * (self.first + self.last)
        inside = (along - share) / (1.0 - 2.0 * share)
        arc = np.clip(inside, 0.0, 1.0)
        points = self.form.points(Part.BODY, arc, around)
        turn = (arc - 0.5) * np.radians(self.form.bend_deg)
        whole = self.form.length * np.radians(self.form.bend_deg)
        beyond = (inside - arc) * whole
        points[:, 0] -= beyond * np.sin(turn)
        points[:, 1] += beyond * np.cos(turn)
        return points

    @property
    def tangent(self) -> float:
        """An elbow's straight stretch at each end, in outside radii."""
        share = 0.5 * (self.first + self.last)
        arc = self.form.length * float(np.radians(self.form.bend_deg))
        return arc * share / (1.0 - 2.0 * share)

    @property
    def middle(self) -> Floats:
        """(3,) the middle of the centreline, in outside radii."""
        if self.form.kind is Kind.ELBOW:
            return np.array([self.form.length, 0.0, 0.0])
        return np.array([self.form.length / 2.0 if self.form.kind is Kind.REDUCER else 0.0, 0, 0])


def values_of(shape: Shape) -> dict[str, float]:
    """A shape's proportions by name, lengths over the outside diameter of run or large end."""
    form = shape.form
    if form.kind is Kind.ELBOW:
        half = np.radians(min(form.bend_deg, 170.0)) / 2.0
        end = form.length * float(np.tan(half)) + shape.tangent
        return {BEND: form.bend_deg, CENTRE_TO_END: end / 2.0}
    if form.kind is Kind.TEE:
        return {
            RUN_C: form.length / 2.0,
            OUTLET_M: form.second_length / 2.0,
            OUTLET_OD: shape.second_radius,
        }
    return {END_TO_END: form.length / 2.0, SMALL_OD: shape.second_radius}
