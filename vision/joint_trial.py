"""Are ends with a pipe told from bare ones, in scenes half of which have a pipe at some end?

    python -m vision.joint_trial --count 450             # measure
    python -m vision.joint_trial --count 680 --tune      # fit `vision.pipe_beyond` anew

Fitting draws from a tuning seed, measuring from another; neither is the exam's or training's.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import count

import numpy as np

from synthetic.joined import PieceEnd, ends_in_picture
from synthetic.native import native_stages
from synthetic.render import render
from synthetic.sample import PIECE_KINDS, sample_scene
from synthetic.scene import Scene
from vision.calibrate import KIND_CONFIDENCE
from vision.end_joints import End, ends_in_view, runs_beside
from vision.exam_joints import end_told, joined_in_view
from vision.exam_rows import png_bytes
from vision.judging import Joined, choose_kind, joint
from vision.network import Maps
from vision.photo import Photo, open_photo
from vision.pipe_beyond import FIGURES, OFFSET, TOLD_FROM, WEIGHTS, figures
from vision.read import OPEN_SIDE_PX, Reader, for_network
from vision.tracing import trace

TUNING_SEED = 910_201
TRIAL_SEED = 910_601


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """An end that the maps show without a face: its figures, and whether a pipe is joined there."""

    figures: tuple[float, ...]
    joined: bool


def scene_with(seed: int, index: int, *, joined: bool) -> Scene:
    """The first scene of that place with a pipe at some end of its piece, or with none."""
    for attempt in count():
        rng = np.random.default_rng([seed, index, attempt])
        scene = sample_scene(rng, (PIECE_KINDS[index % len(PIECE_KINDS)],))
        if any(end.joined for end in ends_in_picture(scene, 640, 480)) is joined:
            return scene
    raise AssertionError("count() does not end")


def candidates(seed: int, index: int, reader: Reader) -> tuple[list[Candidate], int]:
    """What picture `index` offers, and how many joined ends it shows."""
    scene = scene_with(seed, index, joined=index % 2 == 0)
    picture = render(scene, 640, 480, run=native_stages())
    ends = ends_in_picture(scene, 640, 480)
    photo = open_photo(png_bytes(picture), f"{index}.png", max_side_px=OPEN_SIDE_PX)
    pixels = for_network(photo)
    maps = reader.network(pixels)
    kind, confidence = choose_kind(maps)
    found = []
    if confidence >= KIND_CONFIDENCE:
        bands = trace(maps)
        for end in ends_in_view(maps, kind):
            said = figures(pixels, maps, end)
            if said is not None and not any(runs_beside(band, end) for band in bands):
                found.append(Candidate(figures=said, joined=_is_joined(end, maps, photo, ends)))
    return found, len(joined_in_view(scene, picture))


def _is_joined(end: End, maps: Maps, photo: Photo, ends: tuple[PieceEnd, ...]) -> bool:
    placed = joint(Joined(end=end, path=end.path, confidence=1.0), maps, photo)
    true_end = end_told(placed, ends)
    return true_end is not None and true_end.joined


def fit(found: Sequence[Candidate]) -> tuple[list[float], float]:
    """(weights in the order of FIGURES, offset). ValueError when one of the classes is missing."""
    from sklearn.linear_model import LogisticRegression  # only fitting needs it

    x = np.array([each.figures for each in found]).reshape(-1, len(FIGURES))
    y = np.array([each.joined for each in found])
    if len(set(y.tolist())) < 2:
        raise ValueError("these ends are all joined or all bare: draw more scenes")
    spread = x.std(axis=0)
    model = LogisticRegression(C=1.0).fit(x / spread, y)
    return [float(w) for w in model.coef_[0] / spread], float(model.intercept_[0])


def summary(found: Sequence[Candidate], shown: int, weights: Sequence[float], offset: float) -> str:
    """How many joined ends are told, and how many told ends are bare, from TOLD_FROM on."""
    limit = np.log(TOLD_FROM / (1.0 - TOLD_FROM))
    told = [each for each in found if offset + float(np.dot(weights, each.figures)) >= limit]
    right = sum(each.joined for each in told)
    joined = sum(each.joined for each in found)
    return (
        f"joined ends in view {shown}, with an end in the maps {joined}, told {right}; "
        f"bare ends in the maps {len(found) - joined}, told for joined {len(told) - right}"
    )


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--count", type=int, default=450)
    parser.add_argument("--tune", action="store_true", help="fit the weights, on a tuning seed")
    options = parser.parse_args(arguments)
    reader, found, shown = Reader.load(), [], 0
    for index in range(options.count):
        more, in_view = candidates(TUNING_SEED if options.tune else TRIAL_SEED, index, reader)
        found += more
        shown += in_view
    print(summary(found, shown, WEIGHTS, OFFSET))
    if options.tune:
        weights, offset = fit(found)
        fitted = {name: round(w, 3) for name, w in zip(FIGURES, weights, strict=True)}
        print(f"fitted: {fitted}, offset {offset:.3f}")
        print(summary(found, shown, weights, offset))
    return 0


if __name__ == "__main__":
    sys.exit(main())
