"""The development: a part's outside unrolled flat, with its seams on it and the unseen hatched.

Each strip of a part keeps its true width and length, in outside radii. A run or an outlet is a
cylinder and unrolls without stretching; its edge where a plane cuts it is a sine curve, and where
the other cylinder cuts it the curve of the parallel-line development of drawing handbooks:
x² + R² sin²(s / R) = r² on the run, z² = R² − r² sin²(s / r) on the outlet, s the length around
(the formulas follow from `fittings.geometry.branch_curve`; the method's name is from memory). An
elbow or a reducer can only be unrolled in strips: every strip along an elbow is as long as it is
there (extrados longest), every ring of a reducer as wide as it is there, so areas stay true to the
eye.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from numpy.typing import NDArray

from fittings.words import ADVISORY, Kind, Orientation, Part, percent
from vision.piece import PieceReading
from vision.piece_form import PARTS, Field, Form
from vision.piece_places import ends, quarters
from vision.piece_seams import PieceSeam, merged_lines
from vision.piece_seen import cell_areas, cell_centres
from vision.piece_surface import Surface
from vision.seen_words import seen_share_in_words

_STYLE: Any = {"font.family": "DejaVu Sans", "font.size": 9, "svg.hashsalt": "seamtriage"}
_SEEN, _SLANTWISE = "0.80", "0.92"
_HATCH, _DOTS = "////", ".."
_OPEN = 0.1, 0.9
"""Between these chances a place is drawn as one that may be seen or not."""
_LINE_WIDTH = 2.4


def unrolled(form: Form, part: Part, along: Any, around_rad: Any) -> tuple[Field, Field]:
    """Where places on a part come to lie when it is unrolled: along and across the sheet, in
    outside radii, the middle of the sheet at `around` 0. An outlet stands upright: around to the
    right, its height upwards."""
    u, t = np.broadcast_arrays(np.asarray(along, float), np.asarray(around_rad, float))
    if form.kind is Kind.ELBOW:
        return (u - 0.5) * np.radians(form.bend_deg) * (form.length + np.cos(t)), t.copy()
    if form.kind is Kind.REDUCER:
        return u * form.length, t * form.radius_at(u)
    if part is Part.OUTLET:
        return t * form.second_radius, u * form.second_length
    return (2.0 * u - 1.0) * form.length, t.copy()


def root_on_run(form: Form, around_rad: Any) -> tuple[Field, Field]:
    """The branch curve on the unrolled run, at `around` of the outlet: (x, s) in outside radii."""
    t = np.asarray(around_rad, float)
    return form.second_radius * np.cos(t), -np.arcsin(form.second_radius * np.sin(t))


def development_bytes(piece: PieceReading, kind: str = "png") -> bytes:
    """The drawing as "png" or "svg"; ValueError for another kind or a piece without a surface."""
    if kind not in ("svg", "png"):
        raise ValueError(f"a development is drawn as svg or png, not {kind!r}")
    with matplotlib.rc_context(_STYLE):
        out = io.BytesIO()
        words = {"Title": "Development of the piece", "Description": ADVISORY}
        if kind == "svg":
            words["Date"] = None  # type: ignore[assignment]
        development_figure(piece).savefig(out, format=kind, dpi=150, metadata=words)
    return out.getvalue()


def development_figure(piece: PieceReading) -> Figure:
    """One sheet per part, side by side; ValueError where no photo could be placed."""
    surface = piece.surface
    if surface is None:
        raise ValueError("no photo of the piece could be placed on its surface")
    parts = PARTS[piece.kind]
    figure = Figure(figsize=(10.5 if len(parts) > 1 else 8.5, 6.6), layout="constrained")
    widths = [1.0, 0.9] if len(parts) > 1 else [1.0]
    grid = figure.add_gridspec(1, len(parts), width_ratios=widths)
    for column, part in enumerate(parts):
        axes = figure.add_subplot(grid[0, column])
        _draw_part(axes, piece, surface, part)
    tag = f"{piece.tag}: " if piece.tag else ""
    shown = seen_share_in_words(surface.seen_fraction, surface.seen_range)
    figure.suptitle(
        f"{tag}{piece.kind.value}, outside unrolled, {shown} seen in "
        f"{len(surface.photos)} photo{'s' if len(surface.photos) != 1 else ''}",
        fontsize=12,
        fontweight="bold",
    )
    figure.legend(
        handles=_legend(piece),
        loc="outside lower center",
        ncols=3,
        frameon=False,
        handlelength=4.5,
        handleheight=1.4,
        title=f"{ADVISORY}\nDrawn to usual proportions, not to scale: no size was measured. The "
        "bore is not on it.",
        title_fontsize=8,
    )
    return figure


def _draw_part(axes: Axes, piece: PieceReading, surface: Surface, part: Part) -> None:
    form = surface.form
    _fill(axes, surface, part)
    _outline(axes, form, part)
    for seam in piece.seams:
        _draw_seam(axes, form, part, seam)
    areas = cell_areas(form)[part]
    seen = float((areas * surface.seen[part]).sum() / areas.sum())
    axes.set_title(f"{part.value}: about {percent(seen)} seen", fontsize=10)
    _label(axes, form, part, datum=surface.datum)
    if piece.kind is Kind.REDUCER and not surface.datum:
        # The photo that the others were turned to keeps its own datum.
        ways = zip(surface.photos, surface.turns.columns, surface.turns.sure, strict=True)
        named = next(photo for photo, columns, sure in ways if sure and columns == 0)
        first = piece.views[named].reading.photo
        axes.set_xlabel(f"the camera is that of {first}", fontsize=8)
    axes.set_aspect("equal")
    for side in axes.spines.values():
        side.set_visible(False)


def _fill(axes: Axes, surface: Surface, part: Part) -> None:
    """Grey where the surface is seen, paler where only slantwise or small, dotted where that is
    open, hatched elsewhere."""
    form = surface.form
    along, around = cell_centres()
    u = np.concatenate([[0.0], along[:, 0], [1.0]])[:, None]
    t = np.concatenate([[-np.pi], around[0], [np.pi]])[None, :]
    x, y = unrolled(form, part, u, t)
    # 0 unseen, 1 seen, 2 seen well; cells at the ends reach to the edge of the sheet.
    level = np.minimum(surface.seen[part], 1.0) + np.minimum(surface.clear[part], 1.0)
    level = np.pad(level, 1, mode="edge")
    with matplotlib.rc_context({"hatch.linewidth": 0.6, "hatch.color": "0.35"}):
        axes.contourf(
            x,
            y,
            level,
            levels=[-0.1, 0.5, 1.5, 2.1],
            colors=["white", _SLANTWISE, _SEEN],
            hatches=[_HATCH, None, None],
        )
        if (doubtful := _doubtful(surface, part)).any():
            axes.contourf(
                x,
                y,
                np.pad(doubtful.astype(float), 1, mode="edge"),
                levels=[0.5, 1.1],
                colors=["white"],
                hatches=[_DOTS],
            )


def _doubtful(surface: Surface, part: Part) -> NDArray[np.bool_]:
    """(ROWS, COLUMNS) the places that are seen or not, depending on which way round a photo is."""
    low, high = _OPEN
    return (surface.chance[part] > low) & (surface.chance[part] < high)


def _outline(axes: Axes, form: Form, part: Part) -> None:
    """The sheet's edge, and where the other part of a tee takes the surface away."""
    turn = np.linspace(-np.pi, np.pi, 181)
    step = np.linspace(0.0, 1.0, 61)
    if part is Part.OUTLET:
        root_x, root_y = unrolled(form, part, form.root_height(turn) / form.second_length, turn)
        wide = np.concatenate([[root_x[0] - 0.05], root_x, [root_x[-1] + 0.05]])
        high = np.concatenate([[root_y[0]], root_y, [root_y[-1]]])
        axes.fill_between(wide, high, -0.05, color="white", linewidth=0, zorder=2)
        axes.plot(root_x, root_y, color="black", linewidth=1.2, zorder=3)
        axes.set_ylim(float(root_y.min()) - 0.15, form.second_length + 0.05)
        low = float(form.root_height(np.pi) / form.second_length)
        sides = [(np.linspace(low, 1.0, 2), end * np.ones(2)) for end in (-np.pi, np.pi)]
        sides.append((np.ones_like(turn), turn))
    else:
        sides = [(step, end * np.ones_like(step)) for end in (-np.pi, np.pi)]
        sides += [(end * np.ones_like(turn), turn) for end in (0.0, 1.0)]
    for u, t in sides:
        x, y = unrolled(form, part, u, t)
        axes.plot(x, y, color="black", linewidth=1.2, zorder=3, clip_on=False)
    if part is Part.RUN:
        hole = root_on_run(form, turn)
        axes.fill(*hole, facecolor="white", edgecolor="black", linewidth=1.2, zorder=2)
        axes.text(0, 0, "outlet", ha="center", va="center", fontsize=9, zorder=4)


def _draw_seam(axes: Axes, form: Form, part: Part, seam: PieceSeam) -> None:
    """On its part's sheet; a branch seam of the outlet on both sheets, on the root itself: that is
    what makes it one, and how high above it was traced is no more than the error of the maps."""
    at_root = seam.part is Part.OUTLET and seam.orientation is Orientation.BRANCH
    if seam.part is not part and not (at_root and part is Part.RUN):
        return
    lines = merged_lines(seam)
    for number, (along, turn) in enumerate(sorted(lines, key=lambda line: -len(line[0]))):
        if not at_root:
            x, y = unrolled(form, part, along, turn)
        elif part is Part.RUN:
            x, y = root_on_run(form, turn)
        else:
            x, y = unrolled(form, part, form.root_height(turn) / form.second_length, turn)
        style = seam.orientation.style
        colour = _rgb(seam.orientation)
        axes.plot(x, y, color="black", linewidth=_LINE_WIDTH + 1.4, zorder=5)
        axes.plot(
            x,
            y,
            color=colour,
            linewidth=_LINE_WIDTH,
            dashes=style.dash or (None, None),
            dash_capstyle="butt",
            zorder=6,
        )
        if number == 0:
            middle = len(x) // 2
            axes.text(
                x[middle],
                y[middle],
                style.letter if seam.place_sure else f"{style.letter}?",
                ha="center",
                va="center",
                fontsize=9,
                fontweight="bold",
                zorder=7,
                bbox={"boxstyle": "circle,pad=0.25", "facecolor": colour, "edgecolor": "black"},
            )


def _label(axes: Axes, form: Form, part: Part, *, datum: bool) -> None:
    names = quarters(form.kind, part, datum=datum)
    first, last = ends(form.kind, part)
    turns = np.radians([-180.0, -90.0, 0.0, 90.0, 180.0])
    labels = [names[2], names[3], names[0], names[1], names[2]]
    if part is Part.OUTLET:
        axes.set_xticks(turns * form.second_radius, labels, rotation=30, ha="right")
        axes.set_yticks([float(form.root_height(0.0)), form.second_length], [first, last])
    else:
        axes.set_yticks(turns, labels)
        low, high = (unrolled(form, part, end, 0.0)[0] for end in (0.0, 1.0))
        axes.set_xticks([float(low), float(high)], [first, last])
    axes.tick_params(length=3)


def _rgb(orientation: Orientation) -> tuple[float, float, float]:
    red, green, blue = orientation.style.colour
    return red / 255, green / 255, blue / 255


def _legend(piece: PieceReading) -> Sequence[Any]:
    with matplotlib.rc_context({"hatch.linewidth": 0.6, "hatch.color": "0.35"}):
        handles: list[Any] = [
            Patch(facecolor=_SEEN, edgecolor="black", label="seen well enough for a usual weld"),
            Patch(facecolor=_SLANTWISE, edgecolor="black", label="seen too slantwise or small"),
            Patch(facecolor="white", edgecolor="0.35", hatch=_HATCH, label="not seen"),
        ]
        surface = piece.surface
        if surface is not None and any(_doubtful(surface, p).any() for p in surface.chance):
            label = "seen or not, by how a photo was taken"
            handles.append(Patch(facecolor="white", edgecolor="0.35", hatch=_DOTS, label=label))
    for orientation in Orientation:
        if any(seam.orientation is orientation for seam in piece.seams):
            style = orientation.style
            handles.append(
                Line2D(
                    [],
                    [],
                    color=_rgb(orientation),
                    linewidth=_LINE_WIDTH,
                    dashes=style.dash or (None, None),
                    label=f"{style.letter}: {orientation.value}",
                )
            )
    return handles
