"""How fast the renderer and the network's step run on this machine: `python -m models.benchmark`.

Prints one JSON line per figure, with the device. Warm-up and compiling are left out of the rates
and printed on their own.
"""

from __future__ import annotations

import argparse
import json
import time

import numpy as np
import torch

from models.batches import Batches, draw
from models.losses import LossWeights, total_loss
from models.network import SeamNetwork
from models.train import make_optimizer, prepared
from models.train_config import TrainConfig
from synthetic.packing import Numbers
from synthetic.render import Stages, item_layer, plain_stages
from synthetic.sample import PIECE_KINDS


def wait(device: torch.device) -> None:
    if device.type == "cuda":
        torch.cuda.synchronize(device)


def difference(drawn: dict[str, torch.Tensor], run: Stages) -> dict[str, float]:
    """Share of pixels whose linear colour on the device is more than 5 % off numpy's, by kind."""
    out = {}
    for kind in PIECE_KINDS:
        rows = drawn[f"rows_{kind.value}"][:2]
        ours = item_layer(torch, kind, Numbers(rows.to(_device())), 128, 96, run)
        reference = [
            item_layer(np, kind, Numbers(rows[i : i + 1].numpy()), 128, 96, plain_stages())
            for i in range(2)
        ]
        expected = np.concatenate([layer.rgb[1] for layer in reference])
        off = np.abs(ours.rgb[1].cpu().numpy() - expected) > 0.05 * expected + 0.005
        out[kind.value] = float(off.mean())
    return out


def _device() -> torch.device:
    return torch.device("cuda" if torch.cuda.is_available() else "cpu")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--height", type=int, default=288)
    parser.add_argument("--width", type=int, default=384)
    parser.add_argument("--per-rank", type=int, default=96)
    parser.add_argument("--rounds", type=int, default=10)
    parser.add_argument("--network", action="store_true", help="time a training step too")
    options = parser.parse_args()
    device = _device()
    name = torch.cuda.get_device_name(device) if device.type == "cuda" else "cpu"
    facts = {"device": name, "height": options.height, "width": options.width}
    stream = Batches(
        seed=77, per_rank=options.per_rank, height=options.height, width=options.width,
        device=device, rank=0, world=1, workers=0,
    )  # fmt: skip
    began_s = time.perf_counter()
    drawn = [
        {k: torch.from_numpy(v) for k, v in draw((77, 0, i), options.per_rank).items()}
        for i in range(3)
    ]
    print(json.dumps({"drawn_per_s": 3 * options.per_rank / (time.perf_counter() - began_s)}))
    began_s = time.perf_counter()
    batch = stream.rendered(drawn[0])
    wait(device)
    print(json.dumps(facts | {"from_numpy": difference(drawn[0], stream.run)}), flush=True)
    print(json.dumps(facts | {"first_batch_s": time.perf_counter() - began_s}), flush=True)
    stream.rendered(drawn[1])
    wait(device)
    began_s = time.perf_counter()
    for i in range(options.rounds):
        batch = stream.rendered(drawn[i % 3])
    wait(device)
    spent_s = time.perf_counter() - began_s
    rate = options.rounds * options.per_rank / spent_s
    print(json.dumps(facts | {"rendered_per_s": rate}), flush=True)
    if not options.network:
        return
    network = SeamNetwork().to(device).to(memory_format=torch.channels_last).train()
    optimizer = make_optimizer(network, TrainConfig(steps=1, device=device.type))
    image, targets = prepared(batch, 1.0, 0)
    for i in range(options.rounds + 3):
        if i == 3:
            wait(device)
            began_s = time.perf_counter()
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            output = network(image)
        loss, _ = total_loss(output, targets, LossWeights())
        loss.backward()
        optimizer.step()
        optimizer.zero_grad(set_to_none=True)
    wait(device)
    rate = options.rounds * options.per_rank / (time.perf_counter() - began_s)
    print(json.dumps(facts | {"network_step_pictures_per_s": rate}), flush=True)
    if device.type == "cuda":
        print(json.dumps({"peak_gib": torch.cuda.max_memory_allocated() / 2**30}))


if __name__ == "__main__":
    main()
