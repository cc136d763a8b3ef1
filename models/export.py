"""Turn a trained network into the file that readers use, and check that it says the same.

    python -m models.export --checkpoint runs/first/checkpoint --version 1.0.0

Writes models/weights/NAME.onnx (8 bits, batch, height and width free), its card NAME.json, and
NAME.npz, the weights from which training can go on. A file of 32 bits is made first and run beside
the network on pictures of several sizes; nothing is written when any output differs by more than
the tolerance, or when rounding it to 8 bits changes more than `LARGEST_CHANGE`. With `--mean-with`
the weights are the mean of two networks of one descent (Wortsman et al. 2022, "Model soups").
"""

from __future__ import annotations

import argparse
import dataclasses
import hashlib
import sys
import tempfile
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Any

import numpy as np
import onnx
import onnxruntime
import torch
from torch import Tensor
from torch.nn import functional as F

from models.checkpoints import CheckpointError, load_state, load_weights_only, save_weights
from models.eight_bit import EightBitCheck, check_eight_bit, eight_bit
from models.network import MULTIPLE_OF, NetworkConfig, SeamNetwork, SeamOutput, count_parameters
from models.teacher import Teacher
from models.weights import SHIPPED, WEIGHTS_FOLDER, channel_words, write_card

OPSET = 17  # onnxruntime reads it since 1.13
LARGEST_FILE_BYTES = 16_000_000
TOLERANCE = 2e-3  # in logits, or in units of along, cosine and sine
CHECK_SIZES = ((384, 512), (512, 384), (288, 384), (480, 640))  # (height, width), pixels
RENDERS = 64  # one batch: each kind, none, several pieces
CHECK_PICTURES = 8  # of these, beside the network itself
RENDER_SIZE = (288, 384)  # rendered small, since this runs on the CPU; then brought to each size
LARGEST_CHANGE = {"seam_mean_difference": 0.01, "fabricated_mean_difference": 0.4}
LEAST_SAME = {"same_kind": 0.9, "same_part": 0.97}  # shares
RANGE_PICTURES = 24  # renders that tell the ranges of 8 bits; the others check it
RANGE_SIZE = (384, 512)
LONG_SIDE_PX = 512  # of the pictures that the network was mostly trained on
PLACES = ("out", "photographs", "textures", "photo_trunk", "teacher")  # options that are paths


class ExportError(Exception):
    """The exported file is not fit to be shipped."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportCheck:
    """How far the file and the network lay apart."""

    largest_difference: float
    tolerance: float
    pictures: int
    sizes: tuple[tuple[int, int], ...]  # (height, width), pixels


def load_network(checkpoint: Path, mean_with: Path | None = None) -> SeamNetwork:
    """The running average of a checkpoint, or its mean with other weights, in eval mode, on the
    CPU."""
    state = load_state(checkpoint)
    # Runs from before the norm don't name it, and did without.
    config = NetworkConfig(**{"normed_verdicts": False, **state["network"]})
    network = Teacher(config) if state["config"].get("photo_trunk") else SeamNetwork(config)
    weights = load_weights_only(checkpoint)
    if mean_with is not None:
        other = load_weights_only(mean_with)
        weights = {
            name: (value + other[name]) / 2 if value.is_floating_point() else value
            for name, value in weights.items()
        }
    network.load_state_dict(weights)
    return network.eval()


def onnx_bytes(network: SeamNetwork) -> bytes:
    """The network as one ONNX file; picture `image` in, the fields of `SeamOutput` out."""
    example = torch.zeros(1, 3, 128, 160)
    maps = {0: "batch", 2: "half_height", 3: "half_width"}
    names = SeamOutput._fields
    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
        path = Path(folder) / "network.onnx"
        # This exporter is announced to go one day. It is the one that needs no further package
        # and leaves batch, height and width free without promises about them.
        warnings.simplefilter("ignore", DeprecationWarning)
        torch.onnx.export(
            network.eval(),
            (example,),
            path,
            dynamo=False,
            # Batch norm stays apart and every weight keeps its name, so that training can start
            # from a shipped file (onnxruntime joins them when it loads).
            training=torch.onnx.TrainingMode.PRESERVE,
            do_constant_folding=False,
            opset_version=OPSET,
            input_names=["image"],
            output_names=list(names),
            dynamic_axes={
                "image": {0: "batch", 2: "height", 3: "width"},
                **dict.fromkeys(names[:3], maps),
                **{name: {0: "batch"} for name in names[3:]},
            },
        )
        content = path.read_bytes()
    onnx.checker.check_model(content, full_check=True)
    if len(content) > LARGEST_FILE_BYTES:
        raise ExportError(f"the file has {len(content)} bytes, at most {LARGEST_FILE_BYTES} may be")
    return content


def check_export(
    network: SeamNetwork,
    content: bytes,
    pictures: Tensor,
    *,
    sizes: Sequence[tuple[int, int]] = CHECK_SIZES,
    tolerance: float = TOLERANCE,
) -> ExportCheck:
    """Run the file beside the network on pictures (N, 3, H, W), RGB 0..1, brought to each size.

    ExportError when any output differs by more than `tolerance`, or is not a number.
    """
    session = onnxruntime.InferenceSession(content, providers=["CPUExecutionProvider"])
    largest = 0.0
    for size in sizes:
        image = F.interpolate(pictures, size, mode="bilinear", align_corners=False)
        with torch.no_grad():
            wanted = network.eval()(image)
        got = session.run(list(SeamOutput._fields), {"image": image.numpy()})
        for name, ours, theirs in zip(SeamOutput._fields, wanted, got, strict=True):
            difference = float(np.abs(ours.numpy() - theirs).max())
            if not difference <= tolerance:
                raise ExportError(
                    f"output {name!r} at {size[0]} x {size[1]} pixels differs by {difference:.3g} "
                    f"between network and file; at most {tolerance:.3g} may be"
                )
            largest = max(largest, difference)
    return ExportCheck(
        largest_difference=largest,
        tolerance=tolerance,
        pictures=len(pictures),
        sizes=tuple((int(h), int(w)) for h, w in sizes),
    )


def rounded_bytes(content: bytes, pictures: Tensor) -> tuple[bytes, EightBitCheck]:
    """The file in 8 bits, and what that changed on the pictures (N, 3, H, W) that come after the
    first `RANGE_PICTURES`; ExportError when it is too much."""
    ranges, others = pictures.numpy()[:RANGE_PICTURES], pictures.numpy()[RANGE_PICTURES:]
    rounded = eight_bit(content, ranges)
    check = check_eight_bit(content, rounded, others)
    found = dataclasses.asdict(check) | {"same_kind": check.same_kind / check.pictures}
    for name, limit in LARGEST_CHANGE.items():
        if not found[name] <= limit:
            raise ExportError(f"8 bits: {name} is {found[name]:.3g}, at most {limit} may be")
    for name, limit in LEAST_SAME.items():
        if not found[name] >= limit:
            raise ExportError(f"8 bits: {name} is {found[name]:.3g}, {limit} at least is asked")
    return rounded, check


def make_card(
    content: bytes,
    *,
    name: str,
    version: str,
    check: ExportCheck,
    rounding: EightBitCheck,
    parameters: int,
    state: Mapping[str, Any],
    thresholds: Mapping[str, Any] | None = None,
    calibration: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """The JSON beside the file. `state` is the checkpoint's; thresholds may be filled in later."""
    progress = state["progress"]
    return {
        "name": name,
        "version": version,
        "file": f"{name}.onnx",
        "sha256": hashlib.sha256(content).hexdigest(),
        "bytes": len(content),
        "parameters": parameters,
        "input": {
            "name": "image",
            "shape": "(B, 3, H, W) float32, RGB, display values 0..1",
            "normalisation": "inside the network",
            "multiple_of": MULTIPLE_OF,
            "long_side_px": LONG_SIDE_PX,
        },
        "output": {
            "maps_at": "half the picture's height and width",
            "part": "logits",
            "seam": "logits",
            "surface": "along 0..1, then cosine and sine of around, not normalised",
            "kind": "logits",
            "fabricated": "one logit",
        },
        "words": channel_words(),
        "thresholds": dict(thresholds or {}),
        "calibration": dict(calibration or {}),
        "data_seeds": progress["data_seeds"],
        "training": {
            "steps": progress["step"],
            "pictures": progress["pictures"],
            "elapsed_s": round(progress["elapsed_s"], 1),
            "tuning": {k: v if v == v else None for k, v in progress["figures"].items()},
            "config": without_places(state["config"]),
            "commit": state["commit"],
            "mean_with": state.get("mean_with"),
        },
        "export_check": {
            "largest_difference": check.largest_difference,
            "tolerance": check.tolerance,
            "pictures": check.pictures,
            "sizes": check.sizes,
        },
        "eight_bit_check": dataclasses.asdict(rounding),
    }


def without_places(config: Mapping[str, Any]) -> dict[str, Any]:
    """A run's options, each path without its folders (`teacher` is several, with commas): a card
    tells nothing of the machine."""

    def last(paths: str) -> str:
        return ",".join(PurePath(path).name for path in paths.split(","))

    return {k: last(str(v)) if k in PLACES else v for k, v in config.items()}


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(
        prog="python -m models.export",
        description="Write a trained network as the ONNX file and card that readers use.",
        allow_abbrev=False,
    )
    parser.add_argument("--checkpoint", type=Path, required=True, help="folder of a run")
    parser.add_argument("--version", required=True, help="version told with every reading")
    parser.add_argument("--name", default=SHIPPED, help="default %(default)s")
    parser.add_argument("--out", type=Path, default=WEIGHTS_FOLDER, help="default models/weights")
    parser.add_argument(
        "--mean-with",
        type=Path,
        help="weights to take the mean with, as for training's --start-from",
    )
    options = parser.parse_args(arguments)
    from models.batches import tuning_batches  # renders: heavy, and not for --help

    try:
        state, network = (
            load_state(options.checkpoint),
            load_network(options.checkpoint, options.mean_with),
        )
        if options.mean_with is not None and options.mean_with.is_file():
            other = hashlib.sha256(options.mean_with.read_bytes()).hexdigest()
            state = {**state, "mean_with": f"{options.mean_with.name}, sha256 {other}"}
        content = onnx_bytes(network)
        height, width = RENDER_SIZE
        renders = tuning_batches(
            count=RENDERS, per_rank=RENDERS, height=height, width=width, device=torch.device("cpu")
        )
        check = check_export(network, content, renders[0]["image"][:: RENDERS // CHECK_PICTURES])
        order = torch.randperm(RENDERS, generator=torch.Generator().manual_seed(0))
        shown = F.interpolate(renders[0]["image"][order], RANGE_SIZE, mode="bilinear")
        rounded, rounding = rounded_bytes(content, shown.clamp(0.0, 1.0))
    except (CheckpointError, ExportError) as error:
        print(f"models.export: {error}", file=sys.stderr)
        return 1
    card = make_card(
        rounded,
        name=options.name,
        version=options.version,
        check=check,
        rounding=rounding,
        parameters=count_parameters(network),
        state=state,
    )
    options.out.mkdir(parents=True, exist_ok=True)
    (options.out / card["file"]).write_bytes(rounded)
    save_weights(options.out / f"{options.name}.npz", network)
    write_card(options.out / f"{options.name}.json", card)
    print(f"{options.out / card['file']}: {len(rounded)} bytes, sha256 {card['sha256']}")
    print(f"largest difference {check.largest_difference:.2g} on {check.pictures} pictures")
    print(f"in 8 bits: {rounding}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
