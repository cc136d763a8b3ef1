"""What surrounds a training run: the processes that share it, its log, and the wish to stop."""

from __future__ import annotations

import json
import math
import os
import signal
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import torch
import torch.distributed as dist
from torch import Tensor


@dataclass(frozen=True, slots=True, kw_only=True)
class Host:
    """This process among those of the run."""

    rank: int
    world: int
    device: torch.device

    @property
    def leads(self) -> bool:
        return self.rank == 0

    def agreed(self, values: Sequence[float]) -> list[float]:
        """Rank 0's values, on every rank; goes over the CPU and does not wait for a GPU."""
        if self.world == 1:
            return list(values)
        shared = torch.tensor(values, dtype=torch.float64)
        dist.broadcast(shared, src=0)
        return shared.tolist()


def join_host(device: str) -> Host:
    """Rank and world from the environment that torchrun sets; one process without it."""
    rank, world = int(os.environ.get("RANK", "0")), int(os.environ.get("WORLD_SIZE", "1"))
    if device == "auto":
        device = "cuda" if torch.cuda.is_available() else "cpu"
    chosen = torch.device(device)
    if chosen.type == "cpu":
        # Faded gradients and moments are denormal numbers, which processors add ten times slower.
        torch.set_flush_denormal(True)
    if chosen.type == "cuda":
        chosen = torch.device("cuda", int(os.environ.get("LOCAL_RANK", "0")))
        torch.cuda.set_device(chosen)
        torch.set_float32_matmul_precision("high")
    if world > 1:
        backend = "cpu:gloo,cuda:nccl" if chosen.type == "cuda" else "gloo"
        dist.init_process_group(backend)
    return Host(rank=rank, world=world, device=chosen)


def leave_host(host: Host) -> None:
    """Let the other ranks go, and small numbers be small again."""
    if host.device.type == "cpu":
        torch.set_flush_denormal(False)
    if host.world > 1:
        dist.destroy_process_group()


class Log:
    """One JSON line per event, to the file and to stdout; silent on other ranks than 0."""

    def __init__(self, path: Path, *, speaks: bool) -> None:
        self.path = path
        self.speaks = speaks
        if speaks:
            path.parent.mkdir(parents=True, exist_ok=True)

    def write(self, event: str, values: dict) -> None:
        if not self.speaks:
            return
        line = json.dumps(_plain({"event": event} | values))
        with self.path.open("a", encoding="utf-8") as file:
            file.write(line + "\n")
        print(line, flush=True)


class Meter:
    """Means of a few numbers since the last reading, summed up on the device without waiting."""

    def __init__(self, names: Sequence[str], device: torch.device) -> None:
        self.names = tuple(names)
        self.sums = torch.zeros(len(self.names), device=device)
        self.waited_s = 0.0
        self.steps = 0
        self.began_s = time.monotonic()

    def add(self, values: Sequence[Tensor]) -> None:
        """One step's numbers, scalars on the device, in the order of the names."""
        self.sums += torch.stack(list(values))
        self.steps += 1

    def read(self, pictures_per_step: int) -> dict[str, float]:
        """Means, pictures per second and share of time spent waiting for data; begins anew.

        Reading waits for the device, which nothing else in a step does.
        """
        means = (self.sums / max(1, self.steps)).tolist()
        passed_s = time.monotonic() - self.began_s
        found = {
            "pictures_per_s": self.steps * pictures_per_step / passed_s,
            "data_wait_share": self.waited_s / passed_s,
        }
        self.sums.zero_()
        self.waited_s, self.steps, self.began_s = 0.0, 0, time.monotonic()
        return found | dict(zip(self.names, means, strict=True))


class StopSignal:
    """Turns SIGTERM into a wish that the loop grants at its next step.

    Who ends a run often ends its worker processes with it; their death must then not interrupt the
    saving, as it rightly does at any other time.
    """

    def __init__(self) -> None:
        self.wished = False
        self.process = os.getpid()

    def __enter__(self) -> StopSignal:
        self._before = signal.signal(signal.SIGTERM, self._wish)
        return self

    def _wish(self, *_: object) -> None:
        if os.getpid() != self.process:  # a forked worker: it ends as if nothing were set
            signal.signal(signal.SIGTERM, signal.SIG_DFL)
            os.kill(os.getpid(), signal.SIGTERM)
        self.wished = True
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)

    def __exit__(self, *_: object) -> None:
        signal.signal(signal.SIGTERM, self._before)


def _plain(value: object) -> object:
    """JSON has no nan: null instead; floats to five figures."""
    if isinstance(value, dict):
        return {k: _plain(v) for k, v in value.items()}
    if isinstance(value, float):
        return float(f"{value:.5g}") if math.isfinite(value) else None
    return value
