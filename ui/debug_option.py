"""`--debug`, before any command: it shows where an error arose."""

from __future__ import annotations

from typing import Annotated

import typer

_wanted = False


def is_wanted() -> bool:
    """Whether --debug was given."""
    return _wanted


def _set(wanted: bool) -> None:
    global _wanted
    _wanted = _wanted or wanted


Debug = Annotated[
    bool,
    typer.Option("--debug", callback=_set, is_eager=True, help="Show where an error arose."),
]
