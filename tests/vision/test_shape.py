"""What the shape's measures say together: which of them speak, where, and as JSON."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from fittings.words import EvidenceSource, Kind
from tests.stand_in import encoded, picture
from tests.vision.test_tracing import flat_maps
from vision import judging, shape
from vision.judging import shape_evidence
from vision.known import NOTHING_KNOWN, Known, Sized
from vision.known_length import LikelySize
from vision.outline import ElbowOutline
from vision.outline_size import TooSmall
from vision.photo import open_photo
from vision.shape import NOTHING, Shape, measure_shape
from vision.surface import place_is_known

MAPS = flat_maps(np.zeros((96, 128)))
PHOTO = open_photo(encoded(picture(512, 384), "PNG"), "x.png")

OUTLINE = ElbowOutline(
    pieces=3,
    kink_deg=45.0,
    kink_spread_deg=1.0,
    bend_deg=90.0,
    bend_spread_deg=2.0,
    bend_radius=1.5,
    formed_off_px=1.2,
    mitred_off_px=0.4,
    log_odds=4.0,
    places=((10.0, 20.0), (30.0, 40.0)),
    sentence="Outline: the profile is a polygon.",
)
SIZE = LikelySize(
    od_mm=168.0, od_low_mm=160.0, od_high_mm=176.0, sizes=("6",), measured_by="a sheet"
)


def test_an_outline_is_told_at_its_first_place_in_the_photo() -> None:
    """Four photo pixels to a map pixel, centres to centres: 4 (10 + 1/2) - 1/2."""
    (told,) = shape_evidence(replace(NOTHING, outline=OUTLINE), MAPS, PHOTO)
    assert (told.source, told.sentence) == (EvidenceSource.OUTLINE, OUTLINE.sentence)
    assert told.place == (41.5, 81.5)


@pytest.mark.parametrize(("log_odds", "says"), [(4.0, 1), (-4.0, 1), (1.0, 0), (-1.0, 0)])
def test_an_outline_that_may_be_either_is_not_told(log_odds: float, says: int) -> None:
    found = replace(NOTHING, outline=replace(OUTLINE, log_odds=log_odds))
    assert len(found.sentences()) == says
    assert found.log_odds == log_odds, "but it is weighed"


def test_a_crotch_too_small_to_be_measured_is_said_to_be() -> None:
    small = TooSmall(radius_px=1.2, places=((10.0, 20.0),))
    found = replace(NOTHING, outline=small)
    ((_, sentence, place),) = found.sentences()
    assert "cannot be told at this size" in sentence
    assert (found.log_odds, place) == (0.0, (10.0, 20.0))
    assert found.as_json()["outline"] == {"radius_px": 1.2, "log_odds": 0.0}


def test_a_known_length_is_told_for_the_whole_picture() -> None:
    known = Sized(size=SIZE, sheet=None, sentences=(SIZE.sentence,))
    (told,) = shape_evidence(replace(NOTHING, known=known), MAPS, PHOTO)
    assert told.sentence.startswith("Known length: by a sheet the outside diameter")
    assert told.place is None


def test_json_holds_figures_or_none_under_the_same_names() -> None:
    full = Shape(
        outline=OUTLINE,
        proportions=None,
        rows=None,
        detail=None,
        known=Sized(size=SIZE, sheet=None, sentences=()),
    )
    data = json.loads(json.dumps(full.as_json(), allow_nan=False))
    assert data.keys() == NOTHING.as_json().keys()
    assert data["outline"]["kink_deg"] == 45.0
    assert (data["size"]["nps"], data["size"]["od_mm"]) == ("6", 168.0)
    assert set(NOTHING.as_json().values()) == {None}


def test_of_a_doubtful_kind_only_the_detail_is_measured(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: object) -> None:
        raise AssertionError("measured all the same")

    monkeypatch.setattr(shape, "read_outline", never)
    monkeypatch.setattr(shape, "measure_proportions", never)
    pixels = picture(256, 192)
    found = measure_shape(PHOTO, pixels, MAPS, Kind.ELBOW, NOTHING_KNOWN, whole=False)
    assert found.detail is not None
    assert found.log_odds == 0.0
    assert measure_shape(PHOTO, pixels, MAPS, Kind.NONE, NOTHING_KNOWN) is NOTHING
    # Nor where the network is torn between places: its cosine and sine are short there.
    torn = replace(MAPS, around_cos=0.9 * MAPS.around_cos, around_sin=0.9 * MAPS.around_sin)
    assert place_is_known(MAPS)
    assert not place_is_known(torn)
    assert measure_shape(PHOTO, pixels, torn, Kind.ELBOW, NOTHING_KNOWN).log_odds == 0.0


@pytest.mark.parametrize(
    ("known", "wanted"),
    [(NOTHING_KNOWN, False), (Known(shape=True), True), (Known(nps="6"), True)],
)
def test_outline_and_proportions_are_measured_on_wish_alone(
    monkeypatch: pytest.MonkeyPatch, known: Known, wanted: bool
) -> None:
    asked: list[bool] = []

    def noting(*_: object, whole: bool) -> Shape:
        asked.append(whole)
        return NOTHING

    monkeypatch.setattr(judging, "measure_shape", noting)
    judging.look(PHOTO, picture(256, 192), MAPS, kind_threshold=0.0, known=known)
    assert asked == [wanted]
