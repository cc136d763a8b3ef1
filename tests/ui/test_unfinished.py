"""Reading that a new run of the page cuts off is carried on, as after a lost connection."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from tests.stand_in import StandInReader, encoded, picture
from ui import cards, desk, loading, shared
from ui.inspecting import shipment
from ui.keys import Keys
from ui.records import Records
from ui.serving import APP
from vision.photo import Photo
from vision.reading import PhotoReading

BY = "A. Inspector"


@dataclass(frozen=True)
class CutOff(StandInReader):
    """Lets Streamlit run the page anew, without the press, in place of the third answer."""

    asked: list[str] = field(default_factory=list)

    def read(self, photo: Photo) -> PhotoReading:
        self.asked.append(photo.name)
        if len(self.asked) == 3:
            st.rerun()
        return super().read(photo)


@pytest.fixture
def cut_off(monkeypatch: pytest.MonkeyPatch) -> CutOff:
    reader = CutOff()
    monkeypatch.setattr(loading, "load_reader", lambda: reader)
    return reader


@pytest.fixture
def page(cut_off: CutOff) -> AppTest:  # noqa: ARG001 - puts the reader in place
    shared.reader.clear()
    shared._kept.clear()
    return AppTest.from_file(str(APP), default_timeout=60).run()


def photos(count: int) -> dict[str, bytes]:
    return {f"P-{at} left.jpg": encoded(picture(red=40 * at)) for at in range(count)}


def drop(page: AppTest, key: str, files: dict[str, bytes]) -> None:
    page.file_uploader(key=key).set_value(
        [(name, data, "image/jpeg") for name, data in files.items()]
    )


def listed(page: AppTest) -> list[cards.Card]:
    return page.session_state.get(Keys.CARDS, [])


def test_photos_are_read_to_the_last_and_none_twice(page: AppTest, cut_off: CutOff) -> None:
    drop(page, Keys.UPLOAD, photos(5))
    page.button(key=Keys.READ).click().run()
    assert not page.exception
    assert page.status[0].label == "Photos read: 5"
    assert sorted(card.photo for card in listed(page)) == sorted(photos(5))
    assert cut_off.asked == [f"P-{at} left.jpg" for at in (0, 1, 2, 2, 3, 4)]
    page.run()
    assert not page.status, "what came to its end is not done again"


def test_samples_are_read_to_the_last(
    page: AppTest, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for name, data in photos(4).items():
        (tmp_path / name).write_bytes(data)
    monkeypatch.setattr(loading, "SAMPLES", tmp_path)
    page.button(key=Keys.SAMPLES).click().run()
    assert page.status[0].label == "Photos read: 4"
    assert [card.is_sample for card in listed(page)] == [True] * 4


def test_a_list_that_was_left_off_says_so(page: AppTest) -> None:
    """Another page was looked at while photos were read: the browser's files are gone."""
    page.session_state[Keys.READING] = "own"
    page.run()
    assert desk.LEFT_OFF in [each.value for each in page.warning]
    page.run()
    assert desk.LEFT_OFF not in [each.value for each in page.warning]


def test_clearing_the_list_ends_it(page: AppTest, cut_off: CutOff) -> None:
    drop(page, Keys.UPLOAD, photos(2))
    page.button(key=Keys.READ).click().run()
    page.session_state[Keys.READING] = "own"
    page.button(key=Keys.CLEAR).click().run()
    assert listed(page) == []
    assert len(cut_off.asked) == 2


def test_a_fault_is_not_tried_again_and_again(
    page: AppTest, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> None:
        raise ZeroDivisionError("oops")

    monkeypatch.setattr(cards, "make_card", fails)
    drop(page, Keys.UPLOAD, photos(1))
    page.button(key=Keys.READ).click().run()
    assert page.exception
    page.run()
    assert not page.exception


def test_a_shipment_is_taken_in_to_the_last(
    page: AppTest, records: Records, cut_off: CutOff
) -> None:
    lot = records.open_lot("Delivery 3", yard="North yard", by=BY)
    page.switch_page("site/shipment.py")
    page.query_params["lot"] = lot.uid
    page.run()
    page.text_input(key=Keys.PERSON).set_value(BY)
    drop(page, f"{Keys.SHIPMENT}-False", photos(5))
    page.button(key="take_in").click().run()
    assert not page.exception
    assert len(records.photos(lot.uid)) == 5
    assert page.status[0].label.startswith("Taken in: 2; there already: 3")
    assert cut_off.asked == [f"P-{at} left.jpg" for at in (0, 1, 2, 2, 3, 4)]


def test_a_shipment_that_was_left_off_says_so(page: AppTest, records: Records) -> None:
    lot = records.open_lot("Delivery 3", yard="North yard", by=BY)
    page.switch_page("site/shipment.py")
    page.query_params["lot"] = lot.uid
    page.session_state[Keys.TAKING] = lot.uid
    page.session_state[Keys.PERSON] = BY
    page.run()
    assert shipment.STOPPED in [each.value for each in page.error]
