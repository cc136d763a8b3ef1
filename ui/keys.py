"""The names under which a visit keeps its own things; they outlive a change of page."""

from __future__ import annotations


class Keys:
    """Session keys, all in one place."""

    CARDS = "own_cards"
    UPLOAD = "upload"
    READ = "read_photos"
    NPS = "known_nps"
    A4 = "known_sheet"
    SHAPE = "wanted_shape"
    SAMPLES = "read_samples"
    CLEAR = "clear_list"
    CSV = "csv"
    JSON = "json_lines"
    READING = "unfinished_reading"
    TAKING = "unfinished_taking"
    """What was asked for and has not come to its end (`ui.unfinished`)."""

    PERSON = "person"
    """Who is working here; asked for once a visit, written beside every entry."""

    NEW_LOT = "new_lot"
    LOT_ORDER = "lot_order"
    DECIDE = "decide"
    CHECK = "check"
    MEASURE = "measure"
    PAPERS = "papers"
    TAG = "new_tag"
    SHIPMENT = "shipment"
    SHIPMENT_LOT = "shipment_lot"

    TRAINER = "lesson"
    MAKE = "trainer_make"
    QUIZ_NUMBER = "quiz"
    QUIZ_ANSWERS = "quiz_answers"
    SHEET = "quiz_sheet"

    TRADE = "topic"
    ORDER_FILE = "order_file"
