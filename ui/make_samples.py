"""Render the sample pictures in `ui/samples/` again: `python -m ui.make_samples`.

Twelve pictures of an invented delivery: the scenes are drawn by the generator from a seed of their
own, and these numbers were picked by eye, before any was read, so that every kind, make and finish
occurs, on various surfaces: mitred elbows, brushed and as welded; outlets ground flush and painted
over; a reducer of rings; formed pieces with and without a seam along them. One is out of focus, two
look into the bore, and one is of a flange, which is no fitting. Another generator version draws
other scenes from the same numbers: pick again then.
"""

from __future__ import annotations

import io
import json

import numpy as np
from PIL import Image

from synthetic.native import native_stages
from synthetic.render import render
from synthetic.sample import PIECE_KINDS, sample_scene
from ui.loading import SAMPLES

SAMPLE_SEED = 500_002
PICKED = (54, 247, 347, 231, 292, 230, 216, 475, 11, 60, 310)
WITHOUT_FITTING = 3016
WIDTH_PX, HEIGHT_PX = 1280, 960


def sample_picture(index: int, kinds: tuple) -> tuple[bytes, dict]:
    """(JPEG bytes, what it shows) of one sample, rendered at twice its size and reduced."""
    scene = sample_scene(np.random.default_rng([SAMPLE_SEED, index]), kinds)
    picture = render(scene, 2 * WIDTH_PX, 2 * HEIGHT_PX, run=native_stages())
    pixels = np.rint(picture.rgb[0].transpose(1, 2, 0) * 255.0).astype(np.uint8)
    buffer = io.BytesIO()
    image = Image.fromarray(pixels).resize((WIDTH_PX, HEIGHT_PX), Image.Resampling.BOX)
    image.save(buffer, "JPEG", quality=88)
    truth = {
        "seed": SAMPLE_SEED,
        "index": index,
        "pieces": [
            {"kind": p.kind.value, "construction": p.construction.value, "label": p.label}
            for p in scene.pieces
        ],
    }
    return buffer.getvalue(), truth


def main() -> None:
    SAMPLES.mkdir(exist_ok=True)
    facts = {}
    drawn = [(i, (PIECE_KINDS[i % 3],)) for i in PICKED] + [(WITHOUT_FITTING, ())]
    for number, (index, kinds) in enumerate(drawn, start=1):
        data, truth = sample_picture(index, kinds)
        name = f"piece-{number:02d}.jpg"
        (SAMPLES / name).write_bytes(data)
        facts[name] = truth
    (SAMPLES / "truth.json").write_text(json.dumps(facts, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
