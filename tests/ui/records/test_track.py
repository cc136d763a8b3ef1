"""The account of right and wrong readings, against counts made by hand and a reference library."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import proportion_confint

from fittings.words import Reading
from tests.ui.records.deliveries import (
    ELBOW,
    INSPECTOR,
    MODEL,
    TEE,
    Delivery,
    picture,
    reading_of,
)
from ui.records import Outcome, Records
from ui.records.track import Account, Case, Share, accounts

SEEN, LONG, NONE, UNCLEAR = (
    Reading.FABRICATION_SEAM,
    Reading.LONG_SEAM_ONLY,
    Reading.NO_SEAM_SEEN,
    Reading.UNCLEAR,
)
OTHER_MODEL = {"model_version": "3", "model_sha256": "1" * 64}
CASES = st.builds(
    Case,
    yard=st.sampled_from(["North", "South", ""]),
    kind=st.sampled_from(["tee", "elbow"]),
    finish=st.sampled_from(["", "painted"]),
    word=st.sampled_from([None, *Reading]),
    fabricated=st.booleans(),
)


def case(word: Reading | None, fabricated: bool) -> Case:
    return Case(yard="North", kind="tee", finish="", word=word, fabricated=fabricated)


def test_an_account_counts_what_it_says() -> None:
    cases = [
        *[case(SEEN, True)] * 5,  # right
        *[case(NONE, True)] * 2,  # missed
        *[case(UNCLEAR, True)] * 1,  # not right either
        *[case(SEEN, False)] * 1,  # false alarm
        *[case(NONE, False)] * 4,  # right
        *[case(LONG, False)] * 3,  # right: a wrought fitting may have it
        *[case(UNCLEAR, False)] * 2,
        *[case(None, True)] * 2,  # nobody had read it
    ]
    found = accounts(cases)[0]
    assert (found.checked, found.not_read, found.unclear) == (20, 2, 3)
    assert found.right == Share(count=12, total=18)
    assert found.found == Share(count=5, total=8)
    assert found.false_alarms == Share(count=1, total=10)
    assert found.fabricated == Share(count=10, total=20)


@given(st.integers(0, 60).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_intervals_are_those_of_statsmodels(counted: tuple[int, int]) -> None:
    count, total = counted
    interval = Share(count=count, total=total).interval
    if total == 0:
        assert interval == (0.0, 1.0)
    else:
        expected = proportion_confint(count, total, alpha=0.05, method="wilson")
        assert interval == pytest.approx(expected, abs=1e-12)


def test_a_share_is_told_with_its_interval() -> None:
    # 8 of 10: 49 to 94 %, as in Brown, Cai and DasGupta's formula worked by hand.
    assert Share(count=8, total=10).in_words == "8 of 10, 80 % [49, 94]"
    assert Share(count=0, total=0).in_words == "none yet"
    assert Share(count=0, total=0).as_json()["share"] is None


@given(st.lists(CASES, max_size=30))
def test_groups_add_up_to_all(cases: list[Case]) -> None:
    told = accounts(cases)
    assert told[0].by == told[0].group == "all"
    for by in ("yard", "kind", "finish"):
        groups = [each for each in told if each.by == by]
        assert len({each.group for each in groups}) == len(groups)
        for name in ("checked", "not_read", "unclear"):
            assert sum(getattr(g, name) for g in groups) == getattr(told[0], name)
        for name in ("right", "found", "false_alarms", "fabricated"):
            assert sum(getattr(g, name).count for g in groups) == getattr(told[0], name).count
            assert sum(getattr(g, name).total for g in groups) == getattr(told[0], name).total


# --------------------------------------------------------------------- from the records


def read_piece(
    records: Records, lot: str, tag: str, word: Reading | None, outcome: Outcome, **rest: str
) -> str:
    """A piece with one photo, its reading and then a check; its uid."""
    piece = records.add_piece(lot, tag, by=INSPECTOR, **rest).uid
    if word is not None:
        data = tag.encode()
        photo = records.add_photo(lot, data, f"{tag}.jpg", by=INSPECTOR, piece=piece)
        records.add_reading(photo.uid, reading_of(data, word, 0.5), **MODEL)
    records.record_check(piece, "bore", outcome, by=INSPECTOR)
    return piece


def by_group(records: Records, model_sha256: str | None = None) -> dict[tuple[str, str], Account]:
    return {(each.by, each.group): each for each in records.track_record(model_sha256)}


def test_checks_are_set_against_readings_by_yard_kind_and_finish(records: Records) -> None:
    north = records.open_lot("One", by=INSPECTOR, yard="North yard").uid
    south = records.open_lot("Two", by=INSPECTOR, yard="South yard").uid
    tee, elbow = (each.uid for each in records.add_order_lines(north, (TEE, ELBOW), by=INSPECTOR))
    fab, formed, unsure = Outcome.FABRICATED, Outcome.FORMED, Outcome.CANNOT_TELL
    read_piece(records, north, "1", SEEN, fab, order_line=tee, finish="painted")
    read_piece(records, north, "2", NONE, fab, order_line=tee, finish="painted")
    read_piece(records, north, "3", LONG, formed, order_line=elbow)
    read_piece(records, north, "4", SEEN, unsure, order_line=tee)
    read_piece(records, south, "5", SEEN, formed)
    read_piece(records, south, "6", None, fab)
    found = by_group(records)
    assert set(found) == {
        ("all", "all"),
        ("yard", "North yard"),
        ("yard", "South yard"),
        ("kind", "tee"),
        ("kind", "elbow"),
        ("kind", ""),
        ("finish", ""),
        ("finish", "painted"),
    }
    everything = found["all", "all"]
    assert (everything.checked, everything.not_read) == (5, 1)
    assert everything.right == Share(count=2, total=4)
    assert everything.found == Share(count=1, total=2)
    assert found["yard", "North yard"].fabricated == Share(count=2, total=3)
    assert found["yard", "South yard"].false_alarms == Share(count=1, total=1)
    assert found["kind", "elbow"].right == Share(count=1, total=1)
    # An order line's kind goes before the photo's; without either it is not said.
    assert found["kind", "tee"].checked == 3
    assert found["finish", "painted"].found == Share(count=1, total=2)


def test_what_was_read_after_the_check_does_not_count(local: Records) -> None:
    lot = local.open_lot("One", by=INSPECTOR).uid
    piece = read_piece(local, lot, "1", NONE, Outcome.FABRICATED)
    photo = local.photos(lot)[0]
    local.add_reading(photo.uid, reading_of(b"1", SEEN, 0.9), **MODEL)
    together = {"verdict": {"reading": "fabrication_seam", "fabricated_probability": 0.95}}
    local.add_piece_reading(piece, together, **MODEL)
    local.record_check(piece, "macro_etch", Outcome.FABRICATED, by=INSPECTOR)
    assert local.track_record()[0].found == Share(count=0, total=1)


def test_a_photo_counts_for_the_piece_that_it_lay_with_at_the_check(local: Records) -> None:
    lot = local.open_lot("One", by=INSPECTOR).uid
    first = read_piece(local, lot, "1", SEEN, Outcome.FABRICATED)
    second = read_piece(local, lot, "2", None, Outcome.FORMED)
    local.place_photo(local.photos(lot)[0].uid, second, by=INSPECTOR)
    assert local.piece_file(first).photos == ()
    found = local.track_record()[0]
    assert (found.not_read, found.found) == (1, Share(count=1, total=1))


def test_a_later_check_corrects_an_earlier_one(local: Records) -> None:
    lot = local.open_lot("One", by=INSPECTOR).uid
    piece = read_piece(local, lot, "1", SEEN, Outcome.FORMED)
    assert local.track_record()[0].false_alarms == Share(count=1, total=1)
    local.record_check(piece, "macro_etch", Outcome.FABRICATED, by=INSPECTOR)
    local.record_check(piece, "penetrant", Outcome.CANNOT_TELL, by=INSPECTOR)
    assert local.track_record()[0].found == Share(count=1, total=1)


def test_the_worst_photo_speaks_and_the_pieces_own_reading_before_it(local: Records) -> None:
    lot = local.open_lot("One", by=INSPECTOR).uid
    piece = local.add_piece(lot, "1", by=INSPECTOR).uid
    for number, (word, probability) in enumerate(((NONE, 0.1), (SEEN, 0.8), (UNCLEAR, 0.5))):
        data = picture(number)
        photo = local.add_photo(lot, data, f"{number}.jpg", by=INSPECTOR, piece=piece)
        local.add_reading(photo.uid, reading_of(data, word, probability), **MODEL)
    # A photo that was taken off the piece again doesn't speak.
    data = picture(9)
    moved = local.add_photo(lot, data, "9.jpg", by=INSPECTOR, piece=piece)
    local.add_reading(moved.uid, reading_of(data, UNCLEAR, 0.99), **MODEL)
    local.place_photo(moved.uid, None, by=INSPECTOR)
    local.record_check(piece, "bore", Outcome.FABRICATED, by=INSPECTOR)
    assert local.track_record()[0].found == Share(count=1, total=1)

    other = local.add_piece(lot, "2", by=INSPECTOR).uid
    photo = local.add_photo(lot, picture(1), "1.jpg", by=INSPECTOR, source="x", piece=other)
    local.add_reading(photo.uid, reading_of(picture(1), SEEN, 0.8), **MODEL)
    together = {"verdict": {"reading": "no_seam_seen", "fabricated_probability": 0.2}}
    local.add_piece_reading(other, together, **MODEL)
    local.record_check(other, "bore", Outcome.FABRICATED, by=INSPECTOR)
    assert local.track_record()[0].found == Share(count=1, total=2)


def test_one_models_readings_can_be_asked_for_alone(local: Records) -> None:
    lot = local.open_lot("One", by=INSPECTOR).uid
    piece = local.add_piece(lot, "1", by=INSPECTOR).uid
    data = picture(1)
    photo = local.add_photo(lot, data, "1.jpg", by=INSPECTOR, piece=piece)
    local.add_reading(photo.uid, reading_of(data, NONE, 0.1), **MODEL)
    newer = replace(reading_of(data, SEEN, 0.9), model_sha256=OTHER_MODEL["model_sha256"])
    local.add_reading(photo.uid, newer, **OTHER_MODEL)
    local.record_check(piece, "bore", Outcome.FABRICATED, by=INSPECTOR)
    assert local.track_record()[0].found == Share(count=1, total=1)
    assert local.track_record(MODEL["model_sha256"])[0].found == Share(count=0, total=1)
    assert local.track_record(OTHER_MODEL["model_sha256"])[0].found == Share(count=1, total=1)
    assert local.track_record("2" * 64)[0].not_read == 1


def test_the_pieces_of_a_delivery_count_once_checked(filled: Delivery) -> None:
    # The tee was read as fabricated (0.95) and found so; the elbow nobody checked.
    found = filled.records.track_record()[0]
    assert (found.checked, found.right) == (1, Share(count=1, total=1))
