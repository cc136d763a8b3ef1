"""Batches over a Dask cluster: what one machine gives, whatever happens to the cluster."""

from __future__ import annotations

import asyncio
import json
import os
import re
import socket
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from functools import partial
from itertools import islice
from pathlib import Path
from typing import Any

import pytest
from distributed import Client, LocalCluster

from models.weights import WeightsError, load_weights
from tests import stand_in
from tests.stand_in import StandInReader, encoded, picture
from tests.ui.test_workers import plain, some_photos
from ui import batch, cli, cluster, screen_command
from ui.cluster import ClusterFailed, scheduler_address, screen_on_cluster
from ui.cluster_task import Run
from ui.loading import SAMPLES
from ui.screening import Screened, screen
from vision.errors import NotFound
from vision.sources import Found

ROOT = Path(__file__).resolve().parents[2]


def run_of(load: batch.Loader, **changes: str) -> Run:
    """A batch for the stand-in's cluster, as if this machine had the stand-in's weights."""
    return Run(**{**fields_of(Run.of_this_machine(load)), "weights": "0" * 64, **changes})


def fields_of(run: Run) -> dict[str, Any]:
    return {name: getattr(run, name) for name in Run.__slots__}


# ------------------------------------------------------------------------------ several processes


@contextmanager
def processes(folder: Path, workers: int) -> Iterator[str]:
    """A scheduler and so many workers, each a process that nobody starts again; the address."""
    found = os.pathsep.join((str(ROOT), os.environ.get("PYTHONPATH", "")))
    environment = {**os.environ, "PYTHONPATH": found, "OMP_NUM_THREADS": "1"}
    file = folder / "scheduler.json"
    log = (folder / "log.txt").open("wb")
    started: list[subprocess.Popen[bytes]] = []

    def start(module: str, *arguments: str) -> None:
        command = [sys.executable, "-m", f"distributed.cli.{module}", "--no-dashboard", *arguments]
        started.append(
            subprocess.Popen(command, stdout=log, stderr=log, env=environment, cwd=folder)
        )

    try:
        to_scheduler = ("--scheduler-file", str(file))
        start("dask_scheduler", "--host", "127.0.0.1", "--port", "0", *to_scheduler)
        for _ in range(workers):
            start("dask_worker", "--nthreads", "1", "--no-nanny", *to_scheduler)
        until(lambda: written(file))
        address = json.loads(file.read_text())["address"]
        with Client(address, set_as_default=False) as client:
            client.wait_for_workers(workers, timeout=60)
        yield address
    finally:
        for process in started:
            process.kill()
            process.wait()
        log.close()


def written(file: Path) -> bool:
    """Whether the whole of a JSON file is there."""
    try:
        return bool(json.loads(file.read_text()))
    except (FileNotFoundError, ValueError):
        return False


def until(true: Callable[[], bool]) -> None:
    end = time.monotonic() + 60
    while not true():
        assert time.monotonic() < end
        time.sleep(0.05)


def load_noting(_threads: int, folder: Path) -> NotingReader:
    return NotingReader(folder)


class NotingReader(StandInReader):
    """Notes each photo that it begins; its process is killed by a `deadly` photo every time, and by
    a `fatal` one the first time that anybody meets it."""

    def __init__(self, folder: Path) -> None:
        super().__init__()
        object.__setattr__(self, "folder", folder)

    def read_bytes(self, data: bytes, name: str) -> stand_in.StandInOutcome:
        time.sleep(0.02)  # so that every worker has its share
        with (self.folder / "begun.txt").open("a") as notes:
            notes.write(f"{name}\n")
        if name.startswith("deadly") or (name.startswith("fatal") and self.met_first(name)):
            os.kill(os.getpid(), 9)
        return super().read_bytes(data, name)

    def met_first(self, name: str) -> bool:
        try:
            (self.folder / name).touch(exist_ok=False)
        except FileExistsError:
            return False
        return True


def photos_with(name: str) -> list[Found]:
    """Good and bad photos with one of that name in their midst."""
    several = some_photos()
    odd = Found(name=name, content=encoded(picture(red=90)))
    return [*several[:12], odd, *several[12:]]


def test_processes_of_which_some_are_killed_give_what_one_machine_gives(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Four workers. The first is killed over a photo that any other can read; the next two by one
    that nobody can; the last reads with the shipped network what the command line reads alone."""
    run = run_of(partial(load_noting, folder=tmp_path))
    with processes(tmp_path, workers=4) as address:
        photos = photos_with("fatal.jpg")
        told: list[tuple[int, str]] = []
        results = list(screen_on_cluster(photos, address, run, lambda *done: told.append(done)))
        assert plain(results) == plain(list(screen(photos, StandInReader())))
        assert told == list(enumerate(photo.name for photo in photos))
        begun = Counter((tmp_path / "begun.txt").read_text().split("\n"))
        assert begun["fatal.jpg"] == 2
        assert workers_of(address) == 3

        only_once(address)
        photos = photos_with("deadly.jpg")
        results = list(screen_on_cluster(photos, address, run))
        alone = list(screen(photos, StandInReader()))
        killed = results.pop(12)
        del alone[12]
        assert plain(results) == plain(alone)
        assert killed.error is not None
        assert (killed.name, killed.error.kind) == ("deadly.jpg", "reading_stopped")
        assert killed.error.message.startswith("deadly.jpg: could not be read: the workers that")
        assert workers_of(address) == 1

        given = [str(each) for each in sorted(SAMPLES.glob("*.jpg"))[:3:2]]
        lines, files = {}, {}
        for where in ([], ["--scheduler", address]):
            out = tmp_path / f"out-{len(where)}"
            options = ["--json", "--nps", "6", "--out", str(out), *where]
            monkeypatch.setattr(sys, "argv", ["seamtriage", "screen", *given, *options])
            with pytest.raises(SystemExit) as ended:
                cli.main()
            assert ended.value.code == 0
            text = capsys.readouterr().out
            lines[len(where)] = re.sub(r'"seconds": [0-9.e-]+', "", text)
            files[len(where)] = {each.name: each.read_bytes() for each in sorted(out.iterdir())}
    assert lines[2] == lines[0]
    assert lines[0].count(load_weights().sha256) == 2
    assert files[2] == files[0]
    assert len(files[0]) == 4


def workers_of(address: str) -> int:
    with Client(address, set_as_default=False) as client:
        return len(client.nthreads())


def only_once(address: str) -> None:
    """From now on Dask gives up at once on whatever a lost worker had."""

    def set_it(dask_scheduler: Any) -> None:
        dask_scheduler.allowed_failures = 0

    with Client(address, set_as_default=False) as client:
        client.run_on_scheduler(set_it)


# ------------------------------------------------------------------------------ one process


@pytest.fixture
def small() -> Iterator[LocalCluster]:
    """A scheduler and a worker of two threads in this process."""
    with in_this_process(1) as made:
        yield made


def in_this_process(workers: int) -> LocalCluster:
    return LocalCluster(
        n_workers=workers,
        threads_per_worker=2,
        processes=False,
        protocol="tcp",
        host="127.0.0.1",
        dashboard_address="127.0.0.1:0",
    )


def test_the_reading_is_that_of_this_machine_and_nothing_stays_behind(small: LocalCluster) -> None:
    gone = Found(name="gone.jpg", content=NotFound("gone.jpg", "there is nothing at gone.jpg."))
    photos = [gone, *some_photos()]
    run = run_of(stand_in.load_stand_in)
    results = plain(list(screen_on_cluster(photos, small.scheduler_address, run)))
    assert results == plain(list(screen(photos, StandInReader())))
    assert [result.data for result in results[:2]] == [None, photos[1].content]
    stopped = screen_on_cluster(photos, small.scheduler_address, run)
    next(stopped)
    stopped.close()
    until(lambda: not small.scheduler.tasks)
    assert not small.scheduler.clients.keys() - {"fire-and-forget"}


def test_it_reads_from_within_a_running_loop(small: LocalCluster) -> None:
    """As in a notebook, whose cells run inside one."""

    async def cell() -> list[str]:
        run = run_of(stand_in.load_stand_in)
        return [r.name for r in screen_on_cluster(some_photos(), small.scheduler_address, run)]

    with ThreadPoolExecutor(1) as aside:  # a browser test may have left a loop in this one
        names = aside.submit(asyncio.run, cell()).result()
    assert names == [photo.name for photo in some_photos()]


def test_photos_are_fetched_no_further_ahead_than_memory_allows(small: LocalCluster) -> None:
    given = 0

    def counted() -> Iterator[Found]:
        nonlocal given
        for photo in some_photos() * 2:
            given += 1
            yield photo

    run = run_of(stand_in.load_stand_in)
    results = screen_on_cluster(counted(), small.scheduler_address, run)
    for told, _ in enumerate(results):
        assert given <= told + 1 + 2 * batch.AHEAD


class Idle:
    """Hands with room for all; each photo is done only when nothing more can be fetched."""

    def __init__(self) -> None:
        self.had: list[int] = []

    def room(self, _held: int) -> bool:
        return True

    def hand(self, number: int, _photo: Found, _data: bytes) -> None:
        self.had.append(number)

    def done(self) -> dict[int, batch.Answer]:
        reading = stand_in.a_reading(64, 64)
        return {self.had.pop(0): (reading, None)}


@pytest.mark.parametrize(("most", "held"), [(1, 1), (25, 3), (10_000, 12)])
def test_many_hands_hold_no_more_bytes_than_allowed(
    monkeypatch: pytest.MonkeyPatch, most: int, held: int
) -> None:
    monkeypatch.setattr(batch, "MOST_BYTES", most)
    hands, seen = Idle(), []
    photos = [Found(name=f"{i}.jpg", content=bytes(10)) for i in range(12)]
    for result in batch.in_order(photos, hands):
        seen.append(len(hands.had) + 1)
        assert result.reading is not None
    assert len(seen) == len(photos)
    assert max(seen) == held


def load_altered(_threads: int) -> StandInReader:
    raise WeightsError("seamtriage-1.onnx is not the file that was shipped.")


def load_nothing(_threads: int) -> StandInReader:
    raise ModuleNotFoundError("No module named 'vision.shape'")


@pytest.mark.parametrize(
    ("load", "changes", "said"),
    [
        (
            stand_in.load_stand_in,
            {"package": "9.9"},
            "scheduler at tcp://.* this machine 9.9.*Inst",
        ),
        (stand_in.load_stand_in, {"weights": "f" * 64}, "worker tcp://.*other weights.*Install"),
        (load_altered, {}, "worker tcp://.*can't load the weights: seamtriage-1.onnx is not"),
        (load_nothing, {}, "worker tcp://.* has no seamtriage of this version"),
        (stand_in.load_nowhere, {}, "worker tcp://.* can't be used .OSError: no disk."),
    ],
)
def test_a_cluster_that_would_read_otherwise_is_named_before_the_first_photo(
    small: LocalCluster, load: batch.Loader, changes: dict[str, str], said: str
) -> None:
    run = run_of(load, **changes)
    with pytest.raises(ClusterFailed, match=said):
        next(screen_on_cluster(some_photos(), small.scheduler_address, run))


def test_a_worker_that_comes_later_is_asked_too(
    small: LocalCluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster, "_check", lambda *_: None)
    run = run_of(stand_in.load_stand_in, weights="f" * 64)
    with pytest.raises(ClusterFailed, match=r"worker tcp://.* has other weights.*Install"):
        next(screen_on_cluster(some_photos(), small.scheduler_address, run))


def test_a_reader_that_fails_costs_its_own_photo_only(small: LocalCluster) -> None:
    photos = photos_with("odd.jpg")
    run = run_of(stand_in.load_failing)
    results = list(screen_on_cluster(photos, small.scheduler_address, run))
    failed = results.pop(12)
    assert failed.error is not None
    assert failed.error.message.startswith(
        "odd.jpg: could not be read: the worker that had it failed (ZeroDivisionError: oops)."
    )
    del photos[12]
    assert plain(results) == plain(list(screen(photos, StandInReader())))


def test_no_workers_are_said() -> None:
    run = run_of(stand_in.load_stand_in)
    with in_this_process(0) as empty, pytest.raises(ClusterFailed, match="no workers: start some"):
        next(screen_on_cluster(some_photos(), empty.scheduler_address, run))


def test_workers_that_do_not_come_back_end_it_after_a_while(
    small: LocalCluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster, "EMPTY_S", 0.3)
    monkeypatch.setattr(cluster, "LOOK_S", 0.1)
    photos = some_photos() * 20
    results = screen_on_cluster(photos, small.scheduler_address, run_of(stand_in.load_stand_in))
    came = list(islice(results, 5))
    small.scale(0)
    with pytest.raises(ClusterFailed, match=r"no workers any more.*What was read is kept"):
        came.extend(results)
    assert 5 <= len(came) < len(photos)


def test_a_scheduler_that_goes_away_keeps_what_was_read(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(cluster, "CONNECT_S", 1.0)
    run = run_of(stand_in.load_stand_in)
    monkeypatch.setattr(Run, "of_this_machine", lambda _: run)
    for photo in (each for each in some_photos() if isinstance(each.content, bytes)):
        (tmp_path / photo.name).write_bytes(photo.content)
    there = in_this_process(1)
    write = screen_command._write
    done: list[str] = []

    def close_after_the_third(result: Screened, folder: None) -> int:
        done.append(result.name)
        if len(done) == 3:
            there.close()
        return write(result, folder)

    monkeypatch.setattr(screen_command, "_write", close_after_the_third)
    command = ["seamtriage", "screen", str(tmp_path), "--json", "--scheduler"]
    monkeypatch.setattr(sys, "argv", [*command, there.scheduler_address])
    with there, pytest.raises(SystemExit) as ended:
        cli.main()
    assert ended.value.code == 1
    out, err = capsys.readouterr()
    lines = [json.loads(line) for line in out.splitlines()]
    assert [line["photo"] for line in lines] == done
    assert "reading_stopped" not in {line["error"]["kind"] for line in lines if "error" in line}
    assert 3 <= len(done) < len(list(tmp_path.iterdir()))
    assert "was lost. What was read is kept; read the rest again." in err


# ------------------------------------------------------------------------------ no cluster


def test_without_the_extra_the_message_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(ClusterFailed, match=r'pip install "seamtriage\[cluster\]"'):
        next(screen_on_cluster([], "tcp://127.0.0.1:1", run_of(stand_in.load_stand_in)))


def test_an_address_where_nobody_or_something_else_answers_is_named(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(cluster, "CONNECT_S", 0.3)
    run = run_of(stand_in.load_stand_in)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        address = f"tcp://127.0.0.1:{silent.getsockname()[1]}"
        with pytest.raises(ClusterFailed, match=f"no Dask scheduler answers at {address}"):
            next(screen_on_cluster([], address, run))
    with pytest.raises(ClusterFailed, match=f"no Dask scheduler answers at {address}"):
        next(screen_on_cluster([], address, run))
    with pytest.raises(ClusterFailed, match="asks for certificates"):
        next(screen_on_cluster([], "tls://127.0.0.1:1", run))


@pytest.mark.parametrize(
    ("text", "address"),
    [
        ("10.0.0.5:8786", "tcp://10.0.0.5:8786"),
        ("tcp://10.0.0.5:8786", "tcp://10.0.0.5:8786"),
        ("tls://[fe80::1]:8786", "tls://[fe80::1]:8786"),
    ],
)
def test_addresses_are_taken_as_dask_prints_them(text: str, address: str) -> None:
    assert scheduler_address(text) == address


@pytest.mark.parametrize(
    "text", ["", "host", "http://host:1", "host:port", "tcp://:1", "inproc://1"]
)
def test_what_is_no_address_is_wrong_usage(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], text: str
) -> None:
    monkeypatch.setattr(sys, "argv", ["seamtriage", "screen", "a.jpg", "--scheduler", text])
    with pytest.raises(SystemExit) as ended:
        cli.main()
    assert ended.value.code == 2
    assert "is not like tcp://10.0.0.5:8786" in " ".join(capsys.readouterr().err.split())
