"""`seamtriage piece`: several photographs of one piece, put together on its unrolled surface."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fittings.words import ADVISORY
from ui.exit_codes import EXIT_SOME_UNREAD

if TYPE_CHECKING:
    from collections.abc import Iterable

    from vision.piece_photo import PieceView
    from vision.read import Reader
    from vision.reading import PhotoError
    from vision.sources import Found

HELP = f"""Read several photographs of one piece together: what they show, and what they do not.

{ADVISORY}

Examples:

  seamtriage piece piece-07-left.jpg piece-07-right.jpg piece-07-top.jpg --out piece-07/

  seamtriage piece photos/piece-07/ --tag T-0042 --json

Says which share of the outside the photos show, which seams lie where (one found in two photos
counts once), which photos may be of another piece, and what to photograph next. With --out it
writes the outside unrolled, the unseen hatched (development.png, development.svg), small drawings
of the views to take (next-views.png), and piece.json. Exit codes: 0 every photo was read, 3 some
could not be, 2 wrong usage, 1 the job failed. What the photos show never changes the exit code."""


def add_to(app: typer.Typer) -> None:
    """Gives `app` the command."""
    app.command(
        name="piece", help=HELP, short_help="Read several photographs of one piece together."
    )(piece)


def piece(
    sources: Annotated[
        list[Path],
        typer.Argument(
            metavar="PHOTO|FOLDER|ZIP|PDF", help="Photos of one piece.", show_default=False
        ),
    ],
    tag: Annotated[
        str | None,
        typer.Option("--tag", metavar="TAG", help="What the piece is called.", show_default=False),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON object for the piece, on one line.")
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Write the drawings here.", show_default=False),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Write over existing files in --out.")
    ] = False,
) -> None:
    if out is not None and out.exists() and not out.is_dir():
        raise typer.BadParameter(f"{out} is a file, not a folder.", param_hint="--out")
    from ui.piece_output import check_free, print_piece, write_files
    from ui.tables import output_console
    from vision.piece import read_piece
    from vision.piece_json import piece_json
    from vision.sources import find_photos, photo_count
    from vision.views import next_views

    if out is not None and not force:
        check_free(out)  # before the photos are read, so that no work is lost
    views, unread, reader = _views(find_photos(sources), photo_count(sources))
    for error in unread:
        typer.echo(f"seamtriage: {error.message}", err=True)
    if not views:
        typer.echo("seamtriage: none of the photos could be read; give others.", err=True)
        raise typer.Exit(EXIT_SOME_UNREAD)
    reading = read_piece(views, reader.thresholds, tag=tag)
    asked = next_views(reading)
    text = json.dumps(piece_json(reading, asked, unread), ensure_ascii=False, allow_nan=False)
    if as_json:
        typer.echo(text)
        typer.echo(ADVISORY, err=True)
    else:
        print_piece(reading, asked, output_console())
    if out is not None:
        write_files(out, reading, asked, text)
        typer.echo(f"The drawings and the JSON are in {out}.", err=True)
    raise typer.Exit(EXIT_SOME_UNREAD if unread else 0)


def _views(
    photos: Iterable[Found], total: int | None
) -> tuple[list[PieceView], list[PhotoError], Reader]:
    """Each photo as a view of the piece, the errors of those that could not be read, and the reader
    that was used."""
    from ui.terminal import progress_on_stderr
    from vision.piece_photo import PieceView, view_of
    from vision.read import Reader

    reader = Reader.load()
    views: list[PieceView] = []
    unread: list[PhotoError] = []
    with progress_on_stderr(total) as progress:
        for number, found in enumerate(photos):
            if progress is not None:
                progress(number, found.name)
            answer = (
                view_of(found.content, found.name, reader)
                if isinstance(found.content, bytes)
                else found.content.as_photo_error()
            )
            if isinstance(answer, PieceView):
                views.append(answer)
            else:
                unread.append(answer)
    return views, unread, reader
