"""How well the profile alone tells fabricated shapes from formed ones, no weld being visible.

    python -m vision.outline_trial --count 60 --rows runs/outline.jsonl [--network]

Draws scenes of one fitting each, from an exam seed of its own (700 021), and takes every trace of
a weld off them, so that fabrications are fully finished. The scene's exact truth stands in for the
network before `vision.outline.read_outline`: once as it is, once blurred and noisy, or with
`--network` the shipped network's own maps in the second's place. A piece whose outline can't tell
by construction (two formed bends joined, cones smoothed to the formed profile) counts as neither.
With `--network` the trial also tells what the network's verdict on the whole picture finds: with no
weld there, it has nothing but the shape to go by. Rows are kept, and a trial that was stopped goes
on. With `--tune` (seed 910 001) it prints the coefficients that those rows ask for as well.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from fittings.words import Construction, Kind
from synthetic.native import native_stages
from synthetic.render import render
from synthetic.sample import PIECE_KINDS, sample_scene
from synthetic.scene import Piece, Scene
from vision import outline, outline_elbow, outline_gains, outline_reducer, outline_tee
from vision.network import Maps, Network
from vision.outline_match import Match
from vision.outline_size import TooSmall
from vision.outline_table import Row, by_size, coefficients, summary
from vision.read import Reader
from vision.truth import truth_maps

TRIAL_SEED, TUNING_SEED = 700_021, 910_001
Size = tuple[int, int]
SIZE: Size = 512, 384
"""That of a photo when the network looks at it: its maps are half as large."""

BLUR_PX = 2.0
PART_NOISE, ALONG_NOISE, AROUND_NOISE = 0.1, 0.02, 0.1
"""Of the degraded maps: blur of all maps, in map pixels, then noise of that standard deviation on
the parts' probabilities (independent per pixel), on `along` and on cosine and sine of `around`
(smooth, over BLUR_PX)."""

TRUTH, DEGRADED, NETWORK = "truth", "degraded", "network"


def fabricated_shape(piece: Piece) -> bool | None:
    """Whether the piece's own shape is that of a fabrication; None for one of formed shapes."""
    if piece.construction is not Construction.FABRICATED:
        return False
    return True if piece.kind is Kind.TEE or piece.kinked > 0.5 else None


def finished(scene: Scene) -> Scene:
    """The scene with every weld ground flush and painted: only the shape is left."""

    def bare(piece: Piece) -> Piece:
        return replace(
            piece,
            along_weld=replace(piece.along_weld, present=0.0),
            cross_weld=replace(piece.cross_weld, present=0.0),
        )

    return replace(scene, pieces=tuple(bare(piece) for piece in scene.pieces))


def degraded(maps: Maps, rng: np.random.Generator) -> Maps:
    """The maps blurred and noisy, as the text of the module's numbers says."""

    def smooth(field: NDArray[np.float32]) -> NDArray[np.float32]:
        return np.asarray(cv2.GaussianBlur(field, (0, 0), BLUR_PX), np.float32)

    def rough(size: float) -> NDArray[np.float32]:
        noise = smooth(rng.normal(size=maps.shape).astype(np.float32))
        return noise * np.float32(size / noise.std())

    part = smooth(maps.part) + rng.normal(0.0, PART_NOISE, maps.part.shape).astype(np.float32)
    part = np.clip(part, 0.0, 1.0)
    on = (maps.around_cos != 0.0) | (maps.around_sin != 0.0)
    weight = np.maximum(smooth(on.astype(np.float32)), 1e-3)

    def within(field: NDArray[np.float32], size: float) -> NDArray[np.float32]:
        return np.where(on, smooth(field) / weight + rough(size), 0.0).astype(np.float32)

    return replace(
        maps,
        part=part / np.maximum(part.sum(axis=-1, keepdims=True), 1e-6),
        along=within(maps.along, ALONG_NOISE),
        around_cos=within(maps.around_cos, AROUND_NOISE),
        around_sin=within(maps.around_sin, AROUND_NOISE),
    )


def features_of(found: Match, kind: Kind) -> tuple[float, ...] | None:
    """What the coefficients weigh."""
    if kind is Kind.TEE:
        size = outline_gains.crotch_size(found)
        return None if size is None else (size[2],)
    gains = outline_gains.contrast(found)
    return None if gains is None else tuple(map(outline_gains.squashed, gains))


def rows_of(
    seed: int, kind: Kind, index: int, *, network: Network | None = None, size: Size = SIZE
) -> list[Row]:
    """Scene `index` of that kind by its truth, and by `network` or the degraded truth."""
    scene = finished(sample_scene(np.random.default_rng([seed, index]), (kind,)))
    piece = scene.pieces[0]
    picture = render(scene, *size, run=native_stages())
    exact = truth_maps(picture, kind, fabricated=False)
    if network is None:
        other = DEGRADED, degraded(exact, np.random.default_rng([seed, index, 1]))
    else:
        levels = np.rint(np.clip(picture.rgb[0], 0.0, 1.0).transpose(1, 2, 0) * 255.0)
        other = NETWORK, network(np.ascontiguousarray(levels, np.uint8))
    return [_row(piece, kind, index, *each) for each in ((TRUTH, exact), other)]


def _row(piece: Piece, kind: Kind, index: int, name: str, maps: Maps) -> Row:
    found = _MEASURES[kind](maps)
    said = None if found is None else _READINGS[kind](found)
    # Of a crotch too small to be told the trial looks at what would have been said.
    within = outline.crotch_outline(found) if kind is Kind.TEE and found is not None else said
    return Row(
        kind=kind.value,
        index=index,
        maps=name,
        made=fabricated_shape(piece),
        hard=_hard_to_tell(piece),
        features=None if found is None else features_of(found, kind),
        log_odds=None if said is None or isinstance(said, TooSmall) else said.log_odds,
        figure=_figure(within),
        true_figure=_true_figure(piece),
        raw_log_odds=None if within is None else within.log_odds,
        radius_px=None
        if found is None or kind is not Kind.TEE
        else outline_tee.usual_crotch_px(found),
        walls=piece.crotch_radius_mm / piece.wall_mm if kind is Kind.TEE else None,
        verdict=maps.fabricated_logit if name == NETWORK else None,
    )


_MEASURES = {
    Kind.ELBOW: outline_elbow.measure,
    Kind.TEE: outline_tee.measure,
    Kind.REDUCER: outline_reducer.measure,
}
_READINGS = {
    Kind.ELBOW: outline.elbow_outline,
    Kind.TEE: outline.tee_outline,
    Kind.REDUCER: outline.reducer_outline,
}

LEAST_FORMED, MOST_WELDED = 0.10, 0.06
"""Crotch radii over outside diameter. The generator also draws formed tees with tighter crotches
and welded-on ones ground rounder than these; no measurement of the radius tells those apart."""


def _hard_to_tell(piece: Piece) -> bool:
    if piece.kind is not Kind.TEE:
        return False
    crotch = _true_figure(piece)
    return crotch > MOST_WELDED if fabricated_shape(piece) else crotch < LEAST_FORMED


def _true_figure(piece: Piece) -> float:
    """Kink in degrees (elbow, 0 for an arc), crotch over outlet diameter (tee), steps (reducer)."""
    if piece.kind is Kind.ELBOW:
        return 2.0 * piece.cut_deg if piece.kinked > 0.5 else 0.0
    if piece.kind is Kind.TEE:
        return piece.crotch_radius_mm / (2.0 * piece.second_radius_mm)
    return piece.steps if piece.kinked > 0.5 else 0.0


def _figure(said: outline.OutlineEvidence | None) -> float | None:
    match said:
        case outline.ElbowOutline():
            return said.kink_deg or 0.0
        case outline.TeeOutline():
            return said.crotch
        case outline.ReducerOutline():
            return max(0.0, said.corners - 1.0)
        case _:
            return None


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(
        prog="python -m vision.outline_trial", description=(__doc__ or "").split("\n")[0]
    )
    parser.add_argument("--count", type=int, default=60, help="scenes of each kind")
    parser.add_argument("--kind", choices=[kind.value for kind in PIECE_KINDS], help="only this")
    parser.add_argument("--rows", type=Path, default=Path("runs/outline.jsonl"))
    parser.add_argument("--tune", action="store_true", help="fit the coefficients, on tuning seeds")
    parser.add_argument(
        "--network", action="store_true", help="the network's maps, not degraded ones"
    )
    options = parser.parse_args(arguments)
    network = Reader.load().network if options.network else None
    seed = TUNING_SEED if options.tune else TRIAL_SEED
    kinds = [k for k in PIECE_KINDS if options.kind in (None, k.value)]
    options.rows.parent.mkdir(parents=True, exist_ok=True)
    rows = _kept(options.rows)
    done = {(r.kind, r.index) for r in rows}
    with options.rows.open("a", encoding="utf-8") as file:
        for kind in kinds:
            for index in range(options.count):
                if (kind.value, index) in done:
                    continue
                for row in rows_of(seed, kind, index, network=network):
                    rows.append(row)
                    file.write(json.dumps(asdict(row)) + "\n")
                file.flush()
            print(f"{kind.value}: done", file=sys.stderr)
    for kind in kinds:
        for maps in (TRUTH, DEGRADED, NETWORK):
            if not any(r.kind == kind.value and r.maps == maps for r in rows):
                continue
            print(summary(rows, kind, maps))
            if kind is Kind.TEE:
                print(by_size(rows, maps))
        if options.tune:
            print(coefficients(rows, kind))
    return 0


def _kept(path: Path) -> list[Row]:
    if not path.exists():
        return []
    lines = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    return [
        Row(**{**line, "features": line["features"] and tuple(line["features"])}) for line in lines
    ]


if __name__ == "__main__":
    sys.exit(main())
