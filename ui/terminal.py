"""Progress on standard error, only where that is a terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress_on_stderr(
    total: int | None, *, wanted: bool = True
) -> Iterator[Callable[[int, str], None] | None]:
    """Yields `progress(done, name)` that moves a bar, or None where nobody would see it.

    `total` is the number of photos; None where it can't be known beforehand.
    """
    if not wanted or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    bar = Progress(
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("{task.fields[name]}", markup=False),
        console=Console(stderr=True),
        transient=True,
        redirect_stdout=False,  # or standard output would come out on standard error
        redirect_stderr=False,
    )
    with bar:
        task = bar.add_task("", total=total, name="")

        def move(done: int, name: str) -> None:
            bar.update(task, completed=done, name=name)

        yield move
