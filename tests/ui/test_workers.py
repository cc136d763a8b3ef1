"""Batches over several processes: the same results in the same order, whatever happens to one."""

from __future__ import annotations

import multiprocessing
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from tests import stand_in
from tests.stand_in import StandInReader, bad_files, encoded, picture
from ui import batch, workers
from ui.screening import Screened, screen
from ui.workers import WorkersFailed, screen_batch, screen_in_processes
from vision.errors import NotFound
from vision.sources import Found


def some_photos() -> list[Found]:
    """Good photos of several sizes, so that later ones are done sooner, and bad ones between."""
    good = [encoded(picture(1600 >> i % 4, 1200 >> i % 4, red=30 * (i % 8))) for i in range(16)]
    photos = [Found(name=f"photo-{i:02}.jpg", content=data) for i, data in enumerate(good)]
    bad = [Found(name=name, content=data) for name, (data, _) in bad_files().items()]
    gone = Found(name="gone.jpg", content=NotFound("gone.jpg", "there is nothing at gone.jpg."))
    return [*photos[:5], *bad, *photos[5:9], gone, *photos[9:], gone]


def plain(results: list[Screened]) -> list[Screened]:
    """Without the seconds, which differ."""
    return [replace(r, reading=r.reading and replace(r.reading, seconds=0.0)) for r in results]


def test_two_processes_give_what_one_gives_in_the_same_order() -> None:
    alone = plain(list(screen(some_photos(), StandInReader())))
    seen: list[tuple[int, str]] = []
    together = screen_in_processes(
        some_photos(), 2, lambda done, name: seen.append((done, name)), stand_in.load_stand_in
    )
    assert plain(list(together)) == alone
    assert seen == list(enumerate(photo.name for photo in some_photos()))


def test_a_killed_process_costs_its_own_photo_only() -> None:
    good = encoded(picture())
    names = ["a.jpg", "deadly-1.jpg", "b.jpg", "c.jpg", "deadly-2.jpg", "d.jpg"]
    photos = [Found(name=name, content=good) for name in names]
    results = list(screen_in_processes(photos, 2, load=stand_in.load_fragile))
    assert [r.name for r in results] == names
    for result in results:
        if result.name.startswith("deadly"):
            assert result.error is not None
            assert result.error.kind == "reading_stopped"
            assert result.name in result.error.message
            assert "SIGKILL" in result.error.message
        else:
            assert result.reading is not None


def test_photos_are_fetched_no_further_ahead_than_memory_allows() -> None:
    given = 0

    def counted() -> list[Found]:
        nonlocal given
        for photo in some_photos() * 2:
            given += 1
            yield photo

    for told, _ in enumerate(screen_in_processes(counted(), 2, load=stand_in.load_stand_in)):
        assert given <= told + 1 + 2 * batch.AHEAD
    assert given == 2 * len(some_photos())


def test_a_process_that_can_not_begin_is_no_endless_loop() -> None:
    with pytest.raises(WorkersFailed, match="exit code 1"):
        list(screen_in_processes(some_photos(), 2, load=stand_in.load_never))


def test_altered_weights_are_named_by_the_batch_too() -> None:
    """The processes ended with tracebacks, and all that was told was their exit code."""
    with pytest.raises(WorkersFailed, match=r"weights 1 are altered\. Restore them"):
        list(screen_in_processes(some_photos(), 1, load=stand_in.load_altered))


def test_stopping_half_way_leaves_no_process_behind() -> None:
    running = screen_in_processes(some_photos(), 2, load=stand_in.load_stand_in)
    next(running)
    running.close()
    assert not multiprocessing.active_children()


ENDLESS = """
from itertools import count
from tests.stand_in import encoded, load_stand_in, picture
from ui.workers import screen_in_processes
from vision.sources import Found
photos = (Found(name=f"{n}.jpg", content=encoded(picture())) for n in count())
for result in screen_in_processes(photos, 1, load=load_stand_in):
    print(result.name, flush=True)
"""


def test_a_killed_batch_leaves_no_process_behind() -> None:
    """Its workers hold its output open for as long as they live."""
    root = Path(__file__).parents[2]
    with subprocess.Popen(
        [sys.executable, "-c", ENDLESS], stdout=subprocess.PIPE, cwd=root,
        env={**os.environ, "PYTHONPATH": str(root)},
    ) as batch:  # fmt: skip
        assert batch.stdout is not None
        assert batch.stdout.readline()
        batch.kill()
        batch.communicate(timeout=60)


@pytest.mark.parametrize(("count", "processes"), [(workers.FEW - 1, 4), (workers.FEW + 3, 1)])
def test_few_photos_or_one_core_take_one_process(
    monkeypatch: pytest.MonkeyPatch, count: int, processes: int
) -> None:
    def never(*_: object) -> None:
        raise AssertionError("a process was started")

    monkeypatch.setattr(workers, "screen_in_processes", never)
    photos = some_photos()[:count]
    results = screen_batch(photos, StandInReader, processes=processes)
    assert [r.name for r in results] == [photo.name for photo in photos]


def test_many_photos_take_several(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        workers, "screen_in_processes", lambda photos, processes, *_: [len(list(photos)), processes]
    )
    assert list(screen_batch(some_photos(), StandInReader, processes=3)) == [len(some_photos()), 3]
