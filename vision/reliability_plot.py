"""Does a probability mean what it says? Of the pictures given about so much, so many were it.

    python -m vision.reliability_plot --rows runs/exam.jsonl --out reliability.png

Reads the rows that `python -m vision.exam --json` keeps. A point on the diagonal says that among
pictures read with that probability the same share showed a visible fabrication seam. Pictures of a
fabrication that shows none are left out, as in the exam's own calibration error.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

from matplotlib.figure import Figure

from fittings.words import ADVISORY
from vision.exam_figures import figures
from vision.exam_lines import Count
from vision.exam_plots import LOOKS, Drawn, main_of, rgb
from vision.exam_rows import Row


def reliability(rows: list[Row], readers: list[str]) -> Drawn:
    """The diagram, with Wilson intervals, over a count of the pictures of each bin."""
    figure = Figure(figsize=(6.4, 6.8), layout="constrained")
    axes, counts = figure.subplots(2, 1, height_ratios=(4, 1), sharex=True)
    axes.plot([0, 1], [0, 1], color="0.45", linestyle=(0, (1, 2)), label="as it should be (dots)")
    lines = []
    for name, (colour, marker, line) in zip(readers, LOOKS, strict=False):
        found = figures(rows, name)
        bins = [b for b in found.reliability if b.count]
        each = [Count(of=b.count, found=b.positives) for b in bins]
        said = [b.mean_probability for b in bins]
        low = [max(c.share - c.interval[0], 0.0) for c in each]
        high = [max(c.interval[1] - c.share, 0.0) for c in each]
        axes.errorbar(
            said, [c.share for c in each], yerr=[low, high], color=rgb(colour), marker=marker,
            linestyle=line, linewidth=1.8, elinewidth=1.2, capsize=3,
            label=f"{name} ({line} line), expected error {found.calibration_error:.3f}",
        )  # fmt: skip
        counts.plot(said, [c.of for c in each], color=rgb(colour), marker=marker, linestyle=line)
        lines.append(f"{name}: expected calibration error {found.calibration_error:.3f}")
        lines += [
            f"  {b.low:.1f} to {b.high:.1f}: said {b.mean_probability:.2f}, came true "
            f"{b.positives}/{b.count} {100 * c.share:.0f} % "
            f"[{100 * c.interval[0]:.0f}, {100 * c.interval[1]:.0f}]"
            for b, c in zip(bins, each, strict=True)
        ]
    axes.set_ylabel("share with a visible fabrication seam")
    axes.set_xlim(0, 1)
    axes.set_ylim(-0.03, 1.03)
    axes.legend(frameon=False, loc="upper left", fontsize=8)
    axes.set_title(
        f"What the probability is worth, {len(rows)} pictures of the exam", weight="bold"
    )
    counts.set_yscale("log")
    counts.set_ylabel("pictures")
    counts.set_xlabel("probability of a fabrication, as read")
    figure.supxlabel(ADVISORY.replace(": ", ":\n", 1), fontsize=8)
    return figure, "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> int:
    """The command; see `vision.exam_plots.main_of`."""
    description = "Share that came true against the probability that was read."
    return main_of("vision.reliability_plot", description, reliability, arguments)


if __name__ == "__main__":
    sys.exit(main())
