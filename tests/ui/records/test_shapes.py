"""Entries from elsewhere are believed only when every fact is there and is what it should be."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from tests.ui.records.deliveries import Delivery
from ui.records.chain import Entry, What, canonical
from ui.records.shapes import shape_problem


@pytest.fixture
def entries(local_filled: Delivery) -> dict[What, Entry]:
    """An entry of each kind."""
    found = {entry.what: entry for entry in local_filled.records.entries(local_filled.lot.uid)}
    assert set(found) == set(What)
    return found


def spoilt(facts: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """The facts with one missing, one too many, or one of another kind."""
    yield {**facts, "extra": 1}
    for name in facts:
        yield {key: value for key, value in facts.items() if key != name}
        for wrong in ([], 7.5, {"verdict": None}):
            if type(wrong) is not type(facts[name]):
                yield {**facts, name: wrong}


def test_every_entry_of_our_own_is_in_shape(local_filled: Delivery) -> None:
    for entry in local_filled.records.entries(local_filled.lot.uid):
        assert shape_problem(entry) == ""


@pytest.mark.parametrize("what", What)
def test_a_spoilt_fact_is_found(entries: dict[What, Entry], what: What) -> None:
    entry = entries[what]
    for facts in spoilt(entry.facts):
        assert shape_problem(replace(entry, body=canonical(facts))) != "", facts


@pytest.mark.parametrize(
    "change",
    [
        {"lot": "../../somewhere"},
        {"at": "yesterday"},
        {"at": "2026-03-05T07:08:09Z"},
        {"by": "  "},
        {"by": "A\0"},
        {"body": '{ "name": "x"}'},
        {"body": "[]"},
        {"body": "{"},
        {"body": "[" * 100_000},
    ],
    ids=lambda change: str(change)[:40],
)
def test_a_spoilt_entry_is_found(entries: dict[What, Entry], change: dict[str, str]) -> None:
    assert shape_problem(replace(entries[What.LOT], **change)) != ""


@pytest.mark.parametrize("sha256", ["../../wicked", "A" * 64, "0" * 63, "0" * 65, "0" * 64 + "\n"])
def test_a_photo_is_named_by_its_hash_alone(entries: dict[What, Entry], sha256: str) -> None:
    photo = entries[What.PHOTO]
    facts = {**photo.facts, "sha256": sha256}
    assert "sha256" in shape_problem(replace(photo, body=canonical(facts)))
