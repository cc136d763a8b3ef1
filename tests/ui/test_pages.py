from __future__ import annotations

import ast
import json
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from fittings.words import ADVISORY, Orientation
from models.weights import WeightsError
from tests.stand_in import StandInReader, bad_files, encoded, picture
from ui import cards, loading, shared
from ui.keys import Keys
from ui.serving import APP
from ui.site import __path__ as pages_path
from vision.known import Known
from vision.photo import Photo
from vision.reading import PhotoReading

PAGES = sorted(Path(pages_path[0]).glob("[!_]*.py"))


@pytest.fixture
def page(reader: StandInReader) -> AppTest:  # noqa: ARG001 - puts the stand-in in place
    shared.reader.clear()
    shared._kept.clear()
    return AppTest.from_file(str(APP), default_timeout=60).run()


def drop(page: AppTest, files: dict[str, bytes]) -> AppTest:
    page.file_uploader(key=Keys.UPLOAD).set_value(
        [(name, data, "image/jpeg") for name, data in files.items()]
    )
    return page.button(key=Keys.READ).click().run()


def listed(page: AppTest) -> list[cards.Card]:
    return page.session_state.get(Keys.CARDS, [])


def texts(page: AppTest) -> str:
    return "\n".join(str(each.value) for each in (*page.markdown, *page.warning, *page.info))


def test_the_first_page_says_what_it_is_for_and_that_it_is_advisory(page: AppTest) -> None:
    assert not page.exception
    assert page.title[0].value == "Screen photos for weld seams"
    assert ADVISORY in texts(page)
    assert not page.header


def test_several_photos_give_cards_worst_first_and_one_red_line(
    page: AppTest, suspect_jpeg: bytes, plain_jpeg: bytes
) -> None:
    drop(page, {"p.jpg": plain_jpeg, "cut *.jpg": suspect_jpeg[:900], "s.jpg": suspect_jpeg})
    assert not page.exception
    assert [card.photo for card in listed(page)] == ["s.jpg", "p.jpg", "cut *.jpg"]
    assert len(page.error) == 1
    assert page.error[0].value.startswith(r"cut \*\.jpg\: breaks off")
    assert [each.value for each in page.subheader] == [
        "Fabrication seam seen",
        "No seam seen (which is not the same as seamless)",
    ]
    assert texts(page).count(ADVISORY) == 3  # the page's own, and one beside each verdict
    assert page.dataframe[0].value["Photo"].tolist() == ["s.jpg", "p.jpg"]


def test_every_bad_file_is_named_and_the_page_stands(page: AppTest, plain_jpeg: bytes) -> None:
    drop(page, {**{name: data for name, (data, _) in bad_files().items()}, "good.jpg": plain_jpeg})
    assert not page.exception
    assert len(page.error) == len(bad_files())
    assert listed(page)[0].photo == "good.jpg"


def test_pressing_without_files_says_what_to_do(page: AppTest) -> None:
    page.button(key=Keys.READ).click().run()
    assert not page.exception
    assert "Choose one photo" in page.status[0].label


def test_what_a_person_knows_reaches_the_reader_and_is_no_old_reading(
    page: AppTest, plain_jpeg: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[Known] = []
    read = StandInReader.read

    def heard(reader: StandInReader, photo: Photo) -> PhotoReading:
        told.append(reader.known)
        return read(reader, photo)

    monkeypatch.setattr(StandInReader, "read", heard)
    drop(page, {"p.jpg": plain_jpeg})
    page.text_input(key=Keys.NPS).set_value("6")
    page.checkbox(key=Keys.SHAPE).check()
    page.button(key=Keys.READ).click().run()
    page.button(key=Keys.READ).click().run()  # the same again comes from what is kept
    assert not page.exception
    assert told == [Known(), Known(nps="6", shape=True)]
    page.text_input(key=Keys.NPS).set_value("six")
    page.button(key=Keys.READ).click().run()
    assert not page.exception
    assert len(told) == 2
    assert "six" in page.error[0].value


def test_the_toggle_shows_the_plain_photo(page: AppTest, suspect_jpeg: bytes) -> None:
    drop(page, {"s.jpg": suspect_jpeg})
    (card,) = listed(page)
    toggle = page.segmented_control(key=f"view-{card.card_id}")
    assert toggle.value == "Seams marked"
    marked = page.image[0].proto.imgs[0].url
    toggle.set_value("Plain photo").run()
    assert not page.exception
    assert page.image[0].proto.imgs[0].url != marked


def test_enlarging_shows_crops_marked_and_plain(page: AppTest, suspect_jpeg: bytes) -> None:
    drop(page, {"s.jpg": suspect_jpeg})
    (card,) = listed(page)
    before = len(page.image)
    page.button(key=f"enlarge-{card.card_id}").click().run()
    assert not page.exception
    assert len(page.image) == before + 2 * len(cards.details(card))


def test_downloads_carry_the_readings(page: AppTest, suspect_jpeg: bytes) -> None:
    drop(page, {"s.jpg": suspect_jpeg, "x.jpg": b""})
    labels = [each.label for each in page.get("download_button")]
    assert labels == ["Readings as CSV", "Readings as JSON lines", "Marked photo"]


def test_changing_the_page_loses_nothing(page: AppTest, suspect_jpeg: bytes) -> None:
    drop(page, {"s.jpg": suspect_jpeg})
    page.switch_page("site/limits.py").run()
    assert page.title[0].value == "What it can and cannot tell"
    page.switch_page("site/screen_photos.py").run()
    assert not page.exception
    assert [card.photo for card in listed(page)] == ["s.jpg"]
    assert page.subheader[0].value == "Fabrication seam seen"
    page.button(key=Keys.CLEAR).click().run()
    assert listed(page) == []


def test_the_samples_take_one_press_and_are_called_rendered(
    page: AppTest, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    page.button(key=Keys.SAMPLES).click().run()
    if not loading.sample_count():
        assert "no sample pictures" in page.status[0].label
    for number in range(3):
        (tmp_path / f"{number}.jpg").write_bytes(encoded(picture(red=80 * number)))
    monkeypatch.setattr(loading, "SAMPLES", tmp_path)
    page.button(key=Keys.SAMPLES).click().run()
    assert not page.exception
    samples = [card for card in listed(page) if card.photo in ("0.jpg", "1.jpg", "2.jpg")]
    assert len(samples) == 3
    assert "Rendered picture, not a photograph." in [each.value for each in page.caption]


def test_without_weights_there_is_one_red_line(
    monkeypatch: pytest.MonkeyPatch, suspect_jpeg: bytes
) -> None:
    def refuse() -> StandInReader:
        raise WeightsError("x.onnx cannot be read. Restore it.")

    monkeypatch.setattr(loading, "load_reader", refuse)
    shared.reader.clear()
    page = AppTest.from_file(str(APP), default_timeout=60).run()
    drop(page, {"s.jpg": suspect_jpeg})
    assert not page.exception
    assert len(page.error) == 1
    assert not listed(page)


def test_the_page_on_limits_names_every_seam_and_no_acceptance(page: AppTest) -> None:
    page.switch_page("site/limits.py").run()
    assert not page.exception
    assert ADVISORY in texts(page)
    assert page.table[0].value["Letter"].tolist() == [o.style.letter for o in Orientation]


def test_measured_figures_are_shown_as_they_stand_in_the_card(
    page: AppTest, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = list(loading._rows({"kind_right": {"share": 0.97123, "of": 400}}, ()))
    assert rows == [
        {"Measured": "kind right, share", "Figure": "0.9712"},
        {"Measured": "kind right, of", "Figure": "400"},
    ]
    monkeypatch.setattr(loading, "exam_figures", lambda: rows)
    page.switch_page("site/limits.py").run()
    assert page.table[-2].value["Figure"].tolist() == ["0.9712", "400"]


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.stem)
def test_a_page_holds_no_logic(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    allowed = {"__future__", "streamlit", "fittings.words", "ui", "ui.keys", "ui.trainer"}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            assert node.module in allowed
        if isinstance(node, ast.Import):
            assert {alias.name for alias in node.names} <= allowed
        numbers = isinstance(node, ast.Constant) and isinstance(node.value, float)
        assert not numbers, "a page holds no thresholds"


@pytest.mark.parametrize("path", sorted(APP.parent.glob("*panels.py")), ids=lambda path: path.stem)
def test_the_parts_of_pages_leave_pictures_and_records_to_others(path: Path) -> None:
    heavy = {"numpy", "cv2", "PIL", "sqlalchemy", "onnxruntime", "matplotlib", "skimage", "scipy"}
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
        names += [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
        assert not {name.partition(".")[0] for name in names} & heavy


def test_three_doors_give_one_reading(
    page: AppTest,
    reader: StandInReader,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    suspect_jpeg: bytes,
) -> None:
    from ui import cli

    by_library = reader.read_bytes(suspect_jpeg, "s.jpg").reading
    assert by_library is not None
    path = tmp_path / "s.jpg"
    path.write_bytes(suspect_jpeg)
    monkeypatch.setattr("sys.argv", ["seamtriage", "screen", "--json", str(path)])
    with pytest.raises(SystemExit):
        cli.main()
    by_command = json.loads(capsys.readouterr().out)
    drop(page, {"s.jpg": suspect_jpeg})
    by_page = listed(page)[0].answer.as_json()
    answers = [by_library.as_json(), by_command, by_page]
    for answer in answers:
        del answer["seconds"]
    assert answers[0] == answers[1] == answers[2]
