"""One photo's part in a piece: its reading, what it shows of the surface, and its seams there."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from fittings.words import Kind, Part
from vision.errors import PhotoUnreadable
from vision.network import LONG_SIDE_PX, Maps
from vision.photo import Photo, open_photo
from vision.piece_form import Field, usual_form
from vision.piece_seams import PlacedCurve
from vision.piece_seen import SeenMap, seen_map
from vision.piece_upright import axes_of
from vision.pose import posed_maps
from vision.read import OPEN_SIDE_PX, Reader
from vision.reading import PhotoError, PhotoReading
from vision.reuse import signature


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PieceView:
    """A photo as it is put together with others.

    `kinds` is (4,) probabilities in the order of `Kind`; `seen` what the photo shows if it shows
    that kind, for each kind of fitting; `curves` its seams that could be placed, in its own
    coordinates and with `photo` 0; `chroma` the median (a*, b*) of CIELAB over the fitting;
    `signature` that of `vision.reuse`, None where the photo itself was not at hand;
    `axes` the camera's, for each kind as in `seen` (`vision.piece_upright.axes_of`).
    """

    reading: PhotoReading
    kinds: tuple[float, ...]
    seen: dict[Kind, SeenMap] = field(repr=False)
    curves: tuple[PlacedCurve, ...]
    chroma: tuple[float, float]
    signature: bytes | None = field(default=None, repr=False)
    axes: dict[Kind, Field | None] = field(default_factory=dict, repr=False)


def view_of(data: bytes, name: str, reader: Reader) -> PieceView | PhotoError:
    """Opens and reads a photo's bytes as `Reader.read_bytes` does, and keeps what a piece needs."""
    try:
        photo = open_photo(data, name, max_side_px=OPEN_SIDE_PX)
    except PhotoUnreadable as error:
        return error.as_photo_error()
    return view_of_photo(photo, reader)


def view_of_photo(photo: Photo, reader: Reader) -> PieceView:
    """The same for an opened photo."""
    kept: list[tuple[NDArray[np.uint8], Maps]] = []

    def keeping(pixels: NDArray[np.uint8]) -> Maps:
        maps = reader.network(pixels)
        kept.append((pixels, maps))
        return maps

    reading = replace(reader, network=keeping).read(photo)
    pixels, maps = kept[0]
    return replace(view_of_maps(pixels, maps, reading), signature=signature(photo))


def view_of_maps(pixels: NDArray[np.uint8], maps: Maps, reading: PhotoReading) -> PieceView:
    """The same for a photo ((H, W, 3) uint8 RGB) whose maps and reading are at hand."""
    kinds = [kind for kind in Kind if kind is not Kind.NONE and _has_parts(maps, kind)]
    placed = {kind: posed_maps(maps, kind) for kind in kinds}
    return PieceView(
        reading=reading,
        kinds=tuple(float(p) for p in maps.kind),
        seen={kind: seen_map(placed[kind], usual_form(kind), LONG_SIDE_PX) for kind in kinds},
        axes={kind: axes_of(placed[kind], usual_form(kind)) for kind in kinds},
        curves=tuple(
            PlacedCurve(
                photo=0,
                orientation=seam.orientation,
                part=seam.curve.part,
                confidence=seam.confidence,
                along=np.asarray(seam.curve.along, float),
                around_deg=np.asarray(seam.curve.around_deg, float),
            )
            for seam in reading.seams
            if seam.curve is not None
        ),
        chroma=_chroma(pixels, maps),
    )


def _has_parts(maps: Maps, kind: Kind) -> bool:
    """Whether the likeliest kind, or one nearly as likely: a seen map is made for no other."""
    return bool(maps.kind[kind.label] >= 0.2 * maps.kind.max())


def _chroma(pixels: NDArray[np.uint8], maps: Maps) -> tuple[float, float]:
    small = cv2.resize(pixels, maps.shape[::-1], interpolation=cv2.INTER_AREA)
    lab = cv2.cvtColor(small.astype(np.float32) / 255.0, cv2.COLOR_RGB2LAB)
    winner = maps.winner
    on_piece = (winner != Part.BACKGROUND.label) & (winner != Part.FACE.label)
    if not on_piece.any():
        return 0.0, 0.0
    a, b = np.median(lab[on_piece][:, 1:], axis=0)
    return float(a), float(b)
