"""A few ends and troubles. All of them: `python -m tests.faults.run`."""

from __future__ import annotations

from collections import Counter

import pytest

pytest.importorskip("resource", reason="other systems have no such signals and limits")

from tests.faults.check import after_the_end, whole
from tests.faults.dying import Death, live
from tests.faults.run import kill, undisturbed
from tests.faults.sites import Sites, Sqlite
from tests.faults.troubles import locked, no_room_in_files, other_weights


@pytest.fixture(scope="module")
def sites(tmp_path_factory: pytest.TempPathFactory) -> Sites:
    return Sites(Sqlite(), tmp_path_factory.mktemp("sites"))


def test_what_is_ended_or_starved_loses_nothing_and_goes_on(sites: Sites) -> None:
    calm = {step: undisturbed(step, sites) for step in ("receive", "decide", "export", "import")}
    ends = {
        "receive": Death(at_event=calm["receive"].life.events // 2),
        "decide": Death(after_s=0.5 * calm["decide"].life.elapsed_s),
        "export": Death(at_event=calm["export"].life.events - 3),
        "import": Death(at_byte=calm["import"].most_bytes // 2),
    }
    came_of_it = {step: kill(step, sites, death, calm[step]) for step, death in ends.items()}
    assert Counter(came_of_it.values()) == {(True, ""): 4}, came_of_it
    expected = calm["decide"].whole
    assert locked("decide", sites, 60.0, 0.1, expected)
    assert no_room_in_files("decide", sites, calm["decide"].most_bytes // 2, expected)
    assert other_weights("screen", sites, "cut short", undisturbed("screen", sites).whole)


def test_what_is_lost_or_half_written_would_be_found(sites: Sites) -> None:
    with sites.before("decide") as site, sites.before("decide") as untouched:
        life = live("decide", site)
        expected = whole(site)
        with pytest.raises(AssertionError, match="'check': 'E-104'"):
            after_the_end("decide", untouched, life, expected)
        after_the_end("decide", site, life, expected)
        (site.out / "lot.pdf.part").write_bytes(b"")
        with pytest.raises(AssertionError, match=r"left behind: lot\.pdf\.part"):
            after_the_end("decide", site, life, expected)
        (site.out / "lot.pdf.part").unlink()
        photo = next(site.photos.glob("??/*"))
        photo.write_bytes(photo.read_bytes()[:50])
        with pytest.raises(AssertionError, match="altered"):
            after_the_end("decide", site, life, expected)
