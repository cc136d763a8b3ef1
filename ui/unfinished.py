"""Work that a press of a button began, carried on where a new run of the page cut it off.

Streamlit runs a page anew, without the press, when the browser's connection is lost and comes back
(a laptop that slept, a network that went away, a machine too busy to answer for half a minute), or
when something else on the page is clicked. The list of a thousand photos would then end after ten,
looking whole.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import streamlit as st


def wanted(key: str, pressed: str | None) -> str | None:
    """What is to be done: what was just `pressed`, else what was cut off; None for nothing."""
    if pressed is not None:
        st.session_state[key] = pressed
    asked: str | None = st.session_state.get(key)
    return asked


@contextmanager
def until_done(key: str) -> Iterator[None]:
    """Forgets the work at the end of the block, and where it fails; not where it is cut off:
    Streamlit's own signal for that is no Exception."""
    try:
        yield
    except Exception:
        drop(key)
        raise
    drop(key)


def drop(key: str) -> None:
    """Nothing is to be carried on any more."""
    st.session_state.pop(key, None)
