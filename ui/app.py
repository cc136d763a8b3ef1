"""The pages: settings and navigation. Start them with `seamtriage serve`."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from ui.sign_in import admit

HERE = Path(__file__).parent
PAGES = HERE / "site"  # a folder "pages" would be taken for pages of their own, beside this one

st.set_page_config(
    page_title="seamtriage: weld seams on fittings",
    # Our own file: named icons would be asked of another host by the browser.
    page_icon=str(HERE / ".streamlit" / "icon.png"),
    layout="wide",
)
admit()
st.navigation(
    [
        st.Page(PAGES / "screen_photos.py", title="Screen photos", default=True),
        st.Page(PAGES / "shipment.py", title="Shipment"),
        st.Page(PAGES / "lots.py", title="Lots"),
        st.Page(PAGES / "piece.py", title="Piece", visibility="hidden"),
        st.Page(PAGES / "trade.py", title="Order and trade"),
        st.Page(PAGES / "trainer.py", title="Trainer"),
        st.Page(PAGES / "limits.py", title="What it can and cannot tell"),
    ],
    position="top",
).run()
