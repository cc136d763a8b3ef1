"""The chain's sums, against SHA-256 and JSON worked out by hand, and its invariants."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ui.records.chain import (
    START,
    Entry,
    What,
    broken_link,
    canonical,
    next_entry,
    seal_of,
)

LOT = "0123456789abcdef" * 2
AT = "2026-03-05T07:08:09.000000Z"
TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=8)
VALUE = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**60), 2**60)
    | st.floats(allow_nan=False, allow_infinity=False)
    | TEXT,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXT, inner, max_size=3),
    max_leaves=8,
)
FACTS = st.dictionaries(TEXT, VALUE, max_size=4)


def chain(*facts: dict[str, Any]) -> list[Entry]:
    entries: list[Entry] = []
    for each in facts:
        before = entries[-1] if entries else None
        entries.append(next_entry(before, lot=LOT, what=What.LOT, by="A", at=AT, facts=each))
    return entries


def test_the_hash_is_sha256_of_the_text_that_the_module_describes() -> None:
    # The text is written out here by hand: RFC 8259 JSON, names sorted, no spaces (FIPS 180-4).
    first = next_entry(
        None, lot=LOT, what=What.CHECK, by="Ömer", at=AT, facts={"b": 1.5, "a": "ü\n"}
    )
    body = '{"a":"ü\\n","b":1.5}'
    quoted = '"{\\"a\\":\\"ü\\\\n\\",\\"b\\":1.5}"'
    text = (
        f'{"0" * 64}\n{{"at":"{AT}","body":{quoted},"by":"Ömer","lot":"{LOT}","position":1,'
        '"what":"check"}'
    )
    assert first.body == body
    assert first.hash == hashlib.sha256(text.encode("utf-8")).hexdigest()
    seal = hashlib.sha256(f"{START}\n1\n{first.hash}".encode()).hexdigest()
    assert seal_of(1, first.hash, START) == seal


@given(FACTS)
def test_json_of_facts_is_one_text_and_comes_back(facts: dict[str, Any]) -> None:
    text = canonical(facts)
    assert json.loads(text) == facts
    assert canonical(json.loads(text)) == text
    assert canonical(dict(reversed(facts.items()))) == text


@pytest.mark.parametrize("value", [float("nan"), float("inf"), {1, 2}, b"x"])
def test_what_is_no_json_is_refused(value: Any) -> None:
    with pytest.raises((ValueError, TypeError)):
        canonical({"value": value})


@given(st.lists(FACTS, min_size=1, max_size=5))
def test_a_chain_fits_link_by_link(facts: list[dict[str, Any]]) -> None:
    entries = chain(*facts)
    for before, entry in zip([None, *entries], entries, strict=False):
        assert broken_link(entry, before) == ""


@given(
    st.sampled_from(["lot", "by", "at", "body", "previous", "hash"]), st.integers(0, 2), st.data()
)
def test_any_change_of_any_part_is_found(part: str, index: int, data: st.DataObject) -> None:
    entries = chain({"n": 1}, {"n": 2}, {"n": 3})
    new = data.draw(TEXT.filter(lambda text: text != getattr(entries[index], part)))
    entries[index] = replace(entries[index], **{part: new})
    before = entries[index - 1] if index else None
    assert broken_link(entries[index], before) != ""


def test_a_missing_swapped_or_doubled_entry_is_found() -> None:
    one, two, three = chain({"n": 1}, {"n": 2}, {"n": 3})
    assert "missing or out of order" in broken_link(two, None)
    assert "missing or out of order" in broken_link(three, one)
    assert "missing or out of order" in broken_link(one, two)
    assert "missing or out of order" in broken_link(two, two)
    other = chain({"n": 1}, {"n": 9})[1]
    assert "not chained" in broken_link(three, other)


def test_the_same_facts_in_another_lot_or_place_hash_differently() -> None:
    one, two = chain({"n": 1}, {"n": 1})
    elsewhere = next_entry(None, lot="f" * 32, what=What.LOT, by="A", at=AT, facts={"n": 1})
    otherwise = next_entry(None, lot=LOT, what=What.PIECE, by="A", at=AT, facts={"n": 1})
    assert len({one.hash, two.hash, elsewhere.hash, otherwise.hash}) == 4
    assert len({seal_of(1, one.hash, START), seal_of(2, one.hash, START)}) == 2
