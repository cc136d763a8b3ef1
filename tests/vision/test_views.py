"""What to photograph next: the views show what they promise, and ask for what is missing."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from fittings.words import ADVISORY, Kind, Part
from tests.vision.pieces import a_view, window
from tests.vision.test_piece import THRESHOLDS
from vision.piece import PieceReading, read_piece
from vision.piece_form import Form, usual_form
from vision.piece_seen import COLUMNS, seen_share
from vision.view_drawing import views_bytes, views_figure
from vision.view_stands import outside_stands
from vision.views import LEAST_GAIN, next_views, visible


def test_a_tube_from_the_side_shows_what_faces_the_camera_within_70_degrees() -> None:
    tube = Form(kind=Kind.REDUCER, length=2.0)
    shares = visible(tube, (1.0, 0.0, -400.0), (1.0, 0.0, 0.0))
    assert seen_share(tube, shares) == pytest.approx(140.0 / 360.0, abs=0.01)
    middle = np.abs((np.arange(COLUMNS) + 0.5) / COLUMNS * 360.0 - 180.0) < 65.0
    assert (shares[Part.BODY][:, middle] == 1.0).all()  # 0 is -z, the side that faces it


def test_what_stands_before_hides_what_is_behind() -> None:
    """From the outlet's end along its axis, nothing of the run's far half is seen, and the outlet's
    own wall hides itself; from beyond one end of the run the outlet hides part of the run."""
    tee = usual_form(Kind.TEE)
    above = visible(tee, (0.0, 0.0, 60.0), (0.0, 0.0, 0.0))
    around = (np.arange(COLUMNS) + 0.5) / COLUMNS * 360.0 - 180.0
    assert above[Part.RUN][:, np.abs(around) > 95].max() == 0.0
    assert above[Part.OUTLET].max() == 0.0
    over = visible(tee, (-40.0, 0.0, 25.0), (0.0, 0.0, 0.5))
    near, far = over[Part.RUN][:6].sum(), over[Part.RUN][-6:].sum()
    assert far < 0.8 * near


@pytest.mark.parametrize("kind", [Kind.ELBOW, Kind.TEE, Kind.REDUCER])
def test_the_places_to_stand_show_the_whole_outside(kind: Kind) -> None:
    form = usual_form(kind)
    stands = outside_stands(form)
    seen = [visible(form, stand.eye, stand.aim) for stand in stands]
    together = {part: np.max([s[part] for s in seen], axis=0) for part in seen[0]}
    assert seen_share(form, together) > 0.93
    codes = [stand.code for stand in stands]
    assert len(set(codes)) == len(codes)
    for stand in stands:
        if stand.twin is not None:
            assert next(s for s in stands if s.code == stand.twin).twin == stand.code


def piece(kind: Kind, *windows: tuple[float, float]) -> PieceReading:
    views = [a_view(f"{i}.jpg", kind=kind, seen=window(*each)) for i, each in enumerate(windows)]
    return read_piece(views, THRESHOLDS)


def test_the_side_that_no_photo_shows_is_asked_for_first() -> None:
    """An elbow seen from the extrados (0°) only: the intrados is missing, and the other way."""
    first = next_views(piece(Kind.ELBOW, (-100, 100)))[0]
    assert "intrados" in first.sentence
    assert first.adds > 0.15


def test_the_other_side_is_named_by_a_photo() -> None:
    """Around 40° to 140° is one flank of an elbow: its twin is told by the photo that shows it."""
    asked = next_views(piece(Kind.ELBOW, (-10, 170)))
    assert any("that 0.jpg does not show" in view.sentence for view in asked)


def test_views_of_one_side_name_the_same_photo() -> None:
    """An elbow seen a little on one side: whatever is asked for on the other is told from it."""
    asked = next_views(piece(Kind.ELBOW, (20, 120)))
    sided = {v.code[-2:]: v.sentence for v in asked if v.code[-2:] in ("_a", "_b")}
    assert sided
    for end, sentence in sided.items():
        assert f"the one that 0.jpg {'shows' if end == '_b' else 'does not show'}" in sentence


def test_where_no_photo_tells_a_later_view_is_told_from_an_earlier() -> None:
    asked = next_views(piece(Kind.ELBOW, (-30, 30)))
    first = next(n for n, v in enumerate(asked, start=1) if v.code[-2:] in ("_a", "_b"))
    assert "0.jpg" not in asked[first - 1].sentence  # the two sides are alike so far
    later = [v for v in asked[first:] if v.code[-2:] in ("_a", "_b")]
    assert later
    for view in later:
        same = view.code[-2:] == asked[first - 1].code[-2:]
        words = "on the same side as" if same else "on the side opposite to"
        assert f"{words} view {first}" in view.sentence


def test_a_reducers_views_say_which_way_round() -> None:
    """By hand: `around` 0 is -z and 90° is +y. Whoever stands at the large end, which is at x = 0,
    and looks along +x with z up has +y at the left, so from the bottom to +y is clockwise."""
    form = usual_form(Kind.REDUCER)
    quarter = form.points(Part.BODY, 0.0, np.radians([0.0, 90.0]))
    right = np.cross([1.0, 0.0, 0.0], [0.0, 0.0, 1.0])
    assert np.allclose(quarter[0], [0.0, 0.0, -1.0])
    assert quarter[1] @ right == pytest.approx(-1.0)
    told = {v.code: v.sentence for v in next_views(piece(Kind.REDUCER, (-80, 80))) if v.adds}
    assert told
    for code, sentence in told.items():
        turn = (int(code.removeprefix("around_")) + 180) % 360 - 180
        if abs(turn) == 180:
            assert "the side behind the one that 0.jpg shows" in sentence
        else:
            way = "clockwise" if turn > 0 else "anticlockwise"
            assert f"about {abs(turn)}° {way} (seen from the large end)" in sentence


@pytest.mark.parametrize("kind", [Kind.ELBOW, Kind.TEE, Kind.REDUCER])
def test_every_view_says_where_the_camera_and_the_light_are(kind: Kind) -> None:
    own = piece(kind, (-60, 60))
    asked = next_views(own)
    assert all("camera" in v.sentence for v in asked)
    assert all("light" in v.sentence or "lamp" in v.sentence for v in asked)
    outside = [v for v in asked if v.adds]
    assert outside
    assert all(v.adds >= LEAST_GAIN for v in outside)
    assert asked[-1].code == "bore"  # no view of the outside shows it
    assert ("crotches" in [v.code for v in asked]) is (kind is Kind.TEE)


def test_a_piece_seen_all_round_needs_only_the_close_looks() -> None:
    asked = next_views(piece(Kind.ELBOW, (-180, 180)))
    assert [view.code for view in asked] == ["bore"]


def test_the_small_drawings() -> None:
    own = piece(Kind.TEE, (-60, 60))
    assert own.surface is not None
    data = views_bytes(next_views(own), own.surface.form, own.surface.clear)
    with Image.open(io.BytesIO(data)) as picture:
        pixels = np.asarray(picture.convert("RGB")).astype(int)
    blue = (pixels[..., 2] - pixels[..., 0] > 60).mean()
    grey = ((np.ptp(pixels, axis=-1) < 8) & (pixels[..., 0] > 90) & (pixels[..., 0] < 230)).mean()
    assert blue > 0.05
    assert grey > 0.03
    with pytest.raises(ValueError, match="no view"):
        views_bytes([], own.surface.form, own.surface.clear)


def test_each_drawing_says_in_words_what_it_shows() -> None:
    """Handed on by itself, the sheet still tells which picture is wanted."""
    own = piece(Kind.TEE, (-60, 60))
    assert own.surface is not None
    asked = next_views(own)
    figure = views_figure(asked, own.surface.form, own.surface.clear)
    words = {axes.texts[-1].get_text(): axes.get_xlabel() for axes in figure.axes}
    assert all(words.values())
    assert words["1"].replace("\n", " ") == asked[0].sentence.partition(";")[0]
    said = " ".join(words.values())
    for each in ("Close-up of one crotch", "Close-up of the other crotch", "Into the outlet"):
        assert each in said
    (legend,) = figure.legends
    assert ADVISORY in legend.get_title().get_text()
    # A close-up is one: its picture takes in less than that of a whole side.
    stands = [stand for view in asked for stand in view.stands]
    takes_in = {
        stand.code: axes.get_xlim()[1] * np.linalg.norm(np.subtract(stand.eye, stand.aim))
        for stand, axes in zip(stands, figure.axes, strict=True)
    }
    assert takes_in["crotch_a"] < 0.6 * takes_in[asked[0].code]
