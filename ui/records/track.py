"""How often readings were right: what photographs said against what physical checks then found.

Counted are pieces on which a physical check settled something, by the newest such check. Against it
stands what had been read of the piece before its first such check: its newest reading of all photos
together, or without one that of its most suspect photo. Readings made later don't count, because
whoever made them knew more.

These are pieces that somebody chose to check, mostly suspect ones, so the shares tell of those and
not of a whole delivery. Where few were checked the interval says so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, select

from fittings.words import Kind, Reading
from ui.records import rows, tables, terms, views


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One checked piece. `word` is what had been read of it, None for nothing."""

    yard: str
    kind: str
    finish: str
    word: Reading | None
    fabricated: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """`count` of `total`, with the 95 % score interval (Wilson 1927) of the share behind it."""

    count: int
    total: int

    @property
    def interval(self) -> tuple[float, float]:
        """(0, 1) when there was nothing to count."""
        from vision.metrics import wilson_interval  # brings scipy.stats, a second at every start

        return wilson_interval(self.count, self.total)

    @property
    def in_words(self) -> str:
        """ "8 of 10, 80 % [49, 94]", or "none yet"."""
        if not self.total:
            return "none yet"
        low, high = self.interval
        return (
            f"{self.count} of {self.total}, {100 * self.count / self.total:.0f} % "
            f"[{100 * low:.0f}, {100 * high:.0f}]"
        )

    def as_json(self) -> dict[str, Any]:
        low, high = self.interval
        return {
            "count": self.count,
            "total": self.total,
            "share": round(self.count / self.total, 4) if self.total else None,
            "low": round(low, 4),
            "high": round(high, 4),
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """The account of one group of checked pieces; `by` is "all", "yard", "kind" or "finish".

    `right`: of the pieces read, those flagged and found fabricated, or not flagged and found
    formed; an unclear reading is not right. `found`: of the fabricated pieces read, those flagged.
    `false_alarms`: of the formed pieces read, those flagged. `fabricated`: of all checked pieces.
    Flagged means read as `fabrication_seam`.
    """

    by: str
    group: str
    checked: int
    not_read: int
    unclear: int
    right: Share
    found: Share
    false_alarms: Share
    fabricated: Share

    def as_json(self) -> dict[str, Any]:
        return {
            "by": self.by,
            "group": self.group,
            "checked": self.checked,
            "not_read": self.not_read,
            "unclear": self.unclear,
            "right": self.right.as_json(),
            "found": self.found.as_json(),
            "false_alarms": self.false_alarms.as_json(),
            "fabricated": self.fabricated.as_json(),
        }


def accounts(cases: Iterable[Case]) -> tuple[Account, ...]:
    """One account of all, then one for each yard, kind and finish, by name."""
    cases = tuple(cases)
    groups: tuple[tuple[str, Callable[[Case], str]], ...] = (
        ("yard", lambda case: case.yard),
        ("kind", lambda case: case.kind),
        ("finish", lambda case: case.finish),
    )
    told = [_account("all", "all", cases)]
    for by, group_of in groups:
        for group in sorted({group_of(case) for case in cases}):
            told.append(_account(by, group, [each for each in cases if group_of(each) == group]))
    return tuple(told)


def _account(by: str, group: str, cases: Iterable[Case]) -> Account:
    cases = list(cases)
    read = [case for case in cases if case.word is not None]
    bad = [case for case in read if case.fabricated]
    good = [case for case in read if not case.fabricated]
    caught = sum(_flagged(case) for case in bad)
    alarms = sum(_flagged(case) for case in good)
    quiet = sum(case.word in (Reading.NO_SEAM_SEEN, Reading.LONG_SEAM_ONLY) for case in good)
    return Account(
        by=by,
        group=group,
        checked=len(cases),
        not_read=len(cases) - len(read),
        unclear=sum(case.word is Reading.UNCLEAR for case in read),
        right=Share(count=caught + quiet, total=len(read)),
        found=Share(count=caught, total=len(bad)),
        false_alarms=Share(count=alarms, total=len(good)),
        fabricated=Share(count=sum(case.fabricated for case in cases), total=len(cases)),
    )


def _flagged(case: Case) -> bool:
    return case.word is Reading.FABRICATION_SEAM


def checked_pieces(connection: Connection, model_sha256: str | None = None) -> list[Case]:
    """Every piece that a check settled; with a model, only what that model read counts."""
    lots = {lot.uid: lot for lot in views.made(_lots(connection), rows.lot_of)}
    settled: dict[str, list[terms.Check]] = {}
    for check in views.made(views.entries_in(connection, tables.checks), rows.check_of):
        if check.outcome.settles:
            settled.setdefault(check.piece, []).append(check)
    kinds = {
        line.uid: line.line.form.kind
        for line in views.made(views.entries_in(connection, tables.order_lines), rows.line_of)
    }
    cases = []
    for piece in views.pieces_of(connection):
        if piece.uid in settled:
            checks = settled[piece.uid]
            word, seen = _read_before(connection, piece.uid, checks[0].number, model_sha256)
            kind = kinds.get(piece.order_line or "") or seen
            cases.append(
                Case(
                    yard=lots[piece.lot].yard,
                    kind=kind.value if kind is not None else "",
                    finish=piece.finish,
                    word=word,
                    fabricated=checks[-1].outcome is terms.Outcome.FABRICATED,
                )
            )
    return cases


def _lots(connection: Connection) -> list[views.Numbered]:
    return views.newest(connection, tables.lots, tables.lots.c.lot)


def _read_before(
    connection: Connection, piece: str, number: int, model_sha256: str | None
) -> tuple[Reading | None, Kind | None]:
    """What had been read of a piece before the entry `number`, and as what kind of fitting."""
    together, places, single = tables.piece_readings, tables.placements, tables.readings
    query = select(together.c.word).where(together.c.piece == piece, together.c.number < number)
    if model_sha256 is not None:
        query = query.where(together.c.model_sha256 == model_sha256)
    said = connection.execute(query.order_by(together.c.number)).scalars().all()
    here: dict[str, str | None] = {}
    ever = select(places.c.photo).where(places.c.piece == piece)
    moves = select(places).where(places.c.photo.in_(ever), places.c.number < number)
    for row in connection.execute(moves.order_by(places.c.number)):
        here[row.photo] = row.piece
    photos = [photo for photo, placed in here.items() if placed == piece]
    read = select(single).where(single.c.photo.in_(photos), single.c.number < number)
    if model_sha256 is not None:
        read = read.where(single.c.model_sha256 == model_sha256)
    newest = {row.photo: row for row in connection.execute(read.order_by(single.c.number))}
    legible = [row for row in newest.values() if row.word is not None]
    worst = max(legible, key=lambda row: float(row.fabricated_probability), default=None)
    word = said[-1] if said else (None if worst is None else worst.word)
    return (
        None if word is None else Reading(word),
        None if worst is None else Kind(worst.kind),
    )
