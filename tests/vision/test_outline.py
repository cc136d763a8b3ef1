"""What the profile says of rendered pieces, against the shapes that they were made from.

The scene's exact truth stands in for a perfect network; no weld is visible in any of these scenes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from fittings.geometry import mitre_cut_angle_deg, mitre_kink_deg
from fittings.words import Construction, Kind, Part
from synthetic.camera import looking_at
from synthetic.native import native_stages
from synthetic.render import render
from synthetic.scene import Camera, Piece, Scene, Weld
from vision.network import Maps
from vision.outline import (
    ElbowOutline,
    OutlineEvidence,
    ReducerOutline,
    TeeOutline,
    read_outline,
)
from vision.outline_gains import squashed
from vision.outline_size import TooSmall
from vision.outline_table import Row, by_size, summary
from vision.outline_trial import degraded, fabricated_shape, finished
from vision.truth import truth_maps

WIDTH, HEIGHT = 256, 192
HIGH_MM = 400.0

ELBOW = Piece(kind=Kind.ELBOW, radius_mm=100.0, length_mm=270.0, bend_deg=90.0, stub_mm=15.0)
TEE = Piece(
    kind=Kind.TEE,
    radius_mm=100.0,
    second_radius_mm=70.0,
    length_mm=190.0,
    second_length_mm=190.0,
    crotch_radius_mm=28.0,
)
REDUCER = Piece(
    kind=Kind.REDUCER,
    radius_mm=100.0,
    second_radius_mm=55.0,
    length_mm=220.0,
    stub_mm=30.0,
    second_stub_mm=30.0,
    bell=1.0,
    corner=0.3,
)

CONE = replace(
    REDUCER,
    construction=Construction.FABRICATED,
    second_radius_mm=40.0,
    length_mm=180.0,
    steps=1.0,
)


def mitred(pieces: int) -> Piece:
    return replace(
        ELBOW,
        construction=Construction.FABRICATED,
        pieces=float(pieces),
        cut_deg=mitre_cut_angle_deg(90, pieces),
    )


@cache
def maps_of(piece: Piece, *, far: float = 1600.0, times: int = 1) -> Maps:
    """Maps of a piece that floats `HIGH_MM` over the ground, seen along its own z axis (elbow) or y
    axis (tee, reducer), a little off square, from `far` mm, on `times` as
    many pixels each way."""
    centres = {
        Kind.ELBOW: (190.0, 0.0, 0.0),
        Kind.TEE: (0.0, 0.0, 40.0),
        Kind.REDUCER: (110.0, 0.0, 0.0),
    }
    middle = np.array(centres[piece.kind])
    placed = replace(piece, position_mm=(0.0, 0.0, HIGH_MM))
    target = middle + np.array([0.0, 0.0, HIGH_MM])
    square = np.array([0.0, 0.0, 1.0]) if piece.kind is Kind.ELBOW else np.array([0.0, -1.0, 0.0])
    toward = square + 0.25 * np.array([0.7, 0.3, 0.4])
    position = target + far * toward / np.linalg.norm(toward)
    camera = Camera(
        position_mm=tuple(float(v) for v in position),  # type: ignore[arg-type]
        rotation=looking_at(position, target, 7.0),  # type: ignore[arg-type]
        focal=1.5,
    )
    scene = Scene(pieces=(placed,), camera=camera)
    picture = render(scene, times * WIDTH, times * HEIGHT, run=native_stages())
    return truth_maps(picture, piece.kind, fabricated=False)


@cache
def elbow_of(piece: Piece) -> ElbowOutline:
    found = read_outline(maps_of(piece), Kind.ELBOW)
    assert isinstance(found, ElbowOutline)
    return found


@cache
def tee_of(crotch_mm: float) -> TeeOutline:
    found = read_outline(maps_of(replace(TEE, crotch_radius_mm=crotch_mm), times=2), Kind.TEE)
    assert isinstance(found, TeeOutline)
    return found


@cache
def reducer_of(piece: Piece) -> ReducerOutline:
    found = read_outline(maps_of(piece, times=2), Kind.REDUCER)
    assert isinstance(found, ReducerOutline)
    return found


def test_a_formed_elbow_is_an_arc_of_its_own_bend() -> None:
    """ASME B16.9 long radius: 1.5 times the nominal size, here 270 mm over an OD of 200 mm."""
    found = elbow_of(ELBOW)
    assert found.pieces == 1
    assert found.log_odds < -1.0
    assert found.bend_deg == pytest.approx(90.0, abs=3.0)
    assert found.bend_radius == pytest.approx(1.35, abs=0.05)
    assert found.formed_off_px < found.mitred_off_px
    assert "one arc" in found.sentence


@pytest.mark.parametrize("pieces", [2, 3, 5])
def test_a_mitred_elbow_shows_its_pieces_and_kinks(pieces: int) -> None:
    """Kinks of twice the cut angle (`fittings.geometry`, ASME B31.3-2016 304.2.3)."""
    found = elbow_of(mitred(pieces))
    assert found.pieces == pieces
    assert found.log_odds > 2.0
    kink = mitre_kink_deg(90, pieces)
    assert found.kink_deg == pytest.approx(kink, abs=2.5)
    assert found.kink_spread_deg is not None
    assert 0.0 < found.kink_spread_deg < 3.0
    assert f"{pieces} straight pieces" in found.sentence
    # Two to a mitre, at the extrados and at the intrados.
    assert pieces - 1 <= len(found.places) <= 2 * (pieces - 1)


def test_the_places_are_on_the_pieces_edge() -> None:
    maps = maps_of(mitred(3))
    on = maps.part[..., Part.BODY.label] > 0.5
    for x, y in elbow_of(mitred(3)).places:
        around = on[round(y) - 2 : round(y) + 3, round(x) - 2 : round(x) + 3]
        assert around.any()
        assert not around.all()


@pytest.mark.parametrize("crotch_mm", [1.0, 18.0, 35.0])
def test_a_crotchs_radius_is_measured(crotch_mm: float) -> None:
    """Against the radius that the piece was made with, over the outlet's outside diameter."""
    found = tee_of(crotch_mm)
    assert found.crotch == pytest.approx(crotch_mm / 140.0, abs=0.02 + 2.0 * found.crotch_spread)
    assert found.crotch_spread < 0.06


def test_the_sharper_the_crotch_the_likelier_a_fabrication() -> None:
    sharp, usual, wide = (tee_of(mm).log_odds for mm in (1.0, 18.0, 35.0))
    assert sharp > usual > wide
    assert sharp > 0.0 > wide


def test_a_high_bead_is_told_from_a_radius() -> None:
    """Only near by: in a small picture it looks like a rounding. Its height is the weld's own."""
    weld = Weld(present=1.0, crown_mm=14.0, half_width_mm=14.0)
    welded = replace(
        TEE, construction=Construction.FABRICATED, crotch_radius_mm=0.5, cross_weld=weld
    )
    found = read_outline(maps_of(welded, far=1000.0, times=2), Kind.TEE)
    assert isinstance(found, TeeOutline)
    assert found.bead
    assert found.log_odds > 0.0
    assert "bead about 0.09" in found.sentence or "bead about 0.13" in found.sentence


def test_a_crotch_too_small_for_its_radius_is_not_told() -> None:
    """An outlet of 140 mm, 1 600 mm away, seen by a lens of 1.5 long sides on a map of 128 pixels,
    is 140 · 1.5 · 128 / 1600 = 16.8 pixels wide (similar triangles)."""
    said = read_outline(maps_of(TEE), Kind.TEE)
    assert isinstance(said, TooSmall)
    assert said.radius_px == pytest.approx(1.68, rel=0.1)
    assert said.log_odds == 0.0
    assert "spans 1.7 pixels" in said.sentence
    assert said.places


def test_a_cone_speaks_more_of_a_fabrication_than_a_bell() -> None:
    """At a network's size a cone is hardly told from a formed one with tight corners, but from a
    bell it is."""
    bell, cone = reducer_of(REDUCER), reducer_of(CONE)
    assert bell.corners == 0
    assert bell.log_odds < 0.0
    assert cone.log_odds > bell.log_odds + 1.0


def test_the_biggest_piece_is_read() -> None:
    maps = maps_of(mitred(3))
    part = maps.part.copy()
    part[2:9, 2:9] = np.eye(len(Part))[Part.BODY.label]
    found = read_outline(replace(maps, part=part), Kind.ELBOW)
    assert isinstance(found, ElbowOutline)
    assert found.pieces == 3


def mirrored(maps: Maps) -> Maps:
    """The same piece in a mirror: `along` as it was, `around` turned the other way."""
    return replace(
        maps,
        part=np.ascontiguousarray(maps.part[:, ::-1]),
        seam=np.ascontiguousarray(maps.seam[:, ::-1]),
        along=np.ascontiguousarray(maps.along[:, ::-1]),
        around_cos=np.ascontiguousarray(maps.around_cos[:, ::-1]),
        around_sin=-np.ascontiguousarray(maps.around_sin[:, ::-1]),
    )


def test_a_mirrored_piece_reads_the_same() -> None:
    before = elbow_of(mitred(3))
    after = read_outline(mirrored(maps_of(mitred(3))), Kind.ELBOW)
    assert isinstance(after, ElbowOutline)
    assert after.pieces == before.pieces
    assert after.kink_deg == pytest.approx(before.kink_deg, abs=1.0)


def test_blurred_and_noisy_maps_still_show_the_kinks() -> None:
    rough = degraded(maps_of(mitred(3)), np.random.default_rng(4))
    found = read_outline(rough, Kind.ELBOW)
    assert isinstance(found, ElbowOutline)
    assert found.pieces == 3


def misplaced(maps: Maps, size_rad: float) -> Maps:
    """The same outline over places that are off as a network's are: smoothly, and all one way."""
    around = np.arctan2(maps.around_sin, maps.around_cos)
    around = around + size_rad * (0.5 + np.sin(2.0 * np.pi * maps.along + 1.0))
    along = np.clip(maps.along + 0.25 * size_rad * np.sin(3.0 * maps.along), 0.0, 1.0)
    return replace(
        maps,
        along=along.astype(np.float32),
        around_cos=np.cos(around).astype(np.float32),
        around_sin=np.sin(around).astype(np.float32),
    )


def test_the_outline_tells_a_mitred_elbow_over_poor_places() -> None:
    """Off by 50° in places: from the places alone the bend came out 8° too large."""
    found = read_outline(misplaced(maps_of(mitred(3)), 0.6), Kind.ELBOW)
    assert isinstance(found, ElbowOutline)
    assert found.pieces == 3
    assert found.bend_deg == pytest.approx(90.0, abs=3.0)


def test_the_outline_tells_a_crotch_over_poor_places() -> None:
    """From the places alone the fit ended nowhere."""
    sharp = replace(TEE, crotch_radius_mm=1.0)
    found = read_outline(misplaced(maps_of(sharp, times=2), 0.8), Kind.TEE)
    assert isinstance(found, TeeOutline)
    assert found.crotch == pytest.approx(1.0 / 140.0, abs=0.02 + 2.0 * found.crotch_spread)
    assert found.log_odds > 0.0


def cropped(maps: Maps) -> Maps:
    """The 20 by 20 pixels about the middle of the piece: hardly any of its edge is left."""
    rows, columns = np.nonzero(maps.part[..., Part.BODY.label] > 0.5)
    y, x = int(np.median(rows)) - 10, int(np.median(columns)) - 10
    window = (slice(y, y + 20), slice(x, x + 20))
    fields = ("part", "seam", "along", "around_cos", "around_sin")
    return replace(maps, **{name: getattr(maps, name)[window] for name in fields})


def without_surface(maps: Maps) -> Maps:
    return replace(maps, around_cos=0.1 * maps.around_cos, around_sin=0.1 * maps.around_sin)


@pytest.mark.parametrize(
    ("maps", "why"),
    [
        (lambda: maps_of(ELBOW, far=16_000.0), "too small"),
        (lambda: cropped(maps_of(ELBOW)), "cut off by the frame"),
        (lambda: without_surface(maps_of(ELBOW)), "the network is torn about the surface"),
        (lambda: maps_of(REDUCER), "another part than an elbow's"),
    ],
)
def test_nothing_is_said_where_the_profile_cannot_show_it(
    maps: Callable[[], Maps], why: str
) -> None:
    kind = Kind.TEE if "another" in why else Kind.ELBOW
    assert read_outline(maps(), kind) is None, why


def test_a_run_without_its_outlet_shows_no_crotch() -> None:
    maps = maps_of(replace(TEE, crotch_radius_mm=35.0))
    part = maps.part.copy()
    outlet = part.argmax(axis=-1) == Part.OUTLET.label
    part[outlet] = np.eye(len(Part))[Part.BACKGROUND.label]
    assert read_outline(replace(maps, part=part), Kind.TEE) is None


def test_no_fitting_no_outline() -> None:
    assert read_outline(maps_of(ELBOW), Kind.NONE) is None


def test_no_sentence_accepts_a_piece() -> None:
    said: list[OutlineEvidence] = [
        elbow_of(ELBOW),
        elbow_of(mitred(3)),
        tee_of(1.0),
        tee_of(35.0),
        reducer_of(REDUCER),
    ]
    for each in said:
        assert each.sentence.startswith("Outline: ")
        for word in ("accept", "safe", "genuine", "seamless", "approved"):
            assert word not in each.sentence.lower()


def test_squashed_keeps_sign_and_order() -> None:
    gains = [-50.0, -3.0, 0.0, 3.0, 50.0]
    out = [squashed(gain) for gain in gains]
    assert out == sorted(out)
    assert out[0] == -out[-1]
    assert squashed(np.e - 1.0) == pytest.approx(1.0)


def test_which_pieces_the_trial_counts() -> None:
    formed_halves = replace(mitred(2), kinked=0.0)
    assert fabricated_shape(ELBOW) is False
    assert fabricated_shape(mitred(2)) is True
    assert fabricated_shape(formed_halves) is None
    welded = replace(mitred(3), cross_weld=replace(ELBOW.cross_weld, present=1.0))
    bare = finished(Scene(pieces=(welded,)))
    assert bare.pieces[0].cross_weld.present == 0.0
    assert bare.pieces[0].cut_deg == welded.cut_deg


def test_the_trials_counts() -> None:
    """Four of five found above the highest formed one; Wilson's 95 % interval of 4 in 5 is 38 to 96
    (Wilson 1927, `vision.metrics`)."""
    scores = [(True, 3.0), (True, 2.0), (True, 1.5), (True, 1.2), (True, -1.0)]
    scores += [(False, -2.0), (False, -0.5), (False, 1.0)]
    rows = [
        Row(
            kind="elbow",
            index=i,
            maps="truth",
            made=made,
            hard=False,
            features=(score, score),
            log_odds=score,
            figure=30.0 if made else 0.0,
            true_figure=30.0 if made else 0.0,
            verdict=-3.0 if score == 1.2 else score,
        )
        for i, (made, score) in enumerate(scores)
    ]
    text = summary(rows, Kind.ELBOW, "truth")
    assert "4 of 5 fabricated found = 80 % [38, 96]" in text
    assert "8 of 8 pieces read" in text
    assert "4 of 5 found, 1 of 3 alarms" in text
    assert "whole picture: 3 of 5 fabricated found = 60 %" in text
    without = [replace(row, verdict=None) for row in rows]
    assert "whole picture" not in summary(without, Kind.ELBOW, "truth")


def test_the_trials_table_by_size() -> None:
    """Each row falls in one line, by the pixels of a tenth of the outlet; hard ones in none."""
    row = Row(
        kind="tee",
        index=0,
        maps="truth",
        made=True,
        hard=False,
        features=(-3.0,),
        log_odds=1.0,
        figure=0.03,
        true_figure=0.02,
        raw_log_odds=1.0,
        radius_px=2.5,
        walls=0.5,
    )
    formed = replace(row, made=False, raw_log_odds=-1.0, true_figure=0.2, figure=0.19)
    lines = by_size([row, formed, replace(row, hard=True)], "truth").splitlines()
    assert "2 to 3 px: 2 of 2 measured, 1 of 1 welded found, 0 of 1 formed alarmed" in lines[3]
    assert all("0 of 0 measured" in line for line in [*lines[1:3], *lines[4:]])
    assert "radius off by 0.010" in lines[3]
