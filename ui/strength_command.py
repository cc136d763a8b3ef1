"""`seamtriage strength`: what it costs in strength when a piece turns out to be a fabrication."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fittings.strength.consequence import SCREENING

if TYPE_CHECKING:
    from fittings.strength.consequence import Consequence, Fabrication
    from fittings.strength.ordered_piece import OrderedPiece
    from fittings.strength.pressure import Design

HELP = f"""Reckon what a piece costs in strength if it is a fabrication and not the fitting ordered.

{SCREENING}

Examples:

  seamtriage strength --fitting tee --nps 12 --second 6 --schedule STD --pressure 30bar
 --allowable 137.9MPa --corrosion 1.5mm

  seamtriage strength --fitting "90 LR elbow" --nps 12 --schedule STD --pieces 3 --plot elbow.svg

Flexibility and stress intensification of the formed and of the fabricated piece, area replacement
at a welded-on outlet, pressure of a mitred bend, wall for pressure: ASME B31.3-2016, every step
shown. Lengths and pressures carry their unit: mm, cm, in; MPa, bar, psi, ksi. What comes out never
changes the exit code: 0 done, 1 the job failed, 2 wrong usage."""


def add_to(app: typer.Typer) -> None:
    """Gives `app` the command."""
    app.command(
        name="strength", help=HELP, short_help="Reckon what a fabrication costs in strength."
    )(strength)


def strength(
    fitting: Annotated[
        str,
        typer.Option(
            "--fitting", help="Such as '90 LR elbow', '45 3D elbow', tee, reducer, 'ecc reducer'."
        ),
    ],
    nps: Annotated[
        str, typer.Option("--nps", help="Size of the run or large end: 6, 1-1/2 or DN150.")
    ],
    second: Annotated[
        str | None,
        typer.Option("--second", help="Size of the outlet or small end.", show_default=False),
    ] = None,
    schedule: Annotated[
        str | None,
        typer.Option("--schedule", help="40, STD, XS, 10S …, for the wall.", show_default=False),
    ] = None,
    second_schedule: Annotated[
        str | None,
        typer.Option(
            "--second-schedule", help="Of the second size, if another one.", show_default=False
        ),
    ] = None,
    wall: Annotated[
        str | None,
        typer.Option("--wall", help="Nominal wall with unit, such as 7.11mm.", show_default=False),
    ] = None,
    second_wall: Annotated[
        str | None,
        typer.Option("--second-wall", help="Nominal wall of the second size.", show_default=False),
    ] = None,
    pieces: Annotated[
        int | None,
        typer.Option(
            "--pieces",
            help="Pieces of the mitred bend. Without it the usual numbers are all reckoned.",
            show_default=False,
        ),
    ] = None,
    pad: Annotated[
        str | None,
        typer.Option("--pad", help="Thickness of a pad round the outlet.", show_default=False),
    ] = None,
    pad_width: Annotated[
        str | None,
        typer.Option(
            "--pad-width",
            help="Its width on each side. Without it half the outlet's diameter.",
            show_default=False,
        ),
    ] = None,
    weld_leg: Annotated[
        str | None,
        typer.Option(
            "--weld-leg",
            help="Leg of the weld round the outlet. Without it the least allowed.",
            show_default=False,
        ),
    ] = None,
    pressure: Annotated[
        str | None,
        typer.Option(
            "--pressure", help="Design gauge pressure, such as 30bar.", show_default=False
        ),
    ] = None,
    allowable: Annotated[
        str | None,
        typer.Option(
            "--allowable",
            help="Allowable stress at design temperature, such as 20ksi.",
            show_default=False,
        ),
    ] = None,
    corrosion: Annotated[
        str | None,
        typer.Option(
            "--corrosion", help="Sum of allowances c. Without it none.", show_default=False
        ),
    ] = None,
    quality: Annotated[float, typer.Option("--quality", help="Quality factor E.")] = 1.0,
    weld_factor: Annotated[
        float, typer.Option("--weld-factor", help="Weld strength reduction factor W.")
    ] = 1.0,
    y: Annotated[float, typer.Option("--y", help="Coefficient Y; 0.4 for steel to 482 °C.")] = 0.4,
    mill_tolerance: Annotated[
        float, typer.Option("--mill-tolerance", help="In percent of the nominal wall.")
    ] = 12.5,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object on one line.")] = False,
    plot: Annotated[
        Path | None,
        typer.Option(
            "--plot",
            metavar="FILE",
            help="Draw stress intensification against wall, as .svg or .png.",
            show_default=False,
        ),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over an existing plot.")] = False,
) -> None:
    from fittings.dimensions import SizeNotListed
    from fittings.order.lines import OrderError
    from fittings.strength.consequence import consequence
    from fittings.strength.steps import StrengthError
    from fittings.units import QuantityError

    if plot is not None and plot.suffix.lower() not in (".svg", ".png"):
        raise typer.BadParameter(f"{plot} must end in .svg or .png.", param_hint="--plot")
    try:
        piece = _piece(fitting, nps, second, schedule, second_schedule, wall, second_wall)
        made = _fabrication(pieces, pad, pad_width, weld_leg)
        design = _design(allowable, corrosion, quality, weld_factor, y, mill_tolerance)
        pressure_mpa = _optional_mpa(pressure, "pressure")
        found = consequence(piece, made, design, pressure_mpa)
    except (StrengthError, QuantityError) as error:
        raise typer.BadParameter(error.problem, param_hint=_option_of(error.field)) from None
    except OrderError as error:
        raise typer.BadParameter(error.message, param_hint=_option_of(error.field)) from None
    except SizeNotListed as error:
        raise typer.BadParameter(str(error), param_hint="--nps, --second, --schedule") from None
    if plot is not None:
        _write_plot(found, plot, force=force)
    _print(found, as_json=as_json)


def _print(found: Consequence, *, as_json: bool) -> None:
    from ui.strength_output import as_object, print_consequence

    if as_json:
        typer.echo(json.dumps(as_object(found), ensure_ascii=False, allow_nan=False))
        typer.echo(SCREENING, err=True)
        return
    from ui.tables import output_console

    print_consequence(found, output_console())


def _write_plot(found: Consequence, path: Path, *, force: bool) -> None:
    """The picture in its file; an OSError, before anything is drawn, where it cannot go there."""
    if path.exists() and not force:
        raise FileExistsError(f"{path} exists already. Give --force to write over it.")
    if not path.parent.is_dir():
        raise FileNotFoundError(f"{path.parent} is no folder. Make it, or name another.")
    from ui.strength_plot import plot_bytes
    from ui.whole_files import write_whole

    write_whole(path, plot_bytes(found, path.suffix.lower().removeprefix(".")))
    typer.echo(f"The plot is in {path}.", err=True)


def _piece(
    fitting: str,
    nps: str,
    second: str | None,
    schedule: str | None,
    second_schedule: str | None,
    wall: str | None,
    second_wall: str | None,
) -> OrderedPiece:
    from fittings.form_names import form_named, nps_named
    from fittings.strength.ordered_piece import ordered_piece

    size = nps_named(nps)
    second_size = None if second is None else nps_named(second, "second")
    if second_size == size:
        second_size = None  # a straight tee written as 6 x 6
    return ordered_piece(
        form_named(fitting, two_sizes=second_size is not None),
        size,
        second_size,
        schedule=schedule,
        wall_mm=_optional_mm(wall, "wall"),
        second_schedule=second_schedule,
        second_wall_mm=_optional_mm(second_wall, "second wall"),
    )


def _fabrication(
    pieces: int | None, pad: str | None, pad_width: str | None, weld_leg: str | None
) -> Fabrication:
    from fittings.strength.consequence import Fabrication

    return Fabrication(
        pieces=pieces,
        pad_mm=_optional_mm(pad, "pad") or 0.0,
        pad_width_mm=_optional_mm(pad_width, "pad width"),
        leg_mm=_optional_mm(weld_leg, "weld leg"),
    )


def _design(
    allowable: str | None,
    corrosion: str | None,
    quality: float,
    weld_factor: float,
    y: float,
    mill_tolerance: float,
) -> Design | None:
    """None where no allowable stress is given; StrengthError for terms that would go unused."""
    from fittings.strength.pressure import Design
    from fittings.strength.steps import StrengthError

    if allowable is None:
        if corrosion is not None:
            raise StrengthError("allowable", "give it too: --corrosion means nothing without it")
        return None
    return Design(
        allowable_mpa=_optional_mpa(allowable, "allowable") or 0.0,
        quality_factor=quality,
        weld_factor=weld_factor,
        y=y,
        corrosion_mm=_optional_mm(corrosion, "corrosion") or 0.0,
        mill_tolerance=mill_tolerance / 100,
    )


def _optional_mm(text: str | None, field: str) -> float | None:
    from fittings.units import length_mm

    return None if text is None else length_mm(text, field)


def _optional_mpa(text: str | None, field: str) -> float | None:
    from fittings.units import pressure_mpa

    return None if text is None else pressure_mpa(text, field)


def _option_of(field: str) -> str:
    """The option behind a field's name."""
    return _OPTIONS.get(field, "--" + field.replace(" ", "-").replace("_", "-"))


_OPTIONS = {
    "second_nps": "--second",
    "second size": "--second",
    "branch wall": "--second-wall",
    "quality factor E": "--quality",
    "weld factor W": "--weld-factor",
    "coefficient Y": "--y",
    "mill tolerance": "--mill-tolerance",
}
