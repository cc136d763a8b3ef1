"""Load: `python -m tests.load.run --browsers 10 --photos 50 --screen 5000`.

The pages are served, so many browsers each send so many photos of their own at once, and what each
shows and gives out is held against what `seamtriage screen` says of the same files. `--screen`
screens so many small photos from the command line, and tells how the memory of all its processes
grows on the way.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import subprocess
import sys
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter
from typing import Any

import numpy as np
from playwright.sync_api import sync_playwright

from tests.load.photos import write_photos
from tests.load.visits import Visit
from tests.load.watched import watched_server
from tests.ui.conftest import FLAGS, browser_path
from vision.benchmark import batch_memory_mb
from vision.machine import hardware, installed_command

READING_LIMIT_S = 3600.0
MOST_GROWTH_MB = 20.0
"""From photo 100 to photo 5 000, by the fitted line: less than a hundredth of what is in use."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What a browser's visit came to, photo by photo: all but `served` are faults."""

    served: int
    mixed_up: int
    unlike_command: int
    not_shown: int

    @property
    def is_sound(self) -> bool:
        return not (self.mixed_up or self.unlike_command or self.not_shown)


def main() -> int:
    """The command; 0 when everything was served, nothing mixed up, and memory stayed flat."""
    parser = argparse.ArgumentParser(prog="python -m tests.load.run", description=__doc__)
    parser.add_argument("--browsers", type=int, default=0)
    parser.add_argument("--photos", type=int, default=50, help="of each browser")
    parser.add_argument("--times", type=float, default=1.0, help="photos so many times as large")
    parser.add_argument("--screen", type=int, default=0, metavar="PHOTOS")
    options = parser.parse_args()
    if not (options.browsers or options.screen):
        parser.error("say --browsers or --screen")
    print(hardware())
    is_sound = True
    with tempfile.TemporaryDirectory() as folder:
        if options.browsers:
            is_sound &= served(Path(folder), options.browsers, options.photos, options.times)
        if options.screen:
            is_sound &= screened(Path(folder), options.screen)
    return 0 if is_sound else 1


def served(folder: Path, browsers: int, photos: int, times: float) -> bool:
    """Ten browsers at once, or how many they are; whether all came out as it must."""
    photo_folder = folder / "photos"
    photo_folder.mkdir()
    sets = write_photos(photo_folder, browsers, photos, times)
    expected = commanded(photo_folder)
    with sync_playwright() as playwright, watched_server(folder) as server:
        chromium = playwright.chromium.launch(executable_path=browser_path(), args=FLAGS)
        visits = [Visit(chromium.new_context().new_page(), server.address) for _ in sets]
        print(f"memory before the first photo {server.sampled_mb[-1]:.0f} MB", flush=True)
        began_s = perf_counter()
        for visit, paths in zip(visits, sets, strict=True):
            visit.choose(paths)
        for visit, paths in zip(visits, sets, strict=True):
            visit.press_read(len(paths))
        pressed_s = perf_counter()
        for visit in visits:
            visit.wait_until_read(READING_LIMIT_S)
        done_s = perf_counter()
        outcomes = [held_against(v, p, expected) for v, p in zip(visits, sets, strict=True)]
        after_mb = server.sampled_mb[-1]
        troubles = [trouble for visit in visits for trouble in visit.troubles]
        chromium.close()
        complaints = server.complaints()
    print(f"{browsers} browsers, {photos} photos each")
    print(f"served {sum(o.served for o in outcomes)} of {browsers * photos}")
    print(f"mixed up {sum(o.mixed_up for o in outcomes)}")
    print(f"other than the command line {sum(o.unlike_command for o in outcomes)}")
    print(f"pictures missing or of another size {sum(o.not_shown for o in outcomes)}")
    print(f"sent in {pressed_s - began_s:.1f} s, read {done_s - pressed_s:.1f} s after that")
    print(f"memory of the server: peak {server.peak_mb:.0f} MB, afterwards {after_mb:.0f} MB")
    print(f"errors on the pages {len(troubles)}, lines in the log {len(complaints)}")
    for line in [*troubles, *complaints][:20]:
        print(f"  {line}")
    whole = sum(o.served for o in outcomes) == browsers * photos
    return whole and all(o.is_sound for o in outcomes) and not troubles and not complaints


def commanded(folder: Path) -> dict[str, dict[str, Any]]:
    """What `seamtriage screen` says of each photo in `folder`, by its sha256."""
    done = subprocess.run(
        [installed_command(), "screen", "--json", str(folder)],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    said = [json.loads(line) for line in done.stdout.split("\n") if line]
    return {each["sha256"]: each for each in said}


def held_against(
    visit: Visit, paths: Iterable[Path], expected: dict[str, dict[str, Any]]
) -> Outcome:
    """The readings that a browser got, and the pictures on its page, against its own photos."""
    own = {hashlib.sha256(p.read_bytes()).hexdigest(): p for p in paths}
    answers = visit.answers()
    right = [a for a in answers if a.get("sha256") in own and own[a["sha256"]].name == a["photo"]]
    unlike = [a for a in right if timeless(a) != timeless(expected[a["sha256"]])]
    shown = visit.shown()
    wanted = {
        card_of(path): (expected[sha256]["width"], expected[sha256]["height"])
        for sha256, path in own.items()
    }
    return Outcome(
        served=len({a["sha256"] for a in right}),
        mixed_up=len(answers) - len(right),
        unlike_command=len(unlike),
        not_shown=len(wanted.items() ^ shown.items()),
    )


def card_of(path: Path) -> str:
    """The key of the card that `ui.cards` makes of a photo: of its name and its bytes."""
    return hashlib.sha256(path.name.encode() + b"\0" + path.read_bytes()).hexdigest()[:16]


def timeless(answer: dict[str, Any]) -> dict[str, Any]:
    """Without what may differ: the folder in the name, and the time it took."""
    return {key: value for key, value in answer.items() if key not in ("photo", "seconds")}


def screened(folder: Path, count: int) -> bool:
    """`seamtriage screen --json` over `count` photos; whether its memory stays flat."""
    originals = folder / "originals"
    originals.mkdir()
    sound = [path for paths in write_photos(originals, 1, 48) for path in paths]
    batch = folder / "batch"
    batch.mkdir()
    print("memory of all processes of seamtriage screen:")
    for number in range(count):
        (batch / f"{number:05}.jpg").hardlink_to(sound[number % len(sound)])
    began_s = perf_counter()
    memory: list[float] = []
    for in_use_mb in batch_memory_mb(batch):
        memory.append(in_use_mb)
        if len(memory) in (100, 500) or len(memory) % 1000 == 0:
            print(f"  at photo {len(memory):5}  {np.median(memory[-20:]):.0f} MB", flush=True)
    elapsed_s = perf_counter() - began_s
    print(f"{len(memory)} of {count} photos in {elapsed_s:.0f} s")
    slope_mb, _ = np.polyfit(np.arange(100, len(memory)), memory[100:], 1)
    print(f"slope {1000 * slope_mb:+.2f} MB for 1 000 photos; peak {max(memory):.0f} MB")
    return len(memory) == count and abs(slope_mb * 4900) < MOST_GROWTH_MB


if __name__ == "__main__":
    sys.exit(main())
