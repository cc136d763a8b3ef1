"""Two browsers at once, and hostile files dropped on the pages, by Chromium.

Ten browsers with fifty photos each: `python -m tests.load.run --browsers 10`; the whole corpus:
`python -m tests.hostile.page`.
"""

from __future__ import annotations

import itertools
from collections import Counter
from itertools import islice
from pathlib import Path

from playwright.sync_api import Browser

from tests.hostile import page as hostile
from tests.hostile.corpus import Case, case
from tests.load.photos import write_photos
from tests.load.run import card_of
from tests.load.visits import Visit
from tests.stand_in import StandInReader, sha256_of


def test_two_browsers_at_once_get_their_own_photos_only(
    chromium: Browser, address: str, tmp_path: Path
) -> None:
    """The photos of both are called the same, so that one in the other's place would be shown."""
    sets = write_photos(tmp_path, browsers=2, photos=3)
    visits = [Visit(chromium.new_context().new_page(), address) for _ in sets]
    for visit, paths in zip(visits, sets, strict=True):
        visit.choose(paths)
    for visit, paths in zip(visits, sets, strict=True):
        visit.press_read(len(paths))
    for browser, (visit, paths) in enumerate(zip(visits, sets, strict=True)):
        assert visit.wait_until_read(60) == "Photos read: 3"
        expected = {
            path.name: StandInReader().read_bytes(path.read_bytes(), path.name) for path in paths
        }
        answers = {answer["photo"]: answer for answer in visit.answers()}
        assert answers == {
            name: outcome.reading.as_json() for name, outcome in expected.items() if outcome.reading
        }
        assert {a["sha256"] for a in answers.values()} == {sha256_of(p.read_bytes()) for p in paths}
        assert visit.shown() == {
            card_of(path): (320 + 2 * number, 240 + 2 * browser)
            for number, path in enumerate(paths)
        }
        assert visit.troubles == []
        visit.page.context.close()


_KEEP_SOCKETS = """
window.sockets = [];
window.WebSocket = class extends WebSocket {
    constructor(...given) { super(...given); window.sockets.push(this); }
};
"""


def test_a_lost_connection_leaves_no_photo_out(
    chromium: Browser, address: str, tmp_path: Path
) -> None:
    """The browser comes back by itself, and Streamlit runs the page anew without the press."""
    (paths,) = write_photos(tmp_path, browsers=1, photos=24)
    page = chromium.new_context().new_page()
    page.add_init_script(_KEEP_SOCKETS)
    visit = Visit(page, address)
    visit.choose(paths)
    visit.press_read(len(paths))
    page.get_by_text("Reading …").first.wait_for()
    assert page.evaluate("sockets.forEach(each => each.close()), sockets.length") == 1
    assert visit.wait_until_read(60) == "Photos read: 24"
    assert len(visit.answers()) == len(paths)
    assert page.evaluate("sockets.length") == 2
    page.context.close()


def some(count: int, *, orders: bool) -> list[Case]:
    """The first files of the corpus that are orders, or are not."""
    return list(islice((m for m in map(case, itertools.count()) if m.is_order == orders), count))


def test_hostile_files_are_accounted_for_on_the_screening_page(
    chromium: Browser, address: str
) -> None:
    words = Counter(hostile.screened(chromium, address, some(8, orders=False)))
    assert words["reading"]
    assert words["truncated"]


def test_hostile_orders_are_accounted_for_on_the_page(chromium: Browser, address: str) -> None:
    words = Counter(hostile.checked(chromium, address, some(3, orders=True)))
    assert words["order"] + words["order_file"] == 3


def test_hostile_files_are_taken_in_and_reported(chromium: Browser, address: str) -> None:
    batch = some(4, orders=False)
    assert hostile.taken_in(chromium, address, batch) == ["taken in"] * len(batch)
