"""A small delivery of our own, recorded: something of every kind that the records hold."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace

from fittings.order.lines import FittingForm, OrderLine
from fittings.receiving.review import Standing
from fittings.words import Construction, Reading
from tests.stand_in import a_reading
from ui.records import Decision, Lot, Outcome, Photo, Piece, RecordedLine, Records
from vision.reading import PhotoError, PhotoReading

INSPECTOR = "Inspector one"
OTHER = "Inspector two"
MODEL = {"model_version": "2", "model_sha256": "0" * 64}
TEE = OrderLine(
    row=2,
    form=FittingForm.REDUCING_TEE,
    nps="12",
    second_nps="6",
    schedule="STD",
    wall_mm=9.53,
    spec="A234",
    grade="WPB",
    construction=Construction.SEAMLESS,
    quantity=2,
)
ELBOW = OrderLine(row=3, form=FittingForm.ELBOW_90_LONG, nps="6", schedule="40")


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """What `delivery` recorded. The tee is on hold after a check; of the elbow little is known."""

    records: Records
    lot: Lot
    lines: tuple[RecordedLine, ...]
    tee: Piece
    elbow: Piece
    photos: tuple[Photo, ...]


def picture(number: int) -> bytes:
    """Bytes that stand for a photo; the records never look into them."""
    return f"photo {number} ".encode() * 50


def reading_of(
    data: bytes, word: Reading = Reading.FABRICATION_SEAM, probability: float = 0.9
) -> PhotoReading:
    """A reading of these bytes that says so."""
    said = a_reading(640, 480, sha256=hashlib.sha256(data).hexdigest(), probability=probability)
    return replace(said, verdict=replace(said.verdict, reading=word))


def delivery(records: Records, name: str = "Pump house, delivery 3") -> Delivery:
    """Records a delivery in `records`."""
    lot = records.open_lot(name, by=INSPECTOR, yard="North yard", order_name="order 7")
    lines = records.add_order_lines(lot.uid, (TEE, ELBOW), by=INSPECTOR, source="order.csv")
    tee = records.add_piece(
        lot.uid, "P-07", by=INSPECTOR, order_line=lines[0].uid, finish="painted"
    )
    elbow = records.add_piece(lot.uid, "P-08", by=INSPECTOR, order_line=lines[1].uid)
    photos = tuple(
        records.add_photo(
            lot.uid, picture(n), f"{n}.jpg", by=INSPECTOR, source=f"a.zip!{n}.jpg", piece=piece
        )
        for n, piece in ((1, tee.uid), (2, tee.uid), (3, elbow.uid), (4, None))
    )
    records.add_reading(photos[0].uid, reading_of(picture(1)), **MODEL)
    records.add_reading(photos[2].uid, reading_of(picture(3), Reading.NO_SEAM_SEEN, 0.1), **MODEL)
    unread = PhotoError(photo="2.jpg", kind="truncated", message="2.jpg: breaks off. Send again.")
    records.add_reading(photos[1].uid, unread, **MODEL)
    together = {"verdict": {"reading": "fabrication_seam", "fabricated_probability": 0.95}}
    records.add_piece_reading(tee.uid, together, **MODEL)
    records.answer_certificate(
        lines[0].uid, "radiography", Standing.FAIL, by=OTHER, note="reports cover 80 %"
    )
    records.measure(tee.uid, "outlet_centre_to_end", 219.4, by=OTHER, note="tape")
    records.place_photo(photos[3].uid, elbow.uid, by=OTHER)
    records.decide(tee.uid, Decision.HOLD, by=INSPECTOR, reason="a line along the outlet's root")
    records.record_check(tee.uid, "bore", Outcome.FABRICATED, by=OTHER, note="root bead")
    return Delivery(records=records, lot=lot, lines=lines, tee=tee, elbow=elbow, photos=photos)
