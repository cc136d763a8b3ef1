"""From the exam's rows to the share found against contrast and size: pure functions of the rows.

A picture counts once, by one seam. Against contrast that is its plainest fabrication seam among
those large enough to count as visible; against size, its largest among those with contrast enough.
So each half looks below one limit while the other is kept, and past the limit both halves hold the
pictures that the exam's recall is of.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from fittings.words import ADVISORY
from synthetic.render import VISIBLE_CONTRAST, VISIBLE_SHARE
from vision.exam import ExamError, Plan
from vision.exam_figures import FALSE_ALARM_SHARE, figures
from vision.exam_groups import is_fabricated
from vision.exam_lines import Count, count
from vision.exam_rows import Row, TrueSeam, row_from_json

CONTRAST_EDGES = (0.0, 0.5, 1.0, 2.0, VISIBLE_CONTRAST, 8.0, 16.0, 32.0, 256.0)
"""Octaves of 8-bit levels, one edge at the visible limit; the first bin reaches down to nothing."""

_VISIBLE_PERCENT = 100.0 * VISIBLE_SHARE
SIZE_EDGES_PERCENT = (0.0, _VISIBLE_PERCENT / 2, _VISIBLE_PERCENT, 0.5, 1.0, 2.0, 4.0, 100.0)
"""Percent of the frame, one edge at the visible limit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bin:
    """Fabrications whose seam lies in [low, high), and how many of them a reader found."""

    low: float
    high: float
    found: Count


@dataclass(frozen=True, slots=True, kw_only=True)
class Half:
    """One half of the picture: each reader's bins along one quantity. `left_out` counts the
    fabrications that have no seam past the other limit."""

    quantity: str
    limit: float
    limit_words: str
    left_out: int
    bins: dict[str, tuple[Bin, ...]]


def read_rows(path: Path) -> tuple[Plan, list[Row]]:
    """The plan and the rows that an exam kept, in order; the file is left as it is.

    A torn last line (the exam may still be running) is passed over. ExamError for a file that
    can't be read or holds something else, naming the line.
    """
    try:
        lines = path.read_text(encoding="utf-8").split("\n")[:-1]
    except (OSError, UnicodeDecodeError) as error:
        raise ExamError(f"{path} can't be read ({error}). Give the file of an exam.") from error
    if len(lines) < 2:
        raise ExamError(f"{path} holds no rows. Run python -m vision.exam --json {path} first.")
    rows: dict[int, Row] = {}
    for number, line in enumerate(lines, start=1):
        try:
            if number == 1:
                plan = Plan(**json.loads(line))
            else:
                row = row_from_json(json.loads(line))
                rows[row.index] = row
                if set(row.answers) != set(plan.models):
                    raise ValueError("its readers are not those of the first line")
        except (ValueError, KeyError, TypeError, AttributeError) as error:
            raise ExamError(
                f"{path}, line {number}, is no part of an exam ({error}). "
                "Give the file that python -m vision.exam --json wrote."
            ) from error
    return plan, [rows[index] for index in sorted(rows)]


def against_contrast(row: Row) -> float | None:
    """The contrast of its plainest fabrication seam of VISIBLE_SHARE or more, in 8-bit levels."""
    return _most(row, lambda seam: seam.share >= VISIBLE_SHARE, lambda seam: seam.contrast)


def against_size(row: Row) -> float | None:
    """Its largest fabrication seam of VISIBLE_CONTRAST or more, in percent of the frame."""
    return _most(
        row, lambda seam: seam.contrast >= VISIBLE_CONTRAST, lambda seam: 100.0 * seam.share
    )


def _most(
    row: Row, counts: Callable[[TrueSeam], bool], value: Callable[[TrueSeam], float]
) -> float | None:
    found = [value(seam) for seam in row.seams if seam.fabrication and counts(seam)]
    return max(found, default=None)


def binned(
    values: Sequence[float], found: Sequence[bool], edges: Sequence[float]
) -> tuple[Bin, ...]:
    """Counts between the edges, each bin closed below; values past the last edge fall in the last
    bin, so that every one is counted once."""
    out = []
    for low, high in pairwise(edges):
        last = high == edges[-1]
        here = [
            hit for v, hit in zip(values, found, strict=True) if low <= v and (v < high or last)
        ]
        out.append(Bin(low=low, high=high, found=count(here)))
    return tuple(out)


def halves(rows: Sequence[Row], readers: Sequence[str]) -> tuple[Half, Half]:
    """Against contrast, and against size. Each reader's threshold is the exam's own: that of
    `FALSE_ALARM_SHARE` on these rows' pictures without a fabrication. ExamError without those, or
    without any fabrication, since then there is nothing to plot."""
    if not any(is_fabricated(row) is False for row in rows):
        raise ExamError("No picture without a fabrication: a false alarm can't be told. Add rows.")
    thresholds = {name: figures(rows, name).threshold for name in readers}
    fabricated = [row for row in rows if any(seam.fabrication for seam in row.seams)]
    if not fabricated:
        raise ExamError("No picture shows a fabrication's seam: nothing can be found. Add rows.")

    def half(
        quantity: str,
        limit: tuple[float, str],
        value: Callable[[Row], float | None],
        edges: Sequence[float],
    ) -> Half:
        pairs = [(row, v) for row in fabricated if (v := value(row)) is not None]
        return Half(
            quantity=quantity,
            limit=limit[0],
            limit_words=limit[1],
            left_out=len(fabricated) - len(pairs),
            bins={
                name: binned(
                    [v for _, v in pairs],
                    [r.answers[name].fabricated_probability > thresholds[name] for r, _ in pairs],
                    edges,
                )
                for name in readers
            },
        )

    return (
        half(
            "contrast left in the seam, 8-bit levels",
            (VISIBLE_CONTRAST, f"visible limit, {VISIBLE_CONTRAST:g} levels"),
            against_contrast,
            CONTRAST_EDGES,
        ),
        half(
            "size of the seam, % of the frame",
            (_VISIBLE_PERCENT, f"visible limit, {_VISIBLE_PERCENT:.2f} %"),
            against_size,
            SIZE_EDGES_PERCENT,
        ),
    )


def table(parts: Sequence[Half]) -> str:
    """The same numbers as plain text."""
    alarm = f"{100 * FALSE_ALARM_SHARE:.0f} % false alarm"
    lines = [f"Share of fabrications found at {alarm}, with Wilson intervals of 95 %"]
    for part in parts:
        readers = list(part.bins)
        lines += [
            "",
            f"by {part.quantity} ({part.limit_words})",
            f"  left out: {part.left_out} pictures of which no seam reaches the other limit",
        ]
        lines += ["  " + f"{'':<22}" + "".join(f"{name:<26}" for name in readers).rstrip()]
        for same in zip(*part.bins.values(), strict=True):
            name = f"{same[0].low:.3g} to {same[0].high:.3g}"
            below = " below" if same[0].high <= part.limit else ""
            cells = "".join(f"{_words(each.found):<26}" for each in same)
            lines.append("  " + f"{name + below:<22}" + cells.rstrip())
    return "\n".join([*lines, "", ADVISORY])


def _words(found: Count) -> str:
    """As "45 of 50, 90 % [79, 96]"."""
    if not found.of:
        return "none"
    low, high = found.interval
    share = f"{100 * found.share:.0f} % [{100 * low:.0f}, {100 * high:.0f}]"
    return f"{found.found} of {found.of}, {share}"
