"""A photo in, its advisory reading out: the one way that command line, pages and exam all take."""

from __future__ import annotations

import time
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from models.weights import WEIGHTS_FOLDER, LoadedWeights, WeightsError, load_weights
from vision.calibration import Calibration, Thresholds, from_card
from vision.errors import PhotoUnreadable
from vision.judging import judged
from vision.known import NOTHING_KNOWN, Known
from vision.network import Network, OnnxNetwork, network_size
from vision.photo import Photo, open_photo
from vision.reading import PhotoError, PhotoReading
from vision.second_look import looking_twice


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of one photo: a reading, or the error that stands in its place."""

    reading: PhotoReading | None
    error: PhotoError | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reader:
    """A network with its calibration. `version` and `sha256` are the weights'; `known` is what a
    person says of every photo that it reads."""

    network: Network
    thresholds: Thresholds
    calibration: Calibration
    version: str
    sha256: str
    known: Known = NOTHING_KNOWN

    @staticmethod
    def load(
        threads: int | None = None, *, wait: bool = True, folder: Path = WEIGHTS_FOLDER
    ) -> Reader:
        """The reader with the shipped weights, or a folder's; WeightsError when they are missing or
        altered.

        `threads` and `wait` as in `vision.network.OnnxNetwork`.
        """
        weights = load_weights(folder)
        try:
            thresholds, calibration = from_card(weights.card)
        except ValueError as error:
            raise WeightsError(f"the weights in {folder} cannot be used: {error}") from error
        return Reader(
            network=network_of(weights, threads, wait=wait),
            thresholds=thresholds,
            calibration=calibration,
            version=weights.version,
            sha256=weights.sha256,
        )

    def read_bytes(self, data: bytes, name: str) -> Outcome:
        """Open and read a photo's bytes; a photo that cannot be opened gives its named error."""
        began_s = time.perf_counter()
        try:
            photo = open_photo(data, name, max_side_px=OPEN_SIDE_PX)
        except PhotoUnreadable as error:
            return Outcome(reading=None, error=error.as_photo_error())
        return Outcome(reading=self.read(photo, began_s=began_s), error=None)

    def read(self, photo: Photo, *, began_s: float | None = None) -> PhotoReading:
        """Read an opened photo."""
        began_s = time.perf_counter() if began_s is None else began_s
        pixels = for_network(photo)
        maps = self.network(pixels)
        return judged(
            photo,
            pixels,
            maps,
            thresholds=self.thresholds,
            calibration=self.calibration,
            model=(self.version, self.sha256),
            began_s=began_s,
            known=self.known,
        )


def network_of(weights: LoadedWeights, threads: int | None = None, *, wait: bool = True) -> Network:
    """The network as photos are read by it, and as it is calibrated: looking twice.

    `threads` and `wait` as in `vision.network.OnnxNetwork`.
    """
    return looking_twice(OnnxNetwork(weights, threads, wait=wait))


OPEN_SIDE_PX = 1024
"""Photos are decoded no larger than this: twice what the network looks at."""


def for_network(photo: Photo) -> NDArray[np.uint8]:
    """The photo at the network's size, (H, W, 3) uint8 RGB."""
    size = network_size(photo.width, photo.height)
    rows, columns = photo.pixels.shape[:2]
    shrinks = size[0] <= columns and size[1] <= rows
    how = cv2.INTER_AREA if shrinks else cv2.INTER_LINEAR
    return np.ascontiguousarray(cv2.resize(photo.pixels, size, interpolation=how))
