"""Golden pictures: compared within a tolerance; on failure what differs is laid out."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

TESTS = Path(__file__).resolve().parents[1]
GOLDEN = TESTS / "synthetic" / "golden"
FAILURES = TESTS / "failures"

PIXEL_SHARE = 0.05
"""A pixel agrees when no channel differs by more than this share of full scale."""

COLOUR_AGREE = 0.998
LABELS_AGREE = 0.995


def _image(path: Path) -> np.ndarray:
    with Image.open(path) as image:
        return np.asarray(image)


def check_golden(
    name: str,
    actual: np.ndarray,
    *,
    labels: bool,
    update: bool,
    golden: Path = GOLDEN,
    failures: Path = FAILURES,
) -> None:
    """Fail unless `actual` ((H, W, 3) colours or (H, W) labels, uint8) is like `<name>.png`.

    On failure actual, expected and difference lie in `failures`. A missing golden fails too.
    """
    path = golden / f"{name}.png"
    if update:
        golden.mkdir(parents=True, exist_ok=True)
        Image.fromarray(actual).save(path)
        return
    if not path.exists():
        pytest.fail(f"{path.name} is missing; run with --update-golden and look at it.")
    expected = _image(path)
    if expected.shape != actual.shape:
        pytest.fail(f"{path.name} is {expected.shape}, the picture {actual.shape}.")
    difference = np.abs(actual.astype(int) - expected.astype(int))
    if labels:
        agree, enough = float((difference == 0).mean()), LABELS_AGREE
    else:
        agree, enough = float((difference.max(axis=2) <= 255 * PIXEL_SHARE).mean()), COLOUR_AGREE
    if agree < enough:
        failures.mkdir(parents=True, exist_ok=True)
        stretched = np.clip(difference * (60 if labels else 4), 0, 255).astype(np.uint8)
        for word, pixels in (
            ("actual", actual),
            ("expected", expected),
            ("difference", stretched),
        ):
            Image.fromarray(pixels).save(failures / f"{name}.{word}.png")
        pytest.fail(f"{name}: {agree:.2%} of pixels agree, {enough:.1%} should; see {failures}.")
