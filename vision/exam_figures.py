"""From the exam's rows to its figures: pure functions of the rows.

A picture counts as fabricated when it shows a visible cross weld of a fabricated piece, and as not
fabricated when no fabricated piece is in view. Pictures in between (a fabrication that shows no
visible seam) can't be right or wrong about a seam, and are left out of those counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fittings.words import Kind, Reading
from vision import metrics
from vision.exam_groups import Group, alarm_groups, groups, is_fabricated
from vision.exam_lines import Count, Lines, count, lines
from vision.exam_rows import Row

FALSE_ALARM_SHARE = 0.05
"""The operating point at which readers are compared."""

PIECE_SHARE = 0.02
"""The kind is asked of single pieces that cover at least this share of the frame."""

CLOSE_SHARE = 0.3
"""From this share of the frame on, a piece mostly reaches beyond it, and its kind may not show."""

CLUTTER_PROPS = 3
"""Other things in a scene from which on it counts as cluttered; several pieces count too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """One reader on some rows. `threshold` is on the probability, found above it."""

    pictures: int
    unreadable: int
    kind: Count
    kind_none: Count
    kind_shown: Count  # of single pieces of which the picture shows what they are
    kind_hidden: Count
    kind_near: Count  # of single pieces that cover CLOSE_SHARE of the frame or more
    threshold: float
    recall_at_five: Count
    alarm_at_five: Count
    recall_shipped: Count
    alarm_shipped: Count
    auc: float
    alarm_none: Count
    alarm_clutter: Count
    groups: tuple[Group, ...]
    alarm_groups: tuple[Group, ...]
    lines: Lines
    joined_told: Count  # of the ends in view with a pipe joined to them
    joined_for_nothing: Count  # pictures of pieces without a pipe in which one is told
    overlap_median: float  # of traced lines and thinned seams
    pixel_iou_median: float  # of labelled pixels
    pixel_iou_half: Count  # of half or more
    calibration_error: float
    reliability: tuple[metrics.ReliabilityBin, ...]
    seconds_median: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Two readers on the same fabricated pictures, each at its own 5 % false alarm."""

    recall_gap: float
    auc_gap: float
    only_first: int
    only_second: int
    p_value: float


def is_cluttered(row: Row) -> bool:
    """Not fabricated, with several pieces or many other things in the scene."""
    crowded = len(row.kinds) > 1 or (len(row.kinds) == 1 and row.props >= CLUTTER_PROPS)
    return is_fabricated(row) is False and crowded


def figures(rows: Sequence[Row], reader: str, threshold: float | None = None) -> Figures:
    """What a reader reached on these rows.

    Without `threshold` it is set on these rows themselves, at `FALSE_ALARM_SHARE` of those that are
    not fabricated: the definition of that operating point.
    """
    said = {row.index: row.answers[reader] for row in rows}
    decided = [row for row in rows if is_fabricated(row) is not None]
    truth = [bool(is_fabricated(row)) for row in decided]
    scores = [said[row.index].fabricated_probability for row in decided]
    if threshold is None:
        point = metrics.recall_at_false_alarm(scores, truth, FALSE_ALARM_SHARE)
        threshold = point.threshold
    limit = threshold

    def above(row: Row) -> bool:
        return said[row.index].fabricated_probability > limit

    def called(row: Row) -> bool:
        return said[row.index].reading == Reading.FABRICATION_SEAM.value

    positives = [row for row in decided if is_fabricated(row)]
    negatives = [row for row in decided if not is_fabricated(row)]
    empty = [row for row in rows if not row.kinds]
    single = [row for row in rows if len(row.kinds) == 1 and row.shares[0] >= PIECE_SHARE]
    right_none = count(said[row.index].kind == Kind.NONE.value for row in empty)
    right_single = count(said[row.index].kind == row.kinds[0] for row in single)
    overlaps = [a.overlap for row in positives if (a := said[row.index]).overlap is not None]
    ious = [a.pixel_iou for row in positives if (a := said[row.index]).pixel_iou is not None]
    return Figures(
        pictures=len(rows),
        unreadable=sum(answer.error is not None for answer in said.values()),
        kind=Count(of=right_single.of + right_none.of, found=right_single.found + right_none.found),
        kind_none=right_none,
        kind_shown=count(
            said[row.index].kind == row.kinds[0] for row in single if row.kinds_shown == (True,)
        ),
        kind_hidden=count(
            said[row.index].kind == row.kinds[0] for row in single if row.kinds_shown == (False,)
        ),
        kind_near=count(
            said[row.index].kind == row.kinds[0] for row in single if row.shares[0] >= CLOSE_SHARE
        ),
        threshold=limit,
        recall_at_five=count(map(above, positives)),
        alarm_at_five=count(map(above, negatives)),
        recall_shipped=count(map(called, positives)),
        alarm_shipped=count(map(called, negatives)),
        auc=metrics.roc_auc(scores, truth),
        alarm_none=count(map(called, empty)),
        alarm_clutter=count(called(row) for row in rows if is_cluttered(row)),
        groups=groups(positives, above, called),
        alarm_groups=alarm_groups(negatives, above, called),
        lines=lines([said[row.index] for row in rows]),
        joined_told=Count(
            of=sum(row.joined_ends or 0 for row in rows),
            found=sum(
                said[row.index].joints_right or 0 for row in rows if row.joined_ends is not None
            ),
        ),
        joined_for_nothing=count(
            bool(said[row.index].joints_wrong)
            for row in rows
            if row.joined_ends == 0 and len(row.kinds) > 0
        ),
        overlap_median=metrics.percentile(overlaps, 50),
        pixel_iou_median=metrics.percentile(ious, 50),
        pixel_iou_half=count(iou >= 0.5 for iou in ious),
        calibration_error=metrics.calibration_error(scores, truth),
        reliability=metrics.reliability_table(scores, truth),
        seconds_median=metrics.percentile([a.seconds for a in said.values()], 50),
    )


def compare(rows: Sequence[Row], first: str, second: str) -> Comparison:
    """The first reader against the second on the same pictures, with an exact McNemar test."""
    ours, theirs = figures(rows, first), figures(rows, second)
    positives = [row for row in rows if is_fabricated(row)]
    hits = [
        np.array([row.answers[name].fabricated_probability > limit for row in positives], bool)
        for name, limit in ((first, ours.threshold), (second, theirs.threshold))
    ]
    only_first, only_second = int((hits[0] & ~hits[1]).sum()), int((hits[1] & ~hits[0]).sum())
    return Comparison(
        recall_gap=ours.recall_at_five.share - theirs.recall_at_five.share,
        auc_gap=ours.auc - theirs.auc,
        only_first=only_first,
        only_second=only_second,
        p_value=metrics.mcnemar_p(only_first, only_second),
    )
