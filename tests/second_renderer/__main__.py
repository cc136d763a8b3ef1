"""Pictures from a renderer that training never saw, and how the shipped network reads them.

    python -m tests.second_renderer --count 120 --out pictures --seed 1
    python -m tests.second_renderer --read pictures

Rendering wants `pip install -e ".[second]"` and goes quickest where LLVM 16 or newer is installed.
A run that was stopped goes on where it was. Every reading is advisory: it accepts nothing and
rejects nothing, and a physical check is always required.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

import cv2

from models.weights import WEIGHTS_FOLDER
from tests.second_renderer.pictures import make_picture, truths


def main() -> int:
    """The command; 0 when done, 1 when it could not be, 2 for wrong usage."""
    parser = argparse.ArgumentParser(prog="python -m tests.second_renderer", description=__doc__)
    parser.add_argument("--count", type=int, default=120, help="how many pictures to render")
    parser.add_argument("--out", type=Path, help="the folder that they go to")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--environments", type=Path, help="a folder of measured skies, EXR")
    parser.add_argument("--read", type=Path, help="read the pictures of this folder instead")
    parser.add_argument("--sheets", type=Path, help="with --read: montages of errors go here")
    parser.add_argument("--weights", type=Path, help="with --read: another network than shipped")
    options = parser.parse_args()
    if (options.out is None) == (options.read is None):
        parser.error("give either --out FOLDER to render or --read FOLDER to read")
    if options.environments is not None and not any(options.environments.glob("*.exr")):
        parser.error(f"{options.environments} holds no .exr file")
    if options.read is not None:
        from tests.second_renderer.reading import report

        return report(options.read, options.sheets, options.weights or WEIGHTS_FOLDER)
    return _render(options.out, options.count, options.seed, options.environments)


def _render(out: Path, count: int, seed: int, environments: Path | None) -> int:
    try:
        import mitsuba  # noqa: F401
    except ImportError:
        print('Rendering needs Mitsuba 3: pip install -e ".[second]"', file=sys.stderr)
        return 1
    out.mkdir(parents=True, exist_ok=True)
    (out / "seams").mkdir(exist_ok=True)
    done = {each.index for each in truths(out / "truth.jsonl") if each.seed == seed}
    for index in range(count):
        if index in done:
            continue
        pixels, labels, truth = make_picture(seed, index, environments)
        cv2.imwrite(str(out / truth.name), pixels[..., ::-1])
        cv2.imwrite(str(out / "seams" / truth.name), labels)
        with (out / "truth.jsonl").open("a", encoding="utf-8") as file:
            file.write(json.dumps(truth.as_json()) + "\n")
        print(f"{index + 1} of {count}", file=sys.stderr, flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
