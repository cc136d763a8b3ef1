"""The checklist: what it asks, what it takes from the order, and that no answer is lost."""

from __future__ import annotations

from dataclasses import FrozenInstanceError

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.order.grades import grades
from fittings.order.lines import SUFFIXES, FittingForm, OrderLine
from fittings.receiving.review import (
    ADVISORY_REVIEW,
    Answer,
    Checklist,
    ReviewError,
    ReviewItem,
    Standing,
)
from fittings.receiving.review_facts import facts_of
from fittings.receiving.review_items import checklist
from fittings.words import Construction

KEYS = (
    "certificate",
    "raw_material",
    "raw_material_form",
    "heat_number",
    "construction",
    "chemistry",
    "tensile",
    "tensile_witnessed",
    "heat_treatment",
    "weld_filler",
    "weld_heat_treatment",
    "weld_repairs",
    "radiography",
    "hydrotest",
    "marking",
)
OF_WELDS = {"weld_filler", "weld_heat_treatment", "radiography"}
NEVER = ("accept", "safe", "genuine", "approve", "conform", "released", "all clear")


def line(
    spec: str | None = "A234",
    grade: str | None = "WPB",
    suffix: str = "",
    construction: Construction | None = None,
) -> OrderLine:
    return OrderLine(
        row=3,
        form=FittingForm.REDUCING_TEE,
        nps="12",
        second_nps="8",
        schedule="STD",
        spec=spec,
        grade=grade,
        suffix=suffix,
        construction=construction,
        quantity=4,
    )


def standings(each: Checklist) -> dict[str, Standing]:
    return {item.key: each.standing(item.key) for item in each.items}


def test_every_item_says_what_why_and_from_where() -> None:
    each = checklist(line())
    assert tuple(item.key for item in each.items) == KEYS
    assert set(standings(each).values()) == {Standing.OPEN}
    for item in each.items:
        assert all((item.title, item.look_for, item.why, item.source))
        words = f"{item.title} {item.look_for} {item.why} {item.note}".lower()
        assert not any(word in words for word in NEVER), item.key
    assert "B16.9 1.3" in each.item("construction").source
    assert "capable" in each.item("hydrotest").title
    assert "from memory" in each.item("hydrotest").source


@pytest.mark.parametrize("grade", grades(), ids=lambda grade: f"{grade.spec} {grade.grade}")
def test_limits_are_those_of_the_table_of_grades(grade) -> None:  # type: ignore[no-untyped-def]
    each = checklist(line(grade.spec, grade.grade))
    text = each.item("tensile").look_for
    if grade.min_uts_mpa is not None:
        assert f"tensile strength at least {grade.min_uts_mpa:g} MPa" in text
    if grade.min_yield_mpa is not None:
        assert f"yield strength at least {grade.min_yield_mpa:g} MPa" in text
    if grade.min_uts_mpa is None and grade.min_yield_mpa is None:
        assert "no limits" in text
    assert grade.alloy in each.item("chemistry").look_for
    assert grade.heat_treatment in each.item("heat_treatment").look_for
    assert all(start in each.item("raw_material").look_for for start in grade.seamless_start)


def test_published_strengths() -> None:
    # ASTM A234 WPB: 415 and 240 MPa, two public tables; A403 WP304L: 485 and 170 MPa, from memory.
    plain = checklist(line()).item("tensile")
    assert "at least 415 MPa, yield strength at least 240 MPa" in plain.look_for
    stainless = checklist(line("A403", "WP304L", "S")).item("tensile")
    assert "at least 485 MPa, yield strength at least 170 MPa" in stainless.look_for
    assert stainless.from_memory


def test_seamless_orders_need_no_papers_of_welds() -> None:
    for order in (
        line("A403", "WP304L", "S"),
        line("A234", "WPB", "", Construction.SEAMLESS),
    ):
        each = checklist(order)
        found = standings(each)
        assert {key for key, standing in found.items() if standing is Standing.NOT_APPLICABLE} == (
            OF_WELDS
        )
        assert "ordered seamless" in each.note("radiography")
        # A repair by welding is asked for all the same.
        assert found["weld_repairs"] is Standing.OPEN
        assert "A515" not in each.item("raw_material").look_for


def test_welded_orders_ask_for_the_whole_length() -> None:
    # ASTM A403-00b Table 1, one public table: WX radiographs, WU ultrasonics.
    by_class = {
        suffix: checklist(line("A403", "WP304L", suffix)).item("radiography")
        for suffix in ("W", "WX", "WU")
    }
    assert all("100 % of its length" in item.look_for for item in by_class.values())
    assert "radiographs of every weld" in by_class["WX"].look_for
    assert "ultrasonic examination of every weld" in by_class["WU"].look_for
    assert "UW-51" not in by_class["WU"].look_for
    assert "UW-51 from memory" in by_class["WX"].source
    assert "radiographs over the whole length" in (
        checklist(line("A234", "WPB", "W")).item("radiography").look_for
    )
    assert "none required by the standard" in (
        checklist(line("A403", "CR304", "CR")).item("radiography").look_for
    )


def test_an_order_that_contradicts_itself_leaves_nothing_out() -> None:
    seamless_in_words = line("A403", "WP304L", "WX", Construction.SEAMLESS)
    assert set(standings(checklist(seamless_in_words)).values()) == {Standing.OPEN}
    order = line("A234", "WPB", "S", Construction.WELDED)
    each = checklist(order)
    assert facts_of(order).contradicts
    assert set(standings(each).values()) == {Standing.OPEN}
    assert "contradict each other" in each.item("construction").look_for
    assert "radiographs of the welds" in each.item("radiography").look_for
    assert not facts_of(line("A234", "WPB", "W", Construction.WELDED)).contradicts


def test_what_the_order_names_is_repeated() -> None:
    order = OrderLine(
        row=0,
        form=FittingForm.ELBOW_90_LONG,
        nps="6",
        spec="A234",
        grade="WPB",
        start_material="A106-B",
        certificate="EN 10204 3.2",
        examination="RT 100 %",
    )
    each = checklist(order)
    assert "the order says: EN 10204 3.2" in each.item("certificate").look_for
    assert "the order says: A106-B" in each.item("raw_material").look_for
    assert "the order says: RT 100 %" in each.item("radiography").look_for


def test_what_the_tables_lack_is_said_and_not_guessed() -> None:
    each = checklist(line("A234", "WPZ"))
    assert "no limits for A234 WPZ" in each.item("tensile").look_for
    assert "not in the table here" in each.item("raw_material").look_for
    nameless = checklist(line(None, None))
    assert "the order names none" in nameless.item("marking").look_for


def test_the_marking_carries_the_letters_of_the_standard() -> None:
    def marking(*order: object) -> str:
        return checklist(line(*order)).item("marking").look_for  # type: ignore[arg-type]

    assert "A234 WPB-W, the letter W for welded" in marking("A234", "WPB", "W")
    assert "a letter W if it is welded" in marking("A234", "WPB")
    assert "no letter for welded" in marking("A234", "WPB", "", Construction.SEAMLESS)
    assert "A403 WP304L-S, class S" in marking("A403", "WP304L", "S")
    assert "its class (S, W, WX or WU)" in marking("A403", "WP304L")
    assert "A403 CR304, no class letter" in marking("A403", "CR304", "CR")
    assert "schedule STD, NPS 12 x 8" in marking("A234", "WPB")


@pytest.mark.parametrize(
    ("wanted", "standing"),
    [(True, Standing.OPEN), (None, Standing.OPEN), (False, Standing.NOT_APPLICABLE)],
)
def test_a_witness_is_asked_for_where_the_order_wants_one(
    wanted: bool | None, standing: Standing
) -> None:
    each = checklist(line(), tensile_witnessed=wanted)
    assert each.standing("tensile_witnessed") is standing


def test_answers_give_a_new_checklist_and_keep_the_old_ones() -> None:
    first = checklist(line())
    second = first.with_answer("heat_number", Standing.PASS, "heat H7 on both")
    third = second.with_answer("heat_number", Standing.FAIL, " wrong heat on piece 3 ", by="QC 2")
    assert first.standing("heat_number") is Standing.OPEN
    assert second.standing("heat_number") is Standing.PASS
    assert third.standing("heat_number") is Standing.FAIL
    assert third.note("heat_number") == "wrong heat on piece 3"
    assert [each.standing for each in third.history("heat_number")] == [
        Standing.PASS,
        Standing.FAIL,
    ]
    assert third.history("heat_number")[1].by == "QC 2"
    assert third.history("marking") == ()
    with pytest.raises(FrozenInstanceError):
        third.answers = ()  # type: ignore[misc]


@given(
    given=st.lists(
        st.tuples(st.sampled_from(KEYS), st.sampled_from(list(Standing)), st.text(min_size=1)),
        max_size=12,
    ).map(lambda answers: [each for each in answers if each[2].strip()])
)
def test_no_answer_is_ever_lost(given: list[tuple[str, Standing, str]]) -> None:
    each = checklist(line())
    for number, (key, standing, note) in enumerate(given):
        before = each
        each = before.with_answer(key, standing, note)
        assert len(before.answers) == number
        assert each.answers[:-1] == before.answers
        assert each.standing(key) is standing
    assert sum(len(each.history(key)) for key in KEYS) == len(given)
    assert sum(each.counts().values()) == len(KEYS)
    last = {key: standing for key, standing, _ in given}
    assert all(each.standing(key) is standing for key, standing in last.items())


def test_the_summary_counts_and_judges_nothing() -> None:
    each = checklist(line())
    assert each.summary == "open: 15, fail: 0, pass: 0, not applicable: 0"
    for item in each.items:
        each = each.with_answer(item.key, Standing.PASS)
    assert each.summary == "open: 0, fail: 0, pass: 15, not applicable: 0"
    assert not any(word in each.summary for word in NEVER)
    assert "accepts nothing and rejects nothing" in ADVISORY_REVIEW


def test_answers_that_cannot_be_taken() -> None:
    each = checklist(line())
    with pytest.raises(ReviewError, match=r"item: 'heat_nubmer' .* did you mean heat_number\?"):
        each.with_answer("heat_nubmer", Standing.PASS)
    with pytest.raises(ReviewError, match="items are certificate, raw_material"):
        each.standing("zzz")
    for standing in (Standing.FAIL, Standing.NOT_APPLICABLE):
        with pytest.raises(ReviewError, match=f"note: say why marking is {standing.value}"):
            each.with_answer("marking", standing, "  ")
    assert each.answers == ()


def test_an_item_cannot_begin_answered_or_without_a_reason() -> None:
    texts = {"key": "x", "title": "t", "look_for": "l", "why": "w", "source": "from memory"}
    with pytest.raises(ValueError, match="can't begin as pass"):
        ReviewItem(**texts, standing=Standing.PASS)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="why it is not applicable"):
        ReviewItem(**texts, standing=Standing.NOT_APPLICABLE)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="look_for is empty"):
        ReviewItem(**{**texts, "look_for": ""})


@given(
    grade=st.sampled_from(grades()),
    suffix=st.sampled_from(SUFFIXES),
    construction=st.sampled_from((None, *Construction)),
)
def test_any_order_line_has_its_checklist(grade, suffix, construction) -> None:  # type: ignore[no-untyped-def]
    each = checklist(line(grade.spec, grade.grade, suffix, construction))
    assert tuple(item.key for item in each.items) == KEYS
    assert isinstance(each.with_answer("marking", Standing.PASS).answers[0], Answer)
