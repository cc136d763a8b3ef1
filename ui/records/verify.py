"""Looking for any change to the records that no entry tells of.

What is found: an entry altered, missing, added or moved; a table that says other than the journal;
a decision against the rules; triggers taken off; a photo that is missing or was altered.

What no look inside can find: somebody who writes the whole database anew with this program's own
sums. Against that, note the seal of the last entry somewhere else, or keep a report, which prints
the hash of its lot's last entry; given back as `noted` they must still be there.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, select, text

from ui.records import rows, tables
from ui.records.chain import START, Entry, What, seal_of
from ui.records.errors import Damaged
from ui.records.guards import missing_guards
from ui.records.replay import Replay
from ui.records.store import PhotoStore
from ui.records.views import entry_of

MOST_PROBLEMS = 200
"""More are counted, not told."""

Progress = Callable[[int, str], None]
Row = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing that is not as it was recorded. `lot` is a name, or "" where none is concerned."""

    lot: str
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """What was gone through and what was found. `number` and `seal` are those of the last entry."""

    lots: int
    entries: int
    photos: int
    number: int
    seal: str
    problems: tuple[Problem, ...]

    @property
    def unbroken(self) -> bool:
        return not self.problems


def verify(
    connection: Connection,
    store: PhotoStore,
    *,
    noted: Collection[str] = (),
    progress: Progress | None = None,
) -> Verified:
    """Goes through every entry, table and photo; `noted` are hashes and seals kept elsewhere."""
    look = _Look(connection)
    look.through_the_journal(set(noted))
    look.at_what_is_left_of_the_tables()
    look.at_the_end()
    look.at_the_database()
    sizes = {sha256: size for lot in look.lots.values() for sha256, size in lot.photos.items()}
    for done, sha256 in enumerate(sorted(sizes)):
        if progress is not None:
            progress(done, sha256)
        problem = store.problem(sha256)
        if problem:
            lots = [uid for uid, lot in look.lots.items() if sha256 in lot.photos]
            look.note(lots[0], f"photo {sha256} is {problem} ({store.path(sha256)})")
    return Verified(
        lots=len(look.lots),
        entries=look.entries,
        photos=len(sizes),
        number=look.number,
        seal=look.seal,
        problems=tuple(look.problems),
    )


class _Look:
    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self.lots: dict[str, Replay] = defaultdict(Replay)
        self._names: dict[str, str] = {}
        self.problems: list[Problem] = []
        self.entries = 0
        self.number = 0
        self.seal = START
        self._rows = {what: _rows(connection, what) for what in What}

    def note(self, lot: str, what: str) -> None:
        if len(self.problems) < MOST_PROBLEMS:
            self.problems.append(Problem(lot=self._names.get(lot, lot), what=what))
        elif len(self.problems) == MOST_PROBLEMS:
            self.problems.append(Problem(lot="", what="and more; only the first are told"))

    def through_the_journal(self, noted: set[str]) -> None:
        journal = tables.journal
        query = select(journal).order_by(journal.c.number).execution_options(yield_per=200)
        for row in self._connection.execute(query):
            self.entries += 1
            if row.number != self.number + 1:
                gap = f"{self.number + 1} to {row.number - 1}"
                self.note(row.lot, f"entries {gap} of the journal are missing")
            elif row.seal != seal_of(row.number, row.hash, self.seal):
                self.note(row.lot, f"the seal of entry {row.number} of the journal does not fit")
            noted -= {row.hash, row.seal}
            self.number, self.seal = row.number, row.seal
            try:
                entry = entry_of(row)
            except Damaged as error:
                self.note(row.lot, str(error))
                continue
            self._entry(entry, row.number)
        for each in sorted(noted):
            self.note("", f"no entry has the hash or seal that was noted: {each}")

    def _entry(self, entry: Entry, number: int) -> None:
        found = self.lots[entry.lot].problem(entry)
        if entry.what is What.LOT and not found:
            self._names[entry.lot] = entry.facts["name"]
        if found:
            self.note(entry.lot, f"{found} (number {number} of the journal)")
        kept = self._rows[entry.what].pop(number, None)
        try:
            expected = rows.row_of(entry, number)
        except (KeyError, TypeError, ValueError):
            return  # told already
        table = tables.TABLES[entry.what].name
        if kept is None:
            self.note(entry.lot, f"row {number} of {table} is missing")
        elif kept != expected:
            wrong = ", ".join(key for key in expected if kept[key] != expected[key])
            self.note(entry.lot, f"row {number} of {table} was altered: {wrong}")

    def at_what_is_left_of_the_tables(self) -> None:
        for what, left in self._rows.items():
            for number, row in left.items():
                table = tables.TABLES[what].name
                self.note(row["lot"], f"row {number} of {table} has no entry in the journal")

    def at_the_end(self) -> None:
        end = self._connection.execute(select(tables.journal_end)).all()
        if len(end) != 1 or end[0].number != self.number or end[0].seal != self.seal:
            self.note("", "entries are missing at the end of the journal")

    def at_the_database(self) -> None:
        names = ["journal", *(table.name for table in tables.TABLES.values())]
        for guard in missing_guards(self._connection, names):
            self.note("", f"the trigger {guard} is missing or off; rows can be changed unseen")
        if self._connection.dialect.name == "sqlite":
            for row in self._connection.execute(text("PRAGMA integrity_check(20)")):
                if row[0] != "ok":
                    self.note("", f"the database file is damaged: {row[0]}")


def _rows(connection: Connection, what: What) -> dict[int, Row]:
    found = connection.execute(select(tables.TABLES[what])).mappings()
    return {row["number"]: dict(row) for row in found}
