"""Every word has its number, letter, colour and line, and none of them accepts a piece."""

from __future__ import annotations

from itertools import combinations

import pytest

from fittings.words import (
    ADVISORY,
    END_JOINT_STYLE,
    OKABE_ITO,
    Construction,
    Kind,
    Orientation,
    Part,
    Reading,
    percent,
)


def test_the_palette_is_the_one_of_okabe_and_ito() -> None:
    # Okabe, M. and Ito, K., "Color Universal Design" (2002, revised 2008): the RGB row of its
    # table of eight colours. Typed in from memory of that publication, not copied from the code.
    assert OKABE_ITO == {
        "black": (0, 0, 0),
        "orange": (230, 159, 0),
        "sky blue": (86, 180, 233),
        "bluish green": (0, 158, 115),
        "yellow": (240, 228, 66),
        "blue": (0, 114, 178),
        "vermillion": (213, 94, 0),
        "reddish purple": (204, 121, 167),
    }


@pytest.mark.parametrize("words", [Kind, Part])
def test_class_numbers_run_from_0_without_a_gap(words: type[Kind] | type[Part]) -> None:
    assert [word.label for word in words] == list(range(len(words)))


def test_seam_numbers_run_from_1_because_0_is_no_seam() -> None:
    assert [word.label for word in Orientation] == [1, 2, 3]
    assert [word.value for word in Orientation] == ["longitudinal", "circumferential", "branch"]
    for word in Orientation:
        assert Orientation.from_label(word.label) is word
    for label in (0, 4, -1):
        with pytest.raises(ValueError, match="labels are 1, 2 and 3"):
            Orientation.from_label(label)


def test_background_and_no_fitting_are_number_0() -> None:
    assert Kind.NONE.label == Part.BACKGROUND.label == 0


def test_no_two_lines_share_a_colour_a_letter_or_a_line() -> None:
    styles = [*(orientation.style for orientation in Orientation), END_JOINT_STYLE]
    for one, other in combinations(styles, 2):
        assert one.colour != other.colour
        assert one.letter != other.letter
        assert one.dash != other.dash
        assert one.pattern != other.pattern
    for word in Orientation:
        assert word.style.colour in OKABE_ITO.values()
        assert word.style.letter == word.value[0].upper()
        assert len(word.style.dash) % 2 == 0
        assert word.meaning


def test_only_a_longitudinal_seam_does_not_speak_of_fabrication() -> None:
    # ASME B16.9 (2007) 1.3: circumferential and intersection welds are pipe fabrication.
    speaking = {word for word in Orientation if word.speaks_of_fabrication}
    assert speaking == {Orientation.CIRCUMFERENTIAL, Orientation.BRANCH}


def test_values_are_the_words_that_scripts_rely_on() -> None:
    assert {word.value for word in Kind} == {"none", "elbow", "tee", "reducer"}
    assert {word.value for word in Construction} == {"seamless", "welded", "fabricated"}
    assert {word.value for word in Reading} == {
        "fabrication_seam",
        "long_seam_only",
        "no_seam_seen",
        "unclear",
    }


@pytest.mark.parametrize("reading", Reading)
def test_every_reading_has_a_title_and_none_accepts(reading: Reading) -> None:
    assert reading.title
    for text in (reading.title, reading.value):
        assert not any(word in text.lower() for word in ("accept", "safe", "genuine"))


def test_no_seam_seen_says_that_it_is_not_seamless() -> None:
    assert "not the same as seamless" in Reading.NO_SEAM_SEEN.title
    assert "physical check is always required" in ADVISORY


@pytest.mark.parametrize(
    ("share", "words"), [(0, "under 1 %"), (0.004, "under 1 %"), (0.5, "50 %"), (1, "over 99 %")]
)
def test_no_percentage_claims_certainty(share: float, words: str) -> None:
    assert percent(share) == words
