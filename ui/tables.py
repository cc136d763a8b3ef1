"""Readings as a table in a terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Console
from rich.table import Table
from rich.text import Text

from fittings.words import ADVISORY, Orientation
from ui.screening import Screened, worst_first
from ui.wording import kind_in_words, percent, seams_in_words

_PIPE_WIDTH = 160  # columns where no terminal sets them


def output_console() -> Console:
    """Standard output; wide where it is no terminal, so that nothing is cut. Obeys NO_COLOR."""
    console = Console(highlight=False)
    return console if console.is_terminal else Console(highlight=False, width=_PIPE_WIDTH)


def print_table(results: Iterable[Screened], console: Console) -> None:
    """The triage list, highest probability first, with the caution under it."""
    table = Table(show_lines=True, expand=False)
    table.add_column("Photo", overflow="fold", min_width=8)
    table.add_column("Fitting", overflow="fold")
    table.add_column("Reading", overflow="fold")
    table.add_column("Fabricated,\nprobability", justify="right")
    table.add_column("Seams", overflow="fold")
    table.add_column("Next step", overflow="fold", ratio=1)
    for result in worst_first(results):
        table.add_row(*_cells(result))
    console.print(table)
    console.print(Text(ADVISORY, style="bold"))


def _cells(result: Screened) -> list[Text]:
    if result.reading is None:
        problem = result.error.message.removeprefix(f"{result.name}: ") if result.error else ""
        return [Text(result.name), Text(""), Text("not read"), Text(""), Text(""), Text(problem)]
    reading = result.reading
    verdict = reading.verdict
    telling = any(seam.orientation.speaks_of_fabrication for seam in reading.seams)
    style = "rgb({},{},{})".format(*Orientation.CIRCUMFERENTIAL.style.colour) if telling else ""
    steps = " ".join((verdict.next_step, *reading.quality.problems))
    return [
        Text(result.name),
        Text(kind_in_words(reading)),
        Text(verdict.reading.title, style=style),
        Text(percent(verdict.fabricated_probability)),
        Text(seams_in_words(reading)),
        Text(steps),
    ]
