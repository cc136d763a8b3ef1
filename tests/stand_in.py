"""A reader without weights, and pictures made in memory, for tests of the doors."""

from __future__ import annotations

import hashlib
import io
import os
import signal
import struct
import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pillow_heif
from numpy.typing import NDArray
from PIL import Image

from fittings.words import EvidenceSource, Kind, Orientation, Part, Reading
from models.weights import WeightsError
from vision.calibration import Thresholds
from vision.errors import PhotoUnreadable
from vision.known import NOTHING_KNOWN, Known
from vision.network import Maps
from vision.photo import Photo, open_photo
from vision.reading import Evidence, PhotoError, PhotoReading, Quality, Seam, Verdict

pillow_heif.register_heif_opener()  # to write HEIC with; the reader does so for itself


@dataclass(frozen=True, slots=True, kw_only=True)
class StandInOutcome:
    """As the reader's own outcome, without pixels."""

    reading: PhotoReading | None
    error: PhotoError | None


THRESHOLDS = Thresholds(hold=0.5, doubt=0.3, kind=0.5)


def run_maps(_pixels: NDArray[np.uint8]) -> Maps:
    """The run of a tee from far away, square on: `along` to the right, the outlet's side to the
    camera."""
    height, width = 48, 64
    y, x = np.mgrid[:height, :width].astype(np.float32)
    across, along = (y - 23.5) / 16.0, (x - 7.5) / 48.0
    inside = (abs(across) < 1) & (along >= 0) & (along <= 1)
    turn = np.arcsin(np.clip(across, -1, 1))
    part = np.where(inside, Part.RUN.label, Part.BACKGROUND.label)
    return Maps(
        part=np.eye(len(Part), dtype=np.float32)[part],
        seam=np.eye(4, dtype=np.float32)[np.zeros((height, width), int)],
        along=np.where(inside, along, 0).astype(np.float32),
        around_cos=np.where(inside, np.cos(turn), 0).astype(np.float32),
        around_sin=np.where(inside, np.sin(turn), 0).astype(np.float32),
        kind=np.eye(len(Kind), dtype=np.float32)[Kind.TEE.label],
        fabricated_logit=0.0,
    )


@dataclass(frozen=True, slots=True)
class StandInReader:
    """Answers from the share of red in a photo; draws one seam of each orientation. Its network
    sees the run of a tee in every photo."""

    version: str = "stand-in"
    sha256: str = "0" * 64
    network: Callable[[NDArray[np.uint8]], Maps] = run_maps
    thresholds: Thresholds = THRESHOLDS
    known: Known = NOTHING_KNOWN

    def read_bytes(self, data: bytes, name: str) -> StandInOutcome:
        try:
            photo = open_photo(data, name, max_side_px=400)
        except PhotoUnreadable as error:
            return StandInOutcome(reading=None, error=error.as_photo_error())
        return StandInOutcome(reading=self.read(photo), error=None)

    def read(self, photo: Photo) -> PhotoReading:
        self.network(photo.pixels)
        red = float(photo.pixels[..., 0].mean() / (1.0 + photo.pixels.sum(axis=2).mean()))
        found = red > 0.4
        reading = a_reading(
            photo.width,
            photo.height,
            photo=photo.name,
            sha256=photo.sha256,
            probability=min(1.0, red),
            orientations=tuple(Orientation) if found else (),
        )
        return replace(reading, model_version=self.version, model_sha256=self.sha256)


def a_reading(
    width: int,
    height: int,
    *,
    photo: str = "photo.jpg",
    sha256: str = "0" * 64,
    probability: float = 0.9,
    orientations: tuple[Orientation, ...] = tuple(Orientation),
) -> PhotoReading:
    """A reading of a photo of this size, with one seam of each orientation asked for."""
    turn = np.linspace(0, np.pi, 40)
    paths = {
        Orientation.LONGITUDINAL: (width * (0.2 + 0.6 * turn / np.pi), 0 * turn + 0.7 * height),
        Orientation.CIRCUMFERENTIAL: (
            width * (0.3 + 0.04 * np.sin(turn)),
            height * (0.25 + 0.35 * turn / np.pi),
        ),
        Orientation.BRANCH: (
            width * (0.55 + 0.15 * np.cos(turn)),
            height * (0.35 + 0.1 * np.sin(turn)),
        ),
    }
    seams = tuple(
        Seam(
            orientation=orientation,
            confidence=0.9,
            length_px=0.5 * width,
            surface_angle_deg=None,
            path=tuple(zip(*(axis.tolist() for axis in paths[orientation]), strict=True)),
        )
        for orientation in orientations
    )
    verdict = Verdict(
        reading=Reading.FABRICATION_SEAM if seams else Reading.NO_SEAM_SEEN,
        confidence=0.8,
        fabricated_probability=probability,
        evidence=_evidence(seams),
        next_step="Macro-etch across the suspected line.",
    )
    return PhotoReading(
        photo=photo,
        sha256=sha256,
        width=width,
        height=height,
        kind=Kind.TEE,
        kind_confidence=0.93,
        seams=seams,
        verdict=verdict,
        quality=Quality(usable=True, problems=("The photo is rather dark.",)),
        seen_fraction=0.4,
        model_version="stand-in",
        model_sha256="0" * 64,
        seconds=0.01,
    )


def _evidence(seams: tuple[Seam, ...]) -> tuple[Evidence, ...]:
    if not seams:
        sentence = "No seam was traced on the side shown."
        return (Evidence(sentence=sentence, source=EvidenceSource.WHOLE_PICTURE),)
    sentence = "The seam map shows a seam where outlet and run meet."
    place = seams[-1].middle
    return (Evidence(sentence=sentence, source=EvidenceSource.SEAM_MAP, place=place),)


def picture(width: int = 320, height: int = 240, red: int = 200) -> NDArray[np.uint8]:
    """(height, width, 3) uint8: four quarters of different colours over a soft texture."""
    pixels = np.zeros((height, width, 3), dtype=np.uint8)
    pixels[: height // 2, : width // 2] = (red, 10, 20)
    pixels[: height // 2, width // 2 :] = (red, 200, 20)
    pixels[height // 2 :, : width // 2] = (red, 20, 200)
    pixels[height // 2 :, width // 2 :] = (red, 90, 90)
    return pixels


def encoded(pixels: NDArray[Any], form: str = "JPEG", **options: Any) -> bytes:
    """`pixels` as a file of that form."""
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, form, **options)
    return out.getvalue()


def png_of_size(width: int, height: int) -> bytes:
    """A PNG whose header claims a size that its few bytes don't hold."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        crc = struct.pack(">I", zlib.crc32(kind + body))
        return struct.pack(">I", len(body)) + kind + body + crc

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    parts = (
        chunk(b"IHDR", header),
        chunk(b"IDAT", zlib.compress(b"0" * 1000)),
        chunk(b"IEND", b""),
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def bad_files() -> dict[str, tuple[bytes, str]]:
    """File name → (bytes, the kind of error it must give)."""
    good = encoded(picture())
    frames = [Image.fromarray(picture(red=red)) for red in (0, 120, 240)]
    moving = io.BytesIO()
    frames[0].save(moving, "GIF", save_all=True, append_images=frames[1:])
    return {
        "empty.jpg": (b"", "empty"),
        "text.jpg": (b"Dear inspector, here are the photos.\n" * 20, "not_a_picture"),
        "cut.jpg": (good[: len(good) // 2], "truncated"),
        "dot.png": (encoded(picture()[:1, :1], "PNG"), "too_small"),
        "bomb.png": (png_of_size(30_000, 30_000), "too_large"),
        "moving.gif": (moving.getvalue(), "animated"),
        "drawing.psd": (b"8BPS" + b"\0" * 200, "unsupported"),
    }


def sha256_of(data: bytes) -> str:
    """Hex digest."""
    return hashlib.sha256(data).hexdigest()


def load_stand_in(threads: int) -> StandInReader:
    """For the processes of a batch, which load a reader for themselves."""
    assert threads == 1
    return StandInReader()


def load_fragile(threads: int) -> FragileReader:
    """A reader whose process is killed by a photo called `deadly`."""
    return FragileReader(load_stand_in(threads))


def load_altered(threads: int) -> StandInReader:
    """A reader whose weights are not those that were shipped."""
    raise WeightsError(f"weights {threads} are altered. Restore them")


def load_never(threads: int) -> StandInReader:
    """A reader that can't be loaded; its process ends at once."""
    os._exit(threads)


@dataclass(frozen=True, slots=True)
class FragileReader:
    """As `inner`, until it meets a deadly photo."""

    inner: StandInReader
    version: str = "stand-in"
    sha256: str = "0" * 64

    def read_bytes(self, data: bytes, name: str) -> StandInOutcome:
        if name.startswith("deadly"):
            os.kill(os.getpid(), signal.SIGKILL)
        return self.inner.read_bytes(data, name)


def load_nowhere(_threads: int) -> StandInReader:
    """A reader that can't be loaded for a reason of the machine's own."""
    raise OSError("no disk")


def load_failing(threads: int) -> FailingReader:
    """A reader with a fault of its own that a photo called `odd` brings out."""
    return FailingReader(load_stand_in(threads))


@dataclass(frozen=True, slots=True)
class FailingReader:
    """As `inner`, until it meets an odd photo."""

    inner: StandInReader
    version: str = "stand-in"
    sha256: str = "0" * 64

    def read_bytes(self, data: bytes, name: str) -> StandInOutcome:
        if name.startswith("odd"):
            raise ZeroDivisionError("oops")
        return self.inner.read_bytes(data, name)
