"""Pictures and their exact truth as files, by seed, or from a saved scene.

Per picture: `NNNN.png` (what JPEG does is in the pixels already), `NNNN.seams.png`
(8-bit labels: 0 none, 1 longitudinal, 2 circumferential, 3 branch), `NNNN.truth.npz` (all of
`synthetic.render.Truth`, each (H, W)), and `NNNN.scene.json`, from which the picture can be made
again. `manifest.jsonl` has one line of facts per picture. Nothing is written over unless asked for.
"""

from __future__ import annotations

import io
import json
import uuid
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from synthetic.held_out import tags
from synthetic.native import native_stages
from synthetic.render import (
    VISIBLE_CONTRAST,
    VISIBLE_SHARE,
    Picture,
    Stages,
    render,
    seam_orientation,
)
from synthetic.sample import sample_scene
from synthetic.scene import GENERATOR_VERSION, Scene, scene_from_json

MANIFEST = "manifest.jsonl"
_ENDINGS = (".png", ".seams.png", ".truth.npz", ".scene.json")
_LABELS = ("part", "seam", "slot", "piece")
_FRACTIONS = ("along", "around_cos", "around_sin")

Progress = Callable[[int, str], None]


def seam_facts(scene: Scene, picture: Picture, number: int = 0) -> list[dict[str, Any]]:
    """What each seam of the scene is and how well picture `number` of the batch shows it.

    A seam is visible when it makes at least VISIBLE_CONTRAST to its own pixels and these cover at
    least VISIBLE_SHARE of the frame. Seams are numbered as in `Truth.slot`, pieces from 1.
    """
    height, width = picture.truth.part.shape[-2:]
    facts = []
    for index, piece in enumerate(scene.pieces):
        for slot, weld in ((2 * index + 1, piece.along_weld), (2 * index + 2, piece.cross_weld)):
            if weld.present < 0.5:
                continue
            pixels = int(picture.pixels[number, slot - 1])
            contrast = float(picture.contrast[number, slot - 1])
            seen = contrast >= VISIBLE_CONTRAST and pixels >= VISIBLE_SHARE * width * height
            facts.append(
                {
                    "piece": index + 1,
                    "slot": slot,
                    "orientation": seam_orientation(piece.kind, slot).value,
                    "finish": weld.finish.value,
                    "contrast": round(contrast, 3),
                    "pixels": pixels,
                    "visible": seen,
                }
            )
    return facts


def picture_facts(scene: Scene, picture: Picture) -> dict[str, Any]:
    """One manifest line but for where the picture came from."""
    height, width = picture.truth.part.shape[-2:]
    return {
        "version": GENERATOR_VERSION,
        "width": width,
        "height": height,
        "kinds": [piece.kind.value for piece in scene.pieces],
        "constructions": [piece.construction.value for piece in scene.pieces],
        "labels": [piece.label for piece in scene.pieces],
        "pixels": [int((picture.truth.piece == i + 1).sum()) for i in range(len(scene.pieces))],
        "seams": seam_facts(scene, picture),
        **{factor: list(names) for factor, names in tags(scene).items()},
    }


def rgb_pixels(picture: Picture, number: int = 0) -> np.ndarray:
    """(H, W, 3) uint8, RGB, of picture `number` of the batch."""
    return np.rint(picture.rgb[number].transpose(1, 2, 0) * 255.0).astype(np.uint8)


def write_gallery(
    seed: int,
    count: int,
    out: Path,
    width: int,
    height: int,
    progress: Progress | None = None,
    *,
    held_out: bool = False,
    force: bool = False,
) -> None:
    """Write pictures 0 to `count` - 1 of `seed` to the folder `out`.

    Picture i is the scene drawn from `default_rng([seed, i])`, so that more pictures or another
    order change none. FileExistsError before anything is rendered where a file is in the way,
    ValueError for a size that can't be rendered.
    """
    stems = [f"{index:04d}" for index in range(count)]
    _prepare(out, stems, force=force)
    stages = native_stages()
    for index, stem in enumerate(stems):
        if progress is not None:
            progress(index, stem)
        scene = sample_scene(np.random.default_rng([seed, index]), held_out=held_out)
        origin = {"seed": seed, "index": index}
        _write(out, stem, scene, width, height, stages, origin)
    if progress is not None:
        progress(count, "")


def render_scene_file(
    path: Path,
    out: Path,
    width: int | None = None,
    height: int | None = None,
    *,
    force: bool = False,
) -> None:
    """Render a saved `.scene.json` again, at its own size unless another is given.

    ValueError naming the file where it is no scene or one of another generator version;
    FileExistsError as in `write_gallery`.
    """
    try:
        saved = json.loads(path.read_text(encoding="utf-8"))
        scene = scene_from_json(saved["scene"])
        size = width or int(saved["width"]), height or int(saved["height"])
        origin = {"seed": saved.get("seed"), "index": saved.get("index")}
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"{path} is no scene that can be rendered: {error}") from error
    stem = path.name.removesuffix(".json").removesuffix(".scene")
    _prepare(out, [stem], force=force)
    _write(out, stem, scene, *size, native_stages(), origin)


def _prepare(out: Path, stems: list[str], *, force: bool) -> None:
    """Make the folder; FileExistsError where one of the files to come is there."""
    wanted = [out / MANIFEST, *(out / (stem + end) for stem in stems for end in _ENDINGS)]
    for path in wanted:
        if path.exists() and not force:
            raise FileExistsError(
                f"{path} exists already. Choose another folder, or give --force to write over it."
            )
    out.mkdir(parents=True, exist_ok=True)
    (out / MANIFEST).unlink(missing_ok=True)


def _write(
    out: Path,
    stem: str,
    scene: Scene,
    width: int,
    height: int,
    stages: Stages | None,
    origin: dict[str, Any],
) -> None:
    picture = render(scene, width, height, stages)
    truth: dict[str, np.ndarray] = {
        **{name: getattr(picture.truth, name)[0].astype(np.uint8) for name in _LABELS},
        **{name: getattr(picture.truth, name)[0].astype(np.float16) for name in _FRACTIONS},
        "depth_mm": picture.truth.depth_mm[0].astype(np.float32),
    }
    packed = io.BytesIO()
    np.savez_compressed(packed, **truth)  # type: ignore[arg-type]
    saved = {**origin, "width": width, "height": height, "scene": scene.as_json()}
    facts = {
        "file": f"{stem}.png",
        **origin,
        "renderer": "numpy" if stages is None else "native",
        **picture_facts(scene, picture),
    }
    _replace(out / f"{stem}.png", _png(rgb_pixels(picture)))
    _replace(out / f"{stem}.seams.png", _png(truth["seam"]))
    _replace(out / f"{stem}.truth.npz", packed.getvalue())
    _replace(out / f"{stem}.scene.json", (json.dumps(saved, indent=1) + "\n").encode())
    with (out / MANIFEST).open("a", encoding="utf-8") as lines:
        lines.write(json.dumps(facts, ensure_ascii=False) + "\n")


def _png(pixels: np.ndarray) -> bytes:
    data = io.BytesIO()
    Image.fromarray(pixels).save(data, "PNG", compress_level=4)
    return data.getvalue()


def _replace(path: Path, data: bytes) -> None:
    """Whole file or none: written beside its place under a name of its own, then moved there."""
    part = path.with_name(f".{uuid.uuid4().hex}.part")
    try:
        part.write_bytes(data)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
