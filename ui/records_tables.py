"""Lots and the track record as tables in a terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich.table import Table
from rich.text import Text

from ui.records.terms import LotSummary
from ui.records.track import Account
from ui.tables import output_console


def print_lots(lots: Iterable[LotSummary]) -> None:
    """A row per lot."""
    table = Table(show_lines=True)
    for heading in ("Lot", "Yard", "Order"):
        table.add_column(heading, overflow="fold")
    for heading in (
        "Pieces",
        "Photos",
        "Fabrication\nseam seen",
        "Checked",
        "Hold",
        "Release",
        "Return",
        "Not\ndecided",
    ):
        table.add_column(heading, justify="right")
    for each in lots:
        counts = (
            each.pieces,
            each.photos,
            each.flagged,
            each.checked,
            each.held,
            each.released,
            each.returned,
            each.undecided,
        )
        names = (each.lot.name, each.lot.yard, each.lot.order_name)
        table.add_row(*(Text(name) for name in names), *(str(count) for count in counts))
    output_console().print(table)


def print_accounts(accounts: Iterable[Account]) -> None:
    """A row per group of checked pieces, with what each column counts under it."""
    table = Table(show_lines=True)
    for heading in ("By", "Group"):
        table.add_column(heading, overflow="fold")
    for heading in ("Checked", "Not\nread", "Unclear"):
        table.add_column(heading, justify="right")
    for heading in (
        "Right",
        "Of fabricated,\nflagged",
        "Of formed,\nflagged",
        "Of checked,\nfabricated",
    ):
        table.add_column(heading, overflow="fold")
    for each in accounts:
        shares = (each.right, each.found, each.false_alarms, each.fabricated)
        table.add_row(
            each.by,
            Text("" if each.by == "all" else each.group or "not said"),
            str(each.checked),
            str(each.not_read),
            str(each.unclear),
            *(share.in_words for share in shares),
        )
    console = output_console()
    console.print(table)
    console.print(
        Text(
            "Checked: pieces on which a physical check told formed from fabricated. Flagged: read "
            "as a fabrication seam before the check. Right: flagged and found fabricated, or not "
            "flagged and found formed; an unclear reading is not right. In brackets the 95 % "
            "interval of a share, in percent (Wilson). People check mostly suspect pieces, so the "
            "shares tell of those."
        )
    )
