"""File name patterns such as `{piece}-*.jpg`, and where a piece's tag stands in a name.

A pattern is the name of a photo with three signs in it: `{piece}`, once, where the tag stands; `*`
for any characters or none; `?` for one. A `/` asks for folders: `{piece}/*.jpg` is matched against
the last two parts of the path. It has no other signs, runs no code, and takes no longer for a
hostile name than for a plain one.

Names are compared folded: capitals and small letters are one, so are blanks, dashes, dots and
underscores, and zeros before a number fall away (`e_007.JPG` is `E-7.jpg`). A tag must stand alone:
E-1 is not found in `E-11.jpg`.
"""

from __future__ import annotations

import fnmatch
import re
import unicodedata
from dataclasses import dataclass
from pathlib import PurePosixPath

from vision.sources import PICTURE_SUFFIXES

SIGN = "{piece}"
MAX_PATTERN_CHARS = 200
_MAX_STARS = 6
_TAKEN_OUT = re.compile(r"\.(?:pdf!page \d+|docx!) ?picture \d+$", re.IGNORECASE)
_RUNS = re.compile("-+")
_LEADING_ZEROS = re.compile(r"(?<![0-9])0+(?=[0-9])")
_SEPARATORS = frozenset(" \t_.,;:-‐‑–—+#()[]{}~&'/\\!")


class PatternError(ValueError):
    """A pattern that can't be used; the message says what is wrong and what to write instead."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Folded:
    """A text as names are compared, and what each of its characters stood for.

    `places` has, per character of `text`, the (start, end) in `plain` that it came from.
    """

    text: str
    plain: str
    places: tuple[tuple[int, int], ...]

    def spelled(self, start: int, end: int) -> str:
        """The characters of `plain` behind `text[start:end]`, leading zeros included."""
        first = self.places[start][0] if start else 0
        return self.plain[first : self.places[end - 1][1]].strip("".join(_SEPARATORS))


def fold(text: str) -> Folded:
    """`text` folded: see the module's text."""
    plain = _nfkc(text)
    out: list[str] = []
    places: list[tuple[int, int]] = []
    start = 0
    for at, sign in enumerate(plain):
        follows = plain[at + 1 : at + 2]
        if sign == "0" and follows.isdecimal() and not (out and out[-1].isdecimal()):
            continue  # a zero before a number; the next digit takes its place
        if sign in _SEPARATORS:
            if out and out[-1] != "-":
                out.append("-")
                places.append((start, at + 1))
            start = at + 1
            continue
        for each in sign.casefold():
            out.append(each)
            places.append((start, at + 1))
        start = at + 1
    if out and out[-1] == "-":
        out.pop()
        places.pop()
    return Folded(text="".join(out), plain=plain, places=tuple(places))


def folded(text: str) -> str:
    """`text` as names are compared; "" for a text without any letter or digit."""
    return fold(text).text


def stands_alone(text: str, start: int, end: int) -> bool:
    """Whether `text[start:end]` is no part of a longer word or number: E-1 of E-11 or E-1A."""
    return not (_one_word(text[:start], text[start:end]) or _one_word(text[start:end], text[end:]))


def _one_word(left: str, right: str) -> bool:
    return left[-1:].isalnum() and right[:1].isalnum()


def path_parts(name: str) -> list[str]:
    """The parts of a photo's name: an archive or document, its folders, its own file name."""
    return [part for part in re.split(r"[!/\\]", name) if part]


def is_in_document(name: str) -> bool:
    """Whether a photo was taken out of a document, so that its name is ours and says no tag."""
    return _TAKEN_OUT.search(name) is not None


def split_suffix(part: str) -> tuple[str, str]:
    """A file name as (stem, suffix of a picture in small letters), "" for anything else."""
    suffix = PurePosixPath(part).suffix.lower()
    return (part[: -len(suffix)], suffix) if suffix in PICTURE_SUFFIXES else (part, "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """A checked pattern; make it with `parse_pattern`. Places of parts count from the end, 0."""

    text: str
    before: str
    after: str
    piece_part: int
    other_parts: tuple[tuple[int, str], ...]
    suffix: str

    def places(self, name: str) -> tuple[Folded, tuple[tuple[int, int], ...]] | None:
        """The part of `name` where the tag stands, and each (start, end) that it can have there.

        None where the name does not have the pattern's other parts.
        """
        parts = path_parts(name)
        if len(parts) < self.piece_part + 1 or not parts:
            return None
        stem, suffix = split_suffix(parts[-1])
        if self.suffix and not fnmatch.fnmatchcase(suffix, self.suffix):
            return None
        own = [fold(part) for part in (*parts[:-1], stem)]
        for place, glob in self.other_parts:
            if place >= len(own) or not fnmatch.fnmatchcase(own[-1 - place].text, glob):
                return None
        part = own[-1 - self.piece_part]
        text, cuts = part.text, range(len(part.text) + 1)
        # Next to a letter of the pattern a tag ends where the pattern says; next to * or ? it must
        # end with a word.
        loose_start, loose_end = self.before[-1:] in ("*", "?"), self.after[:1] in ("*", "?")
        starts = [
            cut
            for cut in cuts
            if fnmatch.fnmatchcase(text[:cut], self.before)
            and not (loose_start and _one_word(text[:cut], text[cut:]))
        ]
        ends = [
            cut
            for cut in cuts
            if fnmatch.fnmatchcase(text[cut:], self.after)
            and not (loose_end and _one_word(text[:cut], text[cut:]))
        ]
        return part, tuple((start, end) for start in starts for end in ends if start < end)


def parse_pattern(text: str) -> Pattern:
    """The pattern in `text`; PatternError says what is wrong with it."""
    text = text.strip()
    if len(text) > MAX_PATTERN_CHARS:
        raise PatternError(f"the pattern is longer than {MAX_PATTERN_CHARS} characters; shorten it")
    if text.count(SIGN) != 1:
        raise PatternError(
            f"{text!r} must hold {SIGN} once, where the piece's tag stands, such as {SIGN}-*.jpg"
        )
    if "{" in text.replace(SIGN, "") or "}" in text.replace(SIGN, ""):
        raise PatternError(f"{text!r}: the only word in braces is {SIGN}")
    if text.count("*") > _MAX_STARS:
        raise PatternError(f"{text!r} has more than {_MAX_STARS} stars; leave some out")
    parts = [part for part in text.replace("\\", "/").split("/") if part]
    last, suffix = _split_glob_suffix(parts[-1])
    backwards = [last, *reversed(parts[:-1])]
    place = next(at for at, part in enumerate(backwards) if SIGN in part)
    before, _, after = backwards[place].partition(SIGN)
    return Pattern(
        text=text,
        before=_folded_glob(before).lstrip("-"),
        after=_folded_glob(after).rstrip("-"),
        piece_part=place,
        other_parts=tuple(
            (at, _folded_glob(part).strip("-") or "*")
            for at, part in enumerate(backwards)
            if at != place
        ),
        suffix=suffix,
    )


def _split_glob_suffix(part: str) -> tuple[str, str]:
    """The last part of a pattern as (stem, suffix); "" where it doesn't ask for a suffix."""
    stem, dot, suffix = part.rpartition(".")
    suffix = f".{suffix.lower()}"
    if dot and (suffix == ".*" or any(fnmatch.fnmatchcase(s, suffix) for s in PICTURE_SUFFIXES)):
        return stem, "" if suffix == ".*" else suffix
    return part, ""


def _folded_glob(glob: str) -> str:
    """A part of a pattern folded like a name; `*`, `?` and separators at its ends are kept."""
    signs = "".join("-" if sign in _SEPARATORS else sign.casefold() for sign in _nfkc(glob))
    return _RUNS.sub("-", _LEADING_ZEROS.sub("", signs))


def _nfkc(text: str) -> str:
    return unicodedata.normalize("NFKC", text)
