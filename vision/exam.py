"""How good the readings are, on scenes that nothing was trained or tuned on.

    python -m vision.exam --count 600 --jobs 2 --json exam.jsonl

Draws scenes by seed, renders them, gives each picture's bytes to the reader through the same door
as a user's photo, and prints a table with counts and Wilson intervals. `vision.exam_rows` says what
is drawn, `vision.exam_figures` what is counted. With `--json` each picture's row is kept as it is
made, so that an exam that was stopped goes on where it was. `--against FOLDER` reads the same
pictures with another network as well, which says what is gained by replacing one with the other.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from functools import cache
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import cv2

from models.weights import WeightsError
from synthetic.scene import GENERATOR_VERSION
from vision.classical import classical_reader
from vision.exam_figures import compare, figures
from vision.exam_rows import SEEDS, ReadsBytes, Row, check_seed, examine, row_from_json
from vision.exam_table import table
from vision.read import Reader

NETWORK, OTHER, CLASSICAL = "network", "other", "classical"


class ExamError(Exception):
    """The exam can't go on; the message says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What an exam consists of; rows of different plans are never mixed. `models` are the readers'
    versions and hashes, by name, the one under examination first."""

    seed: int
    width_px: int
    height_px: int
    generator: str
    models: dict[str, str]

    def __post_init__(self) -> None:
        check_seed(self.seed)


def main(arguments: Sequence[str] | None = None) -> int:
    """The command; 0 when done, 1 when it could not be, 2 for wrong usage."""
    options = _parser().parse_args(arguments)
    names = _names(options)
    if not names:
        print("Nothing to examine: leave the network or the classical reader in.", file=sys.stderr)
        return 2
    try:
        readers = {name: _reader(name, options.against) for name in names}
        plan = Plan(
            seed=options.seed,
            width_px=options.width,
            height_px=options.height,
            generator=GENERATOR_VERSION,
            models={name: f"{r.version} {r.sha256}".strip() for name, r in readers.items()},
        )
        rows = held(plan, options.count, options.jobs, options.json, options.against)
    except (ExamError, WeightsError) as error:
        print(error, file=sys.stderr)
        return 1
    print(f"Exam with seed {plan.seed}, {plan.width_px} × {plan.height_px}, generator ", end="")
    print(f"{plan.generator}; " + "; ".join(f"{k}: {v}" for k, v in plan.models.items()))
    print(table(rows, names))
    if options.figures is not None:
        text = json.dumps(summary(rows, plan), indent=2)
        options.figures.write_text(text + "\n", encoding="utf-8")
    return 0


def held(
    plan: Plan, count: int, jobs: int, path: Path | None, against: Path | None = None
) -> list[Row]:
    """The rows of the first `count` pictures in order: those in the file, the others made now."""
    done = {} if path is None else {row.index: row for row in kept_rows(path, plan)}
    missing = [index for index in range(count) if index not in done]
    for made, row in enumerate(_made(plan, missing, jobs, against), start=1):
        done[row.index] = row
        if path is not None:
            with path.open("a", encoding="utf-8") as file:
                file.write(json.dumps(row.as_json()) + "\n")
        if sys.stderr.isatty():
            print(f"\r{made} of {len(missing)} pictures", end="", file=sys.stderr, flush=True)
    if missing and sys.stderr.isatty():
        print(file=sys.stderr)
    return [done[index] for index in range(count)]


def kept_rows(path: Path, plan: Plan) -> list[Row]:
    """The rows in a file of this plan, begun here if there is none; a torn last line is cut off.

    ExamError for a file of another plan, or one that holds something else.
    """
    own = json.dumps(asdict(plan))
    text = path.read_text(encoding="utf-8") if path.exists() else ""
    whole = text[: text.rfind("\n") + 1]
    lines = whole.splitlines()
    if not lines:
        path.write_text(own + "\n", encoding="utf-8")
        return []
    if lines[0] != own:
        raise ExamError(
            f"{path} belongs to another exam: expected {own}, got {lines[0][:300]}. "
            "Give another file, or remove it."
        )
    try:
        rows = [row_from_json(json.loads(line)) for line in lines[1:]]
    except (ValueError, KeyError, TypeError) as error:
        raise ExamError(f"{path} is damaged ({error}). Give another file, or remove it.") from error
    if whole != text:
        path.write_text(whole, encoding="utf-8")
    return rows


def summary(rows: Sequence[Row], plan: Plan) -> dict[str, Any]:
    """All figures as JSON types: the plan, each reader's, and the comparisons with the first."""
    names = list(plan.models)
    whole = {
        "plan": asdict(plan),
        "figures": {name: asdict(figures(rows, name)) for name in names},
        "against": {name: asdict(compare(rows, names[0], name)) for name in names[1:]},
    }
    return {key: _finite(value) for key, value in whole.items()}


def _finite(value: Any) -> Any:
    """JSON has no nan and no infinity: None stands for them."""
    if isinstance(value, dict):
        return {key: _finite(each) for key, each in value.items()}
    if isinstance(value, (list, tuple)):
        return [_finite(each) for each in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _made(plan: Plan, indices: Sequence[int], jobs: int, against: Path | None) -> Iterator[Row]:
    """Rows as they are made, in any order."""
    tasks = [(plan, index, against) for index in indices]
    if jobs == 1 or len(tasks) < 2:
        yield from map(_row, tasks)
        return
    # spawn: a forked copy of a session's threads may hang.
    with get_context("spawn").Pool(jobs, initializer=cv2.setNumThreads, initargs=(1,)) as pool:
        yield from pool.imap_unordered(_row, tasks, chunksize=2)


def _row(task: tuple[Plan, int, Path | None]) -> Row:
    plan, index, against = task
    readers: dict[str, ReadsBytes] = {name: _reader(name, against) for name in plan.models}
    return examine(plan.seed, index, readers, plan.width_px, plan.height_px)


@cache
def _reader(name: str, against: Path | None) -> Reader:
    """One reader of each name a process."""
    if name == OTHER and against is not None:
        return Reader.load(folder=against)
    return Reader.load() if name == NETWORK else classical_reader()


def _names(options: argparse.Namespace) -> list[str]:
    names = [NETWORK] if options.network else []
    names += [OTHER] if options.against is not None else []
    return [*names, CLASSICAL] if options.classical else names


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m vision.exam",
        description="Examine the reader on scenes kept apart from training and tuning.",
    )
    yes_no = argparse.BooleanOptionalAction
    parser.add_argument("--count", type=_positive, default=600, help="pictures (default 600)")
    parser.add_argument(
        "--seed",
        type=_seed,
        default=SEEDS.start,
        help=f"{SEEDS.start} (default) to {SEEDS.stop - 1}: seeds that nothing else uses",
    )
    parser.add_argument("--jobs", type=_positive, default=2, help="processes (default 2)")
    parser.add_argument("--json", type=Path, help="keep each picture's row here, and go on from it")
    parser.add_argument("--figures", type=Path, help="write all figures here as one JSON object")
    parser.add_argument("--classical", action=yes_no, default=True, help="the yardstick as well")
    parser.add_argument("--network", action=yes_no, default=True, help="the shipped reader")
    parser.add_argument(
        "--against", type=Path, metavar="FOLDER", help="another network's weights and card as well"
    )
    parser.add_argument("--width", type=_positive, default=640, help="pixels, a multiple of 16")
    parser.add_argument("--height", type=_positive, default=480, help="pixels, a multiple of 16")
    return parser


def _positive(text: str) -> int:
    value = int(text)
    if value < 1:
        raise argparse.ArgumentTypeError(f"must be at least 1, got {value}")
    return value


def _seed(text: str) -> int:
    try:
        return check_seed(int(text))
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from error


if __name__ == "__main__":
    sys.exit(main())
