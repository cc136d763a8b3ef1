"""Order check, dimensions, physical checks and strength: no picture needed."""

from __future__ import annotations

import streamlit as st

from fittings.words import ADVISORY
from ui import trade_panels
from ui.keys import Keys

TOPICS = {
    "Order": trade_panels.check_order,
    "Dimensions": trade_panels.look_up_dimensions,
    "Physical checks": trade_panels.list_checks,
    "Strength": trade_panels.reckon_strength,
}

st.title("Orders, dimensions, checks, strength")
st.warning(ADVISORY, icon=":material/engineering:")
topic = st.segmented_control(
    "Topic",
    list(TOPICS),
    default="Order",
    required=True,
    key=Keys.TRADE,
    bind="query-params",
)
TOPICS[topic]()
