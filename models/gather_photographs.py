"""Pictures of other things, drawn from any folders into one that training can take along.

    python -m models.gather_photographs /usr/share/backgrounds /usr/share/doc --out runs/photographs

Takes what is large enough and not flat, up to `--most` of each folder, makes it small, and adds
collages of what was taken. Look through the result before training: none may show a butt-welding
fitting, and none of it ships.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PIL import Image, UnidentifiedImageError

from models.photographs import NoPhotographs, list_photographs
from synthetic.draws import Rng

LEAST_SIDE_PX = 250
LONG_SIDE_PX = 512
"""As large as the network looks: a part of a picture is enlarged at most threefold."""

LEAST_SPREAD = 40
"""Levels between a picture's darkest and brightest pixel; a flatter one shows nothing."""

QUALITY = 75
COLLAGE_SIZE = (512, 384)


def shrunk(path: Path) -> Image.Image | None:
    """The picture in RGBA, its long side at most `LONG_SIDE_PX`; None if it is small or flat.

    NoPhotographs names a file that cannot be opened.
    """
    try:
        with Image.open(path) as picture:
            if min(picture.size) < LEAST_SIDE_PX:
                return None
            small = picture.convert("RGBA")
    except (OSError, ValueError, UnidentifiedImageError, Image.DecompressionBombError) as error:
        raise NoPhotographs(f"{path}: cannot be opened ({error})") from error
    small.thumbnail((LONG_SIDE_PX, LONG_SIDE_PX), Image.Resampling.LANCZOS)
    return small if np.ptp(np.asarray(small.convert("L"))) >= LEAST_SPREAD else None


def on_a_colour(rng: Rng, picture: Image.Image) -> Image.Image:
    """The picture in RGB, a drawn colour behind what is transparent."""
    red, green, blue = (int(v) for v in rng.integers(0, 256, 3))
    behind = Image.new("RGBA", picture.size, (red, green, blue, 255))
    behind.alpha_composite(picture)
    return behind.convert("RGB")


def collage(rng: Rng, pictures: Sequence[Image.Image]) -> Image.Image:
    """Two to seven of the RGBA pictures, turned or not, over another one."""
    chosen = [pictures[int(i)] for i in rng.integers(len(pictures), size=int(rng.integers(3, 9)))]
    canvas = on_a_colour(rng, chosen[0].resize(COLLAGE_SIZE))
    for picture in chosen[1:]:
        scale = rng.uniform(0.15, 0.6) * max(COLLAGE_SIZE) / max(picture.size)
        width, height = (max(8, int(side * scale)) for side in picture.size)
        piece = picture.resize((width, height))
        if rng.random() < 0.5:
            piece = piece.rotate(float(rng.uniform(0.0, 360.0)), expand=True)
        corner = (int(rng.integers(-60, 450)), int(rng.integers(-60, 340)))
        canvas.paste(piece, corner, piece)
    return canvas


def gather(rng: Rng, sources: Sequence[Path], out: Path, most: int, collages: int) -> list[str]:
    """Fill the folder `out`; a line for each source, and for each file that was left out.

    NoPhotographs when a source, or all together, hold no picture that can be taken.
    """
    told: list[str] = []
    pictures: list[Image.Image] = []
    out.mkdir(parents=True, exist_ok=True)
    for number, source in enumerate(sources):
        files, taken = list_photographs(source), 0
        for place in rng.permutation(len(files)):
            if taken == most:
                break
            try:
                picture = shrunk(files[int(place)])
            except NoPhotographs as error:
                told.append(f"left out: {error}")
                continue
            if picture is not None:
                name = f"{number:02d}-{source.name}-{taken:04d}.jpg"
                on_a_colour(rng, picture).save(out / name, quality=QUALITY)
                pictures.append(picture)
                taken += 1
        told.append(f"{source}: {taken} of {len(files)}")
    if not pictures:
        raise NoPhotographs(
            f"nothing of {LEAST_SIDE_PX} pixels or more in {', '.join(map(str, sources))}"
        )
    for number in range(collages):
        collage(rng, pictures).save(out / f"collage-{number:04d}.jpg", quality=QUALITY)
    return told


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(
        prog="python -m models.gather_photographs",
        description="Draw pictures of other things into a folder for training's --photographs.",
    )
    parser.add_argument("sources", nargs="+", type=Path, metavar="FOLDER")
    parser.add_argument("--out", type=Path, default=Path("runs/photographs"))
    parser.add_argument("--most", type=int, default=150, help="of each folder (default 150)")
    parser.add_argument("--collages", type=int, default=160, help="beside them (default 160)")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(arguments)
    if options.most < 1 or options.collages < 0:
        parser.error("--most is 1 or more, --collages 0 or more")
    if options.out.exists() and any(options.out.iterdir()):
        parser.error(f"{options.out} is not empty; name another folder with --out, or empty it")
    rng = np.random.default_rng(options.seed)
    try:
        told = gather(rng, options.sources, options.out, options.most, options.collages)
    except NoPhotographs as error:
        print(f"models.gather_photographs: {error}", file=sys.stderr)
        return 1
    print("\n".join(told))
    print(f"{options.out}: look through it; none may show a butt-welding fitting, none ships.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
