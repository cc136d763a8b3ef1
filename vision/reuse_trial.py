"""How well reused photos are found: `python -m vision.reuse_trial --count 2000`.

Renders pictures by exam seed, looks for the same picture among all of them (every match is a false
one), then alters some as a person would who submits one again, and looks for each altered copy. Two
hard cases are counted apart, and no match is right in either: the same piece from another side,
and another piece in the same place before the same camera.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from synthetic.draws import nine, triple
from synthetic.native import native_stages
from synthetic.render import render
from synthetic.sample import PIECE_KINDS, sample_scene
from synthetic.scene import Scene
from vision.metrics import wilson_interval
from vision.photo import open_photo
from vision.reuse import matches, signature

SEED = 700_003
WIDTH_PX, HEIGHT_PX = 480, 352

Pixels = NDArray[np.uint8]
Rng = np.random.Generator


def cropped(pixels: Pixels, rng: Rng, share: float) -> Pixels:
    """`share` of each side, anywhere."""
    height, width = (round(share * side) for side in pixels.shape[:2])
    top = int(rng.integers(pixels.shape[0] - height + 1))
    left = int(rng.integers(pixels.shape[1] - width + 1))
    return pixels[top : top + height, left : left + width]


def resized(pixels: Pixels, rng: Rng) -> Pixels:
    """To 0.5 to 1.5 times its sides."""
    factor = float(np.exp(rng.uniform(np.log(0.5), np.log(1.5))))
    how = cv2.INTER_AREA if factor < 1 else cv2.INTER_CUBIC
    return np.asarray(cv2.resize(pixels, None, fx=factor, fy=factor, interpolation=how), np.uint8)


def brightened(pixels: Pixels, rng: Rng) -> Pixels:
    """Other brightness, contrast and gamma, with what is lost at both ends."""
    values = (pixels / 255.0) ** float(np.exp(rng.uniform(-0.5, 0.5)))
    values = (values - 0.5) * float(rng.uniform(0.6, 1.5)) + 0.5 + float(rng.uniform(-0.15, 0.15))
    return np.rint(255.0 * np.clip(values, 0.0, 1.0)).astype(np.uint8)


def turned(pixels: Pixels, rng: Rng) -> Pixels:
    """Straightened by up to 5°, cut to what is left without corners."""
    height, width = pixels.shape[:2]
    angle_deg = float(rng.uniform(-5.0, 5.0))
    slope = np.sin(abs(np.radians(angle_deg)))
    zoom = 1.0 + slope * max(width / height, height / width)
    matrix = cv2.getRotationMatrix2D(((width - 1) / 2, (height - 1) / 2), angle_deg, zoom)
    return np.asarray(cv2.warpAffine(pixels, matrix, (width, height)), np.uint8)


def mirrored(pixels: Pixels, rng: Rng) -> Pixels:  # noqa: ARG001
    """Left and right changed."""
    return np.ascontiguousarray(pixels[:, ::-1])


def recompressed(pixels: Pixels, rng: Rng) -> Pixels:
    """Through a JPEG of quality 30 to 80."""
    quality = int(rng.integers(30, 81))
    _, data = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, quality])
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), np.uint8)


def everything(pixels: Pixels, rng: Rng) -> Pixels:
    """Cropped to 60 to 100 %, perhaps mirrored, brightened, resized and recompressed."""
    pixels = cropped(pixels, rng, float(rng.uniform(0.6, 1.0)))
    if rng.random() < 0.5:
        pixels = mirrored(pixels, rng)
    return recompressed(resized(brightened(pixels, rng), rng), rng)


ALTERATIONS: dict[str, Callable[[Pixels, Rng], Pixels]] = {
    "recompressed, quality 30 to 80": recompressed,
    "resized, 0.5 to 1.5": resized,
    "mirrored": mirrored,
    "brightness, contrast, gamma": brightened,
    "cropped to 80 % of its sides": lambda pixels, rng: cropped(pixels, rng, 0.8),
    "cropped to 60 % of its sides": lambda pixels, rng: cropped(pixels, rng, 0.6),
    "turned by up to 5°": turned,
    "all but turned": everything,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Altered copies of one sort: how many were made, found, and matched to a wrong picture."""

    name: str
    made: int
    found: int
    wrong: int

    @property
    def line(self) -> str:
        """One line of the table."""
        low, high = wilson_interval(self.found, self.made)
        share = 100 * self.found / self.made
        return (
            f"{self.name:<34}{self.found:>6} of {self.made:<6}{share:6.1f} % "
            f"[{100 * low:.1f}, {100 * high:.1f}]   wrong {self.wrong}"
        )


def scene_of(index: int, seed: int = SEED) -> Scene:
    """Scene `index` of the trial, of any kind and number of pieces, none included."""
    return sample_scene(np.random.default_rng([seed, index]))


def picture_of(scene: Scene, width_px: int = WIDTH_PX, height_px: int = HEIGHT_PX) -> Pixels:
    """(height, width, 3) uint8, BGR."""
    picture = render(scene, width_px, height_px, native_stages())
    rgb = np.rint(np.clip(picture.rgb[0], 0.0, 1.0).transpose(1, 2, 0) * 255.0).astype(np.uint8)
    return np.ascontiguousarray(rgb[..., ::-1])


def kept_picture(index: int, folder: Path | None) -> Pixels:
    """Picture `index`, from `folder` where it was kept there; rendered (and kept) otherwise."""
    path = None if folder is None else folder / f"{index:05d}.jpg"
    if path is not None and path.exists():
        return np.asarray(cv2.imread(str(path), cv2.IMREAD_COLOR), np.uint8)
    pixels = picture_of(scene_of(index))
    _, data = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, 90])
    if path is not None:
        path.write_bytes(data.tobytes())
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), np.uint8)


def signed(pixels: Pixels) -> bytes:
    """The signature, by the door that a photo takes."""
    _, data = cv2.imencode(".png", pixels, [cv2.IMWRITE_PNG_COMPRESSION, 1])
    return signature(open_photo(data.tobytes(), "picture.png"))


def other_views(index: int, seed: int = SEED) -> tuple[Pixels, Pixels]:
    """A piece as drawn, and turned by 25 to 70° about the vertical before the same camera: what a
    step to the side shows of it."""
    rng = np.random.default_rng([seed, 1, index])
    scene = sample_scene(np.random.default_rng([seed, 2, index]), (PIECE_KINDS[index % 3],))
    away_rad = np.radians(rng.uniform(25, 70)) * rng.choice([-1, 1])
    c, s = np.cos(away_rad), np.sin(away_rad)
    turn = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    camera = scene.camera
    middle = np.array([scene.pieces[0].position_mm[0], scene.pieces[0].position_mm[1], 0.0])
    position = turn @ (np.asarray(camera.position_mm) - middle) + middle
    rotation = np.reshape(camera.rotation, (3, 3)) @ turn.T
    moved = replace(
        camera,
        position_mm=triple(position),
        rotation=nine(rotation),
    )
    return picture_of(scene), picture_of(replace(scene, camera=moved, noise_seed=1.0))


def other_piece(index: int, seed: int = SEED) -> tuple[Pixels, Pixels]:
    """Two pieces drawn apart, one after the other in the same place before the same camera."""
    kind = PIECE_KINDS[index % 3]
    scene = sample_scene(np.random.default_rng([seed, 3, index]), (kind,))
    other = sample_scene(np.random.default_rng([seed, 4, index]), (kind,)).pieces[0]
    # As large as the first one, so that it is in view as much.
    first = scene.pieces[0]
    put = replace(first, rotation=other.rotation, skin=other.skin, cross_weld=other.cross_weld)
    return picture_of(scene), picture_of(replace(scene, pieces=(put,), noise_seed=1.0))


def altered_copies(
    pictures: Sequence[Pixels], originals: Sequence[bytes], count: int, seed: int = SEED
) -> Iterator[Found]:
    """Each alteration in turn, on `count` pictures spread over all of them, sought among all."""
    places = np.unique(np.linspace(0, len(pictures) - 1, count).astype(int))
    for number, (name, alter) in enumerate(ALTERATIONS.items()):
        copies = [
            signed(alter(pictures[place], np.random.default_rng([seed, 5, number, place])))
            for place in places
        ]
        found, wrong = set(), 0
        for match in matches([*originals, *copies], new_from=len(originals)):
            if match.second < len(originals):
                continue
            place = int(places[match.second - len(originals)])
            if match.first == place:
                found.add(place)
            else:
                wrong += 1
        yield Found(name=name, made=len(places), found=len(found), wrong=wrong)


def main(arguments: Sequence[str] | None = None) -> int:
    """The command; 0 when done."""
    parser = argparse.ArgumentParser(prog="python -m vision.reuse_trial", description=__doc__)
    parser.add_argument("--count", type=int, default=2000, help="pictures (default 2000)")
    parser.add_argument("--altered", type=int, default=300, help="copies of each sort")
    parser.add_argument("--hard", type=int, default=60, help="pairs of each hard case")
    parser.add_argument("--keep", type=Path, help="keep the rendered pictures in this folder")
    options = parser.parse_args(arguments)
    if options.keep is not None:
        options.keep.mkdir(parents=True, exist_ok=True)
    pictures = [kept_picture(index, options.keep) for index in range(options.count)]
    began_s = time.perf_counter()
    originals = [signed(picture) for picture in pictures]
    signed_s = time.perf_counter()
    false = matches(originals)
    done_s = time.perf_counter()
    size = float(np.mean([len(each) for each in originals]))
    print(
        f"{len(pictures)} pictures of {WIDTH_PX} × {HEIGHT_PX}: signatures of "
        f"{size / 1e3:.0f} kB in {1e3 * (signed_s - began_s) / len(pictures):.0f} ms each, "
        f"all compared in {done_s - signed_s:.0f} s"
    )
    print(f"False matches among them: {len(false)}")
    for match in false:
        print(f"  {match.first} and {match.second}: {match.sentence}")
    for result in altered_copies(pictures, originals, min(options.altered, len(pictures))):
        print(result.line, flush=True)
    for name, pair in (
        ("Same piece, other view", other_views),
        ("Other piece, same place", other_piece),
    ):
        pairs = [pair(index) for index in range(options.hard)]
        hits = [i for i, (a, b) in enumerate(pairs) if matches([signed(a), signed(b)])]
        print(f"{name}: {len(hits)} of {options.hard} taken for the same picture {hits or ''}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
