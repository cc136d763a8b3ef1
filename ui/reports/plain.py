"""A report as plain text, to be pasted into a letter or a message."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from ui.reports.blocks import (
    Blank,
    Block,
    Document,
    Facts,
    Heading,
    NewPage,
    Picture,
    Pictures,
    Points,
    Table,
    Words,
)
from vision.errors import one_line

WIDTH = 78
_BLANK = "_" * 30


def as_text(document: Document) -> str:
    """The document in lines of at most `WIDTH` characters (longer words stay whole)."""
    lines = [document.title, "=" * len(document.title), *_wrapped(document.about), ""]
    for block in document.blocks:
        lines += [*_lines(block), ""]
    lines += _wrapped(document.advisory)
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _lines(block: Block) -> Iterator[str]:
    match block:
        case Heading():
            yield one_line(block.text)
            yield ("-" if block.level == 1 else ".") * len(one_line(block.text))
        case Words():
            yield from _wrapped(block.text)
        case Points():
            for text in block.texts:
                yield from _wrapped(text, first="- ")
        case Facts():
            for name, value in block.rows:
                yield from _wrapped(f"{name}: {value or _BLANK}")
        case Table():
            for row in block.rows:
                cells = zip(block.columns, row, strict=True)
                yield from _wrapped("; ".join(f"{c}: {v}" for c, v in cells if v), first="- ")
        case Picture():
            yield from _wrapped(" ".join(filter(None, (block.caption, block.fine))), first="- ")
        case Pictures():
            for picture in block.pictures:
                yield from _lines(picture)
        case Blank():
            yield f"{block.label}: {_BLANK}"
            yield from ["_" * (WIDTH - 10)] * (block.lines - 1)
        case NewPage():
            pass


def _wrapped(text: str, first: str = "") -> list[str]:
    return textwrap.wrap(
        one_line(text),
        WIDTH,
        initial_indent=first,
        subsequent_indent=" " * len(first),
        break_long_words=False,
        break_on_hyphens=False,
    )
