"""`seamtriage order FILE`: what each order line asks for, contradicts and leaves open."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fittings.order.findings import ADVISORY_ORDER
from ui.exit_codes import EXIT_SOME_UNREAD

if TYPE_CHECKING:
    from fittings.order.lines import OrderError, OrderLine
    from fittings.order.rows import ReadLine

HELP = f"""Check order lines: is a seam allowed, what is contradicted, what is left open.

{ADVISORY_ORDER}

Examples:

  seamtriage order order.csv

  seamtriage order order.xlsx --text > clauses.txt

  seamtriage order order.csv --json > findings.jsonl

FILE is CSV (comma, semicolon or tab) or Excel .xlsx, with a heading line. Columns, in any order and
case, with units in the heading or the cell:

  Fitting           90 LR elbow, tee, reducing tee, ecc reducer ...

  Size              6, 6 x 4, DN150 (or NPS, DN, Outlet, Small end)

  Schedule or Wall  40, STD, 10S; 9.53 mm, Wall (mm), Wall (in)

  Material          A234 WPB, A403 WP304L-S (or Spec, Grade, Class)

  Construction      seamless, welded

  Quantity, Dimension standard, Certificate, Examination, Start material

  Description       ELBOW 90 LR 6in SCH 40 A234 WPB SMLS, for all others

Values from memory, and common practice without a source, are marked as such. Exit codes: 0 every
line was read, 3 some could not be, 2 wrong usage, 1 the job failed. What is found never changes the
exit code."""


def add_to(app: typer.Typer) -> None:
    """Makes `order` a command of `app`."""
    app.command(
        name="order",
        help=HELP,
        short_help="Check order lines: is a seam allowed, what is left open.",
    )(order)


def order(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="The order, CSV or .xlsx.", show_default=False)
    ],
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON object per order line, bad lines included.")
    ] = False,
    text: Annotated[
        bool,
        typer.Option("--text", help="Only the order text of each line, ready to paste."),
    ] = False,
) -> None:
    if as_json and text:
        raise typer.BadParameter(
            "give one of --json (which holds the text too) and --text.", param_hint="--text"
        )
    from fittings.order.text import TEXT_ADVICE, TEXT_SOURCE
    from ui.order_files import read_order_file

    read = read_order_file(file)
    if read.unused:
        typer.echo(f"{read.name}: columns not used: {', '.join(read.unused)}.", err=True)
    if as_json:
        for result in read.results:
            typer.echo(json.dumps(_as_object(result), ensure_ascii=False))
        sys.stdout.flush()
    elif text:
        _print_texts(read.results)
        typer.echo(f"{TEXT_ADVICE}\n{TEXT_SOURCE}.", err=True)
    else:
        from ui.order_tables import print_order

        print_order(read)
    if as_json or text:
        typer.echo(ADVISORY_ORDER, err=True)
        for error in read.errors:
            typer.echo(f"seamtriage: {read.name}: {error}", err=True)
    if read.errors:
        raise typer.Exit(EXIT_SOME_UNREAD)


def _print_texts(results: tuple[ReadLine | OrderError, ...]) -> None:
    from fittings.order.rows import ReadLine
    from fittings.order.text import order_text

    texts = [
        f"Row {result.line.row}\n\n{order_text(result.line)}"
        for result in results
        if isinstance(result, ReadLine)
    ]
    typer.echo("\n\n".join(texts))


def _as_object(result: ReadLine | OrderError) -> dict[str, Any]:
    from fittings.order.check import findings_of, seam_allowed
    from fittings.order.lines import OrderError
    from fittings.order.text import order_text

    if isinstance(result, OrderError):
        return error_as_object(result)
    seam = {True: "longitudinal", False: "none", None: "contradiction"}
    return {
        "row": result.line.row,
        "line": line_as_object(result.line),
        "seam_allowed": seam[seam_allowed(result.line)],
        "findings": [
            {
                "level": each.level.value,
                "field": each.field,
                "message": each.sentence,
                "source": each.source,
                "from_memory": each.from_memory,
                "common_practice": each.common_practice,
            }
            for each in findings_of(result)
        ],
        "text": order_text(result.line),
        "advisory": ADVISORY_ORDER,
    }


def error_as_object(error: OrderError) -> dict[str, Any]:
    """A row of an order file that could not be read."""
    return {"row": error.row, "error": {"field": error.field, "message": error.message}}


def line_as_object(line: OrderLine) -> dict[str, Any]:
    """An order line by its field names, with plain values; null for what it does not say."""
    return {
        "form": line.form.value,
        "kind": line.form.kind.value,
        "nps": line.nps,
        "second_nps": line.second_nps,
        "schedule": line.schedule,
        "wall_mm": line.wall_mm,
        "spec": line.spec,
        "grade": line.grade,
        "suffix": line.suffix,
        "construction": line.construction.value if line.construction else None,
        "quantity": line.quantity,
        "dimension_standard": line.dimension_standard,
        "start_material": line.start_material,
        "certificate": line.certificate,
        "examination": line.examination,
    }
