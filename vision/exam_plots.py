"""What the pictures of an exam's results share: their look, and the command that draws one.

matplotlib is drawn without pyplot, so that no window and no state outlives the picture.
"""

from __future__ import annotations

import argparse
import io
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import matplotlib
from matplotlib.figure import Figure

from fittings.words import ADVISORY, OKABE_ITO
from vision.contrast_bins import read_rows
from vision.exam import ExamError
from vision.exam_rows import Row

STYLE: Any = {
    "font.family": "DejaVu Sans",
    "font.size": 9,
    "axes.spines.right": False,
    "axes.spines.top": False,
}

# One colour, marker and line pattern a reader, in the order of the plan.
LOOKS = (("blue", "o", "solid"), ("vermillion", "s", "dashed"), ("bluish green", "^", "dotted"))

Drawn = tuple[Figure, str]
"""A figure and the same numbers as a table."""


def rgb(colour: str) -> tuple[float, ...]:
    """A colour of the palette, 0 to 1."""
    return tuple(part / 255 for part in OKABE_ITO[colour])


def called(name: str, model: str) -> str:
    """A reader by its name and version, since a picture stands without the plan that tells them:
    `model` is the version and the hash."""
    version = model.partition(" ")[0]
    return f"{name}, version {version}" if version[:1].isdigit() else name


def main_of(
    module: str,
    description: str,
    draw: Callable[[list[Row], list[str]], Drawn],
    arguments: Sequence[str] | None,
) -> int:
    """The command of a module that draws an exam's rows: writes the picture, prints the table.

    0 when done, 1 when it could not be, 2 for wrong usage.
    """
    parser = argparse.ArgumentParser(
        prog=f"python -m {module}", description=f"{description} {ADVISORY}"
    )
    parser.add_argument("--rows", type=Path, required=True, help="what vision.exam --json kept")
    parser.add_argument("--out", type=Path, required=True, help="the picture, PNG")
    parser.add_argument("--force", action="store_true", help="write over an existing picture")
    options = parser.parse_args(arguments)
    try:
        if options.out.exists() and not options.force:
            raise ExamError(f"{options.out} exists already. Give another name, or --force.")
        plan, rows = read_rows(options.rows)
        names = {name: called(name, model) for name, model in plan.models.items()}
        rows = [
            replace(row, answers={names[name]: each for name, each in row.answers.items()})
            for row in rows
        ]
        with matplotlib.rc_context(STYLE):
            figure, table = draw(rows, list(names.values()))
            data = io.BytesIO()
            figure.savefig(data, format="png", dpi=130)
        options.out.write_bytes(data.getvalue())
    except (ExamError, OSError) as error:
        print(error, file=sys.stderr)
        return 1
    print(table)
    return 0
