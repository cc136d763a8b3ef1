"""Could this photo have shown a seam? What stands in the way, in plain words."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from fittings.words import Kind, Part
from vision.network import Maps
from vision.reading import Quality

SMALL_SHARE = 0.02
"""A fitting that covers less of the picture than this is too small to judge."""

BLURRED, SOFT = 1.35, 1.9
"""Spread (8-bit levels) of the Laplacian on and around the fitting, at the network's size. Blurring
eleven sharp rendered pictures (3.4 to 7.4) by 3 pixels gave 1.3 to 1.6, by 2 pixels 1.5 to 2.2."""

_ENDS = {Kind.ELBOW: 2, Kind.TEE: 3, Kind.REDUCER: 2, Kind.NONE: 3}


def piece_share(maps: Maps) -> float:
    """Share of the picture that a fitting covers."""
    return float((maps.part.argmax(axis=-1) != Part.BACKGROUND.label).mean())


def several_pieces(maps: Maps, kind: Kind) -> bool:
    """Whether more than one fitting seems to be in view: separate outlines, more open ends than one
    piece has, or parts of different kinds."""
    winner = maps.part.argmax(axis=-1)
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


def judge(pixels: NDArray[np.uint8], maps: Maps, kind: Kind) -> Quality:
    """`pixels` is the picture the network saw, (H, W, 3) uint8 RGB."""
    problems: list[str] = []
    usable = True
    if kind is Kind.NONE:
        return Quality(usable=False, problems=("No fitting was found in this photo.",))
    share = piece_share(maps)
    if share < SMALL_SHARE:
        usable = False
        problems.append(
            f"The fitting covers only {100 * share:.1f} % of the picture: go closer, so that it "
            "fills at least a third of it."
        )
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    piece = cv2.resize(
        (maps.part.argmax(axis=-1) != Part.BACKGROUND.label).astype(np.uint8),
        (grey.shape[1], grey.shape[0]),
        interpolation=cv2.INTER_NEAREST,
    ).astype(bool)
    if piece.sum() >= 50:
        spread = float(
            cv2.Laplacian(cv2.GaussianBlur(grey, (0, 0), 0.8), cv2.CV_32F)[_rim(piece)].std()
        )
        if spread < BLURRED:
            usable = False
            problems.append("The photo is too blurred to show a seam: hold still and focus.")
        elif spread < SOFT:
            problems.append("The photo is soft: a fine seam would not show.")
        values = grey[piece]
        if np.mean(values > 250) > 0.35:
            problems.append("Much of the fitting is burnt out by glare: change the light.")
        if np.mean(values < 12) > 0.6:
            problems.append("Most of the fitting is too dark to judge: bring a lamp.")
    if several_pieces(maps, kind):
        problems.append(
            "Several pieces are in view: the reading is for the whole picture, not for one piece."
        )
    return Quality(usable=usable, problems=tuple(problems))


def _rim(piece: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The fitting and a margin around it, so that its outline counts: a smooth painted piece has
    little else to be sharp."""
    return cv2.dilate(piece.astype(np.uint8), np.ones((7, 7), np.uint8)).astype(bool)
