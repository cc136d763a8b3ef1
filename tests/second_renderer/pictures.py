"""A scene to a picture and what is true of it."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from fittings.words import Orientation
from tests.second_renderer import rendering
from tests.second_renderer.photographs import Pixels, develop, gain, luma_levels
from tests.second_renderer.scenes import Scene, draw_scene

SAMPLES = 14
BARE_SAMPLES = 8
"""A pixel; the latter of the picture without seams that tells how much these show."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenSeam:
    """The seams of one orientation on one piece: how many pixels see them, and by how many of 255
    levels these differ, in the mean, from the same picture without any seam."""

    orientation: str
    pixels: int
    contrast: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenPiece:
    """One fitting: what it is, the share of the frame that sees it, and its seams in view."""

    kind: str
    construction: str
    text: str
    skin: str
    finish: str | None
    joined: bool
    share: float
    seams: tuple[SeenSeam, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What is true of picture `index` of a seed; `things` counts what else lies about."""

    index: int
    seed: int
    name: str
    width_px: int
    height_px: int
    place: str
    things: int
    pieces: tuple[SeenPiece, ...]

    def as_json(self) -> dict[str, Any]:
        """JSON types only; `truth_from_json` is the inverse."""
        return asdict(self)


def truth_from_json(data: dict[str, Any]) -> Truth:
    """The truth that `Truth.as_json` wrote; TypeError or KeyError for another form."""
    pieces = tuple(
        SeenPiece(**{**piece, "seams": tuple(SeenSeam(**seam) for seam in piece["seams"])})
        for piece in data["pieces"]
    )
    return Truth(**{**data, "pieces": pieces})


def truths(path: Path) -> list[Truth]:
    """The truths in a truth.jsonl; none if there is no such file."""
    if not path.exists():
        return []
    lines = path.read_text(encoding="utf-8").splitlines()
    return [truth_from_json(json.loads(line)) for line in lines]


def make_picture(
    seed: int, index: int, environments: Path | None = None, samples: int = SAMPLES
) -> tuple[Pixels, NDArray[np.uint8], Truth]:
    """Picture `index` of a seed, whatever was made before it: its pixels (H, W, 3) RGB, its seams'
    labels (H, W), and its truth."""
    scene = draw_scene(np.random.default_rng([seed, index]), environments)
    loaded = rendering.load(scene.mesh, scene.ground, scene.sky, scene.view, scene.lamp)
    faces = rendering.seen_faces(loaded, scene.mesh, scene.view)
    radiance = rendering.render(loaded, samples, index)
    change = _change(scene, radiance, index)
    corner = np.where(faces >= 0, scene.mesh.faces[faces, 0], 0)
    labels = np.where(faces >= 0, scene.mesh.seam[corner], 0).astype(np.uint8)
    owner = np.where(faces >= 0, scene.mesh.piece[corner], 0)
    truth = Truth(
        index=index,
        seed=seed,
        name=f"second-{seed}-{index:04d}.png",
        width_px=scene.view.width_px,
        height_px=scene.view.height_px,
        place=scene.place,
        things=scene.things,
        pieces=_pieces(scene, labels, owner, change),
    )
    return develop(radiance, scene.phone), labels, truth


def _change(scene: Scene, radiance: NDArray[np.float64], seed: int) -> NDArray[np.float64] | None:
    """(H, W) levels between the picture and the same one without seams; None without seams."""
    if scene.bare is None:
        return None
    bare = rendering.load(scene.bare, scene.ground, scene.sky, scene.view, scene.lamp)
    times = gain(radiance, scene.phone)
    pair = (radiance, rendering.render(bare, BARE_SAMPLES, seed))
    first, second = (luma_levels(np.minimum(p, 8 / times), scene.phone, times) for p in pair)
    return np.asarray(first - second)


def _pieces(
    scene: Scene,
    labels: NDArray[np.uint8],
    owner: NDArray[np.int64],
    change: NDArray[np.float64] | None,
) -> tuple[SeenPiece, ...]:
    found = []
    for number, shown in enumerate(scene.shown, start=1):
        mine = owner == number
        seams = []
        for orientation in Orientation:
            here = mine & (labels == orientation.label)
            if change is not None and here.any():
                # What differs on the rest of the piece is noise: no seam may live on that.
                rest = mine & (cv2.dilate((labels > 0).astype(np.uint8), np.ones((25, 25))) == 0)
                floor = float(np.abs(change[rest]).mean()) if rest.any() else 0.0
                level = float(np.abs(change[here]).mean())
                seams.append(
                    SeenSeam(
                        orientation=orientation.value,
                        pixels=int(here.sum()),
                        contrast=round(float(np.sqrt(max(level**2 - floor**2, 0.0))), 2),
                    )
                )
        found.append(
            SeenPiece(
                kind=shown.kind.value,
                construction=shown.construction.value,
                text=shown.text,
                skin=shown.skin,
                finish=shown.finish,
                joined=shown.joined,
                share=round(float(mine.mean()), 5),
                seams=tuple(seams),
            )
        )
    return tuple(found)
