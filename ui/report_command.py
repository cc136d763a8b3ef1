"""`report`, `request`, `notice` and `readings`: what goes out of the records."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fittings.words import ADVISORY
from ui.records_command import Json, PhotosOption, RecordsOption

if TYPE_CHECKING:
    from ui.records import Records
    from ui.reports.blocks import Document

REPORT_HELP = f"""Write the report of a lot as a PDF.

{ADVISORY}

Examples:

  seamtriage report "Delivery 3" --out delivery-3.pdf

  seamtriage report "Delivery 3" --out delivery-3.pdf --force --records /srv/yard/records.sqlite

A summary, then a page or more for each piece, the most suspect first: its photos with the seams
drawn on them, why they were read so, physical checks, decisions, and the hash of every photo. It
prints well in grey. The same records give the same file. Exit codes: 0 done, 1 the job failed, 2
wrong usage."""

REQUEST_HELP = f"""Ask the yard for the photographs that are missing or show too little.

{ADVISORY}

Examples:

  seamtriage request "Delivery 3"

  seamtriage request "Delivery 3" --out request.pdf

Without --out the text is printed, to be pasted into a message. Exit codes: 0 done, 1 the job
failed, 2 wrong usage."""

NOTICE_HELP = f"""Fill in a notice of non-conformance for a piece from the records.

{ADVISORY}

Examples:

  seamtriage notice "Delivery 3" P-07

  seamtriage notice "Delivery 3" P-07 --out notice-P-07.pdf

What is not recorded is left blank. Until a physical check is recorded that shows a fabricated
piece, the notice is a draft and says so. Exit codes: 0 done, 1 the job failed, 2 wrong usage."""

READINGS_HELP = f"""Write the readings of a lot as CSV or JSON lines.

{ADVISORY}

Examples:

  seamtriage readings "Delivery 3" --out delivery-3.csv

  seamtriage readings "Delivery 3" --json > delivery-3.jsonl

One row or object per photo, with its piece and what was decided. Exit codes: 0 done, 1 the job
failed, 2 wrong usage."""

LotName = Annotated[str, typer.Argument(metavar="LOT", help="The lot's name or uid.")]
TextOrPdf = Annotated[
    Path | None,
    typer.Option(
        "--out",
        metavar="FILE",
        help="A file that ends in .pdf, or any other for plain text. Without it the text is "
        "printed.",
        show_default=False,
    ),
]
Force = Annotated[bool, typer.Option("--force", help="Write over an existing file.")]


def add_to(app: typer.Typer) -> None:
    """Gives `app` the commands."""
    app.command(name="report", help=REPORT_HELP)(report)
    app.command(
        name="request",
        help=REQUEST_HELP,
        short_help="Ask the yard for photographs that are missing.",
    )(request)
    app.command(
        name="notice",
        help=NOTICE_HELP,
        short_help="Fill in a notice of non-conformance from the records.",
    )(notice)
    app.command(name="readings", help=READINGS_HELP)(readings)


def report(
    lot: LotName,
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="The PDF to write.")],
    force: Force = False,
    records: RecordsOption = None,
    photos: PhotosOption = None,
    as_json: Json = False,
) -> None:
    from ui.reports import as_pdf, gather, lot_report
    from ui.terminal import progress_on_stderr

    _refuse_existing(out, force)
    with _opened(records, photos) as opened:
        facts = gather(opened, opened.lot(lot).uid)
        with progress_on_stderr(len(facts.pieces)) as progress:
            data = as_pdf(lot_report(facts, opened.store.read, progress=progress))
    _write(out, data, force)
    count = sum(len(each.photos) for each in facts.pieces) + len(facts.loose)
    if as_json:
        _line(
            {
                "lot": facts.lot.uid,
                "name": facts.lot.name,
                "path": str(out),
                "pieces": len(facts.pieces),
                "photos": count,
                "head": facts.head,
            }
        )
    else:
        typer.echo(f"{facts.lot.name}: {len(facts.pieces)} pieces and {count} photos are in {out}.")
        typer.echo(f"Hash of the last entry: {facts.head}")
    typer.echo(ADVISORY, err=as_json)


def request(
    lot: LotName,
    out: TextOrPdf = None,
    force: Force = False,
    records: RecordsOption = None,
    photos: PhotosOption = None,
    as_json: Json = False,
) -> None:
    from ui.reports import gather, view_request, wanted_of

    with _opened(records, photos) as opened:
        facts = gather(opened, opened.lot(lot).uid)
    document = view_request(facts, drawn=_is_pdf(out))
    if as_json:
        for piece in facts.pieces:
            if (wanted := wanted_of(piece)) is not None:
                asked = {"why": list(wanted.reasons), "views": list(wanted.views)}
                _line({"piece": piece.piece.tag, **asked, "advisory": ADVISORY})
    _give(document, out, force, printed=not as_json)


def notice(
    lot: LotName,
    piece: Annotated[str, typer.Argument(metavar="PIECE", help="The piece's tag.")],
    out: TextOrPdf = None,
    force: Force = False,
    records: RecordsOption = None,
    photos: PhotosOption = None,
) -> None:
    from ui.reports import gather, notice_of

    with _opened(records, photos) as opened:
        facts = gather(opened, opened.lot(lot).uid)
        found = opened.find_piece(facts.lot.uid, piece)
        if found is None:
            tags = ", ".join(each.piece.tag for each in facts.pieces[:20]) or "none yet"
            raise typer.BadParameter(
                f"the lot has no piece {piece!r}; pieces are: {tags}", param_hint="PIECE"
            )
        document = notice_of(facts, found.uid, opened.store.read)
    _give(document, out, force)


def readings(
    lot: LotName,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="FILE",
            help="A file that ends in .jsonl for JSON lines, or any other for CSV. Without it "
            "they are printed.",
            show_default=False,
        ),
    ] = None,
    force: Force = False,
    records: RecordsOption = None,
    photos: PhotosOption = None,
    as_json: Json = False,
) -> None:
    from ui.reports import gather, lot_csv, lot_json_lines

    with _opened(records, photos) as opened:
        facts = gather(opened, opened.lot(lot).uid)
    as_lines = as_json or (out is not None and out.suffix.lower() == ".jsonl")
    text = "".join(lot_json_lines(facts)) if as_lines else lot_csv(facts)
    if out is None:
        sys.stdout.write(text)
        sys.stdout.flush()
    else:
        # The mark at the start tells spreadsheets that a CSV file is UTF-8.
        _write(out, text.encode("utf-8" if as_lines else "utf-8-sig"), force)
        typer.echo(f"The readings of {facts.lot.name} are in {out}.")
    typer.echo(ADVISORY, err=True)


def _give(document: Document, out: Path | None, force: bool, *, printed: bool = True) -> None:
    """Writes the document where that is asked for, or prints its text."""
    from ui.reports import as_pdf, as_text

    if out is not None:
        _write(out, as_pdf(document) if _is_pdf(out) else as_text(document).encode(), force)
        typer.echo(f"{document.title}: {out}", err=True)
    elif printed:
        typer.echo(as_text(document), nl=False)  # the advisory is its last line
        return
    typer.echo(ADVISORY, err=True)


def _is_pdf(out: Path | None) -> bool:
    return out is not None and out.suffix.lower() == ".pdf"


def _refuse_existing(out: Path, force: bool) -> None:
    from vision.errors import OutputExists

    if out.exists() and not force:
        raise OutputExists(f"{out} exists already. Give --force to write over it.")


def _write(out: Path, data: bytes, force: bool) -> None:
    from ui.whole_files import write_whole

    _refuse_existing(out, force)
    write_whole(out, data)


def _opened(records: str | None, photos: Path | None) -> Records:
    from ui.records import open_records

    return open_records(records, photos, must_exist=True)


def _line(facts: dict[str, Any]) -> None:
    typer.echo(json.dumps(facts, ensure_ascii=False, allow_nan=False))
    sys.stdout.flush()
