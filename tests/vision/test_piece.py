"""Several photos of one piece: one reading, and what each photo counts for."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fittings.dimensions import tee
from fittings.words import ADVISORY, Kind, Part, Reading, percent
from tests.vision.pieces import HEIGHT, WIDTH, a_view, girth, lengthwise, tube_maps, window
from tests.vision.test_piece_turns import held
from vision.calibration import Calibration, Thresholds
from vision.photo import Photo
from vision.piece import kind_of, read_piece
from vision.piece_form import Form
from vision.piece_json import piece_json
from vision.piece_photo import PieceView, view_of, view_of_photo
from vision.piece_seen import SeenPart, cell_centres
from vision.piece_surface import fitted_form
from vision.piece_upright import turn_matrix
from vision.read import Reader
from vision.reading import PhotoError
from vision.views import next_views

THRESHOLDS = Thresholds(hold=0.5, doubt=0.2, kind=0.6)
CALLED = Reading.FABRICATION_SEAM


def reader_of(**options: object) -> Reader:
    """A reader whose network is the tube's truth."""
    maps = tube_maps(**options)
    return Reader(
        network=lambda _pixels: maps,
        thresholds=THRESHOLDS,
        calibration=Calibration(weights=(1.0, 0.0, 0.0), offset=0.0),
        version="truth",
        sha256="0" * 64,
    )


def photo(name: str, seed: int = 0) -> Photo:
    """A sharp picture, another one for each seed."""
    rng = np.random.default_rng(seed)
    pixels = rng.integers(0, 255, (2 * HEIGHT, 2 * WIDTH, 3), dtype=np.uint8)
    return Photo(name=name, sha256=name, width=2 * WIDTH, height=2 * HEIGHT, pixels=pixels)


@pytest.fixture
def maps_as_they_are(monkeypatch: pytest.MonkeyPatch) -> None:
    """A tube seen from far away has the outline of a reducer whose large end is farther off: with
    exact maps no pose is wanted."""
    monkeypatch.setattr("vision.piece_photo.posed_maps", lambda maps, _kind: maps)


@pytest.mark.usefixtures("maps_as_they_are")
def test_from_photos_to_the_seam_and_the_seen_share() -> None:
    """Two photos of a straight tube with one girth weld, from two sides: one seam, all of it seen
    but what lies at the limbs."""
    views = [
        view_of_photo(photo("left.jpg", 1), reader_of(facing_deg=90.0, girth_seam_at=0.4)),
        view_of_photo(photo("right.jpg", 2), reader_of(facing_deg=-90.0, girth_seam_at=0.4)),
    ]
    piece = read_piece(views, THRESHOLDS, tag="T-0042")
    assert piece.kind is Kind.REDUCER
    assert piece.reading is CALLED
    (seam,) = piece.seams
    assert seam.photos == (0, 1)
    assert seam.place == pytest.approx(0.4, abs=0.01)
    assert piece.surface is not None
    assert piece.surface.datum  # opposite sides faced the camera: not a datum that follows it
    assert piece.surface.seen_fraction > 0.93
    assert "in 2 photos (left.jpg and right.jpg)" in piece.reasons[0]


@pytest.mark.usefixtures("maps_as_they_are")
def test_without_a_datum_two_photos_may_show_the_same_side() -> None:
    """Both coordinates count from the side facing the camera, as a concentric reducer's do, and
    nothing on the tube tells how far round the second was taken."""
    views = [
        view_of_photo(photo("left.jpg", 1), reader_of(facing_deg=0.0)),
        view_of_photo(photo("right.jpg", 2), reader_of(facing_deg=0.0)),
    ]
    piece = read_piece(views, THRESHOLDS)
    assert piece.surface is not None
    assert piece.surface.unsure == (1,)
    assert piece.surface.least_fraction == pytest.approx(0.48, abs=0.02)
    low, high = piece.surface.seen_range
    assert piece.surface.least_fraction <= low <= piece.surface.seen_fraction <= high
    assert high - low > 0.2
    told = " ".join(piece.reasons)
    assert f"Seen: between {percent(low)} and {percent(high)} of the outside" in told
    assert f"they may show only {percent(piece.surface.least_fraction)}" in told
    assert "could not be told" in told


def test_a_photo_that_lies_the_same_way_up_adds_its_own_side() -> None:
    """An elbow that lies flat, from above and from a little below its middle: the second photo's
    coordinates start from the other end, and gravity tells that."""
    eyes = [(4.0, 1.0, 3.0), (-3.0, 4.0, 2.0), (1.0, -5.0, 1.5)]
    axes = [held(eye, (0, 0, 1)) for eye in eyes]
    axes[1] = axes[1] @ turn_matrix(Kind.ELBOW, 1).T
    sides = [window(-150, -30), window(60, 150), window(-150, -30)]
    views = [
        a_view(f"{i}.jpg", seen=side, axes=own)
        for i, (side, own) in enumerate(zip(sides, axes, strict=True))
    ]
    surface = read_piece(views, THRESHOLDS).surface
    assert surface is not None
    assert surface.turns.columns[1] == 1
    assert surface.unsure == ()
    # Turned back, 60° to 150° is -150° to -60°: all three show one side and little beyond it.
    one = read_piece(views[:1], THRESHOLDS).surface
    assert one is not None
    assert surface.seen_fraction == pytest.approx(one.seen_fraction, abs=0.03)


@pytest.mark.parametrize(("run", "outlet"), [("6", None), ("6", "5"), ("6", "4"), ("12", "6")])
def test_a_tees_outlet_is_as_wide_as_the_run_beside_it_asks(run: str, outlet: str | None) -> None:
    """Tees of ASME B16.9 (its rows in `fittings/tables`), seen from three sides, with a sixth of
    the run's cells wrongly seen under the outlet, as a network may have them."""
    row = tee(run, outlet)
    radius_mm = row.run_od_mm / 2
    form = Form(
        kind=Kind.TEE,
        length=row.run_c_mm / radius_mm,
        second_radius=row.outlet_od_mm / row.run_od_mm,
        second_length=row.outlet_m_mm / radius_mm,
    )
    along, around = cell_centres()
    there = form.exists(Part.RUN, along, around)
    rng = np.random.default_rng(4)
    maps = []
    for low, high in ((-150, 30), (-30, 150), (-90, 90)):
        sides = np.broadcast_to((np.degrees(around) > low) & (np.degrees(around) < high), (36, 72))
        share = sides * np.where(there, 1.0, rng.random((36, 72)) < 1 / 6)
        maps.append({Part.RUN: SeenPart(share=share, px_per_radius=60.0 * share)})
    assert fitted_form(Kind.TEE, maps).second_radius == pytest.approx(form.second_radius, abs=0.1)


@settings(max_examples=40)
@given(st.lists(st.floats(0.001, 0.4), min_size=1, max_size=8))
def test_one_clear_photo_is_never_voted_down(others: list[float]) -> None:
    views = [a_view(f"{i}.jpg", probability=p) for i, p in enumerate(others)]
    clear = a_view("clear.jpg", probability=0.97, reading=CALLED, curves=(girth(0.5),))
    assert read_piece([*views, clear], THRESHOLDS).reading is CALLED


@settings(max_examples=40)
@given(st.lists(st.floats(0.001, 0.19), min_size=1, max_size=8))
def test_more_photos_of_a_sound_piece_raise_nothing(probabilities: list[float]) -> None:
    views = [a_view(f"{i}.jpg", probability=p) for i, p in enumerate(probabilities)]
    own = max(probabilities)
    before = read_piece(views, THRESHOLDS)
    more = [*views, a_view("more.jpg", probability=min(own, before.fabricated_probability))]
    after = read_piece(more, THRESHOLDS)
    assert after.fabricated_probability <= before.fabricated_probability + 1e-9
    assert after.reading is Reading.NO_SEAM_SEEN


def test_a_photo_that_is_called_keeps_the_piece_from_reading_better_than_unclear() -> None:
    views = [a_view(f"{i}.jpg", probability=0.01) for i in range(7)]
    called = a_view("called.jpg", probability=0.55, reading=CALLED, curves=(girth(0.5),))
    piece = read_piece([*views, called], THRESHOLDS)
    assert piece.fabricated_probability < THRESHOLDS.doubt
    assert piece.reading is Reading.UNCLEAR
    assert any("called.jpg by itself would read" in reason for reason in piece.reasons)


@pytest.mark.parametrize("places", [(0.5, 0.51), (0.3, 0.7)])
def test_the_same_line_in_two_photos_is_one_seam_and_no_more_suspect(
    places: tuple[float, float],
) -> None:
    """A strap or a painted line is in the same place in two photos as a weld is."""

    def shows(name: str, at: float) -> PieceView:
        return a_view(name, kind=Kind.REDUCER, probability=0.6, reading=CALLED, curves=(girth(at),))

    rest = [a_view(f"{i}.jpg", kind=Kind.REDUCER, probability=0.01) for i in range(4)]
    read = read_piece([*rest, *map(shows, ("a.jpg", "b.jpg"), places)], THRESHOLDS)
    assert len(read.seams) == (1 if places == (0.5, 0.51) else 2)
    assert read.reading is Reading.UNCLEAR
    # Two of six at odds 1.5 pay ln 3.
    assert read.fabricated_probability == pytest.approx(0.5 / 1.5)


def test_lengthwise_seams_alone_do_not_speak_of_a_fabrication() -> None:
    view = a_view(reading=Reading.LONG_SEAM_ONLY, curves=(lengthwise(3.0),))
    piece = read_piece([view, a_view("b.jpg")], THRESHOLDS)
    assert piece.reading is Reading.LONG_SEAM_ONLY
    assert "on the extrados" in piece.reasons[0]


def test_the_kind_is_that_of_all_photos_and_the_odd_one_is_named() -> None:
    views = [a_view("a.jpg"), a_view("b.jpg"), a_view("odd.jpg", kind=Kind.TEE)]
    assert kind_of(views)[0] is Kind.ELBOW
    piece = read_piece(views, THRESHOLDS)
    assert piece.counted == (0, 1)
    (doubt,) = piece.doubts
    assert (doubt.photo, doubt.code) == (2, "other_kind")
    assert "odd.jpg" in doubt.sentence


def test_an_odd_photo_that_shows_a_fabrication_still_counts() -> None:
    odd = a_view("odd.jpg", kind=Kind.TEE, probability=0.99, reading=CALLED)
    piece = read_piece([a_view("a.jpg"), a_view("b.jpg"), odd], THRESHOLDS)
    assert piece.reading is CALLED
    assert piece.doubts[0].code == "other_kind"


def test_the_same_file_counts_once_and_never_hides_the_worse_reading() -> None:
    twice = [
        a_view("a.jpg", sha256="s", probability=0.02),
        a_view("copy.jpg", sha256="s", probability=0.96, reading=CALLED),
    ]
    piece = read_piece([*twice, a_view("b.jpg")], THRESHOLDS)
    assert piece.counted == (1, 2)
    assert [d.code for d in piece.doubts] == ["same_file"]


def test_a_recompressed_copy_is_the_same_picture() -> None:
    """`vision.reuse` finds it; noise is the same picture only where it is the same noise."""
    import cv2

    reader = reader_of()
    rng = np.random.default_rng(5)
    small = rng.integers(0, 255, (36, 48, 3), dtype=np.uint8)
    pixels = cv2.resize(small, (2 * WIDTH, 2 * HEIGHT), interpolation=cv2.INTER_CUBIC)
    _, packed = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, 60])
    again = cv2.imdecode(packed, cv2.IMREAD_COLOR)
    first, copy = (
        replace(photo(name), pixels=np.ascontiguousarray(own))
        for name, own in (("a.jpg", pixels), ("copy.jpg", again))
    )
    views = [view_of_photo(each, reader) for each in (first, copy, photo("b.jpg", 9))]
    piece = read_piece(views, THRESHOLDS)
    assert [(d.photo, d.code) for d in piece.doubts] == [(1, "same_picture")] or [
        (d.photo, d.code) for d in piece.doubts
    ] == [(0, "same_picture")]
    assert len(piece.counted) == 2


def test_another_colour_is_pointed_out_and_still_counts() -> None:
    views = [a_view(f"{i}.jpg", chroma=(float(i), 2.0)) for i in range(3)]
    piece = read_piece([*views, a_view("red.jpg", chroma=(45.0, 30.0))], THRESHOLDS)
    assert [(d.photo, d.code) for d in piece.doubts] == [(3, "other_colour")]
    assert 3 in piece.counted


def test_unusable_photos_show_nothing() -> None:
    poor = a_view("poor.jpg", seen=window(-180, 180))
    own = replace(poor.reading, quality=replace(poor.reading.quality, usable=False))
    piece = read_piece([a_view("a.jpg"), replace(poor, reading=own)], THRESHOLDS)
    assert piece.counted == (0,)
    assert piece.surface is not None
    assert piece.surface.seen_fraction < 0.7
    assert any("poor.jpg" in reason for reason in piece.reasons)


def test_no_fitting_in_any_photo_is_unclear() -> None:
    piece = read_piece([a_view("a.jpg", kind=Kind.NONE)], THRESHOLDS)
    assert piece.reading is Reading.UNCLEAR
    assert piece.surface is None
    assert next_views(piece) == ()
    with pytest.raises(ValueError, match="at least one photo"):
        read_piece([], THRESHOLDS)


def test_a_file_that_is_no_photo_gives_its_error() -> None:
    answer = view_of(b"nothing", "a.jpg", reader_of())
    assert isinstance(answer, PhotoError)
    assert answer.photo == "a.jpg"


def test_the_json_has_stable_names_and_plain_values() -> None:
    views = [a_view("a.jpg", curves=(girth(0.25), lengthwise(170.0))), a_view("b.jpg")]
    piece = read_piece(views, THRESHOLDS, tag="T-0042")
    unread = [PhotoError(photo="c.jpg", kind="empty", message="c.jpg: is empty.")]
    form = json.loads(json.dumps(piece_json(piece, next_views(piece), unread), allow_nan=False))
    assert set(form) == {
        "piece",
        "fitting",
        "verdict",
        "seen",
        "seams",
        "photos",
        "doubts",
        "unread",
        "next_views",
        "caution",
        "advisory",
        "model",
    }
    assert form["piece"] == "T-0042"
    assert form["advisory"] == ADVISORY
    assert form["verdict"]["reading"] == Reading.UNCLEAR.value
    assert form["seams"][0]["place"] == {"along": 0.25}
    assert form["seams"][1]["place"]["around_deg"] == 170.0
    assert form["photos"][0]["photo"] == "a.jpg"
    assert form["unread"][0]["error"]["kind"] == "empty"
    assert set(form["seen"]) == {"fraction", "range", "least", "clear_fraction", "parts"}
    text = json.dumps(form).lower()
    assert not any(word in text for word in ("accepted", "genuine", " safe", '"seamless"'))
