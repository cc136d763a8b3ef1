"""The steps that are killed or starved: what an inspector does, through the program's own doors.

A step runs in a process of its own and prints, besides what the command prints, a line of JSON for
each thing that it was told is done. Run again, it finishes what is left, as a person would who
looks first at what is there already.
"""

from __future__ import annotations

import json
import sys
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fittings.receiving.review import Standing
from fittings.words import Part
from tests.stand_in import StandInReader, encoded, picture, run_maps
from ui import cli, loading, together
from ui.inspecting import doing
from ui.inspecting.doing import Said
from ui.order_command import EXIT_SOME_UNREAD
from ui.records import Decision, Outcome, Records, open_records
from vision.network import Maps

BY = "A. Inspector"
LOT = "Delivery 3"
TAGS = ("E-104", "T-7", "R-2")
OLD = b"what stood here before"


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """One installation and what it is given: `folder` holds `photos/`, `in/` and `out/`."""

    address: str
    folder: Path

    @property
    def photos(self) -> Path:
        return self.folder / "photos"

    @property
    def given(self) -> Path:
        return self.folder / "in"

    @property
    def out(self) -> Path:
        return self.folder / "out"

    def opened(self) -> Records:
        return open_records(self.address, self.photos)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """`begins` names the state of the records that it wants, `leaves` the one it comes to."""

    run: Callable[[Site], None]
    begins: str
    leaves: str | None = None


def give(folder: Path) -> None:
    """What arrives: a ZIP of photos by piece, some loose ones, an order."""
    (folder / "loose").mkdir(parents=True)
    with zipfile.ZipFile(folder / "delivery.zip", "w") as archive:
        for number, tag in enumerate((*TAGS, "N-1", *TAGS)):
            data = encoded(picture(96 + number, 80, red=30 * number))
            # Longer than the database, so that an end at a byte can come in a photo too; what
            # follows a JPEG's end is passed over.
            archive.writestr(f"{tag}/{number}.jpg", data + bytes(100_000 * number))
        archive.writestr("T-7/cut.jpg", encoded(picture(90, 80))[:300])
    for name, red in (("E-104 left.jpg", 250), ("IMG_9.jpg", 20)):
        (folder / "loose" / name).write_bytes(encoded(picture(640, 480, red=red)))
    sample = loading.SAMPLES / "order.csv"
    (folder / "order.csv").write_bytes(sample.read_bytes())


def with_a_stand_in() -> None:
    """No network and no drawings: what is tried is what keeps and writes."""
    blank = encoded(picture(8, 8), "PNG")
    together.development_bytes = lambda *_: blank  # type: ignore[assignment]
    together.views_bytes = lambda *_: blank  # type: ignore[assignment]
    loading.load_reader = partial(StandInReader, network=no_fitting)  # type: ignore[assignment]


def no_fitting(pixels: NDArray[np.uint8]) -> Maps:
    """A network that sees ground everywhere, on which nothing takes long to measure."""
    maps = run_maps(pixels)
    ground = np.full(maps.shape, Part.BACKGROUND.label)
    return replace(maps, part=np.eye(len(Part), dtype=np.float32)[ground])


def done(**facts: str) -> None:
    """Tells that the program has said so."""
    sys.stdout.write(json.dumps(facts) + "\n")
    sys.stdout.flush()


def command(site: Site, *words: str | Path, makes: str = "", may_be_unread: bool = False) -> None:
    """One command; the process ends here with its exit code where it isn't done."""
    sys.argv = ["seamtriage", *map(str, words)]
    if words[0] != "screen":
        sys.argv += ["--records", site.address, "--photos", str(site.photos)]
    try:
        cli.main()
    except SystemExit as ended:
        if ended.code not in ((0, None, EXIT_SOME_UNREAD) if may_be_unread else (0, None)):
            raise
    sys.stdout.flush()
    if makes:
        done(file=makes)


def order(site: Site) -> None:
    """Opens the lot, takes its order in, makes the pieces."""
    with site.opened() as records:
        if not records.lots():
            acknowledged(doing.open_lot(records, LOT, "North yard", "", BY)[0], lot=LOT)
        lot = records.lot(LOT).uid
        if not records.order_lines(lot):
            data = (site.given / "order.csv").read_bytes()
            acknowledged(doing.add_order(records, lot, data, "order.csv", BY), order="order.csv")
        for tag, line in zip(TAGS, records.order_lines(lot), strict=False):
            if records.find_piece(lot, tag) is None:
                acknowledged(doing.add_piece(records, lot, tag, line.uid, BY), piece=tag)


def receive(site: Site) -> None:
    """Takes the photos in and reads them, each by itself and those of a piece together."""
    sources = (site.given / "delivery.zip", site.given / "loose")
    command(
        site, "receive", LOT, *sources, "--by", BY, "--new-pieces", "--json", may_be_unread=True
    )


def decide(site: Site) -> None:
    """A check, a measurement, an answer from the certificate and a decision for each piece."""
    with site.opened() as records:
        lot = records.lot(LOT).uid
        for tag in TAGS:
            piece = records.find_piece(lot, tag)
            assert piece is not None
            uid, known = piece.uid, records.piece_file(piece.uid)
            if not known.checks:
                said = doing.record_check(records, uid, "bore", Outcome.FABRICATED, "root bead", BY)
                acknowledged(said, check=tag)
            if not known.measurements:
                said = doing.record_measurement(records, uid, "centre_to_end", "229 mm", "", BY)
                acknowledged(said, measured=tag)
            if not known.certificate:
                assert piece.order_line is not None
                said = doing.answer_certificate(
                    records, piece.order_line, "heat_number", Standing.FAIL, "another heat", BY
                )
                acknowledged(said, certificate=tag)
            for decision in (Decision.HOLD, Decision.RETURN)[len(known.decisions) :]:
                seen = records.piece_file(uid).number
                said = doing.decide(records, uid, decision, "not as ordered", BY, seen)
                acknowledged(said, decision=f"{tag} {decision.value}")


def acknowledged(said: Said, **facts: str) -> None:
    if not said.done:
        sys.exit(f"seamtriage: {said.text}")
    done(**facts)


def report(site: Site) -> None:
    """The report of the lot, a notice, the request and the readings, over what stood there."""
    for words, name in (
        (("report", LOT), "lot.pdf"),
        (("notice", LOT, "T-7"), "notice.pdf"),
        (("request", LOT), "request.txt"),
        (("readings", LOT), "readings.csv"),
    ):
        command(site, *words, "--out", site.out / name, "--force", makes=name)


def screen(site: Site) -> None:
    """Photos read without records, with their pictures written."""
    words = ("screen", site.given / "delivery.zip", "--json", "--out", site.out, "--force")
    command(site, *words, may_be_unread=True)
    done(file="0.overlay.jpg")


def export(site: Site) -> None:
    """The lot as one file, over what stood there."""
    command(site, "export-lot", LOT, "--out", site.out / "lot.zip", "--force", makes="lot.zip")


def take_over(site: Site) -> None:
    """That file taken in by another installation."""
    command(site, "import-lot", site.given / "lot.zip")
    done(lot=LOT)


STEPS = {
    "order": Step(run=order, begins="bare", leaves="ordered"),
    "receive": Step(run=receive, begins="ordered", leaves="received"),
    "decide": Step(run=decide, begins="received", leaves="decided"),
    "report": Step(run=report, begins="decided"),
    "screen": Step(run=screen, begins="bare"),
    "export": Step(run=export, begins="decided", leaves="exported"),
    "import": Step(run=take_over, begins="bare"),
}
