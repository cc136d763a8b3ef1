"""What a check of an order line has to say: one finding is one plain sentence with its source."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

FROM_MEMORY = "from memory"
COMMON_PRACTICE = "common practice, no source"
THE_FILE = "the order file itself"
ADVISORY_ORDER = (
    "Advisory only: this check of an order accepts nothing and rejects nothing. The texts of the "
    "standards and the engineer of record come before anything said here, and a physical check of "
    "what arrives is always required."
)


class Level(Enum):
    """How much a finding matters; the value is the word in tables and JSON, worst first."""

    CONTRADICTION = "contradiction"
    LEFT_OPEN = "left open"
    NOTE = "note"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing found about an order line. `field` is the name of a field of `OrderLine`.

    `source` cites standard and clause and says how the value was checked.
    """

    level: Level
    field: str
    sentence: str
    source: str

    def __post_init__(self) -> None:
        if not self.sentence.endswith((".", "?")):
            raise ValueError(f"a finding is a sentence, not {self.sentence!r}")
        if not self.source:
            raise ValueError(f"the finding {self.sentence!r} has no source")

    @property
    def from_memory(self) -> bool:
        """Whether a value behind it was not seen in any copy or table of the standard."""
        return FROM_MEMORY in self.source

    @property
    def common_practice(self) -> bool:
        """Whether it is habit of the trade without a source."""
        return COMMON_PRACTICE in self.source
