"""A batch of photos read by the workers of a Dask cluster, in the photos' order.

Every photo goes to the scheduler as its bytes, since the workers may share no disk with us. A
reading depends on nothing but those bytes and the model, so Dask may repeat one whose worker was
lost; one photo still gives one result, as each stands under a key of its own. Scheduler and workers
exchange objects with us and could run code here: they must be trusted (DEVELOPERS.md, Threats).
"""

from __future__ import annotations

import time
import uuid
from asyncio import CancelledError
from collections import deque
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from importlib.metadata import version as package_version
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any

from models.weights import WeightsError, load_weights
from ui.batch import AHEAD, Answer, Loader, in_order
from ui.loading import load_for_worker
from ui.screening import PhotoReader, Progress, Screened
from vision.errors import ReadingStopped, SeamtriageError, one_line
from vision.sources import Found

if TYPE_CHECKING:
    from distributed import Client, Future

CONNECT_S = 10.0
LOOK_S = 1.0
"""So often at least it is looked whether workers are left."""

EMPTY_S = 60.0
"""A cluster without a worker is waited for so long, since lost workers are often started again."""


class ClusterFailed(SeamtriageError):
    """The cluster can't be used, or no longer; the message says why and what to do."""


class WorkerDiffers(SeamtriageError):
    """A worker would not give the readings that this machine gives."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One batch, as its workers know it: what they must have, and how they load their reader."""

    key: str
    package: str
    weights: str
    load: Loader = field(compare=False)

    @staticmethod
    def of_this_machine(load: Loader) -> Run:
        """A new batch, to be read with this package and these weights; WeightsError without."""
        return Run(
            key=f"seamtriage-{uuid.uuid4().hex}",
            package=package_version("seamtriage"),
            weights=load_weights().sha256,
            load=load,
        )


# ------------------------------------------------------------------------------- on the workers


def scheduler_fits(run: Run) -> None:
    """On the scheduler, which must know our classes; WorkerDiffers where it has another package."""
    if (here := package_version("seamtriage")) != run.package:
        raise WorkerDiffers(f"has seamtriage {here}, this machine {run.package}.")


@lru_cache(maxsize=4)
def worker_reader(run: Run) -> PhotoReader:
    """On a worker: its reader for that batch, loaded once. WorkerDiffers where it is another."""
    scheduler_fits(run)
    try:
        reader = run.load(1)
    except WeightsError as error:
        raise WorkerDiffers(f"can't load the weights: {error}") from error
    if reader.sha256 != run.weights:
        raise WorkerDiffers(
            f"has other weights (sha256 {reader.sha256}) than this machine ({run.weights})."
        )
    return reader


def worker_fits(run: Run) -> None:
    """On a worker, before the first photo: loads the reader."""
    worker_reader(run)


def read_there(run: Run, data: bytes, name: str) -> Answer:
    """On a worker: what comes of one photo."""
    try:
        reader = worker_reader(run)
    except WorkerDiffers as error:
        from distributed import get_worker

        raise WorkerDiffers(f"worker {get_worker().address} {error}") from error
    outcome = reader.read_bytes(data, name)
    return outcome.reading, outcome.error


# ------------------------------------------------------------------------------- on this machine


def screen_on_cluster(
    sources: Iterable[Found],
    address: str,
    progress: Progress | None = None,
    load: Loader = load_for_worker,
    run: Run | None = None,
) -> Iterator[Screened]:
    """As `screening.screen`, by the workers of the Dask scheduler at `address`.

    Raises ClusterFailed where Dask is not installed, the scheduler does not answer, has no workers
    or loses them all, and where a worker has another package or other weights than `run` asks for,
    which are those of this machine.
    """
    run = run or Run.of_this_machine(load)
    with _connected(address) as client:
        _check(client, run, address)
        yield from in_order(sources, _Cluster(client, run, address), progress)


@contextmanager
def _connected(address: str) -> Iterator[Client]:
    try:
        import dask
        from distributed import Client
    except ImportError as error:
        raise ClusterFailed('--scheduler needs Dask: pip install "seamtriage[cluster]".') from error
    try:
        client = Client(address, timeout=CONNECT_S, set_as_default=False)
    except Exception as error:  # Dask's transports each raise their own kinds
        raise ClusterFailed(
            f"no Dask scheduler answers at {address} ({one_line(str(error))}). Give its address as "
            "it prints it, such as tcp://10.0.0.5:8786; for tls:// set up Dask's own certificates."
        ) from error
    # A photo of more than 10 MB is nothing to warn of here: few are under way at a time.
    with client, dask.config.set({"distributed.admin.large-graph-warning-threshold": "1 GB"}):
        yield client


def _check(client: Client, run: Run, address: str) -> None:
    """ClusterFailed where scheduler or workers can't give this machine's readings."""
    try:
        client.run_on_scheduler(scheduler_fits, run)
    except Exception as error:
        raise ClusterFailed(_unfit(f"the scheduler at {address}", error)) from error
    unfit = {
        worker: outcome
        for worker, outcome in client.run(worker_fits, run, on_error="return").items()
        if outcome is not None
    }
    for worker, error in unfit.items():
        others = f" ({len(unfit) - 1} more workers fail too)" if len(unfit) > 1 else ""
        raise ClusterFailed(_unfit(f"worker {worker}", error) + others) from error


def _unfit(who: str, error: Exception) -> str:
    if isinstance(error, WorkerDiffers):
        return f"{who} {error} Install the same seamtriage there."
    if isinstance(error, ImportError):
        return f"{who} has no seamtriage of this version ({error}): install the same one there."
    return f"{who} can't be used: {type(error).__name__}: {one_line(str(error))}"


@dataclass(slots=True)
class _Out:
    """A photo that is with the cluster; `alone` when nothing else was given beside it."""

    number: int
    photo: Found
    data: bytes = field(repr=False)
    alone: bool = False
    future: Future | None = None


class _Cluster:
    """The workers of a cluster, as `batch.Hands`.

    When workers end unexpectedly, Dask gives up on every photo that they had or that waited for
    them, some times too many. Such a photo is a suspect: it is given again with nothing beside it,
    and only one that ends workers then too is told as unreadable.
    """

    def __init__(self, client: Client, run: Run, address: str) -> None:
        self._client, self._run, self._address = client, run, address
        self._out: dict[int, _Out] = {}
        self._ready: SimpleQueue[int] = SimpleQueue()
        self._suspects: deque[_Out] = deque()
        self._threads = 0
        self._workers_seen_s = time.monotonic()
        self._look()
        if not self._threads:
            raise ClusterFailed(
                f"the scheduler at {address} has no workers: start some with dask worker {address}"
            )

    def room(self, held: int) -> bool:
        return held < AHEAD * self._threads and not self._suspects and not self._alone

    def hand(self, number: int, photo: Found, data: bytes) -> None:
        self._submit(_Out(number=number, photo=photo, data=data))

    def done(self) -> dict[int, Answer]:
        if self._suspects and not self._out:
            suspect = self._suspects.popleft()
            suspect.alone = True
            self._submit(suspect)
        if time.monotonic() - self._looked_s > LOOK_S:
            self._look()
        answers: dict[int, Answer] = {}
        try:
            number = self._ready.get(timeout=LOOK_S)
        except Empty:
            return answers
        answer = self._answer(self._out[number])
        if answer is not None:
            answers[number] = answer
        return answers

    @property
    def _alone(self) -> bool:
        return any(out.alone for out in self._out.values())

    def _submit(self, out: _Out) -> None:
        key = f"{self._run.key}-{out.number}{'-alone' if out.alone else ''}"
        out.future = self._client.submit(
            read_there, self._run, out.data, out.photo.name, key=key, pure=False
        )
        self._out[out.number] = out
        out.future.add_done_callback(lambda _: self._ready.put(out.number))

    def _answer(self, out: _Out) -> Answer | None:
        """What came of a photo; None where it has to be waited for again."""
        from distributed import KilledWorker

        future: Any = out.future
        name = out.photo.name
        if future.status in ("cancelled", "lost"):
            raise ClusterFailed(self._lost())
        error = future.exception() if future.status == "error" else None
        if isinstance(error, WorkerDiffers):
            raise ClusterFailed(f"{error} Install the same seamtriage there.") from error
        if isinstance(error, KilledWorker) and not out.alone:
            del self._out[out.number]
            self._suspects.append(out)
            return None
        if isinstance(error, KilledWorker):
            answer = _stopped(name, "the workers that had it ended, also with nothing else to do.")
        elif error is not None:
            said = one_line(f"{type(error).__name__}: {error}")
            answer = _stopped(name, f"the worker that had it failed ({said}).")
        else:
            try:
                answer = future.result(timeout=LOOK_S)
            except TimeoutError:  # its worker was lost with the result, and it is read again
                self._ready.put(out.number)
                return None
            except CancelledError as gone:
                raise ClusterFailed(self._lost()) from gone
        del self._out[out.number]
        return answer

    def _look(self) -> None:
        """How many threads the workers have; ClusterFailed after a while without any."""
        self._looked_s = time.monotonic()
        try:
            threads = sum(self._client.nthreads().values())
        except Exception as error:  # whatever the transport raises when the line is gone
            raise ClusterFailed(self._lost()) from error
        if threads:
            self._workers_seen_s, self._threads = self._looked_s, threads
        elif self._threads and self._looked_s - self._workers_seen_s > EMPTY_S:
            raise ClusterFailed(
                f"the scheduler at {self._address} has no workers any more. They had: "
                f"{', '.join(out.photo.name for out in self._out.values())}. What was read is kept."
            )

    def _lost(self) -> str:
        return (
            f"the connection to the scheduler at {self._address} was lost. What was read is kept; "
            "read the rest again."
        )


def _stopped(name: str, problem: str) -> Answer:
    return None, ReadingStopped(name, f"could not be read: {problem}").as_photo_error()
