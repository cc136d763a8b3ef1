"""The trial of joined ends: its scenes, its fit and its counts, on made-up ends."""

from __future__ import annotations

import numpy as np
import pytest

from synthetic.joined import ends_in_picture
from vision.joint_trial import Candidate, fit, scene_with, summary
from vision.pipe_beyond import FIGURES


def drawn(count: int, seed: int) -> list[Candidate]:
    """Ends whose log-odds of a pipe are 2 · light - 1, by the logistic model itself; the other
    figures are noise."""
    rng = np.random.default_rng(seed)
    x = rng.normal(0.0, 1.0, (count, len(FIGURES)))
    log_odds = 2.0 * x[:, FIGURES.index("light")] - 1.0
    joined = rng.random(count) < 1.0 / (1.0 + np.exp(-log_odds))
    return [
        Candidate(figures=tuple(row), joined=bool(is_so))
        for row, is_so in zip(x.tolist(), joined, strict=True)
    ]


def test_the_fit_finds_the_model_that_drew_the_ends() -> None:
    weights, offset = fit(drawn(4000, 1))
    expected = [2.0 if name == "light" else 0.0 for name in FIGURES]
    assert weights == pytest.approx(expected, abs=0.15)
    assert offset == pytest.approx(-1.0, abs=0.15)


def test_ends_of_one_class_cannot_be_fitted() -> None:
    with pytest.raises(ValueError, match="draw more"):
        fit([each for each in drawn(50, 1) if each.joined])


def test_told_ends_are_counted_by_what_they_are() -> None:
    """From log-odds of ln 4 on (0.8 as a probability): two joined of three, one bare of two."""
    light = FIGURES.index("light")
    ends = [
        Candidate(figures=tuple(np.eye(4)[light] * value), joined=joined)
        for value, joined in ((2.0, True), (1.4, True), (1.3, True), (1.5, False), (-1.0, False))
    ]
    weights = np.eye(4)[light].tolist()
    assert summary(ends, 7, weights, 0.0) == (
        "joined ends in view 7, with an end in the maps 3, told 2; "
        "bare ends in the maps 2, told for joined 1"
    )


@pytest.mark.parametrize("joined", [True, False])
def test_a_scene_is_drawn_with_a_pipe_or_without(joined: bool) -> None:
    scene = scene_with(1, 0, joined=joined)
    assert any(end.joined for end in ends_in_picture(scene, 640, 480)) is joined
    assert scene == scene_with(1, 0, joined=joined)
