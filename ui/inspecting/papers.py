"""The certificate and the records of a piece's order line: what to look for, and how it stands."""

from __future__ import annotations

from dataclasses import dataclass

from fittings.receiving.review import ADVISORY_REVIEW, Checklist, Standing
from fittings.receiving.review_items import checklist
from ui.records import PieceFile
from ui.trade.answers import Row

ADVISORY = ADVISORY_REVIEW
ANSWERS = {
    "It is as it should be": Standing.PASS,
    "It is not as it should be": Standing.FAIL,
    "Not applicable": Standing.NOT_APPLICABLE,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Papers:
    """The items of one order line by their titles, and a table of how each stands."""

    keys: dict[str, str]
    told: dict[str, str]  # by title: what to look for, and why
    rows: tuple[Row, ...]
    summary: str


def papers_of(file: PieceFile) -> Papers | None:
    """The review of the piece's order line with every recorded answer; None without a line."""
    if file.order_line is None:
        return None
    listed = checklist(file.order_line.line)
    known = {item.key for item in listed.items}
    for answer in file.certificate:
        if answer.key in known:
            listed = listed.with_answer(
                answer.key, answer.standing, answer.note, by=answer.by, at=answer.at
            )
    return Papers(
        keys={item.title: item.key for item in listed.items},
        told={item.title: f"{item.look_for} {item.why}" for item in listed.items},
        rows=tuple(_row(listed, item.key) for item in listed.items),
        summary=listed.summary,
    )


def _row(listed: Checklist, key: str) -> Row:
    answers = listed.history(key)
    return {
        "Item": listed.item(key).title,
        "Stands": listed.standing(key).value,
        "Note": listed.note(key),
        "By": answers[-1].by if answers else "",
    }
