"""`seamtriage serve` under watch: its log, and the resident memory of all its processes."""

from __future__ import annotations

import os
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from ui.records.places import RECORDS_SETTING
from ui.serving import free_port, page_address
from vision.machine import family, installed_command, memory_mb

SAMPLED_EVERY_S = 0.25
START_LIMIT_S = 180.0


@dataclass(slots=True)
class Watched:
    """A running server. `sampled_mb` grows by one value each quarter of a second."""

    address: str
    log: Path
    sampled_mb: list[float] = field(default_factory=list)

    @property
    def peak_mb(self) -> float:
        return max(self.sampled_mb, default=0.0)

    def complaints(self) -> list[str]:
        """Whatever the server has said on standard error since it told its address."""
        said = self.log.read_text(encoding="utf-8", errors="replace")
        return [line for line in said.splitlines() if line.strip()]


@contextmanager
def watched_server(folder: Path) -> Iterator[Watched]:
    """Serves the pages on a free port, with records of their own in `folder`."""
    port = free_port("127.0.0.1", 0)
    log = folder / "serve.log"
    command = [installed_command(), "serve", "--port", str(port)]
    environment = {**os.environ, RECORDS_SETTING: str(folder / "records.sqlite")}
    with log.open("wb") as said:
        server = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=said, text=True, env=environment
        )
    over = threading.Event()
    watched = Watched(address=page_address("127.0.0.1", port), log=log)

    def sample() -> None:
        while not over.wait(SAMPLED_EVERY_S):
            watched.sampled_mb.append(sum(map(memory_mb, family(server.pid))))

    try:
        _wait_for_address(server, watched.address)
        os.truncate(log, 0)  # what it said of the samples before
        watcher = threading.Thread(target=sample, daemon=True)
        watcher.start()
        yield watched
    finally:
        over.set()
        server.terminate()
        server.wait(timeout=60)


def _wait_for_address(server: subprocess.Popen[str], address: str) -> None:
    late = threading.Timer(START_LIMIT_S, server.kill)
    late.start()
    try:
        for line in server.stdout or ():
            if address in line:
                return
    finally:
        late.cancel()
    raise RuntimeError("seamtriage serve ended, or did not tell its address in time.")
