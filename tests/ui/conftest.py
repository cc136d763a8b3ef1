"""One served copy of the pages and one Chromium for all browser tests; records for the pages."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from ui import shared
from ui.records import Records, open_records
from ui.records.places import PHOTOS_SETTING, RECORDS_SETTING
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

Visit = Callable[..., AbstractContextManager[Page]]


def browser_path() -> str:
    """The system's Chromium; without one a failure where CI runs, a skip elsewhere."""
    for name in ("chromium", "chromium-browser", "google-chrome"):
        if path := shutil.which(name):
            return path
    if os.environ.get("CI"):
        pytest.fail("no Chromium is installed, and CI must not pass without the browser test")
    pytest.skip("no Chromium is installed")


@pytest.fixture
def records(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Records]:
    """Empty records that the pages open too."""
    monkeypatch.setenv(RECORDS_SETTING, str(tmp_path / "records.sqlite"))
    monkeypatch.delenv(PHOTOS_SETTING, raising=False)
    shared.records.clear()
    with open_records() as opened:
        yield opened
    shared.records().close()
    shared.records.clear()


@pytest.fixture(scope="session")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where the pages are served, with the stand-in for the reader and records of their own."""
    browser_path()
    with pytest.MonkeyPatch.context() as patch:
        folder = tmp_path_factory.mktemp("served")
        patch.setenv(RECORDS_SETTING, str(folder / "records.sqlite"))
        port = free_port("127.0.0.1", None)
        with served("127.0.0.1", port, APP):
            yield page_address("127.0.0.1", port)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=browser_path(), args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def visiting(address: str, chromium: Browser) -> Visit:
    """`with visiting(width, path) as page`: a visit of its own, in which no error and no request to
    another host may come up."""

    @contextmanager
    def visit(width: int = 1280, path: str = "", scheme: str = "light") -> Iterator[Page]:
        errors: list[str] = []
        hosts: set[str] = set()
        context = chromium.new_context(
            viewport={"width": width, "height": 900},
            color_scheme=scheme,  # type: ignore[arg-type]
            accept_downloads=True,
        )
        page = context.new_page()
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.on("request", lambda asked: hosts.add(urlsplit(asked.url).netloc))
        page.goto(f"{address}/{path}")
        yield page
        context.close()
        assert errors == []
        assert hosts <= {urlsplit(address).netloc, ""}  # data: and blob: have no host

    return visit
