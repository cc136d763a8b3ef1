"""Takes the README's pictures of the pages again: `python -m tests.readme_pictures`.

Chromium visits the pages as they are, with the shipped weights and records of its own, and does
what the README's walk-throughs tell: the samples on *Screen photos*, a delivery of the same pieces
seen from further sides on *Shipment*, a piece put on hold, four lights in the trainer. Run it after
a change of pages, samples or weights, and look at what it wrote.
"""

from __future__ import annotations

import io
import os
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

from synthetic.gallery import rgb_pixels
from synthetic.native import native_stages
from synthetic.render import render
from synthetic.sample import PIECE_KINDS, sample_scene
from synthetic.sample_pieces import outside_points
from synthetic.sample_view import sample_camera
from synthetic.scene import Scene
from tests.load.visits import Sending, press
from tests.ui.conftest import FLAGS, browser_path
from ui import serving
from ui.loading import SAMPLES
from ui.make_samples import PICKED, SAMPLE_SEED
from ui.records.places import PHOTOS_SETTING, RECORDS_SETTING

HERE = Path(serving.__file__).parent
WIDTH_PX = 1050  # of a picture in the README
BY = "A. Inspector"
LOT = "Pump house, delivery 3"
HELD = "P-02"
WAIT_MS = 240_000  # the renderer may have to be compiled first

DELIVERY = {
    "P-01": (1, ("left", "right")),
    "P-02": (2, ("left", "right", "above")),
    "P-03": (8, ("left",)),
    "P-04": (6, ("left",)),
    "P-05": (10, ("left",)),
}
"""Tag → the sample that it is, and the sides from which it was photographed."""


def main() -> int:
    """The command."""
    with tempfile.TemporaryDirectory() as folder:
        photos = Path(folder) / "photos"
        photos.mkdir()
        _photograph(photos)
        os.environ[RECORDS_SETTING] = str(Path(folder) / "records.sqlite")
        os.environ.pop(PHOTOS_SETTING, None)
        port = serving.free_port("127.0.0.1", None)
        with serving.served("127.0.0.1", port), sync_playwright() as playwright:
            address = serving.page_address("127.0.0.1", port)
            chromium = playwright.chromium.launch(executable_path=browser_path(), args=FLAGS)
            _screening(_page(chromium, 960, 1750), address)
            _delivery(_page(chromium, 1280, 1100), address, sorted(photos.iterdir()))
            _lights(_page(chromium, 1280, 1330), address)
            chromium.close()
    return 0


def _photograph(folder: Path) -> None:
    for tag, (number, sides) in DELIVERY.items():
        index = PICKED[number - 1]
        kinds = (PIECE_KINDS[index % 3],)
        scene = sample_scene(np.random.default_rng([SAMPLE_SEED, index]), kinds)
        for at, side in enumerate(sides):
            path = folder / f"{tag} {side}.jpg"
            if not at:
                path.write_bytes((SAMPLES / f"piece-{number:02d}.jpg").read_bytes())
                continue
            seen = _from_elsewhere(scene, np.random.default_rng([SAMPLE_SEED, index, at]))
            picture = render(seen, 1280, 960, run=native_stages())
            Image.fromarray(rgb_pixels(picture)).save(path, quality=88)


def _from_elsewhere(scene: Scene, rng: np.random.Generator) -> Scene:
    """The same piece in the same light, by a camera in another place."""
    piece = scene.pieces[0]
    rotation = np.reshape(piece.rotation, (3, 3))
    points = outside_points(piece) @ rotation.T + np.asarray(piece.position_mm)
    middle = points.mean(axis=0)
    extent = float(np.linalg.norm(points - middle, axis=1).max())
    camera, effects = sample_camera(rng, middle, extent, False, plain=True, points=points)
    return replace(scene, camera=camera, effects=replace(effects, exposure=scene.effects.exposure))


def _page(chromium: Browser, width: int, height: int) -> Page:
    page = chromium.new_context(
        viewport={"width": width, "height": height}, color_scheme="light"
    ).new_page()
    page.set_default_timeout(WAIT_MS)
    return page


def _screening(page: Page, address: str) -> None:
    page.goto(address)
    page.get_by_role("button", name="Try the sample photos").click()
    page.get_by_text("Photos read:").first.wait_for()
    _shoot(page, HERE / "page.png")


def _delivery(page: Page, address: str, photos: list[Path]) -> None:
    sending = Sending(page)
    page.goto(f"{address}/shipment")
    name = page.get_by_label("Your name")
    name.fill(BY)
    name.press("Enter")
    _drawn(page)
    page.get_by_label("Name of the lot").fill(LOT)
    page.get_by_label("Yard", exact=True).fill("North yard")
    page.locator(".st-key-shipment_open button").click()
    page.locator("input[type=file]").wait_for(state="attached")
    page.get_by_role("textbox", name="File name pattern").fill("{piece} *.jpg")
    sending.choose(photos)
    sending.wait_until_sent(len(photos))
    press(page.locator(".st-key-take_in button"))
    page.get_by_text("Request to the yard").wait_for()
    _drawn(page)
    page.get_by_role("link", name=f"Open {HELD}").click()
    page.get_by_text("Your decision").wait_for()
    _drawn(page)
    page.get_by_text("Hold", exact=True).first.click()
    page.get_by_label("Reason").fill("Line at the outlet's root; bore to be looked at")
    page.locator(".st-key-decide_it button").click()
    page.get_by_text("Decision: Hold", exact=True).wait_for()
    page.get_by_role("heading", name="Piece", exact=True).scroll_into_view_if_needed()
    _shoot(page, HERE / "pictures" / "inspector.png", WIDTH_PX)
    page.get_by_role("link", name="Shipment").first.click()
    page.locator("[data-testid=stSelectbox] input").click()
    page.get_by_role("option", name=LOT).click()
    page.get_by_text("Request to the yard").wait_for()
    _drawn(page)
    top = page.get_by_text("Another look:")
    # Below the bar at the top, so that all pieces and the request after them are in view.
    top.evaluate("each => { each.style.scrollMarginTop = '90px'; each.scrollIntoView(); }")
    _shoot(page, HERE / "pictures" / "expediter.png", WIDTH_PX)


def _lights(page: Page, address: str) -> None:
    page.goto(f"{address}/trainer")
    page.get_by_text("Four lights", exact=True).first.click()
    page.get_by_text("Low, from where the seam shows most").wait_for()
    _shoot(page, HERE / "pictures" / "trainer.png", WIDTH_PX)


def _drawn(page: Page) -> None:
    page.wait_for_timeout(500)
    page.locator(".stApp[data-test-script-state=notRunning]").wait_for()


def _shoot(page: Page, path: Path, width_px: int | None = None) -> None:
    """What the window shows; `width_px` makes it so wide."""
    _drawn(page)
    page.wait_for_timeout(2000)  # pictures are decoded, and buttons have lost their glow
    shown = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    if width_px is not None:
        size = (width_px, round(shown.height * width_px / shown.width))
        shown = shown.resize(size, Image.Resampling.LANCZOS)
    shown.save(path, optimize=True)
    print(f"{path}: {shown.width} x {shown.height}")


if __name__ == "__main__":
    sys.exit(main())
