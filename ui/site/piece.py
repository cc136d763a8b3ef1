"""One piece: photos side by side, reasons, the order, checks, measurements, the decision."""

from __future__ import annotations

import streamlit as st

from fittings.words import ADVISORY
from ui import piece_panels

st.title("Piece")
st.warning(ADVISORY, icon=":material/engineering:")
piece_panels.show()
