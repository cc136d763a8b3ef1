"""A training run on disk: small files that together say everything needed to go on.

    model.pt   weights as trained            adam_m.pt  the optimiser's first moments
    ema.pt     weights, running average      adam_v.pt  the optimiser's second moments
    state.json configuration, seeds, step, pictures, elapsed time, commit

Each `.pt` holds {"step": int, "tensors": {name: tensor}}. Files are written under a temporary name,
then renamed, `state.json` last; a folder whose files are of different steps is refused.
"""

from __future__ import annotations

import json
import subprocess
import zipfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import torch
from torch import Tensor, nn

Tensors = dict[str, Tensor]

PARTS = ("model", "ema", "adam_m", "adam_v")
STATE_FILE = "state.json"


class CheckpointError(Exception):
    """A checkpoint is missing, unreadable, or not of one piece."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Checkpoint:
    """Everything of a run at one step; tensors are on the CPU."""

    model: Tensors
    ema: Tensors
    adam_m: Tensors
    adam_v: Tensors
    state: dict


def take_checkpoint(
    network: nn.Module, ema: nn.Module, optimizer: torch.optim.Optimizer, state: dict
) -> Checkpoint:
    """Copy a run to the CPU. `state` needs `step`; the commit is added when there is one."""
    moments: dict[str, Tensors] = {"exp_avg": {}, "exp_avg_sq": {}}
    for name, parameter in network.named_parameters():
        for key, found in moments.items():
            if key in optimizer.state[parameter]:
                found[name] = _on_cpu(optimizer.state[parameter][key])
    return Checkpoint(
        model={name: _on_cpu(value) for name, value in network.state_dict().items()},
        ema={name: _on_cpu(value) for name, value in ema.state_dict().items()},
        adam_m=moments["exp_avg"],
        adam_v=moments["exp_avg_sq"],
        state={**state, "commit": current_commit()},
    )


def save_checkpoint(folder: Path, checkpoint: Checkpoint) -> None:
    """Write the files of the module's docstring into `folder`, which is made when missing."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for part in PARTS:
        path = folder / f"{part}.pt"
        content = {"step": checkpoint.state["step"], "tensors": getattr(checkpoint, part)}
        torch.save(content, _temporary(path))
        written.append(path)
    state_path = folder / STATE_FILE
    text = json.dumps(checkpoint.state, indent=2) + "\n"
    _temporary(state_path).write_text(text, encoding="utf-8")
    for path in [*written, state_path]:
        _temporary(path).replace(path)


def load_checkpoint(folder: Path) -> Checkpoint:
    """Read a whole run back; CheckpointError when a file is missing or of another step."""
    state = load_state(folder)
    parts = {}
    for part in PARTS:
        content = _load(folder / f"{part}.pt")
        if content["step"] != state["step"]:
            raise CheckpointError(
                f"{folder / part}.pt is of step {content['step']}, {STATE_FILE} of step "
                f"{state['step']}: the writing was cut short. Use an older copy, or begin a new "
                "run from these weights with --start-from."
            )
        parts[part] = content["tensors"]
    return Checkpoint(**parts, state=state)


def load_state(folder: Path) -> dict:
    """`state.json` of a run's folder; CheckpointError when there is none."""
    path = folder / STATE_FILE
    if not path.is_file():
        raise CheckpointError(
            f"{path} is missing: {folder} is not the folder of a run's checkpoint"
        )
    return json.loads(path.read_text(encoding="utf-8"))


def load_weights_only(path: Path, part: str = "ema") -> Tensors:
    """The weights alone: of a checkpoint's folder (by default the running average), of the .npz
    that ships (see `save_weights`), or of an ONNX file of 32 bits, as shipped up to version 4."""
    if path.suffix == ".npz":
        return _shipped_weights(path)
    if path.suffix == ".onnx":
        return _onnx_weights(path)
    return _load(path / f"{part}.pt")["tensors"]


def save_weights(path: Path, network: nn.Module) -> None:
    """A network's weights as .npz under their own names: matrices and kernels in 16 bits."""
    arrays = {name: value.detach().numpy() for name, value in network.state_dict().items()}
    # Batch norm's variances span more than 16 bits do.
    halves = {
        name: array.astype(np.float16) if array.ndim > 1 else array
        for name, array in arrays.items()
    }
    np.savez_compressed(path, **halves)  # type: ignore[arg-type]


def _shipped_weights(path: Path) -> Tensors:
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as kept:
            arrays = {name: kept[name] for name in kept.files}
    except (OSError, ValueError, zipfile.BadZipFile) as error:
        raise CheckpointError(f"{path} is no file of weights that can be read: {error}") from error
    return {
        name: torch.from_numpy(array.astype(np.float32) if array.dtype == np.float16 else array)
        for name, array in arrays.items()
    }


def _onnx_weights(path: Path) -> Tensors:
    import onnx  # training alone needs it

    try:
        model = onnx.load(path)
    except Exception as error:  # protobuf and file errors of several families
        raise CheckpointError(f"{path} is no ONNX file that can be read: {error}") from error
    return {
        weight.name: torch.from_numpy(onnx.numpy_helper.to_array(weight).copy())
        for weight in model.graph.initializer
    }


def restore(
    checkpoint: Checkpoint, network: nn.Module, ema: nn.Module, optimizer: torch.optim.Optimizer
) -> None:
    """Put a checkpoint into a network, its average and its optimiser, in place."""
    network.load_state_dict(checkpoint.model)
    ema.load_state_dict(checkpoint.ema)
    for name, parameter in network.named_parameters():
        if name in checkpoint.adam_m:
            step = torch.tensor(float(checkpoint.state["step"]), device=parameter.device)
            state = {"exp_avg": torch.zeros_like(parameter).copy_(checkpoint.adam_m[name])}
            if name in checkpoint.adam_v:  # not where Muon trains
                second = torch.zeros_like(parameter).copy_(checkpoint.adam_v[name])
                state |= {"step": step, "exp_avg_sq": second}
            optimizer.state[parameter] = state


def current_commit() -> str | None:
    """The repository's commit, or None outside one."""
    try:
        found = subprocess.run(
            ["git", "rev-parse", "HEAD"],
            cwd=Path(__file__).parent,
            capture_output=True,
            text=True,
            timeout=10,
            check=False,
        )
    except (OSError, subprocess.SubprocessError):
        return None
    return found.stdout.strip() or None


def _load(path: Path) -> dict:
    if not path.is_file():
        raise CheckpointError(f"{path} is missing")
    return torch.load(path, map_location="cpu", weights_only=True)


def _on_cpu(value: Tensor) -> Tensor:
    """A contiguous copy of its own, so that a file holds these numbers and no larger storage."""
    return value.detach().to("cpu", copy=True).contiguous()


def _temporary(path: Path) -> Path:
    return path.with_name(f".{path.name}.writing")
