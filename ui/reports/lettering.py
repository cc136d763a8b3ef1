"""The letters of a PDF: which font has them, and what stands for those that none has.

DejaVu Sans comes with matplotlib. It has Latin with every accent, Greek, Cyrillic, Armenian,
Georgian, Hebrew, Arabic and the signs of the trade. It has no Chinese, Japanese, Korean, Thai or
Indian letters: for these a font of this computer is looked for, and where there is none a letter is
shown by its Unicode number, so that nothing that was recorded goes missing.

Arabic and Hebrew are put in reading order, Arabic letters without being joined.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from functools import cache
from pathlib import Path

import matplotlib
from fontTools.ttLib import TTFont, TTLibError
from fpdf.bidi import BidiParagraph

FONTS = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
REGULAR = FONTS / "DejaVuSans.ttf"
BOLD = FONTS / "DejaVuSans-Bold.ttf"

_FALLBACKS_AT_MOST = 3
_LIKELY = ("cjk", "hei", "song", "ming", "yahei", "gothic", "unicode", "thai", "devanagari", "noto")
_RIGHT_TO_LEFT = ("R", "AL")


@cache
def covered(path: Path, number: int = 0) -> frozenset[int]:
    """The characters (code points) that a font file has letters for; none of a damaged one.

    `number` is the font's place in a collection (.ttc).
    """
    try:
        with path.open("rb") as stream, TTFont(stream, fontNumber=number, lazy=True) as font:
            return frozenset(font.getBestCmap() or ())
    except (TTLibError, OSError, ValueError, KeyError, AssertionError):
        return frozenset()


def missing(texts: Iterable[str]) -> frozenset[int]:
    """The code points in `texts` that DejaVu Sans, regular or bold, has no letter for."""
    used = {ord(each) for text in texts for each in text if each.isprintable()}
    return frozenset(used - (covered(REGULAR) & covered(BOLD)))


def fallbacks(wanted: frozenset[int], fonts: Iterable[Path] | None = None) -> tuple[Path, ...]:
    """Fonts of this computer that have letters for `wanted`, those that have most of them first."""
    if not wanted:
        return ()
    chosen: list[Path] = []
    left = set(wanted)
    for path in sorted(_of_this_computer() if fonts is None else fonts, key=_unlikely):
        here = left & covered(path)
        if here:
            chosen.append(path)
            left -= here
        if not left or len(chosen) == _FALLBACKS_AT_MOST:
            break
    return tuple(chosen)


@cache
def _of_this_computer() -> tuple[Path, ...]:
    from matplotlib import font_manager  # looks at every font when it is first loaded

    return tuple(map(Path, font_manager.findSystemFonts()))


def _unlikely(path: Path) -> tuple[int, str]:
    name = path.name.lower()
    return (0 if any(word in name for word in _LIKELY) else 1, str(path))


def spelled(text: str, known: frozenset[int]) -> str:
    """`text` in the order in which it is set from left to right, in letters of `known` only.

    Others, and what can't be printed, are shown by their number: [U+5F20]. Line ends stay.
    """
    plain = "".join(
        each
        if each == "\n" or (each.isprintable() and ord(each) in known)
        else " "
        if each.isspace()
        else f"[U+{ord(each):04X}]"
        for each in unicodedata.normalize("NFC", text)
    )
    return "\n".join(_in_order(line) for line in plain.split("\n"))


def _in_order(line: str) -> str:
    if not any(unicodedata.bidirectional(each) in _RIGHT_TO_LEFT for each in line):
        return line
    return BidiParagraph(text=line).get_reordered_string()
