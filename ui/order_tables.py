"""The findings about an order as tables in a terminal, one table per line."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text

from fittings.order.check import findings_of
from fittings.order.findings import ADVISORY_ORDER, Finding, Level
from fittings.order.lines import OrderError, OrderLine
from fittings.order.rows import ReadLine
from ui.order_files import OrderFile
from ui.tables import output_console

_STYLES = {Level.CONTRADICTION: "bold", Level.LEFT_OPEN: "bold", Level.NOTE: ""}


def print_order(read: OrderFile, console: Console | None = None) -> None:
    """Every line with its findings, in the file's order, then the lines that could not be read."""
    console = console or output_console()
    for result in read.results:
        if isinstance(result, ReadLine):
            console.print(_table(result))
        else:
            console.print(_not_read(result))
    console.print(Text(_count(read)))
    console.print(Text("The order text that shuts a fabrication out: --text."))
    console.print(Text(ADVISORY_ORDER, style="bold"))


def _table(read: ReadLine) -> Table:
    table = Table(
        title=Text(_title(read.line)), title_justify="left", title_style="bold", show_lines=True
    )
    table.add_column("Finding", no_wrap=True)
    table.add_column("What", overflow="fold", ratio=5)
    table.add_column("Source, and how it was checked", overflow="fold", ratio=3)
    for each in findings_of(read):
        table.add_row(*_cells(each))
    return table


def _cells(finding: Finding) -> list[Text]:
    return [
        Text(finding.level.value, style=_STYLES[finding.level]),
        Text(finding.sentence),
        Text(finding.source, style="italic" if finding.from_memory else ""),
    ]


def _not_read(error: OrderError) -> Text:
    return Text.assemble(
        (f"Row {error.row}: not read. ", "bold"), f"{error.field}: {error.message}"
    )


def _title(line: OrderLine) -> str:
    wall = f"schedule {line.schedule}" if line.schedule else ""
    if line.wall_mm is not None:
        wall = f"{wall} ({line.wall_mm:g} mm)" if wall else f"{line.wall_mm:g} mm wall"
    parts = (
        f"{line.quantity} x {line.form.value}",
        f"NPS {line.sizes}",
        wall,
        line.material,
        line.construction.value if line.construction else "",
        line.dimension_standard or "",
    )
    return f"Row {line.row}: " + ", ".join(filter(None, parts))


def _count(read: OrderFile) -> str:
    findings = [each for line in read.lines for each in findings_of(line)]
    counts = {level: sum(each.level is level for each in findings) for level in Level}
    text = (
        f"{len(read.lines)} lines read, {len(read.errors)} not read: "
        f"{counts[Level.CONTRADICTION]} contradictions, {counts[Level.LEFT_OPEN]} left open, "
        f"{counts[Level.NOTE]} notes."
    )
    return text.replace("1 lines", "1 line")
