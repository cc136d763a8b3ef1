"""`seamtriage checks`: the physical checks that settle what a fitting is."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer

from fittings.checks import CAUTION
from fittings.receiving.check_terms import Metal
from fittings.words import ADVISORY, Construction, Kind, Reading

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console
    from rich.text import Text

    from fittings.order.lines import FittingForm
    from fittings.receiving.check_terms import PhysicalCheck

HELP = f"""List the physical checks that settle how a fitting was made, least effort first.

{ADVISORY} {CAUTION}

Examples:

  seamtriage checks --fitting tee --reading fabrication_seam --material carbon

  seamtriage checks --fitting "90 LR elbow" --nps 12 --schedule STD --construction seamless --json

Each check says where to look, what it would show on a formed and on a fabricated piece, what it
cannot tell, what can hurt somebody, and where the advice comes from. Exit codes: 0 done, 2 wrong
usage."""

T = TypeVar("T")

# The constructions that an order can ask for of a wrought fitting.
_ORDERED = (Construction.SEAMLESS, Construction.WELDED)


def add_to(app: typer.Typer) -> None:
    """Gives `app` the command."""
    app.command(
        name="checks",
        help=HELP,
        short_help="List the physical checks that settle how a fitting was made.",
    )(checks)


def checks(
    fitting: Annotated[
        str,
        typer.Option(
            "--fitting", metavar="NAME", help="elbow, tee or reducer, or '90 LR elbow' with --nps."
        ),
    ],
    construction: Annotated[
        str | None,
        typer.Option(
            "--construction",
            metavar="seamless|welded",
            help="What the order asks for.",
            show_default=False,
        ),
    ] = None,
    reading: Annotated[
        str | None,
        typer.Option(
            "--reading",
            metavar="|".join(each.value for each in Reading),
            help="What the photographs show.",
            show_default=False,
        ),
    ] = None,
    material: Annotated[
        str | None,
        typer.Option(
            "--material",
            metavar="|".join(each.value for each in Metal),
            help="Leaves out what does not fit the metal.",
            show_default=False,
        ),
    ] = None,
    nps: Annotated[
        str | None,
        typer.Option(
            "--nps", metavar="SIZE", help="Size, 12 or DN300, for figures.", show_default=False
        ),
    ] = None,
    schedule: Annotated[
        str | None,
        typer.Option(
            "--schedule", metavar="NAME", help="With --nps, for the least wall.", show_default=False
        ),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON object per check and line.")
    ] = False,
) -> None:
    from fittings.form_names import form_named, kind_named, nps_named
    from fittings.listed import SizeNotListed
    from fittings.order.lines import OrderError
    from fittings.receiving.settle import physical_checks
    from ui.dims_command import option_of

    asked_for = _choice(construction, {each.value: each for each in _ORDERED}, "--construction")
    shown = _choice(reading, {each.value: each for each in Reading}, "--reading")
    metal = _choice(material, {each.value: each for each in Metal}, "--material")
    if schedule is not None and nps is None:
        raise typer.BadParameter("a schedule needs a size; give --nps too", param_hint="--schedule")
    form: FittingForm | None = None
    try:
        kind = kind_named(fitting)
        size = None if nps is None else nps_named(nps)
        if kind is Kind.ELBOW and size is not None:
            form = form_named(fitting, two_sizes=False)
        listed = physical_checks(
            kind, reading=shown, material=metal, form=form, nps=size, schedule=schedule
        )
    except OrderError as error:
        raise typer.BadParameter(error.message, param_hint=option_of(error.field)) from None
    except SizeNotListed as error:
        raise typer.BadParameter(str(error), param_hint="--nps, --schedule") from None
    if as_json:
        for number, check in enumerate(listed, start=1):
            record = _as_object(number, check, kind, asked_for, shown, metal)
            typer.echo(json.dumps(record, ensure_ascii=False, allow_nan=False))
        typer.echo(f"{ADVISORY} {CAUTION}", err=True)
    else:
        from ui.tables import output_console

        _print(listed, kind, asked_for, shown, output_console())


def _choice(text: str | None, known: dict[str, T], option: str) -> T | None:
    """The value that a word names; BadParameter with the nearest word, or with all of them."""
    if text is None:
        return None
    plain = text.strip().lower().replace(" ", "_")
    if plain in known:
        return known[plain]
    import difflib

    near = difflib.get_close_matches(plain, known, n=1)
    hint = f"did you mean {near[0]}?" if near else f"write one of {', '.join(known)}"
    raise typer.BadParameter(f"{text!r} is not known; {hint}", param_hint=option)


def _as_object(
    number: int,
    check: PhysicalCheck,
    kind: Kind,
    construction: Construction | None,
    reading: Reading | None,
    material: Metal | None,
) -> dict[str, Any]:
    from fittings.receiving.settle import suspect_line, what_the_order_makes_of_a_weld

    return {
        "order": number,
        "key": check.key,
        "check": check.name,
        "fitting": kind.value,
        "construction": construction.value if construction else None,
        "reading": reading.value if reading else None,
        "material": material.value if material else None,
        "effort": check.effort.value,
        "effort_in_words": check.effort.in_words,
        "how": check.how,
        "where": check.where,
        "suspect_line": suspect_line(kind, reading),
        "shows_formed": check.formed,
        "shows_fabricated": check.fabricated,
        "cannot_tell": check.cannot_tell,
        "figures": list(check.figures),
        "cautions": [hazard.value for hazard in check.hazards],
        "source": check.source,
        "from_memory": check.from_memory,
        "common_practice": check.common_practice,
        "how_sure": check.how_sure,
        "weld_against_the_order": what_the_order_makes_of_a_weld(construction),
        "advisory": f"{ADVISORY} {CAUTION}",
    }


def _print(
    listed: Sequence[PhysicalCheck],
    kind: Kind,
    construction: Construction | None,
    reading: Reading | None,
    console: Console,
) -> None:
    from rich.table import Table
    from rich.text import Text

    from fittings.receiving.settle import suspect_line, what_the_order_makes_of_a_weld

    read = f", reading: {reading.title}" if reading else ""
    console.print(Text(f"Physical checks, {kind.value}{read}", style="bold"))
    console.print(Text(what_the_order_makes_of_a_weld(construction)))
    console.print(Text(f"The suspect line: {suspect_line(kind, reading)}."))
    table = Table(show_lines=True)
    table.add_column("Check, least effort first", overflow="fold", ratio=4)
    table.add_column("Where and how", overflow="fold", ratio=5)
    table.add_column("Formed piece shows", overflow="fold", ratio=4)
    table.add_column("Fabricated piece shows", overflow="fold", ratio=4)
    table.add_column("Cannot tell", overflow="fold", ratio=4)
    hazards = list(dict.fromkeys(hazard for check in listed for hazard in check.hazards))
    for number, check in enumerate(listed, start=1):
        table.add_row(
            _name_cell(number, check, [hazards.index(each) + 1 for each in check.hazards]),
            Text("\n".join(filter(None, (check.where, check.how, *check.figures)))),
            Text(check.formed),
            Text(check.fabricated),
            Text(check.cannot_tell),
        )
    console.print(table)
    console.print(Text("Cautions", style="bold"))
    for number, hazard in enumerate(hazards, start=1):
        console.print(Text(f"  ({number}) {hazard.value}"))
    console.print(Text("Sources", style="bold"))
    for number, check in enumerate(listed, start=1):
        console.print(Text(f"  {number} {check.name}: {check.source}"))
    console.print(Text(CAUTION))
    console.print(Text(ADVISORY, style="bold"))


def _name_cell(number: int, check: PhysicalCheck, cautions: list[int]) -> Text:
    from rich.text import Text

    cell = Text(f"{number} {check.name}", style="bold")
    cell.append(f"\n{check.effort.in_words}", "not bold")
    if cautions:
        noun = "caution" if len(cautions) == 1 else "cautions"
        cell.append(f"\n{noun} {', '.join(f'({each})' for each in cautions)}", "not bold")
    if check.how_sure:
        cell.append(f"\n{check.how_sure}", "not bold italic")
    return cell
