"""Texts that people and files give, made fit to be kept; everything here is pure."""

from __future__ import annotations

import unicodedata
from datetime import UTC, datetime

from ui.records.errors import NotTaken

NAME_LENGTH = 200
TEXT_LENGTH = 4000


def said(field: str, text: str, *, long: bool = False, may_be_empty: bool = False) -> str:
    """`text` without white space around it, in Unicode's composed form (NFC).

    So that a tag from one system's file names equals the same tag from another's. A long text may
    have several lines. NotTaken names `field` when the text is empty, too long, or holds what can't
    be printed.
    """
    plain = unicodedata.normalize("NFC", text).strip()
    most = TEXT_LENGTH if long else NAME_LENGTH
    if not plain and not may_be_empty:
        raise NotTaken(field, "is empty; write something there")
    if len(plain) > most:
        raise NotTaken(field, f"has {len(plain)} characters; write at most {most}")
    odd = [c for c in plain if not c.isprintable() and not (long and c in "\n\t")]
    if odd:
        raise NotTaken(field, f"holds the character {odd[0]!a}, which can't be printed")
    return plain


def as_named(name: str) -> str:
    """A file's name as it can be kept: what can't be printed is escaped, nothing is lost.

    Its Unicode form stays, because the name says where the file came from.
    """
    return "".join(c if c.isprintable() else ascii(c)[1:-1] for c in name)


def utc_text(at: datetime) -> str:
    """A time with its zone as UTC text: 2026-03-05T07:08:09.000010Z."""
    if at.tzinfo is None:
        raise ValueError("a time needs its zone")
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
