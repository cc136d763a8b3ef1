"""Ends the program at random points, and takes away what it needs: `python -m tests.faults.run`.

Each step is ended so many times in all, a third from outside at a random time, a third at a random
touch of disk or database, a third in the middle of a write, with records in SQLite and, where it is
installed, in PostgreSQL. After each end the records must verify, everything acknowledged must be
there, nothing half-written may stand under its own name, and the same step run again must come to
what it comes to undisturbed. Then come full disks, locks, altered weights and a clock that goes
back (`troubles.py`).
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass
from itertools import cycle
from pathlib import Path

import numpy as np

from tests.faults.check import Whole, after_the_end, after_the_rerun, whole
from tests.faults.dying import Death, Life, live
from tests.faults.sites import Sites, Sqlite, postgres
from tests.faults.steps import STEPS

SEED = 20260
WAYS = ("time", "event", "byte")


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
        most = max(path.stat().st_size for path in made)
        return Undisturbed(life=life, most_bytes=most, whole=whole(step, site))


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
            after_the_rerun(step, site, live(step, site), calm.whole)
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


def main() -> int:
    """The command; 0 when nothing was found wrong."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults.run", description=__doc__)
    parser.add_argument("--kills", type=int, default=400, help="of each kind of database half")
    parser.add_argument("--seed", type=int, default=SEED)
    options = parser.parse_args()
    tally: Counter[str] = Counter()
    faults: list[str] = []
    with tempfile.TemporaryDirectory() as folder, postgres() as server:
        kinds = [Sqlite()] if server is None else [Sqlite(), server]
        if server is None:
            print("PostgreSQL is not installed, so it was not tried", file=sys.stderr)
        for at, kind in enumerate(kinds):
            sites = Sites(kind, Path(folder) / kind.name)
            number = (options.kills + at) // len(kinds)
            faults += kills(sites, number, options.seed, tally)
    for words, times in sorted(tally.items()):
        print(f"{times:5} {words}")
    print(f"{len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
