"""A batch of photos read by the workers of a Dask cluster, in the photos' order.

Every photo goes to the scheduler as its bytes, since the workers may share no disk with us. A
reading depends on nothing but those bytes and the model, so Dask may repeat one whose worker was
lost; one photo still gives one result, as each stands under a key of its own. Scheduler and workers
exchange objects with us and could run code here: they must be trusted (DEVELOPERS.md, Threats).
"""

from __future__ import annotations

import asyncio
import logging
import time
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from ui.batch import AHEAD, Answer, in_order
from ui.cluster_task import Run, WorkerDiffers, read_there, scheduler_fits, worker_fits
from ui.screening import Progress, Screened
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


def screen_on_cluster(
    sources: Iterable[Found], address: str, run: Run, progress: Progress | None = None
) -> Iterator[Screened]:
    """As `screening.screen`, by the workers of the Dask scheduler at `address`.

    Raises ClusterFailed where Dask is not installed, the scheduler does not answer, has no workers
    or loses them all, and where a worker has another package or other weights than `run` asks for.
    """
    with _connected(address) as client:
        _check(client, run, address)
        yield from in_order(sources, _Cluster(client, run, address), progress)


def scheduler_address(text: str) -> str:
    """The address of a Dask scheduler as a person gives it, checked; ValueError saying what is
    wrong."""
    whole = text if "://" in text else f"tcp://{text}"
    wrong = f"{text!r} is not like tcp://10.0.0.5:8786 or tls://10.0.0.5:8786"
    try:
        parts = urlsplit(whole)
        port = parts.port
    except ValueError:
        raise ValueError(wrong) from None
    if parts.scheme not in ("tcp", "tls") or not parts.hostname or port is None:
        raise ValueError(wrong)
    return whole


@contextmanager
def _connected(address: str) -> Iterator[Client]:
    try:
        import dask
        from distributed import Client, Security
    except ImportError as error:
        raise ClusterFailed('--scheduler needs Dask: pip install "seamtriage[cluster]".') from error
    security = Security()  # as Dask's own settings have it
    arguments = security.get_connection_args("client")
    if address.startswith("tls://") and arguments.get("ssl_context") is None:
        raise ClusterFailed(
            f"{address} asks for certificates: set distributed.comm.tls.ca-file and "
            "distributed.comm.tls.client.cert and .key in Dask's own settings."
        )
    try:
        # In a thread of its own: a notebook's has a loop that runs already.
        with ThreadPoolExecutor(1) as aside:
            aside.submit(asyncio.run, _ring(address, arguments)).result()
        client = Client(address, timeout=CONNECT_S, security=security, set_as_default=False)
    except Exception as error:  # Dask's transports each raise their own kinds
        problem = one_line(str(error)) or f"nothing came within {CONNECT_S:.0f} s"
        raise ClusterFailed(
            f"no Dask scheduler answers at {address} ({problem}). Give its address as it prints it."
        ) from error
    logging.getLogger("distributed.client").setLevel(logging.CRITICAL)  # our messages say it
    # A photo of more than 10 MB is nothing to warn of here: few are under way at a time.
    with client, dask.config.set({"distributed.admin.large-graph-warning-threshold": "1 GB"}):
        yield client


async def _ring(address: str, arguments: dict[str, Any]) -> None:
    """Returns if a scheduler is there. Dask's own client would wait without end for the greeting of
    a service that is none."""
    from distributed.comm import connect

    comm = await asyncio.wait_for(connect(address, timeout=CONNECT_S, **arguments), CONNECT_S)
    comm.abort()


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
    if unfit:
        worker, outcome = next(iter(unfit.items()))
        others = f" So for {len(unfit) - 1} more workers." if len(unfit) > 1 else ""
        raise ClusterFailed(_unfit(f"worker {worker}", outcome) + others) from outcome


def _unfit(who: str, error: Exception) -> str:
    if isinstance(error, WorkerDiffers):
        return f"{who} {error} Install the same seamtriage there."
    said = one_line(f"{type(error).__name__}: {error}")
    if isinstance(error, ImportError) or "ModuleNotFoundError" in said:  # Dask may wrap it
        return (
            f"{who} has no seamtriage of this version ({said}). Install the same seamtriage there."
        )
    return f"{who} can't be used ({said})."


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
        from distributed import CancelledError

        future: Any = out.future
        try:
            answer: Answer = future.result(timeout=LOOK_S)
        except CancelledError as error:
            raise ClusterFailed(self._lost()) from error
        except TimeoutError as error:
            if future.status != "error":  # lost with its worker before it came, and read again
                self._ready.put(out.number)
                return None
            return self._failed(out, error)
        except Exception as error:  # whatever the worker raised, as it was raised there
            return self._failed(out, error)
        del self._out[out.number]
        return answer

    def _failed(self, out: _Out, error: Exception) -> Answer | None:
        """As _answer, for a photo that a worker, or Dask, gave up."""
        from distributed import KilledWorker

        if isinstance(error, WorkerDiffers):
            raise ClusterFailed(f"{error} Install the same seamtriage there.") from error
        del self._out[out.number]
        if isinstance(error, KilledWorker):
            if not out.alone:
                self._suspects.append(out)
                return None
            problem = "the workers that had it ended, also with nothing else to do."
        else:
            problem = f"the worker that had it failed ({type(error).__name__}: {error})."
        stopped = ReadingStopped(out.photo.name, f"could not be read: {one_line(problem)}")
        return None, stopped.as_photo_error()

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
