"""The parts of a shipment's page: photos in, what needs another look, the request, the report."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import streamlit as st

from models.weights import WeightsError
from ui import desk, record_panels, shared, together, unfinished, wording
from ui.importing.incoming import Upload
from ui.importing.receiving import Receiver
from ui.inspecting import doing, lines, shipment
from ui.keys import Keys
from ui.paging import PIECES_A_PAGE, a_page_of
from ui.records import Lot, Records, RecordsError
from ui.together import ViewingReader
from ui.trade.answers import TradeTrouble


def show() -> None:
    """Choose or open a lot, drop its photos, and see what is still wanted."""
    records = record_panels.opened()
    if records is None:
        return
    by = record_panels.person()
    record_panels.tell()
    lot = _lot(records, by)
    if lot is None:
        return
    _take_in(records, lot, by)
    listed = lines.piece_lines(records, lot.uid)
    loose = lines.loose_photos(records, lot.uid)
    if not listed and not loose:
        st.info("No photo in this lot yet. Drop the shipment's photos above and press the button.")
        return
    if loose:
        count = lines.counted(len(loose), "photo")
        st.info(f"Of no piece yet: {count}. {shipment.LOOSE_HINT}", icon=":material/help:")
    if not listed:
        return
    _another_look(records, listed)
    _reused(records, lot, sum(line.summary.photos for line in listed))
    _out(records, lot)


def _lot(records: Records, by: str) -> Lot | None:
    """The lot that is worked on, kept in the address; a form opens a new one."""
    known = {lot.uid: lot for lot in records.lots()}
    wanted = st.query_params.get("lot")
    chosen = None
    if known:
        uids = list(known)
        chosen = st.selectbox(
            "Lot",
            uids,
            index=uids.index(wanted) if wanted in known else None,
            format_func=lambda uid: known[uid].name,
            placeholder="Choose the lot that the photos belong to",
            key=f"{Keys.SHIPMENT_LOT}-{wanted}",
        )
    if chosen is not None:
        st.query_params["lot"] = chosen
        return known[chosen]
    if known:
        st.info("Choose the lot that the photos belong to, or open a new one.")
    with st.form("shipment_new"):
        st.subheader("Open a new lot", anchor=False)
        name = st.text_input("Name of the lot", placeholder="Pump house, delivery 3")
        yard = st.text_input("Yard", placeholder="North yard")
        if st.form_submit_button("Open the lot", type="primary", key="shipment_open"):
            said, uid = doing.open_lot(records, name or "", yard or "", "", by)
            record_panels.keep(said)
            if uid:
                st.query_params["lot"] = uid
            st.rerun()
    return None


def _take_in(records: Records, lot: Lot, by: str) -> None:
    st.subheader(wording.escaped(f"Photos of {lot.name}"), anchor=False)
    whole = st.toggle("Choose a whole folder at once", key="whole_folder")
    with st.form("shipment_photos", border=True):
        files = st.file_uploader(
            "Drop the shipment's photos here",
            accept_multiple_files="directory" if whole else True,
            key=f"{Keys.SHIPMENT}-{whole}",
            help=shipment.UPLOAD_HELP,
        )
        with st.expander("How photos find their piece", expanded=not records.pieces(lot.uid)):
            st.markdown(shipment.UPLOAD_HELP)
            pattern = st.text_input(
                "File name pattern, only where the tags stand in another way",
                placeholder="{piece} *.jpg",
                help=shipment.PATTERN_HELP,
            )
            new_pieces = st.checkbox("A folder or the pattern may name a new piece", value=True)
        pressed = st.form_submit_button("Take them in", type="primary", key="take_in")
    st.caption(shipment.STOPPED_HINT)
    if not by:
        if pressed:
            st.error(doing.NO_NAME)
        return
    if unfinished.wanted(Keys.TAKING, lot.uid if pressed else None) != lot.uid:
        return
    with unfinished.until_done(Keys.TAKING):
        if files:
            _take_these_in(records, lot, by, files, pattern or "", new_pieces=new_pieces)
        else:
            st.error(desk.NOTHING_GIVEN if pressed else shipment.STOPPED)


def _take_these_in(
    records: Records, lot: Lot, by: str, files: Sequence[Upload], pattern: str, *, new_pieces: bool
) -> None:
    """Every photo of the files, then those of each piece together; what was kept before is only
    counted."""
    try:
        loaded = shared.reader().inner
    except WeightsError as error:
        st.error(wording.escaped(desk.model_trouble(error)))
        return
    with ViewingReader(loaded) as reader:
        try:
            taking = shipment.receiver(
                records, lot.uid, reader, by=by, pattern=pattern, new_pieces=new_pieces
            )
        except TradeTrouble as trouble:
            st.error(wording.escaped(str(trouble)))
            return
        if _received(taking, files):
            _together(records, lot, reader)


def _received(taking: Receiver, files: Sequence[Upload]) -> bool:
    """Takes the photos in, each with its line; whether it came to the end."""
    tally = shipment.Tally()
    with st.status("Taking photos in …", expanded=True) as status:
        bar = st.progress(0.0)

        def progress(count: int, name: str) -> None:
            bar.progress(desk.share_done(count, len(files)), text=wording.escaped(name))

        try:
            for each in shipment.received(taking, files, progress):
                tally = tally.with_one(each)
                st.markdown(wording.escaped(shipment.line_of(each)))
        except RecordsError as error:
            status.update(label=f"Stopped: {error}", state="error")
            return False
        bar.empty()
        status.update(label=tally.in_words, state="complete", expanded=bool(tally.unread))
    return True


def _together(records: Records, lot: Lot, reader: ViewingReader) -> None:
    """Reads the photos of each piece together where that is still to be done."""
    pieces = together.wanting(records, lot.uid, reader.sha256)
    if not pieces:
        return
    count = lines.counted(len(pieces), "piece")
    with st.status(f"Reading the photos of {count} together …", expanded=True) as status:
        bar = st.progress(0.0)
        try:
            for done, told in enumerate(together.record_pieces(records, pieces, reader), start=1):
                bar.progress(desk.share_done(done, len(pieces)), text=wording.escaped(told.tag))
                st.markdown(wording.escaped(together.in_words(told)))
        except RecordsError as error:
            status.update(label=f"Stopped: {error}", state="error")
            return
        bar.empty()
        status.update(label=f"Read together: {count}", state="complete", expanded=False)


def _another_look(records: Records, listed: tuple[lines.PieceLine, ...]) -> None:
    wanting = [line for line in listed if line.wants_another_look]
    count = lines.counted(len(wanting), "piece")
    st.subheader(f"Another look: {count} of {len(listed)}", anchor=False)
    if not wanting:
        st.info(
            "No piece stands out. That accepts none of them: no seam seen never means seamless, "
            "and a physical check is always required."
        )
    for line in a_page_of(wanting, PIECES_A_PAGE, "Pieces"):
        record_panels.piece_row(records, line, why=line.why)


def _reused(records: Records, lot: Lot, photos: int) -> None:
    """On wish, since every photo is opened for it."""
    st.subheader("One picture for two pieces", anchor=False)
    if not st.button("Look for it among all photos", key="look_for_reused"):
        st.caption(shipment.REUSED_HELP)
        return
    bar = st.progress(0.0)

    def progress(count: int, name: str) -> None:
        bar.progress(desk.share_done(count, photos), text=wording.escaped(name))

    found = shipment.handed_in_twice(records, lot.uid, progress)
    bar.empty()
    if not found:
        st.info(f"None among {lines.counted(photos, 'photo')}.")
    for pair in found:
        st.warning(wording.escaped(pair), icon=":material/content_copy:")
    st.caption(shipment.REUSED_HELP)


def _out(records: Records, lot: Lot) -> None:
    st.subheader("Request to the yard for missing views", anchor=False)
    with st.spinner("Writing the request …"):
        text = shipment.request_text(records, lot.uid)
    st.code(text, language=None, wrap_lines=True, height=320)
    st.caption("The button at the corner of the text copies it.")
    with st.container(horizontal=True):
        st.download_button(
            "Request as text",
            text,
            "request.txt",
            "text/plain",
            key="request_file",
            on_click="ignore",
        )
        st.download_button(
            "Report of the lot (PDF)",
            partial(shipment.report_pdf, records, lot.uid),
            "lot-report.pdf",
            "application/pdf",
            key="report_file",
            on_click="ignore",
            icon=":material/download:",
        )
        st.download_button(
            "Readings as CSV",
            partial(shipment.readings_csv, records, lot.uid),
            "readings.csv",
            "text/csv",
            key="lot_csv",
            on_click="ignore",
        )
    st.page_link(
        record_panels.LOTS_PAGE,
        label="All pieces of the lot",
        icon=":material/arrow_forward:",
        query_params={"lot": lot.uid},
    )
