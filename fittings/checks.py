"""The physical checks that settle a reading, in plain words for an inspector.

A photograph shows lines; only the metal says what they are. Each text goes from the check that
takes least effort to the one that takes most, and ends with the caution that belongs to it.

Where the advice comes from:

- A sharp corner in the outline speaks against a fitting: ASME B16.9 section 7 (2003 and 2007
  editions), which asks for an arc or a radius between openings that are not in parallel planes.
- The letter W on a welded fitting: ASTM A234 Table 1, footnote A. Classes W, WX and WU: ASTM A403
  Table 1.
- The wall survey: the least wall is 87.5 % of nominal, ASME B16.9-2018 Table 11-1. That a formed
  elbow is thick at the intrados and a formed tee at the crotch, while pieces cut from pipe keep
  the wall of the pipe, follows from how they are made (published descriptions of manufacture).
- Macro-etching shows weld metal and the heated band beside it: published etching guides; that
  ASTM E340 is the method standard is from memory.
- Looking and feeling inside the bore, the straight edge, and the list of photographs to take are
  common practice without a source.
- That radiography or shear-wave ultrasonics decide what the other checks leave open is from memory,
  and so are the cautions, except for the burns, which the etching guides name.
"""

from __future__ import annotations

from fittings.words import Kind, Reading

CAUTION = (
    "Advisory only: a reading of a photograph decides nothing, and a physical check is always "
    "required. Heavy pieces roll and fall: support them, keep out from under a load, lift only "
    "with checked gear and trained people, and never climb into a bore. Etching acids burn skin "
    "and eyes and give off fumes: goggles, gloves, moving air, a rinse at hand, hydrofluoric acid "
    "in a laboratory only. Grinding throws sparks and dust: eye, breathing and fire protection. "
    "Grinding and etching mark the piece: ask its owner first, and clean and protect the metal "
    "afterwards. Radiography is for licensed people behind a controlled barrier. The local code, "
    "the contract and the judgement of a licensed inspector or engineer come before anything said "
    "here."
)

# The caution that ends every check, so that a list can print it once.
IN_SHORT = (
    "A shifting load, grinding, etching acids and radiation can injure people, so support the "
    "piece, leave each of these to trained or licensed people, and let the local code, the site "
    "rules and the licensed inspector come first."
)

_BORE = {
    Kind.NONE: (
        "look and feel inside the bore from every open end, over a full turn, for a root bead or "
        "a step that no lengthwise seam explains"
    ),
    Kind.ELBOW: (
        "look and feel inside the bore from both ends, over a full turn, for a root bead or a step "
        "that runs across it, and lay a straight edge along the extrados to find flats that meet "
        "in corners"
    ),
    Kind.TEE: (
        "look and feel inside the bore at the crotch, all the way round the outlet, for a root "
        "bead, and outside for a sharp corner where a formed tee has a radius"
    ),
    Kind.REDUCER: (
        "look and feel inside the bore from both ends, over a full turn, for a root bead or a step "
        "that runs round it, count the lengthwise beads (several may be the joints of gores), and "
        "lay a straight edge along the side to find corners in the outline"
    ),
}

_PHOTOGRAPHS = {
    Kind.NONE: "the whole piece against a plain ground, from two sides and into each open end",
    Kind.ELBOW: (
        "both sides square on to the bend, the extrados, the intrados, and into each end with a "
        "lamp in the bore"
    ),
    Kind.TEE: (
        "both sides of the run, the crotch from either end of the run, and into the outlet with a "
        "lamp in the bore"
    ),
    Kind.REDUCER: (
        "four sides a quarter turn apart, with the flat side of an eccentric piece square on, and "
        "into both ends with a lamp in the bore"
    ),
}

_WALL = {
    Kind.NONE: "steps that cross the piece",
    Kind.ELBOW: (
        "steps across the bend, and for a wall that is no thicker at the intrados than at the "
        "extrados"
    ),
    Kind.TEE: "a step at the crotch, and for a crotch that is no thicker than the pipe",
    Kind.REDUCER: "steps where cone and cylinder meet",
}


def settling_check(kind: Kind, reading: Reading) -> str:
    """What to do about the piece itself, for this kind of fitting and this reading.

    Three plain sentences at most: the checks in order of effort, then the caution. Every reading
    gets a check, also those that found nothing. The sources are in the module's docstring.
    """
    return f"{_CHECKS[reading](kind)} {IN_SHORT}"


def _fabrication_seam(kind: Kind) -> str:
    return (
        f"{_capital(_BORE[kind])}. If that leaves doubt, macro-etch across the suspect line, "
        "with the owner's leave, and have the joint examined by radiography or ultrasonics."
    )


def _long_seam_only(kind: Kind) -> str:
    return (
        "Compare the marking with the order, because a welded fitting carries a letter for it "
        "(W in ASTM A234; W, WX or WU in ASTM A403), and ask for the examination record of the "
        f"lengthwise seam. Then {_BORE[kind]}, and where a line is in doubt macro-etch across it, "
        "with the owner's leave."
    )


def _no_seam_seen(kind: Kind) -> str:
    return (
        "No seam in a photograph settles nothing, because a weld ground flush and painted leaves "
        f"no line: {_BORE[kind]}. Then survey the wall by ultrasonics for {_WALL[kind]}, and "
        "macro-etch, with the owner's leave, wherever a weld would have to lie."
    )


def _unclear(kind: Kind) -> str:
    return (
        f"Take further photographs in even light, then in light that grazes the surface: "
        f"{_PHOTOGRAPHS[kind]}. Whatever they show, {_BORE[kind]}, and macro-etch, with the "
        "owner's leave, across any line that stays in doubt."
    )


_CHECKS = {
    Reading.FABRICATION_SEAM: _fabrication_seam,
    Reading.LONG_SEAM_ONLY: _long_seam_only,
    Reading.NO_SEAM_SEEN: _no_seam_seen,
    Reading.UNCLEAR: _unclear,
}


def _capital(sentence: str) -> str:
    return sentence[0].upper() + sentence[1:]
