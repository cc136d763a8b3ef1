"""What can go wrong with the records, as one tree; every message says what to do.

SeamtriageError
└── RecordsError
    ├── NotRecorded        nothing is recorded under that name or identifier
    ├── NotTaken           an entry that can't be taken as it is; `field` names what is wrong
    ├── Refused            a decision against the rules: a physical check is missing
    ├── Stale              somebody recorded something about the piece since it was looked at
    ├── Unreachable        the database or its folder can't be opened, or stays locked
    ├── Damaged            a stored photo or an entry is not what was recorded
    └── ArchiveUnreadable  a lot archive that can't be taken in; nothing of it was kept
"""

from __future__ import annotations

from vision.errors import SeamtriageError, one_line


class RecordsError(SeamtriageError):
    """Base of every error of the records; its text fits on one line."""

    def __init__(self, message: str) -> None:
        super().__init__(one_line(message))


class NotRecorded(RecordsError):
    """Nothing is recorded under that name or identifier."""


class NotTaken(RecordsError):
    """An entry that can't be taken as it is. `field` names the part that is wrong."""

    def __init__(self, field: str, message: str) -> None:
        self.field = field
        super().__init__(f"{field}: {message}")


class Refused(RecordsError):
    """A decision against the rules of `ui.records.rules`."""


class Stale(RecordsError):
    """Somebody recorded something about the piece since it was looked at."""


class Unreachable(RecordsError):
    """The database or the folder of photos can't be opened, or stays locked."""


class Damaged(RecordsError):
    """A stored photo or an entry is not what was recorded. `seamtriage verify` says where."""


class ArchiveUnreadable(RecordsError):
    """A lot archive that can't be taken in; nothing of it was kept."""
