"""`seamtriage dims`: the dimensions of a fitting, and measurements held against them."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fittings.receiving.measured import ADVISORY_MEASURED
from ui.exit_codes import EXIT_SOME_UNREAD

if TYPE_CHECKING:
    from fittings.order.lines import OrderLine
    from fittings.receiving.end_limits import Limit
    from fittings.receiving.measured import Deviation

    Answer = tuple[OrderLine, tuple[Limit, ...], tuple[Deviation, ...]]

HELP = f"""Look up what ASME B16.9 prints for a fitting, and hold measurements against it.

{ADVISORY_MEASURED}

Examples:

  seamtriage dims --fitting "90 LR elbow" --nps 6 --schedule 40

  seamtriage dims --fitting tee --nps DN150 --measured M=5.66in --measured od=168.9mm

A measurement is NAME=LENGTH with its unit (mm, cm, in); the same name may come several times, and
the worst one speaks. Names are those of the table's first column or the standard's letters (A, B,
C, M, H, Q, P).

--file reads a CSV with one piece per row, decimal commas too where semicolons or tabs part the
columns: columns fitting, nps (or DN), second, schedule, nominal
wall, tag; every other column is a measured dimension, its unit in the heading or in the cell, such
as "od (mm)", "wall 1 (mm)", "wall 2 (mm)".

What a measurement says never changes the exit code: 0 done, 1 the job failed, 2 wrong usage, 3 some
rows of a file could not be read."""


def add_to(app: typer.Typer) -> None:
    """Gives `app` the command."""
    app.command(
        name="dims", help=HELP, short_help="Look up ASME B16.9 and hold measurements against it."
    )(dims)


def dims(
    fitting: Annotated[
        str | None,
        typer.Option(
            "--fitting",
            metavar="NAME",
            help="Such as '90 LR elbow', '45 3D elbow', tee, reducer, 'ecc reducer'.",
            show_default=False,
        ),
    ] = None,
    nps: Annotated[
        str | None,
        typer.Option(
            "--nps",
            metavar="SIZE",
            help="Size of the run or large end: 6, 1-1/2 or DN150.",
            show_default=False,
        ),
    ] = None,
    second: Annotated[
        str | None,
        typer.Option("--second", metavar="SIZE", help="Outlet or small end.", show_default=False),
    ] = None,
    schedule: Annotated[
        str | None,
        typer.Option(
            "--schedule",
            metavar="NAME",
            help="40, STD, XS, 10S …, for wall and bore.",
            show_default=False,
        ),
    ] = None,
    second_schedule: Annotated[
        str | None,
        typer.Option(
            "--second-schedule",
            metavar="NAME",
            help="Of the second size, if another one.",
            show_default=False,
        ),
    ] = None,
    wall: Annotated[
        str | None,
        typer.Option(
            "--wall",
            metavar="LENGTH",
            help="Nominal wall with its unit, such as 7.11mm.",
            show_default=False,
        ),
    ] = None,
    second_wall: Annotated[
        str | None,
        typer.Option(
            "--second-wall",
            metavar="LENGTH",
            help="Nominal wall of the second size.",
            show_default=False,
        ),
    ] = None,
    measured: Annotated[
        list[str] | None,
        typer.Option(
            "--measured",
            metavar="NAME=LENGTH",
            help="A measurement, such as centre_to_end=229.5mm. Give it as often as you measured.",
            show_default=False,
        ),
    ] = None,
    file: Annotated[
        Path | None,
        typer.Option(
            "--file", metavar="FILE", help="Measured pieces, one per row.", show_default=False
        ),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON object per fitting and line.")
    ] = False,
) -> None:
    options = (fitting, nps, second, schedule, second_schedule, wall, second_wall, measured)
    if file is not None:
        if any(options):
            raise typer.BadParameter("a file brings its own sizes", param_hint="--file")
        raise typer.Exit(_dims_of_file(file, as_json=as_json))
    for option, text in (("--fitting", fitting), ("--nps", nps)):
        if text is None:
            raise typer.BadParameter("this is needed, or --file", param_hint=option)
    from fittings.dimensions import SizeNotListed
    from fittings.order.lines import OrderError
    from fittings.receiving.measured import MeasurementError
    from fittings.units import QuantityError

    entered = {
        "fitting": fitting,
        "nps": nps,
        "second": second,
        "schedule": schedule,
        "second_schedule": second_schedule,
        "wall": wall,
        "second_wall": second_wall,
    }
    try:
        pairs = [measurement_entered(text) for text in measured or ()]
        answer = _looked_up({key: text for key, text in entered.items() if text}, pairs)
    except OrderError as error:
        raise typer.BadParameter(error.message, param_hint=option_of(error.field)) from None
    except QuantityError as error:
        raise typer.BadParameter(error.problem, param_hint=option_of(error.field)) from None
    except MeasurementError as error:
        raise typer.BadParameter(str(error), param_hint="--measured") from None
    except SizeNotListed as error:
        raise typer.BadParameter(str(error), param_hint="--nps, --second, --schedule") from None
    _show(answer, as_json=as_json)
    if as_json:
        typer.echo(ADVISORY_MEASURED, err=True)


def _dims_of_file(path: Path, *, as_json: bool) -> int:
    """Every row of a file, bad ones named; the exit code."""
    from fittings.dimensions import SizeNotListed
    from fittings.order.lines import OrderError
    from fittings.receiving.measured import MeasurementError
    from fittings.units import QuantityError
    from ui.dims_files import read_measured

    code = 0
    for row in read_measured(path):
        where: dict[str, Any] = {"row": row.row}
        if tag := row.ordered.get("tag"):
            where["tag"] = tag
        try:
            answer = _looked_up(row.ordered, row.measured)
        except (OrderError, QuantityError, MeasurementError, SizeNotListed) as error:
            code = EXIT_SOME_UNREAD
            field = getattr(error, "field", "nps")
            message = str(error).removeprefix(f"{field}: ")
            if as_json:
                problem = {**where, "error": {"field": field, "message": message}}
                typer.echo(json.dumps(problem, ensure_ascii=False))
            typer.echo(f"seamtriage: {path}, row {row.row}, {field}: {message}", err=True)
            continue
        _show(answer, as_json=as_json, where=where)
    if as_json:
        typer.echo(ADVISORY_MEASURED, err=True)
    return code


def _looked_up(ordered: Mapping[str, str], measured: Sequence[tuple[str, str]]) -> Answer:
    """The order line, its limits and the comparison; the errors of each."""
    from fittings.order.lines import OrderError
    from fittings.receiving.limits import limits
    from fittings.receiving.measured import compare, limit_named
    from fittings.units import length_mm

    for field in ("fitting", "nps"):
        if not ordered.get(field):
            raise OrderError(field, "this is empty")
    line = line_entered(
        ordered["fitting"],
        ordered["nps"],
        ordered.get("second"),
        ordered.get("schedule"),
        ordered.get("wall"),
    )
    allowed = limits(
        line,
        second_schedule=ordered.get("second_schedule"),
        second_wall_mm=wall_entered(ordered.get("second_wall"), "second_wall"),
    )
    # The name first: a column that is no dimension has no unit to ask for.
    lengths = [(limit_named(name, allowed).name, length_mm(text, name)) for name, text in measured]
    return line, allowed, compare(allowed, lengths)


def _show(answer: Answer, *, as_json: bool, where: Mapping[str, Any] | None = None) -> None:
    from ui.dims_output import as_object, print_dims

    where = where or {}
    if as_json:
        record = {**where, **as_object(*answer)}
        typer.echo(json.dumps(record, ensure_ascii=False, allow_nan=False))
        return
    from ui.tables import output_console

    title = ", ".join(f"{name} {value}" for name, value in where.items())
    print_dims(*answer, output_console(), title=title)


def line_entered(
    fitting: str, nps: str, second: str | None, schedule: str | None, wall: str | None
) -> OrderLine:
    """The order line that the options describe; OrderError or QuantityError names the option."""
    from fittings.form_names import form_named, nps_named
    from fittings.order.lines import OrderLine
    from fittings.sizes import parse_nps

    first_nps = nps_named(nps)
    second_nps = None if second is None else nps_named(second, "second")
    if second_nps is not None and parse_nps(second_nps) == parse_nps(first_nps):
        second_nps = None  # a straight tee written as 6 x 6
    return OrderLine(
        row=0,
        form=form_named(fitting, two_sizes=second_nps is not None),
        nps=first_nps,
        second_nps=second_nps,
        schedule=schedule,
        wall_mm=wall_entered(wall, "wall"),
    )


def wall_entered(text: str | None, field: str) -> float | None:
    """A wall with its unit in mm, None where there is none; OrderError when it is not above 0."""
    from fittings.order.lines import OrderError
    from fittings.units import length_mm

    if text is None:
        return None
    wall_mm = length_mm(text, field)
    if wall_mm <= 0:
        raise OrderError(field, f"{text!r} is no wall thickness; it must be greater than 0")
    return wall_mm


def measurement_entered(text: str) -> tuple[str, str]:
    """ "wall=7.1mm" as ("wall", "7.1mm"); MeasurementError for a text without both."""
    from fittings.receiving.measured import MeasurementError

    name, equals, length = text.partition("=")
    if not equals or not name.strip():
        raise MeasurementError(text, "is not NAME=LENGTH, such as centre_to_end=229.5mm")
    return name.strip(), length


def option_of(field: str) -> str:
    """The option behind a field's name; a measurement's own name stays what it is."""
    return _OPTIONS.get(field, f"--measured {field}")


_OPTIONS = {
    "fitting": "--fitting",
    "nps": "--nps",
    "second": "--second",
    "second_nps": "--second",
    "schedule": "--schedule",
    "second_schedule": "--second-schedule",
    **dict.fromkeys(("wall", "wall_mm", "run_wall_mm", "large_wall_mm"), "--wall"),
    **dict.fromkeys(("second_wall", "outlet_wall_mm", "small_wall_mm"), "--second-wall"),
}
