"""`seamtriage review`: the certificate and record checklist of the lines of an order file."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fittings.receiving.review import ADVISORY_REVIEW, Answer, Checklist, ReviewError, Standing
from ui.exit_codes import EXIT_SOME_UNREAD
from ui.order_command import error_as_object

if TYPE_CHECKING:
    from rich.console import Console

    from fittings.order.lines import OrderError

HELP = f"""Print what to look for in the certificate and records of an order's lines.

{ADVISORY_REVIEW}

Examples:

  seamtriage review order.csv --row 3

  seamtriage review order.csv --row 3 --answer "radiography=fail:reports cover 80 %" --json

FILE is an order file as `seamtriage order` reads it. Answers are shown, in the order given, and
written nowhere. No answer changes the exit code: 0 done, 1 the job failed, 2 wrong usage, 3 some
rows could not be read."""


def add_to(app: typer.Typer) -> None:
    """Gives `app` the command."""
    app.command(
        name="review", help=HELP, short_help="Print what to look for in certificates and records."
    )(review)


def review(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="The order, CSV or Excel.", show_default=False)
    ],
    row: Annotated[
        int | None,
        typer.Option(
            "--row",
            metavar="N",
            min=1,
            help="Row number in the file, heading included; without it every row.",
            show_default=False,
        ),
    ] = None,
    answer: Annotated[
        list[str] | None,
        typer.Option(
            "--answer",
            metavar="ITEM=STANDING[:NOTE]",
            help="An answer: pass, fail (with a note), open, not applicable (with a note).",
            show_default=False,
        ),
    ] = None,
    witnessed: Annotated[
        bool | None,
        typer.Option(
            "--witnessed/--not-witnessed",
            help="Whether the order wants the tensile test witnessed.",
            show_default=False,
        ),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON object per order line.")
    ] = False,
) -> None:
    from fittings.order.lines import OrderError
    from fittings.receiving.review_items import checklist
    from ui.order_files import read_order_file

    try:
        answers = [answer_entered(text) for text in answer or ()]
    except ReviewError as error:
        raise typer.BadParameter(error.message, param_hint="--answer") from None
    if answers and row is None:
        raise typer.BadParameter("answers belong to one line; give --row too", param_hint="--row")
    read = read_order_file(file)
    results = [
        each if isinstance(each, OrderError) else checklist(each.line, tensile_witnessed=witnessed)
        for each in read.results
    ]
    if row is not None:
        results = [each for each in results if row_of(each) == row]
        if not results:
            raise typer.BadParameter(f"{file} has no order in row {row}", param_hint="--row")
    try:
        results = [
            answered(each, answers) if isinstance(each, Checklist) else each for each in results
        ]
    except ReviewError as error:
        raise typer.BadParameter(error.message, param_hint="--answer") from None
    for each in results:
        if isinstance(each, OrderError):
            typer.echo(f"seamtriage: {read.name}: {each}", err=True)
        if as_json:
            record = error_as_object(each) if isinstance(each, OrderError) else as_object(each)
            typer.echo(json.dumps(record, ensure_ascii=False, allow_nan=False))
        elif isinstance(each, Checklist):
            from ui.tables import output_console

            print_checklist(each, output_console())
    typer.echo(ADVISORY_REVIEW, err=as_json)
    raise typer.Exit(
        EXIT_SOME_UNREAD if any(isinstance(each, OrderError) for each in results) else 0
    )


def row_of(result: Checklist | OrderError) -> int:
    """The row of the file that a checklist, or the error in its place, came from."""
    return result.line.row if isinstance(result, Checklist) else result.row


def answer_entered(text: str) -> Answer:
    """ "heat_number=fail:no heat on the piece" as an answer; ReviewError says what is wrong."""
    key, equals, rest = text.partition("=")
    if not equals:
        raise ReviewError("item", f"{text!r} is not ITEM=STANDING or ITEM=STANDING:NOTE")
    word, _, note = rest.partition(":")
    plain = word.strip().lower().replace("_", " ").replace("-", " ")
    known = {each.value: each for each in Standing}
    if plain not in known:
        raise ReviewError("standing", f"{word.strip()!r} is none of {', '.join(known)}")
    return Answer(key=key.strip(), standing=known[plain], note=note.strip())


def answered(each: Checklist, answers: list[Answer]) -> Checklist:
    """The checklist with these answers, in their order."""
    for answer in answers:
        each = each.with_answer(answer.key, answer.standing, answer.note)
    return each


def as_object(each: Checklist) -> dict[str, Any]:
    """The JSON object of one order line's checklist."""
    from ui.order_command import line_as_object

    return {
        "row": each.line.row,
        "line": line_as_object(each.line),
        "items": [
            {
                "key": item.key,
                "title": item.title,
                "standing": each.standing(item.key).value,
                "note": each.note(item.key),
                "look_for": item.look_for,
                "why": item.why,
                "source": item.source,
                "from_memory": item.from_memory,
                "common_practice": item.common_practice,
                "history": [
                    {"standing": past.standing.value, "note": past.note}
                    for past in each.history(item.key)
                ],
            }
            for item in each.items
        ],
        "counts": {standing.value: count for standing, count in each.counts().items()},
        "summary": each.summary,
        "advisory": ADVISORY_REVIEW,
    }


def print_checklist(each: Checklist, console: Console) -> None:
    """The checklist as a table, its sources and its summary."""
    from rich.table import Table
    from rich.text import Text

    line = each.line
    where = f"row {line.row}: " if line.row else ""
    console.print(
        Text(
            f"{where}{line.quantity} x {line.form.value}, NPS {line.sizes}"
            f"{f', schedule {line.schedule}' if line.schedule else ''}"
            f"{f', {line.material}' if line.material else ''}"
            f"{f', {line.construction.value}' if line.construction else ''}",
            style="bold",
        )
    )
    table = Table(show_lines=True)
    table.add_column("Item", overflow="fold", ratio=4)
    table.add_column("Stands", overflow="fold", ratio=3)
    table.add_column("Look for", overflow="fold", ratio=7)
    table.add_column("Why it is asked", overflow="fold", ratio=5)
    for number, item in enumerate(each.items, start=1):
        stands = Text(each.standing(item.key).value, style="bold")
        if note := each.note(item.key):
            stands.append(f"\n{note}", "not bold")
        if len(each.history(item.key)) > 1:
            stands.append(f"\n(answer {len(each.history(item.key))})", "not bold italic")
        name = Text(f"{number} {item.title}")
        name.append(f"\n{item.key}", "italic")
        marks = [("from memory", item.from_memory), ("common practice", item.common_practice)]
        if said := ", ".join(word for word, is_so in marks if is_so):
            name.append(f"\n({said}: see sources)", "italic")
        table.add_row(name, stands, Text(item.look_for), Text(item.why))
    console.print(table)
    console.print(Text(f"Standing: {each.summary}", style="bold"))
    console.print("Sources:")
    for number, item in enumerate(each.items, start=1):
        console.print(Text(f"  {number} {item.title}: {item.source}"))
