"""How good the traced lines of an exam are: orientation by seam map and by geometry, and angles."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fittings.words import Orientation
from vision import metrics
from vision.exam_rows import Answer, Traced

TRUE_ANGLE_DEG = {Orientation.LONGITUDINAL.value: 0.0, Orientation.CIRCUMFERENTIAL.value: 90.0}
"""What a seam must measure on the surface. A branch seam has no one angle (it winds about the
outlet's end), so it is left out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """So many of so many, with the Wilson interval of the share."""

    of: int
    found: int

    @property
    def share(self) -> float:
        """nan of none."""
        return self.found / self.of if self.of else float("nan")

    @property
    def interval(self) -> tuple[float, float]:
        return metrics.wilson_interval(self.found, self.of)


def count(values: Iterable[bool]) -> Count:
    """How many are true."""
    tally = Counter(bool(value) for value in values)
    return Count(of=tally[True] + tally[False], found=tally[True])


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Of the lines that overlap a true seam, except `on_no_seam`, which counts all.

    `orientation` is the seam map's, in all and by what is true; `geometric` the geometry's where it
    tells, `geometric_told` how often it does; `disagree` counts lines about which the two differ.
    `within_uncertainty` counts angles off by at most twice what they claim.
    """

    orientation: Count
    orientations: tuple[tuple[str, Count], ...]
    on_no_seam: Count
    geometric: Count
    geometric_told: Count
    disagree: Count
    angle_error_median_deg: float
    angle_error_p95_deg: float
    angles: int
    within_uncertainty: Count
    end_joints: int
    joints_right: Count  # of those whose ends are known


def lines(answers: Sequence[Answer]) -> Lines:
    """The figures of all lines of these answers."""
    traced = [t for answer in answers for t in answer.traced]
    matched = [t for t in traced if t.true_orientation is not None]
    told = [t for t in matched if t.geometric_orientation is not None]
    off_deg = [off for t in matched if (off := angle_error_deg(t)) is not None]
    return Lines(
        orientation=count(t.orientation == t.true_orientation for t in matched),
        orientations=tuple(
            (
                o.value,
                count(t.orientation == o.value for t in matched if t.true_orientation == o.value),
            )
            for o in Orientation
        ),
        on_no_seam=count(t.true_orientation is None for t in traced),
        geometric=count(t.geometric_orientation == t.true_orientation for t in told),
        geometric_told=count(t.geometric_orientation is not None for t in matched),
        disagree=count(t.geometric_orientation != t.orientation for t in told),
        angle_error_median_deg=metrics.percentile(off_deg, 50),
        angle_error_p95_deg=metrics.percentile(off_deg, 95),
        angles=len(off_deg),
        within_uncertainty=count(
            off <= 2.0 * t.angle_uncertainty_deg
            for t in matched
            if t.angle_uncertainty_deg is not None and (off := angle_error_deg(t)) is not None
        ),
        end_joints=sum(answer.end_joints for answer in answers),
        joints_right=_joints_right(answers),
    )


def _joints_right(answers: Sequence[Answer]) -> Count:
    """Of the joints told in pictures whose ends are known, those on an end with a pipe."""
    known = [(a.end_joints, a.joints_wrong) for a in answers if a.joints_wrong is not None]
    told = sum(joints for joints, _ in known)
    return Count(of=told, found=told - sum(wrong for _, wrong in known))


def angle_error_deg(traced: Traced) -> float | None:
    """The surface angle of a line on a true seam less what that must be; None without one."""
    true_deg = TRUE_ANGLE_DEG.get(traced.true_orientation or "")
    if traced.surface_angle_deg is None or true_deg is None:
        return None
    return float(metrics.angle_difference_deg(traced.surface_angle_deg, true_deg))
