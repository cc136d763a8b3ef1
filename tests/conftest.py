"""What the tests share: hypothesis settings, a reader without weights, pictures in memory."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator

import pytest
from hypothesis import settings

from tests.stand_in import StandInReader, encoded, picture
from ui import loading, together

# The processes that share the tests inherit this: threads of each that wait spinning for the others
# took a quarter of all processor time.
os.environ.setdefault("OMP_NUM_THREADS", "1")

settings.register_profile("repeatable", derandomize=True, deadline=None, max_examples=60)
settings.register_profile("fuzz", deadline=None, max_examples=5000)  # new ones every time
settings.load_profile("repeatable")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--update-golden", action="store_true", help="Write the golden pictures anew.")


@pytest.fixture
def update_golden(request: pytest.FixtureRequest) -> bool:
    """Whether golden pictures are to be written instead of compared."""
    return bool(request.config.getoption("--update-golden"))


@pytest.fixture
def reader(monkeypatch: pytest.MonkeyPatch) -> StandInReader:
    """A reader that stands in for the shipped one behind every door."""
    stand_in = StandInReader()
    monkeypatch.setattr(loading, "load_reader", lambda: stand_in)
    return stand_in


@pytest.fixture
def quick_drawings(monkeypatch: pytest.MonkeyPatch) -> None:
    """A blank in place of each drawing of a piece, for tests that do not look at them."""
    blank = encoded(picture(8, 8), "PNG")
    monkeypatch.setattr(together, "development_bytes", lambda _piece: blank)
    monkeypatch.setattr(together, "views_bytes", lambda *_: blank)


@pytest.fixture
def suspect_jpeg() -> bytes:
    """A photo that the stand-in reads as showing a fabrication seam."""
    return encoded(picture(640, 480, red=250))


@pytest.fixture
def plain_jpeg() -> bytes:
    """A photo on which the stand-in sees no seam."""
    return encoded(picture(640, 480, red=20))


@pytest.fixture(autouse=True)
def _own_main_module() -> Iterator[None]:
    """AppTest leaves its script in the place of the main module, where a process that is spawned
    later would run it."""
    main = sys.modules["__main__"]
    yield
    sys.modules["__main__"] = main
