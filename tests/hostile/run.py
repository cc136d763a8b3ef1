"""The whole corpus, each file under limits: `python -m tests.hostile.run --count 2000`.

Files go one after the other through the command line's own functions in a child process that may
use so much memory, and so much of a processor's time for each. When it crashes or hangs, that file
is named and a new child goes on with the next. The network is left out unless `--shipped` asks for
it: what is tried here is what opens files.
"""

from __future__ import annotations

import argparse
import faulthandler
import multiprocessing
import resource
import sys
import tempfile
import time
from collections import Counter
from multiprocessing.connection import Connection
from pathlib import Path

from tests.hostile.check import answer_to, put
from tests.hostile.corpus import SEED, case
from tests.stand_in import StandInReader
from ui import loading
from vision.read import Reader

LIMIT_S = 10.0
"""Of a processor; `HANGS_S` on the clock, which a busy machine makes longer."""

HANGS_S = 240.0
LIMIT_MB = 1500
"""Resident memory of the whole process, interpreter, libraries and model included."""


def main() -> int:
    """The command; 0 when every file was accounted for within the limits."""
    parser = argparse.ArgumentParser(prog="python -m tests.hostile.run", description=__doc__)
    parser.add_argument("--count", type=int, default=2000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--shipped", action="store_true", help="read with the shipped network")
    options = parser.parse_args()
    tally: Counter[str] = Counter()
    faults: list[str] = []
    slowest, most_mb = (0.0, ""), (0.0, "")
    spawning = multiprocessing.get_context("spawn")
    index, end = options.first, options.first + options.count
    while index < end:
        ours, theirs = spawning.Pipe()
        task = (theirs, index, end, options.seed, options.shipped)
        child = spawning.Process(target=_child, args=task)
        child.start()
        theirs.close()
        name = "nothing"
        try:
            while True:
                name = ours.recv()
                if name is None:
                    index = end
                    break
                if not ours.poll(1.2 * HANGS_S):
                    raise EOFError
                fault, words, elapsed_s, peak_mb = ours.recv()
                index += 1
                if index % 100 == 0:
                    print(f"{index} …", file=sys.stderr, flush=True)
                tally.update(words)
                slowest = max(slowest, (elapsed_s, name))
                most_mb = max(most_mb, (peak_mb, name))
                if elapsed_s > LIMIT_S:
                    fault = fault or f"took {elapsed_s:.1f} s"
                if fault:
                    faults.append(f"{name!r}: {fault}")
                    print(faults[-1], flush=True)
        except EOFError:
            child.kill()
            child.join()
            faults.append(f"{name!r}: the process ended ({child.exitcode})")
            print(faults[-1], flush=True)
            index += 1
        child.join()
    print(f"{options.count} files of seed {options.seed}: {len(faults)} faults")
    print(f"slowest {slowest[0]:.1f} s ({slowest[1]!r}), most memory {most_mb[0]:.0f} MB")
    for word, number in tally.most_common():
        print(f"{number:7} {word}")
    return 1 if faults or most_mb[0] > LIMIT_MB else 0


def _child(pipe: Connection, first: int, end: int, seed: int, shipped: bool) -> None:
    reader = Reader.load() if shipped else StandInReader()
    loading.load_reader = lambda: reader
    soft = 4 * LIMIT_MB * 2**20
    resource.setrlimit(resource.RLIMIT_AS, (soft, soft))
    with tempfile.TemporaryDirectory() as folder:
        for index in range(first, end):
            made = case(index, seed)
            path = put(made, Path(folder))
            pipe.send(made.name)
            faulthandler.dump_traceback_later(HANGS_S, exit=True, file=sys.stderr)
            began_s, fault, words = time.process_time(), "", []
            try:
                answer = answer_to(made, path)
                words = ["reading"] * answer.readings + list(answer.errors)
            except BaseException as error:  # whatever it is, it is what this run looks for
                fault = f"{type(error).__name__}: {error}"[:400]
            faulthandler.cancel_dump_traceback_later()
            peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            pipe.send((fault, words, time.process_time() - began_s, peak_mb))
            path.unlink()
    pipe.send(None)


if __name__ == "__main__":
    sys.exit(main())
