"""`seamtriage reused`: the same picture under two names, cropped, mirrored or recompressed."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fittings.words import ADVISORY
from ui.exit_codes import EXIT_SOME_UNREAD

if TYPE_CHECKING:
    from ui.reused import Pair, Signed
    from vision.reading import PhotoError
    from vision.sources import Found

HELP = f"""Find photographs that are one picture, submitted for one piece and again for another.

{ADVISORY}

Examples:

  seamtriage reused delivery/

  seamtriage reused piece-07/ piece-08/ received.zip --json > pairs.jsonl

A copy is found when it was cropped (to about 60 % of its sides), resized, mirrored, recompressed,
brightened or slightly turned. Other photographs of the same piece, and of other pieces in the same
place, are not pairs. A pair says nothing of who did what: two photographs taken in one moment from
one stand look alike too. Look at both, and ask for new ones.

Exit codes: 0 every photo was read, 3 some could not be, 2 wrong usage, 1 the job failed. What is
found never changes the exit code."""


def add_to(app: typer.Typer) -> None:
    """Makes `reused` a command of `app`."""
    app.command(
        name="reused", help=HELP, short_help="Find one picture that was handed in for two pieces."
    )(reused)


def reused(
    sources: Annotated[
        list[Path],
        typer.Argument(metavar="PHOTO|FOLDER|ZIP|PDF", help="Where to look.", show_default=False),
    ],
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON object per pair, then one per unread photo.")
    ] = False,
) -> None:
    from ui.reused import pairs_of

    photos, errors = _signed(sources)
    pairs = pairs_of(photos)
    if as_json:
        for line in (*(pair.as_json() for pair in pairs), *(error.as_json() for error in errors)):
            typer.echo(json.dumps(line, ensure_ascii=False))
        sys.stdout.flush()
        typer.echo(ADVISORY, err=True)
    else:
        _print(pairs, len(photos))
        for error in errors:
            typer.echo(f"seamtriage: {error.message}", err=True)
    if errors:
        raise typer.Exit(EXIT_SOME_UNREAD)


def _signed(sources: list[Path]) -> tuple[list[Signed], list[PhotoError]]:
    from ui.reused import signed
    from ui.terminal import progress_on_stderr
    from vision.errors import PhotoUnreadable
    from vision.sources import photo_count

    photos: list[Signed] = []
    errors: list[PhotoError] = []
    with progress_on_stderr(photo_count(sources)) as progress:
        for done, found in enumerate(_found(sources)):
            if progress is not None:
                progress(done, found.name)
            try:
                if not isinstance(found.content, bytes):
                    raise found.content
                photos.append(signed(found.content, found.name))
            except PhotoUnreadable as error:
                errors.append(error.as_photo_error())
    return photos, errors


def _found(sources: list[Path]) -> Iterator[Found]:
    """The photos; those of several folders are called by their folder too."""
    from vision.sources import find_photos

    folders = [path for path in sources if path.is_dir()]
    if len(folders) < 2:
        yield from find_photos(sources)
        return
    for path in sources:
        for found in find_photos([path]):
            named = path in folders and isinstance(found.content, bytes)
            yield replace(found, name=(path / found.name).as_posix()) if named else found


def _print(pairs: list[Pair], count: int) -> None:
    from rich.table import Table
    from rich.text import Text

    from ui.tables import output_console

    console = output_console()
    if pairs:
        table = Table(show_lines=True)
        table.add_column("Photo", overflow="fold", ratio=3)
        table.add_column("And", overflow="fold", ratio=3)
        table.add_column("What was found", overflow="fold", ratio=5)
        for pair in pairs:
            table.add_row(Text(pair.first.name), Text(pair.second.name), Text(pair.sentence))
        console.print(table)
    photos = "photo" if count == 1 else "photos"
    noun = "pair" if len(pairs) == 1 else "pairs"
    console.print(
        Text(f"{count} {photos} looked through; {len(pairs)} {noun} of the same picture.")
    )
    console.print(Text(ADVISORY, style="bold"))
