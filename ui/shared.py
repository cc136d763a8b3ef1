"""What all visits share: one loaded model, the records, and pictures kept by photo and reading."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from threading import Semaphore

import numpy as np
import streamlit as st
from numpy.typing import NDArray

from ui import cards, loading
from ui.inspecting import sheet
from ui.records import Photo, RecordedReading, Records, open_records
from ui.screening import PhotoReader
from vision.known import NOTHING_KNOWN, Known
from vision.network import Maps, Network, usable_cores
from vision.read import Reader
from vision.reading import PhotoError, PhotoReading


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptOutcome:
    """A reader's answer without the pixels."""

    reading: PhotoReading | None
    error: PhotoError | None


@dataclass(frozen=True, slots=True)
class KeepingReader:
    """Reads through a cache: the same bytes, name, model and things known are read once."""

    inner: Reader
    known: Known = NOTHING_KNOWN

    def knowing(self, known: Known) -> KeepingReader:
        """The same reader, told what a person says of the photos."""
        return KeepingReader(replace(self.inner, known=known), known)

    @property
    def version(self) -> str:
        return self.inner.version

    @property
    def sha256(self) -> str:
        return self.inner.sha256

    def read_bytes(self, data: bytes, name: str) -> KeptOutcome:
        """The reading of `data`, as `PhotoReader.read_bytes` gives it."""
        key = hashlib.sha256(data).hexdigest()
        return _kept(key, name, self.sha256, repr(self.known), data, self.inner)


class InTurn:
    """`network`, looking at no more than `at_once` photos at a time; others wait, first come first.

    Each photo that it looks at takes some 90 MB for good, so that memory grew with the visits.
    """

    def __init__(self, network: Network, at_once: int) -> None:
        self._network = network
        self._places = Semaphore(at_once)

    def __call__(self, pixels: NDArray[np.uint8]) -> Maps:
        with self._places:
            return self._network(pixels)


@st.cache_resource(show_spinner="Loading the model …")
def reader() -> KeepingReader:
    """The one reader of this server; raises WeightsError without usable weights."""
    loaded = loading.load_reader()
    return KeepingReader(replace(loaded, network=InTurn(loaded.network, usable_cores())))


@st.cache_data(max_entries=512, show_spinner=False)
def _kept(
    photo_sha256: str,  # noqa: ARG001 - key of the cache
    name: str,
    model_sha256: str,  # noqa: ARG001 - key of the cache
    known: str,  # noqa: ARG001 - key of the cache
    _data: bytes,
    _reader: PhotoReader,
) -> KeptOutcome:
    outcome = _reader.read_bytes(_data, name)
    return KeptOutcome(reading=outcome.reading, error=outcome.error)


@st.cache_resource(show_spinner="Opening the records …")
def records() -> Records:
    """The one door to the records of this installation; raises Unreachable where it stays shut."""
    return open_records()


@st.cache_data(max_entries=4000, show_spinner="Opening the photo …")
def thumbnail(
    photo_sha256: str,  # noqa: ARG001 - key of the cache
    name: str,
    _load: Callable[[], bytes],
    _reading: PhotoReading | None,
    reading_uid: str,  # noqa: ARG001 - key of the cache: the seams drawn are those of this reading
) -> bytes:
    """A small picture of a photo with its seams drawn, kept by photo and reading."""
    return sheet.thumbnail(_load, name, _reading)


@st.cache_data(max_entries=48, show_spinner="Opening the photo …")
def photo_card(
    photo_uid: str,  # noqa: ARG001 - key of the cache, with the reading
    reading_uid: str,  # noqa: ARG001
    _records: Records,
    _photo: Photo,
    _reading: RecordedReading | None,
) -> cards.Card:
    """A recorded photo with its pictures as the screening page shows them."""
    return cards.make_card(sheet.screened(_records, _photo, _reading), is_sample=False)
