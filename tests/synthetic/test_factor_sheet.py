"""The contact sheet: every field has its row, its ends are drawn values, the command's files."""

from __future__ import annotations

import dataclasses
import typing
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from synthetic import factor_ends, factor_sheet
from synthetic.factor_bases import at_path, groups, with_value
from synthetic.factor_ends import factor_names, factors, things
from synthetic.scene import Scene

TINY = ["--width", "64", "--height", "48"]


@pytest.fixture(autouse=True)
def few_draws(monkeypatch: pytest.MonkeyPatch) -> typing.Iterator[None]:
    """A few drawn scenes hold the ends well enough here."""
    monkeypatch.setattr(factor_ends, "DRAWN", 30)
    factor_ends.drawn_scenes.cache_clear()
    yield
    factor_ends.drawn_scenes.cache_clear()


def classes(hint: typing.Any) -> set[type]:
    """Every dataclass that a scene is made of."""
    if dataclasses.is_dataclass(hint):
        inner = typing.get_type_hints(hint).values()
        return {typing.cast(type, hint)}.union(*(classes(each) for each in inner))
    return set().union(*(classes(each) for each in typing.get_args(hint)))


def test_every_class_of_a_scene_has_its_group() -> None:
    shown = {type(at_path(group.bases[0], group.path)) for group in groups()}
    assert shown == classes(Scene)


def test_a_groups_names_are_its_numbers() -> None:
    (camera,) = [group for group in groups() if group.name == "camera"]
    assert factor_names(camera) == (
        "position_mm", "rotation", "focal", "k1", "k2", "centre_across", "centre_down",
    )  # fmt: skip
    (mark,) = [group for group in groups() if group.name == "mark"]
    assert {"rgb", "opacity"} < set(factor_names(mark))
    assert not {"name", "follow"} & set(factor_names(mark))


def test_only_the_factor_differs_and_its_ends_are_the_drawn_ones() -> None:
    (light,) = [group for group in groups() if group.name == "light"]
    first = next(factors(light, "sky_power"))
    low, middle, high = (scene.light.sky_power for scene in first.scenes)
    drawn = [each.sky_power for each in things(light.bases[0].light)]
    assert (low, high) == (min(drawn), max(drawn))
    assert low < middle < high
    assert middle in drawn
    again = [with_value(scene, ("light", "sky_power"), 0.0) for scene in first.scenes]
    assert again[0] == again[1] == again[2]


def test_a_mitred_elbows_cuts_make_up_its_bend() -> None:
    (piece,) = [group for group in groups() if group.name == "piece"]
    for field in ("pieces", "cut_deg"):
        for scene in list(factors(piece, field))[2].scenes:
            elbow = scene.pieces[0]
            assert 2.0 * elbow.cut_deg * (elbow.pieces - 1.0) == pytest.approx(elbow.bend_deg)


def test_the_command_writes_pages(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "sheet"
    wanted = ["--only", "effects.exposure", "effects.vignette"]
    assert factor_sheet.main(["--out", str(out), *wanted, *TINY]) == 0
    assert capsys.readouterr().out.startswith("2 rows on 1 pages")
    assert sorted(path.name for path in out.iterdir()) == ["factors-01.png", "factors.csv"]
    table = (out / "factors.csv").read_text(encoding="utf-8").splitlines()
    assert table[0] == "factor,low end,middle,high end"
    assert [line.split(",")[0] for line in table[1:]] == ["effects.exposure", "effects.vignette"]
    low, middle, high = (float(value) for value in table[1].split(",")[1:])
    assert low < middle < high
    page = np.asarray(Image.open(out / "factors-01.png").convert("RGB"))
    top = factor_sheet._NAME_PX
    low, middle, high = (
        page[top : top + 48, 6 + place * 70 : 70 + place * 70].mean() for place in range(3)
    )
    assert low + 20 < middle < high - 20  # exposure, as it stands on the page
    assert factor_sheet.main(["--out", str(out), *wanted, *TINY]) == 1
    assert "--force" in capsys.readouterr().err
    assert factor_sheet.main(["--out", str(tmp_path / "none"), "--only", "nothing."]) == 1
    assert "No factor begins with nothing." in capsys.readouterr().err


def test_what_is_not_seen_is_listed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(factor_ends, "DRAWN", 1)  # so that the ends are one and the same
    wanted = ["--only", "effects.exposure", "camera.k1"]
    assert factor_sheet.main(["--out", str(tmp_path), *wanted, *TINY]) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[1].startswith("2 change nothing")
    assert said[2].startswith("  camera.k1  (")
    assert said[3].startswith("  effects.exposure  (")
    assert factor_sheet.main(["--out", str(tmp_path), "--force", "--only", "prop.", *TINY]) == 1
    assert "No drawn scene holds a Prop" in capsys.readouterr().err


def test_change_counts_pixels_by_their_plainest_channel() -> None:
    plain = np.full((4, 5, 3), 100, np.uint8)
    other = plain.copy()
    other[0, 0, 2] = 96
    other[0, 1] = 103
    assert factor_sheet.change(plain, other) == pytest.approx(1 / 20)
    assert factor_sheet.change(other, plain) == pytest.approx(1 / 20)
