"""A recorded lot for the tests of reports: what came, what was read, checked and decided."""

from __future__ import annotations

from pathlib import Path

from PIL import Image

from fittings.order.lines import FittingForm, OrderLine
from fittings.words import Construction
from tests.stand_in import StandInReader, encoded, picture
from ui.importing import Incoming, Matcher, Receiver
from ui.records import Decision, Outcome, Records, open_records
from ui.reports import LotFacts, gather
from vision.sources import Found

BY = "A. Inspector"
LOT = "Delivery 3"
CAMERA = "Camera of the yard"
LINE = OrderLine(
    row=2,
    form=FittingForm.ELBOW_90_LONG,
    nps="6",
    schedule="40",
    wall_mm=7.11,
    spec="A234",
    grade="WPB",
    construction=Construction.SEAMLESS,
)


def with_exif(red: int) -> bytes:
    """A photo that says where and with what it was taken (Exif 2.32: tag 271, GPS 1 and 2)."""
    exif = Image.Exif()
    exif[271] = CAMERA
    exif.get_ifd(0x8825).update({1: "N", 2: (51.0, 30.0, 12.0)})
    return encoded(picture(320, 240, red=red), exif=exif)


PHOTOS = {
    "P-07 left.jpg": with_exif(250),
    "P-07 right.jpg": with_exif(20),
    "P-07 cut.jpg": with_exif(90)[:400],
    "=T-1.jpg": with_exif(10),
    "IMG_9.jpg": with_exif(30),
}


def open_at(folder: Path) -> Records:
    return open_records(str(folder / "records.sqlite"))


def fill(records: Records) -> str:
    """Records the lot; returns its uid."""
    lot = records.open_lot(LOT, yard="North yard", order_name="Pump house, order 7", by=BY)
    (line,) = records.add_order_lines(lot.uid, [LINE], by=BY, source="order.csv")
    piece = records.add_piece(lot.uid, "P-07", order_line=line.uid, finish="painted", by=BY)
    for tag in ("=T-1", "P-09"):
        records.add_piece(lot.uid, tag, by=BY)
    matcher = Matcher([each.tag for each in records.pieces(lot.uid)])
    receiver = Receiver(records, lot.uid, StandInReader(), matcher, by=BY)
    photos = (
        Incoming(found=Found(name=name, content=data), source=name) for name, data in PHOTOS.items()
    )
    assert len(list(receiver.receive(photos))) == len(PHOTOS)
    records.measure(piece.uid, "centre_to_end", 240.0, by=BY, note="by tape")
    return lot.uid


def piece_uid(records: Records, lot: str, tag: str = "P-07") -> str:
    piece = records.find_piece(lot, tag)
    assert piece is not None
    return piece.uid


def check_and_hold(records: Records, lot: str) -> None:
    """A check that shows a fabricated piece, and the hold that follows."""
    uid = piece_uid(records, lot)
    records.record_check(uid, "bore", Outcome.FABRICATED, note="root bead all round", by=BY)
    seen = records.piece_file(uid).number
    records.decide(uid, Decision.HOLD, reason="not as ordered", by="B. Engineer", seen=seen)


def facts_of(records: Records, lot: str) -> LotFacts:
    return gather(records, lot)
