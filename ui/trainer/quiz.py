"""Mixed rendered pictures to be told apart, with the answer and why.

A question asks for the most telling seam that can be seen. The answer comes from the picture's
truth: what the generator put there, and how much of it this picture shows.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from fittings.checks import settling_check
from fittings.words import Construction, Kind, Orientation, Reading
from synthetic.scene import Finish
from ui.trainer.makes import makes_of
from ui.trainer.pictures import HEIGHT_PX, WIDTH_PX, Shot, Standing, shoot
from ui.trainer.scenes import SIZES, SURFACES, Choice

QUESTIONS = 8
_KINDS = (Kind.ELBOW, Kind.TEE, Kind.REDUCER)


class Answer(Enum):
    """What can be answered; the value is what the page shows."""

    BRANCH = "A seam at the outlet's root"
    CIRCUMFERENTIAL = "A seam around the part"
    LONGITUDINAL = "Only seams along the part"
    NONE = "No seam to be seen"


_BY_ORIENTATION = {
    Orientation.BRANCH: Answer.BRANCH,
    Orientation.CIRCUMFERENTIAL: Answer.CIRCUMFERENTIAL,
    Orientation.LONGITUDINAL: Answer.LONGITUDINAL,
}
_READINGS = {
    Answer.BRANCH: Reading.FABRICATION_SEAM,
    Answer.CIRCUMFERENTIAL: Reading.FABRICATION_SEAM,
    Answer.LONGITUDINAL: Reading.LONG_SEAM_ONLY,
    Answer.NONE: Reading.NO_SEAM_SEEN,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One picture of the quiz with what is right about it."""

    number: int  # from 1
    shot: Shot
    right: Answer
    why: str
    check: str  # the physical check that settles it


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """How many answers were given, and how many of them are right."""

    right: int
    answered: int
    of: int

    @property
    def in_words(self) -> str:
        if not self.answered:
            return f"None of {self.of} answered yet"
        return f"{self.right} right of {self.answered} answered; {self.of} in all"


def choices(quiz: int, count: int = QUESTIONS) -> tuple[Choice, ...]:
    """The pieces of quiz number `quiz`: kinds in turn, makes, looks and lights mixed.

    The same number gives the same quiz. ValueError for a number below 1.
    """
    if quiz < 1:
        raise ValueError(f"quizzes are numbered from 1, not {quiz}")
    rng = np.random.default_rng([600_003, quiz])
    order = rng.permutation(count)
    found = []
    for k in order:
        kind = _KINDS[int(k) % len(_KINDS)]
        # Half of the pieces are fabrications, however many makes of them there are.
        fabricated = int(k) // len(_KINDS) % 2 == 0
        makes = [
            make
            for make in makes_of(kind)
            if (make.about.construction is Construction.FABRICATED) is fabricated
        ]
        found.append(
            Choice(
                make=makes[int(rng.integers(len(makes)))],
                nps=SIZES[int(rng.integers(len(SIZES)))],
                surface=SURFACES[int(rng.integers(len(SURFACES)))],
                finish=list(Finish)[int(rng.integers(len(Finish)))],
                pieces=int(rng.integers(2, 5)),
                light_deg=float(rng.uniform(-150, 150)),
                light_height_deg=float(rng.uniform(10, 70)),
                even_light=float(rng.choice([0.25, 0.5, 2.0])),
                camera_height_deg=float(rng.uniform(12, 55)),
                turn_deg=float(rng.uniform(0, 360)),
                look=int(rng.integers(1000)),
            )
        )
    return tuple(found)


def question(
    choice: Choice, number: int, width: int = WIDTH_PX, height: int = HEIGHT_PX
) -> Question:
    """The question that a choice makes; its picture is rendered here."""
    shot = shoot(choice, width, height)
    right = right_answer(shot.seams)
    return Question(
        number=number,
        shot=shot,
        right=right,
        why=explanation(choice, shot, right),
        check=settling_check(choice.make.about.kind, _READINGS[right]),
    )


def right_answer(seams: tuple[Standing, ...]) -> Answer:
    """The most telling seam that the picture shows, by the generator's rule for visible."""
    visible = {each.orientation for each in seams if each.visible}
    return next(
        (answer for orientation, answer in _BY_ORIENTATION.items() if orientation in visible),
        Answer.NONE,
    )


def explanation(choice: Choice, shot: Shot, right: Answer) -> str:
    """Why that answer is right, in plain sentences with the picture's own figures."""
    about = choice.make.about
    sentences = [f"{shot.label}. {about.title}: {about.construction.value}."]
    for each in shot.seams:
        seen = "can be seen" if each.visible else "cannot be told by eye in this picture"
        sentences.append(
            f"Its {each.orientation.value} seam ({choice.finish.value}) differs from the metal by "
            f"{each.levels:.0f} of 255 grey levels and {seen}."
        )
    if not shot.seams:
        sentences.append("There is no weld on it.")
    if right is Answer.NONE:
        if about.construction is Construction.FABRICATED:
            sentences.append(
                "It is a fabrication all the same: no seam seen never means seamless. "
                f"Look at the outline: {_lower(about.outline)}"
            )
        else:
            sentences.append("No seam seen never means seamless: other sides were not shown.")
    return " ".join(sentences)


def _lower(text: str) -> str:
    return text[0].lower() + text[1:]


def score(questions: int, answers: dict[int, Answer], right: dict[int, Answer]) -> Score:
    """The score of `answers` by question number; unanswered questions are missing from it."""
    return Score(
        right=sum(right.get(number) is answer for number, answer in answers.items()),
        answered=len(answers),
        of=questions,
    )
