"""The parts of the trade page: order check, dimensions, physical checks, strength."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from fittings.checks import CAUTION
from fittings.order.findings import ADVISORY_ORDER
from fittings.order.lines import FittingForm, OrderLine
from fittings.order.text import order_text
from fittings.receiving.limits import INCH_NOTE
from fittings.receiving.measured import ADVISORY_MEASURED
from fittings.receiving.settle import (
    Metal,
    physical_checks,
    suspect_line,
    what_the_order_makes_of_a_weld,
)
from fittings.strength.consequence import SCREENING
from fittings.words import Construction, Kind, Reading
from ui import desk, wording
from ui.dims_output import title_of
from ui.keys import Keys
from ui.order_files import OrderFileError, read_order_bytes
from ui.paging import ORDER_LINES_A_PAGE, a_page_of
from ui.strength_output import sums
from ui.strength_plot import plot_bytes
from ui.trade import answers, sizes
from ui.trade.answers import TradeTrouble

_MEASURED_HINT = "centre_to_end = 229.5 mm\nod = 6.66 in\nwall = 7.0 mm"
_ANY = "not said"


def check_order() -> None:
    """An order file, and what each of its lines asks for, contradicts and leaves open."""
    st.markdown(
        "An order as CSV or Excel, with a heading line. A seam means something only against what "
        "was ordered, so check the order before anything is delivered."
    )
    file = st.file_uploader("Order file", type=["csv", "xlsx", "txt"], key=Keys.ORDER_FILE)
    if st.button("Try the sample order", key="sample_order"):
        st.session_state["order_bytes"] = ("order.csv", desk.sample_order())
    if file is not None:
        st.session_state["order_bytes"] = (file.name, file.getvalue())
    if "order_bytes" not in st.session_state:
        st.info("Choose an order file, or try the sample. Its findings appear here.")
        return
    name, data = st.session_state["order_bytes"]
    try:
        read = read_order_bytes(data, name)
    except OrderFileError as error:
        st.error(wording.escaped(str(error)))
        return
    st.subheader(wording.escaped(read.name), anchor=False)
    for unread in a_page_of(read.errors, ORDER_LINES_A_PAGE, "Rows that could not be read"):
        st.error(wording.escaped(f"Not read: {unread}"), icon=":material/broken_image:")
    for each in a_page_of(read.lines, ORDER_LINES_A_PAGE, "Order lines"):
        with st.container(border=True):
            st.markdown(
                f"**Row {each.line.row}: {wording.escaped(answers.order_title(each.line))}**"
            )
            st.markdown(answers.seam_sentence(each.line))
            st.table(answers.finding_rows(each))
            with st.expander("The order text that shuts a fabrication out"):
                st.code(order_text(each.line), language=None, wrap_lines=True)
    st.caption(ADVISORY_ORDER)


def look_up_dimensions() -> None:
    """What ASME B16.9 prints for a fitting, and measurements against it."""
    line = _line("dims")
    if line is None:
        return
    _told(lambda: _limits(line))
    st.caption(INCH_NOTE)
    text = st.text_area(
        "Measurements, one a line: the name in the table, and a length with its unit",
        placeholder=_MEASURED_HINT,
        key="measured_text",
    )
    if text.strip():
        _told(lambda: st.table(answers.compared_rows(line, text)))
    st.caption(ADVISORY_MEASURED)


def _limits(line: OrderLine) -> None:
    st.dataframe(answers.limit_rows(line), hide_index=True, width="stretch")
    with st.expander("Sources"):
        st.markdown("\n".join(f"- {wording.escaped(e)}" for e in answers.limit_sources(line)))


def list_checks() -> None:
    """The physical checks that settle what a fitting is, least effort first."""
    columns = st.columns(4)
    kind = Kind(columns[0].selectbox("Fitting", ["elbow", "tee", "reducer"], key="checks_kind"))
    bought = columns[1].selectbox("Ordered", [_ANY, "seamless", "welded"], key="checks_bought")
    read = columns[2].selectbox(
        "The photographs show", [_ANY, *(each.title for each in Reading)], key="checks_reading"
    )
    metal = columns[3].selectbox(
        "Metal", [_ANY, *(each.value for each in Metal)], key="checks_metal"
    )
    reading = next((each for each in Reading if each.title == read), None)
    st.markdown(what_the_order_makes_of_a_weld(None if bought == _ANY else Construction(bought)))
    st.markdown(f"**The suspect line:** {suspect_line(kind, reading)}.")
    found = physical_checks(kind, reading=reading, material=None if metal == _ANY else Metal(metal))
    for number, check in enumerate(found, start=1):
        with st.expander(f"{number}. {check.name} ({check.effort.in_words})"):
            st.markdown(
                "  \n".join(wording.escaped_but_bold(t) for t in answers.check_lines(check))
            )
    st.warning(CAUTION, icon=":material/health_and_safety:")


def reckon_strength() -> None:
    """What it costs in strength if a piece turns out to be a fabrication."""
    line = _line("strength", with_schedule=True)
    if line is None:
        return
    columns = st.columns(4)
    pieces = None
    if line.form.kind is Kind.ELBOW:
        chosen = columns[0].selectbox(
            "Pieces of the mitred bend", ["the usual numbers", "2", "3", "4", "5", "6"],
            key="strength_pieces",
        )  # fmt: skip
        pieces = int(chosen) if chosen.isdecimal() else None
    pressure = columns[1].text_input("Design pressure", placeholder="30 bar", key="pressure")
    allowable = columns[2].text_input("Allowable stress", placeholder="137.9 MPa", key="allowable")
    corrosion = columns[3].text_input("Corrosion allowance", placeholder="1.5 mm", key="corrosion")
    try:
        found = answers.strength_found(
            line, pieces=pieces, pressure=pressure, allowable=allowable, corrosion=corrosion
        )
    except TradeTrouble as trouble:
        st.error(wording.escaped(str(trouble)))
        return
    st.markdown(f"**{wording.escaped(found.sentence)}**")
    st.dataframe(answers.factor_rows(found), hide_index=True, width="stretch")
    for way in found.fabricated:
        st.markdown(f"- {wording.escaped(way.sentence)}")
    if found.fabricated:
        with st.spinner("Drawing …"):
            st.image(
                plot_bytes(found, "png"),
                width="stretch",
                alt="Stress intensification against wall, ordered and fabricated side by side",
            )
    for title, steps, notes in sums(found):
        with st.expander(f"Every step. {title}"):
            st.dataframe(answers.step_rows(steps), hide_index=True, width="stretch")
            for note in notes:
                st.markdown(f"- {wording.escaped(note)}")
    for note in found.notes:
        st.markdown(f"- {wording.escaped(note)}")
    st.caption(SCREENING)


def _line(key: str, *, with_schedule: bool = False) -> OrderLine | None:
    """A fitting chosen from what the tables list; None, with why, where there is none."""
    columns = st.columns(4)
    form = FittingForm(
        columns[0].selectbox("Fitting", [each.value for each in FittingForm], key=f"{key}_form")
    )
    listed = sizes.sizes_of(form)
    place = listed.index("12") if "12" in listed else 0
    nps = columns[1].selectbox("Size, NPS", listed, index=place, key=f"{key}_nps_{form.value}")
    second = None
    if seconds := sizes.second_sizes_of(form, nps):
        second = columns[2].selectbox("Second size, NPS", seconds, key=f"{key}_second_{nps}")
    schedules = sizes.schedules_of(nps)
    named = list(schedules) if with_schedule else [_ANY, *schedules]
    schedule = columns[3].selectbox(
        "Schedule", named, index=named.index("STD") if "STD" in named else 0, key=f"{key}_sch_{nps}"
    )
    try:
        line = answers.made_line(form, nps, second, None if schedule == _ANY else schedule)
    except TradeTrouble as trouble:
        st.error(wording.escaped(str(trouble)))
        return None
    st.subheader(title_of(line), anchor=False)
    return line


def _told(show: Callable[[], object]) -> None:
    """Shows something, or in its place why it cannot be shown."""
    try:
        show()
    except TradeTrouble as trouble:
        st.error(wording.escaped(str(trouble)))
