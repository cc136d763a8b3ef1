"""A batch of photos read by several processes, one a processor core, in the photos' order.

Each worker loads the model for itself, uses one core and reads one photo at a time, so that when
one ends unexpectedly (killed, out of memory, a decoder that crashed) it is known which photo it
had: that photo gets an error, a new worker takes the place, the rest go on.
"""

from __future__ import annotations

import signal
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from itertools import chain, islice
from typing import TYPE_CHECKING

from models.weights import WeightsError
from ui.batch import AHEAD, Answer, Loader, in_order
from ui.loading import load_for_worker, load_reader
from ui.screening import PhotoReader, Progress, Screened, screen
from vision.errors import ReadingStopped, SeamtriageError
from vision.sources import Found

if TYPE_CHECKING:
    from multiprocessing.connection import Connection
    from multiprocessing.process import BaseProcess

    from vision.known import Known

FEW = 12
"""So many photos are read sooner by one process than the others take to load the model."""


class WorkersFailed(SeamtriageError):
    """No worker could be started; the message says why."""


def screen_batch(
    sources: Iterable[Found],
    load_one: Callable[[], PhotoReader] = load_reader,
    progress: Progress | None = None,
    processes: int | None = None,
    known: Known | None = None,
    scheduler: str | None = None,
) -> Iterator[Screened]:
    """As `screening.screen`, by one process a core where there are more than a few photos, or by
    the workers of the Dask `scheduler` at that address. `known` goes to the readers of those
    processes or workers; `load_one` has it already."""
    load = partial(load_for_worker, known=known)
    if scheduler is not None:
        from ui.cluster import screen_on_cluster
        from ui.cluster_task import Run

        yield from screen_on_cluster(sources, scheduler, Run.of_this_machine(load), progress)
        return
    if processes is None:
        from vision.network import usable_cores  # brings onnxruntime, as reading does

        processes = usable_cores()
    coming = iter(sources)
    first = list(islice(coming, FEW)) if processes > 1 else []
    if len(first) < FEW:
        yield from screen(chain(first, coming), load_one(), progress)
    else:
        yield from screen_in_processes(chain(first, coming), processes, progress, load)


def screen_in_processes(
    sources: Iterable[Found],
    processes: int,
    progress: Progress | None = None,
    load: Loader = load_for_worker,
) -> Iterator[Screened]:
    """As `screening.screen`, by so many processes.

    Raises WorkersFailed when the model can't be loaded or a worker ends before it could begin.
    """
    hands = _Processes(load=load, number=processes)
    try:
        hands.start()
        yield from in_order(sources, hands, progress)
    finally:
        hands.stop()


class _Processes:
    """The workers of a batch, as `batch.Hands`."""

    def __init__(self, *, load: Loader, number: int) -> None:
        self._load, self._number = load, number
        self._most_held = AHEAD * number
        self._free: deque[_Worker] = deque()
        self._busy: dict[object, _Worker] = {}  # by its pipe

    def start(self) -> None:
        """Starts them; stop() ends those that began, whatever happens here."""
        for _ in range(self._number):
            self._start_one()

    def room(self, held: int) -> bool:
        return bool(self._free) and held < self._most_held

    def hand(self, number: int, photo: Found, data: bytes) -> None:
        worker = self._free.popleft()
        worker.read(number, data, photo.name)
        self._busy[worker.pipe] = worker

    def done(self) -> dict[int, Answer]:
        from multiprocessing.connection import wait  # brings what a few photos do without

        answers = {}
        for pipe in wait([worker.pipe for worker in self._busy.values()]):
            worker = self._busy.pop(pipe)
            number, answer = worker.answer()
            if number is not None:
                answers[number] = answer
            if worker.lost:
                self._start_one()
            else:
                self._free.append(worker)
        return answers

    def stop(self) -> None:
        """Ends every process."""
        for worker in (*self._free, *self._busy.values()):
            worker.stop()

    def _start_one(self) -> None:
        worker = _Worker.started(self._load)
        self._busy[worker.pipe] = worker


@dataclass(slots=True)
class _Worker:
    """One child process and the photo that it has, if any."""

    process: BaseProcess
    pipe: Connection
    number: int | None = None
    name: str = ""
    lost: bool = False

    @staticmethod
    def started(load: Loader) -> _Worker:
        import multiprocessing

        spawning = multiprocessing.get_context("spawn")  # forked, the network's threads are missing
        ours, theirs = spawning.Pipe()
        process = spawning.Process(target=_work, args=(theirs, load), daemon=True)
        process.start()
        theirs.close()  # so that its end is seen
        return _Worker(process=process, pipe=ours)

    def read(self, number: int, data: bytes, name: str) -> None:
        """Hands a photo over; a worker that is gone is noticed when it is asked for the answer."""
        self.number, self.name = number, name
        with suppress(OSError):
            self.pipe.send((data, name))

    def answer(self) -> tuple[int | None, Answer]:
        """The number of the photo and what came of it; no number from one that has just begun."""
        number, self.number = self.number, None
        try:
            answer = self.pipe.recv()
        except (EOFError, OSError) as error:
            self.lost = True
            self.stop()
            how = _ending(self.process.exitcode)
            if number is None:
                raise WorkersFailed(
                    f"a process that reads photos could not begin ({how})."
                ) from error
            lost = ReadingStopped(self.name, f"could not be read: the process ended ({how}).")
            return number, (None, lost.as_photo_error())
        if isinstance(answer, WeightsError):
            raise WorkersFailed(str(answer))
        return number, answer

    def stop(self) -> None:
        """Ends the process, if it has not ended."""
        self.pipe.close()
        self.process.join(timeout=0.2)
        if self.process.is_alive():
            self.process.terminate()
        self.process.join()


def _ending(code: int | None) -> str:
    if code is None or code >= 0:
        return f"exit code {code}"
    try:
        return f"signal {signal.Signals(-code).name}"
    except ValueError:
        return f"signal {-code}"


def _work(pipe: Connection, load: Loader) -> None:
    """A worker's life: load, say so, then answer photo by photo until the pipe is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the parent's to answer
    with suppress(EOFError, OSError):
        try:
            reader = load(1)
        except WeightsError as error:
            pipe.send(error)
            return
        pipe.send((None, None))
        while True:
            data, name = pipe.recv()
            outcome = reader.read_bytes(data, name)
            pipe.send((outcome.reading, outcome.error))
