"""Photographs of other things: what is no fitting, and what may lie behind one.

Any folder of pictures that show no butt-welding fitting will do; training goes without one too. The
files themselves are never part of what ships.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from synthetic.draws import Rng

SUFFIXES = {".jpg", ".jpeg", ".png", ".webp"}


class NoPhotographs(ValueError):
    """The folder holds no picture that can be opened."""


def list_photographs(folder: Path) -> tuple[Path, ...]:
    """The pictures below a folder, sorted; NoPhotographs when there is none."""
    found = sorted(p for p in folder.rglob("*") if p.suffix.lower() in SUFFIXES and p.is_file())
    if not found:
        raise NoPhotographs(f"{folder}: no picture ({', '.join(sorted(SUFFIXES))}) is in it")
    return tuple(found)


def opened(path: Path) -> Image.Image:
    """The picture in RGB; NoPhotographs names a file that cannot be opened."""
    try:
        with Image.open(path) as picture:
            return picture.convert("RGB")
    except (OSError, UnidentifiedImageError) as error:
        raise NoPhotographs(f"{path}: cannot be opened, take it out of the folder") from error


def sample_photograph(
    rng: Rng, files: tuple[Path, ...], height: int, width: int
) -> NDArray[np.uint8]:
    """(height, width, 3) uint8, RGB: a part of one of the files, mirrored or not, in other light.

    NoPhotographs names a file that cannot be opened.
    """
    picture = opened(files[int(rng.integers(len(files)))])
    columns, rows = picture.size
    shape = width / height * float(np.exp(rng.normal(0.0, 0.15)))  # photos are stretched a little
    share = float(np.exp(rng.uniform(np.log(0.35), 0.0)))
    across = max(8, int(share * min(columns, rows * shape)))
    down = min(rows, max(8, int(across / shape)))
    left, top = int(rng.integers(columns - across + 1)), int(rng.integers(rows - down + 1))
    box = (left, top, left + across, top + down)
    part = np.asarray(picture.resize((width, height), Image.Resampling.BICUBIC, box))
    if rng.random() < 0.5:
        part = part[:, ::-1]
    lit: NDArray[Any] = (part / np.float32(255.0)) ** float(np.exp(rng.normal(0.0, 0.3)))
    lit = lit * rng.uniform(0.6, 1.2) * np.exp(rng.normal(0.0, 0.06, 3))
    if rng.random() < 0.15:
        lit = lit.mean(axis=2, keepdims=True).repeat(3, axis=2)
    return (lit.clip(0.0, 1.0) * 255.0 + 0.5).astype(np.uint8)
