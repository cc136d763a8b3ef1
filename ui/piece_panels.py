"""The parts of a piece's page: photos, order, checks to do, what is recorded, a decision."""

from __future__ import annotations

from functools import partial

import streamlit as st

from fittings.words import percent
from ui import panels, record_panels, shared, together_panels, wording
from ui.inspecting import doing, lines, papers, sheet, shipment
from ui.keys import Keys
from ui.record_panels import LOTS_PAGE, PIECE_PAGE
from ui.records import Decision, NotRecorded, Outcome, PieceFile, Records
from ui.reports.together import told_together, word_of
from ui.trade import answers

_MARKED = "piece_marked"


def show() -> None:
    """The piece that the address names."""
    records = record_panels.opened()
    if records is None:
        return
    wanted = st.query_params.get("piece", "")
    try:
        file = records.piece_file(wanted)
    except NotRecorded:
        st.info("Choose a piece from its lot's list.")
        st.page_link(LOTS_PAGE, label="All lots", icon=":material/arrow_back:")
        return
    _head(records, file)
    by = record_panels.person()
    record_panels.tell()
    photos, told = st.columns([3, 2], gap="large")
    read = told_together(file)
    with photos:
        _photos(records, file)
    with told:
        _standing(file)
        together_panels.reasons(records, file, read)
        _decide(file)
        _order(records, file, by)
        _papers(file, by)
        _checks(file, by)
        _measurements(file, by)
        _history(file)
        _notice(records, file)
    with photos:
        together_panels.drawings(read)  # last, so that nothing waits for them


def _head(records: Records, file: PieceFile) -> None:
    """Tag, way back, and the pieces before and after it by key."""
    listed = lines.piece_lines(records, file.lot.uid)
    before, after = lines.neighbours(listed, file.piece.uid)
    st.header(wording.escaped(f"{file.piece.tag} of {file.lot.name}"), anchor=False)
    with st.container(horizontal=True, key="piece-ways"):
        st.page_link(
            LOTS_PAGE, label="The lot", icon=":material/arrow_back:",
            query_params={"lot": file.lot.uid},
        )  # fmt: skip
        for label, uid, key in (("Previous piece", before, "P"), ("Next piece", after, "N")):
            if st.button(label, shortcut=key, disabled=uid is None, key=f"go_{key}") and uid:
                st.switch_page(PIECE_PAGE, query_params={"piece": uid})
        shown = st.session_state.get(_MARKED, True)
        if st.button(
            "Plain photos" if shown else "Seams marked", shortcut="M", key="marks",
            icon=":material/visibility:",
        ):  # fmt: skip
            st.session_state[_MARKED] = not shown
            st.rerun()


def _photos(records: Records, file: PieceFile) -> None:
    if not file.photos:
        st.info(
            "No photo of this piece yet. Take photos in on the shipment page, or place a loose "
            "photo on the lot's page."
        )
        return
    marked = st.session_state.get(_MARKED, True)
    ordered = sheet.photos_worst_first(file)
    for start in range(0, len(ordered), 2):
        row = ordered[start : start + 2]
        columns = st.columns(min(2, len(ordered)))
        for column, (photo, reading) in zip(columns, row, strict=False):
            card = shared.photo_card(
                photo.uid, "" if reading is None else reading.uid, records, photo, reading
            )
            with column:
                panels.show_recorded(card, marked=marked, key=photo.uid)


def _standing(file: PieceFile) -> None:
    """What it reads as and what was decided, in two lines."""
    word, probability = word_of(file)
    st.subheader("No reading yet" if word is None else word.title, anchor=False)
    if probability is not None:
        st.progress(probability, text=f"Fabricated, probability: **{percent(probability)}**")
    decided = file.decision
    if decided is None:
        st.markdown(f"**Decision:** {lines.NOBODY_YET}.")
    else:
        st.markdown(
            f"**Decision: {decided.decision.title}**, by {wording.escaped(decided.by)}, "
            f"{decided.at[:16].replace('T', ' ')} UTC: {wording.escaped(decided.reason)}"
        )


def _decide(file: PieceFile) -> None:
    """The form of a decision. What the person saw is fixed when the form is drawn."""
    with st.form(Keys.DECIDE, clear_on_submit=False):
        st.radio(
            "Your decision",
            [each.title for each in Decision],
            index=None,
            horizontal=True,
            key="decide_which",
        )
        st.text_area("Reason", key="decide_why", height=80)
        st.form_submit_button(
            "Record the decision",
            type="primary",
            key="decide_it",
            on_click=_decided,
            args=(file.piece.uid, file.number),
        )
        st.caption("A release, or lifting a hold, needs a recorded physical check.")


def _decided(piece: str, seen: int) -> None:
    """Runs before the page is drawn anew, so `seen` is what the person looked at."""
    named = st.session_state.get("decide_which")
    chosen = next((each for each in Decision if each.title == named), None)
    if chosen is None:
        record_panels.keep(doing.Said(text="Choose what you decide.", done=False))
        return
    reason = st.session_state.get("decide_why", "")
    by = st.session_state.get(Keys.PERSON, "")
    said = doing.decide(shared.records(), piece, chosen, reason, by, seen)
    record_panels.keep(said)
    if said.done:
        st.session_state["decide_why"] = ""


def _order(records: Records, file: PieceFile, by: str) -> None:
    st.markdown(f"**Against the order.** {wording.escaped(sheet.order_sentence(file))}")
    with st.expander("Order line"):
        if file.order_line is not None:
            line = file.order_line.line
            st.markdown(
                f"{wording.escaped(answers.order_title(line))}. {answers.seam_sentence(line)}"
            )
            st.table(sheet.order_rows(line))
        known = records.order_lines(file.lot.uid)
        if not known:
            st.info("The lot has no order line. Add the order on the lot's page.")
            return
        named = {each.uid: answers.order_title(each.line) for each in known}
        uids = list(named)
        current = file.piece.order_line
        with st.form("describe", border=False):
            line_uid = st.selectbox(
                "Set against", uids, format_func=named.__getitem__,
                index=uids.index(current) if current in uids else None,
            )  # fmt: skip
            finish = st.text_input("Finish of the piece", file.piece.finish)
            if st.form_submit_button("Record", key="describe_it"):
                record_panels.keep(
                    doing.describe_piece(records, file.piece.uid, line_uid, finish or "", by)
                )
                st.rerun()


def _papers(file: PieceFile, by: str) -> None:
    with st.expander("Certificate and records"):
        found = papers.papers_of(file)
        if found is None or file.order_line is None:
            st.info("Set the piece against an order line first; it says what to ask for.")
            return
        st.markdown(f"{papers.ADVISORY} Items: {found.summary}.")
        st.table(list(found.rows))
        title = st.selectbox("Item", list(found.keys), key="paper_item")
        st.markdown(wording.escaped(found.told[title]))
        with st.form(Keys.PAPERS, border=False, clear_on_submit=True):
            named = st.radio("What was found", list(papers.ANSWERS), index=None, key="paper_out")
            note = st.text_input("Where, and what was seen", key="paper_note")
            if st.form_submit_button("Record the answer", key="paper_it"):
                said = (
                    doing.Said(text="Choose what was found.", done=False)
                    if named is None
                    else doing.answer_certificate(
                        shared.records(), file.order_line.uid, found.keys[title],
                        papers.ANSWERS[named], note or "", by,
                    )
                )  # fmt: skip
                record_panels.keep(said)
                st.rerun()


def _checks(file: PieceFile, by: str) -> None:
    place = wording.escaped(sheet.suspect_place(file))
    st.markdown(f"**Checks that settle it.** The suspect line: {place}.")
    listed = {each.title: each.check for each in sheet.checks_to_do(file)}
    title = st.selectbox("Physical check, least effort first", list(listed), key="which_check")
    check = listed[title]
    with st.expander("Where and how, what it shows, cautions"):
        st.markdown("  \n".join(map(wording.escaped_but_bold, answers.check_lines(check))))
    with st.form(Keys.CHECK, clear_on_submit=True):
        outcome = st.radio(
            "What this check showed", [each.title for each in Outcome], index=None, key="check_out"
        )
        note = st.text_input("Where, and what was seen", key="check_note")
        if st.form_submit_button("Record the check", key="check_it"):
            chosen = next((each for each in Outcome if each.title == outcome), None)
            if chosen is None:
                record_panels.keep(doing.Said(text="Choose what the check showed.", done=False))
            else:
                record_panels.keep(
                    doing.record_check(
                        shared.records(), file.piece.uid, check.key, chosen, note or "", by
                    )
                )
            st.rerun()


def _measurements(file: PieceFile, by: str) -> None:
    if rows := sheet.measurement_rows(file):
        st.markdown("**Measurements**")
        st.table(rows)
    with st.expander("Record a measurement"):
        if file.order_line is None:
            st.info("Set the piece against an order line first; it names the dimensions.")
            return
        try:
            names = answers.dimension_names(file.order_line.line)
        except answers.TradeTrouble as trouble:
            st.error(wording.escaped(str(trouble)))
            return
        with st.form(Keys.MEASURE, border=False, clear_on_submit=True):
            name = st.selectbox("Dimension", names)
            length = st.text_input("Length with its unit", placeholder="229.5 mm")
            note = st.text_input("Where", key="measure_note")
            if st.form_submit_button("Record the measurement", key="measure_it"):
                record_panels.keep(
                    doing.record_measurement(
                        shared.records(), file.piece.uid, name, length or "", note or "", by
                    )
                )
                st.rerun()


def _history(file: PieceFile) -> None:
    events = sheet.history(file)
    if not events:
        return
    with st.expander(f"What was recorded ({len(events)})", expanded=True):
        for event in events:
            at = event.at[:16].replace("T", " ")
            st.markdown(f"- {at} UTC, {wording.escaped(event.by)}: {wording.escaped(event.what)}")


def _notice(records: Records, file: PieceFile) -> None:
    st.download_button(
        "Notice of non-conformance (PDF)",
        partial(shipment.notice_pdf, records, file.lot.uid, file.piece.uid),
        "notice.pdf",
        "application/pdf",
        key="notice_file",
        on_click="ignore",
        icon=":material/download:",
    )
    st.caption("A draft until a recorded physical check shows a fabricated piece.")
