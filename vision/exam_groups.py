"""The groups in which the exam's recall and false alarms are told: by seam, by piece, by picture.

Recall goes by the largest visible fabrication seam as well (its finish, size and contrast); false
alarms by the looks kept back from training as well. What is said of the picture (surface,
distractor, size of the piece, blur) both go by. A picture with two surfaces or two distractors
stands in both of their groups; one of which nothing is recorded stands in none.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fittings.words import Construction, Kind
from synthetic.scene import Finish
from vision.exam_lines import Count, count
from vision.exam_rows import Row, TrueSeam

SIZE_STEPS_PERCENT = (0.27, 0.5, 1.0, 2.0, 100.0)
CONTRAST_STEPS = (4.0, 8.0, 16.0, 32.0, 256.0)
PIECE_STEPS_PERCENT = (0.0, 5.0, 15.0, 30.0, 100.0)
BLUR_STEPS_PX = (0.0, 0.5, 0.8, 1.2, 2.0, 10.0)

SURFACE, DISTRACTOR = "surface", "distractor"
PIECE_SIZE = "size of the largest piece, % of frame"
BLUR = "blur's spread, px of 512"

Says = Callable[[Row], bool]
"""Whether a reader says "fabrication" of a row, at some threshold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """How many pictures of one group are found, at 5 % false alarm and as shipped."""

    title: str
    name: str
    at_five: Count
    shipped: Count


def fabrication_seams(row: Row) -> tuple[TrueSeam, ...]:
    """Its visible cross welds of fabricated pieces, the largest first."""
    found = [seam for seam in row.seams if seam.visible and seam.fabrication]
    return tuple(sorted(found, key=lambda seam: -seam.share))


def is_fabricated(row: Row) -> bool | None:
    """True with such a seam, False without any fabricated piece in view, None in between."""
    if fabrication_seams(row):
        return True
    return None if Construction.FABRICATED.value in row.constructions else False


def labels_of(row: Row) -> tuple[tuple[str, str], ...]:
    """The groups that a fabricated picture falls in by its largest visible fabrication seam."""
    seam = fabrication_seams(row)[0]
    return (
        ("finish", seam.finish),
        ("size, % of frame", _step(100 * seam.share, SIZE_STEPS_PERCENT)),
        ("contrast, levels", _step(seam.contrast, CONTRAST_STEPS)),
        ("kind", seam.kind),
        ("pieces in view", "one piece" if len(row.kinds) == 1 else "several pieces"),
    )


def picture_labels(row: Row) -> tuple[tuple[str, str], ...]:
    """The groups that any picture falls in by what else is recorded of it."""
    labels = [(SURFACE, name) for name in row.surfaces]
    if row.blur_px is not None:
        labels += [(DISTRACTOR, name) for name in row.distractors or ("none of these",)]
        labels.append((BLUR, _step(row.blur_px, BLUR_STEPS_PX)))
    if row.shares:
        labels.append((PIECE_SIZE, _step(100 * max(row.shares), PIECE_STEPS_PERCENT)))
    return tuple(labels)


def groups(positives: Sequence[Row], above: Says, called: Says) -> tuple[Group, ...]:
    """Recall in each group; those by seam also where they are empty."""
    by_seam = [
        *(("finish", finish.value) for finish in Finish),
        *(("size, % of frame", _between(*step)) for step in pairwise(SIZE_STEPS_PERCENT)),
        *(("contrast, levels", _between(*step)) for step in pairwise(CONTRAST_STEPS)),
        *(("kind", kind.value) for kind in Kind if kind is not Kind.NONE),
        ("pieces in view", "one piece"),
        ("pieces in view", "several pieces"),
    ]
    out = [
        _group(label, [row for row in positives if label in labels_of(row)], above, called)
        for label in by_seam
    ]
    return (*out, *_by_picture(positives, above, called))


def alarm_groups(negatives: Sequence[Row], above: Says, called: Says) -> tuple[Group, ...]:
    """False alarms by what is in view, by the picture, and by each look kept back from training."""
    in_view = {"no fitting": 0, "one piece": 1, "several pieces": 2}
    out = [
        _group(
            ("pieces in view", name),
            [row for row in negatives if min(len(row.kinds), 2) == number],
            above,
            called,
        )
        for name, number in in_view.items()
    ]
    out += _by_picture(negatives, above, called)
    for look in sorted({look for row in negatives for look in row.looks}):
        rows = [row for row in negatives if look in row.looks]
        out.append(_group(("look kept back from training", look), rows, above, called))
    return tuple(out)


def _by_picture(rows: Sequence[Row], above: Says, called: Says) -> list[Group]:
    """The groups by picture that hold any row: named ones by name, steps in their order."""
    fixed = [
        *((PIECE_SIZE, _between(*step)) for step in pairwise(PIECE_STEPS_PERCENT)),
        *((BLUR, _between(*step)) for step in pairwise(BLUR_STEPS_PX)),
    ]
    held = [(row, picture_labels(row)) for row in rows]
    there = {label for _, labels in held for label in labels}
    named = [sorted(x for x in there if x[0] == title) for title in (SURFACE, DISTRACTOR)]
    ordered = [*named[0], *named[1], *(label for label in fixed if label in there)]
    return [
        _group(label, [row for row, labels in held if label in labels], above, called)
        for label in ordered
    ]


def _group(label: tuple[str, str], rows: Sequence[Row], above: Says, called: Says) -> Group:
    at_five, shipped = count(map(above, rows)), count(map(called, rows))
    return Group(title=label[0], name=label[1], at_five=at_five, shipped=shipped)


def _step(value: float, steps: Sequence[float]) -> str:
    place = int(np.clip(np.searchsorted(steps, value, side="right") - 1, 0, len(steps) - 2))
    return _between(steps[place], steps[place + 1])


def _between(low: float, high: float) -> str:
    return f"{low:g} to {high:g}"
