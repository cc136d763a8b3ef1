"""The shipped network on these pictures: the exam's own counts, and montages of what went wrong."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from fittings.words import ADVISORY, Construction, Kind, Orientation, Reading
from models.weights import WEIGHTS_FOLDER
from synthetic.render import VISIBLE_CONTRAST, VISIBLE_SHARE
from tests.second_renderer.pictures import SeenPiece, Truth, truths
from vision.exam_figures import figures
from vision.exam_groups import is_fabricated
from vision.exam_lines import Count, count
from vision.exam_rows import Answer, Row, TrueSeam, answer
from vision.exam_table import table
from vision.overlay import draw_overlay
from vision.read import Outcome, Reader

NETWORK = "network"
TILE = (384, 288)


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """One picture: its truth, the exam's row, and the picture with what was read drawn on it."""

    truth: Truth
    row: Row
    drawn: NDArray[np.uint8]
    said: str


def exam_row(truth: Truth, answers: Mapping[str, Answer]) -> Row:
    """The exam's form of a truth, so that both are counted alike; "visible" as in the exam."""
    seams = [
        seam
        for piece in truth.pieces
        for seam in true_seams(piece, truth.width_px * truth.height_px)
    ]
    return Row(
        index=truth.index,
        looks=(),
        kinds=tuple(piece.kind for piece in truth.pieces),
        constructions=tuple(piece.construction for piece in truth.pieces),
        shares=tuple(piece.share for piece in truth.pieces),
        props=truth.things,
        seams=tuple(seams),
        answers=answers,
    )


def true_seams(piece: SeenPiece, pixels: int) -> list[TrueSeam]:
    """The piece's seams in view, in the exam's form."""
    cross = {o.value for o in Orientation if o.speaks_of_fabrication}
    return [
        TrueSeam(
            kind=piece.kind,
            orientation=seam.orientation,
            finish=str(piece.finish),
            contrast=seam.contrast,
            share=seam.pixels / pixels,
            visible=seam.pixels >= VISIBLE_SHARE * pixels and seam.contrast >= VISIBLE_CONTRAST,
            fabrication=piece.construction == Construction.FABRICATED.value
            and seam.orientation in cross,
        )
        for seam in piece.seams
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class _AlreadyRead:
    """A reader that gives the outcome it holds, so that no picture is read twice."""

    outcome: Outcome

    def read_bytes(self, data: bytes, name: str) -> Outcome:  # noqa: ARG002
        return self.outcome


def read_all(folder: Path, weights: Path = WEIGHTS_FOLDER) -> list[Read]:
    """Every picture of the folder's truth.jsonl, read by the shipped network or another."""
    reader = Reader.load(folder=weights)
    found = []
    for truth in truths(folder / "truth.jsonl"):
        data = (folder / truth.name).read_bytes()
        labels = np.asarray(Image.open(folder / "seams" / truth.name), np.uint8)
        outcome = reader.read_bytes(data, truth.name)
        said = answer(_AlreadyRead(outcome=outcome), data, truth.name, labels)
        drawn = np.asarray(Image.open(folder / truth.name).convert("RGB"), np.uint8)
        if outcome.reading is not None:
            drawn = draw_overlay(drawn, outcome.reading, legend=False)
        found.append(
            Read(
                truth=truth,
                row=exam_row(truth, {NETWORK: said}),
                drawn=drawn,
                said=f"{said.kind} {said.fabricated_probability:.2f} {said.reading}",
            )
        )
    return found


def report(folder: Path, sheets: Path | None, weights: Path = WEIGHTS_FOLDER) -> int:
    """The command behind `--read`: the tables on stdout, montages of the errors in `sheets`."""
    if not (folder / "truth.jsonl").exists():
        print(
            f"{folder} has no truth.jsonl: render pictures into it with --out first",
            file=sys.stderr,
        )
        return 1
    try:
        reads = read_all(folder, weights)
    except FileNotFoundError as error:
        print(f"{error.filename} is missing: render it again with --out {folder}", file=sys.stderr)
        return 1
    print(f"{len(reads)} pictures of the second renderer. {ADVISORY}")
    print(table([read.row for read in reads], [NETWORK]))
    print("\n".join(own_groups(reads)))
    if sheets is not None:
        sheets.mkdir(parents=True, exist_ok=True)
        for name, chosen in errors(reads).items():
            for page, start in enumerate(range(0, len(chosen), 12)):
                path = sheets / f"{name}-{page}.png"
                cv2.imwrite(str(path), montage(chosen[start : start + 12])[..., ::-1])
    return 0


def errors(reads: Sequence[Read]) -> dict[str, list[Read]]:
    """False alarms and misses at 5 % false alarm, and pictures whose kind was read wrong."""
    limit = figures([read.row for read in reads], NETWORK).threshold

    def above(read: Read) -> bool:
        return read.row.answers[NETWORK].fabricated_probability > limit

    def held(read: Read) -> bool:
        return read.row.answers[NETWORK].reading == Reading.FABRICATION_SEAM.value

    return {
        "false-alarms": [
            r for r in reads if is_fabricated(r.row) is False and (above(r) or held(r))
        ],
        "misses": [r for r in reads if is_fabricated(r.row) and not above(r)],
        "found": [r for r in reads if is_fabricated(r.row) and above(r)],
        "kind": [r for r in reads if kind_right(r) is False],
    }


def kind_right(read: Read) -> bool | None:
    """Whether the kind is right, None of a picture with several pieces or a tiny one."""
    row = read.row
    if len(row.kinds) > 1 or (row.kinds and row.shares[0] < 0.02):
        return None
    return row.answers[NETWORK].kind == (row.kinds[0] if row.kinds else Kind.NONE.value)


def own_groups(reads: Sequence[Read]) -> list[str]:
    """Lines beyond the exam's table: holds by make and skin, kinds confused."""
    lines = ["", "READ AS A FABRICATION, AS SHIPPED (one piece in view)"]
    single = [read for read in reads if len(read.row.kinds) == 1]
    for title, value in (
        ("construction", lambda r: r.truth.pieces[0].construction),
        ("skin, not fabricated", lambda r: r.truth.pieces[0].skin),
        ("joined to a pipe, not fabricated", lambda r: str(r.truth.pieces[0].joined)),
    ):
        chosen = (
            single
            if title == "construction"
            else [r for r in single if is_fabricated(r.row) is False]
        )
        for name in sorted({value(read) for read in chosen}):
            group = [read for read in chosen if value(read) == name]
            lines.append(f"  {title}: {name:<14} {_text(_held(group))}")
    lines += ["", "KIND: TRUE, READ, COUNT"]
    pairs = Counter(
        ((r.row.kinds or (Kind.NONE.value,))[0], r.row.answers[NETWORK].kind)
        for r in reads
        if kind_right(r) is not None
    )
    lines += [f"  {true:<8} {said:<8} {number}" for (true, said), number in sorted(pairs.items())]
    return lines


def _held(reads: Sequence[Read]) -> Count:
    return count(r.row.answers[NETWORK].reading == Reading.FABRICATION_SEAM.value for r in reads)


def _text(number: Count) -> str:
    low, high = number.interval
    return f"{number.found}/{number.of} [{100 * low:.0f}, {100 * high:.0f}]"


def montage(reads: Sequence[Read], columns: int = 3) -> NDArray[np.uint8]:
    """(H, W, 3) the pictures with what was read on them, truth and reading under each."""
    tiles = []
    for read in reads:
        tile = np.full((TILE[1] + 44, TILE[0], 3), 255, np.uint8)
        tile[: TILE[1]] = cv2.resize(read.drawn, TILE, interpolation=cv2.INTER_AREA)
        true = "; ".join(
            f"{p.construction} {p.text} {p.skin} {p.finish} "
            + " ".join(f"{s.orientation[0]}{s.pixels}/{s.contrast:.0f}" for s in p.seams)
            for p in read.truth.pieces
        )
        for row, text in enumerate((f"{read.truth.index}: {true or 'no fitting'}", read.said)):
            place = (4, TILE[1] + 16 + 20 * row)
            cv2.putText(
                tile, text, place, cv2.FONT_HERSHEY_SIMPLEX, 0.33, (0, 0, 0), 1, cv2.LINE_AA
            )
        tiles.append(tile)
    while len(tiles) % columns:
        tiles.append(np.full_like(tiles[0], 255))
    rows = [np.hstack(tiles[i : i + columns]) for i in range(0, len(tiles), columns)]
    return np.vstack(rows)
