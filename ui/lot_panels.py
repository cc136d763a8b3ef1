"""The parts of the page of lots: the list, a new one, and all that belongs to one lot."""

from __future__ import annotations

import streamlit as st

from ui import record_panels, shared, wording
from ui.inspecting import doing, lines
from ui.keys import Keys
from ui.paging import ORDER_LINES_A_PAGE, PIECES_A_PAGE, a_page_of
from ui.record_panels import SHIPMENT_PAGE, piece_row
from ui.records import Lot, Photo, Records
from ui.trade.answers import order_title, seam_sentence

_NO_LINE = "no order line"


def show() -> None:
    """The lot that the address names, or the list of all lots."""
    records = record_panels.opened()
    if records is None:
        return
    by = record_panels.person()
    record_panels.tell()
    wanted = st.query_params.get("lot")
    if wanted is None:
        _all_lots(records, by)
        return
    known = {lot.uid: lot for lot in records.lots()}
    if wanted not in known:
        st.error("There is no such lot here. It may have been opened on another installation.")
        _all_lots(records, by)
        return
    _one_lot(records, known[wanted], by)


def _all_lots(records: Records, by: str) -> None:
    listed = lines.lot_lines(records)
    if not listed:
        st.info(
            "There is no lot yet. Open one below: a name and the yard are enough. Then add the "
            "order and the pieces, and take the shipment's photos in."
        )
    for line in listed:
        with st.container(border=True, key=f"lot-{line.lot.uid}"):
            told, way = st.columns([4, 1], vertical_alignment="center")
            told.markdown(
                f"**{wording.escaped(line.lot.name)}**  \n{wording.escaped(line.in_words)}"
            )
            way.page_link(
                record_panels.LOTS_PAGE,
                label="Go to the lot",
                icon=":material/arrow_forward:",
                query_params={"lot": line.lot.uid},
            )
    with st.form(Keys.NEW_LOT, border=True):
        st.subheader("Open a new lot", anchor=False)
        name = st.text_input("Name of the lot", placeholder="Pump house, delivery 3")
        yard = st.text_input("Yard", placeholder="North yard")
        note = st.text_area("Note", height=80)
        if st.form_submit_button("Open the lot", type="primary", key="open_lot"):
            said, uid = doing.open_lot(records, name, yard, note, by)
            record_panels.keep(said)
            if uid:
                st.query_params["lot"] = uid
            st.rerun()
    _track_record(records)


def _track_record(records: Records) -> None:
    accounts = records.track_record()
    if not accounts or not accounts[0].checked:
        return
    st.subheader("What physical checks found against what was read", anchor=False)
    st.table(
        [
            {
                "Of": f"{each.by}: {each.group}" if each.by != "all" else "all checked pieces",
                "Checked": str(each.checked),
                "Readings right": each.right.in_words,
                "Fabrications found": each.found.in_words,
                "False alarms": each.false_alarms.in_words,
            }
            for each in accounts
        ]
    )
    st.caption(
        "Share with its 95 % interval. These are pieces that somebody chose to check, mostly "
        "suspect ones; they do not stand for a whole delivery."
    )


def _one_lot(records: Records, lot: Lot, by: str) -> None:
    st.page_link(
        record_panels.LOTS_PAGE, label="All lots", icon=":material/arrow_back:", query_params={}
    )
    st.header(wording.escaped(lot.name), anchor=False)
    st.caption(wording.escaped(". ".join(filter(None, (lot.yard or "No yard named", lot.note)))))
    listed = lines.piece_lines(records, lot.uid)
    with st.container(horizontal=True):
        for name, count in lines.standing_counts(listed).items():
            st.metric(name, count, width="content")
    st.page_link(
        SHIPMENT_PAGE,
        label="Take photos in, request views, download the report",
        icon=":material/add_a_photo:",
        query_params={"lot": lot.uid},
    )
    st.subheader("Pieces, the most suspect first", anchor=False)
    if not listed:
        st.info("No piece yet. Take photos in: folders or file names that name a piece make it.")
    for line in a_page_of(listed, PIECES_A_PAGE, "Pieces"):
        piece_row(records, line)
    if loose := lines.loose_photos(records, lot.uid):
        _loose(records, lot, loose, by)
    with st.expander("Order", expanded=False):
        _order(records, lot, by)
    with st.expander("Add a piece by hand"):
        _new_piece(records, lot, by)


def _loose(records: Records, lot: Lot, loose: tuple[Photo, ...], by: str) -> None:
    st.subheader("Photos of no piece yet", anchor=False)
    st.markdown("Nothing names their piece. Choose it by hand.")
    tags = [piece.tag for piece in records.pieces(lot.uid)]
    for photo in loose[:PIECES_A_PAGE]:
        with st.container(border=True, key=f"loose-{photo.uid}"):
            picture, told = st.columns([1, 4], vertical_alignment="center")
            small = shared.thumbnail(
                photo.sha256, photo.name, _loader(records, photo.sha256), None, ""
            )
            if small:
                picture.image(small, width=120, alt=f"Photo {photo.name}")
            with told, st.form(f"place-{photo.uid}", border=False):
                st.markdown(wording.escaped(photo.name))
                tag = st.selectbox(
                    "Piece: choose its tag, or write a new one",
                    tags,
                    index=None,
                    accept_new_options=True,
                )
                if st.form_submit_button("Place it", key=f"place-it-{photo.uid}") and tag:
                    record_panels.keep(doing.place_photo(records, photo, tag, by))
                    st.rerun()
    if len(loose) > PIECES_A_PAGE:
        st.caption(f"{len(loose) - PIECES_A_PAGE} more follow when these are placed.")


def _loader(records: Records, sha256: str):  # type: ignore[no-untyped-def]
    return lambda: records.store.read(sha256)


def _order(records: Records, lot: Lot, by: str) -> None:
    known = records.order_lines(lot.uid)
    if not known:
        st.info("No order line yet. Add the order file: CSV or Excel with a heading line.")
    st.markdown(
        "\n".join(
            f"- {wording.escaped(order_title(each.line))}, {each.line.quantity} pieces. "
            f"{seam_sentence(each.line)}"
            for each in a_page_of(known, ORDER_LINES_A_PAGE, "Order lines")
        )
    )
    with st.form(Keys.LOT_ORDER, border=False):
        file = st.file_uploader("Order file", type=["csv", "xlsx", "txt"])
        if st.form_submit_button("Add its lines", key="add_order") and file is not None:
            record_panels.keep(doing.add_order(records, lot.uid, file.getvalue(), file.name, by))
            st.rerun()


def _new_piece(records: Records, lot: Lot, by: str) -> None:
    named = {each.uid: order_title(each.line) for each in records.order_lines(lot.uid)}
    with st.form("new_piece", border=False):
        tag = st.text_input("Tag", placeholder="P-07", key=Keys.TAG)
        line = st.selectbox(
            "Order line", list(named), format_func=named.__getitem__, index=None,
            placeholder=_NO_LINE,
        )  # fmt: skip
        if st.form_submit_button("Add the piece", key="add_piece"):
            record_panels.keep(doing.add_piece(records, lot.uid, tag, line, by))
            st.rerun()
