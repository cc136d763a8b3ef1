"""Whatever somebody does to the records behind the program's back, verify finds it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from sqlalchemy import Connection, delete, func, insert, select, update

from tests.ui.records.deliveries import INSPECTOR, Delivery, picture
from ui.records import Decision, Outcome, Records
from ui.records import verify as verifying
from ui.records.adding import last_entry
from ui.records.chain import What, next_entry
from ui.records.database import append
from ui.records.guards import guard_names, guard_statements
from ui.records.tables import TABLES, decisions, journal, journal_end, lots, pieces, readings
from ui.records.views import entry_of

GUARDED = ("journal", *(table.name for table in TABLES.values()))
AT = "2026-03-05T07:08:09.000000Z"


def behind_its_back(made: Delivery, change: Callable[[Connection], object]) -> None:
    """Takes the triggers off, changes the database, and puts the triggers back."""
    engine = made.records._database._engine
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        for table in GUARDED:
            for name in guard_names(table):
                on = f' ON "{table}"' if connection.dialect.name == "postgresql" else ""
                connection.exec_driver_sql(f'DROP TRIGGER "{name}"{on}')
        change(connection)
        for statement in guard_statements(connection.dialect.name, GUARDED):
            connection.exec_driver_sql(statement)


def told(records: Records) -> str:
    """All problems in one text."""
    return "\n".join(f"{each.lot}: {each.what}" for each in records.verify().problems)


def numbers(connection: Connection, what: What) -> list[int]:
    query = select(journal.c.number).where(journal.c.what == what.value).order_by(journal.c.number)
    return list(connection.execute(query).scalars())


def last(connection: Connection) -> int:
    return connection.execute(select(func.max(journal.c.number))).scalar_one()


def without(connection: Connection, number: int) -> None:
    """Removes an entry and its row."""
    for table in (*TABLES.values(), journal):
        connection.execute(delete(table).where(table.c.number == number))


def test_what_nobody_touched_is_unbroken(filled: Delivery) -> None:
    found = filled.records.verify()
    assert found.problems == ()
    assert (found.lots, found.photos) == (1, 4)
    assert found.entries == found.number == len(filled.records.entries(filled.lot.uid))


def edit_body(c: Connection) -> None:
    number = numbers(c, What.DECISION)[0]
    body = c.execute(select(journal.c.body).where(journal.c.number == number)).scalar_one()
    new = body.replace('"hold"', '"return"')
    assert new != body
    c.execute(update(journal).where(journal.c.number == number).values(body=new))
    c.execute(update(decisions).where(decisions.c.number == number).values(decision="return"))


def edit_person(c: Connection) -> None:
    number = numbers(c, What.DECISION)[0]
    c.execute(update(journal).where(journal.c.number == number).values(by="Somebody else"))


def edit_time(c: Connection) -> None:
    c.execute(update(journal).where(journal.c.number == 3).values(at=AT))


def edit_seal(c: Connection) -> None:
    c.execute(update(journal).where(journal.c.number == 3).values(seal="f" * 64))


def remove_entry(c: Connection) -> None:
    without(c, numbers(c, What.PIECE_READING)[0])


def remove_entry_and_close_the_gap(c: Connection) -> None:
    """The entries after it get numbers and positions one less, as if it had never been there."""
    gone = numbers(c, What.CERTIFICATE)[0]
    end = last(c)
    without(c, gone)
    for number in range(gone + 1, end + 1):
        row = c.execute(select(journal).where(journal.c.number == number)).one()
        values = {**row._mapping, "number": number - 1, "position": row.position - 1}
        table = TABLES[What(row.what)]
        kept = dict(c.execute(select(table).where(table.c.number == number)).one()._mapping)
        without(c, number)
        c.execute(insert(journal).values(values))
        c.execute(insert(table).values({**kept, "number": number - 1}))
    seal = c.execute(select(journal.c.seal).where(journal.c.number == end - 1)).scalar_one()
    c.execute(update(journal_end).values(number=end - 1, seal=seal))


def remove_last(c: Connection) -> None:
    without(c, last(c))


def remove_last_and_move_the_end(c: Connection) -> None:
    """Found only because of the seal that was noted outside."""
    end = last(c)
    without(c, end)
    seal = c.execute(select(journal.c.seal).where(journal.c.number == end - 1)).scalar_one()
    c.execute(update(journal_end).values(number=end - 1, seal=seal))


def remove_everything(c: Connection) -> None:
    for table in (*TABLES.values(), journal):
        c.execute(delete(table))


def swap_two(c: Connection) -> None:
    first, second = numbers(c, What.PIECE)
    columns = ("what", "by", "at", "body", "previous", "hash", "seal")
    a, b = (c.execute(select(journal).where(journal.c.number == n)).one() for n in (first, second))
    for number, row in ((first, b), (second, a)):
        values = {name: row._mapping[name] for name in columns}
        c.execute(update(journal).where(journal.c.number == number).values(values))


def edit_row(c: Connection) -> None:
    c.execute(update(decisions).values(decision="release"))


def edit_probability(c: Connection) -> None:
    c.execute(update(readings).values(fabricated_probability=0.01))


def remove_row(c: Connection) -> None:
    c.execute(delete(decisions))


def add_row(c: Connection) -> None:
    row = {"number": 1, "lot": "0" * 32, "piece": "0" * 32, "decision": "release"}
    c.execute(insert(decisions).values(row))


def forge_release(c: Connection) -> None:
    """An entry chained and sealed as the program does it, for a piece that nobody checked."""
    found = c.execute(select(pieces).where(pieces.c.tag == "P-08")).one()
    facts = {"piece": found.uid, "decision": "release", "reason": "in a hurry"}
    entry = next_entry(
        last_entry(c, found.lot),
        lot=found.lot,
        what=What.DECISION,
        by="Somebody",
        at=AT,
        facts=facts,
    )
    append(c, entry)


def forge_decision_by_the_program(c: Connection) -> None:
    found = c.execute(select(pieces).where(pieces.c.tag == "P-08")).one()
    facts = {"piece": found.uid, "decision": "hold", "reason": "suspect"}
    before = last_entry(c, found.lot)
    entry = next_entry(
        before, lot=found.lot, what=What.DECISION, by="seamtriage", at=AT, facts=facts
    )
    append(c, entry)


def forge_nonsense(c: Connection) -> None:
    lot = c.execute(select(lots.c.lot)).scalar_one()
    facts = {"piece": "0" * 32, "dimension": "od", "value_mm": 168.3, "note": ""}
    entry = next_entry(
        last_entry(c, lot), lot=lot, what=What.MEASUREMENT, by="X", at=AT, facts=facts
    )
    append(c, entry)


def chain_by_hash_alone(c: Connection) -> None:
    """A lot's chain made right again after an edit; the seals are not."""
    lot = c.execute(select(lots.c.lot)).scalar_one()
    before = None
    for row in c.execute(select(journal).order_by(journal.c.number)).all():
        what = What(row.what)

        entry = entry_of(row)
        facts = entry.facts
        if what is What.MEASUREMENT:
            facts["note"] = "laser"
        before = next_entry(before, lot=lot, what=what, by=row.by, at=row.at, facts=facts)
        values = {"body": before.body, "previous": before.previous, "hash": before.hash}
        c.execute(update(journal).where(journal.c.number == row.number).values(values))


TAMPERING = [
    (edit_body, "was altered: its hash does not fit"),
    (edit_person, "was altered: its hash does not fit"),
    (edit_time, "was altered: its hash does not fit"),
    (edit_seal, "the seal of entry 3 of the journal does not fit"),
    (remove_entry, "of the journal are missing"),
    (remove_entry_and_close_the_gap, "is not chained to the one before"),
    (remove_last, "missing at the end"),
    (remove_everything, "missing at the end"),
    (swap_two, "is not chained to the one before"),
    (edit_row, "of decisions was altered: decision"),
    (edit_probability, "of readings was altered: fabricated_probability"),
    (remove_row, "of decisions is missing"),
    (add_row, "of decisions has no entry"),
    (forge_release, "a release needs a recorded physical check"),
    (forge_decision_by_the_program, "the program never decides"),
    (forge_nonsense, "it speaks of a piece not there"),
    (chain_by_hash_alone, "seal of entry"),
]


@pytest.mark.parametrize(("change", "says"), TAMPERING, ids=lambda v: getattr(v, "__name__", ""))
def test_tampering_is_found(
    local_filled: Delivery, change: Callable[[Connection], object], says: str
) -> None:
    behind_its_back(local_filled, change)
    assert says in told(local_filled.records)


@pytest.mark.parametrize(
    ("change", "says"), TAMPERING[::5], ids=lambda v: getattr(v, "__name__", "")
)
def test_tampering_is_found_in_each_kind_of_database(
    filled: Delivery, change: Callable[[Connection], object], says: str
) -> None:
    behind_its_back(filled, change)
    assert says in told(filled.records)


def test_records_written_anew_are_found_by_a_seal_noted_outside(filled: Delivery) -> None:
    seal = filled.records.verify().seal
    head = filled.records.entries(filled.lot.uid)[-1].hash
    behind_its_back(filled, remove_last_and_move_the_end)
    assert filled.records.verify().unbroken  # nothing inside can show it
    filled.records.measure(filled.tee.uid, "od", 323.8, by=INSPECTOR)
    for noted in (seal, head):
        found = filled.records.verify(noted=[noted]).problems
        assert [each.what for each in found] == [
            f"no entry has the hash or seal that was noted: {noted}"
        ]


def test_what_was_noted_outside_fits_while_the_records_go_on(filled: Delivery) -> None:
    seal = filled.records.verify().seal
    head = filled.records.entries(filled.lot.uid)[-1].hash
    filled.records.measure(filled.tee.uid, "od", 323.8, by=INSPECTOR)
    assert filled.records.verify(noted=[seal, head]).unbroken


def test_a_trigger_taken_off_is_found(filled: Delivery) -> None:
    engine = filled.records._database._engine
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        on = " ON decisions" if connection.dialect.name == "postgresql" else ""
        connection.exec_driver_sql(f"DROP TRIGGER decisions_never_changed{on}")
    assert "the trigger decisions_never_changed is missing" in told(filled.records)


def test_an_altered_photo_and_a_missing_one_are_found(local_filled: Delivery) -> None:
    store = local_filled.records.store
    first, second, third, _ = local_filled.photos
    data = bytearray(picture(1))
    data[7] ^= 1
    store.path(first.sha256).write_bytes(bytes(data))
    store.path(second.sha256).unlink()
    store.path(third.sha256).write_bytes(picture(3)[:-1])
    said = told(local_filled.records)
    assert f"photo {first.sha256} is altered" in said
    assert f"photo {second.sha256} is missing" in said
    assert f"photo {third.sha256} is altered" in said
    assert said.count("\n") == 2
    assert local_filled.lot.name in said


def test_a_damaged_photo_is_made_whole_by_its_original(local_filled: Delivery) -> None:
    records, photo = local_filled.records, local_filled.photos[0]
    records.store.path(photo.sha256).write_bytes(b"overwritten")
    again = records.add_photo(
        local_filled.lot.uid, picture(1), photo.name, by=INSPECTOR, source=photo.source
    )
    assert again == replace(photo, piece=again.piece)
    assert records.store.read(photo.sha256) == picture(1)
    assert records.verify().unbroken


def test_an_edit_of_one_entry_does_not_make_all_others_look_wrong(local_filled: Delivery) -> None:
    behind_its_back(local_filled, edit_person)
    assert len(local_filled.records.verify().problems) == 1


def test_endless_problems_are_cut_short(
    local_filled: Delivery, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(verifying, "MOST_PROBLEMS", 3)
    behind_its_back(local_filled, lambda c: c.execute(delete(TABLES[What.PHOTO])))
    problems = local_filled.records.verify().problems
    assert len(problems) == 4
    assert problems[-1].what == "and more; only the first are told"


def test_a_check_that_was_removed_no_longer_carries_its_release(local_filled: Delivery) -> None:
    """The whole chain made anew without the check: rules are held against the journal too."""
    records, elbow = local_filled.records, local_filled.elbow.uid
    records.record_check(elbow, "bore", Outcome.FORMED, by=INSPECTOR)
    records.decide(elbow, Decision.RELEASE, by=INSPECTOR, reason="smooth")

    def rebuild(c: Connection) -> None:

        entries = [entry_of(r) for r in c.execute(select(journal).order_by(journal.c.number))]
        for table in (*TABLES.values(), journal):
            c.execute(delete(table))
        c.execute(update(journal_end).values(number=0, seal="0" * 64))
        before = None
        for entry in entries:
            if entry.what is not What.CHECK:
                before = next_entry(
                    before,
                    lot=entry.lot,
                    what=entry.what,
                    by=entry.by,
                    at=entry.at,
                    facts=entry.facts,
                )
                append(c, before)

    behind_its_back(local_filled, rebuild)
    problems = records.verify().problems
    assert len(problems) == 1
    assert "a release needs a recorded physical check" in problems[0].what
