"""What the file keeps of a seam, against Pillow's encoder."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from fittings.words import Construction, Kind
from synthetic.contrast import trace_of
from synthetic.effects import constants
from synthetic.packing import Numbers, pack
from synthetic.scene import Effects, Scene
from tests.synthetic.scenes import MATT, drawn, small


def test_a_blurred_seam_has_less_contrast() -> None:
    """A seam's contrast is that of the file: blur and small scale take from it."""
    scene, _ = drawn(Kind.ELBOW, Construction.FABRICATED, 3)
    sharp = small(scene).contrast[0, 1]
    for worse in ({"blur_px": 20.0}, {"motion_px": 60.0}, {"scale": 0.15}):
        changed = replace(scene, effects=replace(scene.effects, **worse))
        assert small(changed).contrast[0, 1] < 0.8 * sharp


def share_kept(plain: np.ndarray, line: np.ndarray, quality: int) -> float:
    """Of a line laid over grey levels (H, W), the share that Pillow's JPEG keeps."""
    out = []
    for pixels in (plain + line, plain):
        file = io.BytesIO()
        Image.fromarray(np.rint(pixels).astype(np.uint8)).save(file, "JPEG", quality=quality)
        out.append(np.asarray(Image.open(file)).astype(float))
    return float(((out[0] - out[1]) * line).sum() / (line * line).sum())


@pytest.mark.parametrize(("level", "quality"), [(6.0, 12), (6.0, 92), (40.0, 25), (14.0, 50)])
def test_jpeg_takes_of_a_line_what_an_encoder_takes(level: float, quality: int) -> None:
    rng = np.random.default_rng(8)
    plain = np.rint(120.0 + rng.normal(0.0, 1.5, (64, 96)))
    line = np.zeros_like(plain)
    line[:, 40:43] = level
    phone = Effects(blur_px=0.0, jpeg_quality=float(quality))
    n = Numbers(pack([(Scene(effects=phone), None)]))
    before, after = (np.repeat(p[None, None] / 255.0, 3, axis=1) for p in (plain, plain + line))
    trace = trace_of(np, n, before, after, line[None] / 255.0, constants())
    d = trace.difference * 255.0
    assert d[0] == pytest.approx(line, abs=0.02 * level)
    kept = float((d * trace.in_file * 255.0).sum() / (d * d).sum())
    theirs = share_kept(plain, line, quality)
    assert kept == pytest.approx(theirs, abs=0.12)
    assert (theirs < 0.2) == (quality == 12)


def test_a_seam_that_drowns_in_noise_has_no_contrast_left() -> None:
    """A black bead on bare even metal, so that it is clear before the noise comes."""
    scene, piece = drawn(Kind.ELBOW, Construction.FABRICATED, 3)
    bead = replace(piece.cross_weld, bead_mix=1.0, bead_rgb=(0.02, 0.02, 0.02))
    piece = replace(piece, skin=MATT, cross_weld=bead)
    quiet = replace(scene, pieces=(piece,), effects=Effects())
    clear = small(quiet).contrast[0, 1]
    assert clear > 4.0
    contrasts = {}
    for name in ("noise", "colour_noise", "blotch", "colour_blotch"):
        levels = [
            small(replace(quiet, effects=replace(quiet.effects, **{name: s}))).contrast[0, 1]
            for s in (0.005, 2.0, 200.0)
        ]
        assert levels[0] == pytest.approx(clear, rel=0.02)
        assert levels[0] >= levels[1] >= levels[2] == 0.0
        contrasts[name] = levels[1]
    assert contrasts["blotch"] < contrasts["noise"] + 1e-9
