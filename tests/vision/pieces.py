"""Views of a piece made in memory: a tube seen square on, and readings to go with it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fittings.words import Kind, Orientation, Part, Reading
from tests.stand_in import a_reading
from vision.network import Maps
from vision.piece_photo import PieceView
from vision.piece_seams import PlacedCurve
from vision.piece_seen import COLUMNS, ROWS, SeenPart

HEIGHT, WIDTH = 144, 192


def tube_maps(
    kind: Kind = Kind.REDUCER,
    *,
    facing_deg: float = 0.0,
    girth_seam_at: float | None = None,
    radius_px: float = 50.0,
) -> Maps:
    """Maps of a straight tube from far away, square on: its side at `facing_deg` faces the camera,
    `along` runs to the right over the picture's middle 160 columns."""
    y, x = np.mgrid[:HEIGHT, :WIDTH].astype(float)
    across = (y - (HEIGHT - 1) / 2) / radius_px
    along = (x - 15.5) / 160.0
    inside = (np.abs(across) < 1.0) & (along >= 0.0) & (along <= 1.0)
    turn = np.radians(facing_deg) + np.arcsin(np.clip(across, -1.0, 1.0))
    part = np.where(inside, Part.BODY.label, Part.BACKGROUND.label)
    seam = np.zeros((HEIGHT, WIDTH), int)
    if girth_seam_at is not None:
        line = inside & (np.abs(along - girth_seam_at) < 0.012)
        seam[line] = Orientation.CIRCUMFERENTIAL.label

    def one_hot(labels: np.ndarray, classes: int) -> np.ndarray:
        return np.where(labels[..., None] == np.arange(classes), 0.98, 0.02 / (classes - 1))

    return Maps(
        part=one_hot(part, len(Part)).astype(np.float32),
        seam=one_hot(seam, 4).astype(np.float32),
        along=np.where(inside, along, 0.0).astype(np.float32),
        around_cos=np.where(inside, np.cos(turn), 0.0).astype(np.float32),
        around_sin=np.where(inside, np.sin(turn), 0.0).astype(np.float32),
        kind=one_hot(np.array(kind.label), len(Kind)).astype(np.float32),
        fabricated_logit=6.0 if girth_seam_at is not None else -6.0,
    )


def window(low_deg: float, high_deg: float) -> SeenPart:
    """A part seen all along, from `low_deg` to `high_deg` around (within -180 to 180)."""
    middles = (np.arange(COLUMNS) + 0.5) / COLUMNS * 360.0 - 180.0
    shown = (middles > low_deg) & (middles < high_deg)
    share = np.tile(shown.astype(float), (ROWS, 1))
    return SeenPart(share=share, px_per_radius=60.0 * share)


def a_view(
    name: str = "a.jpg",
    *,
    kind: Kind = Kind.ELBOW,
    probability: float = 0.02,
    reading: Reading = Reading.NO_SEAM_SEEN,
    seen: SeenPart | None = None,
    curves: tuple[PlacedCurve, ...] = (),
    sha256: str | None = None,
    chroma: tuple[float, float] = (0.0, 0.0),
    sure: float = 0.97,
    axes: np.ndarray | None = None,
) -> PieceView:
    """A view with a reading as asked for; what it shows is the same on every part."""
    own = a_reading(320, 240, photo=name, sha256=sha256 or name, probability=probability)
    own = replace(
        own,
        kind=kind,
        kind_confidence=sure,
        verdict=replace(own.verdict, reading=reading),
        seams=tuple(
            replace(own.seams[c.orientation.label - 1], confidence=c.confidence) for c in curves
        ),
    )
    kinds = [sure if each is kind else (1.0 - sure) / 3 for each in Kind]
    part = seen or window(-90, 90)
    maps = {
        Kind.ELBOW: {Part.BODY: part},
        Kind.REDUCER: {Part.BODY: part},
        Kind.TEE: {Part.RUN: part, Part.OUTLET: part},
    }
    return PieceView(
        reading=own,
        kinds=tuple(kinds),
        seen={} if kind is Kind.NONE else {kind: maps[kind]},
        curves=curves,
        chroma=chroma,
        axes={kind: axes},
    )


def girth(at: float, photo: int = 0, *, part: Part = Part.BODY, confidence: float = 0.9):
    """A girth seam's curve at `at` along, from -60 to 60 degrees around."""
    around = np.linspace(-60.0, 60.0, 13)
    return PlacedCurve(
        photo=photo,
        orientation=Orientation.CIRCUMFERENTIAL,
        part=part,
        confidence=confidence,
        along=np.full(13, at),
        around_deg=around,
    )


def lengthwise(around_deg: float, photo: int = 0, *, part: Part = Part.BODY):
    """A longitudinal seam's curve at `around_deg`."""
    return PlacedCurve(
        photo=photo,
        orientation=Orientation.LONGITUDINAL,
        part=part,
        confidence=0.9,
        along=np.linspace(0.1, 0.9, 13),
        around_deg=np.full(13, around_deg),
    )
