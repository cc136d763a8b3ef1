"""The same picture twice: among photos given, and among the stored photos of a lot's pieces."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from fittings.words import ADVISORY
from ui.records import Damaged, NotRecorded, PieceFile
from ui.screening import Progress
from vision.errors import PhotoUnreadable
from vision.photo import open_photo
from vision.read import OPEN_SIDE_PX
from vision.reuse import Match, matches, signature

WHAT_IT_SAYS = (
    "A pair says nothing of who did what: two photographs taken in one moment from one stand look "
    "alike too. Look at both, and ask for new ones."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Signed:
    """A photo that was opened: its name, the hash of its bytes, its signature, and the tag of the
    piece that it belongs to."""

    name: str
    sha256: str
    signature: bytes = field(repr=False)
    tag: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two photos that are the same picture; `match` is None where the files are the same."""

    first: Signed
    second: Signed
    match: Match | None

    @property
    def sentence(self) -> str:
        """What was found, in plain words."""
        return "The same file, byte for byte." if self.match is None else self.match.sentence

    @property
    def in_words(self) -> str:
        """The pair in a line, with the pieces."""
        return (
            f"{self.first.name} of {self.first.tag} and {self.second.name} of {self.second.tag}: "
            f"{self.sentence}"
        )

    def as_json(self) -> dict[str, Any]:
        """JSON types only."""
        match = self.match
        return {
            "first": self.first.name,
            "second": self.second.name,
            "same_file": match is None,
            "inliers": None if match is None else match.inliers,
            "mirrored": False if match is None else match.mirrored,
            "agreeing": None if match is None else round(match.agreeing, 3),
            "overlap": None if match is None else round(match.overlap, 3),
            "sentence": self.sentence,
            "advisory": ADVISORY,
        }


def signed(data: bytes, name: str, tag: str = "") -> Signed:
    """The photo with what is needed to know it again. PhotoUnreadable where it can't be opened."""
    photo = open_photo(data, name, max_side_px=OPEN_SIDE_PX)
    return Signed(name=name, sha256=photo.sha256, signature=signature(photo), tag=tag)


def pairs_of(photos: Sequence[Signed]) -> list[Pair]:
    """Every pair once, in the order of the photos."""
    found = {(m.first, m.second): m for m in matches([each.signature for each in photos])}
    pairs = []
    for second in range(len(photos)):
        for first in range(second):
            same = photos[first].sha256 == photos[second].sha256
            if same or (first, second) in found:
                match = None if same else found[first, second]
                pairs.append(Pair(first=photos[first], second=photos[second], match=match))
    return pairs


def between_pieces(
    pieces: Iterable[PieceFile],
    read_photo: Callable[[str], bytes],
    progress: Progress | None = None,
) -> list[Pair]:
    """The pictures that stand for two of the pieces; a piece's own copies are told with its
    reading. Photos that are lost or can't be opened are passed over: they are told of elsewhere.
    """
    opened: list[Signed] = []
    for piece in pieces:
        for photo in piece.photos:
            if progress is not None:
                progress(len(opened), photo.name)
            try:
                opened.append(signed(read_photo(photo.sha256), photo.name, piece.piece.tag))
            except (PhotoUnreadable, Damaged, NotRecorded):
                continue
    return [pair for pair in pairs_of(opened) if pair.first.tag != pair.second.tag]
