"""How good the reading of a piece from several photos is, on rendered pieces with known truth.

    python -m vision.piece_trial --count 60 --views 6 [--network] [--seed 700003]

Every piece is drawn alone, with no other thing in view, lies as it lies in all photos, and is
photographed from cameras drawn as the plain scenes' are. Without --network the scene's truth stands
in for the network ("perfect"): what is wrong then is the geometry's and the rule's own doing. Half
turns are given to the coordinates of every second photo of an elbow or a tee, as a network may.
With --turned the piece is turned over, any way up, before the last half of its photos, which the
reading does not expect. Reported: readings by construction, the seen fraction against the truth,
and how often the turns were told and right.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fittings.words import Construction, Kind, Part, Reading
from models.weights import load_weights
from synthetic.native import native_stages
from synthetic.render import render
from synthetic.sample import PIECE_KINDS
from vision.calibration import from_card
from vision.exam_rows import check_seed
from vision.metrics import wilson_interval
from vision.network import Maps, Network
from vision.photo import Photo
from vision.piece import PieceReading, read_piece
from vision.piece_form import PARTS, Field
from vision.piece_photo import PieceView, view_of_photo
from vision.piece_seen import COLUMNS, seen_share, turned, union
from vision.piece_truth import (
    camera_columns,
    half_turned,
    true_form,
    true_shares,
    turn_between,
    views_of,
)
from vision.read import Reader
from vision.truth import truth_maps

SIZE = 384, 288
FINE_SIZE = 576, 432


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One piece: what it is, what was read, and what was seen of it by reading and by truth."""

    kind: str
    fabricated: bool
    visible: bool
    reading: str
    probability: float
    seen: float
    seen_range: tuple[float, float]
    least: float
    seen_truth: float
    unsure: int
    turns_right: tuple[bool, ...]


def tried(
    rng: np.random.Generator,
    kind: Kind,
    count: int,
    reader: Reader,
    *,
    perfect: bool,
    turned_over: bool = False,
    size: tuple[int, int] = SIZE,
) -> Trial:
    """Draws, renders and reads one piece; `size` is the photos' width and height in pixels."""
    width, height = size
    run = native_stages()
    views: list[PieceView] = []
    truths: list[dict[Part, Field]] = []
    turns: list[int] = []
    visible = False
    piece = None
    for number, scene in enumerate(views_of(rng, kind, count, turned_over=turned_over)):
        piece = scene.pieces[0]
        fabricated = piece.construction is Construction.FABRICATED
        picture = render(scene, width, height, run=run)
        visible = visible or bool(picture.pixels[0, 1] > 0 and picture.contrast[0, 1] >= 4.0)
        truth = truth_maps(picture, kind, fabricated=fabricated)
        given = truth
        if perfect and kind is not Kind.REDUCER and number % 2:
            given = half_turned(truth, kind)
        kept: list[Maps] = []
        network = _keeping(_always(given) if perfect else reader.network, kept)
        pixels = np.rint(np.clip(picture.rgb[0], 0, 1).transpose(1, 2, 0) * 255).astype(np.uint8)
        photo = Photo(
            name=f"{number}", sha256=f"{number}", width=width, height=height, pixels=pixels
        )
        views.append(view_of_photo(photo, replace(reader, network=network)))
        concentric = kind is Kind.REDUCER and piece.eccentric < 0.5
        back = camera_columns(scene) if concentric else 0
        turns.append(turn_between(kept[0], truth, kind) + back)
        shares = true_shares(render(scene, *FINE_SIZE, run=run), kind)
        truths.append({part: turned(kind, part, shares[part], back) for part in shares})
    assert piece is not None
    read = read_piece(views, reader.thresholds)
    form = true_form(piece)
    surface = read.surface if read.kind is kind else None
    return Trial(
        kind=kind.value,
        fabricated=piece.construction is Construction.FABRICATED,
        visible=visible,
        reading=read.reading.value,
        probability=read.fabricated_probability,
        seen=0.0 if surface is None else surface.seen_fraction,
        seen_range=(0.0, 0.0) if surface is None else surface.seen_range,
        least=0.0 if surface is None else surface.least_fraction,
        seen_truth=(
            float("nan")
            if surface is None
            else seen_share(
                form, {p: union(truths[i][p] for i in surface.photos) for p in PARTS[kind]}
            )
        ),
        unsure=0 if surface is None else len(surface.unsure),
        turns_right=_turns_right(read, turns, kind),
    )


def _turns_right(read: PieceReading, turns: Sequence[int], kind: Kind) -> tuple[bool, ...]:
    """For each photo whose turn is called sure, one of them left out that the others are set
    against: whether it is right, a reducer's to four columns."""
    surface = read.surface
    if surface is None or read.kind is not kind:
        return ()
    off = [
        turn - turns[photo]
        for photo, turn, sure in zip(
            surface.photos, surface.turns.columns, surface.turns.sure, strict=True
        )
        if sure
    ]
    around, near = (COLUMNS, 4) if kind is Kind.REDUCER else (2, 0)
    # A common turn of all photos is no error.
    apart = [min((o - off[0]) % around, (off[0] - o) % around) for o in off]
    return tuple(a <= near for a in apart[1:])


def _keeping(network: Network, kept: list[Maps]) -> Network:
    def keeping(pixels: NDArray[np.uint8]) -> Maps:
        kept.append(network(pixels))
        return kept[-1]

    return keeping


def _always(maps: Maps) -> Network:
    def network(_pixels: NDArray[np.uint8]) -> Maps:
        return maps

    return network


def report(trials: Sequence[Trial]) -> str:
    """Counts with Wilson's 95 % intervals."""
    lines = []
    for name, some in (
        ("fabricated", [t for t in trials if t.fabricated]),
        (
            "fabricated, its weld visible in a view",
            [t for t in trials if t.fabricated and t.visible],
        ),
        ("sound", [t for t in trials if not t.fabricated]),
    ):
        called = sum(t.reading == Reading.FABRICATION_SEAM.value for t in some)
        low, high = wilson_interval(called, len(some)) if some else (0.0, 1.0)
        lines.append(
            f"{name}: {called} of {len(some)} read fabrication_seam [{low:.3f}, {high:.3f}]; "
            + ", ".join(
                f"{r.value} {sum(t.reading == r.value for t in some)}"
                for r in Reading
                if r is not Reading.FABRICATION_SEAM
            )
        )
    measured = [t for t in trials if np.isfinite(t.seen_truth)]
    error = np.array([t.seen - t.seen_truth for t in measured])
    known = np.array([t.unsure == 0 for t in measured], dtype=bool)
    masks = {"all": np.ones_like(known), "every turn told": known, "not every turn": ~known}
    masks |= {
        kind.value: np.array([t.kind == kind.value for t in measured]) for kind in PIECE_KINDS
    }
    for name, mask in masks.items():
        if mask.any():
            e = error[mask]
            some = [t for t, m in zip(measured, mask, strict=True) if m]
            inside = [t.seen_range[0] <= t.seen_truth <= t.seen_range[1] for t in some]
            lines.append(
                f"seen fraction, {name} ({mask.sum()}): mean error {e.mean():+.3f}, its size "
                f"{np.median(abs(e)):.3f} in the median, {np.quantile(abs(e), 0.95):.3f} at the "
                f"95th percentile, within 0.05 in {(abs(e) <= 0.05).mean():.2f}; range "
                f"{np.median([t.seen_range[1] - t.seen_range[0] for t in some]):.2f} wide, the "
                f"truth in it in {np.mean(inside):.2f}; at the least: "
                f"{np.mean([t.least - t.seen_truth for t in some]):+.2f}, more than 0.05 too much "
                f"in {np.mean([t.least > t.seen_truth + 0.05 for t in some]):.2f}"
            )
    for kind in PIECE_KINDS:
        right = [r for t in trials if t.kind == kind.value for r in t.turns_right]
        unsure = sum(t.unsure for t in trials if t.kind == kind.value)
        if right or unsure:
            lines.append(
                f"{kind.value}: turns told in {len(right)} photos, right in {sum(right)}; unsure "
                f"in {unsure}"
            )
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> int:
    """Prints the report."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("--count", type=int, default=30)
    parser.add_argument("--views", type=int, default=6)
    parser.add_argument("--seed", type=int, default=700_003)
    parser.add_argument("--network", action="store_true", help="The shipped network, not truth.")
    parser.add_argument("--turned", action="store_true", help="The piece is turned over meanwhile.")
    parser.add_argument("--width", type=int, default=SIZE[0], help="pixels, a multiple of 16")
    parser.add_argument("--height", type=int, default=SIZE[1], help="pixels, a multiple of 16")
    options = parser.parse_args(arguments)
    seed = check_seed(options.seed)
    thresholds, calibration = from_card(load_weights().card)
    reader = (
        Reader.load()
        if options.network
        else Reader(
            network=_refused,
            thresholds=thresholds,
            calibration=calibration,
            version="truth",
            sha256="truth",
        )
    )
    trials = []
    for index in range(options.count):
        rng = np.random.default_rng([seed, index])
        kind = PIECE_KINDS[index % 3]
        trial = tried(
            rng,
            kind,
            options.views,
            reader,
            perfect=not options.network,
            turned_over=options.turned,
            size=(options.width, options.height),
        )
        trials.append(trial)
        print(index, trial, file=sys.stderr, flush=True)
    print(report(trials))
    return 0


def _refused(_pixels: NDArray[np.uint8]) -> Maps:
    raise RuntimeError("the truth of each scene is the network here")


if __name__ == "__main__":
    sys.exit(main())
