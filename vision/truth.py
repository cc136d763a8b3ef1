"""A scene's exact truth as a network's answer: the perfect network.

With it in the network's place, what is still wrong with a reading is the geometry's or the
tracing's own doing.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fittings.words import Kind, Orientation, Part
from synthetic.render import Picture
from vision.network import Maps


def truth_maps(picture: Picture, kind: Kind, *, fabricated: bool, sureness: float = 0.98) -> Maps:
    """Maps (H / 2, W / 2) of the first picture of a batch, as a network would give them.

    `sureness` is the probability given to each true class; the rest is spread evenly.
    """
    truth = picture.truth
    part = _halved(truth.part[0])
    seam = _any_of_four(truth.seam[0])
    return Maps(
        part=_one_hot(part, len(Part), sureness),
        seam=_one_hot(seam, 1 + len(Orientation), sureness),
        along=_halved(truth.along[0]),
        around_cos=_halved(truth.around_cos[0]),
        around_sin=_halved(truth.around_sin[0]),
        kind=_one_hot(np.array(kind.label), len(Kind), sureness),
        fabricated_logit=6.0 if fabricated else -6.0,
    )


def _halved(field: NDArray) -> NDArray[np.float32]:
    return np.ascontiguousarray(field[::2, ::2], np.float32)


def _any_of_four(labels: NDArray) -> NDArray[np.float32]:
    h, w = labels.shape
    return labels.reshape(h // 2, 2, w // 2, 2).max(axis=(1, 3)).astype(np.float32)


def _one_hot(labels: NDArray, classes: int, sureness: float) -> NDArray[np.float32]:
    rest = (1.0 - sureness) / (classes - 1)
    hot = labels[..., None] == np.arange(classes)
    return np.where(hot, sureness, rest).astype(np.float32)
