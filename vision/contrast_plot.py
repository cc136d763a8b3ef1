"""What "no seam seen" is worth: the share of fabrications found against how faint their seams are.

    python -m vision.contrast_plot --rows runs/exam.jsonl --out contrast.png

Reads the rows that `python -m vision.exam --json` keeps, which hold the seams below the visible
limit too, and draws for each reader the share found at 5 % false alarm, with Wilson intervals,
against the contrast left and against the seam's size; the same numbers are printed as a table.
`vision.contrast_bins` says what is counted.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fittings.words import ADVISORY
from vision.contrast_bins import Half, halves, table
from vision.exam_figures import FALSE_ALARM_SHARE
from vision.exam_plots import LOOKS, Drawn, main_of, rgb
from vision.exam_rows import Row

_APART = 1.06  # readers' markers stand beside each other by this factor


def contrast_figure(parts: Sequence[Half], pictures: int) -> Figure:
    """The halves beside each other, on one scale of recall."""
    figure = Figure(figsize=(11, 5.6), layout="constrained")
    for number, part in enumerate(parts):
        _draw(figure.add_subplot(1, len(parts), number + 1), part, first=number == 0)
    figure.suptitle(
        f"Fabrications found at {100 * FALSE_ALARM_SHARE:.0f} % false alarm, {pictures} pictures "
        "of the exam",
        fontsize=11,
        fontweight="bold",
    )
    handles, labels = figure.axes[0].get_legend_handles_labels()
    legend = figure.legend(
        handles[1:] + handles[:1],  # the dotted line comes first of its own, and belongs last
        labels[1:] + labels[:1],
        loc="outside lower center",
        ncols=3,
        frameon=False,
        title=f"Bars: Wilson intervals, 95 %; n: pictures in the bin. {ADVISORY}",
    )
    legend.get_title().set_fontsize(8)
    return figure


def _draw(axes: Axes, part: Half, *, first: bool) -> None:
    some = next(iter(part.bins.values()))
    # A logarithmic axis has no zero: the lowest bin and the highest are drawn one octave wide.
    shown = [(b.low or b.high / 2, b.high) for b in some[:-1]]
    shown.append((some[-1].low, 2 * some[-1].low))
    for number, (name, bins) in enumerate(part.bins.items()):
        colour, marker, line = LOOKS[number % len(LOOKS)]
        spots = [
            (math.sqrt(low * high) * _APART ** (2 * number - len(part.bins) + 1), each.found)
            for (low, high), each in zip(shown, bins, strict=True)
            if each.found.of
        ]
        share = [found.share for _, found in spots]
        axes.errorbar(
            [at for at, _ in spots],
            share,
            yerr=[
                [max(s - f.interval[0], 0.0) for s, (_, f) in zip(share, spots, strict=True)],
                [max(f.interval[1] - s, 0.0) for s, (_, f) in zip(share, spots, strict=True)],
            ],
            color=rgb(colour),
            marker=marker,
            linestyle=line,
            linewidth=1.8,
            elinewidth=1.2,
            capsize=3,
            label=f"{name} ({line} line)",
        )
    axes.set_xscale("log")
    axes.set_xlim(shown[0][0], shown[-1][1])
    axes.set_ylim(-0.09, 1.08)
    marks = [low for low, _ in shown[1:]]
    axes.set_xticks(marks, [f"{mark:.2g}" for mark in marks])
    axes.minorticks_off()
    axes.axvspan(shown[0][0], part.limit, color="0.94", zorder=0)
    axes.axvline(part.limit, color="black", linewidth=1.4)
    axes.text(part.limit, 1.03, f" {part.limit_words}", fontsize=8, va="bottom")
    axes.axhline(
        FALSE_ALARM_SHARE, color="0.45", linestyle=(0, (1, 2)), label="false alarms (dots)"
    )
    for (low, high), each in zip(shown, some, strict=True):
        axes.annotate(
            f"n {each.found.of}",
            (math.sqrt(low * high), -0.09),
            xytext=(0, 3),
            textcoords="offset points",
            ha="center",
            fontsize=7,
            color="0.3",
        )
    axes.set_xlabel(part.quantity)
    if first:
        axes.set_ylabel("share found")


def contrast(rows: list[Row], readers: list[str]) -> Drawn:
    """The figure of both halves, and their table."""
    parts = halves(rows, readers)
    return contrast_figure(parts, len(rows)), table(parts)


def main(arguments: Sequence[str] | None = None) -> int:
    """The command; see `vision.exam_plots.main_of`."""
    description = "Share of fabrications found against contrast and size."
    return main_of("vision.contrast_plot", description, contrast, arguments)


if __name__ == "__main__":
    sys.exit(main())
