"""`lots`, `verify`, `track-record`, `export-lot` and `import-lot`: the records by command."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fittings.words import ADVISORY
from ui.exit_codes import EXIT_FAILED

if TYPE_CHECKING:
    from ui.records import LotSummary, Records
    from ui.records.verify import Verified

RecordsOption = Annotated[
    str | None,
    typer.Option(
        "--records",
        metavar="FILE|URL",
        envvar="SEAMTRIAGE_RECORDS",
        help="The records: an SQLite file or a SQLAlchemy URL. Without it, a file in the user's "
        "own data folder.",
        show_default=False,
    ),
]
PhotosOption = Annotated[
    Path | None,
    typer.Option(
        "--photos",
        metavar="DIR",
        envvar="SEAMTRIAGE_PHOTOS",
        help="Where the original photos are kept. Without it, `photos` beside the SQLite file.",
        show_default=False,
    ),
]
Json = Annotated[bool, typer.Option("--json", help="One JSON object per line.")]

LOTS_HELP = f"""List the recorded lots: pieces, photos, what was read and what was decided.

{ADVISORY}

Examples:

  seamtriage lots

  seamtriage lots --records /srv/yard/records.sqlite --json

The decisions are people's; the program never decides. Exit codes: 0 done, 1 the job failed, 2 wrong
usage."""

VERIFY_HELP = """Look for any change to the records that no entry tells of.

Goes through every entry, table and photo: what was altered, removed, moved or added behind the
program's back is told, one line each.

Examples:

  seamtriage verify

  seamtriage verify --noted 3f5a...

Note the seal that it prints somewhere else, or keep a report, which prints the hash of its lot's
last entry: given back as --noted, they also show records that somebody wrote anew as a whole, which
nothing inside them can show. Exit codes: 0 nothing was found, 1 something was, or the job failed, 2
wrong usage."""

TRACK_HELP = f"""Set what physical checks found against what was read, by yard, kind and finish.

{ADVISORY}

Examples:

  seamtriage track-record

  seamtriage track-record --json

Counted are the pieces that somebody checked, mostly suspect ones, so the shares tell of those and
not of whole deliveries. Each stands with its 95 % interval (Wilson). Exit codes: 0 done, 1 the job
failed, 2 wrong usage."""

EXPORT_HELP = """Write a whole lot to one file that another installation takes in without loss.

Examples:

  seamtriage export-lot "Pump house, delivery 3" --out pump-house-3.zip

  seamtriage export-lot "Delivery 3" --out delivery-3.zip --records /srv/yard/records.sqlite

The file holds the lot's journal with its hashes and every original photo, byte for byte: also the
place and time that a camera wrote into them. Exit codes: 0 done, 1 the job failed, 2 wrong
usage."""

IMPORT_HELP = """Take in a lot that another installation wrote to a file.

Examples:

  seamtriage import-lot pump-house-3.zip

  seamtriage import-lot pump-house-3.zip --records /srv/yard/records.sqlite

Every entry, hash and photo is looked at first; of a file that was altered nothing is kept. Where
the lot is here already, only what is new in the file is added. Exit codes: 0 done, 1 the job
failed, 2 wrong usage."""


def add_to(app: typer.Typer) -> None:
    """Gives `app` the commands."""
    app.command(
        name="lots",
        help=LOTS_HELP,
        short_help="List lots and pieces: what was read, checked and decided.",
    )(lots)
    app.command(name="verify", help=VERIFY_HELP)(verify)
    app.command(
        name="track-record",
        help=TRACK_HELP,
        short_help="Set what physical checks found against what was read.",
    )(track_record)
    app.command(
        name="export-lot",
        help=EXPORT_HELP,
        short_help="Write a whole lot to one file for another installation.",
    )(export_lot)
    app.command(name="import-lot", help=IMPORT_HELP)(import_lot)


def lots(records: RecordsOption = None, photos: PhotosOption = None, as_json: Json = False) -> None:
    with _opened(records, photos) as opened:
        found = opened.lot_list()
    if as_json:
        for each in found:
            _line(_lot_object(each))
    elif found:
        from ui.records_tables import print_lots

        print_lots(found)
    else:
        typer.echo("No lot is recorded yet.")
    typer.echo(ADVISORY, err=as_json)


def verify(
    noted: Annotated[
        list[str] | None,
        typer.Option(
            "--noted",
            metavar="HASH",
            help="A seal or a hash noted earlier, outside the records; may be given several times.",
            show_default=False,
        ),
    ] = None,
    records: RecordsOption = None,
    photos: PhotosOption = None,
    as_json: Json = False,
) -> None:
    from ui.terminal import progress_on_stderr

    known = [_noted(each) for each in noted or ()]
    with _opened(records, photos) as opened, progress_on_stderr(None) as progress:
        found = opened.verify(noted=known, progress=progress)
    if as_json:
        _line(_verified_object(found))
    else:
        for problem in found.problems:
            typer.echo(f"{problem.lot}: {problem.what}" if problem.lot else problem.what)
        typer.echo(
            f"Gone through: lots {found.lots}, entries {found.entries}, photos {found.photos}."
        )
        if found.unbroken:
            typer.echo("Nothing was found changed. This says nothing about any piece.")
        else:
            typer.echo(
                f"Problems: {len(found.problems)}. Keep the records as they are, and compare them "
                "with a copy from before."
            )
        typer.echo(f"Seal of the last entry, to note elsewhere: {found.seal}")
    if not found.unbroken:
        raise typer.Exit(EXIT_FAILED)


def track_record(
    model: Annotated[
        str | None,
        typer.Option(
            "--model",
            metavar="SHA256",
            help="Only readings of this model; without it, of every model.",
            show_default=False,
        ),
    ] = None,
    records: RecordsOption = None,
    photos: PhotosOption = None,
    as_json: Json = False,
) -> None:
    with _opened(records, photos) as opened:
        found = opened.track_record(model)
    if as_json:
        for each in found:
            _line(each.as_json())
    else:
        from ui.records_tables import print_accounts

        print_accounts(found)
    typer.echo(ADVISORY, err=as_json)


def export_lot(
    lot: Annotated[str, typer.Argument(metavar="LOT", help="The lot's name or uid.")],
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="The archive to write.")],
    force: Annotated[bool, typer.Option("--force", help="Write over an existing file.")] = False,
    records: RecordsOption = None,
    photos: PhotosOption = None,
    as_json: Json = False,
) -> None:
    from ui.terminal import progress_on_stderr

    with _opened(records, photos) as opened:
        uid = opened.lot(lot).uid
        with progress_on_stderr(len(opened.photos(uid))) as progress:
            made = opened.export_lot(uid, out, force=force, progress=progress)
    if as_json:
        facts = {"lot": made.lot, "name": made.name, "path": str(made.path)}
        _line({**facts, "entries": made.entries, "photos": made.photos, "head": made.head})
    else:
        typer.echo(f"{made.name}: {made.entries} entries and {made.photos} photos are in {out}.")
        typer.echo(f"Hash of the last entry: {made.head}")
    typer.echo(
        "The photos are the originals, with whatever place and time a camera wrote into them.",
        err=True,
    )


def import_lot(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The archive of a lot.")],
    records: RecordsOption = None,
    photos: PhotosOption = None,
    as_json: Json = False,
) -> None:
    from ui.records import open_records
    from ui.terminal import progress_on_stderr

    with open_records(records, photos) as opened, progress_on_stderr(None) as progress:
        got = opened.import_lot(file, progress=progress)
    if as_json:
        facts: dict[str, Any] = {"lot": got.lot, "name": got.name, "entries": got.entries}
        new = {"new_entries": got.new_entries, "photos": got.photos, "head": got.head}
        _line({**facts, **new})
    else:
        typer.echo(
            f"{got.name}: {got.new_entries} of {got.entries} entries are new here; "
            f"{got.photos} photos."
        )
        typer.echo(f"Hash of the last entry: {got.head}")


def _opened(records: str | None, photos: Path | None) -> Records:
    from ui.records import open_records

    return open_records(records, photos, must_exist=True)


def _noted(text: str) -> str:
    plain = text.strip().lower()
    if re.fullmatch("[0-9a-f]{64}", plain) is None:
        raise typer.BadParameter(
            "write it as it was printed: 64 digits and letters from a to f.", param_hint="--noted"
        )
    return plain


def _line(facts: dict[str, Any]) -> None:
    typer.echo(json.dumps(facts, ensure_ascii=False, allow_nan=False))
    sys.stdout.flush()


def _lot_object(each: LotSummary) -> dict[str, Any]:
    return {
        "lot": each.lot.uid,
        "name": each.lot.name,
        "yard": each.lot.yard,
        "order": each.lot.order_name,
        "pieces": each.pieces,
        "photos": each.photos,
        "read_as_fabrication_seam": each.flagged,
        "checked": each.checked,
        "hold": each.held,
        "release": each.released,
        "return": each.returned,
        "undecided": each.undecided,
        "advisory": ADVISORY,
    }


def _verified_object(found: Verified) -> dict[str, Any]:
    return {
        "lots": found.lots,
        "entries": found.entries,
        "photos": found.photos,
        "number": found.number,
        "seal": found.seal,
        "problems": [{"lot": each.lot, "what": each.what} for each in found.problems],
    }
