"""How well the profile alone tells fabricated shapes from formed ones, no weld being visible.

    python -m vision.outline_trial --count 60 --rows runs/outline.jsonl

Draws scenes of one fitting each, from an exam seed of its own (700 021), and takes every trace of
a weld off them, so that fabrications are fully finished. The scene's exact truth stands in for the
network before `vision.outline.read_outline`: once as it is, once blurred and noisy. A piece whose
outline can't tell by construction (two formed bends joined, cones smoothed to the formed profile)
counts as neither. Rows are kept, and a trial that was stopped goes on. With `--tune` (seed
910 001) it prints the coefficients that those rows ask for as well.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
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
from vision.metrics import recall_at_false_alarm, roc_auc, wilson_interval
from vision.network import Maps
from vision.outline_match import Match
from vision.truth import truth_maps

TRIAL_SEED, TUNING_SEED = 700_021, 910_001
FALSE_ALARM = 0.05
SIZE = 384, 288
BLUR_PX = 2.0
PART_NOISE, ALONG_NOISE, AROUND_NOISE = 0.1, 0.02, 0.1
"""Of the degraded maps: blur of all maps, in map pixels, then noise of that standard deviation on
the parts' probabilities (independent per pixel), on `along` and on cosine and sine of `around`
(smooth, over BLUR_PX)."""

TRUTH, DEGRADED = "truth", "degraded"


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One piece under one condition. `made` is True for a fabricated shape, False for a formed one,
    None for a fabrication of formed shapes. `features` are those of the coefficients, None where
    the outline says nothing."""

    kind: str
    index: int
    maps: str
    made: bool | None
    hard: bool
    features: tuple[float, ...] | None
    log_odds: float | None
    figure: float | None
    true_figure: float


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


def rows_of(seed: int, kind: Kind, index: int, size: tuple[int, int] = SIZE) -> list[Row]:
    """Scene `index` of that kind under both conditions."""
    scene = finished(sample_scene(np.random.default_rng([seed, index]), (kind,)))
    piece = scene.pieces[0]
    exact = truth_maps(render(scene, *size, run=native_stages()), kind, fabricated=False)
    rng = np.random.default_rng([seed, index, 1])
    rows = []
    for name, maps in ((TRUTH, exact), (DEGRADED, degraded(exact, rng))):
        said: outline.OutlineEvidence | None = None
        found = _MEASURES[kind](maps)
        if found is not None:
            said = _READINGS[kind](found)
        rows.append(
            Row(
                kind=kind.value,
                index=index,
                maps=name,
                made=fabricated_shape(piece),
                hard=_hard_to_tell(piece),
                features=None if found is None else features_of(found, kind),
                log_odds=None if said is None else said.log_odds,
                figure=_figure(said),
                true_figure=_true_figure(piece),
            )
        )
    return rows


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


def summary(rows: Sequence[Row], kind: Kind, maps: str) -> str:
    """Some lines: counts, recall at the false alarm with its Wilson interval, and the figures."""
    asked = [r for r in rows if r.kind == kind.value and r.maps == maps and r.made is not None]
    read = [r for r in asked if r.log_odds is not None]
    lines = [f"{kind.value}, {maps} maps: {len(read)} of {len(asked)} pieces read"]
    groups = [("all", read)]
    if kind is Kind.TEE:
        groups.append(("crotches unlike", [r for r in read if not r.hard]))
        made = [bool(r.made) for r in read]
        if any(made) and not all(made):
            best = recall_at_false_alarm([-r.true_figure for r in read], made, FALSE_ALARM)
            lines.append(f"  by the true radius itself: {100 * best.recall:.0f} % would be found")
    for name, group in groups:
        scores = [r.log_odds or 0.0 for r in group]
        made = [bool(r.made) for r in group]
        if not any(made) or all(made):
            continue
        point = recall_at_false_alarm(scores, made, FALSE_ALARM)
        hits, total = round(point.recall * sum(made)), sum(made)
        low, high = wilson_interval(hits, total)
        alarms = sum(s > 0.0 for s, m in zip(scores, made, strict=True) if not m)
        plain = sum(s > 0.0 for s, m in zip(scores, made, strict=True) if m)
        lines.append(
            f"  {name}: {hits} of {total} fabricated found = {100 * point.recall:.0f} % "
            f"[{100 * low:.0f}, {100 * high:.0f}] at {100 * point.false_alarm_share:.1f} % false "
            f"alarm of {len(made) - total} formed; AUC {roc_auc(scores, made):.3f}; at log-odds 0: "
            f"{plain} of {total} found, {alarms} of {len(made) - total} alarms"
        )
    off = [abs(r.figure - r.true_figure) for r in read if r.figure is not None]
    if off:
        lines.append(
            f"  {_FIGURES[kind]} off by {np.median(off):.3g} in the median, "
            f"{np.quantile(off, 0.95):.3g} at the 95th percentile"
        )
    return "\n".join(lines)


_FIGURES = {
    Kind.ELBOW: "kink angle (degrees)",
    Kind.TEE: "crotch radius (outlet diameters)",
    Kind.REDUCER: "number of cones",
}


def coefficients(rows: Sequence[Row], kind: Kind) -> str:
    """Offset and weights of a logistic regression on the rows of that kind, both conditions."""
    from sklearn.linear_model import LogisticRegression  # only tuning needs it

    asked = [
        r for r in rows if r.kind == kind.value and r.made is not None and r.features is not None
    ]
    x = np.array([r.features for r in asked])
    y = np.array([r.made for r in asked])
    model = LogisticRegression(C=1.0, class_weight="balanced").fit(x, y)
    weights = ", ".join(f"{value:.2f}" for value in model.coef_[0])
    return f"{kind.value}: offset {model.intercept_[0]:.2f}, weights {weights} ({len(asked)} rows)"


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(
        prog="python -m vision.outline_trial", description=(__doc__ or "").split("\n")[0]
    )
    parser.add_argument("--count", type=int, default=60, help="scenes of each kind")
    parser.add_argument("--kind", choices=[kind.value for kind in PIECE_KINDS], help="only this")
    parser.add_argument("--rows", type=Path, default=Path("runs/outline.jsonl"))
    parser.add_argument("--tune", action="store_true", help="fit the coefficients, on tuning seeds")
    options = parser.parse_args(arguments)
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
                for row in rows_of(seed, kind, index):
                    rows.append(row)
                    file.write(json.dumps(asdict(row)) + "\n")
                file.flush()
            print(f"{kind.value}: done", file=sys.stderr)
    for kind in kinds:
        for maps in (TRUTH, DEGRADED):
            print(summary(rows, kind, maps))
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
