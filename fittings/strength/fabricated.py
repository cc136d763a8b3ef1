"""One way of fabricating a piece, held against the ordered piece in figures and in sentences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fittings.strength.flexibility import Flexibility
from fittings.strength.mitre_pressure import MitrePressure
from fittings.strength.pressure import Design
from fittings.strength.reinforcement import Reinforcement

NO_ROW = (
    "Table D300 has no row for a segmented or gore-welded reducer, so no factor is given for the "
    "fabrication and none is invented: it needs an analysis of its own."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fabricated:
    """One way of fabricating the piece, held against the ordered one.

    `times_…` is its stress intensification over the ordered piece's. `reinforcement` needs pressure
    and allowable stress. `mitre` without an allowable stress is reckoned with S = 1 MPa: only its
    share of straight pipe counts then.
    """

    flexibility: Flexibility
    times_in: float
    times_out: float
    reinforcement: Reinforcement | None
    mitre: MitrePressure | None
    sentence: str

    @property
    def times(self) -> float:
        """The larger of the two."""
        return max(self.times_in, self.times_out)


def as_outlet(
    ordered: Flexibility, way: Flexibility, reinforcement: Reinforcement | None
) -> Fabricated:
    """A welded-on outlet against the ordered tee."""
    said = "The area at the outlet was not reckoned: it needs a pressure and an allowable stress."
    if reinforcement is not None:
        said = (
            f"The reinforcement area at the outlet is {reinforcement.in_words} "
            f"({reinforcement.asked_mm2:.0f} asked for, {reinforcement.found_mm2:.0f} found)."
        )
    return _held_against(ordered, way, said, reinforcement, None)


def as_bend(
    ordered: Flexibility,
    way: Flexibility,
    mitre: MitrePressure,
    design: Design | None,
    pressure_mpa: float | None,
) -> Fabricated:
    """A mitred bend against the ordered elbow."""
    said = _pressure_sentence(mitre, design, pressure_mpa)
    return _held_against(ordered, way, said, None, mitre)


def _held_against(
    ordered: Flexibility,
    way: Flexibility,
    said: str,
    reinforcement: Reinforcement | None,
    mitre: MitrePressure | None,
) -> Fabricated:
    times_in, times_out = way.i_in / ordered.i_in, way.i_out / ordered.i_out
    planes = [
        (times_in, "in plane", way.i_in, ordered.i_in),
        (times_out, "out of plane", way.i_out, ordered.i_out),
    ]
    planes.sort(reverse=True)
    each = " and ".join(
        f"{times_in_words(times)} {plane} ({fabricated:.2f} against {formed:.2f})"
        for times, plane, fabricated, formed in planes
    )
    return Fabricated(
        flexibility=way,
        times_in=times_in,
        times_out=times_out,
        reinforcement=reinforcement,
        mitre=mitre,
        sentence=f"As a {way.piece} the stress intensification is {each}. {said}",
    )


def times_in_words(times: float) -> str:
    """ "2.1 times the ordered piece's"; "about the ordered piece's" where one decimal says 1.0."""
    figure = f"{times:.1f}"
    return "about the ordered piece's" if figure == "1.0" else f"{figure} times the ordered piece's"


def share_in_words(mitre: MitrePressure) -> str:
    """ "55 % of straight pipe's pressure", or that the clause does not cover the bend."""
    if not mitre.covered:
        return "too tight a bend for 304.2.3"
    return f"{100 * mitre.share_of_pipe:.0f} % of straight pipe's pressure"


def _pressure_sentence(
    mitre: MitrePressure, design: Design | None, pressure_mpa: float | None
) -> str:
    if not mitre.covered:
        return (
            f"304.2.3 gives it no pressure: its R1 must be at least {mitre.least_radius_mm:.0f} mm."
        )
    part = f"{share_in_words(mitre)} at the same wall"
    if design is None:
        return f"By 304.2.3 it holds {part} (no corrosion allowance taken off)."
    said = f"By 304.2.3 it holds at most {mitre.pressure_mpa:.2f} MPa, {part}"
    if pressure_mpa is None:
        return f"{said}."
    if mitre.pressure_mpa < pressure_mpa:
        return f"{said}: less than the {pressure_mpa:.4g} MPa asked for."
    return f"{said}; {pressure_mpa:.4g} MPa is asked for."


def headline(ways: Sequence[Fabricated]) -> str:
    """One sentence for the record of a hold: the larger plane of each way, area or pressure."""
    if not ways:
        return f"As fabricated: {NO_ROW}"
    said = []
    for number, way in enumerate(ways):
        what = times_in_words(way.times) if not number else f"{way.times:.1f} times"
        if way.mitre is not None:
            cut = way.flexibility.piece.removeprefix("mitred bend of ")
            share = share_in_words(way.mitre)
            if number:
                share = share.removesuffix(" of straight pipe's pressure")
            what += f" if cut from {cut} ({share})"
        elif number:
            what = f"{way.flexibility.piece.removeprefix('welded-on outlet ')} it is {what}"
        if way.reinforcement is not None:
            what += f", reinforcement area {way.reinforcement.in_words}"
        said.append(what)
    return f"As fabricated the stress intensification is {'; '.join(said)}."
