"""The parts of a piece's page about its photos read together: reasons, drawing, what is missing."""

from __future__ import annotations

import streamlit as st

from models.weights import WeightsError
from ui import desk, record_panels, shared, wording
from ui.inspecting import doing
from ui.inspecting.lines import counted
from ui.records import PieceFile, Records
from ui.reports import ToldTogether
from ui.reports.together import OF_OTHER_PHOTOS
from ui.together import ViewingReader


def reasons(records: Records, file: PieceFile, told: ToldTogether | None) -> None:
    """Why the piece reads as it does, and the button that reads its photos together."""
    if told is not None:
        st.markdown(f"**Its photos together** ({counted(len(told.photos), 'photo')}):")
        st.markdown("\n".join(f"- {wording.escaped(each)}" for each in told.reasons))
        for doubt in told.doubts:
            st.warning(wording.escaped(f"Look again: {doubt}"), icon=":material/help:")
    if not file.photos or (told is not None and told.is_of_all):
        return
    if told is not None:
        st.info(OF_OTHER_PHOTOS)
    if st.button(
        "Read the photos together",
        key="read_together",
        icon=":material/view_carousel:",
        help="Reads every photo of this piece again, puts them together on the unrolled surface, "
        "says what they show and do not show, and records it. Nothing is decided by it.",
    ):
        _read(records, file)
    st.caption(
        f"Puts {counted(len(file.photos), 'photo')} together on the unrolled surface and records "
        "what they show; a few seconds a photo."
    )


def drawings(told: ToldTogether | None) -> None:
    """The unrolled surface, and what to photograph next."""
    if told is None:
        return
    st.subheader("The surface, unrolled", anchor=False)
    if told.development_png is None:
        st.info("No photo could be placed on the surface, so there is no drawing of it.")
    else:
        st.image(told.development_png, alt=told.drawing_in_words, width="stretch")
    if not told.asked:
        return
    st.subheader("What to photograph next", anchor=False)
    st.markdown(
        "\n".join(f"{at}. {wording.escaped(each)}" for at, each in enumerate(told.asked, start=1))
    )
    if told.next_views_png is not None:
        st.image(
            told.next_views_png,
            alt="One small drawing for each of these views, with its number: the fitting from "
            "that place, what no photo shows yet with a grid on it.",
            width="stretch",
        )
    st.caption(wording.escaped(told.caution))


def _read(records: Records, file: PieceFile) -> None:
    try:
        loaded = shared.reader().inner
    except WeightsError as error:
        st.error(wording.escaped(desk.model_trouble(error)))
        return
    bar = st.progress(0.0)

    def progress(done: int, name: str) -> None:
        share = desk.share_done(done, len(file.photos))
        bar.progress(share, text=wording.escaped(f"Reading {name}"))

    with ViewingReader(loaded) as reader:
        said = doing.read_together(records, file, reader, progress)
    record_panels.keep(said)
    st.rerun()
