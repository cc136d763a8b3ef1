"""Lots, and the pieces of one lot sorted by suspicion."""

from __future__ import annotations

import streamlit as st

from fittings.words import ADVISORY
from ui import lot_panels

st.title("Lots")
st.warning(ADVISORY, icon=":material/engineering:")
lot_panels.show()
