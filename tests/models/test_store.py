"""The store of rendered pictures: what goes in comes out again, mirrored or not."""

from __future__ import annotations

import pytest
import torch

from fittings.words import Kind
from models.store import Store, seeded, varied
from models.targets import MAPS
from tests.models.fake_batches import fake_batch

CPU = torch.device("cpu")


def test_what_is_taken_was_put_in_within_the_rounding_of_bytes() -> None:
    batch = fake_batch(1, 8, 32, 64)
    store = Store(8, seeded(CPU, 5))
    store.add(batch)
    taken = store.take(64)
    seen = set()
    for i in range(64):
        seam = taken["seam"][i]
        fits = [
            (j, mirrored)
            for j in range(8)
            for mirrored in (False, True)
            if torch.equal(seam, batch["seam"][j].flip(-1) if mirrored else batch["seam"][j])
            and taken["kind"][i] == batch["kind"][j]
        ]
        assert fits, i
        seen.add(fits[0])
        if len(fits) > 1:  # without a fitting nothing tells which
            continue
        j, mirrored = fits[0]
        for name, sign in (("around_cos", 1), ("around_sin", -1 if mirrored else 1)):
            truth = batch[name][j].flip(-1) if mirrored else batch[name][j]
            torch.testing.assert_close(taken[name][i], sign * truth, atol=1e-3, rtol=0)
        assert taken["part"].dtype == torch.int64
    kinds = {int(batch["kind"][j]) for j, _ in seen}
    assert {Kind.ELBOW.label, Kind.TEE.label, Kind.REDUCER.label} <= kinds
    assert {mirrored for _, mirrored in seen} == {False, True}


def test_the_oldest_pictures_give_way() -> None:
    store = Store(5, seeded(CPU, 1))
    for seed in range(4):
        batch = fake_batch(seed, 2, 32, 32)
        store.add(batch | {"fabricated": torch.full((2,), float(seed))})
    assert store.held == 5
    assert set(store.take(200)["fabricated"].tolist()) == {1.0, 2.0, 3.0}  # 0 and half of 1 went
    with pytest.raises(ValueError, match="do not go into a store of 5"):
        store.add(fake_batch(1, 6, 32, 32))


def test_light_varies_and_maps_do_not() -> None:
    batch = fake_batch(2, 16, 32, 32)
    out = varied(batch, seeded(CPU, 3))
    assert float(out["image"].min()) >= 0
    assert float(out["image"].max()) <= 1
    means = out["image"].mean((1, 2, 3)) / batch["image"].mean((1, 2, 3))
    assert float(means.std()) > 0.03
    for name in MAPS:
        size = out[name].abs().float().sum((1, 2))
        torch.testing.assert_close(size, batch[name].abs().float().sum((1, 2)))
    again = varied(batch, seeded(CPU, 3))
    assert torch.equal(out["image"], again["image"])
