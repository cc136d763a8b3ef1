"""Which photo shows which piece: by hand, file name pattern, folder, name, or the words beside it.

Nothing is guessed: a photo that fits two pieces, or only nearly fits one, is left for a person,
with the reason and the closest tag. Pure: names and words in, matches out.
"""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from enum import Enum

from ui.importing.patterns import (
    Folded,
    Pattern,
    fold,
    folded,
    is_in_document,
    path_parts,
    split_suffix,
    stands_alone,
)

_CLOSE = 0.6  # share of a tag that a name must have in common with it, to be offered to a person


class Way(Enum):
    """How a photo was matched; the value is what people read."""

    BY_HAND = "by hand"
    PATTERN = "file name pattern"
    FOLDER = "folder"
    NAME = "tag in the file name"
    WORDS = "words beside it in the document"


class Words(Enum):
    """Where the words that name a piece stand in a Word report."""

    ABOVE = "above"
    BELOW = "below"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """How photos are to be matched.

    With a pattern, only the pattern counts, except for what is taken out of a document. Without
    one, a photo is matched by a folder (or an archive) named after a piece, by a tag in its file
    name, or by a tag in the words beside it, in this order. A tag of digits only is too easily a
    date or a photo's number: it must begin the name, or follow the word piece or tag. `by_hand` has
    (photo, tag) pairs that go before everything; "" is no piece at all. With `new_pieces`, what the
    pattern finds, or without one the photo's folder, may name a piece that the lot does not have
    yet.
    """

    pattern: Pattern | None = None
    by_hand: tuple[tuple[str, str], ...] = ()
    words: Words = Words.ABOVE
    new_pieces: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """What one photo was matched to, and why, or why not. `tag` is None without a piece."""

    photo: str
    tag: str | None
    way: Way | None
    why: str
    is_new: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tag:
    tag: str
    folded: str


class Matcher:
    """Matches photos to the tags of one lot by one set of rules."""

    def __init__(self, tags: Iterable[str], rules: Rules | None = None) -> None:
        self.rules = rules or Rules()
        self.tags = tuple(dict.fromkeys(tags))
        self._tags = [_Tag(tag=tag, folded=folded(tag)) for tag in self.tags]
        self._by_hand = dict(self.rules.by_hand)
        known = Counter(tag.folded for tag in self._tags)
        self._twins = {text for text, count in known.items() if count > 1}

    def match(self, photo: str, *, above: str = "", below: str = "") -> Match:
        """The match of the photo of that name; the words are those of `vision.sources.Found`."""
        if photo in self._by_hand:
            tag = self._by_hand[photo]
            why = "matched by hand" if tag else "set aside by hand"
            return Match(photo=photo, tag=tag or None, way=Way.BY_HAND, why=why)
        taken_out = is_in_document(photo)
        if self.rules.pattern is not None and not taken_out:
            return self._by_pattern(photo, self.rules.pattern)
        *folders, last = path_parts(photo) or [""]
        stem = fold("" if taken_out else split_suffix(last)[0])
        words = above if self.rules.words is Words.ABOVE else below
        for way, texts in (
            (Way.FOLDER, [fold(_without_holder_suffix(part)) for part in reversed(folders)]),
            (Way.NAME, [stem]),
            (Way.WORDS, [fold(words)]),
        ):
            for text in texts:
                found = _whole(text, self._tags) if way is Way.FOLDER else ()
                found = found or _inside(text, self._tags, at_start=way is Way.NAME)
                if found:
                    return self._one_of(photo, found, way)
        if self.rules.new_pieces and folders and not taken_out:
            return _new(photo, _without_holder_suffix(folders[-1]), Way.FOLDER)
        why = f"no tag of the lot stands in its name{' or beside it' if words else ''}"
        return Match(photo=photo, tag=None, way=None, why=why)

    def _by_pattern(self, photo: str, pattern: Pattern) -> Match:
        places = pattern.places(photo)
        if places is None or not places[1]:
            why = f"its name does not fit {pattern.text}"
            return Match(photo=photo, tag=None, way=None, why=why)
        part, spans = places
        hits = [
            (span, tag)
            for span in spans
            for tag in self._tags
            if part.text[span[0] : span[1]] == tag.folded
        ]
        if hits:
            return self._one_of(photo, _longest(hits), Way.PATTERN)
        longest = max(spans, key=_length)
        said = part.spelled(*longest)
        if self.rules.new_pieces:
            return _new(photo, said, Way.PATTERN)
        why = f"{pattern.text} finds {said!r}, which is no tag of the lot"
        return Match(photo=photo, tag=None, way=None, why=why)

    def _one_of(self, photo: str, found: Sequence[_Tag], way: Way) -> Match:
        tags = [each.tag for each in found]
        if found[0].folded in self._twins and len(found) > 1:
            why = f"the tags {_listed(tags)} are alike in names; match it by hand"
        elif len(found) > 1:
            why = f"it names {_listed(tags)} ({way.value}); match it by hand"
        else:
            return Match(photo=photo, tag=tags[0], way=way, why=way.value)
        return Match(photo=photo, tag=None, way=None, why=why)

    def closest(self, photo: str) -> str | None:
        """The tag that the photo's own name comes nearest to, to offer to a person; never taken."""
        words = folded(split_suffix((path_parts(photo) or [""])[-1])[0]).split("-")
        best, chosen = _CLOSE, None
        for tag in self._tags:
            near = difflib.SequenceMatcher(b=tag.folded, autojunk=False)
            long = tag.folded.count("-") + 1  # as many words as the tag has
            for at in range(max(1, len(words) - long + 1)):
                near.set_seq1("-".join(words[at : at + long]))
                if near.quick_ratio() > best and near.ratio() > best:
                    best, chosen = near.ratio(), tag.tag
        return chosen


def _new(photo: str, said: str, way: Way) -> Match:
    why = f"{way.value}; a piece that the lot does not have yet"
    return Match(photo=photo, tag=said, way=way, why=why, is_new=True)


def _whole(text: Folded, tags: Sequence[_Tag]) -> tuple[_Tag, ...]:
    return tuple(tag for tag in tags if tag.folded and tag.folded == text.text)


def _inside(text: Folded, tags: Sequence[_Tag], *, at_start: bool) -> tuple[_Tag, ...]:
    """The tags that stand alone in `text`, without those that lie inside a longer one.

    `at_start` says whether a tag of digits only may begin the text.
    """
    hits: list[tuple[tuple[int, int], _Tag]] = []
    for tag in tags:
        at = text.text.find(tag.folded) if tag.folded else -1
        while at >= 0:
            span = (at, at + len(tag.folded))
            if stands_alone(text.text, *span) and _is_clear(text.text, at, tag.folded, at_start):
                hits.append((span, tag))
            at = text.text.find(tag.folded, at + 1)
    return _longest(hits)


def _is_clear(text: str, at: int, tag: str, at_start: bool) -> bool:
    if not tag.replace("-", "").isdecimal():
        return True
    return (at == 0 and at_start) or text[:at].rstrip("-").endswith(("piece", "tag"))


def _longest(hits: Sequence[tuple[tuple[int, int], _Tag]]) -> tuple[_Tag, ...]:
    kept = [
        tag
        for span, tag in hits
        if not any(
            other != span and other[0] <= span[0] and span[1] <= other[1] for other, _ in hits
        )
    ]
    return tuple(dict.fromkeys(kept))


def _length(span: tuple[int, int]) -> int:
    return span[1] - span[0]


def _listed(tags: Sequence[str]) -> str:
    return f"{', '.join(tags[:-1])} and {tags[-1]}"


def _without_holder_suffix(part: str) -> str:
    """An archive's or document's name without its ending; a folder's name as it is."""
    stem, dot, ending = part.rpartition(".")
    return stem if dot and ending.lower() in ("zip", "pdf", "docx") else part


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """The matches of many photos, to be looked at and corrected before anything is stored."""

    matches: tuple[Match, ...]
    tags: tuple[str, ...] = field(default=())

    @property
    def matched(self) -> tuple[Match, ...]:
        return tuple(match for match in self.matches if match.tag is not None)

    @property
    def unmatched(self) -> tuple[Match, ...]:
        return tuple(match for match in self.matches if match.tag is None)

    @property
    def by_hand(self) -> tuple[tuple[str, str], ...]:
        """What a person corrected, for `Rules.by_hand`."""
        return tuple((m.photo, m.tag or "") for m in self.matches if m.way is Way.BY_HAND)

    @property
    def new_tags(self) -> tuple[str, ...]:
        """Tags of pieces that the lot does not have yet, in the order of their photos."""
        return tuple(dict.fromkeys(m.tag for m in self.matches if m.is_new and m.tag))

    @property
    def without_photo(self) -> tuple[str, ...]:
        """Tags of the lot that none of these photos was matched to."""
        shown = {match.tag for match in self.matches}
        return tuple(tag for tag in self.tags if tag not in shown)

    def with_hand(self, photo: str, tag: str) -> Preview:
        """The same matches with that photo matched by hand; "" sets it aside."""
        why = "matched by hand" if tag else "set aside by hand"
        changed = Match(
            photo=photo,
            tag=tag or None,
            way=Way.BY_HAND,
            why=why,
            is_new=bool(tag) and tag not in self.tags,
        )
        return replace(
            self, matches=tuple(changed if m.photo == photo else m for m in self.matches)
        )

    @property
    def in_words(self) -> str:
        """One line: "57 of 60 photos matched to 12 pieces; 3 are left for a person." """
        pieces = len({match.tag for match in self.matched})
        total, left = len(self.matches), len(self.unmatched)
        rest = "" if not left else f"; {left} {'is' if left == 1 else 'are'} left for a person"
        return (
            f"{len(self.matched)} of {total} photo{'' if total == 1 else 's'} matched to "
            f"{pieces} piece{'' if pieces == 1 else 's'}{rest}."
        )
