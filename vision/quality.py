"""Could this photo have shown a seam? What stands in the way, in plain words.

`vision.detail` measures; this module says it, and decides whether the photo decides anything.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from fittings.words import Kind, Part
from vision.detail import BLIND_SHARE, Detail, measure
from vision.network import Maps
from vision.reading import Quality

SMALL_SHARE = 0.02
"""A fitting that covers less of the picture than this is too small to judge."""

CLOSE_SHARE = 0.6
"""Where the narrowest line is wider than this share of a usual cap, a fine seam is said not to
show: a ground weld's band or an edge left of it is narrower than its cap was."""

GLARE_SHARE = 0.35
"""Share of the fitting burnt out by glare from which on it is said."""

_ENDS = {Kind.ELBOW: 2, Kind.TEE: 3, Kind.REDUCER: 2, Kind.NONE: 3}


def piece_share(maps: Maps) -> float:
    """Share of the picture that a fitting covers."""
    return float((maps.winner != Part.BACKGROUND.label).mean())


def several_pieces(maps: Maps, kind: Kind) -> bool:
    """Whether more than one fitting seems to be in view: separate outlines, more open ends than one
    piece has, or parts of different kinds."""
    winner = maps.winner
    total = winner.size
    outlines = _areas(winner > 0)
    separate = [a for a in outlines if a > max(0.006 * total, 0.08 * max(outlines))]
    faces = [a for a in _areas(winner == Part.FACE.label) if a > 0.002 * total]
    shares = [float((winner == p.label).mean()) for p in (Part.BODY, Part.RUN)]
    mixed = min(shares) > 0.02 and min(shares) > 0.25 * max(shares)
    return len(separate) > 1 or len(faces) > _ENDS[kind] or mixed


def _areas(mask: NDArray[np.bool_]) -> list[int]:
    """Pixels of each connected part of a mask."""
    stats = cv2.connectedComponentsWithStats(mask.astype(np.uint8))[2]
    return [int(area) for area in stats[1:, cv2.CC_STAT_AREA]]


def judge(
    pixels: NDArray[np.uint8], maps: Maps, kind: Kind, detail: Detail | None = None
) -> Quality:
    """Whether the photo could have shown a seam, and what stands in the way.

    `pixels` is the picture that the network saw, (H, W, 3) uint8 RGB; `detail` what was measured in
    it, in the photo's pixels. Without it, it is measured here, in those of `pixels`.
    """
    if kind is Kind.NONE:
        return Quality(usable=False, problems=("No fitting was found in this photo.",))
    if detail is None:
        detail = measure(pixels, maps, kind, photo_px=max(pixels.shape[:2]))
    problems: list[str] = []
    usable = detail.could_show_a_seam
    share = piece_share(maps)
    if share < SMALL_SHARE:
        usable = False
        problems.append(
            f"The fitting covers only {100 * share:.1f} % of the picture: go closer, so that it "
            "fills at least a third of it."
        )
    problems += _of_detail(detail)
    if several_pieces(maps, kind):
        problems.append(
            "Several pieces are in view: the reading is for the whole picture, not for one piece."
        )
    return Quality(usable=usable, problems=tuple(problems))


def _of_detail(detail: Detail) -> list[str]:
    problems = []
    if detail.narrowest_px is None:
        problems.append(f"{detail.sentence} Focus on the fitting, and bring light.")
    elif not detail.wide_enough:
        remedy = "hold still and focus" if detail.blur_decides else "go closer"
        problems.append(f"{detail.sentence} Take the photo again: {remedy}.")
    elif detail.share_of_cap is not None and detail.share_of_cap > CLOSE_SHARE:
        problems.append(f"A fine seam would not show: a{detail.sentence.removeprefix('A')}")
    if detail.burnt_share > GLARE_SHARE:
        problems.append(
            f"{100 * detail.burnt_share:.0f} % of the fitting is burnt out by glare: change the "
            "light."
        )
    if detail.dark_share > BLIND_SHARE:
        problems.append(
            f"{100 * detail.dark_share:.0f} % of the fitting is too dark to judge: bring a lamp."
        )
    return problems
