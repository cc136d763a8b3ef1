"""What is known of a photo, given on the command line."""

from __future__ import annotations

import pytest
import typer

from ui.known_options import known_of


def known(**given: str | bool | int | None):
    options = {"nps": None, "sheet": False, "length": None, "start": None, "end": None}
    photos = given.pop("photos", 1)
    return known_of(**(options | given), photos=photos)  # type: ignore[arg-type]


def test_nothing_said_is_nothing_known() -> None:
    assert known() is None
    assert known(photos=40) is None


def test_size_sheet_and_length() -> None:
    found = known(nps="1-1/2", sheet=True, length="12 in", start="10,20", end="10;320")
    assert found is not None
    assert (found.nps, found.sheet) == ("1-1/2", True)
    assert found.line is not None
    assert found.line.length_mm == pytest.approx(304.8)
    assert found.line.mm_per_px == pytest.approx(304.8 / 300)


@pytest.mark.parametrize(
    ("given", "option", "said"),
    [
        ({"nps": "six"}, "--nps", "not a nominal pipe size"),
        ({"nps": "77"}, "--nps", "not listed"),
        ({"length": "300mm"}, "--from", "go together"),
        ({"start": "1,2", "end": "3,4"}, "--length", "go together"),
        ({"length": "300", "start": "1,2", "end": "300,4"}, "--length", "no unit"),
        ({"length": "0mm", "start": "1,2", "end": "300,4"}, "--length", "above 0 mm"),
        ({"length": "300mm", "start": "1,2", "end": "3,4"}, "--length", "pixels apart"),
        ({"length": "300mm", "start": "1 2", "end": "300,4"}, "--from", "not like 120,340"),
        ({"length": "300mm", "start": "1,2", "end": "3"}, "--to", "not like 120,340"),
        ({"length": "300mm", "start": "1,2", "end": "300,4", "photos": 2}, "--length", "one photo"),
        ({"length": "300mm", "start": "1,2", "end": "300,4", "photos": None}, "--length", "one p"),
    ],
)
def test_wrong_options_are_named(given: dict, option: str, said: str) -> None:
    with pytest.raises(typer.BadParameter, match=said) as caught:
        known(**given)
    assert option in str(caught.value.param_hint)
