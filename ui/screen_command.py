"""`seamtriage screen`: photos in, readings out."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fittings.words import ADVISORY
from ui import known_options
from ui.debug_option import Debug
from ui.exit_codes import EXIT_FAILED, EXIT_SOME_UNREAD, EXIT_STOPPED

if TYPE_CHECKING:
    from ui.outputs import OutputFolder
    from ui.screening import Screened
    from vision.known import Known
    from vision.sources import Found

HELP = f"""Read photographs and list what their seams say, the most suspect first.

{ADVISORY}

Examples:

  seamtriage screen piece-07-left.jpg piece-07-right.jpg

  seamtriage screen photos/ delivery.zip --json > readings.jsonl

  seamtriage screen piece-07-left.jpg --nps 6 --length 300mm --from 212,1480 --to 1630,1502

A folder is walked in sorted order; ZIP archives, and the photographs in PDF and Word (.docx) files,
are read as they are. Exit codes: 0 every photo was read, 3 some could not be, 2 wrong usage, 1 the
job failed. What a photo shows never changes the exit code."""


def add_to(app: typer.Typer) -> None:
    """Adds `screen` to the command line."""
    app.command(help=HELP, short_help="Read photographs and list their seams, most suspect first.")(
        screen
    )


def screen(
    sources: Annotated[
        list[Path],
        typer.Argument(metavar="PHOTO|FOLDER|ZIP|PDF", help="What to read.", show_default=False),
    ],
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON object per photo and line, as they are read.")
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="DIR",
            help="Write <stem>.overlay.jpg (seams drawn on the photo) and <stem>.seams.png (labels"
            " 0 none, 1 longitudinal, 2 circumferential, 3 branch) for each photo.",
            show_default=False,
        ),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Write over existing files in --out.")
    ] = False,
    nps: Annotated[
        str | None,
        typer.Option("--nps", metavar="SIZE", help=known_options.NPS_HELP, show_default=False),
    ] = None,
    shape: Annotated[bool, typer.Option("--shape", help=known_options.SHAPE_HELP)] = False,
    sheet: Annotated[bool, typer.Option("--sheet", help=known_options.SHEET_HELP)] = False,
    length: Annotated[
        str | None,
        typer.Option(
            "--length", metavar="LENGTH", help=known_options.LENGTH_HELP, show_default=False
        ),
    ] = None,
    start: Annotated[
        str | None,
        typer.Option("--from", metavar="X,Y", help=known_options.FROM_HELP, show_default=False),
    ] = None,
    end: Annotated[
        str | None,
        typer.Option("--to", metavar="X,Y", help=known_options.TO_HELP, show_default=False),
    ] = None,
    scheduler: Annotated[
        str | None,
        typer.Option(
            "--scheduler",
            metavar="ADDRESS",
            help="Read on the workers of the Dask scheduler at this address (tcp://host:8786)"
            " instead of on this machine. The photos are sent there.",
            show_default=False,
        ),
    ] = None,
    debug: Debug = False,  # noqa: ARG001
) -> None:
    if out is not None and out.exists() and not out.is_dir():
        raise typer.BadParameter(f"{out} is a file, not a folder.", param_hint="--out")
    from vision.sources import find_photos, photo_count

    if scheduler is not None:
        from ui.cluster import scheduler_address

        try:
            scheduler = scheduler_address(scheduler)
        except ValueError as error:
            raise typer.BadParameter(f"{error}.", param_hint="--scheduler") from None
    photos, total = find_photos(sources), photo_count(sources)
    known = known_options.known_of(nps, sheet, length, start, end, shape=shape, photos=total)
    code = run_screen(
        photos, total, as_json=as_json, out=out, force=force, known=known, scheduler=scheduler
    )
    raise typer.Exit(code)


def run_screen(
    photos: Iterable[Found],
    total: int | None,
    *,
    as_json: bool = False,
    out: Path | None = None,
    force: bool = False,
    known: Known | None = None,
    scheduler: str | None = None,
) -> int:
    """Reads, prints and writes; returns the exit code. Ctrl-C and workers that are lost keep what
    is done."""
    from ui.exports import json_line
    from ui.loading import load_reader
    from ui.terminal import progress_on_stderr
    from ui.workers import screen_batch
    from vision.errors import SeamtriageError

    load = load_reader if known is None else partial(load_reader, known)
    folder = None
    if out is not None:
        from ui.outputs import OutputFolder

        folder = OutputFolder(out, force=force)
    results: list[Screened] = []
    codes: set[int] = set()
    bar_would_mix = as_json and sys.stdout.isatty()
    try:
        with progress_on_stderr(total, wanted=not bar_would_mix) as progress:
            for result in screen_batch(photos, load, progress, known=known, scheduler=scheduler):
                if as_json:
                    typer.echo(json_line(result.answer))
                    sys.stdout.flush()
                else:
                    results.append(result.without_data())
                codes.add(_write(result, folder))
    except KeyboardInterrupt:
        typer.echo("seamtriage: stopped; what was finished is kept.", err=True)
        codes.add(EXIT_STOPPED)
    except SeamtriageError as error:
        if not codes:  # nothing was read, so there is nothing to show
            raise
        typer.echo(f"seamtriage: {error}", err=True)
        codes.add(EXIT_FAILED)
    if as_json:
        typer.echo(ADVISORY, err=True)
    else:
        from ui.tables import output_console, print_table

        print_table(results, output_console())
    for code in (EXIT_STOPPED, EXIT_FAILED, EXIT_SOME_UNREAD):
        if code in codes:
            return code
    return 0


def _write(result: Screened, folder: OutputFolder | None) -> int:
    """Writes the files of one photo where that is asked for; the exit code it asks for."""
    from ui.whole_files import NotWritten
    from vision.errors import OutputExists

    if result.error is not None:
        return EXIT_SOME_UNREAD
    try:
        if folder is not None:
            folder.write(result)
    except (OutputExists, NotWritten) as error:
        typer.echo(f"seamtriage: {error}", err=True)
        return EXIT_FAILED
    return 0
