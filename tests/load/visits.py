"""What a person does on the screening page, done by Chromium: choose files, read, download."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from playwright.sync_api import Error, FilePayload, Locator, Page, Request, expect

from ui.keys import Keys

UPLOAD_LIMIT_S = 120.0
CARDS = "[class*='st-key-card-']"


class Sending:
    """Files on their way from a page. `troubles` are the errors of the page's own scripts."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.troubles: list[str] = []
        self._sent = 0
        page.on("pageerror", lambda error: self.troubles.append(str(error)))
        page.on("requestfinished", self._count)

    def _count(self, request: Request) -> None:
        self._sent += request.method == "PUT" and "upload_file" in request.url

    def choose(self, files: Sequence[Path] | Sequence[FilePayload]) -> None:
        """Begins to send the files; does not wait."""
        self._sent = 0
        self.page.locator("input[type=file]").set_input_files(files)

    def wait_until_sent(self, count: int) -> None:
        """Until the server has so many of them."""
        waited_s = 0.0
        while self._sent < count:
            if waited_s > UPLOAD_LIMIT_S:
                raise TimeoutError(f"{self._sent} of {count} files were sent")
            self.page.wait_for_timeout(50)
            waited_s += 0.05


def press(button: Locator) -> None:
    """By the keyboard: as long as files appear above it, the button moves away from the mouse."""
    expect(button).to_be_enabled(timeout=60_000)
    button.press("Enter")


class Visit(Sending):
    """One browser on the screening page."""

    def __init__(self, page: Page, address: str) -> None:
        super().__init__(page)
        page.goto(address)
        page.locator("input[type=file]").wait_for(state="attached", timeout=60_000)

    def press_read(self, count: int) -> None:
        """Presses the button as soon as so many files are sent."""
        self.wait_until_sent(count)
        press(self.page.locator(f".st-key-{Keys.READ} button"))

    def wait_until_read(self, limit_s: float) -> str:
        """What the page says when all is read; TimeoutError with what it says instead."""
        done = self.page.get_by_text("Photos read:").first
        try:
            done.wait_for(timeout=1000 * limit_s)
        except Error as error:
            state = self.page.locator(".stApp").get_attribute("data-test-script-state")
            said = " ".join(self.page.inner_text("body").split())
            raise TimeoutError(f"not read in {limit_s:.0f} s; {state}: {said[:800]}") from error
        self.page.locator(f".st-key-{Keys.JSON} button").wait_for(timeout=60_000)
        return done.inner_text()

    def answers(self) -> list[dict[str, Any]]:
        """The readings and errors that the page gives as JSON lines."""
        with self.page.expect_download(timeout=120_000) as download:
            self.page.locator(f".st-key-{Keys.JSON} button").click()
        text = download.value.path().read_text(encoding="utf-8")
        return [json.loads(line) for line in text.split("\n") if line]

    def shown(self) -> dict[str, tuple[int, int]]:
        """Card → (width, height) of the picture on it, pixels of the file that was sent."""
        return {
            card: (width, height) for card, width, height in self.page.evaluate(_PICTURES, CARDS)
        }


_PICTURES = """async cards => Promise.all([...document.querySelectorAll(cards)].map(async card => {
    const image = card.querySelector('img');
    await image.decode();
    const key = [...card.classList].find(name => name.startsWith('st-key-card-'));
    return [key.slice('st-key-card-'.length), image.naturalWidth, image.naturalHeight];
}))"""
