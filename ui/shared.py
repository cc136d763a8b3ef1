"""What all visits share: one loaded model, and readings kept by photo and model."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import streamlit as st

from ui import loading
from ui.screening import PhotoReader
from vision.reading import PhotoError, PhotoReading


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptOutcome:
    """A reader's answer without the pixels."""

    reading: PhotoReading | None
    error: PhotoError | None


@dataclass(frozen=True, slots=True)
class KeepingReader:
    """Reads through a cache: the same bytes, name and model are read once."""

    inner: PhotoReader

    @property
    def version(self) -> str:
        return self.inner.version

    @property
    def sha256(self) -> str:
        return self.inner.sha256

    def read_bytes(self, data: bytes, name: str) -> KeptOutcome:
        """The reading of `data`, as `PhotoReader.read_bytes` gives it."""
        return _kept(hashlib.sha256(data).hexdigest(), name, self.sha256, data, self.inner)


@st.cache_resource(show_spinner="Loading the model …")
def reader() -> KeepingReader:
    """The one reader of this server; raises WeightsError without usable weights."""
    return KeepingReader(loading.load_reader())


@st.cache_data(max_entries=512, show_spinner=False)
def _kept(
    photo_sha256: str,  # noqa: ARG001 - key of the cache
    name: str,
    model_sha256: str,  # noqa: ARG001 - key of the cache
    _data: bytes,
    _reader: PhotoReader,
) -> KeptOutcome:
    outcome = _reader.read_bytes(_data, name)
    return KeptOutcome(reading=outcome.reading, error=outcome.error)
