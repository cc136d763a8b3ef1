"""One full visit in a real browser: nothing asked of another host, no error on the page."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page

from fittings.words import ADVISORY
from tests.ui.conftest import Visit


@pytest.fixture(params=[1280, 390], ids=["desk", "phone"])
def visit(request: pytest.FixtureRequest, visiting: Visit) -> Iterator[Page]:
    with visiting(request.param) as page:
        yield page


def test_a_whole_visit(visit: Page, suspect_jpeg: bytes, plain_jpeg: bytes, tmp_path: Path) -> None:
    files = {"left *1*.jpg": suspect_jpeg, "plain.jpg": plain_jpeg, "broken.jpg": b"no picture"}
    for name, data in files.items():
        (tmp_path / name).write_bytes(data)
    visit.locator("input[type=file]").set_input_files([tmp_path / name for name in files])
    visit.get_by_text("broken.jpg").first.wait_for()
    visit.locator(".st-key-read_photos button").click()

    shown = visit.locator("[class*='st-key-card-']")
    shown.nth(1).wait_for()
    assert shown.count() == 2
    assert "Fabrication seam seen" in shown.nth(0).inner_text()
    assert "left *1*.jpg" in shown.nth(0).inner_text()
    assert ADVISORY in shown.nth(0).inner_text()
    assert (
        "broken.jpg: is not a picture."
        in visit.locator("[data-testid=stAlert]").nth(1).inner_text()
    )
    wide = visit.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    assert wide <= 0, "the page is wider than the screen"

    image = shown.nth(0).locator("img").first
    marked = image.get_attribute("src")
    shown.nth(0).get_by_text("Plain photo").click()
    visit.wait_for_function(
        "([card, old]) => document.querySelectorAll(card)[0].querySelector('img').src !== old",
        arg=["[class*='st-key-card-']", visit.evaluate("u => new URL(u, location).href", marked)],
    )

    shown.nth(0).locator("[class*='st-key-enlarge-'] button").click()
    dialog = visit.get_by_role("dialog")
    dialog.get_by_text("Seams at full size").wait_for()
    dialog.locator("img").nth(1).wait_for()
    visit.keyboard.press("Escape")
    dialog.wait_for(state="hidden")

    with visit.expect_download() as download:
        visit.locator(".st-key-csv button").click()
    rows = list(csv.DictReader(download.value.path().read_text(encoding="utf-8").splitlines()))
    assert [row["photo"] for row in rows] == ["left *1*.jpg", "plain.jpg", "broken.jpg"]
    with visit.expect_download() as download:
        shown.nth(0).locator("[class*='st-key-overlay-'] button").click()
    assert download.value.suggested_filename.endswith(".overlay.jpg")
    assert download.value.path().read_bytes()[:3] == b"\xff\xd8\xff"


def test_the_page_on_limits(visit: Page, address: str) -> None:
    visit.goto(f"{address}/limits")
    visit.get_by_role("heading", name="What it cannot tell").wait_for()
    assert ADVISORY in visit.locator("[data-testid=stAlert]").inner_text()
