"""Who may see the pages from another machine: sign-in by OpenID Connect, as Streamlit offers it.

Streamlit reads `[auth]` from `.streamlit/secrets.toml`, in the user's home folder and in the folder
that the pages are started from. Nothing here reads more of it than which of its keys are there.
"""

from __future__ import annotations

import importlib.util
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from vision.errors import SeamtriageError

_KEYS = ("redirect_uri", "cookie_secret", "client_id", "client_secret", "server_metadata_url")


class SignInWrong(SeamtriageError):
    """Sign-in is set up, but not so that it can work; the message says what is missing."""


def secrets_files() -> tuple[Path, ...]:
    """Where Streamlit looks for secrets; the later file wins."""
    return tuple(base / ".streamlit" / "secrets.toml" for base in (Path.home(), Path.cwd()))


def settings() -> Mapping[str, Any] | None:
    """The `[auth]` section, None without one. SignInWrong where it is not complete."""
    section: Mapping[str, Any] | None = None
    for path in secrets_files():
        try:
            section = tomllib.loads(path.read_text(encoding="utf-8")).get("auth", section)
        except FileNotFoundError:
            continue
        except (OSError, ValueError) as error:  # what can't be read may be what keeps people out
            raise SignInWrong(f"{path} can't be read ({error}).") from error
    if section is None:
        return None
    missing = [key for key in _KEYS if not (isinstance(section, Mapping) and section.get(key))]
    if missing:
        raise SignInWrong(f"[auth] in secrets.toml lacks {', '.join(missing)}.")
    if importlib.util.find_spec("authlib") is None:
        raise SignInWrong('sign-in needs Authlib: pip install "streamlit[auth]".')
    return section


def own_host(section: Mapping[str, Any]) -> str:
    """The host by which browsers reach the pages, as the sign-in's redirect names it."""
    host = urlsplit(str(section["redirect_uri"])).hostname
    if not host:
        raise SignInWrong("redirect_uri in secrets.toml names no host.")
    return host


def admit() -> None:
    """In a page: goes no further for one who has not signed in, where sign-in is set up."""
    import streamlit as st

    if settings() is None or st.user.get("is_logged_in", False):
        return
    st.title("seamtriage")
    st.button("Sign in", key="sign-in", on_click=st.login)
    st.stop()
