"""How fine a line a photo could have shown: sharpness, light, size of the fitting, narrowest seam.

Sharpness is measured, not scored: the blur's spread is found from edges by blurring once more and
seeing how much the slopes sink. For an edge blurred by a Gaussian of spread s, blurring by s0 more
divides the slope at the edge by sqrt((s² + s0²) / s²), so s = s0 / sqrt(ratio² - 1) (Zhuo and Sim
2011, "Defocus map estimation from a single image", Pattern Recognition 44; the formula follows from
the slope of a blurred step, amplitude / (sqrt(2 pi) s)).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from fittings.dimensions import outside_diameter_mm, pipe
from fittings.welds import bead_half_width_mm
from fittings.words import Kind, Part
from vision.network import Maps
from vision.sampling import median

if TYPE_CHECKING:
    from vision.proportions import Proportions

SAMPLING_PX = 2.0
"""A line narrower than two pixels of the picture that is judged falls between them (Nyquist)."""

FWHM = 2.3548
"""Full width at half maximum of a Gaussian of spread 1: 2 sqrt(2 ln 2). A blurred line looks at
least that wide, and a narrower one pales."""

SMOOTH_PX, REBLUR_PX = 1.0, 1.5
"""Spreads of the first blur, against noise, and of the second, in pixels of the picture judged."""

OWN_SPREAD = SMOOTH_PX**2 + 1.0 / 3.0
"""What the measuring itself adds to the square of the spread: the first blur, and a difference over
two pixels, which is a mean over a box of two (variance 4 / 12)."""

MIN_SLOPE = 1.5
"""8-bit levels a pixel that an edge rises by at least."""

WIDEST_BLUR_PX = 8.0
"""Beyond this the ratio of slopes is too near 1 to be told from noise."""

STRONGEST, LEAST_STRONG = 0.15, 12
"""Share of a direction's edge pixels, the steepest, whose median spread counts, and at least so
many: outlines are steep, while fine texture, whose slopes sink faster than an edge's, is not.
Chosen on tuning scenes."""

MIN_EDGES = 20
"""Edge pixels that a direction needs for its blur to be told."""

BURNT_LEVEL, DARK_LEVEL = 250, 12
BLIND_SHARE = 0.6
"""Share of the fitting burnt out or black, in 8-bit levels beyond those two, that leaves too little
to judge: our own choice."""

REFERENCE_NPS = "12"
"""The size whose usual cap, as a share of its outside diameter, is asked for when the size is not
known: 19 mm on 324 mm, 6 %. A smaller piece's cap is a larger share, a larger piece's a smaller."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Detail:
    """What a photo could show. Lengths `_px` are in pixels of the photo, not of a reduced copy.

    `blur_px` is the blur's spread (standard deviation) in the direction in which it is worst, None
    where no edge tells. `narrowest_px` is the narrowest line that could have been seen,
    `diameter_px` the fitting's outside diameter (a reducer's and a tee's larger one), each None
    where it could not be measured. `narrowest_mm`, `usual_cap_mm` are None unless the size is
    known. `burnt_share` and `dark_share` are of the fitting's area.
    """

    blur_px: float | None
    narrowest_px: float | None
    diameter_px: float | None
    usual_cap_px: float | None
    narrowest_mm: float | None
    usual_cap_mm: float | None
    burnt_share: float
    dark_share: float

    @property
    def share_of_cap(self) -> float | None:
        """The narrowest line over a usual cap's width; None where either is unknown."""
        if self.narrowest_px is None or self.usual_cap_px is None:
            return None
        return self.narrowest_px / self.usual_cap_px

    @property
    def wide_enough(self) -> bool:
        """Whether a usual cap is as wide as the narrowest line that could have been seen. Where no
        diameter could be measured, the benefit of the doubt; where no blur could, not."""
        if self.narrowest_px is None:
            return False
        return self.share_of_cap is None or self.share_of_cap <= 1.0

    @property
    def could_show_a_seam(self) -> bool:
        """Whether a usual cap would have been seen, wherever on the side shown it lay."""
        return self.wide_enough and self.burnt_share + self.dark_share <= BLIND_SHARE

    @property
    def blur_decides(self) -> bool:
        """Whether it is more the blur than the distance that hides a narrow line."""
        return (
            self.blur_px is not None
            and self.narrowest_px is not None
            and FWHM * self.blur_px > self.narrowest_px / np.sqrt(2.0)
        )

    @property
    def sentence(self) -> str:
        """The narrowest seam that could have been seen, in plain words."""
        if self.narrowest_px is None:
            return "No edge in this photo is clear enough to tell how fine a seam it could show."
        seen = f"A seam narrower than about {self.narrowest_px:.0f} pixels"
        if self.narrowest_mm is not None and self.usual_cap_mm is not None:
            return (
                f"{seen} ({self.narrowest_mm:.0f} mm) could not have been seen; a usual cap is "
                f"about {self.usual_cap_mm:.0f} mm wide."
            )
        if self.usual_cap_px is not None:
            return (
                f"{seen} could not have been seen; a usual cap would be about "
                f"{self.usual_cap_px:.0f} pixels wide if this were NPS {REFERENCE_NPS}."
            )
        return f"{seen} could not have been seen."


def usual_cap_mm(wall_mm: float) -> float:
    """Width of the cap of a single-V butt weld through that wall: 2 t tan 37.5° + gap + 3 mm.

    The bevel of ASME B16.25 (from memory); gap and overlap are common practice, no source. 15 mm
    for a wall of 6, 19 for 9.5.
    """
    return 2.0 * bead_half_width_mm(wall_mm)


def measure(
    pixels: NDArray[np.uint8],
    maps: Maps,
    kind: Kind,
    *,
    photo_px: int,
    proportions: Proportions | None = None,
    nps: str | None = None,
) -> Detail:
    """What the photo could show of the fitting that the maps find in it.

    `pixels` is what the network saw, (H, W, 3) uint8 RGB; `photo_px` the long side of the whole
    photo; `proportions` those of the piece, which give its diameter more truly than its outline
    does; `nps` the size of the fitting (of a reducer's large end, of a tee's run), if known.
    ValueError for an `nps` that names no size, SizeNotListed for one without a pipe.
    """
    scale = photo_px / max(pixels.shape[:2])
    grey = np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), np.uint8)
    size = (grey.shape[1], grey.shape[0])
    small = maps.winner.astype(np.uint8)
    part = np.asarray(cv2.resize(small, size, interpolation=cv2.INTER_NEAREST), np.uint8)
    piece = part != Part.BACKGROUND.label
    blur = blur_spread_px(grey, _rim(piece)) if piece.any() else None
    if proportions is None:
        diameter = outline_diameter_px(part, kind)
    else:
        diameter = proportions.diameter_px * max(pixels.shape[:2]) / max(maps.shape)
    narrowest = None if blur is None else float(np.hypot(SAMPLING_PX, FWHM * blur))
    known = nps or REFERENCE_NPS
    od_mm, cap_mm = outside_diameter_mm(known), usual_cap_mm(pipe(known, "STD").wall_mm)
    mm_per_px = None if diameter is None else od_mm / diameter
    narrowest_mm = None if narrowest is None or mm_per_px is None else narrowest * mm_per_px
    values = grey[piece]
    return Detail(
        blur_px=None if blur is None else blur * scale,
        narrowest_px=None if narrowest is None else narrowest * scale,
        diameter_px=None if diameter is None else diameter * scale,
        usual_cap_px=None if mm_per_px is None else cap_mm / mm_per_px * scale,
        narrowest_mm=narrowest_mm if nps else None,
        usual_cap_mm=cap_mm if nps else None,
        burnt_share=float((values > BURNT_LEVEL).mean()) if values.size else 0.0,
        dark_share=float((values < DARK_LEVEL).mean()) if values.size else 0.0,
    )


def blur_spread_px(grey: NDArray[np.uint8], where: NDArray[np.bool_]) -> float | None:
    """Standard deviation of the blur of a picture's edges, in its pixels, None where it has none.

    Edges are taken by their direction in four groups, in each the steepest count (many edges of a
    photo are soft of themselves: shadows, round sides), and of the groups the most blurred: a
    hand's shake blurs across itself only, and would hide a seam that lies so. Shake makes a ramp,
    not a Gaussian's slope, and is found wider than it is.
    """
    values = np.asarray(cv2.GaussianBlur(grey.astype(np.float32), (0, 0), SMOOTH_PX), np.float32)
    across, down = _scharr(values)
    least = _least_slope(grey)
    # All that follows is asked of the edges alone, a small share of the picture.
    rows, columns = np.nonzero(_ridge(across, down, least) & where)
    x, y = across[rows, columns] / 32.0, down[rows, columns] / 32.0
    again = np.asarray(cv2.GaussianBlur(values, (0, 0), REBLUR_PX), np.float32)
    sunk = np.hypot(*(each[rows, columns] / 32.0 for each in _scharr(again)))
    slope = np.hypot(x, y)
    groups = np.round(np.degrees(np.arctan2(y, x)) / 45.0).astype(int) % 4
    widest = WIDEST_BLUR_PX**2 + OWN_SPREAD
    ratio = np.maximum(slope / np.maximum(sunk, 1e-3), np.sqrt(1.0 + REBLUR_PX**2 / widest))
    spread = np.sqrt(np.maximum(REBLUR_PX**2 / (ratio**2 - 1.0) - OWN_SPREAD, 0.0))
    found = []
    for group in range(4):
        here = (slope >= least) & (groups == group)
        if np.count_nonzero(here) < MIN_EDGES:
            continue
        steepest = np.argsort(-slope[here])[: max(LEAST_STRONG, round(STRONGEST * here.sum()))]
        found.append(float(median(spread[here][steepest])))
    return max(found) if found else None


def _scharr(values: NDArray[np.float32]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Scharr's sums by x and by y: 32 times the slopes."""
    across, down = (cv2.Scharr(values, cv2.CV_32F, *axis) for axis in ((1, 0), (0, 1)))
    return np.asarray(across, np.float32), np.asarray(down, np.float32)


def _least_slope(grey: NDArray[np.uint8]) -> float:
    """8-bit levels a pixel from which on a slope stands well above the picture's noise."""
    # The median size of the finest differences is 0.6745 spreads of the noise; a Laplacian's
    # weights add up to sqrt(20) in squares.
    finest = np.abs(cv2.Laplacian(grey, cv2.CV_16S)).ravel()
    # The median by counting: whole numbers, few of them, many times over.
    middle = [(finest.size - 1) // 2, finest.size // 2]
    size = np.searchsorted(np.cumsum(np.bincount(finest)), middle, side="right").mean()
    noise = float(size) / (0.6745 * np.sqrt(20.0))
    # What white noise of spread 1 leaves in a slope after the first smoothing.
    return max(MIN_SLOPE, 6.0 * noise / (np.sqrt(8.0 * np.pi) * SMOOTH_PX**2))


def _ridge(
    across: NDArray[np.float32], down: NDArray[np.float32], least: float
) -> NDArray[np.bool_]:
    """Ridges of a slope, given as Scharr's sums (32 times itself), by Canny."""
    # Canny wants whole levels: the sums fit into 16 bits.
    x, y = (np.clip(np.rint(each), -32000, 32000).astype(np.int16) for each in (across, down))
    return np.asarray(cv2.Canny(x, y, 16.0 * least, 32.0 * least, L2gradient=True) > 0)


def outline_diameter_px(part: NDArray[np.uint8], kind: Kind) -> float | None:
    """Outside diameter in pixels of the labels given, from the largest circle in the outline.

    The outline of a cylinder is its diameter across, from whatever side it is seen, and a circle
    fits in from edge to edge; a tee is measured on its run, without the crotch. What is shorter
    than wide (most reducers, from the side), cut by the frame or half hidden measures too small.
    None where there is too little of it.
    """
    if kind is Kind.NONE:
        return None
    inside = part != Part.BACKGROUND.label
    if kind is Kind.TEE:
        inside = inside & (part != Part.OUTLET.label)
    if not inside.any():
        return None
    # A border, so that what the frame cuts counts as ending there.
    framed = cv2.copyMakeBorder(inside.astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    radius = float(cv2.distanceTransform(framed, cv2.DIST_L2, cv2.DIST_MASK_PRECISE).max())
    # The distance runs to the centre of the nearest pixel outside, half a pixel beyond the edge.
    return 2.0 * (radius - 0.5) if radius >= 3.0 else None


def _rim(piece: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The fitting and a margin around it, so that its outline counts: a smooth painted piece has
    little else to be sharp."""
    return cv2.dilate(piece.astype(np.uint8), np.ones((7, 7), np.uint8)).astype(bool)
