"""Small drawings of the views to take: the fitting as it stands in the picture to be made."""

from __future__ import annotations

import io
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from numpy.typing import NDArray

from fittings.words import ADVISORY, OKABE_ITO, Part
from vision.piece_form import PARTS, Field, Form
from vision.piece_seen import COLUMNS, ROWS
from vision.view_stands import Stand
from vision.views import NextView, camera_axes

_STYLE: Any = {"font.family": "DejaVu Sans", "font.size": 9, "svg.hashsalt": "seamtriage"}
_NEW = np.array(OKABE_ITO["sky blue"]) / 255.0
_KNOWN = np.array([0.78, 0.78, 0.78])
_BORE = np.array([0.25, 0.25, 0.25])
_STEP = 2
_MOST_DRAWN = 9
_FRAME, _NEAR_FRAME = 0.75, 0.36
"""Half the picture's side over the distance from the camera; a close-up shows half of that."""
_CAPTION_LETTERS, _CAPTION_LINES = 46, 3


def views_bytes(views: Sequence[NextView], form: Form, seen: Mapping[Part, Field]) -> bytes:
    """The drawings as a PNG; `seen` is the share (ROWS, COLUMNS) of each part's cells that photos
    show already. ValueError without any view."""
    if not views:
        raise ValueError("there is no view to draw")
    with matplotlib.rc_context(_STYLE):
        out = io.BytesIO()
        words = {"Title": "What to photograph next", "Description": ADVISORY}
        views_figure(views, form, seen).savefig(out, format="png", dpi=120, metadata=words)
    return out.getvalue()


def views_figure(views: Sequence[NextView], form: Form, seen: Mapping[Part, Field]) -> Figure:
    """One small drawing per place to stand, numbered as the views are."""
    drawn = [
        (f"{number}{'abc'[place] if len(view.stands) > 1 else ''}", caption(view, place), stand)
        for number, view in enumerate(views, start=1)
        for place, stand in enumerate(view.stands)
    ][:_MOST_DRAWN]
    columns = min(3, len(drawn))
    rows = -(-len(drawn) // columns)
    figure = Figure(figsize=(2.9 * columns, 2.9 * rows + 1.3), layout="constrained")
    for place, (number, words, stand) in enumerate(drawn):
        axes = figure.add_subplot(rows, columns, place + 1)
        draw_stand(axes, stand, form, seen)
        axes.text(
            0.03, 0.97, number, transform=axes.transAxes, va="top", fontsize=11, fontweight="bold",
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5},
        )  # fmt: skip
        lines = textwrap.wrap(words, _CAPTION_LETTERS, max_lines=_CAPTION_LINES, placeholder=" …")
        axes.set_xlabel("\n".join(lines), fontsize=7)
    figure.legend(
        handles=[
            Patch(facecolor=tuple(_NEW), edgecolor="black", label="not shown well yet (gridded)"),
            Patch(facecolor=tuple(_KNOWN), edgecolor="black", label="shown well by a photo"),
            Patch(facecolor=tuple(_BORE), edgecolor="black", label="bore"),
        ],
        loc="outside lower center",
        ncols=3,
        frameon=False,
        title="Usual proportions; the piece may lie another way up. Arrow: where the light comes "
        f"from.\n{ADVISORY}",
        title_fontsize=8,
    )
    return figure


def caption(view: NextView, place: int) -> str:
    """What is to be seen from a view's place, in a few words; its sentence says the rest."""
    stand = view.stands[place]
    if stand.where == "crotch":
        return f"Close-up of {'one crotch' if place == 0 else 'the other crotch'}"
    if stand.where == "bore":
        return f"Into {stand.camera}"
    return view.sentence.partition(";")[0]


def draw_stand(axes: Axes, stand: Stand, form: Form, seen: Mapping[Part, Field]) -> None:
    """The fitting from that place, as if lit from low left: what no photo shows is blue and has a
    grid, the rest is grey."""
    polygons, colours, depths, fresh = [], [], [], []
    for part in PARTS[form.kind]:
        quads, middles, normals, cells = _quads(form, part, into_bore=stand.where == "bore")
        local = (quads - np.asarray(stand.eye)) @ camera_axes(stand.eye, stand.aim).T
        to_eye = np.asarray(stand.eye) - middles
        outside = (normals * to_eye).sum(-1) > 0
        ahead = local[..., 2].min(axis=1) > 0.05
        flat = local[..., :2] / np.maximum(local[..., 2:], 0.05)
        in_camera = normals @ camera_axes(stand.eye, stand.aim).T
        lit = 0.62 + 0.38 * np.clip(-in_camera @ np.array([0.75, 0.35, 0.55]), 0.0, 1.0)
        new = seen[part][cells] < 0.5
        base = np.where(new[:, None], _NEW, _KNOWN) * lit[:, None]
        base = np.where(outside[:, None], base, _BORE)
        polygons.append(flat[ahead])
        colours.append(np.clip(base[ahead], 0.0, 1.0))
        depths.append(np.linalg.norm(local[ahead].mean(axis=1), axis=-1))
        fresh.append((new & outside)[ahead])
    order = np.argsort(-np.concatenate(depths))
    flat, colour = np.concatenate(polygons)[order], np.concatenate(colours)[order]
    new = np.concatenate(fresh)[order]
    # What is new has its grid drawn, so that a print without colour still tells.
    edges = np.where(new[:, None], 0.45 * colour, colour)
    axes.add_collection(
        PolyCollection(list(flat), facecolors=colour, edgecolors=edges, linewidths=0.3)
    )
    most = _NEAR_FRAME if stand.where == "crotch" else _FRAME
    reach = min(float(np.abs(flat).max()) * 1.05, most)
    axes.set_xlim(-reach, reach)
    axes.set_ylim(reach, -reach)
    if stand.where != "bore":  # there the lamp is held inside
        axes.annotate(
            "",
            (0.2, 0.17),
            (0.04, 0.05),
            xycoords="axes fraction",
            arrowprops={"arrowstyle": "-|>", "color": "black", "linewidth": 1.6},
        )
    axes.set_aspect("equal")
    axes.set_xticks([])
    axes.set_yticks([])


def _quads(
    form: Form, part: Part, *, into_bore: bool
) -> tuple[Field, Field, Field, tuple[NDArray[np.intp], NDArray[np.intp]]]:
    """(N, 4, 3) corners, (N, 3) middles and normals, and the cells, of the part's surface."""
    rows, columns = np.meshgrid(
        np.arange(0, ROWS, _STEP), np.arange(0, COLUMNS, _STEP), indexing="ij"
    )
    u0, u1 = rows / ROWS, (rows + _STEP) / ROWS
    t0, t1 = ((c / COLUMNS * 2 - 1) * np.pi for c in (columns, columns + _STEP))
    if part is Part.OUTLET:  # its strips begin at the root, so that the edge is the branch curve
        share0, share1 = (
            np.maximum(form.root_height(t) / form.second_length, 0.0) for t in (t0, t1)
        )
        lows = [share0 + (1 - share0) * u0, share1 + (1 - share1) * u0]
        highs = [share1 + (1 - share1) * u1, share0 + (1 - share0) * u1]
        along = np.stack([*lows, *highs], -1)
    else:
        along = np.stack([u0, u0, u1, u1], -1)
    around = np.stack([t0, t1, t1, t0], -1)
    middle_u, middle_t = along.mean(-1), around.mean(-1)
    real = form.exists(part, middle_u, middle_t)
    if part is Part.RUN and not into_bore:
        # Up to the root and a little under it, so that no gap is left there.
        real = real | form.exists(part, along, around).any(axis=-1)
    corners = form.points(part, along, around)[real]
    cells = np.clip((middle_u[real] * ROWS).astype(int), 0, ROWS - 1), columns[real]
    return (
        corners,
        form.points(part, middle_u, middle_t)[real],
        form.normals(part, middle_u, middle_t)[real],
        cells,
    )
