"""How long a picture takes, numpy against the compiled renderer: `python -m synthetic.benchmark`.

Ratios are measured side by side on one machine, so that they say something on any other.
"""

from __future__ import annotations

from collections.abc import Callable
from time import perf_counter

import numpy as np

from fittings.words import Kind
from synthetic.native import native_stages
from synthetic.render import render
from synthetic.sample import sample_scene

WIDTH, HEIGHT = 640, 480
SCENES_PER_KIND = 3


def seconds(work: Callable[[], object]) -> float:
    """Seconds that one call takes."""
    start = perf_counter()
    work()
    return perf_counter() - start


def main() -> None:
    stages = native_stages()
    print(f"One picture of {WIDTH} × {HEIGHT}, median of {SCENES_PER_KIND} scenes")
    print(f"{'shows':<10}{'numpy s':>10}{'native s':>10}{'ratio':>8}")
    for kind in (Kind.ELBOW, Kind.TEE, Kind.REDUCER, None):
        slow, fast = [], []
        for index in range(SCENES_PER_KIND):
            kinds = () if kind is None else (kind,)
            scene = sample_scene(np.random.default_rng([11, index]), kinds)
            slow.append(seconds(lambda s=scene: render(s, WIDTH, HEIGHT)))  # type: ignore[misc]
            if stages is not None:
                fast.append(seconds(lambda s=scene: render(s, WIDTH, HEIGHT, stages)))  # type: ignore[misc]
        word = "nothing" if kind is None else kind.value
        line = f"{word:<10}{np.median(slow):>10.2f}"
        if fast:
            ratio = np.median(np.asarray(slow) / np.asarray(fast))
            line += f"{np.median(fast):>10.2f}{ratio:>8.1f}"
        print(line)


if __name__ == "__main__":
    main()
