"""The shipped network in its session, and what its maps say of themselves."""

from __future__ import annotations

import time
from dataclasses import replace

import cv2
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


def test_the_network_is_given_what_opencv_would_give_it() -> None:
    given: list[np.ndarray] = []

    class Session:
        def run(self, _names: list[str], inputs: dict[str, np.ndarray]) -> list[np.ndarray]:
            given.append(inputs["image"])
            maps = [np.zeros((1, n, 32, 48), np.float32) for n in (5, 4, 3)]
            return [*maps, np.zeros((1, 4), np.float32), np.zeros((1, 1), np.float32)]

    network = OnnxNetwork(load_weights(), 1)
    network._session = Session()  # type: ignore[assignment]
    network(PIXELS)
    assert given[0].flags.c_contiguous
    assert np.array_equal(given[0], cv2.dnn.blobFromImage(PIXELS, 1.0 / 255.0))


def test_no_thread_goes_on_after_the_answer() -> None:
    network = OnnxNetwork(load_weights(), 2)
    network(PIXELS)
    before_s = time.process_time()
    time.sleep(0.2)
    assert time.process_time() - before_s < 0.01  # 0.03 s with onnxruntime's own settings


def test_the_winner_is_each_pixels_likeliest_part_and_follows_the_maps() -> None:
    maps = tube_maps()
    assert set(np.unique(maps.winner)) == {Part.BACKGROUND.label, Part.BODY.label}
    assert maps.winner[72, 96] == Part.BODY.label
    nothing = np.zeros_like(maps.part)
    nothing[..., Part.FACE.label] = 1.0
    assert (replace(maps, part=nothing).winner == Part.FACE.label).all()
