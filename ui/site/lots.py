"""Lots, and the pieces of one lot sorted by suspicion."""

from __future__ import annotations

import streamlit as st

from fittings.words import ADVISORY
from ui import lot_panels

st.title("Lots")
st.markdown(
    "Each lot with its pieces, the most suspect first. Open a piece to compare its photos, record "
    "checks and measurements, and decide. Photos come in on *Shipment*."
)
st.warning(ADVISORY, icon=":material/engineering:")
lot_panels.show()
