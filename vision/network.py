"""The network as the reader sees it: a picture in, maps and two verdicts out. No torch.

A network is any callable of that form, so that a scene's exact truth can stand in for a perfect
one.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from threading import Thread

import numpy as np
import onnxruntime
from numpy.typing import NDArray

from models.weights import LoadedWeights, WeightsError

MULTIPLE_OF_PX = 32
LONG_SIDE_PX = 512
"""The picture's long side when the network looks at it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Maps:
    """What a network says of one picture. Maps are (h, w, …) float32 at half the size it was given.

    `part` and `seam` are probabilities over `fittings.words` labels (seam 0 is none), `along` 0 to
    1, `around_cos` and `around_sin` of the angle about the centreline, `kind` (4,) probabilities,
    `fabricated_logit` the whole picture's log-odds of a fabrication. `winner` (h, w) is the label
    of each pixel's likeliest part.
    """

    part: NDArray[np.float32]
    seam: NDArray[np.float32]
    along: NDArray[np.float32]
    around_cos: NDArray[np.float32]
    around_sin: NDArray[np.float32]
    kind: NDArray[np.float32]
    fabricated_logit: float
    winner: NDArray[np.intp] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        h, w = self.part.shape[:2]
        for name in ("seam", "along", "around_cos", "around_sin"):
            if getattr(self, name).shape[:2] != (h, w):
                raise ValueError(f"{name} is not {h} by {w} like part")
        object.__setattr__(self, "winner", self.part.argmax(axis=-1))

    @property
    def shape(self) -> tuple[int, int]:
        """(height, width) of the maps."""
        return self.part.shape[0], self.part.shape[1]


def usable_cores() -> int:
    """Processor cores that this process may use."""
    usable = getattr(os, "sched_getaffinity", None)
    return len(usable(0)) if usable is not None else os.cpu_count() or 1


SPIN_US = 200
"""Longer than a thread waits between two layers, and short beside a reading. On two cores that
others used too, two threads took 176 ms (292 ms of processor time) so, 216 (290) without any
spinning, and 219 (372) with onnxruntime's own, which also goes on for 30 ms after each answer."""

Network = Callable[[NDArray[np.uint8]], Maps]


def network_size(width: int, height: int, long_side_px: int = LONG_SIDE_PX) -> tuple[int, int]:
    """(width, height) for the network: the long side as asked, both sides multiples of 32."""
    scale = long_side_px / max(width, height)

    def side(length: int) -> int:
        return max(MULTIPLE_OF_PX, round(length * scale / MULTIPLE_OF_PX) * MULTIPLE_OF_PX)

    return side(width), side(height)


class OnnxNetwork:
    """The shipped network in an onnxruntime session, safe to share between threads.

    It uses `threads` processor cores; up to four where that is not said. Without `wait` the session
    is made in a thread of its own while the first photo is opened, and a file that cannot be run is
    told when that photo is looked at.
    """

    def __init__(
        self, weights: LoadedWeights, threads: int | None = None, *, wait: bool = True
    ) -> None:
        options = session_options(threads or min(4, usable_cores()))
        self._session: onnxruntime.InferenceSession | None = None
        self._error: Exception | None = None
        self._making = Thread(target=self._make, args=(weights.onnx, options))
        self._making.start()
        if wait:
            self._made()

    def _make(self, onnx: bytes, options: onnxruntime.SessionOptions) -> None:
        try:
            self._session = onnxruntime.InferenceSession(
                onnx, options, providers=["CPUExecutionProvider"]
            )
        except Exception as error:  # onnxruntime raises its own kinds, all meaning the same here
            self._error = error

    def _made(self) -> onnxruntime.InferenceSession:
        self._making.join()
        if self._session is None:
            raise WeightsError(f"the network's file cannot be run: {self._error}") from self._error
        return self._session

    def __call__(self, pixels: NDArray[np.uint8]) -> Maps:
        """`pixels` is (H, W, 3) uint8 RGB, H and W multiples of 32."""
        image = np.ascontiguousarray(pixels.transpose(2, 0, 1))[None] * np.float32(1.0 / 255.0)
        part, seam, surface, kind, fabricated = self._made().run(
            ["part", "seam", "surface", "kind", "fabricated"], {"image": image}
        )
        return Maps(
            part=softmax(part[0]).transpose(1, 2, 0),
            seam=softmax(seam[0]).transpose(1, 2, 0),
            along=surface[0, 0],
            around_cos=surface[0, 1],
            around_sin=surface[0, 2],
            kind=softmax(kind[0]),
            fabricated_logit=float(fabricated[0, 0]),
        )


def session_options(threads: int) -> onnxruntime.SessionOptions:
    """How the network is run on so many cores. Nothing here changes what it answers.

    A thread that waits for its share of a layer asks for it again and again for `SPIN_US`, and then
    leaves its core to others. Without a plan of its memory the network keeps what it allocated from
    one photo to the next; with one it asks for 75 MB anew at its second.
    """
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = threads
    options.add_session_config_entry("session.intra_op.spin_duration_us", str(SPIN_US))
    options.enable_mem_pattern = False
    options.log_severity_level = 3
    return options


def softmax(logits: NDArray[np.float32]) -> NDArray[np.float32]:
    """Probabilities over the first axis."""
    powers = np.exp(logits - logits.max(axis=0))
    return np.asarray(powers / powers.sum(axis=0))
