"""Ends of the fitting behind which a pipe goes on, and lines traced there: joints, not its seams.

A girth weld to an adjoining pipe lies at `along` 0 or 1, on the piece's very end. Two things must
agree for a traced line to be called that: the maps show an end there without an open face, and the
picture goes on beyond it as a pipe does, with the same light across. Where no line is traced, which
is what the network learnt to do at joints, `pipe_beyond` tells a joint by the end alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from fittings.words import Kind, Orientation, Part
from vision.curves import SurfaceCurve
from vision.network import Maps
from vision.sampling import bilinear, median
from vision.surface import LENGTH_OVER_RADIUS, part_fields
from vision.tracing import Band

ENDS = {
    Kind.ELBOW: ((Part.BODY, 0), (Part.BODY, 1)),
    Kind.REDUCER: ((Part.BODY, 0), (Part.BODY, 1)),
    Kind.TEE: ((Part.RUN, 0), (Part.RUN, 1), (Part.OUTLET, 1)),
    Kind.NONE: (),
}

BEAD_OVER_RADIUS = 0.12
"""Half the width of a girth weld's cap over the pipe's outside radius, at most: 0.77 of the wall
plus 2.3 mm for a single V of 37.5° a side (`fittings.welds`). NPS 4 to 24, schedule 40
(ASME B36.10M), give 0.12 to 0.05."""

LIKE_PIPE = 0.7
"""From this likeness on a pipe is taken to go on. Of the ends without a face in 210 tuning scenes
(seeds 910 101 and 910 102), 20 of 29 with a pipe reach it and 13 of 129 without, so that it
decides nothing by itself: a line must have been traced on the end as well."""

END_REACH = 0.15
"""How far from 0 or 1 a network's `along` may be on the last pixels of a piece: it seldom knows a
joined piece's end to the pixel. It decides where an end is looked for, not which line lies on one
(`along_tolerance`)."""

_SAMPLES = 48
_LEAST_AGREEMENT = 0.5
_BESIDE = 0.1  # of the end's width
_MOST_OF_A_BEND = 0.06
_WIDEST_GAP = 0.1  # of the end's width
_FLAT_LEVELS = 1.0
_LEAST_WIDTH_PX = 10.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class End:
    """An end in view: the last pixels of the piece, `path` (N, 2) x, y across it, map pixels;
    `outward` (2,) the picture's direction away from the piece; `step` how much `along` changes per
    pixel there."""

    part: Part
    end: int
    path: NDArray[np.float64]
    outward: NDArray[np.float64]
    step: float

    @property
    def across(self) -> NDArray[np.float64]:
        """(2,) the picture's direction across the end."""
        return across_of(self.outward)

    @property
    def width_px(self) -> float:
        """Across the end, map pixels."""
        return float(np.ptp(self.path @ self.across))


def along_tolerance(kind: Kind, part: Part, step: float) -> float:
    """How far from 0 or 1 the middle of a line may lie in `along` and still be at the end.

    A weld on the end covers half its cap on the fitting: `BEAD_OVER_RADIUS` over the part's length
    in radii, of which the traced middle is half. Two map pixels (`step` of `along` each) are added
    for the tracing. For an elbow of 90° that is 0.014 and the pixels; the outermost mitre lies at
    1 / (2 (pieces - 1)) of the bend, 0.125 with five pieces and 0.083 with seven. In a picture so
    small that the two would meet, an elbow's mitre comes first.
    """
    tolerance = 0.5 * BEAD_OVER_RADIUS / LENGTH_OVER_RADIUS[kind, part] + 2.0 * step
    return min(tolerance, _MOST_OF_A_BEND) if kind is Kind.ELBOW else tolerance


def ends_in_view(maps: Maps, kind: Kind) -> tuple[End, ...]:
    """The ends behind which the maps show no open face."""
    found = (_end(maps, part, end) for part, end in ENDS[kind])
    return tuple(each for each in found if each is not None)


def _end(maps: Maps, part: Part, end: int) -> End | None:
    winner = maps.winner
    own = winner == part.label
    if not own.any():
        return None
    fields = part_fields(maps, part)
    slope = fields.along_slope * (1.0 if end == 1 else -1.0)
    size = np.hypot(slope[..., 0], slope[..., 1])
    with np.errstate(invalid="ignore"):
        near = own & (np.abs(fields.along - end) <= END_REACH) & (size > 1e-5)
    rows, columns = np.nonzero(near)
    if len(rows) < 8:
        return None
    # Outward along the surface, where `around` stays: on a picture askew that is not where `along`
    # rises most.
    turn = fields.around_slope[rows, columns]
    course = np.stack([-turn[:, 1], turn[:, 0]], axis=1)
    course *= np.sign((course * slope[rows, columns]).sum(axis=1))[:, None]
    course /= np.maximum(np.hypot(course[:, 0], course[:, 1]), 1e-9)[:, None]
    outward = course.mean(axis=0)
    length = float(np.hypot(*outward))
    if length < _LEAST_AGREEMENT:
        return None
    outward = outward / length
    ahead = [_labels_at(winner, rows, columns, outward, px) for px in (1.5, 3.0)]
    # Where the frame cuts the piece off, nothing is known of its end.
    beyond = (ahead[0] == Part.BACKGROUND.label) & (ahead[1] == Part.BACKGROUND.label)
    faced = (ahead[0] == Part.FACE.label) | (ahead[1] == Part.FACE.label)
    if beyond.sum() < max(6, 2 * faced.sum()):
        return None
    points = np.stack([columns[beyond], rows[beyond]], axis=1).astype(np.float64)
    path = _on_one_arc(_outline(points, outward))
    if len(path) < 6:
        return None
    made = End(
        part=part,
        end=end,
        path=path,
        outward=outward,
        step=float(median(size[rows, columns])),
    )
    return made if made.width_px >= _LEAST_WIDTH_PX else None


def _labels_at(
    winner: NDArray[np.intp],
    rows: NDArray[np.intp],
    columns: NDArray[np.intp],
    outward: NDArray[np.float64],
    px: float,
) -> NDArray[np.intp]:
    """The part labels that many pixels ahead of those pixels; -1 outside the frame."""
    framed = np.pad(winner, 1, constant_values=-1)
    r = np.clip(np.rint(rows + px * outward[1]).astype(int) + 1, 0, framed.shape[0] - 1)
    c = np.clip(np.rint(columns + px * outward[0]).astype(int) + 1, 0, framed.shape[1] - 1)
    return np.asarray(framed[r, c])


def across_of(outward: NDArray[np.float64]) -> NDArray[np.float64]:
    """(2,) the direction square to that one."""
    return np.array([-outward[1], outward[0]])


def _outline(points: NDArray[np.float64], outward: NDArray[np.float64]) -> NDArray[np.float64]:
    """The outermost point for each pixel across, in order across."""
    across = across_of(outward)
    at, out = points @ across, points @ outward
    columns = np.rint(at - at.min()).astype(int)
    kept = []
    for column in np.flatnonzero(np.bincount(columns)):
        inside = columns == column
        kept.append((at[inside].mean(), out[inside].max() + 0.5))
    turned = np.array(kept)
    smooth = cv2.GaussianBlur(
        turned[:, 1:].copy(), (1, 13), sigmaX=0, sigmaY=1.5, borderType=cv2.BORDER_REPLICATE
    )
    return np.asarray(turned[:, :1] * across + smooth * outward)


def _on_one_arc(path: NDArray[np.float64]) -> NDArray[np.float64]:
    """The points of a path that lie near one parabola over its chord, as those of an end seen at
    any slant nearly do; the piece's long sides, which a ragged map may let in, do not."""
    chord = path[-1] - path[0]
    length = float(np.hypot(*chord))
    if length < _LEAST_WIDTH_PX:
        return path[:0]
    at, out = (path - path[0]) @ chord / length**2, (path - path[0]) @ across_of(chord / length)
    basis = np.stack([np.ones_like(at), at, at**2], axis=1)
    kept = np.ones(len(path), dtype=bool)
    for _ in range(3):
        if kept.sum() < 6:
            return path[:0]
        weights, *_ = np.linalg.lstsq(basis[kept], out[kept], rcond=None)
        off = np.abs(out - basis @ weights)
        kept = off <= max(2.0, 2.5 * float(median(off[kept])))
    # Ends of two things, or of one that something hides the middle of, are no one end.
    arc = path[kept]
    gaps = np.flatnonzero(np.hypot(*np.diff(arc, axis=0).T) > max(3.0, _WIDEST_GAP * length))
    return max(np.split(arc, gaps + 1), key=len)


def goes_on_as_pipe(pixels: NDArray[np.uint8], maps: Maps, end: End) -> bool:
    """Whether the picture shows a pipe beyond an end, by `pipe_likeness`."""
    return pipe_likeness(pixels, maps, end) >= LIKE_PIPE


def pipe_likeness(pixels: NDArray[np.uint8], maps: Maps, end: End) -> float:
    """How much what lies beyond an end looks like a pipe, -1 to 1.

    `pixels` is the picture (H, W, 3) uint8 RGB that the maps were made of. Light falls across a
    pipe as it does across the fitting's end: this is the correlation, across the end, of
    the brightness just inside it with that just outside. 0 where the frame cuts either off.
    """
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY).astype(np.float32)
    at, out = end.path @ end.across, end.path @ end.outward
    share = np.linspace(0.04, 0.96, _SAMPLES)
    place = at.min() + share * end.width_px
    edge = np.interp(place, at, out)

    def profile(nearest: float, farthest: float) -> NDArray[np.float64]:
        """(S,) mean brightness across the end over a stretch beyond it, in widths of the end."""
        steps = np.linspace(nearest, farthest, 12)[:, None] * end.width_px
        points = place[:, None] * end.across + (edge + steps)[..., None] * end.outward
        scale = np.array(pixels.shape[1::-1]) / np.array(maps.shape[::-1])
        values = bilinear(grey, (points + 0.5) * scale - 0.5, beyond=np.nan)
        return np.asarray(values.mean(axis=0))

    inside, beyond = profile(-0.3, -0.1), profile(0.12, 0.32)
    if np.isnan(inside + beyond).any() or min(inside.std(), beyond.std()) < _FLAT_LEVELS:
        return 0.0
    return float(np.corrcoef(inside, beyond)[0, 1])


def lies_on(curve: SurfaceCurve | None, end: End, kind: Kind) -> bool:
    """Whether a curve runs around the part on that end."""
    return (
        curve is not None
        and curve.orientation is Orientation.CIRCUMFERENTIAL
        and curve.part is end.part
        and abs(float(median(np.array(curve.along))) - end.end)
        <= along_tolerance(kind, end.part, end.step)
    )


def runs_beside(band: Band, end: End) -> bool:
    """Whether a traced line lies along an end's path, for a quarter of it at least."""
    apart = np.hypot(*(end.path[:, None] - band.path[None]).transpose(2, 0, 1)).min(axis=1)
    return bool((apart <= _BESIDE * end.width_px).mean() >= 0.25)


def without(maps: Maps, bands: Sequence[Band]) -> Maps:
    """The same maps with no seam where those bands are."""
    seam = maps.seam.copy()
    for band in bands:
        seam[band.rows, band.columns] = np.eye(seam.shape[-1], dtype=seam.dtype)[0]
    return replace(maps, seam=seam)
