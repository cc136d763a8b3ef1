"""All that the piece page shows of one piece, from what is recorded of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

from fittings.dimensions import SizeNotListed
from fittings.order.check import check_line, grade_of
from fittings.order.lines import OrderLine
from fittings.receiving.check_list import PLANS
from fittings.receiving.settle import (
    Metal,
    PhysicalCheck,
    metal_of,
    physical_checks,
    suspect_line,
    what_the_order_makes_of_a_weld,
)
from fittings.words import Kind, Reading
from ui.outputs import jpeg_bytes
from ui.records import CHECK_KEYS, Damaged, NotRecorded, Photo, PieceFile, RecordedReading, Records
from ui.reports.facts import kind_of
from ui.reports.together import word_of
from ui.screening import Screened
from ui.trade.answers import Row, TradeTrouble, measured_rows
from vision.errors import PhotoUnreadable
from vision.overlay import draw_overlay
from vision.photo import open_photo
from vision.reading import PhotoError, PhotoReading

THUMBNAIL_PX = 240
CHECK_NAMES = {plan.key: plan.name for plan in PLANS if plan.key in CHECK_KEYS}


@dataclass(frozen=True, slots=True, kw_only=True)
class ToCheck:
    """A physical check to do, and whether one like it is recorded."""

    check: PhysicalCheck
    done: bool

    @property
    def title(self) -> str:
        done = " (recorded)" if self.done else ""
        return f"{self.check.name}{done}: {self.check.effort.in_words}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One thing that was recorded about a piece, for its history."""

    at: str
    by: str
    what: str


def photos_worst_first(file: PieceFile) -> tuple[tuple[Photo, RecordedReading | None], ...]:
    """Each photo with its newest reading; the most suspect first, unreadable ones last."""
    readings = {each.photo: each for each in file.readings}
    both = [(photo, readings.get(photo.uid)) for photo in file.photos]
    return tuple(sorted(both, key=lambda pair: _suspicion(pair[1])))


def _suspicion(recorded: RecordedReading | None) -> float:
    if recorded is None or recorded.reading is None:
        return 1.0
    return -recorded.reading.verdict.fabricated_probability


def checks_to_do(file: PieceFile) -> tuple[ToCheck, ...]:
    """The physical checks that would settle the piece, least effort first."""
    line = None if file.order_line is None else file.order_line.line
    done = {check.key for check in file.checks}
    return tuple(
        ToCheck(check=check, done=check.key in done)
        for check in _checks(kind_of(file), word_of(file)[0], line)
        if check.key in CHECK_NAMES
    )


def _checks(
    kind: Kind, reading: Reading | None, line: OrderLine | None
) -> tuple[PhysicalCheck, ...]:
    if line is None:
        return physical_checks(kind, reading=reading)
    try:
        return physical_checks(
            kind,
            reading=reading,
            material=_metal(line),
            form=line.form,
            nps=line.nps,
            schedule=line.schedule,
        )
    except SizeNotListed:
        return physical_checks(kind, reading=reading, material=_metal(line))


def _metal(line: OrderLine) -> Metal | None:
    grade = grade_of(line)
    return None if grade is None else metal_of(grade.group)


def order_rows(line: OrderLine) -> list[Row]:
    """What is to be said about the order line, worst first."""
    return [{"Finding": each.level.value, "What": each.sentence} for each in check_line(line)]


def order_sentence(file: PieceFile) -> str:
    """What a weld means against the order of the piece."""
    line = None if file.order_line is None else file.order_line.line
    return what_the_order_makes_of_a_weld(None if line is None else line.construction)


def suspect_place(file: PieceFile) -> str:
    """Where the suspect line of the checks lies."""
    return suspect_line(kind_of(file), word_of(file)[0])


def measurement_rows(file: PieceFile) -> list[Row]:
    """The recorded measurements, against the limits where an order line names the fitting."""
    pairs = [(each.dimension, each.value_mm) for each in file.measurements]
    if pairs and file.order_line is not None:
        try:
            return measured_rows(file.order_line.line, pairs)
        except TradeTrouble:
            pass  # a dimension of an earlier order line: shown without a limit
    return [
        {"Measured": name, "Worst mm": f"{value:.4g}", "Against the limit": "no order line"}
        for name, value in pairs
    ]


def history(file: PieceFile) -> tuple[Event, ...]:
    """Everything that was recorded about the piece by people, newest first."""
    numbered = [
        *(
            (each.number, Event(at=each.at, by=each.by, what=f"Check: {_check_text(each.key)}, "
             f"{each.outcome.title.lower()}{_note(each.note)}"))
            for each in file.checks
        ),
        *(
            (each.number, Event(at=each.at, by=each.by, what=f"Measured: {each.dimension} "
             f"{each.value_mm:.4g} mm{_note(each.note)}"))
            for each in file.measurements
        ),
        *(
            (each.number, Event(at=each.at, by=each.by, what=f"Decision: {each.decision.title}"
             f"{_note(each.reason)}"))
            for each in file.decisions
        ),
    ]  # fmt: skip
    return tuple(event for _, event in sorted(numbered, key=lambda each: -each[0]))


def _check_text(key: str) -> str:
    return CHECK_NAMES.get(key, key)


def _note(text: str) -> str:
    return f" ({text})" if text else ""


# ----------------------------------------------------------------------------------------- photos


def screened(records: Records, photo: Photo, reading: RecordedReading | None) -> Screened:
    """A recorded photo as the cards take it: its original bytes and its recorded reading."""
    if reading is not None and reading.reading is not None:
        try:
            data = records.store.read(photo.sha256)
        except (Damaged, NotRecorded) as error:
            return _without_picture(photo, "not_kept", str(error))
        return Screened(name=photo.name, data=data, reading=reading.reading, error=None)
    unread = {} if reading is None else reading.facts.get("error", {})
    message = unread.get("message", f"{photo.name}: has not been read yet; take the lot in again.")
    return _without_picture(photo, unread.get("kind", "not_read"), message)


def _without_picture(photo: Photo, kind: str, message: str) -> Screened:
    error = PhotoError(photo=photo.name, kind=kind, message=message)
    return Screened(name=photo.name, data=None, reading=None, error=error)


def thumbnail(load: Callable[[], bytes], name: str, reading: PhotoReading | None) -> bytes:
    """A small JPEG of a photo with its seams drawn; b"" where it can't be opened."""
    try:
        pixels = open_photo(load(), name, max_side_px=4 * THUMBNAIL_PX).pixels
    except (PhotoUnreadable, Damaged, NotRecorded):
        return b""
    rows, columns = pixels.shape[:2]
    share = min(1.0, THUMBNAIL_PX / max(rows, columns))
    size = (max(1, round(columns * share)), max(1, round(rows * share)))
    small = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    drawn = small if reading is None else draw_overlay(small, reading, legend=False, numbers=False)
    return jpeg_bytes(drawn, quality=85)
