"""What a benchmark asks of the machine: seconds, memory, child processes, what hardware it is."""

from __future__ import annotations

import os
import platform
import shutil
import statistics
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from time import perf_counter

from vision.network import usable_cores

try:
    import resource
except ImportError:  # Windows has none
    resource = None  # type: ignore[assignment]


class BenchmarkError(Exception):
    """A part could not be measured; the message says why."""


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


def keeps_modules(folder: Path) -> dict[str, str]:
    """An environment in which Python keeps what it compiles of its modules: as it usually does, and
    in `folder` where this process's environment forbids it. There every start would compile all of
    the project's modules anew, as nobody's does but a developer's."""
    environment = dict(os.environ)
    if environment.pop("PYTHONDONTWRITEBYTECODE", ""):
        environment["PYTHONPYCACHEPREFIX"] = str(folder)
    return environment


def run(command: Sequence[str], environment: Mapping[str, str] | None = None) -> str:
    """Standard output of a child process; BenchmarkError with its last words when it fails."""
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=environment)
    if done.returncode != 0:
        last = (done.stderr.strip().splitlines() or ["no message"])[-1]
        raise BenchmarkError(f"{Path(command[0]).name} failed: {last}")
    return done.stdout


def child_processor_s(
    command: Sequence[str], environment: Mapping[str, str] | None = None
) -> float:
    """Processor seconds of a child process, its own and the system's for it."""
    before = os.times()
    run(command, environment)
    after = os.times()
    return (
        after.children_user
        + after.children_system
        - (before.children_user + before.children_system)
    )


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


def memory_mb(process_id: int) -> float:
    """Resident memory of a process now, MB; 0 where it has ended or Linux does not tell."""
    try:
        status = Path(f"/proc/{process_id}/status").read_text(encoding="utf-8")
    except OSError:
        return 0.0
    found = [int(line.split()[1]) for line in status.splitlines() if line.startswith("VmRSS:")]
    return sum(found) * 1024 / 1e6


def family(process_id: int) -> list[int]:
    """A process and its children, where Linux tells; else the process alone."""
    children = Path(f"/proc/{process_id}/task/{process_id}/children")
    told = children.read_text(encoding="utf-8").split() if children.exists() else []
    return [process_id, *map(int, told)]


def hardware() -> str:
    """Processor, cores this process may use, Python: one line."""
    python = f"Python {platform.python_version()}, {platform.system()}"
    return f"{processor()}, {usable_cores()} cores; {python}"


def processor() -> str:
    """The processor's name as far as the system tells."""
    info = Path("/proc/cpuinfo")
    if info.exists():
        for line in info.read_text(encoding="utf-8", errors="replace").splitlines():
            if line.startswith("model name"):
                return line.partition(":")[2].strip()
    return platform.processor() or platform.machine() or "unknown processor"
