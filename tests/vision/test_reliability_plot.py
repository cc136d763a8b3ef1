"""The reliability diagram against scikit-learn's calibration_curve, and its command."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

import numpy as np
import pytest
from sklearn.calibration import calibration_curve

from fittings.words import ADVISORY
from tests.vision.test_contrast_plot import PLAN, row, seam
from vision import reliability_plot
from vision.exam_rows import Row


def made_up() -> list[Row]:
    """60 pictures: the first reader's probabilities, of which the higher come true more often."""
    rng = np.random.default_rng(8)
    said = rng.uniform(0.01, 0.99, 60)
    came = rng.random(60) < said
    return [
        row(i, float(p), *([seam(20.0)] if true else []), made="fabricated" if true else "seamless")
        for i, (p, true) in enumerate(zip(said, came, strict=True))
    ]


def test_points_are_those_of_scikit_learn() -> None:
    rows = made_up()
    figure, table = reliability_plot.reliability(rows, ["ours", "theirs"])
    said = [r.answers["ours"].fabricated_probability for r in rows]
    share, mean = calibration_curve([bool(r.seams) for r in rows], said, n_bins=10)
    (drawn, *_) = figure.axes[0].containers[0]
    np.testing.assert_allclose(drawn.get_xydata(), np.column_stack([mean, share]))
    assert table.count("came true") == len(mean) + 1  # the second says 0.5 of everything


def test_the_command_draws_and_says_what_a_reading_is(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, out = tmp_path / "exam.jsonl", tmp_path / "reliability.png"
    lines = [json.dumps(asdict(PLAN)), *(json.dumps(r.as_json()) for r in made_up())]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    assert reliability_plot.main(["--rows", str(path), "--out", str(out)]) == 0
    assert "expected calibration error" in capsys.readouterr().out
    assert out.read_bytes().startswith(b"\x89PNG")
    figure, _ = reliability_plot.reliability(made_up(), ["ours"])
    assert figure.get_supxlabel().replace("\n", " ") == ADVISORY
