"""What a reading can tell, what it can't, and how well it was measured."""

from __future__ import annotations

import streamlit as st

from fittings.words import ADVISORY
from ui import limits_text, loading

st.title("What it can and cannot tell")
st.warning(ADVISORY, icon=":material/engineering:")
for heading, lines in limits_text.SECTIONS:
    st.subheader(heading, anchor=False)
    st.markdown("\n".join(f"- {line}" for line in lines))
st.subheader("The seams and how they are drawn", anchor=False)
st.table(limits_text.seam_rows())
card = loading.model_card()
if readings := limits_text.reading_rows(card):
    st.subheader("When each reading is said", anchor=False)
    st.table(readings)
st.subheader("Measured", anchor=False)
if figures := loading.exam_figures():
    st.markdown(limits_text.EXAM_NOTE)
    st.table(figures)
else:
    st.markdown(limits_text.NO_EXAM)
if model := limits_text.model_rows(card):
    st.subheader("The model", anchor=False)
    st.table(model)
