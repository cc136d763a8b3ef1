"""The parts of a physical check: material, effort, hazards, and what either piece would show."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from fittings.order.findings import COMMON_PRACTICE, FROM_MEMORY


class Metal(Enum):
    """What a check needs to know of the metal; the value is the word on the command line."""

    CARBON = "carbon"
    LOW_ALLOY = "low-alloy"
    AUSTENITIC = "austenitic"
    DUPLEX = "duplex"
    NICKEL = "nickel"
    ALUMINIUM = "aluminium"


class Effort(Enum):
    """How much a check takes, from a look to a licensed crew."""

    LOOK = 1
    INSTRUMENT = 2
    PREPARED = 3
    ETCHED = 4
    SPECIALIST = 5
    LICENSED = 6

    @property
    def in_words(self) -> str:
        return _EFFORTS[self]


_EFFORTS = {
    Effort.LOOK: "minutes, hand tools, leaves no mark",
    Effort.INSTRUMENT: "an hour, one calibrated instrument, leaves no mark",
    Effort.PREPARED: "cleaned or lightly ground metal, may leave small marks",
    Effort.ETCHED: "polished metal and acid, marks the piece, needs the owner's leave",
    Effort.SPECIALIST: "a qualified ultrasonics operator with a written procedure",
    Effort.LICENSED: "a licensed radiography crew behind a controlled barrier",
}


class Hazard(Enum):
    """What a check can hurt; the value is the caution, one plain sentence or two."""

    LIFTING = (
        "A piece that rolls or falls crushes: chock it on firm ground, lift only with checked gear "
        "and trained people, keep out from under it, and never climb into a bore."
    )
    EDGES = (
        "Bevels and burrs cut: gloves, and a mirror or borescope where the arm does not reach with "
        "ease."
    )
    GRINDING = (
        "Grinding throws sparks and dust: eye, breathing and fire protection. Measure the wall "
        "before and after, and stop while it is still above the least wall (87.5 % of nominal, "
        "ASME B16.9-2018 Table 11-1)."
    )
    ACID = (
        "Etching acids burn skin and eyes and give off fumes: goggles, face shield, gloves, moving "
        "air, water at hand. Mix fresh, acid into water, never keep alcohol and nitric acid mixed "
        "in a closed bottle, hydrofluoric acid in a laboratory only. Rinse, neutralise, dry, leave "
        "no chloride on stainless steel, and protect the bare metal again."
    )
    SOLVENT = (
        "Penetrants, developers and solvents catch fire, and their vapour dazes: no flame, "
        "moving air, gloves."
    )
    CURRENT = (
        "A yoke or prods carry heavy current and a strong field: tested leads, dry hands, and "
        "people with heart pacemakers stay away. Prods can burn the surface."
    )
    BURN = "A spark analyser burns a spot and an X-ray one is a radiation source: trained people."
    RADIATION = (
        "Ionising radiation harms unseen: licensed people only, a controlled barrier, dose meters, "
        "and the site's radiation rules before anything else."
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PhysicalCheck:
    """One check, told for one kind of fitting, reading and material.

    `formed` and `fabricated` are what it would show on either; `cannot_tell` is what it leaves
    open; `figures` are numbers for the size at hand, empty without one. `effort` orders the list.
    """

    key: str
    name: str
    effort: Effort
    where: str
    formed: str
    fabricated: str
    cannot_tell: str
    hazards: tuple[Hazard, ...]
    source: str
    how: str = ""
    figures: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for field in ("key", "name", "where", "formed", "fabricated", "cannot_tell", "source"):
            if not getattr(self, field).strip():
                raise ValueError(f"physical check {self.key!r}: {field} is empty")

    @property
    def from_memory(self) -> bool:
        """Whether any of it was put down from memory."""
        return FROM_MEMORY in self.source

    @property
    def common_practice(self) -> bool:
        """Whether any of it is habit of the trade without a source."""
        return COMMON_PRACTICE in self.source

    @property
    def how_sure(self) -> str:
        """ "from memory", "partly common practice, no source" … or "" where all of it was seen."""
        if self.source in (FROM_MEMORY, COMMON_PRACTICE):
            return self.source
        marks = [mark for mark in (FROM_MEMORY, COMMON_PRACTICE) if mark in self.source]
        return f"partly {', partly '.join(marks)}" if marks else ""
