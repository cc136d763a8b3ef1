"""A piece's reading in a terminal, and the files that `seamtriage piece --out` writes."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rich.console import Console
from rich.table import Table
from rich.text import Text

from fittings.words import ADVISORY, Kind, percent
from ui.whole_files import write_whole
from ui.wording import kind_in_words, lines_in_words
from vision.errors import OutputExists
from vision.piece import PieceReading
from vision.views import CAUTION, NextView

FILES = ("piece.json", "development.png", "development.svg", "next-views.png")


def print_piece(piece: PieceReading, views: Sequence[NextView], console: Console) -> None:
    """The reading with its reasons, a table of the photos, and what to photograph next."""
    tag = f"{piece.tag}: " if piece.tag else ""
    kind = "no fitting made out" if piece.kind is Kind.NONE else piece.kind.value
    console.print(
        Text(
            f"{tag}{kind}. {piece.reading.title}; a fabrication is put at "
            f"{percent(piece.fabricated_probability)}.",
            style="bold",
        )
    )
    for reason in piece.reasons:
        console.print(Text(f"- {reason}"))
    console.print(_photo_table(piece))
    for doubt in piece.doubts:
        console.print(Text(f"Look again: {doubt.sentence}"))
    if views:
        console.print(Text("What to photograph next", style="bold"))
    for number, view in enumerate(views, start=1):
        adds = f" It would show {percent(view.adds)} more of the outside." if view.adds else ""
        console.print(Text(f"{number}. {view.sentence}{adds}"))
    console.print(Text(CAUTION))
    console.print(Text(f"What settles it: {piece.next_step}"))
    console.print(Text(ADVISORY, style="bold"))


def _photo_table(piece: PieceReading) -> Table:
    table = Table(show_lines=False)
    table.add_column("Photo", overflow="fold", ratio=3)
    table.add_column("Fabricated", justify="right", no_wrap=True)
    table.add_column("Reading", overflow="fold", ratio=3)
    table.add_column("Fitting", overflow="fold", ratio=2)
    table.add_column("Seams", overflow="fold", ratio=2)
    table.add_column("Counted", no_wrap=True)
    for number, view in enumerate(piece.views):
        own = view.reading
        table.add_row(
            Text(own.photo),
            Text(percent(own.verdict.fabricated_probability)),
            Text(own.verdict.reading.title),
            Text(kind_in_words(own)),
            Text(lines_in_words(own)),
            Text("yes" if number in piece.counted else "no"),
        )
    return table


def check_free(folder: Path) -> None:
    """OutputExists where one of the files is there already."""
    for name in FILES:
        path = folder / name
        if path.exists():
            raise OutputExists(f"{path} exists already. Give --force to write over it.")


def write_files(
    folder: Path, piece: PieceReading, views: Sequence[NextView], json_text: str
) -> list[Path]:
    """The files that this piece has: no drawings where no photo could be placed."""
    from vision.development import development_bytes
    from vision.view_drawing import views_bytes

    content = {"piece.json": (json_text + "\n").encode()}
    if piece.surface is not None:
        content["development.png"] = development_bytes(piece, "png")
        content["development.svg"] = development_bytes(piece, "svg")
        content["next-views.png"] = views_bytes(views, piece.surface.form, piece.surface.clear)
    written = []
    for name, data in content.items():
        write_whole(folder / name, data)
        written.append(folder / name)
    return written
