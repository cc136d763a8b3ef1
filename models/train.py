"""Train the network: one loop, on the CPU, on one GPU, or on several of one host.

    python -m models.train --name first --minutes 20
    torchrun --standalone --nproc-per-node 4 -m models.train --name first --minutes 20
    python -m models.train --resume runs/first/checkpoint        # goes on where it stopped

The schedule follows the clock (`--minutes`) or a count (`--steps`): learning rate up over the first
steps, then down along a cosine that ends exactly when the budget does, however fast the machine is.
Rank 0 alone looks at the clock and tells the others, so that all ranks take the same steps. Figures
and export use the running average of the weights.
"""

from __future__ import annotations

import copy
import dataclasses
import functools
import shutil
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import torch
from torch import Tensor, nn
from torch.optim.swa_utils import get_ema_multi_avg_fn

from models.checkpoints import (
    CheckpointError,
    load_checkpoint,
    load_state,
    load_weights_only,
    restore,
    save_checkpoint,
    take_checkpoint,
)
from models.host import Host, Log, Meter, StopSignal, join_host, leave_host
from models.lite_trunk import load_lite_trunk
from models.losses import LOSS_NAMES, LossWeights, total_loss
from models.muon import MuonAdamW
from models.network import SeamNetwork, count_parameters
from models.photographs import list_photographs
from models.store import Store, seeded
from models.targets import Batch, half_resolution, resized, turned
from models.teacher import Committee, Teacher, taught_loss
from models.train_config import TrainConfig, learning_rate_at, make_parser, step_picture
from models.tuning import tuning_figures

MakeBatches = Callable[..., Iterable[Batch]]


@dataclass(slots=True, kw_only=True)
class Progress:
    """How far a run has come, over all its resumed parts."""

    step: int = 0
    pictures: int = 0
    elapsed_s: float = 0.0
    data_seeds: list[int] = dataclasses.field(default_factory=list)  # one for each part
    figures: dict[str, float] = dataclasses.field(default_factory=dict)  # the last tuning


def prepared(batch: Batch, scale: float, turns: int) -> tuple[Tensor, Batch]:
    """(picture, targets at half resolution) of a step."""
    height, width = batch["image"].shape[-2:]
    batch = turned(resized(batch, round(height * scale), round(width * scale)), turns)
    image = batch["image"].nan_to_num().clamp(0.0, 1.0)
    return image.contiguous(memory_format=torch.channels_last), half_resolution(batch)


def dealt(batch: Batch, split: int, step: int) -> Iterator[Batch]:
    """A batch's pictures, shuffled and dealt out to `split` steps of equal size."""
    if split == 1:
        yield batch
        return
    order = np.random.default_rng([step, split]).permutation(len(batch["image"]))
    for hand in np.split(order, split):
        index = torch.from_numpy(hand).to(batch["image"].device, non_blocking=True)
        yield {name: value.index_select(0, index) for name, value in batch.items()}


def hands(batch: Batch, store: Store | None, config: TrainConfig, step: int) -> Iterator[Batch]:
    """The pictures of the steps that a batch gives: its own, or as many times those of a store."""
    if store is None:
        yield from dealt(batch, config.split, step)
        return
    store.add(batch)
    for _ in range(config.times * config.split):
        yield store.take(config.per_rank // config.split)


class GuardedAdamW(torch.optim.AdamW):
    """AdamW whose fused step changes nothing on the device when `found_inf` is 1 there."""

    found_inf: Tensor | None = None


def load_into(network: SeamNetwork, path: Path) -> None:
    """Weights from a checkpoint's folder, an .npz or an ONNX file. The last lacks batch norm's
    counters, which nothing here reads; a layer that the weights lack begins afresh."""
    taken = {**network.state_dict(), **load_weights_only(path)}
    network.load_state_dict({name: taken[name] for name in network.state_dict()})


def make_optimizer(network: nn.Module, config: TrainConfig) -> GuardedAdamW | MuonAdamW:
    """Fused AdamW, or Muon with it; biases and batch norm do not decay."""
    if config.optimizer == "muon":
        return MuonAdamW(
            network.parameters(), lr=config.learning_rate, weight_decay=config.weight_decay
        )
    trained = [p for p in network.parameters() if p.requires_grad]
    groups = [
        {"params": [p for p in trained if p.ndim > 1], "weight_decay": config.weight_decay},
        {"params": [p for p in trained if p.ndim <= 1], "weight_decay": 0.0},
    ]
    return GuardedAdamW(groups, lr=config.learning_rate, betas=(0.9, 0.99), fused=True)


class Run:
    """A run's network, average and optimiser, how far it has come, and how it is put on disk."""

    def __init__(
        self,
        config: TrainConfig,
        host: Host,
        *,
        resume: Path | None = None,
        start_from: Path | None = None,
    ) -> None:
        torch.manual_seed(config.seed)
        network = SeamNetwork()
        if config.photo_trunk:
            network = Teacher()
            network.photo.load_state_dict(load_lite_trunk(Path(config.photo_trunk)).state_dict())
        if start_from is not None:
            load_into(network, start_from)
        self.config = config
        self.host = host
        self.network = network.to(host.device).to(memory_format=torch.channels_last)
        self.ema = copy.deepcopy(self.network).eval().requires_grad_(False)
        self.optimizer = make_optimizer(self.network, config)
        self.progress = Progress()
        if resume is not None:
            checkpoint = load_checkpoint(resume)
            restore(checkpoint, self.network, self.ema, self.optimizer)
            self.progress = Progress(**checkpoint.state["progress"])
        seeds = self.progress.data_seeds
        seeds.append(config.seed + len(seeds))  # never the same pictures twice
        self.spent_before_s = self.progress.elapsed_s
        self.log = Log(config.log_folder / "log.jsonl", speaks=host.leads)
        self._live = [v for v in self.network.state_dict().values() if v.is_floating_point()]
        self._mean = [v for v in self.ema.state_dict().values() if v.is_floating_point()]

    def teacher(self) -> nn.Module | None:
        """Whom the network learns from, besides the truth."""
        if not self.config.teacher:
            return None
        networks = []
        for path in self.config.teacher.split(","):
            weights = load_weights_only(Path(path))
            network = Teacher() if any(n.startswith("photo.") for n in weights) else SeamNetwork()
            network.load_state_dict({**network.state_dict(), **weights})
            networks.append(network)
        teacher = Committee(networks).eval().requires_grad_(False).to(self.host.device)
        return teacher.to(memory_format=torch.channels_last)

    def model(self) -> nn.Module:
        """The network as the loop calls it: spread over the ranks."""
        if self.host.world == 1:
            return self.network
        return nn.parallel.DistributedDataParallel(
            self.network,
            device_ids=[self.host.device.index] if self.host.device.type == "cuda" else None,
            gradient_as_bucket_view=True,
        )

    def average(self) -> None:
        """Move the running average of weights and batch norm towards the present ones."""
        step = self.progress.step
        decay = min(self.config.ema_decay, step / (step + 10))
        get_ema_multi_avg_fn(decay)(self._mean, self._live, None)

    def spent(self) -> float:
        """Share of the budget that is gone."""
        if self.config.steps:
            return self.progress.step / self.config.steps
        return self.progress.elapsed_s / (60 * self.config.minutes)

    def tune(self, batches: Sequence[Batch]) -> None:
        """Measure the running average on the tuning pictures."""
        if not batches:
            return
        device, p = self.host.device, self.progress
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            p.figures = tuning_figures(self.ema, (_moved(batch, device) for batch in batches))
        self.log.write("tuning", {"step": p.step, "pictures": p.pictures, **p.figures})

    def save(self) -> None:
        state = {
            "step": self.progress.step,
            "config": dataclasses.asdict(self.config),
            "network": dataclasses.asdict(self.network.config),
            "progress": dataclasses.asdict(self.progress),
            "world": self.host.world,
        }
        folder = self.config.checkpoint_folder
        checkpoint = take_checkpoint(self.network, self.ema, self.optimizer, state)
        save_checkpoint(folder, checkpoint)
        shutil.copy(self.log.path, folder / self.log.path.name)


def train(
    config: TrainConfig,
    make_batches: MakeBatches,
    make_tuning: MakeBatches,
    *,
    resume: Path | None = None,
    start_from: Path | None = None,
    loss_weights: LossWeights | None = None,
) -> Progress:
    """Train until the budget is spent or SIGTERM comes; returns how far the run has come.

    `make_batches(seed, per_rank, height, width, device, rank, world, workers)` is an endless
    stream of batches (see `models.targets`), `make_tuning(count, per_rank, height, width, device)`
    a finite list from other seeds; rank 0 alone asks for it.
    """
    host = join_host(config.device)
    try:
        return _trained(
            config,
            make_batches,
            make_tuning,
            host,
            resume,
            start_from,
            loss_weights or LossWeights(),
        )
    finally:
        leave_host(host)


def _trained(
    config: TrainConfig,
    make_batches: MakeBatches,
    make_tuning: MakeBatches,
    host: Host,
    resume: Path | None,
    start_from: Path | None,
    weights: LossWeights,
) -> Progress:
    device = host.device
    run = Run(config, host, resume=resume, start_from=start_from)
    model, optimizer, progress = run.model(), run.optimizer, run.progress

    of_each: dict[str, object] = {"per_rank": config.per_rank, "device": device}
    of_each |= {"height": config.height, "width": config.width}
    wants_tuning = host.leads and config.tuning_pictures > 0
    tuning = list(make_tuning(count=config.tuning_pictures, **of_each)) if wants_tuning else []
    ranks = {"rank": host.rank, "world": host.world, "workers": config.workers}
    stream = make_batches(seed=progress.data_seeds[-1], **of_each, **ranks)
    batches = iter(stream)

    start = {
        "parameters": count_parameters(run.network),
        "device": str(device),
        "world": host.world,
    }
    run.log.write("start", start | dataclasses.asdict(config) | dataclasses.asdict(weights))
    store = None
    if config.times > 1:
        store = Store(config.kept, seeded(device, progress.data_seeds[-1], host.rank))
    meter = Meter((*LOSS_NAMES, "taught", "gradient_norm", "skipped_share"), device)
    teacher = run.teacher()
    began_s = saved_s = tuned_s = time.monotonic()

    with StopSignal() as stop:
        while True:
            # Rank 0 looks at the clock; all ranks go by what it saw.
            now_s = time.monotonic()
            progress.elapsed_s = run.spent_before_s + now_s - began_s
            spent, stopping = host.agreed([run.spent(), float(stop.wished)])
            if spent >= 1.0 or stopping:
                break

            try:
                batch = next(batches)
            except RuntimeError:
                if stop.wished and host.world == 1:  # the workers were ended too: save what is
                    break
                raise
            meter.waited_s += time.monotonic() - now_s
            batch = {name: value.to(device, non_blocking=True) for name, value in batch.items()}
            for hand in hands(batch, store, config, progress.step):
                image, targets = prepared(hand, *step_picture(config, progress.step))
                with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
                    output = model(image)
                    taught = None if teacher is None else teacher(image)
                loss, parts = total_loss(output, targets, weights)
                parts["taught"] = torch.zeros_like(loss.detach())
                if taught is not None:
                    parts["taught"] = taught_loss(output, taught, targets)
                    loss = loss + config.taught * parts["taught"]
                loss.backward()
                norm = nn.utils.clip_grad_norm_(run.network.parameters(), config.clip)
                optimizer.found_inf = (~norm.isfinite()).float()
                learning_rate = learning_rate_at(config, progress.step, spent)
                for group in optimizer.param_groups:
                    group["lr"] = learning_rate
                optimizer.step()
                optimizer.zero_grad(set_to_none=True)
                progress.step += 1
                progress.pictures += len(image) * host.world
                run.average()
                meter.add(
                    [
                        *(parts[name].detach() for name in (*LOSS_NAMES, "taught")),
                        norm.detach(),
                        optimizer.found_inf,
                    ]
                )

            if not host.leads:
                continue
            now_s = time.monotonic()
            if now_s - meter.began_s >= config.log_seconds:
                line = {"step": progress.step, "pictures": progress.pictures, "spent": spent}
                line |= {"elapsed_s": progress.elapsed_s, "learning_rate": learning_rate}
                run.log.write(
                    "train", line | meter.read(config.per_rank // config.split * host.world)
                )
            if 0 < 60 * config.tuning_minutes <= now_s - tuned_s:
                run.tune(tuning)
                tuned_s = time.monotonic()
            if now_s - saved_s >= config.save_seconds:
                run.save()
                saved_s = time.monotonic()

    if host.leads:
        if not stop.wished:
            run.tune(tuning)
        run.log.write("end", dataclasses.asdict(progress) | {"stopped_early": stop.wished})
        run.save()
    if hasattr(stream, "close"):
        stream.close()
    return progress


def main(arguments: Sequence[str] | None = None) -> int:
    options = vars(make_parser().parse_args(arguments))
    resume, start_from = options.pop("resume", None), options.pop("start_from", None)
    losses = options.pop("loss", [])
    try:
        loss_weights = LossWeights(**dict(_named_value(text) for text in losses))
        if resume is not None:
            options = load_state(resume)["config"] | options
        config = TrainConfig.from_options(options)
    except (CheckpointError, TypeError, ValueError) as error:
        print(f"models.train: {error}", file=sys.stderr)
        return 2
    # They render: heavy, and not for --help.
    from models.batches import Batches, Photographs, tuning_batches

    photographs = Photographs()
    if config.photographs:
        photographs = Photographs(
            list_photographs(Path(config.photographs)), config.photograph_share
        )
    textures = list_photographs(Path(config.textures)) if config.textures else ()
    make_batches = functools.partial(
        Batches,
        plain_batches=config.plain_batches,
        photographs=photographs,
        textures=textures,
        wound_share=config.wound_share,
    )
    train(
        config,
        make_batches,
        tuning_batches,
        resume=resume,
        start_from=start_from,
        loss_weights=loss_weights,
    )
    return 0


def _named_value(text: str) -> tuple[str, float]:
    name, _, value = text.partition("=")
    return name, float(value)


def _moved(batch: Batch, device: torch.device) -> Batch:
    batch = {name: value.to(device, non_blocking=True) for name, value in batch.items()}
    return batch | {"image": batch["image"].contiguous(memory_format=torch.channels_last)}


if __name__ == "__main__":
    sys.exit(main())
