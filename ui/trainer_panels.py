"""The parts of the trainer's page: a fitting on the spot, four lights, the quiz, how it is made."""

from __future__ import annotations

from functools import partial

import streamlit as st

from fittings.words import Kind
from synthetic.scene import Finish
from ui import wording
from ui.keys import Keys
from ui.trainer import drawings, pictures, quiz, sheet, words
from ui.trainer.makes import Make, makes_of
from ui.trainer.pictures import Shot
from ui.trainer.quiz import Answer, Question
from ui.trainer.scenes import SIZES, SURFACES, Choice

_PLAIN, _MARKED = "As a camera sees it", "True seams drawn"


@st.cache_data(max_entries=64, show_spinner=False)
def _shot(choice: Choice) -> Shot:
    return pictures.shoot(choice)


@st.cache_data(max_entries=16, show_spinner=False)
def _four(choice: Choice) -> tuple[tuple[str, Choice], ...]:
    return pictures.under_four_lights(choice)


@st.cache_data(max_entries=48, show_spinner=False)
def _question(choice: Choice, place: int) -> Question:
    return quiz.question(choice, place)


def make_one() -> None:
    """The piece with and without its seams, its surface unrolled, and beside it what to set."""
    shown, settings = st.columns([3, 2], gap="large")  # the picture first on a narrow screen
    with settings:
        choice = _choice()
    with shown:
        with st.spinner(words.RENDERING):
            shot = _shot(choice)
        view = st.segmented_control(
            "Picture", [_PLAIN, _MARKED], default=_PLAIN, required=True, key="trainer_view"
        )
        marked = view == _MARKED
        st.image(
            shot.marked if marked else shot.plain,
            width="stretch",
            output_format="PNG",
            alt=words.alt_text(shot, marked=marked),
        )
        st.caption(f"{shot.label}. Rendered picture, not a photograph.")
        st.markdown("\n".join(f"- {line}" for line in words.standing_lines(shot)))
        st.markdown("**Its outside unrolled**")
        st.image(shot.unrolled, width="stretch", alt="The piece's outside unrolled, seams drawn")
    st.divider()
    _made(choice.make)


def _choice() -> Choice:
    make = _which_make()
    nps = st.select_slider(
        "Size, NPS", SIZES, value="8", key="trainer_nps", persist_state="session"
    )
    surface = st.selectbox("Surface", SURFACES, key="trainer_surface", persist_state="session")
    finish = Finish.AS_WELDED
    if make.about.seams:
        finish = _finish("trainer_finish", finish)
    count = 3
    if make is Make.MITRED_ELBOW:
        count = st.slider("Pieces of pipe", 2, 6, 3, key="trainer_pieces", persist_state="session")
    light = _angle(
        "Light comes from, degrees (0 is from the camera, 90 from the right, -90 from the left)",
        -180, 180, 60, "trainer_light",
    )  # fmt: skip
    height = _angle("Height of the light, degrees", 5, 85, 35, "trainer_height")
    even = st.slider(
        "Even light from the sky", 0.0, 3.0, 0.3, 0.1, key="trainer_even", persist_state="session"
    )
    camera = _angle("Height of the camera, degrees", 5, 80, 30, "trainer_camera")
    turn = _angle("Turn the piece, degrees", 0, 350, 30, "trainer_turn")
    look = st.number_input("Another piece of the same make, number", 0, 999, 0, key="trainer_look")
    return Choice(
        make=make,
        nps=nps,
        surface=surface,
        finish=finish,
        pieces=count,
        light_deg=light,
        light_height_deg=height,
        even_light=even,
        camera_height_deg=camera,
        turn_deg=turn,
        look=look,
    )


def _angle(label: str, low: int, high: int, value: int, key: str) -> int:
    return st.slider(label, low, high, value, 5, key=key, persist_state="session")


def _finish(key: str, default: Finish) -> Finish:
    named = [each.value for each in Finish]
    place = named.index(default.value)
    chosen = st.selectbox(
        "What was done to the weld", named, index=place, key=key, persist_state="session"
    )
    return Finish(chosen)


def _which_make() -> Make:
    """Kind, then make; the choice is shared by the lessons of the page."""
    kind = st.segmented_control(
        "Fitting",
        list(words.KIND_TITLES),
        default=Kind.ELBOW,
        required=True,
        format_func=words.KIND_TITLES.__getitem__,
        key="trainer_kind",
        persist_state="session",
    )
    makes = makes_of(kind)
    return st.selectbox(
        "How it is made",
        makes,
        index=len(makes) - 1 if kind is not Kind.ELBOW else 2,
        format_func=lambda make: f"{make.about.title} ({make.about.construction.value})",
        key=f"{Keys.MAKE}_{kind.value}",
        persist_state="session",
    )


def four_lights() -> None:
    """The same piece from the same place under four lights."""
    st.markdown(words.LIGHT_LESSON)
    settings, shown = st.columns([2, 4], gap="large")
    with settings:
        make = _which_make()
        surface = st.selectbox("Surface", SURFACES, index=4, key="lights_surface")
        finish = _finish("lights_finish", Finish.PAINTED_OVER)
        look = st.number_input(
            "Another piece of the same make, number", 0, 999, 2, key="lights_look"
        )
        marked = st.toggle("Draw the true seams", key="lights_marked")
    choice = Choice(make=make, surface=surface, finish=finish, look=look)
    with shown, st.spinner(words.FOUR):
        lights = _four(choice)
        for start in (0, 2):
            for column, (name, lit) in zip(st.columns(2), lights[start : start + 2], strict=True):
                shot = _shot(lit)
                column.markdown(f"**{name}**")
                column.image(
                    shot.marked if marked else shot.plain,
                    width="stretch",
                    output_format="PNG",
                    alt=f"{words.alt_text(shot, marked=marked)}; light: {name}",
                )
                column.caption(" ".join(f"{line}." for line in words.standing_lines(shot)))


def how_made() -> None:
    """Every make of every kind with its drawing: how it is made and where its seams can be."""
    for kind, title in words.KIND_TITLES.items():
        st.subheader(title, anchor=False)
        for make in makes_of(kind):
            _made(make)


def _made(make: Make) -> None:
    about = make.about
    drawn, told = st.columns([2, 3], gap="medium")
    drawn.image(
        drawings.drawing_svg(make),
        width="stretch",
        alt=f"Drawing: {about.title}; on the left how it is made, on the right its seams",
    )
    told.markdown(
        f"**{about.title}**  \n*{words.construction_line(about)}*  \n"
        f"{about.how}  \n**Seams:** {about.where}  \n**Outline:** {about.outline}"
    )
    told.caption(f"Source: {about.source}")


def take_quiz() -> None:
    """One picture after the other, the score above, and a sheet to print."""
    st.markdown(words.QUIZ_LESSON)
    number = st.number_input("Quiz number", 1, 9999, 1, key=Keys.QUIZ_NUMBER, bind="query-params")
    given: dict[tuple[int, int], Answer] = st.session_state.setdefault(Keys.QUIZ_ANSWERS, {})
    above, questions = st.empty(), []
    for place, choice in enumerate(quiz.choices(number), start=1):
        with st.spinner(f"{words.QUIZ} {place}"):
            questions.append(_question(choice, place))
        _asked(questions[-1], number, given)
    here = {place: answer for (which, place), answer in given.items() if which == number}
    right = {each.number: each.right for each in questions}
    result = quiz.score(len(questions), here, right)
    above.progress(result.answered / result.of, text=f"**Score: {result.in_words}**")
    with st.container(horizontal=True):
        st.download_button(
            "Sheet to print, with answers",
            partial(sheet.sheet_html, f"Seams on fittings, quiz {number}", questions),
            f"seams-quiz-{number}.html",
            "text/html",
            key=Keys.SHEET,
            on_click="ignore",
            icon=":material/print:",
        )
        if st.button("Begin again", key="quiz_again"):
            for place in right:
                given.pop((number, place), None)
            st.rerun()


def _asked(each: Question, number: int, given: dict[tuple[int, int], Answer]) -> None:
    answer = given.get((number, each.number))
    with st.container(border=True, key=f"question-{each.number}"):
        picture, side = st.columns([3, 2], gap="medium")
        picture.image(
            each.shot.plain if answer is None else each.shot.marked,
            width="stretch",
            output_format="PNG",
            alt=f"Quiz picture {each.number}",
        )
        with side:
            st.markdown(f"**Picture {each.number}**")
            if answer is None:
                for choice in Answer:
                    if st.button(
                        choice.value, key=f"answer-{number}-{each.number}-{choice.name}",
                        width="stretch",
                    ):  # fmt: skip
                        given[number, each.number] = choice
                        st.rerun()
                return
            if answer is each.right:
                st.success(f"Right: {each.right.value.lower()}.", icon=":material/check:")
            else:
                st.error(
                    f"You said: {answer.value.lower()}. Right is: {each.right.value.lower()}.",
                    icon=":material/close:",
                )
            st.markdown(wording.escaped(each.why))
            with st.expander("The physical check that settles it"):
                st.markdown(wording.escaped(each.check))
