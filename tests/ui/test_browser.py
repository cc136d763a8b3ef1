"""One full visit in a real browser: nothing asked of another host, no error on the page."""

from __future__ import annotations

import csv
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Page, sync_playwright

from fittings.words import ADVISORY
from ui.serving import free_port, page_address, served

APP = Path(__file__).parent / "app_with_stand_in.py"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]


def browser_path() -> str:
    """The system's Chromium; without one a failure where CI runs, a skip elsewhere."""
    for name in ("chromium", "chromium-browser", "google-chrome"):
        if path := shutil.which(name):
            return path
    if os.environ.get("CI"):
        pytest.fail("no Chromium is installed, and CI must not pass without the browser test")
    pytest.skip("no Chromium is installed")


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    port = free_port("127.0.0.1", None)
    with served("127.0.0.1", port, APP):
        yield page_address("127.0.0.1", port)


@pytest.fixture(params=[1280, 390], ids=["desk", "phone"])
def visit(request: pytest.FixtureRequest, address: str) -> Iterator[Page]:
    """A page on the first screen; when done, no error and no outside request may have come up."""
    errors: list[str] = []
    hosts: set[str] = set()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=browser_path(), args=FLAGS)
        page = browser.new_page(viewport={"width": request.param, "height": 900})
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.on("request", lambda asked: hosts.add(urlsplit(asked.url).netloc))
        page.goto(address)
        yield page
        browser.close()
    assert errors == []
    assert hosts <= {urlsplit(address).netloc, ""}  # data: and blob: have no host


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
