"""The pages on the records, the trade and the trainer, driven without a browser."""

from __future__ import annotations

import pytest
from streamlit.testing.v1 import AppTest

from fittings.order.lines import FittingForm, OrderLine
from fittings.words import ADVISORY
from tests.stand_in import StandInReader
from ui import shared, trainer_panels
from ui.keys import Keys
from ui.paging import ORDER_LINES_A_PAGE
from ui.records import Decision, Records
from ui.serving import APP
from ui.trainer import pictures

BY = "A. Inspector"


@pytest.fixture
def page(reader: StandInReader) -> AppTest:  # noqa: ARG001 - puts the stand-in in place
    shared.reader.clear()
    shared._kept.clear()
    return AppTest.from_file(str(APP), default_timeout=60).run()


def texts(page: AppTest) -> str:
    parts = (page.markdown, page.warning, page.info, page.error, page.success, page.caption)
    return "\n".join(str(each.value) for part in parts for each in part)


def to(page: AppTest, name: str, **query: str) -> AppTest:
    page.switch_page(f"site/{name}.py")
    for key, value in query.items():
        page.query_params[key] = value
    page.run()
    assert not page.exception
    assert ADVISORY in texts(page)
    return page


def a_lot(records: Records, photo: bytes) -> tuple[str, str]:
    """A lot with one piece and one read photo."""
    lot = records.open_lot("Delivery 3", yard="North yard", by=BY)
    piece = records.add_piece(lot.uid, "P-07", by=BY)
    taken = records.add_photo(lot.uid, photo, "left *1*.jpg", piece=piece.uid, by=BY)
    reader = StandInReader()
    answer = reader.read_bytes(photo, taken.name).reading
    assert answer is not None
    records.add_reading(taken.uid, answer, model_version=reader.version, model_sha256=reader.sha256)
    return lot.uid, piece.uid


def test_without_lots_the_page_tells_the_next_step_and_opens_one(
    page: AppTest, records: Records
) -> None:
    to(page, "lots")
    assert "There is no lot yet. Open one below" in texts(page)
    page.text_input(key=Keys.PERSON).set_value(BY)
    next(each for each in page.text_input if each.label == "Name of the lot").set_value("Lot *1*")
    page.button(key="open_lot").click().run()
    assert not page.exception
    assert [lot.name for lot in records.lots()] == ["Lot *1*"]
    assert page.header[0].value == r"Lot \*1\*"
    assert "No piece yet" in texts(page)
    assert "No order line yet" in texts(page)


def test_nothing_is_opened_without_a_name(page: AppTest, records: Records) -> None:
    to(page, "lots")
    page.button(key="open_lot").click().run()
    assert not page.exception
    assert "Write your name first" in page.error[0].value
    assert records.lots() == ()


@pytest.mark.usefixtures("records")
def test_a_lot_that_is_not_here_is_told(page: AppTest) -> None:
    to(page, "lots", lot="nobody")
    assert "no such lot" in page.error[0].value


def test_a_piece_is_held_with_a_reason_and_not_released_without_a_check(
    page: AppTest, records: Records, suspect_jpeg: bytes
) -> None:
    lot, piece = a_lot(records, suspect_jpeg)
    to(page, "lots", lot=lot)
    assert "P\\-07" in texts(page)
    to(page, "piece", piece=piece)
    assert page.subheader[0].value == "Fabrication seam seen"
    assert len(page.image) >= 1
    page.text_input(key=Keys.PERSON).set_value(BY)
    page.radio(key="decide_which").set_value("Release")
    page.text_area(key="decide_why").set_value("looks fine")
    page.button(key="decide_it").click().run()
    assert not page.exception
    assert "Not recorded" in page.error[0].value
    assert "physical check" in page.error[0].value
    assert page.text_area(key="decide_why").value == "looks fine", "what was typed is lost"
    page.radio(key="decide_which").set_value("Hold")
    page.button(key="decide_it").click().run()
    assert not page.exception
    assert "Decision recorded" in page.success[0].value
    (decided,) = records.piece_file(piece).decisions
    assert (decided.decision, decided.reason, decided.by) == (Decision.HOLD, "looks fine", BY)
    assert "Decision: Hold" in texts(page)


def test_a_decision_on_what_somebody_else_has_overtaken_is_refused(
    page: AppTest, records: Records, suspect_jpeg: bytes
) -> None:
    """The page was drawn before somebody else measured; the decision must not pass unseen."""
    _, piece = a_lot(records, suspect_jpeg)
    to(page, "piece", piece=piece)
    page.text_input(key=Keys.PERSON).set_value(BY).run()
    records.measure(piece, "run_wall", 9.0, by="B. Other")
    page.radio(key="decide_which").set_value("Hold")
    page.text_area(key="decide_why").set_value("a seam")
    page.button(key="decide_it").click().run()
    assert "look again, then decide" in page.error[0].value
    assert records.piece_file(piece).decisions == ()
    page.button(key="decide_it").click().run()
    assert "Decision recorded" in page.success[0].value


def test_a_check_is_recorded_and_shown_in_the_history(
    page: AppTest, records: Records, suspect_jpeg: bytes
) -> None:
    _, piece = a_lot(records, suspect_jpeg)
    to(page, "piece", piece=piece)
    page.text_input(key=Keys.PERSON).set_value(BY)
    check = page.selectbox(key="which_check")
    check.set_value(next(each for each in check.options if "bore" in each)).run()
    page.button(key="check_it").click().run()
    assert "Choose what the check showed" in page.error[0].value
    page.radio(key="check_out").set_value("Shows what a fabricated piece shows")
    page.button(key="check_it").click().run()
    assert not page.exception
    (recorded,) = records.piece_file(piece).checks
    assert recorded.key == "bore"
    assert "Check: look and feel in the bore" in texts(page).replace("\\", "")


def test_the_photos_of_a_piece_are_read_together_at_the_press_of_a_button(
    page: AppTest, records: Records, suspect_jpeg: bytes, plain_jpeg: bytes
) -> None:
    lot, piece = a_lot(records, suspect_jpeg)
    to(page, "piece", piece=piece)
    assert not any("unrolled" in each.value for each in page.subheader)
    page.button(key="read_together").click().run()
    assert not page.exception
    assert page.success[0].value == "Photos read together\\: Fabrication seam seen\\."
    (recorded,) = records.piece_file(piece).piece_readings
    said = texts(page).replace("\\", "")
    for sentence in recorded.facts["verdict"]["reasons"]:
        assert sentence in said
    for view in recorded.facts["next_views"]:
        assert view["sentence"] in said
    assert recorded.facts["caution"] in said
    alts = [each.proto.imgs[0].alt for each in page.image]
    assert any(alt.startswith("The outside of the tee unrolled flat") for alt in alts)
    assert all(each.key != "read_together" for each in page.button)
    records.add_photo(lot, plain_jpeg, "right.jpg", piece=piece, by=BY)
    page.run()
    assert any("read them together again" in each.value for each in page.info)
    assert any(each.key == "read_together" for each in page.button)


@pytest.mark.usefixtures("quick_drawings")
def test_a_shipment_is_taken_in_read_and_sorted(
    page: AppTest, records: Records, suspect_jpeg: bytes, plain_jpeg: bytes
) -> None:
    to(page, "shipment")
    page.text_input(key=Keys.PERSON).set_value(BY)
    next(each for each in page.text_input if each.label == "Name of the lot").set_value("Ship 1")
    page.button(key="shipment_open").click().run()
    assert "No photo in this lot yet" in texts(page)
    page.file_uploader(key=f"{Keys.SHIPMENT}-False").set_value(
        [
            ("P-01/a.jpg", plain_jpeg, "image/jpeg"),
            ("P-02/b.jpg", suspect_jpeg, "image/jpeg"),
            ("c.jpg", b"no picture", "image/jpeg"),
        ]
    )
    page.button(key="take_in").click().run()
    assert not page.exception
    (lot,) = records.lots()
    tags = {each.tag: each.uid for each in records.pieces(lot.uid)}
    if not tags:  # the names that the test's uploader sends may have lost their folders
        pytest.skip("this Streamlit's test uploader keeps no folders")
    assert set(tags) == {"P-01", "P-02"}
    assert "Taken in: 3" in page.status[0].label
    assert page.status[1].label == "Read together: 2 pieces"
    assert all(records.piece_file(uid).piece_readings for uid in tags.values())
    assert any("Another look: 1 piece of 2" in each.value for each in page.subheader)
    assert "Request for photographs" in page.code[0].value
    labels = [each.label for each in page.get("download_button")]
    assert labels == ["Request as text", "Report of the lot (PDF)", "Readings as CSV"]
    page.button(key="look_for_reused").click().run()
    assert not page.exception
    assert any("None among 2 photos" in each.value for each in page.info)
    records.add_photo(lot.uid, suspect_jpeg, "d.jpg", piece=tags["P-01"], by=BY)
    page.button(key="look_for_reused").click().run()
    warned = [each.value.replace("\\", "") for each in page.warning]
    assert any("d.jpg of P-01" in each and "The same file" in each for each in warned)


def test_the_order_of_a_lot_is_shown_a_page_at_a_time(page: AppTest, records: Records) -> None:
    lot = records.open_lot("Delivery 3", yard="North yard", by=BY)
    lines = [
        OrderLine(row=2 + at, form=FittingForm.ELBOW_90_LONG, nps="6", quantity=100 + at)
        for at in range(ORDER_LINES_A_PAGE + 1)
    ]
    records.add_order_lines(lot.uid, lines, by=BY, source="order.csv")
    to(page, "lots", lot=lot.uid)
    shown = [f"{100 + at} pieces" in texts(page) for at in range(len(lines))]
    assert shown == [True] * ORDER_LINES_A_PAGE + [False]
    page.number_input(key="page-Order lines").set_value(2).run()
    shown = [f"{100 + at} pieces" in texts(page) for at in range(len(lines))]
    assert shown == [False] * ORDER_LINES_A_PAGE + [True]


@pytest.mark.parametrize("topic", ["Order", "Dimensions", "Physical checks", "Strength"])
def test_every_topic_of_the_trade_shows_an_answer(page: AppTest, topic: str) -> None:
    to(page, "trade", topic=topic)
    if topic == "Order":
        assert "Choose an order file, or try the sample" in texts(page)
        page.button(key="sample_order").click().run()
        assert not page.exception
        assert len(page.table) == 4
        assert len(page.error) == 2
    elif topic == "Physical checks":
        assert len(page.expander) > 8
    else:
        assert len(page.dataframe[0].value) > 3
        if topic == "Dimensions":
            assert "ASME B16.9-2018 Table" in texts(page).replace("\\", "")


def test_a_wrong_measurement_is_told_beside_the_table(page: AppTest) -> None:
    to(page, "trade", topic="Dimensions")
    page.text_area(key="measured_text").set_value("wall = 5").run()
    assert "no unit" in page.error[0].value
    page.text_area(key="measured_text").set_value("wall = 5 mm").run()
    assert not page.error
    assert page.table[0].value["Against the limit"].tolist()[0].startswith("outside")


@pytest.fixture
def small_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    """The trainer's pictures rendered small, so that a page costs little."""
    shoot = pictures.shoot
    monkeypatch.setattr(pictures, "shoot", lambda choice: shoot(choice, 112, 80))
    trainer_panels._shot.clear()


@pytest.mark.usefixtures("small_pictures")
def test_the_trainer_shows_a_fitting_its_seams_and_its_unrolled_surface(page: AppTest) -> None:
    to(page, "trainer")
    assert "Circumferential seam" in texts(page)
    before = page.image[0].proto.imgs[0].url
    page.segmented_control(key="trainer_view").set_value("True seams drawn").run()
    assert not page.exception
    assert page.image[0].proto.imgs[0].url != before
    page.selectbox(key="trainer_make_elbow").set_value(
        next(o for o in page.selectbox(key="trainer_make_elbow").options if "mandrel" in o)
    ).run()
    assert not page.exception
    assert "No weld on this piece" in texts(page)


def test_the_trainer_tells_how_every_make_is_made(page: AppTest) -> None:
    to(page, "trainer", lesson="How they are made")
    assert len(page.image) == 12
    assert "Pushed over a mandrel" in texts(page)


def test_the_quiz_keeps_score_and_explains(page: AppTest, monkeypatch: pytest.MonkeyPatch) -> None:
    from ui.trainer import quiz

    question, choices = quiz.question, quiz.choices
    monkeypatch.setattr(quiz, "question", lambda c, place: question(c, place, 112, 80))
    monkeypatch.setattr(quiz, "choices", lambda number: choices(number)[:2])
    trainer_panels._question.clear()
    to(page, "trainer", lesson="Quiz")
    assert len(page.image) == 2
    right = question(choices(1)[0], 1, 112, 80).right
    page.button(key=f"answer-1-1-{right.name}").click().run()
    assert not page.exception
    assert page.success[0].value == f"Right: {right.value.lower()}."
    wrong = next(
        each for each in quiz.Answer if each is not question(choices(1)[1], 2, 112, 80).right
    )
    page.button(key=f"answer-1-2-{wrong.name}").click().run()
    assert page.error[0].value.startswith(f"You said: {wrong.value.lower()}")
    page.button(key="quiz_again").click().run()
    assert not page.success
    trainer_panels._question.clear()
