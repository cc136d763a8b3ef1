"""Scenes as rows of one float array, so that a batch of them can be rendered at once.

An *item* is one scene with one of its pieces (or none). Its row holds every number of both, found
again by the dotted name of the field, so that no list of names has to be kept in step by hand.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from enum import Enum
from typing import Any

import numpy as np

from synthetic.fields import Array
from synthetic.scene import MOST_PROPS, Piece, Prop, Scene

_SKIPPED = (str, Enum, bool)
_OF_ITEMS = ("pieces", "wear")
"""Fields of a scene that come in with an item's piece."""


def _flatten(prefix: str, value: Any, out: dict[str, float]) -> None:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        for f in dataclasses.fields(value):
            if f.name not in _OF_ITEMS or not isinstance(value, Scene):
                _flatten(f"{prefix}.{f.name}" if prefix else f.name, getattr(value, f.name), out)
    elif isinstance(value, tuple):
        for i, v in enumerate(value):
            _flatten(f"{prefix}.{i}", v, out)
    elif not isinstance(value, _SKIPPED):
        out[prefix] = float(value)


def _row(scene: Scene, piece: Piece) -> dict[str, float]:
    out: dict[str, float] = {}
    absent = (Prop(),) * (MOST_PROPS - len(scene.props))
    _flatten("", dataclasses.replace(scene, props=scene.props + absent), out)
    _flatten("piece", piece, out)
    return out


NAMES: dict[str, int] = {name: i for i, name in enumerate(_row(Scene(), Piece()))}


def pack(items: Sequence[tuple[Scene, Piece | None]]) -> np.ndarray:
    """One row per item: (len(items), len(NAMES)) float32."""
    rows = [list(_row(scene, piece or _no_piece(scene)).values()) for scene, piece in items]
    return np.asarray(rows, np.float32).reshape(len(rows), len(NAMES))


def _no_piece(scene: Scene) -> Piece:
    """What stands in the row of an item without a piece: what its things wear."""
    wear = scene.wear
    return Piece(radius_mm=wear.radius_mm, skin=wear.skin, marks=wear.marks)


class Numbers:
    """Packed rows by name: `numbers["piece.radius_mm"]` is (B, 1), to broadcast over pixels."""

    __slots__ = ("rows",)

    def __init__(self, rows: Array) -> None:
        self.rows = rows

    def __getitem__(self, name: str) -> Array:
        i = NAMES[name]
        return self.rows[:, i : i + 1]

    def several(self, name: str, count: int) -> tuple[Array, ...]:
        """The first `count` elements of a tuple field, each (B, 1)."""
        return tuple(self[f"{name}.{i}"] for i in range(count))
