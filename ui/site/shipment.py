"""A shipment's photos in, and at once: which pieces need another look, which views are missing."""

from __future__ import annotations

import streamlit as st

from fittings.words import ADVISORY
from ui import shipment_panels

st.title("Shipment")
st.markdown(
    "A delivery seen from afar: drop the photos that the yard sent, see which pieces want another "
    "look and why, and take away the request for missing views and the report."
)
st.warning(ADVISORY, icon=":material/engineering:")
shipment_panels.show()
