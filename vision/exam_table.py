"""The exam's figures as plain text."""

from __future__ import annotations

from collections.abc import Sequence

from synthetic.render import VISIBLE_CONTRAST, VISIBLE_SHARE
from vision.exam_factors import IOU_PX
from vision.exam_figures import (
    CLOSE_SHARE,
    CLUTTER_PROPS,
    PIECE_SHARE,
    Figures,
    compare,
    figures,
)
from vision.exam_groups import Group, is_fabricated
from vision.exam_lines import Count
from vision.exam_rows import Row

_WIDTH = 38


def table(rows: Sequence[Row], readers: Sequence[str]) -> str:
    """The whole report; the first reader is the one under examination."""
    whole = [figures(rows, name) for name in readers]
    lines = _head(rows)
    lines += _section("Everything", readers, whole)
    lines += [
        "",
        "RECALL BY GROUP (largest visible fabrication seam; at 5 % false alarm, as shipped)",
    ]
    lines += _groups(readers, [each.groups for each in whole])
    lines += ["", "FALSE ALARMS BY GROUP (at 5 % over all, as shipped)"]
    lines += _groups(readers, [each.alarm_groups for each in whole])
    lines += ["", "SAID AND CAME TRUE (fabricated_probability, ten equal bins)"]
    for name, each in zip(readers, whole, strict=True):
        lines += [f"  {name}: expected calibration error {each.calibration_error:.3f}"]
        lines += [
            f"    {b.low:.1f} to {b.high:.1f}: said {b.mean_probability:.2f}, "
            f"true {_count(Count(of=b.count, found=b.positives))}"
            for b in each.reliability
            if b.count
        ]
    for title, held_out in (("usual looks", False), ("looks kept back from training", True)):
        some = [row for row in rows if bool(row.looks) is held_out]
        if some:
            parts = [
                figures(some, name, threshold=each.threshold)
                for name, each in zip(readers, whole, strict=True)
            ]
            lines += _section(f"{title}, thresholds as above", readers, parts)
    for other in readers[1:]:
        gap = compare(rows, readers[0], other)
        lines += [
            "",
            f"{readers[0].upper()} AGAINST {other.upper()}, same pictures, each at 5 % false alarm",
            f"  recall {100 * gap.recall_gap:+.1f} points, area under curve {gap.auc_gap:+.3f}",
            f"  found by {readers[0]} alone {gap.only_first}, by {other} alone {gap.only_second}; "
            f"McNemar's exact test p = {gap.p_value:.2g}",
        ]
    return "\n".join(lines)


def _head(rows: Sequence[Row]) -> list[str]:
    truth = [is_fabricated(row) for row in rows]
    return [
        f"{len(rows)} pictures: {truth.count(True)} with a visible fabrication seam, "
        f"{truth.count(False)} without a fabrication, {truth.count(None)} left out between them",
        f"  visible: at least {100 * VISIBLE_SHARE:.2f} % of the frame and a contrast of "
        f"{VISIBLE_CONTRAST:g} of 255 levels; intervals: Wilson, 95 %",
    ]


def _section(title: str, readers: Sequence[str], each: Sequence[Figures]) -> list[str]:
    """One line per figure, one column per reader."""
    rows: list[tuple[str, list[str]]] = [
        ("pictures", [str(f.pictures) for f in each]),
        ("unreadable", [str(f.unreadable) for f in each]),
        (
            f"kind right (one piece ≥ {100 * PIECE_SHARE:.0f} %, none)",
            [_count(f.kind) for f in each],
        ),
        ("  of which no fitting", [_count(f.kind_none) for f in each]),
        ("  of which pieces that show their kind", [_count(f.kind_shown) for f in each]),
        ("  of which pieces that hide it", [_count(f.kind_hidden) for f in each]),
        (
            f"  of which pieces ≥ {100 * CLOSE_SHARE:.0f} % of frame",
            [_count(f.kind_near) for f in each],
        ),
        ("recall at 5 % false alarm", [_count(f.recall_at_five) for f in each]),
        ("  false alarms there", [_count(f.alarm_at_five) for f in each]),
        ("  threshold there", [f"{f.threshold:.3f}" for f in each]),
        ("recall as shipped", [_count(f.recall_shipped) for f in each]),
        ("  false alarms there", [_count(f.alarm_shipped) for f in each]),
        ("area under the ROC curve", [f"{f.auc:.3f}" for f in each]),
        ("no fitting read as fabrication", [_count(f.alarm_none) for f in each]),
        (
            f"clutter (≥ {CLUTTER_PROPS} things, pieces) read so",
            [_count(f.alarm_clutter) for f in each],
        ),
        ("orientation of traced seams right", [_count(f.lines.orientation) for f in each]),
    ]
    for i, (name, _) in enumerate(each[0].lines.orientations):
        rows.append((f"  truly {name}", [_count(f.lines.orientations[i][1]) for f in each]))
    rows += [
        ("traced where no seam is", [_count(f.lines.on_no_seam) for f in each]),
        ("lines' overlap, fabricated, median", [f"{f.overlap_median:.2f}" for f in each]),
        (f"seam pixels' IoU within {IOU_PX:g} px, median", [_median_iou(f) for f in each]),
        ("  of half or more", [_count(f.pixel_iou_half) for f in each]),
        (
            "surface angle error, median / 95th",
            [
                f"{f.lines.angle_error_median_deg:.1f}° / {f.lines.angle_error_p95_deg:.1f}° "
                f"of {f.lines.angles}"
                for f in each
            ],
        ),
        (
            "  off by at most twice its uncertainty",
            [_count(f.lines.within_uncertainty) for f in each],
        ),
        ("geometry tells an orientation", [_count(f.lines.geometric_told) for f in each]),
        ("  which is right", [_count(f.lines.geometric) for f in each]),
        ("  which the seam map contradicts", [_count(f.lines.disagree) for f in each]),
        ("joints to a pipe told", [str(f.lines.end_joints) for f in each]),
        ("  which are on a joined end", [_count(f.lines.joints_right) for f in each]),
        ("joined ends in view that are told", [_count(f.joined_told) for f in each]),
        ("pieces without a pipe given a joint", [_count(f.joined_for_nothing) for f in each]),
        ("calibration error", [f"{f.calibration_error:.3f}" for f in each]),
        ("seconds a picture, median", [f"{f.seconds_median:.2f}" for f in each]),
    ]
    return ["", title.upper(), _line("", list(readers)), *(_line(n, cells) for n, cells in rows)]


def _median_iou(found: Figures) -> str:
    return f"{found.pixel_iou_median:.2f}" if found.pixel_iou_half.of else "none"


def _groups(readers: Sequence[str], each: Sequence[Sequence[Group]]) -> list[str]:
    lines = [_line("", list(readers))]
    title = ""
    for same in zip(*each, strict=True):
        if same[0].title != title:
            title = same[0].title
            lines.append(f"  by {title}")
        cells = [f"{_count(group.at_five)}; {_short(group.shipped)}" for group in same]
        lines.append(_line(f"  {same[0].name}", cells))
    return lines


def _line(name: str, cells: list[str]) -> str:
    return "  " + f"{name:<40}" + "".join(f"{cell:<{_WIDTH}}" for cell in cells).rstrip()


def _count(count: Count) -> str:
    """As "45/50 90 % [79, 96]"."""
    if not count.of:
        return "none"
    low, high = count.interval
    return f"{_short(count)} [{100 * low:.0f}, {100 * high:.0f}]"


def _short(count: Count) -> str:
    return f"{count.found}/{count.of} {100 * count.share:.0f} %" if count.of else "none"
