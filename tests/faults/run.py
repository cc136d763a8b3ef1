"""Ends the program at random points, and takes away what it needs: `python -m tests.faults.run`.

Steps are ended `--kills` times in all, a third from outside at a random time, a third at a random
touch of disk or database, a third in the middle of a write, with records in SQLite and, where it is
installed, in PostgreSQL. After each end the records must verify, everything acknowledged must be
there, nothing half-written may stand under its own name, and the same step run again must come to
what it comes to undisturbed. Then come `--rounds` of full disks, locks, cut connections, altered
weights and a clock that goes back (`troubles.py`).
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from itertools import cycle
from pathlib import Path

import numpy as np

from tests.faults.check import Whole, after_the_end, after_the_rerun, whole
from tests.faults.dying import Death, Life, live
from tests.faults.sites import Kind, Postgres, Sites, kinds
from tests.faults.steps import STEPS
from tests.faults.troubles import (
    ALTERATIONS,
    backwards,
    connection_cut,
    full_disk,
    locked,
    no_room_in_files,
    other_weights,
    room_needed,
    small_disk,
    some_room,
)

SEED = 20260
WAYS = ("time", "event", "byte")
LEAST_BYTES = 4096
"""So long a file can always be, that the error can be told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Undisturbed:
    """A step that nothing happened to: how it went, the largest file there, what it came to."""

    life: Life
    most_bytes: int
    whole: Whole


def undisturbed(step: str, sites: Sites) -> Undisturbed:
    """Runs the step once, without an end."""
    with sites.before(step) as site:
        life = live(step, site)
        assert life.code == 0, f"{step}: {life.complained}"
        made = [p for p in site.folder.rglob("*") if p.is_file() and site.given not in p.parents]
        most = max((path.stat().st_size for path in made), default=1)
        return Undisturbed(life=life, most_bytes=most, whole=whole(site))


def a_death(rng: np.random.Generator, way: str, calm: Undisturbed) -> Death:
    """A point of the step, drawn evenly over its time, its touches or its largest file."""
    if way == "time":
        return Death(after_s=float(rng.uniform(0, calm.life.elapsed_s)))
    if way == "event":
        return Death(at_event=int(rng.integers(1, calm.life.events + 1)))
    return Death(at_byte=int(rng.integers(0, calm.most_bytes)))


def kill(step: str, sites: Sites, death: Death, calm: Undisturbed) -> tuple[bool, str]:
    """Ends the step so and looks at what is left: whether it was ended, and what is wrong."""
    with sites.before(step) as site:
        try:
            life = live(step, site, death)
            if not life.killed:
                return False, "" if life.code == 0 else f"it failed: {life.complained[-600:]}"
            after_the_end(step, site, life, calm.whole)
            after_the_rerun(site, live(step, site), calm.whole)
        except Exception as error:  # whatever it is, it is what this run looks for
            return True, f"{type(error).__name__}: {error}"
    return True, ""


def kills(sites: Sites, number: int, seed: int, tally: Counter[str]) -> list[str]:
    """Ends steps until `number` of them were ended; what was found wrong."""
    rng = np.random.default_rng([seed, len(sites.kind.name)])
    calm = {step: undisturbed(step, sites) for step in STEPS}
    faults: list[str] = []
    ended = 0
    for step, way in cycle([(step, way) for way in WAYS for step in STEPS]):
        if ended == number:
            return faults
        death = a_death(rng, way, calm[step])
        was_ended, fault = kill(step, sites, death, calm[step])
        ended += was_ended
        tally[f"{sites.kind.name}, {step}: {'killed' if was_ended else 'done before its end'}"] += 1
        if fault:
            faults.append(f"{sites.kind.name}, {step} ended {death}: {fault}")
            print(faults[-1], flush=True)
        if was_ended and ended % 25 == 0:
            print(f"{sites.kind.name}: {ended} …", file=sys.stderr, flush=True)
    raise AssertionError("a cycle has no end")


class Found:
    """What came of troubles: a tally, and what was wrong."""

    def __init__(self, kind: Kind, tally: Counter[str]) -> None:
        self._kind = kind
        self._tally = tally
        self.faults: list[str] = []

    def one(self, step: str, what: str, happens: Callable[..., bool], *given: object) -> None:
        """Lets a trouble befall a step."""
        head = f"{self._kind.name}, {step}, {what}"
        try:
            self._tally[f"{head}: {'named' if happens(step, *given) else 'got by'}"] += 1
        except Exception as error:  # whatever it is, it is what this run looks for
            self.faults.append(f"{head} {given[1:-1]}: {type(error).__name__}: {error}")
            print(self.faults[-1], flush=True)


def troubles(sites: Sites, rounds: int, seed: int, tally: Counter[str]) -> list[str]:
    """Every trouble but a full disk with every step that it can befall; what was found wrong."""
    rng = np.random.default_rng([seed, len(sites.kind.name), 1])
    calm = {step: undisturbed(step, sites) for step in STEPS}
    found = Found(sites.kind, tally)
    for step in list(STEPS) * rounds:
        most = LEAST_BYTES + int(rng.integers(0, calm[step].most_bytes))
        found.one(step, "no room in a file", no_room_in_files, sites, most, calm[step].whole)
    for step in ("receive", "decide", "report", "export"):
        found.one(step, "locked", locked, sites, 60.0, 0.3, calm[step].whole)
        found.one(step, "locked briefly", locked, sites, 0.5, 20.0, calm[step].whole)
    for how in ALTERATIONS:
        found.one("receive", "altered weights", other_weights, sites, how, calm["receive"].whole)
    if isinstance(sites.kind, Postgres):
        for step in list(STEPS) * rounds:
            at_s = float(rng.uniform(0, calm[step].life.elapsed_s))
            found.one(step, "connection cut", connection_cut, sites, at_s, calm[step].whole)
    found.one("order", "clock back", backwards, sites, calm["decide"].whole)
    return found.faults


def full_disks(kind: Kind, rounds: int, seed: int, tally: Counter[str]) -> list[str]:
    """Every step on a disk that fills up under it; what was found wrong."""
    rng = np.random.default_rng([seed, len(kind.name), 2])
    found = Found(kind, tally)
    with small_disk() as disk:
        if disk is None:
            print("no small disk can be mounted here, so none was filled", file=sys.stderr)
            return []
        sites = Sites(kind, disk / "sites")
        for step in STEPS:
            expected, needed = undisturbed(step, sites).whole, room_needed(step, sites, disk)
            for _ in range(rounds):
                room = some_room(rng, needed)
                found.one(step, "full disk", full_disk, sites, room, disk, expected)
    return found.faults


def main() -> int:
    """The command; 0 when nothing was found wrong."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults.run", description=__doc__)
    parser.add_argument("--kills", type=int, default=240, help="in all")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--rounds", type=int, default=3, help="of each trouble with each step")
    options = parser.parse_args()
    tally: Counter[str] = Counter()
    faults: list[str] = []
    with tempfile.TemporaryDirectory() as folder, kinds() as makers:
        for at, make in enumerate(makers):
            sites = Sites(make(), Path(folder) / str(at))
            number = (options.kills + at) // len(makers)
            faults += kills(sites, number, options.seed, tally)
            if options.rounds:
                faults += troubles(sites, options.rounds, options.seed, tally)
                faults += full_disks(make(), options.rounds, options.seed, tally)
    for words, times in sorted(tally.items()):
        print(f"{times:5} {words}")
    print(f"{len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
