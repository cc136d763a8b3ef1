from __future__ import annotations

import dataclasses
import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from rich.console import Console

from tests.stand_in import StandInReader, a_reading, bad_files, encoded, picture
from ui import cards, desk, loading
from ui.outputs import OutputFolder
from ui.screening import Screened, screen, worst_first
from ui.tables import print_table
from vision.errors import NotFound, OutputExists
from vision.sources import Found

RED, BLUE = encoded(picture(red=250)), encoded(picture(red=20))


def found(**files: bytes) -> list[Found]:
    return [Found(name=f"{name}.jpg", content=data) for name, data in files.items()]


def test_a_bad_photo_takes_its_place_and_stops_nothing() -> None:
    photos = [Found(name=name, content=data) for name, (data, _) in bad_files().items()]
    missing = NotFound("gone.jpg", "there is nothing at gone.jpg.")
    photos += [Found(name="gone.jpg", content=missing), *found(good=RED)]
    seen: list[tuple[int, str]] = []
    results = list(screen(photos, StandInReader(), lambda done, name: seen.append((done, name))))
    assert [result.name for result in results] == [photo.name for photo in photos]
    assert [r.error.kind for r in results[:-1] if r.error] == [
        *(kind for _, kind in bad_files().values()),
        "not_found",
    ]
    assert results[-1].reading is not None
    assert seen == list(enumerate(photo.name for photo in photos))


def test_the_list_begins_with_the_most_suspect_and_ends_with_the_unread() -> None:
    results = screen(found(blue=BLUE, broken=b"x", red=RED), StandInReader())
    assert [result.name for result in worst_first(results)] == ["red.jpg", "blue.jpg", "broken.jpg"]


@pytest.mark.parametrize(
    ("name", "stem"),
    [
        ("a.b.jpg", "a.b"),
        ("lot.zip!in/x.png", "x"),
        ("papers.pdf!page 1 picture 2", "page 1 picture 2"),
        ("../../etc/passwd", "passwd"),
        ("..", "_"),
        ("a\\b:c?.jpg", "b_c_"),
        ("lot.zip!in/left!.jpg", "left!"),
        ("T-07 & T-08, [1]!.jpg", "T-07 & T-08, [1]!"),
        ("Bogen\u0308.jpg", "Bogen\u0308"),
        ("a\tb\x00.jpg", "a_b_"),
    ],
)
def test_stems_are_safe_file_names(name: str, stem: str) -> None:
    result = Screened(name=name, data=b"", reading=a_reading(80, 64), error=None)
    assert result.stem == stem


def test_outputs_have_the_photos_size_and_labels(tmp_path: Path) -> None:
    (result,) = screen(found(red=encoded(picture(500, 400, red=250))), StandInReader())
    overlay, seams = OutputFolder(tmp_path / "new").write(result)
    assert (overlay.name, seams.name) == ("red.overlay.jpg", "red.seams.png")
    with Image.open(overlay) as image:
        assert image.size == (500, 400)
    with Image.open(seams) as image:
        assert image.mode == "L"
        assert set(np.unique(np.asarray(image))) == {0, 1, 2, 3}
    assert len(list((tmp_path / "new").iterdir())) == 2


def test_outputs_never_replace_a_file_unasked(tmp_path: Path) -> None:
    (result,) = screen(found(red=RED), StandInReader())
    standing = tmp_path / "red.seams.png"
    standing.write_bytes(b"mine")
    with pytest.raises(OutputExists, match=r"red\.seams\.png"):
        OutputFolder(tmp_path).write(result)
    assert standing.read_bytes() == b"mine"
    assert [path.name for path in tmp_path.iterdir()] == ["red.seams.png"]
    OutputFolder(tmp_path, force=True).write(result)
    assert standing.read_bytes() != b"mine"


def test_two_photos_of_one_stem_get_two_pairs_of_files(tmp_path: Path) -> None:
    folder = OutputFolder(tmp_path)
    for result in screen(found(red=RED) + found(red=RED), StandInReader()):
        folder.write(result)
    names = {path.name for path in tmp_path.iterdir()}
    assert {"red.overlay.jpg", "red-2.overlay.jpg", "red-2.seams.png"} < names


def test_a_result_that_is_kept_for_the_table_says_the_same_in_it() -> None:
    """The lines traced in five thousand photos took 60 MB, and the table shows none of them."""
    results = list(screen(found(red=RED, blue=BLUE, bad=b""), StandInReader()))
    kept = [result.without_data() for result in results]
    assert all(result.data is None for result in kept)
    assert not any(seam.path for result in kept if result.reading for seam in result.reading.seams)
    assert as_table(kept) == as_table(results)
    assert "1 branch, 1 circumferential, 1 longitudinal" in as_table(kept)


def test_the_table_numbers_its_reasons_as_the_marked_picture_does() -> None:
    results = list(screen(found(red=RED), StandInReader()))
    (reading,) = [result.reading for result in results]
    assert reading is not None
    assert reading.verdict.evidence
    said = " ".join(cell for line in as_table(results).split("\n") for cell in _second_cell(line))
    for number, evidence in enumerate(reading.verdict.evidence, start=1):
        assert f"{number}. {evidence.sentence}" in said


def _second_cell(line: str) -> list[str]:
    cells = line.split("│")
    return cells[3].split() if len(cells) > 3 else []


def as_table(results: list[Screened]) -> str:
    console = Console(width=150, file=io.StringIO(), record=True)
    print_table(results, console)
    return console.export_text()


def test_samples_leave_when_a_photo_of_ones_own_comes() -> None:
    reader = StandInReader()
    sample, own = found(sample=RED), found(own=BLUE)
    listed: list[cards.Card] = []
    for card in cards.read_cards(sample, reader, is_sample=True):
        listed = cards.added(listed, card)
    assert [card.photo for card in listed] == ["sample.jpg"]
    for card in [*cards.read_cards(own * 2, reader, is_sample=False)]:
        listed = cards.added(listed, card)
    assert [card.photo for card in listed] == ["own.jpg"]


def test_past_the_limit_the_least_suspect_keep_their_readings_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(cards, "MAX_PICTURES", 2)
    listed: list[cards.Card] = []
    photos = found(a=BLUE, b=RED, c=encoded(picture(red=120)))
    for card in cards.read_cards(photos, StandInReader(), is_sample=False):
        listed = cards.added(listed, card)
    assert [card.photo for card in listed] == ["b.jpg", "c.jpg", "a.jpg"]
    assert [bool(card.plain) for card in listed] == [True, True, False]
    assert not listed[-1].data
    assert not listed[-1].has_details
    assert (cards.marked_photo(listed[-1]), cards.details(listed[-1])) == (b"", ())
    assert listed[-1].answer.photo == "a.jpg"


def test_a_card_carries_its_pictures_at_their_sizes() -> None:
    photo = found(big=encoded(picture(3000, 2000, red=250)))
    (card,) = cards.read_cards(photo, StandInReader(), is_sample=False)
    whole = cards.marked_photo(card)
    for data, longest in ((card.plain, 1200), (card.highlighted, 1200), (whole, 3000)):
        assert max(size_of(data)) == longest
    assert card.plain != card.highlighted
    assert card.has_details
    details = cards.details(card)
    assert details
    assert all(max(size_of(detail.plain)) <= 1400 for detail in details)


def test_a_card_keeps_little_beside_the_photo_itself() -> None:
    """Ten visits of fifty photos kept 10 MB of each. What is shown is at most 1200 pixels wide."""
    data = encoded(picture(4000, 3000, red=250), quality=95)
    (card,) = cards.read_cards(found(big=data), StandInReader(), is_sample=False)
    kept = [getattr(card, each.name) for each in dataclasses.fields(card)]
    pictures = [each for each in kept if isinstance(each, bytes) and each is not data]
    assert all(max(size_of(each)) == 1200 for each in pictures)
    assert not any(isinstance(each, tuple) for each in kept)
    assert card.data is data


def size_of(data: bytes) -> tuple[int, int]:
    with Image.open(io.BytesIO(data)) as image:
        return image.size


def test_an_empty_sample_folder_is_said_politely(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(loading, "SAMPLES", tmp_path)
    assert list(desk.from_samples()) == []
    assert desk.summary(0, 0, is_sample=True) == desk.NO_SAMPLES
