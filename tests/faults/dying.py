"""Running a step in a process of its own, and the ways in which that process is ended.

- `after_s`: SIGKILL from outside, so many seconds after the step began, wherever it is then;
- `at_event`: SIGKILL at the n-th thing that touches the disk or the database: opening a file to
  write, forcing it to disk, moving it, a statement, before a commit and after it;
- `at_byte`: the system ends the process (SIGXFSZ) in the middle of the write that would go past the
  n-th byte of any file, the database's own among them.

None of them leaves the process a moment to tidy up.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import resource
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, event
from sqlalchemy.engine.default import DefaultDialect

from tests.faults.steps import STEPS, Site, with_a_stand_in
from ui.records import RecordsError

HANGS_S = 120.0
DEATHS = (-signal.SIGKILL, -signal.SIGXFSZ)

NEEDED = (
    "sqlalchemy.dialects.sqlite",
    "tests.faults.troubles",
    "ui.importing",
    "ui.outputs",
    "ui.records",
    "ui.reports",
    "ui.terminal",
    "ui.workers",
)
"""What the steps import on their way: loaded once, then each process is forked with it."""

_starting = multiprocessing.get_context("forkserver")
_starting.set_forkserver_preload(["tests.faults.steps", *NEEDED])


@dataclass(frozen=True, slots=True, kw_only=True)
class Death:
    """When a process is to end; never, with none of the three."""

    after_s: float | None = None
    at_event: int | None = None
    at_byte: int | None = None

    def __str__(self) -> str:
        if self.after_s is not None:
            return f"after {1000 * self.after_s:.0f} ms"
        if self.at_event is not None:
            return f"at event {self.at_event}"
        return "never" if self.at_byte is None else f"at byte {self.at_byte} of a file"


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """How a process went: its exit code (negative for a signal), what it said, how long it ran,
    and how often it touched disk or database, where that was counted."""

    code: int | None
    said: str
    complained: str
    elapsed_s: float
    events: int = 0

    @property
    def killed(self) -> bool:
        return self.code in DEATHS

    @property
    def told(self) -> list[dict[str, Any]]:
        """The objects that it printed, of whole lines only: one cut off tells nobody anything."""
        lines = self.said.split("\n")[:-1]
        return [json.loads(line) for line in lines if line.startswith("{")]


def live(
    name: str, site: Site, death: Death | None = None, before: Callable[[], None] | None = None
) -> Life:
    """Runs the step; `before` is run first in its process (a function of a module, or a partial).

    TimeoutError where it hangs.
    """
    with tempfile.TemporaryDirectory() as talk:  # not in the site: its disk may be full
        return _lived(name, site, death or Death(), before, Path(talk))


def _lived(
    name: str, site: Site, death: Death, before: Callable[[], None] | None, talk: Path
) -> Life:
    ours, theirs = _starting.Pipe()
    process = _starting.Process(target=_live, args=(name, site, death, before, talk, theirs))
    process.start()
    theirs.close()
    count = 0
    try:
        ours.recv()
        began_s = time.monotonic()
        if death.after_s is not None:
            process.join(death.after_s)
            process.kill()
        process.join(HANGS_S)
        if process.is_alive():
            process.kill()
            process.join()
            raise TimeoutError(f"{name} was not done after {HANGS_S:.0f} s")
        elapsed_s = time.monotonic() - began_s
        if ours.poll():
            count = ours.recv()
    except EOFError:
        process.join()
        elapsed_s = 0.0
    return Life(
        code=process.exitcode,
        said=(talk / "said").read_text(encoding="utf-8", errors="replace"),
        complained=(talk / "complained").read_text(encoding="utf-8", errors="replace"),
        elapsed_s=elapsed_s,
        events=count,
    )


def _live(
    name: str,
    site: Site,
    death: Death,
    before: Callable[[], None] | None,
    talk: Path,
    pipe: Connection,
) -> None:
    for number, to in ((1, "said"), (2, "complained")):
        handle = os.open(talk / to, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(handle, number)
        os.close(handle)
    with_a_stand_in()
    if before is not None:
        before()
    if death.at_byte is not None:
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        signal.signal(signal.SIGXFSZ, signal.SIG_DFL)
        resource.setrlimit(resource.RLIMIT_FSIZE, (death.at_byte, death.at_byte))
    counting = _Counting(death.at_event)
    counting.begin()
    pipe.send(None)
    try:
        STEPS[name].run(site)
    except RecordsError as error:  # as a page tells it
        sys.exit(f"seamtriage: {error}")
    finally:
        sys.stdout.flush()
        pipe.send(counting.count)


class _Counting:
    """Counts what touches disk and database, and ends the process at the `last`."""

    def __init__(self, last: int | None) -> None:
        self.count = 0
        self._last = last

    def begin(self) -> None:
        sys.addaudithook(self._audit)
        real_fsync, real_commit = os.fsync, DefaultDialect.do_commit

        def fsync(handle: int) -> None:
            self._hit()
            real_fsync(handle)
            self._hit()

        def do_commit(dialect: Any, connection: Any) -> None:
            self._hit()
            real_commit(dialect, connection)
            self._hit()

        os.fsync = fsync
        DefaultDialect.do_commit = do_commit  # type: ignore[method-assign]
        event.listen(Engine, "before_cursor_execute", lambda *_: self._hit())

    def _audit(self, what: str, arguments: tuple[Any, ...]) -> None:
        writes = os.O_WRONLY | os.O_RDWR | os.O_CREAT
        touches = ("os.rename", "os.remove", "os.mkdir", "os.link", "os.truncate")
        if what in touches or (what == "open" and arguments[2] & writes):
            self._hit()

    def _hit(self) -> None:
        self.count += 1
        if self.count == self._last:
            os.kill(os.getpid(), signal.SIGKILL)
