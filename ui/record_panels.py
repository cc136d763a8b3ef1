"""What the pages on the records share: who is working, what was said, and the way to a piece."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from ui import shared, wording
from ui.inspecting.doing import Said
from ui.inspecting.lines import PieceLine
from ui.keys import Keys
from ui.records import Records, RecordsError

SITE = Path(__file__).parent / "site"
LOTS_PAGE, PIECE_PAGE = SITE / "lots.py", SITE / "piece.py"
SHIPMENT_PAGE = SITE / "shipment.py"

_SAID = "said"


def opened() -> Records | None:
    """The records, or None with one red line where they can't be reached."""
    try:
        return shared.records()
    except RecordsError as error:
        st.error(wording.escaped(f"The records can't be opened: {error}"))
        return None


def person() -> str:
    """Who is working here: asked once a visit, written beside every entry."""
    name = st.text_input(
        "Your name (written beside everything that you record)",
        key=Keys.PERSON,
        persist_state="session",
        autocomplete="name",
        max_chars=120,
    )
    return (name or "").strip()


def keep(said: Said) -> None:
    """Keeps what came of an action for `tell`, which shows it after the page is drawn anew."""
    st.session_state[_SAID] = said


def tell() -> None:
    """Shows what came of the last action, once."""
    said = st.session_state.pop(_SAID, None)
    if said is None:
        return
    if said.done:
        st.success(wording.escaped(said.text), icon=":material/check:")
    else:
        st.error(wording.escaped(f"Not recorded. {said.text}"), icon=":material/block:")


def piece_row(records: Records, line: PieceLine, *, why: str = "") -> None:
    """One piece of a list: its worst photo small, what it reads as, and the way to its page."""
    piece = line.summary.piece
    with st.container(border=True, key=f"piece-{piece.uid}"):
        picture, told, way = st.columns([1, 4, 1], gap="medium", vertical_alignment="center")
        with picture:
            _thumbnail(records, line)
        with told:
            probability = f" ({line.probability_text})" if line.probability_text else ""
            st.markdown(
                f"**{wording.escaped(piece.tag)}**: {line.reading_title}{probability}  \n"
                f"{wording.escaped(line.in_words)}" + (f"  \nWhy: {why}" if why else "")
            )
        way.page_link(
            PIECE_PAGE,
            label=f"Open {wording.escaped(piece.tag)}",
            icon=":material/arrow_forward:",
            query_params={"piece": piece.uid},
        )


def _thumbnail(records: Records, line: PieceLine) -> None:
    if line.worst is None:
        st.caption("No photo")
        return
    worst, reading = line.worst, line.reading
    small = shared.thumbnail(
        worst.sha256,
        worst.name,
        lambda: records.store.read(worst.sha256),
        None if reading is None else reading.reading,
        "" if reading is None else reading.uid,
    )
    if small:
        st.image(small, width=120, alt=f"{line.summary.piece.tag}: its most suspect photo")
    else:
        st.caption("Photo can't be shown")
