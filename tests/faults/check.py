"""What must hold of an installation after a step was ended half-way, and after it ran again."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.faults.dying import Life
from tests.faults.steps import LOT, OLD, Site
from ui.records import NotRecorded, Records


@dataclass(frozen=True, slots=True, kw_only=True)
class Whole:
    """What a step comes to when nothing happens to it: the lot without what chance or the clock put
    in it, and the files that it writes."""

    lot: dict[str, Any]
    files: dict[str, bytes]


def whole(site: Site) -> Whole:
    """What is there now, to be compared with later."""
    with site.opened() as records:
        lot = told(records)
    return Whole(lot=lot, files={path.name: path.read_bytes() for path in _written(site)})


def _written(site: Site) -> list[Path]:
    """What stands under a name of its own where steps write."""
    return [path for path in site.out.iterdir() if not path.name.startswith(".")]


def told(records: Records) -> dict[str, Any]:
    """All that is recorded of the lot, without identifiers and times; {} where it is not there."""
    try:
        lot = records.lot(LOT)
    except NotRecorded:
        return {}
    files = [records.piece_file(piece.uid) for piece in records.pieces(lot.uid)]
    tags = {file.piece.uid: file.piece.tag for file in files}
    return {
        "lots": len(records.lots()),
        "lines": [each.line.row for each in records.order_lines(lot.uid)],
        "photos": sorted(
            (
                photo.name,
                photo.sha256,
                tags.get(photo.piece or ""),
                len(records.readings_of_photo(photo.uid)),
            )
            for photo in records.photos(lot.uid)
        ),
        "pieces": {
            file.piece.tag: {
                "together": len(file.piece_readings),
                "checks": [(each.key, each.outcome) for each in file.checks],
                "measured": [(each.dimension, each.value_mm) for each in file.measurements],
                "certificate": [(each.key, each.standing) for each in file.certificate],
                "decisions": [each.decision for each in file.decisions],
            }
            for file in files
        },
    }


def after_the_end(step: str, site: Site, life: Life, expected: Whole) -> None:
    """AssertionError where the records don't verify, something that was acknowledged is not there,
    or anything half-written stands under its own name."""
    with site.opened() as records:
        found = records.verify()
        assert found.unbroken, [each.what for each in found.problems]
        now = told(records)
        for line in life.told:
            _acknowledged(line, now, site, expected)
        for sha256 in records.store.kept():
            assert records.store.problem(sha256) == "", f"photo {sha256} is half-written"
    if step == "import":
        assert now in ({}, expected.lot), "a part of a lot was taken in"
    for path in _written(site):
        content = expected.files.get(path.name)
        assert content is not None, f"left behind: {path.name}"
        assert path.read_bytes() in (OLD, content), f"{path.name} is half-written"


def after_the_rerun(site: Site, life: Life, expected: Whole) -> None:
    """AssertionError where the step, run again, did not come to what it comes to undisturbed."""
    assert life.code == 0, f"run again: exit code {life.code}, {life.complained[-600:]}"
    with site.opened() as records:
        found = records.verify()
        assert found.unbroken, [each.what for each in found.problems]
    now = whole(site)
    assert now.lot == expected.lot, f"run again: {now.lot} instead of {expected.lot}"
    assert now.files == expected.files, f"run again: {sorted(now.files)}"


def _acknowledged(line: dict[str, Any], now: dict[str, Any], site: Site, expected: Whole) -> None:
    """One line that a command or a step printed: is what it speaks of there?"""
    match line:
        case {"file": str(name)}:
            assert (site.out / name).read_bytes() == expected.files[name], f"{name} was lost"
        case {"lot": _}:
            assert now["lots"] == 1, line
        case {"order": _}:
            assert now["lines"] == expected.lot["lines"], line
        case {"photo": None, "together": _}:
            assert now["pieces"][line["piece"]]["together"] == 1, line
        case {"photo": str(name), "sha256": str(sha256), "answer": answer}:
            there = [each for each in now["photos"] if each[:3] == (name, sha256, line["piece"])]
            assert len(there) == 1, line
            assert there[0][3] == 1 or answer is None, line
        case {"check": tag} | {"measured": tag} | {"certificate": tag}:
            piece = now["pieces"][tag]
            what = {"check": "checks"}.get(next(iter(line)), next(iter(line)))
            assert len(piece[what]) == 1, line
        case {"decision": said}:
            tag, word = said.split()
            assert word in [each.value for each in now["pieces"][tag]["decisions"]], line
        case {"piece": tag}:
            assert tag in now["pieces"], line
        case {"verdict": _} | {"error": _}:
            pass  # `screen` keeps nothing
        case _:
            raise AssertionError(f"not understood: {line}")
