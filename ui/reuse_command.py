"""`seamtriage reused`: the same picture under two names, cropped, mirrored or recompressed."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fittings.words import ADVISORY
from ui.exit_codes import EXIT_SOME_UNREAD

if TYPE_CHECKING:
    from vision.reading import PhotoError
    from vision.reuse import Match
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Signed:
    """A photo that was read: its name, the hash of its bytes, its signature."""

    name: str
    sha256: str
    signature: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two photos that are the same picture; `match` is None where the files are the same."""

    first: str
    second: str
    match: Match | None

    @property
    def sentence(self) -> str:
        """What was found, in plain words."""
        return "The same file, byte for byte." if self.match is None else self.match.sentence

    def as_json(self) -> dict[str, Any]:
        """One line of `--json`."""
        match = self.match
        return {
            "first": self.first,
            "second": self.second,
            "same_file": match is None,
            "inliers": None if match is None else match.inliers,
            "mirrored": False if match is None else match.mirrored,
            "agreeing": None if match is None else round(match.agreeing, 3),
            "overlap": None if match is None else round(match.overlap, 3),
            "sentence": self.sentence,
            "advisory": ADVISORY,
        }


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
    signed, errors = _signed(sources)
    pairs = pairs_of(signed)
    if as_json:
        for line in (*(pair.as_json() for pair in pairs), *(error.as_json() for error in errors)):
            typer.echo(json.dumps(line, ensure_ascii=False))
        sys.stdout.flush()
        typer.echo(ADVISORY, err=True)
    else:
        _print(pairs, len(signed))
        for error in errors:
            typer.echo(f"seamtriage: {error.message}", err=True)
    if errors:
        raise typer.Exit(EXIT_SOME_UNREAD)


def pairs_of(signed: list[Signed]) -> list[Pair]:
    """Every pair once, in the order of the photos."""
    from vision.reuse import matches

    found = {(m.first, m.second): m for m in matches([each.signature for each in signed])}
    pairs = []
    for second in range(len(signed)):
        for first in range(second):
            same = signed[first].sha256 == signed[second].sha256
            if same or (first, second) in found:
                pairs.append(
                    Pair(
                        first=signed[first].name,
                        second=signed[second].name,
                        match=None if same else found[first, second],
                    )
                )
    return pairs


def _signed(sources: list[Path]) -> tuple[list[Signed], list[PhotoError]]:
    from ui.terminal import progress_on_stderr
    from vision.errors import PhotoUnreadable
    from vision.photo import open_photo
    from vision.read import OPEN_SIDE_PX
    from vision.reuse import signature
    from vision.sources import photo_count

    signed: list[Signed] = []
    errors: list[PhotoError] = []
    with progress_on_stderr(photo_count(sources)) as progress:
        for done, found in enumerate(_found(sources)):
            if progress is not None:
                progress(done, found.name)
            try:
                if not isinstance(found.content, bytes):
                    raise found.content
                photo = open_photo(found.content, found.name, max_side_px=OPEN_SIDE_PX)
            except PhotoUnreadable as error:
                errors.append(error.as_photo_error())
                continue
            signed.append(Signed(name=found.name, sha256=photo.sha256, signature=signature(photo)))
    return signed, errors


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
            table.add_row(Text(pair.first), Text(pair.second), Text(pair.sentence))
        console.print(table)
    photos = "photo" if count == 1 else "photos"
    noun = "pair" if len(pairs) == 1 else "pairs"
    console.print(
        Text(f"{count} {photos} looked through; {len(pairs)} {noun} of the same picture.")
    )
    console.print(Text(ADVISORY, style="bold"))
