"""The ordered piece against the same piece as a fabrication, in figures and in sentences."""

from __future__ import annotations

import itertools

import pytest

from fittings.dimensions import SizeNotListed
from fittings.order.lines import FittingForm, OrderLine
from fittings.strength.consequence import (
    EDITION,
    SCREENING,
    Consequence,
    Fabrication,
    consequence,
)
from fittings.strength.fabricated import times_in_words
from fittings.strength.ordered_piece import OrderedPiece, ordered_piece, piece_of_line
from fittings.strength.pressure import Design
from fittings.strength.steps import Step, StrengthError
from tests.follow_steps import follow

STEEL = Design(allowable_mpa=137.9, corrosion_mm=1.5)
NEVER = ("safe", "genuine", "seamless", "reject the", "approve", "acceptable", "passes")


def piece(form: FittingForm, nps: str = "12", second: str | None = None) -> OrderedPiece:
    return ordered_piece(form, nps, second, schedule="STD")


def every_step(found: Consequence) -> list[Step]:
    steps = [*found.ordered.steps, *found.pipe_steps]
    for part in (found.ordered_otherwise, found.wall, found.bend):
        steps += part.steps if part is not None else ()
    for way in found.fabricated:
        for sum_ in (way.flexibility, way.reinforcement, way.mitre):
            steps += sum_.steps if sum_ is not None else ()
    return steps


def test_a_tee() -> None:
    found = consequence(piece(FittingForm.REDUCING_TEE, second="6"), None, STEEL, 3)
    assert found.sentence == (
        "As fabricated the stress intensification is 2.1 times the ordered piece's, reinforcement "
        "area 95 mm² to spare."
    )
    (way,) = found.fabricated
    # 3.1 to the power of two thirds.
    assert round(way.times_out, 3) == 2.126
    assert round(way.times_in, 3) == 2.004
    assert way.times == way.times_out
    # The plane that suffers more comes first.
    assert way.sentence.index("out of plane (5.83") < way.sentence.index("in plane (4.62")
    assert "out of plane (5.83 against 2.74)" in way.sentence
    assert "in plane (4.62 against 2.31)" in way.sentence
    assert found.ordered_otherwise is not None
    assert "older rule" in found.ordered_otherwise.piece


def test_a_tee_that_falls_short() -> None:
    found = consequence(piece(FittingForm.STRAIGHT_TEE), None, STEEL, 4)
    (way,) = found.fabricated
    assert way.reinforcement is not None
    assert way.reinforcement.spare_mm2 < 0
    short = round(-way.reinforcement.spare_mm2)
    assert found.sentence.endswith(f"reinforcement area short by {short} mm².")


def test_a_padded_outlet_is_shown_beside_the_bare_one() -> None:
    made = Fabrication(pad_mm=9.53)
    found = consequence(piece(FittingForm.STRAIGHT_TEE), made, STEEL, 3)
    bare, padded = found.fabricated
    assert "without a pad" in bare.flexibility.piece
    assert "with a pad of 9.53 mm it is 1.1 times" in found.sentence
    assert padded.times < bare.times
    assert padded.reinforcement is not None
    assert bare.reinforcement is not None
    assert padded.reinforcement.spare_mm2 > bare.reinforcement.spare_mm2
    assert any("no width of the pad was given" in note for note in found.notes)
    assert not any("not make the piece a fitting" in note for note in found.notes)
    # By the table a thick pad comes out below the formed tee, which is said for what it is.
    thick = consequence(piece(FittingForm.STRAIGHT_TEE), Fabrication(pad_mm=12))
    assert thick.fabricated[1].times < 1
    assert any("not make the piece a fitting" in note for note in thick.notes)
    given = Fabrication(pad_mm=9.53, pad_width_mm=60)
    assert not any(
        "no width" in note for note in consequence(piece(FittingForm.STRAIGHT_TEE), given).notes
    )


def test_an_elbow_of_so_many_pieces() -> None:
    found = consequence(piece(FittingForm.ELBOW_90_LONG), Fabrication(pieces=4), STEEL, 3.5)
    assert found.sentence == (
        "As fabricated the stress intensification is 1.4 times the ordered piece's if cut from 4 "
        "pieces (55 % of straight pipe's pressure)."
    )
    (way,) = found.fabricated
    assert "at most 3.29 MPa" in way.sentence
    assert "less than the 3.5 MPa asked for" in way.sentence
    held = consequence(piece(FittingForm.ELBOW_90_LONG), Fabrication(pieces=4), STEEL, 3)
    assert "3 MPa is asked for" in held.fabricated[0].sentence


def test_without_a_number_the_usual_ones_are_reckoned() -> None:
    found = consequence(piece(FittingForm.ELBOW_90_LONG))
    assert [way.flexibility.piece[-8:] for way in found.fabricated] == [
        f"{count} pieces" for count in (2, 3, 4, 5)
    ]
    times = [way.times for way in found.fabricated]
    assert times == sorted(times, reverse=True)
    assert "S = 1 MPa" in " ".join(found.notes)
    half = consequence(piece(FittingForm.ELBOW_45_LONG))
    assert len(half.fabricated) == 2


def test_a_bend_too_tight_for_its_pieces_gets_no_pressure() -> None:
    found = consequence(piece(FittingForm.ELBOW_90_SHORT, "2"), Fabrication(pieces=5), STEEL, 1)
    assert "too tight a bend for 304.2.3" in found.sentence
    assert "304.2.3 gives it no pressure" in found.fabricated[0].sentence


def test_a_segmented_reducer_gets_no_invented_factor() -> None:
    found = consequence(piece(FittingForm.CONCENTRIC_REDUCER, "12", "8"), None, STEEL, 3)
    assert found.fabricated == ()
    assert "has no row for a segmented" in found.sentence
    assert (found.ordered.k, found.ordered.i_in, found.ordered.i_out) == (1, 1, 1)
    assert found.ordered_otherwise is not None
    assert round(found.ordered_otherwise.i_in, 3) == 1.248


def test_an_ordered_wall_too_thin_for_the_pressure_is_said() -> None:
    found = consequence(piece(FittingForm.STRAIGHT_TEE), None, STEEL, 6)
    assert any("is itself too thin for 6 MPa" in note for note in found.notes)
    fine = consequence(piece(FittingForm.STRAIGHT_TEE), None, STEEL, 3)
    assert not any("too thin" in note for note in fine.notes)


CASES = [
    (form, made, design, pressure)
    for form, (design, pressure) in itertools.product(
        FittingForm, [(None, None), (STEEL, None), (STEEL, 3.0)]
    )
    for made in (Fabrication(), *([Fabrication(pad_mm=12)] if "tee" in form.value else []))
]


@pytest.mark.parametrize(("form", "made", "design", "pressure"), CASES)
def test_every_form_every_step_and_every_word(
    form: FittingForm, made: Fabrication, design: Design | None, pressure: float | None
) -> None:
    second = "8" if form.two_sizes else None
    found = consequence(piece(form, "12", second), made, design, pressure)
    follow(every_step(found))
    said = " ".join((found.sentence, *(way.sentence for way in found.fabricated), *found.notes))
    assert not any(word in said.lower() for word in NEVER)
    assert EDITION in found.notes
    assert (found.wall is None) == (pressure is None)
    assert (found.pipe_mpa is None) == (design is None)
    for way in found.fabricated:
        assert way.times >= 1 or "with a pad" in way.flexibility.piece
        for step in way.flexibility.steps:
            assert step.source.startswith("ASME B31")


def test_the_screening_words() -> None:
    assert SCREENING.startswith("Advisory only")
    assert "piping engineer of record decides" in SCREENING
    assert "B31J" in EDITION
    assert "from memory" in EDITION


def test_times_in_words() -> None:
    assert times_in_words(2.126) == "2.1 times the ordered piece's"
    assert times_in_words(1.04) == "about the ordered piece's"
    assert times_in_words(0.84) == "0.8 times the ordered piece's"


# --- the ordered piece


def test_sizes_of_an_ordered_piece() -> None:
    tee = piece(FittingForm.REDUCING_TEE, "12", "6")
    assert (tee.outside_mm, tee.wall_mm) == (323.8, 9.53)
    assert (tee.second_outside_mm, tee.second_wall_mm) == (168.3, 7.11)
    assert tee.title == "NPS 12 x 6 reducing tee, schedule STD (9.53 mm wall)"
    assert any("Table 6.1-8" in source for source in tee.sources)
    bend = piece(FittingForm.ELBOW_90_LONG)
    assert (bend.bend_radius_mm, bend.angle_deg) == (457, 90)
    assert piece(FittingForm.ECCENTRIC_REDUCER, "12", "8").length_mm == 203
    given = ordered_piece(FittingForm.STRAIGHT_TEE, "12", wall_mm=11, second_wall_mm=8)
    assert (given.wall_mm, given.second_wall_mm) == (11, 8)
    assert given.title == "NPS 12 straight tee, 11 mm wall"
    other = ordered_piece(FittingForm.REDUCING_TEE, "12", "6", schedule="STD", second_schedule="XS")
    assert other.second_wall_mm == 10.97


def test_the_piece_of_an_order_line() -> None:
    line = OrderLine(row=3, form=FittingForm.REDUCING_TEE, nps="12", second_nps="6", schedule="STD")
    assert piece_of_line(line) == piece(FittingForm.REDUCING_TEE, "12", "6")


def test_what_the_wall_of_the_branch_is_for_is_said() -> None:
    notes = " ".join(consequence(piece(FittingForm.REDUCING_TEE, "12", "6")).notes)
    assert "wall and mean radius of the run (NPS 12, 9.53 mm)" in notes
    assert "branch wall (NPS 6, 7.11 mm) enters the area sum alone" in notes


def test_pieces_that_cannot_be() -> None:
    tee, reducing = FittingForm.STRAIGHT_TEE, FittingForm.REDUCING_TEE
    with pytest.raises(StrengthError, match=r"^wall: give a schedule such as STD"):
        ordered_piece(tee, "12")
    with pytest.raises(StrengthError, match=r"^wall: 200 mm is not less than"):
        ordered_piece(tee, "12", wall_mm=200)
    with pytest.raises(StrengthError, match=r"^second size: a reducing tee needs two"):
        ordered_piece(reducing, "12", schedule="STD")
    with pytest.raises(StrengthError, match=r"^second size: a straight tee has one size"):
        ordered_piece(tee, "12", "6", schedule="STD")
    with pytest.raises(StrengthError, match=r"^second size: NPS 12 must be smaller than NPS 6"):
        ordered_piece(reducing, "6", "12", schedule="STD")
    with pytest.raises(StrengthError, match=r"^second wall: give the wall at NPS 6 too"):
        ordered_piece(reducing, "12", "6", wall_mm=9.53)
    with pytest.raises(StrengthError, match=r"^second wall: NPS 3-1/2 schedule 20 is not listed"):
        ordered_piece(reducing, "8", "3-1/2", schedule="20")
    with pytest.raises(StrengthError, match=r"^second wall: 90 mm is not less than"):
        ordered_piece(reducing, "12", "6", schedule="STD", second_wall_mm=90)
    with pytest.raises(SizeNotListed, match=r"NPS 7 schedule STD is not listed"):
        ordered_piece(tee, "7", schedule="STD")


def test_fabrications_that_cannot_be() -> None:
    with pytest.raises(StrengthError, match=r"^pieces: a mitred bend has at least 2 pieces, not 1"):
        Fabrication(pieces=1)
    with pytest.raises(StrengthError, match=r"^pad: must not be negative, not -3 mm"):
        Fabrication(pad_mm=-3)
    with pytest.raises(StrengthError, match=r"^pad width: means nothing without a pad"):
        Fabrication(pad_width_mm=50)
    with pytest.raises(StrengthError, match=r"^pad width: must be greater than 0"):
        Fabrication(pad_mm=9, pad_width_mm=-50)
    with pytest.raises(StrengthError, match=r"^weld leg: must not be negative"):
        Fabrication(leg_mm=-1)
    bend = piece(FittingForm.ELBOW_90_LONG)
    with pytest.raises(StrengthError, match=r"^pad: a 90° long-radius elbow has no outlet"):
        consequence(bend, Fabrication(pad_mm=9))
    with pytest.raises(StrengthError, match=r"^pieces: a straight tee is not cut into pieces"):
        consequence(piece(FittingForm.STRAIGHT_TEE), Fabrication(pieces=3))
    with pytest.raises(StrengthError, match=r"^allowable: a pressure needs an allowable"):
        consequence(bend, None, None, 3)
    with pytest.raises(StrengthError, match=r"^pressure: must not be negative"):
        consequence(bend, None, STEEL, -3)
