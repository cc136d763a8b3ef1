from __future__ import annotations

import base64
import csv
import io
import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from fittings.checks import CAUTION
from fittings.words import ADVISORY, Kind
from tests.stand_in import a_reading, encoded, picture
from tests.ui.reports import a_lot
from ui.records import Outcome, Records
from ui.reports import (
    LotFacts,
    as_pdf,
    as_text,
    gather,
    lot_csv,
    lot_json_lines,
    lot_report,
    notice_of,
    view_request,
    wanted_of,
)
from ui.reports.request import FEW_PHOTOS
from vision.photo import open_photo
from vision.reading import Quality


@pytest.fixture
def records(tmp_path: Path) -> Iterator[Records]:
    with a_lot.open_at(tmp_path) as opened:
        yield opened


@pytest.fixture
def lot(records: Records) -> str:
    return a_lot.fill(records)


@pytest.fixture
def facts(records: Records, lot: str) -> LotFacts:
    a_lot.check_and_hold(records, lot)
    return gather(records, lot)


def words_of(data: bytes) -> str:
    return " ".join(
        " ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(data)).pages
    )


def test_a_lot_report_holds_all_that_is_recorded(records: Records, facts: LotFacts) -> None:
    said = words_of(as_pdf(lot_report(facts, records.store.read)))
    for expected in (
        "Delivery 3, from North yard",
        "Pump house, order 7",
        "Fabrication seam seen: 1; No seam seen (which is not the same as seamless): 1",
        "5, of which 1 without a reading",
        "Physically checked 1 of 3 pieces",
        "Hold: 1; not decided: 2",
        "90° long-radius elbow, NPS 6, schedule 40, A234 WPB, seamless, row 2 of order.csv",
        "The seam map shows a seam where outlet and run meet.",
        "P-07 cut.jpg: not read, ",
        "Look and feel in the bore: shows what a fabricated piece shows. root bead all round (A. "
        "Inspector, ",
        # ASME B16.9 Table 6.1-1: A = 229 mm for NPS 6, ± 2 mm (Table 11-1), so 231 at most.
        "240 mm, outside: 9 mm above the most, 231 mm",
        "Hold, by B. Engineer, ",
        "not as ordered",
        "No physical check is recorded. One is always required.",
        "Photos that belong to no piece yet IMG_9.jpg",
        "No photo of it is recorded.",
        "version stand-in",
        facts.head,
        CAUTION[:60],
    ):
        assert expected in said, expected
    assert said.count(ADVISORY) == len(PdfReader(io.BytesIO(_pdf(records, facts))).pages)


def _pdf(records: Records, facts: LotFacts) -> bytes:
    return as_pdf(lot_report(facts, records.store.read))


def test_the_hash_of_every_photo_is_in_it(records: Records, facts: LotFacts) -> None:
    said = words_of(_pdf(records, facts)).replace(" ", "")
    for photo in records.photos(facts.lot.uid):
        assert photo.sha256 in said


def test_the_same_records_give_the_same_file(records: Records, facts: LotFacts) -> None:
    assert _pdf(records, facts) == _pdf(records, gather(records, facts.lot.uid))


def test_pictures_in_it_are_small_and_say_nothing_of_camera_or_place(
    records: Records, facts: LotFacts
) -> None:
    originals = [records.store.read(photo.sha256) for photo in records.photos(facts.lot.uid)]
    assert all(a_lot.CAMERA.encode() in each for each in originals if len(each) > 400)
    data = _pdf(records, facts)
    pictures = [image.data for page in PdfReader(io.BytesIO(data)).pages for image in page.images]
    assert len(pictures) == 4  # five photos, one of which can't be opened
    for each in (*pictures, data):
        assert b"Exif" not in each
        assert a_lot.CAMERA.encode() not in each
    assert max(max(open_photo(each, "p").pixels.shape[:2]) for each in pictures) <= 1000


def test_the_highlight_is_drawn_on_the_photo(records: Records, facts: LotFacts) -> None:
    data = as_pdf(notice_of(facts, facts.pieces[0].piece.uid, records.store.read))
    pictures = [image.data for page in PdfReader(io.BytesIO(data)).pages for image in page.images]
    shown = open_photo(pictures[0], "p").pixels
    plain = open_photo(a_lot.PHOTOS["P-07 left.jpg"], "p").pixels
    changed = (abs(shown.astype(int) - plain) > 60).any(axis=2).mean()
    assert 0.01 < changed < 0.4


def told_together(records: Records, lot: str, tag: str, **facts: object) -> None:
    """A recorded reading of the piece's photos together, as another installation may send it."""
    file = records.piece_file(a_lot.piece_uid(records, lot, tag))
    reading = {
        "fitting": {"kind": "tee"},
        "verdict": {
            "reading": "no_seam_seen",
            "fabricated_probability": 0.1,
            "reasons": ["Seen: 46 % of the outside."],
        },
        "seen": {"fraction": 0.46, "clear_fraction": 0.3, "parts": {"run": 0.5, "outlet": 0.2}},
        "seams": [{"orientation": "branch", "part": "outlet", "place": None}],
        "doubts": [{"photo": "x", "code": "kind", "sentence": "One photo shows an elbow."}],
        "next_views": [
            {"code": "a", "sentence": "From the side away from the outlet.", "adds": 0.3},
            {"code": "b", "sentence": "A look into the bore.", "adds": 0.0},
        ],
        "read_from": sorted(photo.sha256 for photo in file.photos),
        **facts,
    }
    records.add_piece_reading(
        file.piece.uid, reading, model_version="stand-in", model_sha256="0" * 64
    )


def test_the_development_stands_by_its_piece_with_the_reasons(records: Records, lot: str) -> None:
    drawing = base64.b64encode(encoded(picture(40, 30), "PNG")).decode()
    told_together(records, lot, "P-07", drawings={"development_png": drawing})
    broken = base64.b64encode(b"\x89PNG\r\n\x1a\n and no more").decode()
    told_together(records, lot, "=T-1", drawings={"development_png": broken})
    facts = gather(records, lot)
    data = _pdf(records, facts)
    said = words_of(data)
    assert said.count("unrolled flat") == 1
    assert (
        "What was seen of P-07. The outside of the tee unrolled flat, the unseen hatched. run: "
        "50 % seen; outlet: 20 % seen. Seams drawn: B, branch, on the outlet." in said
    )
    assert said.count("Seen: 46 % of the outside.") == 2
    assert "One photo shows an elbow." in said
    pictures = [image for page in PdfReader(io.BytesIO(data)).pages for image in page.images]
    assert len(pictures) == 5  # four photos and the drawing


@pytest.mark.parametrize("broken", [None, 7, "x", [], {}, [7], {"run": "many"}])
def test_facts_that_are_not_as_they_should_be_are_left_out(
    records: Records, lot: str, broken: object
) -> None:
    names = ("seen", "seams", "doubts", "next_views", "read_from", "drawings", "fitting")
    told_together(records, lot, "P-07", **dict.fromkeys(names, broken))
    facts = gather(records, lot)
    assert "unrolled flat" not in words_of(_pdf(records, facts))
    assert "Piece P-07" in as_text(view_request(facts))


def test_an_empty_lot_and_a_piece_without_photos_have_their_report(records: Records) -> None:
    empty = records.open_lot("Empty", by=a_lot.BY)
    facts = gather(records, empty.uid)
    said = words_of(_pdf(records, facts))
    assert "No piece is recorded in this lot yet." in said
    assert "none are asked for" in as_text(view_request(facts))
    records.add_piece(empty.uid, "P-1", by=a_lot.BY)
    assert "No photo of it is recorded." in words_of(_pdf(records, gather(records, empty.uid)))
    assert list(lot_json_lines(facts)) == []


def test_a_photo_that_was_lost_does_not_cost_the_report(records: Records, facts: LotFacts) -> None:
    photo = facts.pieces[0].photos[0]
    records.store.path(photo.sha256).write_bytes(b"altered")
    assert "was altered" in words_of(_pdf(records, facts))


# ---------------------------------------------------------------------------- the notice


def test_a_notice_is_a_draft_until_a_check_shows_a_fabricated_piece(
    records: Records, lot: str
) -> None:
    uid = a_lot.piece_uid(records, lot)

    def told() -> str:
        return " ".join(as_text(notice_of(gather(records, lot), uid, records.store.read)).split())

    assert told().startswith("Draft of a notice")
    assert "no physical check that could tell is recorded" in told()
    assert "Check, place, result: ____" in told()
    records.record_check(uid, "marking", Outcome.CANNOT_TELL, by=a_lot.BY)
    assert told().startswith("Draft of a notice")
    records.record_check(uid, "bore", Outcome.FABRICATED, note="root bead", by=a_lot.BY)
    assert told().startswith("Notice of non-conformance")
    assert "Settled by this check: Look and feel in the bore" in told()
    records.record_check(uid, "macro_etch", Outcome.FORMED, by=a_lot.BY)
    assert told().startswith("Draft of a notice")
    assert "shows what a formed piece shows" in told()


def test_a_notice_states_facts_and_leaves_open_what_is_not_recorded(
    records: Records, facts: LotFacts
) -> None:
    document = notice_of(facts, facts.pieces[0].piece.uid, records.store.read)
    text = " ".join(as_text(document).split())
    for expected in (
        "To: North yard",
        "Heat number: ____",
        "Notice number: ____",
        "Ordered seamless: any weld in the body contradicts the order",
        "What the photographs show (advisory)",
        "it settles nothing",
        "Hold, by B. Engineer",
        ADVISORY,
    ):
        assert expected in text, expected
    for never in ("accepted", "genuine", "counterfeit", "fraud", "reject the"):
        assert never not in text.lower()


def test_a_piece_of_another_lot_has_no_notice_here(records: Records, facts: LotFacts) -> None:
    with pytest.raises(LookupError, match="has no piece 'x'"):
        notice_of(facts, "x", records.store.read)


# ---------------------------------------------------------------------------- the request


def test_a_request_says_what_is_missing_and_why(records: Records, lot: str) -> None:
    text = " ".join(as_text(view_request(gather(records, lot))).split())
    assert "3 pieces of 3 could not be seen well enough" in text
    assert "Why: no photo of it has arrived." in text
    assert "the photo P-07 cut.jpg is of no use: " in text
    assert "P-07 cut.jpg is of no use: P-07 cut.jpg" not in text
    assert "- The inside of the bend (intrados)" in text  # it was ordered as an elbow
    assert "never climb into a bore" in text
    tags = [file.piece.tag for file in gather(records, lot).pieces]
    assert tags != sorted(tags), "by suspicion"
    places = [text.index(f"Piece {tag} ") for tag in sorted(tags)]
    assert places == sorted(places), "the yard's list does not say which are suspected"


def test_a_request_names_photos_as_the_yard_does(records: Records, lot: str) -> None:
    uid = a_lot.piece_uid(records, lot, "P-09")
    name = "delivery 3.zip!P-09/left.jpg"
    photo = records.add_photo(lot, a_lot.with_exif(40), name, piece=uid, by=a_lot.BY)
    reading = a_reading(320, 240, photo=name, sha256=photo.sha256)
    poor = replace(reading, quality=Quality(usable=False, problems=("It is blurred.",)))
    records.add_reading(
        photo.uid, poor, model_version="stand-in", model_sha256=reading.model_sha256
    )
    text = " ".join(as_text(view_request(gather(records, lot))).split())
    assert "the photo P-09/left.jpg (in delivery 3.zip) can't show a fine seam" in text
    assert "zip!" not in text


def test_a_piece_that_is_seen_well_or_decided_is_asked_for_no_more(
    records: Records, lot: str
) -> None:
    uid = a_lot.piece_uid(records, lot, "P-09")
    for number in range(FEW_PHOTOS):
        assert wanted_of(records.piece_file(uid)) is not None
        photo = records.add_photo(
            lot, a_lot.with_exif(40 + number), f"{number}.jpg", piece=uid, by=a_lot.BY
        )
        reading = a_reading(320, 240, photo=photo.name, sha256=photo.sha256)
        records.add_reading(
            photo.uid, reading, model_version="stand-in", model_sha256=reading.model_sha256
        )
    assert wanted_of(records.piece_file(uid)) is None
    told_together(records, lot, "P-09", next_views=[{"sentence": "A close-up.", "adds": 0.0}])
    assert wanted_of(records.piece_file(uid)) is None, "all of the outside is shown well"
    told_together(records, lot, "P-09")
    asked = wanted_of(records.piece_file(uid))
    assert asked is not None
    assert asked.views == ("From the side away from the outlet.", "A look into the bore.")
    assert asked.reasons == (
        "the photos together show 46 % of the outside, 30 % well enough for a usual weld to be "
        "seen.",
    )
    wide = {"fraction": 0.46, "range": [0.35, 0.6], "least": 0.3, "clear_fraction": 0.25}
    told_together(records, lot, "P-09", seen=wide)
    asked = wanted_of(records.piece_file(uid))
    assert asked is not None
    assert asked.reasons == (
        "the photos together show between 35 % and 60 % of the outside, 25 % well enough for a "
        "usual weld to be seen. If the piece was turned over between them, they may show only "
        "30 %.",
    )
    more = records.add_photo(lot, a_lot.with_exif(60), "more.jpg", piece=uid, by=a_lot.BY)
    assert wanted_of(records.piece_file(uid)) is None, "what was missing may be on the new photo"
    assert more.piece == uid
    a_lot.check_and_hold(records, lot)
    assert wanted_of(records.piece_file(a_lot.piece_uid(records, lot))) is None


def test_a_request_on_paper_draws_the_views_by_their_numbers(records: Records, lot: str) -> None:
    drawing = base64.b64encode(encoded(picture(40, 30), "PNG")).decode()
    told_together(records, lot, "P-07", drawings={"next_views_png": drawing})
    facts = gather(records, lot)
    data = as_pdf(view_request(facts, drawn=True))
    said = words_of(data)
    assert "1. From the side away from the outlet." in said
    assert "2. A look into the bore." in said
    assert said.count("by their numbers, as the photos should show it") == 1
    pictures = [image for page in PdfReader(io.BytesIO(data)).pages for image in page.images]
    assert len(pictures) == 1
    plain = as_text(view_request(facts))
    assert "by their numbers" not in plain, "text can show no drawing"
    assert "- From the side away from the outlet." in plain


def test_every_kind_has_its_views_and_each_looks_into_the_bore() -> None:
    from fittings.photographs import VIEWS

    assert set(VIEWS) == set(Kind)
    for views in VIEWS.values():
        assert len(set(views)) == len(views) >= FEW_PHOTOS
        assert any("lamp in the bore" in view for view in views)


# ---------------------------------------------------------------------------- the readings


def test_readings_as_csv_are_kept_from_spreadsheets(facts: LotFacts) -> None:
    rows = list(csv.DictReader(io.StringIO(lot_csv(facts))))
    assert [row["piece"] for row in rows] == ["P-07", "P-07", "P-07", "'=T-1", ""]
    assert all(not cell.startswith(("=", "+", "@")) for row in rows for cell in row.values())
    assert [row["photo"] for row in rows[:3]] == ["P-07 left.jpg", "P-07 right.jpg", "P-07 cut.jpg"]
    assert rows[0]["reading"] == "fabrication_seam"
    assert (rows[0]["decision"], rows[0]["physical_checks"]) == ("hold", "1")
    assert rows[2]["error_kind"] == "truncated"
    assert all(row["caution"] == ADVISORY for row in rows)


def test_readings_as_json_lines_hold_the_reading_as_it_was_recorded(
    records: Records, facts: LotFacts
) -> None:
    told = [json.loads(line) for line in lot_json_lines(facts)]
    assert [each["piece"] for each in told] == ["P-07", "P-07", "P-07", "=T-1", ""]
    by_photo = {each.photo: each.facts for each in records.readings(facts.lot.uid)}
    for each, photo in zip(told, facts.pieces[0].photos, strict=False):
        assert each["answer"] == by_photo[photo.uid]
        assert each["sha256"] == photo.sha256
        assert each["advisory"] == ADVISORY
