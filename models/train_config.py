"""The options of a training run, and what follows from them alone: rates, sizes and turns."""

from __future__ import annotations

import argparse
import dataclasses
import math
import typing
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from models.losses import LOSS_NAMES
from models.network import MULTIPLE_OF

SCALES = (0.5, 0.75, 1.0, 1.25)  # sizes that a step's pictures may have, against the base size
SCALE_SHARES = (
    0.55,
    0.33,
    0.12,
)  # how often: small pictures are quick, and photos of any size come


@dataclass(frozen=True, slots=True, kw_only=True)
class TrainConfig:
    """Options of a run; every one is an option of the command line under the same name."""

    name: str = "trial"  # the log goes to runs/NAME/log.jsonl
    out: str = ""  # folder of the checkpoint; empty is runs/NAME/checkpoint
    minutes: float = 0.0  # budget by the clock, over all resumed parts together; 0 is none
    steps: int = 0  # budget by steps; 0 is none
    seed: int = 1
    per_rank: int = 64  # pictures of a step on each device
    split: int = 1  # steps that a batch is dealt out to: few pictures a step learn more per picture
    height: int = 384  # base size, pixels
    width: int = 512
    times: int = 1  # how often a rendered picture is learnt from, on the average
    kept: int = 8192  # pictures kept for that on each device (2.4 MB each); none when times is 1
    plain_batches: int = 0  # over so many batches of each rank, plain scenes give way to all
    photographs: str = ""  # folder of photographs without fittings, to be learnt as such
    photograph_share: float = (
        0.65  # of the collages, where there are photographs, so many are those
    )
    textures: str = ""  # folder of photographs of surfaces, to be laid on pieces
    wound_share: float = 0.0  # of single pieces, about so many something is wound, marks aside
    photo_trunk: str = ""  # train the teacher, with the EfficientNet-Lite0 of this torch file
    teacher: str = ""  # learn from these weights as well: a folder, .npz; several with commas
    taught: float = 1.0  # weight of what the teacher says
    workers: int = 4  # worker processes of the batches, on each rank
    optimizer: str = "adamw"  # or muon, for the convolutions
    learning_rate: float = 2e-3  # the highest of the run
    warmup_steps: int = 300
    weight_decay: float = 0.02  # on convolution and linear weights only
    clip: float = 2.0  # largest norm of the gradient
    ema_decay: float = 0.999  # of the running average, less at the beginning
    tiny_share: float = 0.1  # of the steps at the smallest of SCALES
    small_share: float = 0.5  # of the steps at the next: quick, and photos vary
    large_share: float = 0.12  # of the steps at the largest
    turn_chance: float = 0.5  # that a step's pictures are turned by a quarter
    device: str = "auto"  # auto, cuda or cpu
    log_seconds: float = 10.0
    save_seconds: float = 120.0
    tuning_minutes: float = 4.0  # between two looks at the tuning pictures; 0 is only at the end
    tuning_pictures: int = 384

    def __post_init__(self) -> None:
        if (self.minutes <= 0) == (self.steps <= 0):
            raise ValueError("give one budget, --minutes or --steps")
        for side in ("height", "width"):
            for scale in SCALES:
                if getattr(self, side) * scale % MULTIPLE_OF:
                    raise ValueError(
                        f"{side} must be a multiple of {4 * MULTIPLE_OF}, so that every size of "
                        f"{SCALES} is one of {MULTIPLE_OF}; got {getattr(self, side)}"
                    )
        few = (self.tiny_share, self.small_share, self.large_share)
        if min(few) < 0 or sum(few) > 1:
            raise ValueError(f"tiny, small and large share the steps, 1 together at most: {few}")
        if self.optimizer not in ("adamw", "muon"):
            raise ValueError(f"the optimizer is adamw or muon, got {self.optimizer!r}")
        if self.photo_trunk and self.teacher:
            raise ValueError("a run trains the teacher (photo_trunk) or learns from it, not both")
        for name in ("photograph_share", "wound_share"):
            if not 0 <= getattr(self, name) <= 1:
                raise ValueError(f"{name} lies from 0 to 1, got {getattr(self, name)}")
        if self.times < 1 or (self.times > 1 and self.kept < self.per_rank):
            raise ValueError(
                f"times is 1 or more, and kept no less than per_rank: {self.times}, {self.kept}"
            )
        if self.split < 1 or self.per_rank % self.split or self.per_rank // self.split < 2:
            raise ValueError(
                f"per_rank must hold split times 2 pictures or more (batch norm needs them): "
                f"{self.per_rank} into {self.split}"
            )

    @classmethod
    def from_options(cls, options: dict) -> TrainConfig:
        """From names and values; ValueError names the unknown ones."""
        unknown = sorted(set(options) - {f.name for f in dataclasses.fields(cls)})
        if unknown:
            raise ValueError(f"unknown options of training: {', '.join(unknown)}")
        return cls(**options)

    @property
    def log_folder(self) -> Path:
        return Path("runs") / self.name

    @property
    def checkpoint_folder(self) -> Path:
        return Path(self.out) if self.out else self.log_folder / "checkpoint"


def learning_rate_at(config: TrainConfig, step: int, spent: float) -> float:
    """Learning rate at a step (from 0) when the share `spent` (0..1) of the budget is gone."""
    warm = min(1.0, (step + 1) / max(1, config.warmup_steps))
    cosine = 0.5 * (1.0 + math.cos(math.pi * min(1.0, spent)))
    return config.learning_rate * warm * (0.01 + 0.99 * cosine)


def step_picture(config: TrainConfig, step: int) -> tuple[float, int]:
    """(scale, quarter turns) of a step's pictures: the same on every rank and after resuming."""
    rng = np.random.default_rng([config.seed, step])
    few = (config.tiny_share, config.small_share, config.large_share)
    scale = float(rng.choice(SCALES, p=(*few[:2], 1.0 - sum(few), few[2])))
    turn, direction = rng.random() < config.turn_chance, rng.choice([1, 3])
    return scale, (int(direction) if turn else 0)


def make_parser() -> argparse.ArgumentParser:
    """Every field of TrainConfig as an option, and where a run begins."""
    parser = argparse.ArgumentParser(
        prog="python -m models.train",
        description="Train the seam network on pictures rendered while it trains.",
        epilog="Options given together with --resume replace those of the resumed run.",
        allow_abbrev=False,
        argument_default=argparse.SUPPRESS,
    )
    begin = parser.add_mutually_exclusive_group()
    begin.add_argument("--resume", type=Path, metavar="FOLDER", help="go on with a run")
    begin.add_argument(
        "--start-from", type=Path, metavar="PATH", help="take the weights of a run or an ONNX file"
    )
    parser.add_argument(
        "--loss",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help=f"another weight of the loss than the usual ({', '.join(LOSS_NAMES)}, ...)",
    )
    hints = typing.get_type_hints(TrainConfig)
    for field in dataclasses.fields(TrainConfig):
        flag, kind = "--" + field.name.replace("_", "-"), hints[field.name]
        text = f"default {field.default!r}"
        if kind is bool:
            parser.add_argument(flag, action=argparse.BooleanOptionalAction, help=text)
        else:
            parser.add_argument(flag, type=kind, metavar=kind.__name__.upper(), help=text)
    return parser
