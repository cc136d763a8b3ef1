"""How long a reading takes, in units of decoding: `python -m vision.benchmark`.

Makes a 12-megapixel JPEG, then measures in one run, on one machine: reading it with the model
loaded, decoding it in full, the command from a cold start, and the largest memory of a process that
reads. Ratios say something on any machine; the seconds beside them only on this one.
"""

from __future__ import annotations

import argparse
import io
import os
import platform
import shutil
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable, Sequence
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
from vision.read import Reader

try:
    import resource
except ImportError:  # Windows has none
    resource = None  # type: ignore[assignment]

SEED = 900_001
WIDTH_PX, HEIGHT_PX = 4032, 3024
NOISE_LEVELS = 3.0
"""Spread of the sensor's noise, 8-bit levels: with it a picture takes 3 to 4 MB, as a phone's."""

READ_TARGET, COLD_TARGET, MEMORY_TARGET_MB = 5.0, 10.0, 1000.0

_MEMORY = """
import sys
from pathlib import Path
from vision.benchmark import peak_memory_mb
from vision.read import Reader
data, reader = Path(sys.argv[1]).read_bytes(), Reader.load()
for _ in range(3):
    assert reader.read_bytes(data, "photo.jpg").reading is not None
print(peak_memory_mb())
"""


class BenchmarkError(Exception):
    """A part could not be measured; the message says why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One measurement; `target` is the most that `value` may be, None where nothing is promised."""

    name: str
    value: float
    unit: str
    target: float | None = None

    def text(self) -> str:
        """One line of the table."""
        if self.target is None:
            return f"{self.name:<58}{self.value:>9.2f} {self.unit}"
        word = "reached" if self.value <= self.target else "MISSED"
        return (
            f"{self.name:<58}{self.value:>9.2f} {self.unit:<6}at most {self.target:g}: {word}"
        ).rstrip()


def main(arguments: Sequence[str] | None = None) -> int:
    """The command; 0 when every promise was measured and reached, 1 otherwise."""
    parser = argparse.ArgumentParser(prog="python -m vision.benchmark", description=__doc__)
    parser.add_argument("--repeats", type=int, default=5, help="of each part; the median counts")
    parser.add_argument("--keep", type=Path, help="write the 12-megapixel JPEG here as well")
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
    except (BenchmarkError, WeightsError) as error:
        problem = error
    for line in lines:
        print(line.text())
    if problem is not None:
        print(f"Not measured: {problem}", file=sys.stderr)
    missed = [line for line in lines if line.target is not None and line.value > line.target]
    return 1 if problem is not None or missed else 0


def measured(data: bytes, repeats: int) -> list[Line]:
    """Everything that needs the photo. BenchmarkError or WeightsError when a part can't be had."""
    reader = Reader.load()
    reader.read_bytes(data, "photo.jpg")  # the first reading warms up
    opencv, pillow, reading = medians_s(
        [
            lambda: decode_opencv(data),
            lambda: decode_pillow(data),
            lambda: reader.read_bytes(data, "photo.jpg"),
        ],
        repeats,
    )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "photo.jpg"
        path.write_bytes(data)
        command = [installed_command(), "screen", str(path), "--json"]
        (cold,) = medians_s([lambda: run(command)], repeats)
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
        Line(
            name="largest memory of a process that reads",
            value=memory_mb,
            unit="MB",
            target=MEMORY_TARGET_MB,
        ),
    ]


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


def medians_s(parts: Sequence[Callable[[], object]], repeats: int) -> tuple[float, ...]:
    """Median seconds of each part; they take turns, so that a busy moment meets them all."""
    taken: list[list[float]] = [[] for _ in parts]
    for _ in range(repeats):
        for times, part in zip(taken, parts, strict=True):
            start = perf_counter()
            part()
            times.append(perf_counter() - start)
    return tuple(statistics.median(times) for times in taken)


def installed_command() -> str:
    """Path of `seamtriage`, beside this Python first; BenchmarkError when it is not installed."""
    beside = shutil.which("seamtriage", path=str(Path(sys.executable).parent))
    found = beside or shutil.which("seamtriage")
    if found is None:
        raise BenchmarkError("the command seamtriage is not installed: pip install -e .")
    return found


def run(command: Sequence[str]) -> str:
    """Standard output of a child process; BenchmarkError with its last words when it fails."""
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        last = (done.stderr.strip().splitlines() or ["no message"])[-1]
        raise BenchmarkError(f"{Path(command[0]).name} failed: {last}")
    return done.stdout


def peak_memory_mb() -> float:
    """Largest resident memory of this process so far, MB. BenchmarkError where it can't be told.

    Linux's VmHWM is asked first: its `ru_maxrss` starts from what the parent held.
    """
    status = Path("/proc/self/status")
    if status.exists():
        for line in status.read_text(encoding="utf-8").splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) * 1024 / 1e6
    if resource is None:
        raise BenchmarkError("this system does not tell a process's largest memory.")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / 1e6 if sys.platform == "darwin" else peak * 1024 / 1e6


def hardware() -> str:
    """Processor, cores this process may use, Python: one line."""
    usable = getattr(os, "sched_getaffinity", None)
    cores = len(usable(0)) if usable is not None else os.cpu_count()
    return f"{processor()}, {cores} cores; Python {platform.python_version()}, {platform.system()}"


def processor() -> str:
    """The processor's name as far as the system tells."""
    info = Path("/proc/cpuinfo")
    if info.exists():
        for line in info.read_text(encoding="utf-8", errors="replace").splitlines():
            if line.startswith("model name"):
                return line.partition(":")[2].strip()
    return platform.processor() or platform.machine() or "unknown processor"


if __name__ == "__main__":
    sys.exit(main())
