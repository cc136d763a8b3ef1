"""Readings as a table in a terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Console
from rich.table import Table
from rich.text import Text

from fittings.checks import IN_SHORT
from fittings.words import ADVISORY, percent
from ui.screening import Screened, worst_first
from ui.wording import kind_in_words, lines_in_words

_PIPE_WIDTH = 120  # columns where no terminal sets them


def output_console() -> Console:
    """Standard output; wide where it is no terminal, so that nothing is cut. Obeys NO_COLOR."""
    console = Console(highlight=False)
    return console if console.is_terminal else Console(highlight=False, width=_PIPE_WIDTH)


def print_table(results: Iterable[Screened], console: Console) -> None:
    """The triage list, highest probability first, with the caution under it. The reasons have the
    numbers that point at their places on the picture that `--out` writes."""
    table = Table(show_lines=True)
    table.add_column("Photo", overflow="fold", ratio=3)
    table.add_column("Fabri-\ncated", justify="right", no_wrap=True)
    table.add_column("Reading, and why", overflow="fold", ratio=7)
    table.add_column("Next step", overflow="fold", ratio=5)
    for result in worst_first(results):
        table.add_row(*_cells(result))
    console.print(table)
    console.print(Text(IN_SHORT))
    console.print(Text(ADVISORY, style="bold"))


def _cells(result: Screened) -> list[Text]:
    if result.reading is None:
        problem = result.error.message.removeprefix(f"{result.name}: ") if result.error else ""
        return [Text(result.name), Text(""), Text("Not read"), Text(problem)]
    reading = result.reading
    verdict = reading.verdict
    said = Text(verdict.reading.title, style="bold")
    facts = (
        f"Fitting: {kind_in_words(reading)}",
        f"Seams: {lines_in_words(reading)}",
        *(f"{number}. {why}" for number, why in enumerate(verdict.reasons, 1)),
        *reading.quality.problems,
    )
    said.append("".join(f"\n{each}" for each in facts), "not bold")
    check = verdict.next_step.removesuffix(IN_SHORT).strip()  # once under the table is enough
    return [Text(result.name), Text(percent(verdict.fabricated_probability)), said, Text(check)]
