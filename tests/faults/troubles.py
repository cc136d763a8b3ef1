"""What is taken away from a step while it runs: room, the lock, the connection, the weights, time.

Each must end in a named error that says what to do (or in no error at all), with records that
verify; with the trouble gone, the same step run again finishes. Each function tells whether the
step failed, and raises AssertionError where any of this does not hold.
"""

from __future__ import annotations

import os
import resource
import shutil
import sqlite3
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from functools import partial
from itertools import count, pairwise
from pathlib import Path

import numpy as np
from sqlalchemy import create_engine, text

from models import weights
from tests.faults.check import Whole, after_the_end, after_the_rerun, told
from tests.faults.dying import Life, live
from tests.faults.sites import Sites
from tests.faults.steps import Site
from ui import loading
from ui.records import Records, database, open_records
from vision.read import Reader

SMALL_DISK_BYTES = 96 * 1024 * 1024


def is_named(life: Life, *words: str) -> None:
    """AssertionError unless the step failed with one line that says one of `words`."""
    last = life.complained.strip().split("\n")[-1]
    assert life.code == 1, f"exit code {life.code}: {life.complained[-600:]}"
    assert "Traceback" not in life.complained, life.complained[-1200:]
    told = [line for line in life.complained.split("\n") if line.startswith("seamtriage: ")]
    assert told, last
    assert any(word in line for word in words for line in told), told


def afterwards(step: str, site: Site, life: Life, expected: Whole) -> bool:
    """With the trouble gone: nothing is lost or half-written, and the step run again finishes."""
    after_the_end(step, site, life, expected)
    after_the_rerun(site, live(step, site), expected)
    return life.code != 0


# ---------------------------------------------------------------- no room


@contextmanager
def small_disk() -> Iterator[Path | None]:
    """A disk of its own that can be filled; None where this system does not let us mount one."""
    folder = Path("/tmp") / f"small-disk-{os.getpid()}"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={SMALL_DISK_BYTES}", "tmpfs", str(folder)]
    try:
        if subprocess.run(mount, capture_output=True, check=False).returncode != 0:
            yield None
            return
        try:
            yield folder
        finally:
            subprocess.run(["umount", str(folder)], check=True)
    finally:
        folder.rmdir()


def full_disk(step: str, sites: Sites, room_bytes: int, disk: Path, expected: Whole) -> bool:
    """The step on a disk that has so much room left. `sites` must lie on it."""
    with sites.before(step) as site:
        ballast = disk / "ballast"
        free = shutil.disk_usage(disk).free
        ballast.write_bytes(bytes(max(0, free - room_bytes)))
        life = live(step, site)
        ballast.unlink()
        if life.code != 0:
            is_named(life, "make room", "check the address, the disk")
        return afterwards(step, site, life, expected)


def limit_files(most_bytes: int) -> None:
    """From here on no file of this process can grow past that."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, most_bytes))


def no_room_in_files(step: str, sites: Sites, most_bytes: int, expected: Whole) -> bool:
    """The step where no file can grow past that: a full disk for those who can mount none."""
    with sites.before(step) as site:
        life = live(step, site, before=partial(limit_files, most_bytes))
        if life.code != 0:
            is_named(life, "make room", "check the address, the disk")
        return afterwards(step, site, life, expected)


# ---------------------------------------------------------------- somebody else writes


def impatient(wait_s: float) -> None:
    """From here on this process waits no longer than that for another writer."""
    database._WAIT_S = wait_s


def locked(step: str, sites: Sites, for_s: float, wait_s: float, expected: Whole) -> bool:
    """The step while another program holds the records for writing, `for_s` long or to its end."""
    with sites.before(step) as site:
        open_records(site.address, site.photos).close()  # the tables are there
        with _writer(site) as release:
            timer = threading.Timer(for_s, release)
            timer.start()
            life = live(step, site, before=partial(impatient, wait_s))
            timer.cancel()
        if life.code != 0:
            is_named(life, "another program has been writing")
        return afterwards(step, site, life, expected)


@contextmanager
def _writer(site: Site) -> Iterator[object]:
    if "://" not in site.address:
        connection = sqlite3.connect(site.address, check_same_thread=False, isolation_level=None)
        connection.execute("BEGIN IMMEDIATE")
        try:
            yield connection.close
        finally:
            connection.close()
        return
    engine = create_engine(site.address)
    held = engine.connect()
    held.execute(text("SELECT number FROM journal_end FOR UPDATE"))
    try:
        yield held.rollback
    finally:
        held.close()
        engine.dispose()


def connection_cut(step: str, sites: Sites, after_s: float, expected: Whole) -> bool:
    """The step while the server ends every connection to its database, once."""
    with sites.before(step) as site:
        engine = create_engine(site.address)

        def cut() -> None:
            with engine.connect() as connection:
                connection.execute(
                    text(
                        "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                        "WHERE datname = current_database() AND pid <> pg_backend_pid()"
                    )
                )

        timer = threading.Timer(after_s, cut)
        timer.start()
        life = live(step, site)
        timer.cancel()
        timer.join()
        engine.dispose()
        if life.code != 0:
            is_named(life, "can't be used", "run seamtriage verify")
        return afterwards(step, site, life, expected)


# ---------------------------------------------------------------- other weights, another time

ALTERATIONS = ("a bit", "cut short", "missing", "card", "words")


def altered_weights(folder: Path, how: str) -> None:
    """Copies the shipped weights to `folder`, altered in that way."""
    name = weights.SHIPPED
    onnx = bytearray((weights.WEIGHTS_FOLDER / f"{name}.onnx").read_bytes())
    card = (weights.WEIGHTS_FOLDER / f"{name}.json").read_text(encoding="utf-8")
    if how == "a bit":
        onnx[len(onnx) // 2] ^= 1
    elif how == "cut short":
        del onnx[len(onnx) // 2 :]
    elif how == "card":
        card = card[: len(card) // 2]
    elif how == "words":
        card = card.replace('"longitudinal"', '"lengthwise"')
    folder.mkdir(parents=True)
    (folder / f"{name}.json").write_text(card, encoding="utf-8")
    if how != "missing":
        (folder / f"{name}.onnx").write_bytes(onnx)


_real_reader = loading.load_reader


def read_with(folder: Path) -> None:
    """From here on this process reads with the weights in that folder."""
    defaults = Reader.load.__kwdefaults__
    assert defaults is not None
    defaults["folder"] = folder
    loading.load_reader = _real_reader


def other_weights(step: str, sites: Sites, how: str, expected: Whole) -> bool:
    """The step with altered weights: it must not read at all."""
    with sites.before(step) as site:
        altered_weights(site.folder / "weights", how)
        life = live(step, site, before=partial(read_with, site.folder / "weights"))
        is_named(life, "Restore the shipped files")
        assert "expected" in life.complained
        with site.opened() as records:
            assert not records.lots() or not records.readings(records.lots()[0].uid)
        return afterwards(step, site, life, expected)


def clock_back() -> None:
    """From here on every entry of this process is an hour older than the one before."""
    times = (datetime(2026, 3, 29, 3, tzinfo=UTC) - timedelta(hours=n) for n in count())
    defaults = Records.__init__.__kwdefaults__
    assert defaults is not None
    defaults["clock"] = lambda: next(times)


def backwards(first: str, sites: Sites, expected: Whole) -> bool:
    """A whole delivery, from that step to another installation, with a clock that only goes back;
    `expected` is what it comes to once it is decided."""
    with sites.before(first) as site:
        for step in (first, "receive", "decide", "report", "export"):
            life = live(step, site, before=clock_back)
            assert life.code == 0, f"{step}: {life.complained}"
        with site.opened() as records:
            assert records.verify().unbroken
            assert told(records) == expected.lot
            times = [entry.at for entry in records.entries(records.lots()[0].uid)]
        back = sum(now < before for before, now in pairwise(times))
        assert back > 0.8 * len(times), "the clock did not go back"
        with sites.at("bare") as other:
            shutil.copy(site.out / "lot.zip", other.given / "lot.zip")
            assert live("import", other).code == 0
            with other.opened() as records:
                assert records.verify().unbroken
                assert [e.at for e in records.entries(records.lots()[0].uid)] == times
    return False


def room_needed(step: str, sites: Sites, disk: Path) -> int:
    """Bytes that the step takes on the disk."""
    with sites.before(step) as site:
        before = shutil.disk_usage(disk).free
        assert live(step, site).code == 0
        return before - shutil.disk_usage(disk).free


def some_room(rng: np.random.Generator, needed_bytes: int) -> int:
    """Less than is needed, drawn evenly; whole pages, as a disk gives them."""
    return int(rng.integers(0, max(1, needed_bytes // 4096))) * 4096
