"""Stress intensification against wall, for the ordered size: formed and fabricated side by side.

It is drawn on its own canvas without pyplot, so that no window and no state outlives the
picture. The same piece gives the same bytes.
"""

from __future__ import annotations

import io
from dataclasses import replace
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from fittings.dimensions import SizeTable, listed_sizes, pipe
from fittings.strength.consequence import Consequence, consequence
from fittings.strength.flexibility import LARGEST_RATIO, Flexibility
from fittings.strength.ordered_piece import OrderedPiece
from fittings.words import OKABE_ITO, Kind

_STYLE: Any = {
    "font.family": "DejaVu Sans",
    "font.size": 9,
    "svg.hashsalt": "seamtriage",
    "axes.spines.right": False,
    "axes.spines.top": False,
}
# The ordered piece first; each line has its own colour and its own pattern.
_COLOURS = ("blue", "vermillion", "orange", "reddish purple", "bluish green")
_DASHES = ((), (6, 2), (7, 2, 1.5, 2), (2, 1.5), (4, 1.5, 1, 1.5, 1, 1.5))
_POINTS = 120
_THICKEST = 0.49  # of the diameter; from a half on there is no bore
_LABEL_GAP = 0.015  # least distance of two schedule names, as a share of the axis
_FOOT = (
    "ASME B31.3-2016 Table D300. Advisory only: a screening figure; the piping engineer of record "
    "decides."
)


def plot_bytes(found: Consequence, kind: str) -> bytes:
    """The picture as "svg" or "png"; ValueError for another kind."""
    if kind not in ("svg", "png"):
        raise ValueError(f"a plot is svg or png, not {kind!r}")
    with matplotlib.rc_context(_STYLE):
        figure = intensification_figure(found)
        out = io.BytesIO()
        if kind == "svg":
            words = {"Title": _title(found.piece), "Description": found.sentence, "Date": None}
        else:
            words = {"Title": _title(found.piece), "Description": found.sentence}
        figure.savefig(out, format=kind, dpi=150, metadata=words)
    return out.getvalue()


def intensification_figure(found: Consequence) -> Figure:
    """One line per way of making the piece, with a dot at the ordered wall."""
    piece = found.piece
    schedules = schedule_walls(piece.nps)
    walls = _walls(piece, schedules)
    low, high = float(walls[0]), float(walls[-1])
    at_walls = [_ways(_with_wall(found, float(wall))) for wall in walls]
    figure = Figure(figsize=(9, 6.4), layout="constrained")
    axes = figure.add_subplot()
    for number, way in enumerate(_ways(found)):
        factors = [ways[number].largest for ways in at_walls]
        colour = tuple(part / 255 for part in OKABE_ITO[_COLOURS[number % len(_COLOURS)]])
        dash = _DASHES[number % len(_DASHES)]
        label = f"{'ordered' if number == 0 else 'fabricated'}: {way.piece}, i {way.largest:.2f}"
        axes.plot(
            walls, factors, color=colour, linewidth=2.2, dashes=dash or (None, None), label=label
        )
        axes.plot([piece.wall_mm], [way.largest], "o", color=colour, markersize=6, zorder=3)
    axes.set_xlim(low, high)
    axes.set_ylim(0, 1.1 * max(way.largest for ways in at_walls for way in ways))
    axes.grid(axis="y", color="0.9", linewidth=0.8)
    axes.set_axisbelow(True)
    _mark_reach(axes, piece, low, high)
    _mark_ordered_wall(axes, piece, low, high)
    _mark_schedules(axes, schedules, low, high)
    of_run = " of the run" if piece.form.kind is Kind.TEE else ""
    axes.set_xlabel(f"nominal wall{of_run}, mm (outside diameter {piece.outside_mm:g} mm)")
    axes.set_ylabel("stress intensification, the larger of ii and io")
    figure.suptitle(_title(piece), fontsize=11, fontweight="bold")
    figure.legend(
        loc="outside lower center",
        ncols=2,
        frameon=False,
        handlelength=4.5,
        title=_FOOT,
        title_fontsize=8,
    )
    return figure


def schedule_walls(nps: str) -> dict[float, str]:
    """The walls of every schedule listed for the size, thin to thick: {9.53: "STD, 40S"}."""
    names: dict[float, list[str]] = {}
    for size, schedule in listed_sizes(SizeTable.PIPE):
        if size == nps:
            names.setdefault(pipe(size, schedule).wall_mm, []).append(schedule)
    return {wall: ", ".join(names[wall]) for wall in sorted(names)}


def _walls(piece: OrderedPiece, schedules: dict[float, str]) -> NDArray[np.float64]:
    """Walls from thinnest to thickest schedule, stretched to hold the ordered one, in mm."""
    known = [*schedules, piece.wall_mm]
    high = max(piece.wall_mm, min(1.05 * max(known), _THICKEST * piece.outside_mm))
    return np.linspace(0.9 * min(known), high, _POINTS)


def _with_wall(found: Consequence, wall_mm: float) -> Consequence:
    return consequence(replace(found.piece, wall_mm=wall_mm), found.fabrication)


def _ways(found: Consequence) -> tuple[Flexibility, ...]:
    """The ordered piece, then each way of fabricating it."""
    return (found.ordered, *(way.flexibility for way in found.fabricated))


def _title(piece: OrderedPiece) -> str:
    sizes = piece.nps if piece.second_nps is None else f"{piece.nps} x {piece.second_nps}"
    return f"NPS {sizes} {piece.form.value}: stress intensification against wall"


def _mark_ordered_wall(axes: Axes, piece: OrderedPiece, low: float, high: float) -> None:
    axes.axvline(piece.wall_mm, color="black", linewidth=1, zorder=1)
    to_the_right = piece.wall_mm < (low + high) / 2
    axes.annotate(
        f"ordered wall {piece.wall_mm:g} mm",
        (piece.wall_mm, 0.985),
        xycoords=("data", "axes fraction"),
        xytext=(4 if to_the_right else -4, 0),
        textcoords="offset points",
        ha="left" if to_the_right else "right",
        va="top",
        fontsize=8,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1},
    )


def _mark_schedules(axes: Axes, schedules: dict[float, str], low: float, high: float) -> None:
    """Schedule names along the top edge; one that would run into its neighbour is left out."""
    top = axes.secondary_xaxis("top")
    ticks: list[float] = []
    for wall in schedules:
        if not ticks or (wall - ticks[-1]) / (high - low) >= _LABEL_GAP:
            ticks.append(wall)
    top.set_xticks(ticks, [schedules[wall] for wall in ticks], rotation=90, fontsize=8)
    top.set_xlabel("schedule", fontsize=8)
    for wall in ticks:
        axes.axvline(wall, color="0.8", linewidth=0.6, linestyle=(0, (1, 3)), zorder=0)


def _mark_reach(axes: Axes, piece: OrderedPiece, low: float, high: float) -> None:
    """Hatches the walls for which D/T is beyond the reach of the table."""
    end = piece.outside_mm / LARGEST_RATIO
    if end <= low:
        return
    axes.axvspan(low, min(end, high), facecolor="none", edgecolor="0.8", hatch="//", zorder=0)
    axes.annotate(
        f"D/T over {LARGEST_RATIO}: outside the table",
        (low, 0.02),
        xycoords=("data", "axes fraction"),
        xytext=(4, 0),
        textcoords="offset points",
        va="bottom",
        fontsize=8,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1},
    )
