"""The one JSON form of a piece's reading, with names that stay."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from fittings.words import ADVISORY, Orientation
from vision.piece import PieceReading
from vision.piece_places import around_in_words
from vision.piece_seams import PieceSeam, merged_lines
from vision.piece_seen import cell_areas
from vision.reading import PhotoError
from vision.views import CAUTION, NextView


def piece_json(
    piece: PieceReading, views: Sequence[NextView], unread: Sequence[PhotoError] = ()
) -> dict[str, Any]:
    """The object that `seamtriage piece --json` prints; numbers rounded, JSON types only.

    `seen.fraction` is of the outside's area, in the mean over the ways round that the photos may
    have been taken from, `seen.range` 90 of 100 of those ways, `seen.least` what is seen whichever
    way round each was taken; a photo's `turn_known` is False where that could not be told. A seam's
    `place` is `along` (0 to 1) for one around the part, `around_deg` for one along it; its `lines`
    are stretches of [along, around_deg].
    """
    names = [view.reading.photo for view in piece.views]
    own = [view.reading for view in piece.views]
    surface = piece.surface
    unsure = set() if surface is None else set(surface.unsure)
    placed = set() if surface is None else set(surface.photos)
    return {
        "piece": piece.tag,
        "fitting": {
            "kind": piece.kind.value,
            "confidence": round(piece.kind_confidence, 4),
        },
        "verdict": {
            "reading": piece.reading.value,
            "fabricated_probability": round(piece.fabricated_probability, 4),
            "reasons": list(piece.reasons),
            "next_step": piece.next_step,
        },
        "seen": None if surface is None else _seen_json(piece),
        "seams": [_seam_json(seam, piece, names) for seam in piece.seams],
        "photos": [
            {
                "photo": reading.photo,
                "sha256": reading.sha256,
                "kind": reading.kind.value,
                "kind_confidence": round(reading.kind_confidence, 4),
                "reading": reading.verdict.reading.value,
                "fabricated_probability": round(reading.verdict.fabricated_probability, 4),
                "counted": number in piece.counted,
                "placed": number in placed,
                "turn_known": None if number not in placed else number not in unsure,
                "problems": list(reading.quality.problems),
            }
            for number, reading in enumerate(own)
        ],
        "doubts": [
            {"photo": names[doubt.photo], "code": doubt.code, "sentence": doubt.sentence}
            for doubt in piece.doubts
        ],
        "unread": [error.as_json() for error in unread],
        "next_views": [
            {"code": view.code, "sentence": view.sentence, "adds": round(view.adds, 3)}
            for view in views
        ],
        "caution": CAUTION,
        "advisory": ADVISORY,
        "model": {"version": own[0].model_version, "sha256": own[0].model_sha256},
    }


def _seen_json(piece: PieceReading) -> dict[str, Any]:
    surface = piece.surface
    assert surface is not None
    areas = cell_areas(surface.form)
    return {
        "fraction": round(surface.seen_fraction, 4),
        "range": [round(share, 4) for share in surface.seen_range],
        "least": round(surface.least_fraction, 4),
        "clear_fraction": round(surface.clear_fraction, 4),
        "parts": {
            part.value: round(
                float((areas[part] * surface.seen[part]).sum() / areas[part].sum()), 4
            )
            for part in areas
        },
    }


def _seam_json(seam: PieceSeam, piece: PieceReading, names: Sequence[str]) -> dict[str, Any]:
    place: dict[str, Any] | None = None
    if seam.orientation is Orientation.CIRCUMFERENTIAL:
        place = {"along": round(seam.place, 3)}
    elif seam.orientation is Orientation.LONGITUDINAL:
        datum = piece.surface is not None and piece.surface.datum
        words = around_in_words(piece.kind, seam.part, seam.place, datum=datum)
        place = {"around_deg": round(seam.place, 1), "words": words}
    return {
        "orientation": seam.orientation.value,
        "part": seam.part.value,
        "confidence": round(seam.confidence, 4),
        "photos": [names[photo] for photo in seam.photos],
        "place": place,
        "place_known": seam.place_sure,
        "lines": [
            [
                [round(float(u), 3), round(float(np.degrees(t)), 1)]
                for u, t in zip(along, turn, strict=True)
            ]
            for along, turn in merged_lines(seam)
        ],
    }
