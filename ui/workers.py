"""A batch of photos read by several processes, one a processor core, in the photos' order.

Each worker loads the model for itself, uses one core and reads one photo at a time, so that when
one ends unexpectedly (killed, out of memory, a decoder that crashed) it is known which photo it
had: that photo gets an error, a new worker takes the place, the rest go on.
"""

from __future__ import annotations

import multiprocessing
import signal
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from itertools import chain, islice
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from typing import TYPE_CHECKING

from models.weights import WeightsError
from ui.loading import load_reader
from ui.screening import PhotoReader, Progress, Screened, screen
from vision.errors import ReadingStopped, SeamtriageError
from vision.reading import PhotoError, PhotoReading
from vision.sources import Found

if TYPE_CHECKING:
    from vision.known import Known

FEW = 12
"""So many photos are read sooner by one process than the others take to load the model."""

AHEAD = 3
"""Photos per worker that are held in memory at most, being read or waiting for their turn."""

Answer = tuple[PhotoReading | None, PhotoError | None]
Loader = Callable[[int], PhotoReader]

_spawning = multiprocessing.get_context("spawn")  # forked, the network's threads would be missing


class WorkersFailed(SeamtriageError):
    """No worker could be started; the message says why."""


def screen_batch(
    sources: Iterable[Found],
    load_one: Callable[[], PhotoReader] = load_reader,
    progress: Progress | None = None,
    processes: int | None = None,
    known: Known | None = None,
) -> Iterator[Screened]:
    """As `screening.screen`, by one process a core where there are more than a few photos. `known`
    goes to the readers of those processes; `load_one` has it already."""
    if processes is None:
        from vision.network import usable_cores  # brings onnxruntime, as reading does

        processes = usable_cores()
    coming = iter(sources)
    first = list(islice(coming, FEW)) if processes > 1 else []
    if len(first) < FEW:
        yield from screen(chain(first, coming), load_one(), progress)
    else:
        load = partial(load_for_worker, known=known)
        yield from screen_in_processes(chain(first, coming), processes, progress, load)


def load_for_worker(threads: int, known: Known | None = None) -> PhotoReader:
    """The shipped reader on that many cores, with what is known of its photos."""
    from vision.read import Reader  # brings onnxruntime, which only reading needs

    reader = Reader.load(threads)
    return reader if known is None else replace(reader, known=known)


def screen_in_processes(
    sources: Iterable[Found],
    processes: int,
    progress: Progress | None = None,
    load: Loader = load_for_worker,
) -> Iterator[Screened]:
    """As `screening.screen`, by so many processes; `load` must be a module's own function, or a
    partial of one.

    Raises WorkersFailed when the model can't be loaded or a worker ends before it could begin.
    """
    coming = enumerate(sources)
    held: dict[int, Found] = {}
    answers: dict[int, Answer] = {}
    free: deque[_Worker] = deque()
    busy: dict[object, _Worker] = {}  # by its pipe
    told = 0
    try:
        for _ in range(processes):
            worker = _Worker.started(load)
            busy[worker.pipe] = worker
        exhausted = False
        while True:
            while told in answers:
                photo, (reading, error) = held.pop(told), answers.pop(told)
                if progress is not None:
                    progress(told, photo.name)
                data = photo.content if isinstance(photo.content, bytes) else None
                told += 1
                yield Screened(name=photo.name, data=data, reading=reading, error=error)
            while free and not exhausted and len(held) < AHEAD * processes:
                if (upcoming := next(coming, None)) is None:
                    exhausted = True
                    break
                number, photo = upcoming
                held[number] = photo
                if isinstance(photo.content, bytes):
                    worker = free.popleft()
                    worker.read(number, photo)
                    busy[worker.pipe] = worker
                else:
                    answers[number] = None, photo.content.as_photo_error()
            if told in answers:
                continue
            if exhausted and not held:
                return
            for pipe in wait([w.pipe for w in busy.values()]):
                worker = busy.pop(pipe)
                done, answer = worker.answer()
                if done is not None:
                    answers[done] = answer
                if worker.lost:
                    worker = _Worker.started(load)
                    busy[worker.pipe] = worker
                else:
                    free.append(worker)
    finally:
        for worker in (*free, *busy.values()):
            worker.stop()


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
        ours, theirs = _spawning.Pipe()
        process = _spawning.Process(target=_work, args=(theirs, load), daemon=True)
        process.start()
        theirs.close()  # so that its end is seen
        return _Worker(process=process, pipe=ours)

    def read(self, number: int, photo: Found) -> None:
        """Hands a photo over; a worker that is gone is noticed when it is asked for the answer."""
        self.number, self.name = number, photo.name
        with suppress(OSError):
            self.pipe.send((photo.content, photo.name))

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
