"""Drop photographs, see what their seams say."""

from __future__ import annotations

import streamlit as st

from fittings.words import ADVISORY
from ui import desk, panels
from ui.keys import Keys

st.title("Screen photos for weld seams")
st.markdown(desk.INTRODUCTION)
st.warning(ADVISORY, icon=":material/engineering:")

with st.form("photos", border=True):
    files = st.file_uploader(
        "Drop photographs of fittings here",
        accept_multiple_files=True,
        key=Keys.UPLOAD,
        help=desk.UPLOAD_HELP,
    )
    known = panels.what_is_known()
    read_pressed = st.form_submit_button("Read these photos", type="primary", key=Keys.READ)
samples_pressed = st.button("Try the sample photos", key=Keys.SAMPLES)
st.caption(desk.SAMPLES_HINT)

panels.read_what_was_asked(files, known, own=read_pressed, samples=samples_pressed)
panels.show_list(st.session_state.get(Keys.CARDS, []))
