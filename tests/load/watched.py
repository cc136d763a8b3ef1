"""A server under watch: its log, and the resident memory of all its processes."""

from __future__ import annotations

import os
import subprocess
import threading
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from ui.records.places import RECORDS_SETTING
from ui.serving import allowed_hosts, free_port, page_address, streamlit_command
from vision.machine import family, installed_command, memory_mb

SAMPLED_EVERY_S = 0.25
START_LIMIT_S = 180.0


@dataclass(slots=True)
class Watched:
    """A running server. `sampled_mb` grows by one value each quarter of a second."""

    address: str
    log: Path
    process: subprocess.Popen[bytes]
    sampled_mb: list[float] = field(default_factory=list)

    @property
    def now_mb(self) -> float:
        """Of the server and its children, pages that they share counted for each."""
        return sum(map(memory_mb, family(self.process.pid)))

    @property
    def peak_mb(self) -> float:
        return max(self.sampled_mb, default=0.0)

    def complaints(self) -> list[str]:
        """Whatever the server has said on standard error since it first answered."""
        said = self.log.read_text(encoding="utf-8", errors="replace")
        return [line for line in said.splitlines() if line.strip()]

    def tracebacks(self) -> list[str]:
        """The last line of each; libraries that decode also say what is wrong with a file."""
        said = self.log.read_text(encoding="utf-8", errors="replace")
        _, *each = said.split("Traceback (most recent call last):\n")
        return [next(li for li in e.splitlines() if li[:1] not in ("", " ")) for e in each]


def shipped_pages(port: int) -> list[str]:
    """The command of a user."""
    return [installed_command(), "serve", "--port", str(port)]


def pages_of(app: Path, port: int) -> list[str]:
    """Serves another `app` with the settings of the shipped pages."""
    return streamlit_command(app, "127.0.0.1", port, allowed_hosts("127.0.0.1"))


@contextmanager
def watched_server(folder: Path, app: Path | None = None) -> Iterator[Watched]:
    """Serves the shipped pages (or `app`) on a free port, with records of their own in `folder`."""
    port = free_port("127.0.0.1", 0)
    log = folder / "serve.log"
    with log.open("ab") as said:
        server = subprocess.Popen(
            shipped_pages(port) if app is None else pages_of(app, port),
            stdout=subprocess.DEVNULL,
            stderr=said,
            env={**os.environ, RECORDS_SETTING: str(folder / "records.sqlite")},
        )
    over = threading.Event()
    watched = Watched(address=page_address("127.0.0.1", port), log=log, process=server)

    def sample() -> None:
        while not over.wait(SAMPLED_EVERY_S):
            watched.sampled_mb.append(watched.now_mb)

    try:
        _wait_for_answer(watched)
        os.truncate(log, 0)  # what it said of the samples before
        threading.Thread(target=sample, daemon=True).start()
        yield watched
    finally:
        over.set()
        server.terminate()
        server.wait(timeout=60)


def _wait_for_answer(watched: Watched) -> None:
    end_s = time.monotonic() + START_LIMIT_S
    while time.monotonic() < end_s and watched.process.poll() is None:
        with suppress(OSError), urllib.request.urlopen(watched.address + "/_stcore/health"):
            return
        time.sleep(0.1)
    raise RuntimeError("the server ended or did not answer: " + " ".join(watched.complaints()))
