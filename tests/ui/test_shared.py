"""What all visits share."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from threading import Lock

import numpy as np
import pytest

from tests.stand_in import StandInReader, encoded, picture, run_maps
from ui import loading, shared
from vision.network import Maps


@pytest.mark.parametrize("cores", [1, 3])
def test_visits_take_turns_at_the_network(monkeypatch: pytest.MonkeyPatch, cores: int) -> None:
    """Ten browsers at once took 1.7 GB, most of it for ten photos in the network together."""
    inside, most, lock = 0, 0, Lock()

    def network(pixels: np.ndarray) -> Maps:
        nonlocal inside, most
        with lock:
            inside += 1
            most = max(most, inside)
        time.sleep(0.02)
        with lock:
            inside -= 1
        return run_maps(pixels)

    monkeypatch.setattr(loading, "load_reader", lambda: replace(StandInReader(), network=network))
    monkeypatch.setattr(shared, "usable_cores", lambda: cores)
    shared.reader.clear()
    reader = shared.reader().inner  # the cache is left out: it answers without reading
    shared.reader.clear()
    photos = [encoded(picture(red=10 * number)) for number in range(10)]
    with ThreadPoolExecutor(10) as visits:
        outcomes = list(visits.map(lambda data: reader.read_bytes(data, "a.jpg"), photos))
    assert all(outcome.reading for outcome in outcomes)
    assert most == cores
