"""The network's file with its convolutions in whole numbers: a third of the time to read a photo.

Weights are rounded to 7 bits per output channel, since processors without VNNI add pairs of
products of 8 bits in 16 and would overflow; what goes in, to 8 bits over the range that it had on
pictures.
Method: static quantisation as onnxruntime does it (its documentation, "Quantize ONNX models").
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import onnxruntime
from numpy.typing import NDArray

from models.network import SeamOutput


@dataclass(frozen=True, slots=True, kw_only=True)
class EightBitCheck:
    """What rounding changes, over pictures that the ranges were not taken from."""

    pictures: int
    same_kind: int
    same_part: float  # share of the pixels
    seam_mean_difference: float  # of the probability that a pixel is on a seam
    fabricated_mean_difference: float  # logits
    fabricated_largest_difference: float  # logits


def eight_bit(content: bytes, pictures: NDArray[np.float32]) -> bytes:
    """A 32-bit ONNX network as one of 8 bits; the ranges are those on `pictures` (N, 3, H, W)."""
    from onnxruntime.quantization import (  # needs onnx, as exporting does
        QuantFormat,
        QuantType,
        quantize_static,
    )

    with tempfile.TemporaryDirectory() as folder:
        whole, joined, rounded = (Path(folder) / f"{n}.onnx" for n in ("whole", "joined", "small"))
        whole.write_bytes(content)
        options = onnxruntime.SessionOptions()
        # Joins batch norm with its convolution, which is what is rounded.
        level = onnxruntime.GraphOptimizationLevel.ORT_ENABLE_BASIC
        options.graph_optimization_level = level
        options.optimized_model_filepath = str(joined)
        onnxruntime.InferenceSession(str(whole), options, providers=["CPUExecutionProvider"])
        quantize_static(
            joined,
            rounded,
            _Pictures(pictures),
            quant_format=QuantFormat.QDQ,
            per_channel=True,
            reduce_range=True,
            activation_type=QuantType.QUInt8,
            weight_type=QuantType.QInt8,
            op_types_to_quantize=["Conv"],
        )
        return rounded.read_bytes()


def check_eight_bit(content: bytes, rounded: bytes, pictures: NDArray[np.float32]) -> EightBitCheck:
    """Both files on `pictures` (N, 3, H, W)."""
    kinds, parts, seams, verdicts = [], [], [], []
    files = [
        onnxruntime.InferenceSession(file, providers=["CPUExecutionProvider"])
        for file in (content, rounded)
    ]
    for picture in pictures:
        first, second = (
            SeamOutput(*file.run(list(SeamOutput._fields), {"image": picture[None]}))
            for file in files
        )
        kinds.append(int(np.argmax(first.kind)) == int(np.argmax(second.kind)))
        parts.append(float((np.argmax(first.part, 1) == np.argmax(second.part, 1)).mean()))
        seams.append(float(np.abs(_on_seam(first.seam) - _on_seam(second.seam)).mean()))
        verdicts.append(float(np.abs(first.fabricated - second.fabricated).max()))
    return EightBitCheck(
        pictures=len(pictures),
        same_kind=sum(kinds),
        same_part=float(np.mean(parts)),
        seam_mean_difference=float(np.mean(seams)),
        fabricated_mean_difference=float(np.mean(verdicts)),
        fabricated_largest_difference=max(verdicts),
    )


def _on_seam(logits: Any) -> NDArray[np.float32]:
    powers = np.exp(logits - logits.max(axis=1, keepdims=True))
    return np.asarray(1.0 - powers[:, 0] / powers.sum(axis=1))


class _Pictures:
    """Pictures one by one, in the form that onnxruntime asks for them."""

    def __init__(self, pictures: NDArray[np.float32]) -> None:
        self._left: Iterator[NDArray[np.float32]] = iter(pictures)

    def get_next(self) -> dict[str, NDArray[np.float32]] | None:
        picture = next(self._left, None)
        return None if picture is None else {"image": picture[None]}
