"""A contact sheet of every factor of a scene: its low end, a middle and its high end.

    python -m synthetic.factor_sheet --out FOLDER

Each number of `synthetic.scene` is rendered at three places on a plain scene, side by side with its
name and values (`synthetic.factor_ends` says which values, `synthetic.factor_bases` on what); what
has names in place of numbers gets one picture of each. Pages are PNG, `factors-01.png` and on, and
`factors.csv` has all names with their values in one table. What changes nothing that can be seen is
listed, so that a person knows what the sheet does not show.
"""

from __future__ import annotations

import argparse
import csv
import io
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path as FilePath
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from fittings.words import Construction, Kind
from synthetic.factor_bases import (
    ELBOW,
    MITRED,
    REDUCER,
    TEE,
    WELD,
    Group,
    Path,
    at_path,
    groups,
    near,
    scene_of,
    with_value,
)
from synthetic.factor_ends import SEED, drawn_scenes, factor_names, factors
from synthetic.gallery import rgb_pixels
from synthetic.native import native_stages
from synthetic.render import VISIBLE_CONTRAST, render
from synthetic.sample_marks import MARK_NAMES, mark_named
from synthetic.sample_welds import touched_up
from synthetic.scene import Finish, Scene

CELLS = 3
"""Pictures beside each other."""

ROWS = 10
"""Rows of pictures on a page."""

SEEN_SHARE = 0.005
"""A factor is seen when this share of pixels differs by VISIBLE_CONTRAST or more in any channel."""

PLAIN_SHARE = 0.02
"""From this share on it is plain, and no other base is tried."""

MARKS_TRIED = 20

NOT_SEEN = " (not seen)"
_MARK: Path = ("pieces", 0, "marks", 0)
_SHAPES = ("cylinder or pipe", "box", "cap", "ring", "flange", "cone")
_WAYS = ("plane", "along the body", "round it", "round the ends", "spot")
_NAME_PX, _CAPTION_PX, _GAP_PX = 18, 15, 6


class SheetError(Exception):
    """The sheet can't be made; the message says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A name, and pictures (H, W, 3) uint8 with a caption each. `change` is the largest share of
    pixels that differs between any two of them."""

    name: str
    captions: tuple[str, ...]
    pictures: tuple[NDArray[np.uint8], ...]
    change: float


def change(first: NDArray[np.uint8], second: NDArray[np.uint8]) -> float:
    """Share of the pixels of two (H, W, 3) pictures that differ by VISIBLE_CONTRAST or more in
    any channel."""
    levels = np.abs(first.astype(np.int16) - second).max(axis=-1)
    return float((levels >= VISIBLE_CONTRAST).mean())


def drawn(scene: Scene, width_px: int, height_px: int) -> NDArray[np.uint8]:
    """(H, W, 3) uint8, RGB."""
    return rgb_pixels(render(scene, width_px, height_px, native_stages()))


def factor_row(group: Group, field: str, width_px: int, height_px: int) -> Row:
    """The factor on the first base that shows it plainly; where none does, on the best."""
    best: Row | None = None
    for factor in factors(group, field):
        pictures = tuple(drawn(scene, width_px, height_px) for scene in factor.scenes)
        low, middle, high = pictures
        most = max(change(low, high), change(low, middle), change(middle, high))
        row = Row(name=factor.name, captions=factor.captions, pictures=pictures, change=most)
        if best is None or most > best.change:
            best = row
        if most >= PLAIN_SHARE:
            break
    assert best is not None  # a group has a base
    return best


def named(size: tuple[int, int]) -> dict[str, Callable[[], list[tuple[str, Scene]]]]:
    """What has names in place of numbers, and what makes a scene for each of them. `size` is that
    at which a mark must show."""
    return {
        "kind": lambda: [(p.kind.value, scene_of(p)) for p in (ELBOW, TEE, REDUCER)],
        "construction": _constructions,
        "weld.finish": lambda: [(finish.value, _finished(finish)) for finish in Finish],
        "skin.name": lambda: [
            (name, with_value(scene_of(ELBOW), ("pieces", 0, "skin"), skin))
            for name, skin in _first(
                (p.skin.name, p.skin) for s in drawn_scenes() for p in s.pieces
            )
        ],
        "mark.name": lambda: [_marked(name, size) for name in MARK_NAMES],
        "mark.follow": _follows,
        "ground.name": lambda: [
            (name, replace(scene_of(ELBOW), ground=ground))
            for name, ground in _first((s.ground.name, s.ground) for s in drawn_scenes())
        ],
        "light.name": lambda: [
            (name, _lit(scene)) for name, scene in _first((s.light.name, s) for s in drawn_scenes())
        ],
        "prop.shape": lambda: list(zip(_SHAPES, _group("prop").bases, strict=True)),
    }


def _group(name: str) -> Group:
    (found,) = [group for group in groups() if group.name == name]
    return found


def _constructions() -> list[tuple[str, Scene]]:
    made = {
        Construction.SEAMLESS: ELBOW,
        Construction.WELDED: replace(ELBOW, along_weld=WELD, long_deg=300.0),
        Construction.FABRICATED: MITRED,
    }
    return [(each.value, scene_of(made[each])) for each in Construction]


def _follows() -> list[tuple[str, Scene]]:
    base = _group("mark").bases[0]
    line = replace(at_path(base, _MARK), turn_deg=300.0, offset_mm=20.0)
    return [
        (way, with_value(base, _MARK, replace(line, follow=float(number))))
        for number, way in enumerate(_WAYS)
    ]


def _marked(name: str, size: tuple[int, int]) -> tuple[str, Scene]:
    """Of MARKS_TRIED drawn marks of that name the one that shows best, since most lie behind the
    piece, or the first after them that shows at all; and its name, with NOT_SEEN where none does.
    """
    base = near(_group("skin").bases[0], 0.0, 45.0, 120.0)
    plain = drawn(base, *size)
    most, best = -1.0, base
    for index in range(10 * MARKS_TRIED):
        if index >= MARKS_TRIED and most >= SEEN_SHARE:
            break
        mark = mark_named(np.random.default_rng([SEED, index]), base.pieces[0], name)
        marked = with_value(base, _MARK, mark)
        shows = change(plain, drawn(marked, *size))
        if shows > most:
            most, best = shows, marked
    return name if most >= SEEN_SHARE else name + NOT_SEEN, best


def _finished(finish: Finish) -> Scene:
    """The first drawn weld of that finish, on the skin it was drawn for."""
    base = near(scene_of(MITRED), -22.5, 45.0, 75.0)
    for scene in drawn_scenes():
        for piece in scene.pieces:
            weld = piece.cross_weld
            if finish is Finish.TOUCHED_UP:  # which no scene for training has
                weld = touched_up(np.random.default_rng(SEED), weld, piece.skin)
            if weld.present > 0.5 and weld.finish is finish and piece.kind is not Kind.TEE:
                found = replace(base.pieces[0], cross_weld=weld, skin=piece.skin)
                return replace(base, pieces=(found,))
    raise SheetError(f"No drawn scene has a weld {finish.value}: draw more (factor_ends.DRAWN).")


def _lit(scene: Scene) -> Scene:
    """The plain scene in a drawn scene's light, at the exposure that was drawn with it."""
    base = scene_of(ELBOW)
    effects = replace(base.effects, exposure=scene.effects.exposure)
    return replace(base, light=scene.light, effects=effects)


def _first(pairs: Any) -> list[tuple[str, Any]]:
    """The first of each name, names in order."""
    out: dict[str, Any] = {}
    for name, value in pairs:
        out.setdefault(name, value)
    return sorted(out.items())


def named_rows(name: str, scenes: Sequence[tuple[str, Scene]], size: tuple[int, int]) -> list[Row]:
    """One picture of each name, CELLS to a row."""
    pictures = [drawn(scene, *size) for _, scene in scenes]
    rows = []
    for at in range(0, len(scenes), CELLS):
        captions = tuple(caption for caption, _ in scenes[at : at + CELLS])
        some = tuple(pictures[at : at + CELLS])
        rows.append(Row(name=name, captions=captions, pictures=some, change=1.0))
    return rows


def page(rows: Sequence[Row], size: tuple[int, int]) -> bytes:
    """Up to ROWS rows as a PNG; `size` is width and height of a picture in pixels."""
    width, height = size
    step = _NAME_PX + height + _CAPTION_PX + _GAP_PX
    sheet = Image.new("RGB", (CELLS * (width + _GAP_PX) + _GAP_PX, len(rows) * step), "white")
    draw, font = ImageDraw.Draw(sheet), ImageFont.load_default(12)
    for number, row in enumerate(rows):
        top = number * step
        seen = "" if row.change >= SEEN_SHARE else "  " + NOT_SEEN
        draw.text((_GAP_PX, top + 2), row.name + seen, "black", ImageFont.load_default(14))
        for place, (caption, pixels) in enumerate(zip(row.captions, row.pictures, strict=True)):
            left = _GAP_PX + place * (width + _GAP_PX)
            sheet.paste(Image.fromarray(pixels), (left, top + _NAME_PX))
            draw.text((left, top + _NAME_PX + height), caption, "black", font)
    out = io.BytesIO()
    sheet.save(out, "PNG", compress_level=6)
    return out.getvalue()


def rows_of(only: Sequence[str], size: tuple[int, int]) -> Iterator[Row]:
    """The rows whose name begins with one of `only`; all without any."""

    def wanted(name: str) -> bool:
        return not only or any(name.startswith(each) for each in only)

    for group in groups():
        for field in factor_names(group):
            if wanted(f"{group.name}.{field}"):
                yield factor_row(group, field, *size)
    for name, make in named(size).items():
        if wanted(name):
            yield from named_rows(name, make(), size)


def main(arguments: Sequence[str] | None = None) -> int:
    """The command; 0 when done, 1 when it could not be, 2 for wrong usage."""
    options = _parser().parse_args(arguments)
    size = options.width, options.height
    try:
        options.out.mkdir(parents=True, exist_ok=True)
        if any(options.out.glob("factors-*.png")) and not options.force:
            raise SheetError(f"{options.out} holds a sheet already. Give another, or --force.")
        for old in options.out.glob("factors-*.png"):
            old.unlink()
        waiting: list[Row] = []
        written: list[tuple[str, ...]] = []
        unseen: list[str] = []
        pages = count = 0
        for row in rows_of(options.only, size):
            count += 1
            waiting.append(row)
            written.append((row.name, *row.captions, *[""] * (CELLS - len(row.captions))))
            if row.change < SEEN_SHARE:
                unseen.append(f"{row.name}  ({', '.join(row.captions)})")
            unseen += [f"{row.name}: {each}" for each in row.captions if each.endswith(NOT_SEEN)]
            if len(waiting) == ROWS:
                pages = _write(options.out, pages, waiting, size)
        if waiting:
            pages = _write(options.out, pages, waiting, size)
        _write_table(options.out, written)
        if not count:
            raise SheetError(f"No factor begins with {' or '.join(options.only)}.")
    except (SheetError, ValueError, OSError) as error:
        print(error, file=sys.stderr)
        return 1
    print(f"{count} rows on {pages} pages in {options.out}")
    print(f"{len(unseen)} change nothing that can be seen on these scenes")
    for line in unseen:
        print(f"  {line}")
    return 0


def _write(folder: FilePath, pages: int, waiting: list[Row], size: tuple[int, int]) -> int:
    """Write the next page and empty the list; the number of pages now."""
    (folder / f"factors-{pages + 1:02d}.png").write_bytes(page(waiting, size))
    waiting.clear()
    return pages + 1


def _write_table(folder: FilePath, rows: Sequence[tuple[str, ...]]) -> None:
    """All names with their low end, middle and high end, or with three of their words."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(("factor", "low end", "middle", "high end"))
    writer.writerows(rows)
    (folder / "factors.csv").write_text(text.getvalue(), encoding="utf-8")


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m synthetic.factor_sheet",
        description="Contact sheet of every factor of a scene at its ends.",
    )
    parser.add_argument("--out", type=FilePath, required=True, help="a folder for the pages")
    parser.add_argument(
        "--only", nargs="*", default=[], help="factors that begin so, as skin. or light.sun"
    )
    parser.add_argument("--width", type=int, default=160, help="of a picture, px, by 16s")
    parser.add_argument("--height", type=int, default=128, help="of a picture, px, by 16s")
    parser.add_argument("--force", action="store_true", help="write over an older sheet")
    return parser


if __name__ == "__main__":
    sys.exit(main())
