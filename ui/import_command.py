"""`seamtriage receive LOT SOURCES`: photos into the records, matched to their pieces, and read."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fittings.words import ADVISORY
from ui.exit_codes import EXIT_SOME_UNREAD, EXIT_STOPPED
from ui.records_command import PhotosOption, RecordsOption

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ui.importing.matching import Matcher, Preview, Rules
    from ui.importing.receiving import Received
    from ui.records import Lot, Records
    from ui.together import PieceTold, ViewingReader

HELP = f"""Take photos into a lot: keep them, match them to its pieces, read them.

{ADVISORY}

Examples:

  seamtriage receive "Delivery 3" delivery.zip --by "A. Inspector" --new-lot --new-pieces

  seamtriage receive "Delivery 3" photos/ report.docx --by "A. Inspector" --preview

  seamtriage receive "Delivery 3" photos/ --by "A. Inspector" --pattern "{{piece}}-*.jpg"

  seamtriage receive "Delivery 3" --by "A. Inspector"

SOURCES are photos, folders, ZIP archives, and PDF or Word (.docx) photo reports. Without a pattern
a photo belongs to the piece whose tag its folder or its file name has, or the words beside it in a
document. In a pattern {{piece}} stands for the tag, * for any characters, ? for one, and / for a
folder; capitals, blanks, dashes, underscores and zeros before a number make no difference. A photo
that fits no piece, or two, is kept without one, to be matched by hand. Then the photos of each
piece that has new ones are read together: one line more for each, and one for each picture that
was handed in for two pieces of the lot.

Everything is kept as it is done. After a stop, the same command goes on where it stopped; without
SOURCES it reads the photos that nobody has read. Exit codes: 0 done, 3 some photos could not be
read, 2 wrong usage, 1 failed."""


def add_to(app: typer.Typer) -> None:
    """Gives `app` the command."""
    app.command(
        name="receive",
        help=HELP,
        short_help="Take photos into a lot, match them to its pieces, read them.",
    )(receive)


def receive(
    lot: Annotated[str, typer.Argument(metavar="LOT", help="Name of the lot.", show_default=False)],
    by: Annotated[str, typer.Option("--by", metavar="NAME", help="Who brings them in.")],
    sources: Annotated[
        list[Path] | None,
        typer.Argument(metavar="[SOURCES]...", help="What to take in.", show_default=False),
    ] = None,
    pattern: Annotated[
        str | None,
        typer.Option("--pattern", help="Where the tag stands in a name.", show_default=False),
    ] = None,
    by_hand: Annotated[
        list[str] | None,
        typer.Option(
            "--match",
            metavar="PHOTO=TAG",
            help="Match one photo by hand, by the name that --preview gives it; TAG left out sets "
            "it aside. Can be given several times.",
            show_default=False,
        ),
    ] = None,
    captions: Annotated[
        str,
        typer.Option(
            "--captions",
            metavar="above|below",
            help="Where the words that name a piece stand in a Word report.",
        ),
    ] = "above",
    new_pieces: Annotated[
        bool,
        typer.Option(
            "--new-pieces",
            help="Make a piece of what the pattern finds, or of the photo's folder, where the lot "
            "has none of that tag.",
        ),
    ] = False,
    new_lot: Annotated[
        bool, typer.Option("--new-lot", help="Begin the lot where there is none of that name.")
    ] = False,
    yard: Annotated[
        str, typer.Option("--yard", help="Where a new lot comes from.", show_default=False)
    ] = "",
    preview: Annotated[
        bool, typer.Option("--preview", help="Show what would match, and take nothing in.")
    ] = False,
    records: RecordsOption = None,
    photos: PhotosOption = None,
    as_json: Annotated[
        bool,
        typer.Option(
            "--json", help="One JSON object a line: per photo, per piece, per picture reused."
        ),
    ] = False,
) -> None:
    from ui.importing.incoming import from_paths
    from ui.importing.incoming import preview as previewed
    from ui.importing.matching import Matcher
    from ui.records import open_records

    paths = sources or []
    rules = _rules(pattern, by_hand or [], captions, new_pieces)
    with open_records(records, photos) as opened:
        found = _lot(opened, lot, yard, by, may_begin=new_lot and not preview)
        tags = [] if found is None else [piece.tag for piece in opened.pieces(found.uid)]
        matcher = Matcher(tags, rules)
        if preview:
            _show_preview(previewed(from_paths(paths), matcher), matcher, as_json=as_json)
            return
        if found is None:
            raise typer.BadParameter(
                f"there is no lot {lot!r}; give --new-lot to begin it", param_hint="LOT"
            )
        raise typer.Exit(_receive(opened, found, paths, matcher, by, as_json=as_json))


def _rules(pattern: str | None, by_hand: list[str], captions: str, new_pieces: bool) -> Rules:
    from ui.importing.matching import Rules, Words
    from ui.importing.patterns import PatternError, parse_pattern

    pairs = []
    for text in by_hand:
        photo, equals, tag = text.rpartition("=")
        if not equals:
            raise typer.BadParameter(f"{text!r} is not like PHOTO=TAG", param_hint="--match")
        pairs.append((photo, tag.strip()))
    known = {each.value: each for each in Words}
    if captions not in known:
        raise typer.BadParameter(
            f"{captions!r} is not known; write above or below", param_hint="--captions"
        )
    try:
        parsed = None if pattern is None else parse_pattern(pattern)
    except PatternError as error:
        raise typer.BadParameter(str(error), param_hint="--pattern") from None
    return Rules(pattern=parsed, by_hand=tuple(pairs), words=known[captions], new_pieces=new_pieces)


def _lot(records: Records, name: str, yard: str, by: str, *, may_begin: bool) -> Lot | None:
    """The lot of that name or number; a new one where there is none and it may be begun."""
    known = [lot for lot in records.lots() if name in (lot.uid, lot.name)]
    if not known:
        return records.open_lot(name, yard=yard, by=by) if may_begin else None
    return records.lot(name)  # says so where several are called that


def _receive(
    records: Records,
    lot: Lot,
    paths: Sequence[Path],
    matcher: Matcher,
    by: str,
    *,
    as_json: bool,
) -> int:
    """Takes the photos in, then reads those of each piece together, and prints what became of
    each; returns the exit code."""
    from ui.importing.incoming import from_paths
    from ui.importing.receiving import Receiver
    from ui.loading import load_reader
    from ui.terminal import progress_on_stderr
    from ui.together import ViewingReader
    from vision.sources import photo_count

    counts = {"known": 0, "new": 0, "unread": 0, "unmatched": 0}
    code = 0
    try:
        with ViewingReader(load_reader()) as reader:
            receiver = Receiver(records, lot.uid, reader, matcher, by=by)
            with progress_on_stderr(photo_count(paths), wanted=not sys.stdout.isatty()) as progress:
                for each in receiver.receive(from_paths(paths), progress):
                    counts["known" if each.was_known else "new"] += each.photo is not None
                    counts["unread"] += each.is_unread
                    unmatched = each.photo is not None and each.photo.piece is None
                    counts["unmatched"] += unmatched
                    typer.echo(_json(_as_object(each)) if as_json else _line(each))
                    sys.stdout.flush()
            read = _together(records, lot, reader, as_json=as_json)
        if read or counts["new"]:
            _reused(records, lot, as_json=as_json)
    except KeyboardInterrupt:
        typer.echo("seamtriage: stopped; what was finished is kept. Start it again.", err=True)
        code = EXIT_STOPPED
    typer.echo(
        f"{lot.name}: {counts['new']} photos taken in, {counts['known']} were there already, "
        f"{counts['unread']} could not be read, {counts['unmatched']} belong to no piece yet.",
        err=True,
    )
    typer.echo(ADVISORY, err=True)
    return code or (EXIT_SOME_UNREAD if counts["unread"] else 0)


def _together(records: Records, lot: Lot, reader: ViewingReader, *, as_json: bool) -> int:
    """Reads the photos of each piece together where that is still to be done; says of how many."""
    from ui.terminal import progress_on_stderr
    from ui.together import in_words, record_pieces, wanting

    pieces = wanting(records, lot.uid, reader.sha256)
    if not pieces:
        return 0
    count = f"{len(pieces)} piece{'' if len(pieces) == 1 else 's'}"
    typer.echo(f"seamtriage: reading the photos of {count} together", err=True)
    with progress_on_stderr(len(pieces), wanted=not sys.stdout.isatty()) as progress:
        for done, told in enumerate(record_pieces(records, pieces, reader), start=1):
            if progress is not None:
                progress(done, told.tag)
            typer.echo(_json(_piece_object(told)) if as_json else in_words(told))
            sys.stdout.flush()
    return len(pieces)


def _reused(records: Records, lot: Lot, *, as_json: bool) -> None:
    """Points out the pictures that stand for two pieces of the lot."""
    from ui.reused import WHAT_IT_SAYS, between_pieces
    from ui.terminal import progress_on_stderr

    files = [records.piece_file(each.piece.uid) for each in records.piece_list(lot.uid)]
    count = sum(len(file.photos) for file in files)
    with progress_on_stderr(count, wanted=not sys.stdout.isatty()) as progress:
        found = between_pieces(files, records.store.read, progress)
    for pair in found:
        pieces = {"piece": pair.first.tag, "and_piece": pair.second.tag}
        whole = {"photo": None, "piece": None, "reused": {**pair.as_json(), **pieces}}
        typer.echo(_json(whole) if as_json else f"One picture for two pieces: {pair.in_words}")
    if found:
        typer.echo(f"seamtriage: {WHAT_IT_SAYS}", err=True)


def _piece_object(told: PieceTold) -> dict[str, Any]:
    """`together` is what `seamtriage piece --json` prints, None where no photo could be read."""
    recorded = told.recorded
    facts = None if recorded is None else {**recorded.facts}
    if facts is not None:
        facts.pop("drawings", None)  # in the records and the report; a line here is to be read
    return {"photo": None, "piece": told.tag, "together": facts}


def _show_preview(found: Preview, matcher: Matcher, *, as_json: bool) -> None:
    unmatched = {match.photo: matcher.closest(match.photo) for match in found.unmatched}
    for match in found.matches:
        closest = unmatched.get(match.photo)
        if as_json:
            typer.echo(
                _json(
                    {
                        "photo": match.photo,
                        "piece": match.tag,
                        "way": match.way.value if match.way else None,
                        "why": match.why,
                        "new_piece": match.is_new,
                        "closest": closest,
                    }
                )
            )
        else:
            near = f"; the closest is {closest}" if closest else ""
            typer.echo(f"{match.photo}: {_belongs(match.tag)} ({match.why}{near})")
    typer.echo(found.in_words, err=True)
    if found.new_tags:
        typer.echo(f"New pieces: {', '.join(found.new_tags)}.", err=True)
    if found.without_photo:
        typer.echo(f"Pieces without a photo here: {', '.join(found.without_photo)}.", err=True)
    typer.echo("Nothing was taken in; leave out --preview to do so.", err=True)


def _belongs(tag: str | None) -> str:
    return "no piece" if tag is None else f"piece {tag}"


def _line(received: Received) -> str:
    """One photo in words, on one line."""
    from fittings.words import percent
    from vision.reading import PhotoError

    if isinstance(received.answer, PhotoError):
        said = f"not read, {received.answer.message.removeprefix(f'{received.name}: ')}"
        return f"{received.name}: {said}"
    why = f" ({received.match.why})" if received.match is not None else ""
    if received.answer is None:
        said = "was here and read already"
    else:
        verdict = received.answer.verdict
        share = percent(verdict.fabricated_probability)
        said = f"{verdict.reading.title}, a fabrication put at {share}"
    return f"{received.name}: {_belongs(received.tag)}{why}; {said}"


def _as_object(received: Received) -> dict[str, Any]:
    """`piece` is the tag, `answer` what `seamtriage screen --json` prints for the photo."""
    return {
        "photo": received.name,
        "sha256": received.photo.sha256 if received.photo else None,
        "piece": received.tag,
        "why": received.match.why if received.match else None,
        "was_known": received.was_known,
        "answer": received.answer.as_json() if received.answer else None,
    }


def _json(value: dict[str, Any]) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
