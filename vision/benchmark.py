"""How long a reading takes, in units of decoding: `python -m vision.benchmark`.

Makes a 12-megapixel JPEG, then measures in one run, on one machine: reading it with the model
loaded, decoding it in full, the command from a cold start, its help, and the largest memory of a
process that reads. With `--batch N` also `seamtriage screen` over N such photos: how many a second
for each core, against one at a time in one process, and how much memory grows on the way.

Ratios say something on any machine; the seconds beside them only on this one, and only while
nothing else runs on it.
"""

from __future__ import annotations

import argparse
import io
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from fittings.words import Kind
from models.weights import WeightsError
from synthetic.render import render
from synthetic.sample import sample_scene
from vision.machine import (
    BenchmarkError,
    child_processor_s,
    family,
    hardware,
    installed_command,
    keeps_modules,
    medians_s,
    memory_mb,
    run,
)
from vision.network import usable_cores
from vision.read import Reader

SEED = 900_001
WIDTH_PX, HEIGHT_PX = 4032, 3024
NOISE_LEVELS = 3.0
"""Spread of the sensor's noise, 8-bit levels: with it a picture takes 3 to 4 MB, as a phone's."""

READ_TARGET, COLD_TARGET, MEMORY_TARGET_MB = 3.0, 10.0, 1000.0
HELP_TARGET_S = 0.5
"""Of a processor."""

BATCH_TARGET = 0.8
"""Photos a second of a batch, at least, over cores ÷ seconds of one photo in one process."""

GROWTH_TARGET = 1.1
"""Largest memory of a whole batch over that of its first hundred photos."""

_MEMORY = """
import sys
from pathlib import Path
from vision.machine import peak_memory_mb
from vision.read import Reader
data, reader = Path(sys.argv[1]).read_bytes(), Reader.load()
for _ in range(3):
    assert reader.read_bytes(data, "photo.jpg").reading is not None
print(peak_memory_mb())
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One measurement; `target` is the most that `value` may be (the least, with `at_least`), None
    where nothing is promised."""

    name: str
    value: float
    unit: str
    target: float | None = None
    at_least: bool = False

    @property
    def reached(self) -> bool:
        """Whether what was promised is kept."""
        if self.target is None:
            return True
        return self.value >= self.target if self.at_least else self.value <= self.target

    def text(self) -> str:
        """One line of the table."""
        if self.target is None:
            return f"{self.name:<58}{self.value:>9.2f} {self.unit}"
        word = "reached" if self.reached else "MISSED"
        bound = "at least" if self.at_least else "at most"
        return f"{self.name:<58}{self.value:>9.2f} {self.unit:<6}{bound} {self.target:g}: {word}"


def main(arguments: Sequence[str] | None = None) -> int:
    """The command; 0 when every promise was measured and reached, 1 otherwise."""
    parser = argparse.ArgumentParser(prog="python -m vision.benchmark", description=__doc__)
    parser.add_argument("--repeats", type=int, default=5, help="of each part; the median counts")
    parser.add_argument("--keep", type=Path, help="write the 12-megapixel JPEG here as well")
    parser.add_argument("--batch", type=int, default=0, help="photos of a batch; 0 leaves it out")
    options = parser.parse_args(arguments)
    data, render_s = phone_photo()
    if options.keep is not None:
        options.keep.write_bytes(data)
    print(hardware())
    print(
        f"JPEG of {WIDTH_PX} × {HEIGHT_PX}, {len(data) / 1e6:.1f} MB; medians of {options.repeats}"
    )
    lines = [Line(name="numpy renderer, one picture of 640 × 480", value=render_s, unit="s")]
    problem = None
    try:
        lines += measured(data, options.repeats)
        if options.batch:
            lines += measured_batch(data, options.batch)
    except (BenchmarkError, WeightsError) as error:
        problem = error
    for line in lines:
        print(line.text())
    if problem is not None:
        print(f"Not measured: {problem}", file=sys.stderr)
    return 1 if problem is not None or not all(line.reached for line in lines) else 0


def measured(data: bytes, repeats: int) -> list[Line]:
    """Everything that needs the photo. BenchmarkError or WeightsError when a part can't be had."""
    reader = Reader.load()
    reader.read_bytes(data, "photo.jpg")  # the first reading warms up
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "photo.jpg"
        path.write_bytes(data)
        command = [installed_command(), "screen", str(path), "--json"]
        environment = keeps_modules(Path(folder) / "modules")
        run(command, environment)  # the first run ever compiles modules, the next ones don't
        opencv, pillow, reading, cold = medians_s(
            [
                lambda: decode_opencv(data),
                lambda: decode_pillow(data),
                lambda: reader.read_bytes(data, "photo.jpg"),
                lambda: run(command, environment),
            ],
            repeats,
        )
        help_s = statistics.median(
            child_processor_s([installed_command(), "--help"], environment) for _ in range(repeats)
        )
        memory_mb = float(run([sys.executable, "-c", _MEMORY, str(path)]).strip())
    return [
        Line(name="full decoding with OpenCV", value=opencv, unit="s"),
        Line(name="full decoding with Pillow", value=pillow, unit="s"),
        Line(name="reading, model loaded", value=reading, unit="s"),
        Line(name="  ÷ OpenCV's decoding", value=reading / opencv, unit="", target=READ_TARGET),
        Line(name="  ÷ Pillow's decoding", value=reading / pillow, unit=""),
        Line(name="seamtriage screen from a cold start", value=cold, unit="s"),
        Line(name="  ÷ OpenCV's decoding", value=cold / opencv, unit="", target=COLD_TARGET),
        Line(name="  ÷ Pillow's decoding", value=cold / pillow, unit=""),
        Line(name="seamtriage --help, processor", value=help_s, unit="s", target=HELP_TARGET_S),
        Line(
            name="largest memory of a process that reads",
            value=memory_mb,
            unit="MB",
            target=MEMORY_TARGET_MB,
        ),
    ]


def measured_batch(data: bytes, count: int) -> list[Line]:
    """`seamtriage screen` over `count` photos: its speed a core, and how its memory grows."""
    reader = Reader.load(threads=1)
    reader.read_bytes(data, "photo.jpg")
    (one_s,) = medians_s([lambda: reader.read_bytes(data, "photo.jpg")], 5)
    with tempfile.TemporaryDirectory() as folder:
        first = Path(folder) / "00000.jpg"
        first.write_bytes(data)
        for number in range(1, count):
            (Path(folder) / f"{number:05}.jpg").hardlink_to(first)
        began = perf_counter()
        memory = list(batch_memory_mb(Path(folder)))
        elapsed_s = perf_counter() - began
    if len(memory) != count:
        raise BenchmarkError(f"{count} photos were given and {len(memory)} came back.")
    speed = count / elapsed_s / (usable_cores() / one_s)
    lines = [
        Line(name=f"batch of {count}, photos a second", value=count / elapsed_s, unit=""),
        Line(name="reading on one core", value=one_s, unit="s"),
        Line(
            name="  batch ÷ (cores ÷ reading on one core)",
            value=speed,
            unit="",
            target=BATCH_TARGET,
            at_least=True,
        ),
    ]
    if count > 200:
        lines.append(
            Line(
                name="  memory of all its processes, last ÷ hundredth photo",
                value=statistics.median(memory[-20:]) / statistics.median(memory[90:110]),
                unit="",
                target=GROWTH_TARGET,
            )
        )
    return lines


def batch_memory_mb(folder: Path) -> Iterator[float]:
    """The memory in use by `seamtriage screen` and its workers, at each photo that it gives, MB."""
    command = [installed_command(), "screen", "--json", str(folder)]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as process:
        for line in process.stdout or ():
            if '"verdict"' not in line:
                raise BenchmarkError(f"a photo was not read: {line[:200]}")
            yield sum(map(memory_mb, family(process.pid)))
    if process.returncode != 0:
        raise BenchmarkError(f"the batch ended with exit code {process.returncode}.")


def phone_photo() -> tuple[bytes, float]:
    """A 12-megapixel JPEG of an elbow, and the seconds that rendering it small took on numpy."""
    scene = sample_scene(np.random.default_rng([SEED, 0]), (Kind.ELBOW,))
    start = perf_counter()
    picture = render(scene, 640, 480)
    render_s = perf_counter() - start
    small = np.rint(np.clip(picture.rgb[0], 0.0, 1.0).transpose(1, 2, 0) * 255.0).astype(np.uint8)
    return as_jpeg(enlarged(small, WIDTH_PX, HEIGHT_PX)), render_s


def enlarged(pixels: NDArray[np.uint8], width_px: int, height_px: int) -> NDArray[np.uint8]:
    """(height, width, 3) uint8: `pixels` drawn larger, with a sensor's noise of that size."""
    large = cv2.resize(pixels, (width_px, height_px), interpolation=cv2.INTER_CUBIC)
    noise = np.random.default_rng(SEED).standard_normal((height_px, width_px, 1), np.float32)
    return np.clip(np.rint(large + NOISE_LEVELS * noise), 0, 255).astype(np.uint8)


def as_jpeg(pixels: NDArray[np.uint8]) -> bytes:
    """At quality 95 with halved colour, as phones write it."""
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=95, subsampling="4:2:0")
    return out.getvalue()


def decode_opencv(data: bytes) -> NDArray[np.uint8]:
    """(H, W, 3) uint8, BGR."""
    decoded = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    if decoded is None:
        raise BenchmarkError("OpenCV could not decode the picture.")
    return np.asarray(decoded, np.uint8)


def decode_pillow(data: bytes) -> Image.Image:
    """Wholly decoded."""
    with Image.open(io.BytesIO(data)) as image:
        return image.convert("RGB")


if __name__ == "__main__":
    sys.exit(main())
