"""A reader without a network, as the yardstick: a ridge filter and a rule of directions.

It finds the fitting by its colour against the picture's rim (GrabCut), bright and dark lines on it
with the ridge filter of Sato and others, and tells each line's orientation from its direction
against the outline. It fills the same `Maps` as the network does, so both are read by the same
code and the exam treats them alike. Its constants were set on tuning scenes (seeds from 900 001),
never on the exam's.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_fill_holes
from skimage.filters import apply_hysteresis_threshold, sato
from skimage.measure import label, regionprops
from skimage.morphology import skeletonize

from fittings.words import Kind, Orientation, Part
from vision.calibration import FEATURES, Calibration, Thresholds
from vision.metrics import angle_difference_deg
from vision.network import Maps
from vision.read import Reader

LONG_SIDE_PX = 384
"""The picture's long side when the filter looks at it."""

SIGMAS_PX = (1.5, 2.2, 3.2)
"""Half widths of the lines looked for, at that size."""

RIDGE_LOW, RIDGE_HIGH = 2.5, 5.0
"""Hysteresis on the scale-normalised response, in 8-bit levels of luma."""

MIN_LENGTH_PX = 14
RIM_PX = 9.0
"""Lines nearer to the outline than this are the outline itself."""

ALONG_LIMIT_DEG = 40.0
"""A line up to this far off the local axis is longitudinal."""

STRAIGHT_LIMIT = 0.3
"""Width over length of a line's point cloud above which it is a tangle, not a seam."""

_LOBE_SHARE, _LOBE_PX = 0.6, 21
_INSET = 0.10
_GRABCUT_SIDE_PX = 160
_DEFECT_SHARE = 0.08

# Log-odds of a fabrication from the longest crossing line's share of the piece's width and the
# number of lines (a textured piece has many): logistic regression on tuning scenes.
_SCORE = (-2.0, 1.05, 0.028)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """One connected ridge: its pixels (3 wide), direction against the local axis (0 to 90 degrees),
    length as a share of the piece's width along it, and width over length of its point cloud."""

    mask: NDArray[np.bool_]
    off_axis_deg: float
    span: float
    spread: float


def classical_reader() -> Reader:
    """The whole reader, with the same doors as the network's."""
    weights = tuple(1.0 if name == "whole picture" else 0.0 for name in FEATURES)
    return Reader(
        network=classical_maps,
        thresholds=Thresholds(hold=0.325, doubt=0.28, kind=0.1),
        calibration=Calibration(weights=weights, offset=0.0),
        version="classical-1",
        sha256="",
    )


def classical_maps(pixels: NDArray[np.uint8]) -> Maps:
    """What the ridge filter and the rule say of (H, W, 3) uint8 RGB, at `LONG_SIDE_PX`."""
    scale = LONG_SIDE_PX / max(pixels.shape[:2])
    size = (max(16, round(pixels.shape[1] * scale)), max(16, round(pixels.shape[0] * scale)))
    small = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8)
    piece = piece_mask(small)
    axis_rad, depth_px = local_axis(piece)
    lines = find_lines(ridges(small), piece, axis_rad, depth_px)
    kind = kind_of_outline(piece)
    seam = np.zeros((*piece.shape, 1 + len(Orientation)), np.float32)
    for line in lines:
        if line.spread <= STRAIGHT_LIMIT:
            seam[line.mask] = 0.0
            seam[line.mask, orientation_of(line, kind).label] = 0.9
    seam[..., 0] = 1.0 - seam[..., 1:].sum(axis=-1)
    along, cos, sin = unrolled(piece)
    return Maps(
        part=_parts(piece, kind),
        seam=seam,
        along=along,
        around_cos=cos,
        around_sin=sin,
        kind=np.array([0.7 if k is kind else 0.1 for k in Kind], np.float32),
        fabricated_logit=score(lines),
    )


def ridges(pixels: NDArray[np.uint8]) -> NDArray[np.float64]:
    """(2, H, W) strength of bright and of dark lines, 8-bit levels.

    Sato and others (1998), "Three-dimensional multi-scale line filter": the largest over
    `SIGMAS_PX` of σ² times the curvature across the line. A bright line has dark flanks (and the
    other way about) with 2·exp(−3/2) = 0.45 of its curvature: those are not lines of their own.
    """
    grey = pixels @ np.array([0.299, 0.587, 0.114])  # luma, ITU-R BT.601
    bright, dark = (sato(grey, sigmas=SIGMAS_PX, black_ridges=black) for black in (False, True))
    around = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (_LOBE_PX, _LOBE_PX))
    return np.stack(
        [
            np.where(own < _LOBE_SHARE * cv2.dilate(other, around), 0.0, own)
            for own, other in ((bright, dark), (dark, bright))
        ]
    )


def piece_mask(pixels: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """(H, W) bool: the fitting, taken to lie within the frame and to differ from its rim.

    GrabCut (Rother, Kolmogorov and Blake 2004) from a rectangle, then the largest central outline;
    empty where everything looks like the rim.
    """
    height, width = pixels.shape[:2]
    scale = _GRABCUT_SIDE_PX / max(height, width)
    size = (max(8, round(width * scale)), max(8, round(height * scale)))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    x, y = round(size[0] * _INSET), round(size[1] * _INSET)
    rectangle = (x, y, size[0] - 2 * x, size[1] - 2 * y)
    if np.ptp(small, axis=(0, 1)).max() == 0:
        return np.zeros((height, width), np.bool_)
    labels = np.zeros(small.shape[:2], np.uint8)
    cv2.setRNGSeed(0)  # GrabCut draws its first clusters by chance
    lab, models = cv2.cvtColor(small, cv2.COLOR_RGB2Lab), (np.zeros((1, 65)), np.zeros((1, 65)))
    cv2.grabCut(lab, labels, rectangle, *models, 3, cv2.GC_INIT_WITH_RECT)
    inside = ((labels == cv2.GC_FGD) | (labels == cv2.GC_PR_FGD)).astype(np.uint8)
    # A weld that differs from the metal must not cut the piece in two: close before choosing.
    inside = cv2.morphologyEx(inside, cv2.MORPH_CLOSE, np.ones((7, 7), np.uint8))
    inside = cv2.morphologyEx(inside, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    regions = regionprops(label(inside))
    if not regions:
        return np.zeros((height, width), np.bool_)
    middle = np.array(inside.shape) / 2
    offsets = [np.hypot(*((np.array(r.centroid) - middle) / inside.shape)) for r in regions]
    claims = [r.area * np.exp(-4 * off) for r, off in zip(regions, offsets, strict=True)]
    best = regions[int(np.argmax(claims))]
    chosen = np.zeros_like(inside)
    chosen[tuple(best.coords.T)] = 1
    chosen = binary_fill_holes(chosen).astype(np.uint8)
    return np.asarray(cv2.resize(chosen * 255, (width, height)) > 127, np.bool_)


def local_axis(piece: NDArray[np.bool_]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(H, W) direction of the outline's own axis, radians from x towards y, modulo π; and (H, W)
    distance to the outline, pixels.

    The distance grows fastest across the axis, so its gradient, averaged with doubled angles over
    about half the piece's width, stands at right angles to it. Unlike one axis for the whole
    outline this follows a bend.
    """
    padded = np.pad(piece.astype(np.uint8), 1)
    depth = cv2.distanceTransform(padded, cv2.DIST_L2, 5)[1:-1, 1:-1]
    reach = max(2.0, 0.6 * float(depth.max()))
    grad_y, grad_x = np.gradient(cv2.GaussianBlur(depth, (0, 0), 1.5))
    grad_x, grad_y = grad_x * piece, grad_y * piece
    cos = cv2.GaussianBlur(grad_x**2 - grad_y**2, (0, 0), reach)
    sin = cv2.GaussianBlur(2 * grad_x * grad_y, (0, 0), reach)
    return np.arctan2(sin, cos) / 2 + np.pi / 2, depth.astype(np.float64)


def find_lines(
    response: NDArray[np.float64],
    piece: NDArray[np.bool_],
    axis_rad: NDArray[np.float64],
    depth_px: NDArray[np.float64],
) -> tuple[Line, ...]:
    """The lines on the piece, bright ones and dark ones, off its rim and cut where they branch."""
    lines = []
    inner = depth_px > min(RIM_PX, 0.3 * float(depth_px.max()))
    for strength in response:
        on = apply_hysteresis_threshold(strength, RIDGE_LOW, RIDGE_HIGH) & inner
        for region in regionprops(label(without_branchings(skeletonize(on)), connectivity=2)):
            if region.area >= MIN_LENGTH_PX:
                lines.append(_line(region.coords, piece, axis_rad))
    return tuple(lines)


def without_branchings(thin: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """A skeleton without the pixels at which three or more of its arms meet."""
    ones = thin.astype(np.uint8)
    neighbours = cv2.filter2D(ones, -1, np.ones((3, 3)), borderType=cv2.BORDER_CONSTANT) - ones
    meeting = (thin & (neighbours > 2)).astype(np.uint8)
    return thin & (cv2.dilate(meeting, np.ones((3, 3), np.uint8)) == 0)


def _line(
    coords: NDArray[np.intp], piece: NDArray[np.bool_], axis_rad: NDArray[np.float64]
) -> Line:
    rows, columns = coords.T
    values, vectors = np.linalg.eigh(np.cov(np.stack([columns, rows])))
    short, long = (float(v) for v in np.sqrt(np.maximum(values, 1e-9)))
    direction_rad = float(np.arctan2(vectors[1, 1], vectors[0, 1]))
    axis = float(np.angle(np.exp(2j * axis_rad[rows, columns]).mean()) / 2)
    off_deg = float(angle_difference_deg(np.degrees(direction_rad), np.degrees(axis)))
    chord = chord_px(piece, float(columns.mean()), float(rows.mean()), direction_rad)
    thin = np.zeros(piece.shape, np.uint8)
    thin[rows, columns] = 1
    return Line(
        mask=cv2.dilate(thin, np.ones((3, 3), np.uint8)).astype(np.bool_),
        off_axis_deg=off_deg,
        span=min(1.5, 4.0 * long / chord),
        spread=short / long,
    )


def chord_px(piece: NDArray[np.bool_], x_px: float, y_px: float, direction_rad: float) -> float:
    """Length within the piece of the straight line through a point, at least 1."""
    reach = int(np.hypot(*piece.shape)) + 1
    steps = np.arange(-reach, reach + 1)
    columns = np.rint(x_px + steps * np.cos(direction_rad)).astype(int)
    rows = np.rint(y_px + steps * np.sin(direction_rad)).astype(int)
    framed = (columns >= 0) & (columns < piece.shape[1]) & (rows >= 0) & (rows < piece.shape[0])
    inside = np.zeros(len(steps), np.bool_)
    inside[framed] = piece[rows[framed], columns[framed]]
    ahead = np.argmin(np.append(inside[reach:], False))
    behind = np.argmin(np.append(inside[reach::-1], False))
    return max(1.0, float(ahead) + float(behind) - 1.0)


def orientation_of(line: Line, kind: Kind) -> Orientation:
    """The rule of directions: along the axis, or across it; across a tee it is the branch weld."""
    if line.off_axis_deg <= ALONG_LIMIT_DEG:
        return Orientation.LONGITUDINAL
    return Orientation.BRANCH if kind is Kind.TEE else Orientation.CIRCUMFERENTIAL


def kind_of_outline(piece: NDArray[np.bool_]) -> Kind:
    """By the hollows of the outline: a reducer has none, an elbow one, a tee two or more.

    A hollow counts when its depth is `_DEFECT_SHARE` of the root of the area.
    """
    area = int(piece.sum())
    if area < 0.01 * piece.size:
        return Kind.NONE
    found = cv2.findContours(piece.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]
    outline = max(found, key=cv2.contourArea)
    hull = cv2.convexHull(outline, returnPoints=False)
    if len(outline) < 4 or len(hull) < 3:
        return Kind.NONE
    defects = cv2.convexityDefects(outline, hull)
    depths = np.zeros(0) if defects is None else defects.reshape(-1, 4)[:, 3] / 256.0
    hollows = int((depths > _DEFECT_SHARE * np.sqrt(area)).sum())
    return (Kind.REDUCER, Kind.ELBOW, Kind.TEE)[min(hollows, 2)]


def score(lines: tuple[Line, ...]) -> float:
    """Log-odds of a fabrication."""
    straight = [line for line in lines if line.spread <= STRAIGHT_LIMIT]
    crossing = [line.span for line in straight if line.off_axis_deg > ALONG_LIMIT_DEG]
    offset, per_span, per_line = _SCORE
    return offset + per_span * max(crossing, default=0.0) + per_line * min(len(lines), 60)


def unrolled(
    piece: NDArray[np.bool_],
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """(`along`, cosine and sine of `around`), for one round bar along the main axis.

    `along` is the position on the outline's principal axis, `around` that on a half turn.
    """
    along, cos, sin = (np.zeros(piece.shape, np.float32) for _ in range(3))
    rows, columns = np.nonzero(piece)
    if len(rows) < 16:
        return along, cos, sin
    points = np.stack([columns - columns.mean(), rows - rows.mean()]).astype(np.float64)
    vectors = np.linalg.eigh(np.cov(points))[1]
    main, across = vectors[:, 1] @ points, vectors[:, 0] @ points
    along[rows, columns] = (main - main.min()) / max(float(np.ptp(main)), 1.0)
    half = max(float(np.percentile(np.abs(across), 98)), 1.0)
    cosine = np.clip(across / half, -1.0, 1.0)
    cos[rows, columns] = cosine
    sin[rows, columns] = np.sqrt(1.0 - cosine**2)
    return along, cos, sin


def _parts(piece: NDArray[np.bool_], kind: Kind) -> NDArray[np.float32]:
    """(H, W, parts) probabilities: the whole outline is the body, or the run of a tee."""
    part = np.zeros((*piece.shape, len(Part)), np.float32)
    shown = Part.RUN if kind is Kind.TEE else Part.BODY
    part[..., shown.label] = piece
    part[..., Part.BACKGROUND.label] = ~piece
    return part
