"""Long lists a page at a time. An order of a thousand lines kept a browser busy for minutes."""

from __future__ import annotations

import pytest
from streamlit.testing.v1 import AppTest

from tests.stand_in import StandInReader, a_reading
from ui.cards import Card
from ui.keys import Keys
from ui.paging import CARDS_A_PAGE, ORDER_LINES_A_PAGE
from ui.serving import APP
from vision.reading import PhotoError

ROW = "90 LR elbow,6,40,ASTM A234 WPB"


@pytest.fixture
def page(reader: StandInReader) -> AppTest:  # noqa: ARG001 - puts the stand-in in place
    return AppTest.from_file(str(APP), default_timeout=60).run()


def test_a_long_order_is_shown_a_page_at_a_time(page: AppTest) -> None:
    lines, bad = 2 * ORDER_LINES_A_PAGE + 3, ORDER_LINES_A_PAGE + 1
    rows = ["Fitting,Size,Schedule,Material", *[ROW] * lines, *["elbow,1e308,40,WPB"] * bad]
    page.switch_page("site/trade.py").run()
    page.session_state["order_bytes"] = ("o.csv", "\n".join(rows).encode())
    page.run()
    assert not page.exception
    assert len(page.table) == ORDER_LINES_A_PAGE
    assert len(page.error) == ORDER_LINES_A_PAGE
    unread, shown = page.number_input
    assert shown.label == f"Order lines, {lines} in all: page, of 3"
    assert unread.label == f"Rows that could not be read, {bad} in all: page, of 2"
    shown.set_value(3)
    unread.set_value(2)
    page.run()
    titles = [each.value for each in page.markdown if each.value.startswith("**Row ")]
    assert [title.partition(":")[0] for title in titles] == ["**Row 52", "**Row 53", "**Row 54"]
    assert [f"row {1 + lines + bad}" in each.value for each in page.error] == [True]


def card(number: int) -> Card:
    name = f"{number:03}.jpg"
    reading = a_reading(640, 480, photo=name, probability=1 - number / 1000)
    return Card(card_id=name, photo=name, stem=name, is_sample=False, answer=reading)


def test_many_photos_are_shown_a_page_at_a_time_and_all_are_in_the_table(page: AppTest) -> None:
    many = CARDS_A_PAGE + 2
    errors = [PhotoError(photo=f"{i}.jpg", kind="empty", message=f"{i}") for i in range(many)]
    page.session_state[Keys.CARDS] = [
        *[card(number) for number in range(many)],
        *[
            Card(card_id=e.photo, photo=e.photo, stem=e.photo, is_sample=False, answer=e)
            for e in errors
        ],
    ]
    page.run()
    assert not page.exception
    assert len(page.dataframe[0].value) == many
    assert [each.value for each in page.text] == [f"{n:03}.jpg" for n in range(CARDS_A_PAGE)]
    assert len(page.error) == CARDS_A_PAGE
    for each in page.number_input:
        each.set_value(2)
    page.run()
    assert [each.value for each in page.text] == ["050.jpg", "051.jpg"]
    assert [each.value for each in page.error] == ["50", "51"]
