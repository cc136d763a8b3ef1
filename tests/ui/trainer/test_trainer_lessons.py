"""Drawings, quiz and sheet of the trainer."""

from __future__ import annotations

import re
from collections import Counter
from xml.etree import ElementTree

import pytest

from fittings.checks import IN_SHORT
from fittings.words import ADVISORY, Construction, Kind, Orientation
from ui.trainer import drawings, quiz, sheet, words
from ui.trainer.makes import Make
from ui.trainer.pictures import Standing
from ui.trainer.quiz import Answer

LETTER = {each.style.letter: each for each in Orientation}


@pytest.mark.parametrize("make", Make)
def test_a_drawing_is_svg_with_the_letters_of_the_seams_that_its_make_carries(make: Make) -> None:
    root = ElementTree.fromstring(drawings.drawing_svg(make))
    texts = [each.text for each in root.iter("{http://www.w3.org/2000/svg}text")]
    drawn = {LETTER[text] for text in texts if text in LETTER}
    about = make.about
    assert drawn <= set(about.seams)
    assert bool(drawn) is (about.construction is not Construction.SEAMLESS)
    assert {each for each in drawn if each.speaks_of_fabrication} == {
        each for each in about.seams if each.speaks_of_fabrication
    }
    numbers = re.findall(r"-?\d+\.?\d*", root.attrib["viewBox"])
    assert [float(each) for each in numbers] == [0, 0, 320, 150]


@pytest.mark.parametrize("make", Make)
def test_a_make_says_how_where_and_from_what_source(make: Make) -> None:
    about = make.about
    for text in (about.how, about.where, about.outline, about.source, about.title):
        assert text.strip()
    if about.construction is Construction.FABRICATED:
        assert "ASME B16.9" in about.source
        assert any(each.speaks_of_fabrication for each in about.seams)
    else:
        assert not any(each.speaks_of_fabrication for each in about.seams)
    for never in ("accepted", "genuine", "is safe"):
        assert never not in f"{about.how} {about.where} {about.outline}".lower()


def test_a_quiz_is_mixed_and_the_same_for_its_number() -> None:
    assert quiz.choices(3) == quiz.choices(3)
    assert quiz.choices(3) != quiz.choices(4)
    many = [each for number in range(1, 41) for each in quiz.choices(number)]
    kinds = Counter(each.make.about.kind for each in many)
    assert set(kinds) == {Kind.ELBOW, Kind.TEE, Kind.REDUCER}
    assert min(kinds.values()) > 0.2 * len(many)
    fabricated = sum(each.make.about.construction is Construction.FABRICATED for each in many)
    assert 0.4 < fabricated / len(many) < 0.7
    assert {each.make for each in many} == set(Make)
    with pytest.raises(ValueError, match="from 1"):
        quiz.choices(0)


def standing(orientation: Orientation, *, visible: bool) -> Standing:
    return Standing(orientation=orientation, levels=9.0 if visible else 1.0, visible=visible)


@pytest.mark.parametrize(
    ("seams", "right"),
    [
        ((), Answer.NONE),
        ((standing(Orientation.LONGITUDINAL, visible=True),), Answer.LONGITUDINAL),
        ((standing(Orientation.CIRCUMFERENTIAL, visible=False),), Answer.NONE),
        (
            (
                standing(Orientation.LONGITUDINAL, visible=True),
                standing(Orientation.CIRCUMFERENTIAL, visible=True),
            ),
            Answer.CIRCUMFERENTIAL,
        ),
        (
            (
                standing(Orientation.LONGITUDINAL, visible=True),
                standing(Orientation.BRANCH, visible=False),
            ),
            Answer.LONGITUDINAL,
        ),
        ((standing(Orientation.BRANCH, visible=True),), Answer.BRANCH),
    ],
)
def test_the_right_answer_is_the_most_telling_seam_that_can_be_seen(
    seams: tuple[Standing, ...], right: Answer
) -> None:
    assert quiz.right_answer(seams) is right


def test_the_score_counts_only_what_was_answered() -> None:
    right = {1: Answer.NONE, 2: Answer.BRANCH, 3: Answer.NONE}
    assert quiz.score(3, {}, right).in_words == "None of 3 answered yet"
    result = quiz.score(3, {1: Answer.NONE, 2: Answer.NONE}, right)
    assert (result.right, result.answered, result.of) == (1, 2, 3)
    assert "1 right of 2" in result.in_words


@pytest.fixture(scope="module")
def asked() -> list[quiz.Question]:
    return [
        quiz.question(each, place, 208, 160)
        for place, each in enumerate(quiz.choices(1)[:2], start=1)
    ]


def test_an_explanation_never_lets_an_unseen_weld_pass(asked: list[quiz.Question]) -> None:
    for each in asked:
        assert each.why
        assert IN_SHORT in each.check
        if each.right is Answer.NONE:
            assert "never means seamless" in each.why


def test_the_sheet_prints_questions_then_answers(asked: list[quiz.Question]) -> None:
    text = sheet.sheet_html("Quiz <1>", asked)
    assert text.startswith("<!doctype html>")
    assert "Quiz &lt;1&gt;" in text
    assert "<1>" not in text
    assert text.count('src="data:image/png;base64,') == 2 * len(asked)
    assert "http" not in text
    assert ADVISORY in text
    answers = text.index(": answers")
    for each in asked:
        assert each.why[:30] not in text[:answers]
        assert each.right.value in text[answers:]


def test_standings_are_told_in_words_and_letters() -> None:
    seen = words.standing_line(standing(Orientation.BRANCH, visible=True))
    unseen = words.standing_line(standing(Orientation.CIRCUMFERENTIAL, visible=False))
    assert seen.startswith("B: Branch seam, 9.0")
    assert "can be seen" in seen
    assert "hard or impossible to see" in unseen
