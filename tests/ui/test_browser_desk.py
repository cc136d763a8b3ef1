"""The desk in a real browser: photos in, a decision, the report, and all found again."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from fittings.words import ADVISORY
from tests.ui.conftest import Visit

PAGES = {
    "": "Screen photos",
    "shipment": "Shipment",
    "lots": "Lots",
    "trade?topic=Dimensions": "Orders, dimensions",
    "trainer?lesson=How+they+are+made": "Trainer",
    "limits": "What it can and cannot tell",
}


def is_wider_than_the_screen(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth > window.innerWidth"))


def write_name(page: Page, name: str) -> None:
    """The name stands on the server once the page has been drawn with it."""
    box = page.get_by_label("Your name")
    box.fill(name)
    box.press("Enter")
    page.wait_for_timeout(300)


def take_in(page: Page, lot: str, files: list[Path]) -> None:
    """A new lot with these photos, whose names begin with the piece's tag."""
    write_name(page, "A. Inspector")
    page.get_by_label("Name of the lot").fill(lot)
    page.get_by_role("button", name="Open the lot").click()
    page.locator("input[type=file]").set_input_files(files)
    page.get_by_text(files[-1].name).first.wait_for()
    page.get_by_placeholder("{piece} *.jpg").fill("{piece} *.jpg")
    page.get_by_role("button", name="Take them in").click()
    page.get_by_text("Another look:").wait_for()


@pytest.fixture
def shipment(tmp_path: Path, suspect_jpeg: bytes, plain_jpeg: bytes) -> list[Path]:
    files = {"P-01 a.jpg": plain_jpeg, "P-02 b.jpg": suspect_jpeg, "P-02 x.jpg": b"no picture"}
    for name, data in files.items():
        (tmp_path / name).write_bytes(data)
    return [tmp_path / name for name in files]


def test_from_a_shipment_to_a_decision_and_all_found_again_on_a_phone(
    visiting: Visit, shipment: list[Path]
) -> None:
    lot, width = "Delivery on the phone", 390
    with visiting(width, "shipment") as page:
        take_in(page, lot, shipment)
        assert (
            "could not be read: 1" in page.locator("[data-testid=stExpander]").all_inner_texts()[1]
        )
        assert page.get_by_text("Another look: 1 piece of 2").is_visible()
        assert "P-01" in page.locator("[data-testid=stCode]").inner_text()
        with page.expect_download() as download:
            page.locator(".st-key-report_file button").click()
        assert download.value.path().read_bytes().startswith(b"%PDF")
        assert not is_wider_than_the_screen(page)

        page.get_by_role("link", name="Open P-02").first.click()
        page.get_by_role("heading", name="Fabrication seam seen").wait_for()
        decide(page, "Hold", "a seam at the outlet's root")
        page.get_by_text("Decision recorded: Hold.").wait_for()
        assert ADVISORY in page.locator("[data-testid=stAlert]").first.inner_text()
        assert not is_wider_than_the_screen(page)
        where = page.url.rpartition("/")[2]

    with visiting(width, where) as page:  # another visit, as after a night
        page.get_by_text("Decision: Hold").first.wait_for()
        assert "a seam at the outlet's root" in page.inner_text("body")
        page.get_by_role("link", name="The lot").click()
        # The piece's heading holds the lot's name too, and its list comes after its own.
        page.get_by_role("heading", name=lot, exact=True).wait_for()
        page.get_by_role("link", name="Open P-01").first.wait_for()
        shown = page.locator("[class*='st-key-piece-']:has(a)").all_inner_texts()
        assert "P-02" in shown[0]
        assert "Hold, by A. Inspector" in shown[0]
        assert "P-01" in shown[1]


def decide(page: Page, decision: str, reason: str) -> None:
    # A radio's own button lies under its label.
    page.locator(".st-key-decide_which label", has_text=decision).click()
    page.get_by_label("Reason").fill(reason)
    page.get_by_role("button", name="Record the decision").click()


def test_two_browsers_on_one_piece_lose_nothing_and_keys_walk_on(
    visiting: Visit, shipment: list[Path]
) -> None:
    with visiting(1280, "shipment") as first:
        take_in(first, "Delivery for two", shipment[:2])
        link = first.get_by_role("link", name="Open P-02")
        link.focus()
        first.keyboard.press("Enter")
        first.get_by_role("heading", name="P-02 of Delivery for two").wait_for()
        with visiting(1280, first.url.rpartition("/")[2]) as second:
            second.get_by_role("heading", name="Fabrication seam seen").wait_for()
            write_name(second, "B. Other")
            decide(first, "Hold", "seen by the first")
            first.get_by_text("Decision recorded: Hold.").wait_for()
            decide(second, "Return to the yard", "seen by the second")
            second.get_by_text("look again, then decide").wait_for()
            second.get_by_text("Decision: Hold").first.wait_for()
            assert second.get_by_label("Reason").input_value() == "seen by the second"
            second.get_by_role("button", name="Record the decision").click()
            second.get_by_text("Decision recorded: Return to the yard.").wait_for()
            second.get_by_text("B. Other: Decision: Return to the yard").wait_for()
            history = second.inner_text("body")
            assert "A. Inspector: Decision: Hold (seen by the first)" in history
            assert "B. Other: Decision: Return to the yard (seen by the second)" in history

        first.get_by_role("heading", name="P-02").click()  # off the text box, where keys are text
        image = first.locator("[class*='st-key-photo-'] img").first
        marked = image.get_attribute("src")
        first.keyboard.press("m")
        first.get_by_role("button", name="Seams marked").wait_for()
        expect(image).not_to_have_attribute("src", str(marked))
        first.keyboard.press("n")
        first.get_by_role("heading", name="P-01 of Delivery for two").wait_for()
        first.keyboard.press("p")
        first.get_by_role("heading", name="P-02 of Delivery for two").wait_for()


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_every_page_fits_and_says_that_it_is_advisory(
    visiting: Visit, address: str, width: int, scheme: str
) -> None:
    with visiting(width, "", scheme) as page:
        for path, title in PAGES.items():
            page.goto(f"{address}/{path}")
            page.get_by_role("heading", name=title).first.wait_for()
            alert = page.locator("[data-testid=stAlert]").first
            alert.wait_for()
            assert ADVISORY in alert.inner_text()
            assert not is_wider_than_the_screen(page), path
            ground = page.evaluate(
                "getComputedStyle(document.querySelector('.stApp')).backgroundColor"
            )
            assert ground == ("rgb(20, 24, 28)" if scheme == "dark" else "rgb(255, 255, 255)")
