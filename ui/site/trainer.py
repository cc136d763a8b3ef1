"""Learn what seams look like, on fittings rendered on the spot."""

from __future__ import annotations

import streamlit as st

from fittings.words import ADVISORY
from ui import trainer_panels
from ui.keys import Keys
from ui.trainer import words

LESSONS = {
    "Make a fitting": trainer_panels.make_one,
    "Four lights": trainer_panels.four_lights,
    "Quiz": trainer_panels.take_quiz,
    "How they are made": trainer_panels.how_made,
}

st.title("Trainer")
st.markdown(words.INTRODUCTION)
st.warning(ADVISORY, icon=":material/engineering:")
lesson = st.segmented_control(
    "Lesson",
    list(LESSONS),
    default="Make a fitting",
    required=True,
    key=Keys.TRAINER,
    bind="query-params",
)
st.caption(words.FIRST_TIME)
LESSONS[lesson]()
