"""Long lists a page at a time: a browser that has to draw a thousand of anything stands still."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

import streamlit as st

PIECES_A_PAGE = 25
CARDS_A_PAGE = 50
ORDER_LINES_A_PAGE = 25

T = TypeVar("T")


def a_page_of(listed: Sequence[T], size: int, what: str) -> Sequence[T]:
    """Those of `listed` that stand on the page chosen; the choice appears where there are more than
    `size`. `what` they are called is its label, and no other list on the page may be called so."""
    count = -(-len(listed) // size)
    page = 1
    if count > 1:
        label = f"{what}, {len(listed)} in all: page, of {count}"
        page = st.number_input(label, 1, count, 1, key=f"page-{what}")
    return listed[size * (page - 1) : size * page]
