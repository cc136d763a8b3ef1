"""What the records hold, as plain results: lots, pieces, photos, readings, checks, decisions.

`number` is the number of the journal entry behind a result: it only ever grows, so it tells what
came after what, which times (`at`, UTC) do not promise. `by` is the person named.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Any

from fittings.order.lines import OrderLine
from fittings.receiving.review import Standing
from fittings.words import Kind, Reading
from vision.reading import PhotoReading


class Outcome(Enum):
    """What a physical check showed, in the words of `fittings.receiving.check_terms`.

    FORMED is "what a formed piece shows": it doesn't say that a piece is seamless or in order.
    """

    FORMED = "formed"
    FABRICATED = "fabricated"
    CANNOT_TELL = "cannot tell"

    @property
    def title(self) -> str:
        return _OUTCOMES[self]

    @property
    def settles(self) -> bool:
        return self is not Outcome.CANNOT_TELL


_OUTCOMES = {
    Outcome.FORMED: "Shows what a formed piece shows",
    Outcome.FABRICATED: "Shows what a fabricated piece shows",
    Outcome.CANNOT_TELL: "Could not tell",
}


class Decision(Enum):
    """What a person decided about a piece; the program never decides."""

    HOLD = "hold"
    RELEASE = "release"
    RETURN = "return"

    @property
    def title(self) -> str:
        return {"hold": "Hold", "release": "Release", "return": "Return to the yard"}[self.value]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """Pieces delivered together, as last described."""

    uid: str
    name: str
    yard: str
    order_name: str
    note: str
    number: int
    by: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedLine:
    """An order line of a lot; `source` is the file that it came from, "" when made by hand."""

    uid: str
    lot: str
    line: OrderLine
    source: str
    number: int
    by: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One physical fitting, as last described. `order_line` is the uid of a line or None."""

    uid: str
    lot: str
    tag: str
    order_line: str | None
    finish: str
    number: int
    by: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A photo; `piece` is the uid of the piece that it was last matched to, or None.

    `name` is what people call it, `source` where it came from (a path, `archive.zip!member`).
    """

    uid: str
    lot: str
    piece: str | None
    name: str
    source: str
    sha256: str
    size_bytes: int
    number: int
    by: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedReading:
    """What a photo was found to say, or why it could not be read, by one model.

    `facts` is the JSON object as it was recorded; `reading` the same as a `PhotoReading`, None
    for a photo that could not be read.
    """

    uid: str
    lot: str
    photo: str
    facts: dict[str, Any]
    reading: PhotoReading | None
    model_version: str
    model_sha256: str
    number: int
    by: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedPieceReading:
    """What the photos of a piece were found to say together; `facts` is its JSON object."""

    uid: str
    lot: str
    piece: str
    facts: dict[str, Any]
    word: Reading
    fabricated_probability: float
    model_version: str
    model_sha256: str
    number: int
    by: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CertificateAnswer:
    """An answer to an item of the certificate review (`fittings.receiving.review`)."""

    lot: str
    order_line: str
    key: str
    standing: Standing
    note: str
    number: int
    by: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """A measured length; `dimension` is a name of `fittings.receiving.limits`."""

    lot: str
    piece: str
    dimension: str
    value_mm: float
    note: str
    number: int
    by: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A physical check that somebody did; `key` is a key of `fittings.receiving.check_list`."""

    uid: str
    lot: str
    piece: str
    key: str
    outcome: Outcome
    note: str
    number: int
    by: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """A person's decision about a piece."""

    lot: str
    piece: str
    decision: Decision
    reason: str
    number: int
    by: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceFile:
    """All that is recorded of one piece, oldest first. `readings` are the newest of each photo.

    `number` is that of the newest entry about the piece: give it to `Records.decide` as `seen`.
    """

    lot: Lot
    piece: Piece
    order_line: RecordedLine | None
    photos: tuple[Photo, ...]
    readings: tuple[RecordedReading, ...]
    piece_readings: tuple[RecordedPieceReading, ...]
    certificate: tuple[CertificateAnswer, ...]
    measurements: tuple[Measurement, ...]
    checks: tuple[Check, ...]
    decisions: tuple[Decided, ...]
    number: int

    @property
    def decision(self) -> Decided | None:
        """The decision that stands: the newest, or None while nobody has decided."""
        return self.decisions[-1] if self.decisions else None


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceSummary:
    """One line of a lot's piece list. `word` and the probability are None without a reading.

    They are those of the newest reading of the piece, or without one those of its worst photo.
    """

    piece: Piece
    kind: Kind | None
    photos: int
    photos_read: int
    word: Reading | None
    fabricated_probability: float | None
    checks: int
    decision: Decided | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LotSummary:
    """A lot in one line: how many pieces stand how. `flagged` are read as a fabrication seam.

    `checked` have a recorded physical check, whatever it showed.
    """

    lot: Lot
    pieces: int
    photos: int
    flagged: int
    checked: int
    held: int
    released: int
    returned: int

    @property
    def undecided(self) -> int:
        return self.pieces - self.held - self.released - self.returned
