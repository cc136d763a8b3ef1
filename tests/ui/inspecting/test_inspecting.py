"""What the pages of lots, pieces and shipments show and do, on records in a scratch folder."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PIL import Image

from fittings.receiving.review import Standing
from fittings.words import Kind, Reading
from tests.stand_in import StandInReader
from ui.inspecting import doing, lines, papers, sheet, shipment
from ui.loading import SAMPLES
from ui.records import Decision, Outcome, Records, open_records
from ui.records.places import find_place
from ui.trade.answers import TradeTrouble

BY = "A. Inspector"


@dataclass(frozen=True)
class Sent:
    name: str
    data: bytes

    def getvalue(self) -> bytes:
        return self.data


@pytest.fixture
def records(tmp_path: Path) -> Iterator[Records]:
    with open_records(str(tmp_path / "records.sqlite")) as opened:
        yield opened


@pytest.fixture
def lot(records: Records, suspect_jpeg: bytes, plain_jpeg: bytes) -> str:
    """Two pieces, one suspect; a file that is no picture, and a photo of no piece."""
    said, uid = doing.open_lot(records, "Delivery 3", "North yard", "", BY)
    assert said.done
    files = [
        Sent("P-01/left.jpg", plain_jpeg),
        Sent("P-02/left.jpg", suspect_jpeg),
        Sent("P-02/right.jpg", b"no picture"),
        Sent("IMG 1.jpg", plain_jpeg + b"."),
    ]
    tally = shipment.Tally()
    taking = shipment.receiver(records, uid, StandInReader(), by=BY)
    for each in shipment.received(taking, files):
        tally = tally.with_one(each)
    assert tally == shipment.Tally(taken=4, known=0, unread=1, loose=1)
    return uid


def file_of(records: Records, lot: str, tag: str):  # type: ignore[no-untyped-def]
    piece = records.find_piece(lot, tag)
    assert piece is not None
    return records.piece_file(piece.uid)


def test_the_list_is_sorted_by_suspicion_and_says_why_another_look_is_wanted(
    records: Records, lot: str
) -> None:
    listed = lines.piece_lines(records, lot)
    assert [line.summary.piece.tag for line in listed] == ["P-02", "P-01"]
    suspect, plain = listed
    assert suspect.reading_title == Reading.FABRICATION_SEAM.title
    assert suspect.probability_text.startswith("fabricated: ")
    assert suspect.worst is not None
    assert suspect.worst.name == "P-02/left.jpg"
    assert "2 photos, 0 physical checks; nobody has decided yet" in suspect.in_words
    assert suspect.wants_another_look
    assert "seam" in suspect.why
    assert not plain.wants_another_look
    assert plain.why == ""
    assert lines.neighbours(listed, suspect.summary.piece.uid) == (None, plain.summary.piece.uid)
    assert lines.neighbours(listed, "nobody") == (None, None)
    assert lines.standing_counts(listed) == {
        "Pieces": 2, "Want another look": 1, "On hold": 0, "Undecided": 2,
    }  # fmt: skip
    assert [photo.name for photo in lines.loose_photos(records, lot)] == ["IMG 1.jpg"]
    (line,) = lines.lot_lines(records)
    assert line.in_words == (
        "North yard: 2 pieces, 1 read as fabricated, 2 without a decision, 1 photo loose"
    )


def test_the_newest_lot_is_first_also_when_the_clock_was_set_back(tmp_path: Path) -> None:
    times = iter(datetime(2026, 3, 5, 12 - hour, tzinfo=UTC) for hour in range(3))
    place = find_place(str(tmp_path / "r.sqlite"))
    with Records(place, clock=lambda: next(times)) as records:
        for name in ("first", "second", "third"):
            records.open_lot(name, by=BY)
        told = [line.lot.name for line in lines.lot_lines(records)]
    assert told == ["third", "second", "first"]


def test_a_piece_without_photos_wants_another_look(records: Records, lot: str) -> None:
    assert doing.add_piece(records, lot, "P-09", None, BY).done
    line = lines.piece_lines(records, lot)[-1]
    assert line.reading_title == "No photo yet"
    assert line.wants_another_look
    assert line.why.startswith("no reading")


def test_a_loose_photo_is_placed_with_a_piece_or_a_new_one(records: Records, lot: str) -> None:
    (photo,) = lines.loose_photos(records, lot)
    said = doing.place_photo(records, photo, "P-07", BY)
    assert said.done
    assert "P-07" in said.text
    assert file_of(records, lot, "P-07").photos[0].uid == photo.uid
    assert lines.loose_photos(records, lot) == ()


def test_the_same_files_again_are_known_and_a_pattern_finds_their_piece(
    records: Records, lot: str, plain_jpeg: bytes
) -> None:
    taking = shipment.receiver(
        records, lot, StandInReader(), by=BY, pattern="{piece} ?.jpg", new_pieces=True
    )
    (again,) = shipment.received(taking, [Sent("IMG 1.jpg", plain_jpeg + b".")])
    assert again.was_known
    assert again.tag == "IMG"
    assert shipment.line_of(again) == "IMG 1.jpg: IMG; was read before"
    with pytest.raises(TradeTrouble, match="piece"):
        shipment.receiver(records, lot, StandInReader(), by=BY, pattern="*.jpg")


def test_nothing_is_recorded_without_a_name(records: Records, lot: str) -> None:
    before = len(records.entries(lot))
    piece = file_of(records, lot, "P-02").piece.uid
    for said in (
        doing.add_piece(records, lot, "P-03", None, "  "),
        doing.decide(records, piece, Decision.HOLD, "a seam", "", 10**9),
        doing.record_check(records, piece, "bore", Outcome.FABRICATED, "", ""),
        doing.open_lot(records, "Another", "", "", "")[0],
    ):
        assert said == doing.Said(text=doing.NO_NAME, done=False)
    assert len(records.entries(lot)) == before


def test_a_decision_follows_the_rules_and_what_was_seen(records: Records, lot: str) -> None:
    file = file_of(records, lot, "P-02")
    piece = file.piece.uid
    refused = doing.decide(records, piece, Decision.RELEASE, "looks fine", BY, file.number)
    assert not refused.done
    assert "physical check" in refused.text
    empty = doing.decide(records, piece, Decision.HOLD, " ", BY, file.number)
    assert not empty.done
    assert "write why" in empty.text
    assert doing.decide(records, piece, Decision.HOLD, "a seam", BY, file.number).done
    late = doing.decide(records, piece, Decision.RETURN, "send back", "B. Other", file.number)
    assert not late.done
    assert "look again" in late.text
    assert doing.record_check(records, piece, "bore", Outcome.FABRICATED, "root bead", BY).done
    now = file_of(records, lot, "P-02")
    assert doing.decide(records, piece, Decision.RETURN, "fabricated", BY, now.number).done
    what = [event.what for event in sheet.history(file_of(records, lot, "P-02"))]
    assert what[0].startswith("Decision: Return to the yard (fabricated)")
    assert "Check: look and feel in the bore" in what[1]
    assert what[2] == "Decision: Hold (a seam)"


def test_a_piece_sheet_speaks_against_the_order(records: Records, lot: str) -> None:
    file = file_of(records, lot, "P-02")
    assert "is not said" in sheet.order_sentence(file)
    assert sheet.word_of(file)[0] is Reading.FABRICATION_SEAM
    data = (SAMPLES / "order.csv").read_bytes()
    said = doing.add_order(records, lot, data, "order.csv", BY)
    assert said.text == "Order lines added: 4; 2 could not be read."
    tee = next(each for each in records.order_lines(lot) if each.line.form.kind is Kind.TEE)
    assert doing.describe_piece(records, file.piece.uid, tee.uid, "painted", BY).done
    file = file_of(records, lot, "P-02")
    assert "Ordered seamless" in sheet.order_sentence(file)
    assert any(row["Finding"] == "contradiction" for row in sheet.order_rows(tee.line))
    todo = sheet.checks_to_do(file)
    efforts = [each.check.effort.value for each in todo]
    assert efforts == sorted(efforts)
    assert not any(each.done for each in todo)
    assert not doing.record_measurement(records, file.piece.uid, "run_wall", "9", "", BY).done
    assert doing.record_measurement(records, file.piece.uid, "run_wall", "9 mm", "", BY).done
    assert doing.record_check(records, file.piece.uid, "bore", Outcome.CANNOT_TELL, "", BY).done
    file = file_of(records, lot, "P-02")
    assert sheet.measurement_rows(file)[0]["Against the limit"].startswith("inside")
    assert [each.check.key for each in sheet.checks_to_do(file) if each.done] == ["bore"]


def test_photos_come_worst_first_and_unreadable_ones_say_why(records: Records, lot: str) -> None:
    file = file_of(records, lot, "P-02")
    ordered = sheet.photos_worst_first(file)
    assert [photo.name for photo, _ in ordered] == ["P-02/left.jpg", "P-02/right.jpg"]
    good, bad = (sheet.screened(records, photo, reading) for photo, reading in ordered)
    assert good.reading is not None
    assert good.data is not None
    assert hashlib.sha256(good.data).hexdigest() == file.photos[0].sha256
    assert bad.error is not None
    assert "is not a picture" in bad.error.message


def test_a_thumbnail_is_small_with_seams_drawn_and_empty_for_no_picture(
    records: Records, lot: str, suspect_jpeg: bytes
) -> None:
    (photo, reading), _ = sheet.photos_worst_first(file_of(records, lot, "P-02"))
    assert reading is not None
    marked = sheet.thumbnail(lambda: suspect_jpeg, photo.name, reading.reading)
    plain = sheet.thumbnail(lambda: suspect_jpeg, photo.name, None)
    assert max(Image.open(io.BytesIO(marked)).size) == sheet.THUMBNAIL_PX
    assert marked != plain
    assert sheet.thumbnail(lambda: b"no picture", photo.name, None) == b""
    assert sheet.thumbnail(lambda: records.store.read("0" * 64), photo.name, None) == b""


def test_what_goes_out_is_made_from_the_records(records: Records, lot: str) -> None:
    request = shipment.request_text(records, lot)
    assert "P-01" in request
    assert "Advisory only" in request
    assert shipment.report_pdf(records, lot).startswith(b"%PDF")
    assert "P-02/left.jpg" in shipment.readings_csv(records, lot)


def test_the_papers_of_the_order_line_are_answered_and_every_answer_is_kept(
    records: Records, lot: str
) -> None:
    assert papers.papers_of(file_of(records, lot, "P-02")) is None
    data = (SAMPLES / "order.csv").read_bytes()
    assert doing.add_order(records, lot, data, "order.csv", BY).done
    piece = file_of(records, lot, "P-02").piece.uid
    line = records.order_lines(lot)[0].uid
    assert doing.describe_piece(records, piece, line, "", BY).done

    before = papers.papers_of(file_of(records, lot, "P-02"))
    assert before is not None
    title, key = next(iter(before.keys.items()))
    assert not doing.answer_certificate(records, line, key, Standing.FAIL, "", BY).done
    why = "no certificate came with it"
    assert doing.answer_certificate(records, line, key, Standing.FAIL, why, BY).done
    assert doing.answer_certificate(records, line, key, Standing.PASS, "it came later", BY).done

    after = papers.papers_of(file_of(records, lot, "P-02"))
    assert after is not None
    row = next(row for row in after.rows if row["Item"] == title)
    assert row == {"Item": title, "Stands": "pass", "Note": "it came later", "By": BY}
    assert len(file_of(records, lot, "P-02").certificate) == 2
