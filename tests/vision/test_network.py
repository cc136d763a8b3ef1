"""The shipped network in its session, and what its maps say of themselves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fittings.words import Part
from models.weights import WeightsError, load_weights
from tests.vision.pieces import tube_maps
from vision.network import OnnxNetwork

PIXELS = np.random.default_rng(0).integers(0, 256, (64, 96, 3), np.uint8)


def test_a_session_made_meanwhile_answers_the_same() -> None:
    weights = load_weights()
    waited = OnnxNetwork(weights, 1)(PIXELS)
    meanwhile = OnnxNetwork(weights, 1, wait=False)(PIXELS)
    assert waited.shape == (32, 48)
    assert np.array_equal(waited.part, meanwhile.part)
    assert waited.fabricated_logit == meanwhile.fabricated_logit


def test_a_file_that_cannot_be_run_is_told_at_once_or_at_the_first_photo() -> None:
    broken = replace(load_weights(), onnx=b"no network")
    with pytest.raises(WeightsError, match="cannot be run"):
        OnnxNetwork(broken)
    network = OnnxNetwork(broken, wait=False)
    for _ in range(2):
        with pytest.raises(WeightsError, match="cannot be run"):
            network(PIXELS)


def test_the_winner_is_each_pixels_likeliest_part_and_follows_the_maps() -> None:
    maps = tube_maps()
    assert set(np.unique(maps.winner)) == {Part.BACKGROUND.label, Part.BODY.label}
    assert maps.winner[72, 96] == Part.BODY.label
    nothing = np.zeros_like(maps.part)
    nothing[..., Part.FACE.label] = 1.0
    assert (replace(maps, part=nothing).winner == Part.FACE.label).all()
