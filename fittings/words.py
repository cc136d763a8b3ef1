"""The words of the project, with the number, letter, colour and line pattern of each.

Masks, network channels, JSON, overlays, pages and reports all ask this module, so that one word
means one thing everywhere. Colours are from the qualitative palette of Okabe and Ito (2008), which
stays distinct for colour-blind readers; none stands alone, each orientation also has a line
pattern and a letter.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

Rgb = tuple[int, int, int]

# Okabe, M. and Ito, K. (2008), "Color Universal Design": the eight colours, sRGB.
OKABE_ITO: dict[str, Rgb] = {
    "black": (0, 0, 0),
    "orange": (230, 159, 0),
    "sky blue": (86, 180, 233),
    "bluish green": (0, 158, 115),
    "yellow": (240, 228, 66),
    "blue": (0, 114, 178),
    "vermillion": (213, 94, 0),
    "reddish purple": (204, 121, 167),
}

ADVISORY = (
    "Advisory only: this reading accepts nothing and rejects nothing. "
    "A physical check is always required."
)


class Kind(Enum):
    """What the photo shows; the value is the word in JSON, `label` the network's class number."""

    NONE = "none"
    ELBOW = "elbow"
    TEE = "tee"
    REDUCER = "reducer"

    @property
    def label(self) -> int:
        return list(Kind).index(self)


class Construction(Enum):
    """How a piece was made. Seamless and welded are wrought; fabricated is pipe fabrication."""

    SEAMLESS = "seamless"
    WELDED = "welded"
    FABRICATED = "fabricated"


class Part(Enum):
    """Where on a fitting a pixel lies; `label` is its number in masks and network channels."""

    BACKGROUND = "background"
    BODY = "body"
    RUN = "run"
    OUTLET = "outlet"
    FACE = "end face or bore"

    @property
    def label(self) -> int:
        return list(Part).index(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineStyle:
    """How an orientation is drawn. `dash` is (on, off, on, off …) in line widths; () is solid."""

    colour: Rgb
    dash: tuple[float, ...]
    letter: str
    pattern: str


class Orientation(Enum):
    """How a seam runs on the part's own surface; `label` is its number in masks (0 is no seam)."""

    LONGITUDINAL = "longitudinal"
    CIRCUMFERENTIAL = "circumferential"
    BRANCH = "branch"

    @property
    def label(self) -> int:
        return list(Orientation).index(self) + 1

    @property
    def style(self) -> LineStyle:
        return _STYLES[self]

    @property
    def meaning(self) -> str:
        return _MEANINGS[self]

    @property
    def speaks_of_fabrication(self) -> bool:
        """A wrought fitting may carry longitudinal seams; it carries no other weld.

        ASME B16.9 section 1.3 (2007 edition): fittings that use circumferential or intersection
        welds count as pipe fabrication and lie outside the standard.
        """
        return self is not Orientation.LONGITUDINAL

    @staticmethod
    def from_label(label: int) -> Orientation:
        """The orientation with mask number `label`; ValueError when there is none."""
        for orientation in Orientation:
            if orientation.label == label:
                return orientation
        raise ValueError(f"no seam orientation has label {label}; labels are 1, 2 and 3")


_STYLES = {
    Orientation.LONGITUDINAL: LineStyle(
        colour=OKABE_ITO["sky blue"], dash=(), letter="L", pattern="solid"
    ),
    Orientation.CIRCUMFERENTIAL: LineStyle(
        colour=OKABE_ITO["orange"], dash=(5, 3), letter="C", pattern="dashed"
    ),
    Orientation.BRANCH: LineStyle(
        colour=OKABE_ITO["reddish purple"], dash=(6, 2.5, 1.5, 2.5), letter="B", pattern="dash-dot"
    ),
}

_MEANINGS = {
    Orientation.LONGITUDINAL: "along the part's own centreline; a wrought fitting may have it",
    Orientation.CIRCUMFERENTIAL: "around the part; a wrought fitting does not have it",
    Orientation.BRANCH: "where outlet and run meet; a wrought tee does not have it",
}


END_JOINT_STYLE = LineStyle(
    colour=OKABE_ITO["yellow"], dash=(1.5, 3.5), letter="E", pattern="dotted"
)
"""How the joint of an end to the pipe beyond it is drawn."""

END_JOINT_MEANING = "where the fitting ends and a pipe goes on; no seam of the fitting"


class EvidenceSource(Enum):
    """Where a line of evidence comes from; the value is the word in JSON."""

    SEAM_MAP = "seam map"
    OUTLINE = "outline"
    PROPORTIONS = "proportions"
    KNOWN_LENGTH = "known length"
    END_JOINT = "end joint"
    WHOLE_PICTURE = "whole picture"

    @property
    def title(self) -> str:
        """As it begins a sentence."""
        return self.value.capitalize()


class Reading(Enum):
    """What the pictures show. None of them accepts a piece."""

    FABRICATION_SEAM = "fabrication_seam"
    LONG_SEAM_ONLY = "long_seam_only"
    NO_SEAM_SEEN = "no_seam_seen"
    UNCLEAR = "unclear"

    @property
    def title(self) -> str:
        return _TITLES[self]


_TITLES = {
    Reading.FABRICATION_SEAM: "Fabrication seam seen",
    Reading.LONG_SEAM_ONLY: "Longitudinal seam only",
    Reading.NO_SEAM_SEEN: "No seam seen (which is not the same as seamless)",
    Reading.UNCLEAR: "Unclear",
}


def percent(share: float) -> str:
    """0 to 1 as whole percent; never rounded to certainty."""
    rounded = round(100 * share)
    if rounded >= 100:
        return "over 99 %"
    if rounded <= 0:
        return "under 1 %"
    return f"{rounded} %"
