"""The hostile corpus through the pages: `python -m tests.hostile.page --count 2000`.

Chromium sends the files as a person does who drops them: pictures, archives and documents in
batches to *Screen photos* (with `--shipment` into lots of the records instead, whose reports are
written), orders one by one to *Order and trade*. The stand-in reads them: what is tried here is
what opens files and shows their names. A name that is no text, which no browser sends, is replaced.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from time import perf_counter

from playwright.sync_api import Browser, Error, FilePayload, Page, sync_playwright

from fittings.words import ADVISORY
from tests.hostile.corpus import SEED, Case, cases
from tests.hostile.run import HANGS_S, LIMIT_MB
from tests.load.visits import Sending, Visit, press
from tests.load.watched import watched_server
from tests.ui.conftest import APP, FLAGS, browser_path

BATCH = 24
Words = list[str]


class Unaccounted(AssertionError):
    """A file came to neither a reading nor a named error, or the page broke; says which."""


def main() -> int:
    """The command; 0 when every file was accounted for within the limits."""
    parser = argparse.ArgumentParser(prog="python -m tests.hostile.page", description=__doc__)
    parser.add_argument("--count", type=int, default=2000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--shipment", action="store_true", help="into lots of the records")
    options = parser.parse_args()
    tally: Counter[str] = Counter()
    faults: list[str] = []
    slowest = (0.0, "")
    made = list(cases(options.first + options.count, options.seed))[options.first :]
    with (
        tempfile.TemporaryDirectory() as folder,
        sync_playwright() as playwright,
        watched_server(Path(folder), APP) as server,
    ):
        chromium = playwright.chromium.launch(executable_path=browser_path(), args=FLAGS)
        for send, batch in _batches(made, taken_in if options.shipment else screened):
            began_s = perf_counter()
            try:
                tally.update(send(chromium, server.address, batch))
            except (Unaccounted, Error, TimeoutError) as error:
                faults.append(f"{batch[0].name!r} to {batch[-1].name!r}: {error}"[:600])
                print(faults[-1], flush=True)
            if server.process.poll() is not None:
                faults.append(f"{batch[0].name!r} to {batch[-1].name!r}: the server ended")
                break
            slowest = max(slowest, (perf_counter() - began_s, batch[0].name))
            print(f"{batch[-1].name[:5]} … {server.now_mb:.0f} MB", file=sys.stderr, flush=True)
        chromium.close()
        tracebacks = server.tracebacks()
    print(f"{options.count} files of seed {options.seed} by Chromium: {len(faults)} faults")
    print(
        f"slowest batch {slowest[0]:.1f} s ({slowest[1]!r}); server {server.peak_mb:.0f} MB at most"
    )
    for word, number in tally.most_common():
        print(f"{number:7} {word}")
    print(f"{len(tracebacks)} tracebacks in the server's log")
    for line, number in Counter(tracebacks).most_common():
        print(f"{number:7} {line}")
    return 1 if faults or tracebacks or server.peak_mb > LIMIT_MB else 0


Send = Callable[[Browser, str, Sequence[Case]], Words]


def _batches(made: Sequence[Case], send: Send) -> list[tuple[Send, Sequence[Case]]]:
    photos = [each for each in made if not each.is_order]
    orders = [each for each in made if each.is_order]
    return [
        (way, kind[at : at + BATCH])
        for way, kind in ((send, photos), (checked, orders))
        for at in range(0, len(kind), BATCH)
    ]


def payload(case: Case) -> FilePayload:
    """The case as a browser sends it."""
    name = case.name.encode("utf-8", "replace").decode()
    return {"name": name, "mimeType": "application/octet-stream", "buffer": case.data}


def screened(chromium: Browser, address: str, batch: Sequence[Case]) -> Words:
    """All at once through *Screen photos*."""
    context = chromium.new_context()
    visit = Visit(context.new_page(), address)
    visit.choose([payload(each) for each in batch])
    visit.press_read(len(batch))
    visit.wait_until_read(HANGS_S)
    answers = visit.answers()
    _none_missing(batch, " ".join(f"\n{each['photo']}" for each in answers))
    _stands(visit)
    context.close()
    return [each["error"]["kind"] if "error" in each else "reading" for each in answers]


def taken_in(chromium: Browser, address: str, batch: Sequence[Case]) -> Words:
    """All at once into a new lot; its report is written."""
    context = chromium.new_context()
    page = context.new_page()
    sending = Sending(page)
    page.goto(f"{address}/shipment")
    name = page.get_by_label("Your name")
    name.fill("A. Inspector")
    name.press("Enter")
    _wait_until_drawn(page)
    page.get_by_label("Name of the lot").fill(f"Delivery {batch[0].name[:5]}")
    page.get_by_role("button", name="Open the lot").click()
    page.locator("input[type=file]").wait_for(state="attached")
    sending.choose([payload(each) for each in batch])
    sending.wait_until_sent(len(batch))
    press(page.get_by_role("button", name="Take them in"))
    done = page.get_by_text("Taken in:").first
    done.wait_for(timeout=1000 * HANGS_S)
    _wait_until_drawn(page)
    listed = page.locator("[data-testid=stExpander]", has_text="Taken in:").first
    _none_missing(batch, listed.text_content() or "")
    if page.locator(".st-key-report_file button").count():
        with page.expect_download(timeout=1000 * HANGS_S) as download:
            page.locator(".st-key-report_file button").click()
        if not download.value.path().read_bytes().startswith(b"%PDF"):
            raise Unaccounted("the report is no PDF")
    _stands(sending)
    context.close()
    return ["taken in"] * len(batch)


def checked(chromium: Browser, address: str, batch: Sequence[Case]) -> Words:
    """One by one through *Order and trade*."""
    context = chromium.new_context()
    page = context.new_page()
    sending = Sending(page)
    page.goto(f"{address}/trade?topic=Order")
    words: Words = []
    for each in batch:
        page.locator("input[type=file]").wait_for(state="attached")
        sending.choose([payload(each)])
        told = page.locator("[data-testid=stAlert], h3", has_text=each.name[:5]).first
        told.wait_for(timeout=1000 * HANGS_S)
        _wait_until_drawn(page)
        words.append("order" if told.evaluate("e => e.tagName") == "H3" else "order_file")
    _stands(sending)
    context.close()
    return words


def _wait_until_drawn(page: Page) -> None:
    page.wait_for_timeout(100)
    page.locator(".stApp[data-test-script-state=notRunning]").wait_for(timeout=1000 * HANGS_S)


def _none_missing(batch: Sequence[Case], said: str) -> None:
    """Each file's name begins with a number of its own."""
    missing = [each.name for each in batch if each.name[:5] not in said]
    if missing:
        raise Unaccounted(f"neither a reading nor an error: {missing}")


def _stands(sending: Sending) -> None:
    if sending.page.locator("[data-testid=stException]").count():
        raise Unaccounted(sending.page.locator("[data-testid=stException]").first.inner_text())
    if sending.troubles:
        raise Unaccounted(f"the page's own scripts: {sending.troubles}")
    if ADVISORY not in sending.page.inner_text("body"):
        raise Unaccounted("the page does not say that it is advisory")


if __name__ == "__main__":
    sys.exit(main())
