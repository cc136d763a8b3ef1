"""How good the reading of a piece from several photos is, on rendered pieces with known truth.

    python -m vision.piece_trial --count 60 --views 6 [--network] [--seed 700003]

Every piece is drawn alone, with no other thing in view, and photographed from cameras drawn as the
plain scenes' are. Without --network the scene's truth stands in for the network ("perfect"): what
is wrong then is the geometry's and the rule's own doing. Half turns are given to the coordinates of
every second photo of an elbow or a tee, as a network may. Reported: readings by construction, the
seen fraction against the truth, and how often the turns were told and right.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fittings.words import Construction, Kind, Part, Reading
from models.weights import load_weights
from synthetic.native import native_stages
from synthetic.render import Picture, render
from synthetic.sample import PIECE_KINDS, sample_scene
from synthetic.sample_pieces import outside_points
from synthetic.sample_view import sample_camera
from synthetic.scene import Piece, Scene
from vision.calibration import from_card
from vision.exam_rows import check_seed
from vision.metrics import wilson_interval
from vision.network import Maps, Network
from vision.photo import Photo
from vision.piece import PieceReading, read_piece
from vision.piece_form import PARTS, Field, Form
from vision.piece_photo import PieceView, view_of_photo
from vision.piece_seen import COLUMNS, ROWS, seen_share, turned, union
from vision.read import Reader
from vision.truth import truth_maps

SIZE = 384, 288
FINE_SIZE = 576, 432
FINE = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One piece: what it is, what was read, and what was seen of it by reading and by truth."""

    kind: str
    fabricated: bool
    visible: bool
    reading: str
    probability: float
    seen: float
    seen_truth: float
    unsure: int
    turns_right: tuple[bool, ...]


def views_of(rng: np.random.Generator, kind: Kind, count: int) -> Iterator[Scene]:
    """One piece of that kind, alone, from `count` places."""
    scene = replace(sample_scene(rng, (kind,)), props=())
    piece = scene.pieces[0]
    rotation = np.reshape(piece.rotation, (3, 3))
    points = outside_points(piece) @ rotation.T + np.asarray(piece.position_mm)
    middle = points.mean(axis=0)
    extent = float(np.linalg.norm(points - middle, axis=1).max())
    for _ in range(count):
        camera, effects = sample_camera(rng, middle, extent, False, plain=True, points=points)
        yield replace(
            scene, camera=camera, effects=replace(effects, exposure=scene.effects.exposure)
        )


def half_turned(maps: Maps, kind: Kind) -> Maps:
    """The maps as a network may give them that starts from the fitting's other end."""
    if kind is Kind.ELBOW:
        return replace(maps, along=1.0 - maps.along, around_sin=-maps.around_sin)
    outlet = maps.winner == Part.OUTLET.label
    return replace(
        maps,
        along=np.where(outlet, maps.along, 1.0 - maps.along),
        around_cos=np.where(outlet, -maps.around_cos, maps.around_cos),
        around_sin=-maps.around_sin,
    )


def true_form(piece: Piece) -> Form:
    """The proportions that the piece was made with."""
    radius = piece.radius_mm
    if piece.kind is Kind.ELBOW:
        return Form(kind=piece.kind, length=piece.length_mm / radius, bend_deg=piece.bend_deg)
    return Form(
        kind=piece.kind,
        length=piece.length_mm / radius,
        second_radius=piece.second_radius_mm / radius,
        second_length=piece.second_length_mm / radius,
        eccentric=piece.eccentric > 0.5,
    )


def true_shares(picture: Picture, kind: Kind) -> dict[Part, Field]:
    """(ROWS, COLUMNS) share of each cell in which a finely rendered picture shows the surface: the
    truth of what is seen, without any tracing or filling in."""
    truth = picture.truth
    shares = {}
    for part in PARTS[kind]:
        here = (truth.part[0] == part.label) & (truth.piece[0] == 1)
        turn = np.arctan2(truth.around_sin[0][here], truth.around_cos[0][here]) / (2 * np.pi) + 0.5
        rows = np.clip((truth.along[0][here] * ROWS * FINE).astype(int), 0, ROWS * FINE - 1)
        columns = (turn * COLUMNS * FINE).astype(int) % (COLUMNS * FINE)
        cells = np.zeros((ROWS * FINE, COLUMNS * FINE))
        cells[rows, columns] = 1.0
        shares[part] = cells.reshape(ROWS, FINE, COLUMNS, FINE).mean(axis=(1, 3))
    return shares


def camera_columns(scene: Scene) -> int:
    """By how many columns a concentric reducer's `around` is turned in this picture."""
    piece = scene.pieces[0]
    offset = np.asarray(scene.camera.position_mm) - np.asarray(piece.position_mm)
    _, y, z = offset @ np.reshape(piece.rotation, (3, 3))
    return round(float(np.arctan2(y, -z)) / (2 * np.pi) * COLUMNS)


def tried(
    rng: np.random.Generator, kind: Kind, count: int, reader: Reader, *, perfect: bool
) -> Trial:
    """Draws, renders and reads one piece."""
    run = native_stages()
    views: list[PieceView] = []
    truths: list[dict[Part, Field]] = []
    turns: list[int] = []
    visible = False
    piece = None
    for number, scene in enumerate(views_of(rng, kind, count)):
        piece = scene.pieces[0]
        fabricated = piece.construction is Construction.FABRICATED
        picture = render(scene, *SIZE, run=run)
        visible = visible or bool(picture.pixels[0, 1] > 0 and picture.contrast[0, 1] >= 4.0)
        maps = truth_maps(picture, kind, fabricated=fabricated)
        concentric = kind is Kind.REDUCER and piece.eccentric < 0.5
        turn = camera_columns(scene) if concentric else int(kind is not Kind.REDUCER) * (number % 2)
        if turn and kind is not Kind.REDUCER:
            maps = half_turned(maps, kind)
        turns.append(turn)
        pixels = np.rint(np.clip(picture.rgb[0], 0, 1).transpose(1, 2, 0) * 255).astype(np.uint8)
        photo = Photo(
            name=f"{number}", sha256=f"{number}", width=SIZE[0], height=SIZE[1], pixels=pixels
        )
        own = replace(reader, network=_always(maps)) if perfect else reader
        views.append(view_of_photo(photo, own))
        if not perfect:
            continue
        shares = true_shares(render(scene, *FINE_SIZE, run=run), kind)
        back = turn if concentric else 0
        truths.append({part: turned(kind, part, shares[part], back) for part in shares})
    assert piece is not None
    read = read_piece(views, reader.thresholds)
    form = true_form(piece)
    placed = read.surface.photos if read.surface is not None else ()
    truth = (
        seen_share(form, {p: union(truths[i][p] for i in placed) for p in PARTS[kind]})
        if placed and perfect
        else float("nan")
    )
    return Trial(
        kind=kind.value,
        fabricated=piece.construction is Construction.FABRICATED,
        visible=visible,
        reading=read.reading.value,
        probability=read.fabricated_probability,
        seen=0.0 if read.surface is None else read.surface.seen_fraction,
        seen_truth=truth,
        unsure=0 if read.surface is None else len(read.surface.unsure),
        turns_right=_turns_right(read, turns, kind),
    )


def _turns_right(read: PieceReading, turns: Sequence[int], kind: Kind) -> tuple[bool, ...]:
    """For each photo whose turn is called sure, the first left out: whether it is right."""
    surface = read.surface
    if surface is None or read.kind is not kind:
        return ()
    known = [
        (turn, turns[photo])
        for photo, turn, sure in zip(
            surface.photos, surface.turns.columns, surface.turns.sure, strict=True
        )
        if sure
    ]
    if kind is Kind.REDUCER:
        # A common turn of all photos is no error: set against the first.
        off = [(found - true) % COLUMNS for found, true in known]
        apart = [min((o - off[0]) % COLUMNS, (off[0] - o) % COLUMNS) for o in off]
        return tuple(a <= 2 for a in apart[1:])
    agreed = [found == true for found, true in known]
    return tuple(a == agreed[0] for a in agreed[1:])


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
    sure = np.array([t.unsure == 0 for t in measured], dtype=bool)
    for name, mask in (("all", np.ones_like(sure)), ("every turn told", sure)):
        if mask.any():
            e = error[mask]
            lines.append(
                f"seen fraction, {name} ({mask.sum()}): mean error {e.mean():+.3f}, median of its "
                f"size {np.median(abs(e)):.3f}, within 0.05 in {(abs(e) <= 0.05).mean():.2f}, more "
                f"than 0.05 too much in {(e > 0.05).mean():.2f}"
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
        trial = tried(rng, kind, options.views, reader, perfect=not options.network)
        trials.append(trial)
        print(index, trial, file=sys.stderr, flush=True)
    print(report(trials))
    return 0


def _refused(_pixels: NDArray[np.uint8]) -> Maps:
    raise RuntimeError("the truth of each scene is the network here")


if __name__ == "__main__":
    sys.exit(main())
