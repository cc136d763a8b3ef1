"""Scenes as data: repeatable draws, JSON there and back, refusals by name, rows of the tables."""

from __future__ import annotations

import dataclasses
import json
import random
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings import dimensions
from fittings.dimensions import ElbowRadius, SizeTable
from fittings.words import Construction, Kind
from synthetic.packing import NAMES, pack
from synthetic.sample import PIECE_KINDS, sample_kinds, sample_scene
from synthetic.sample_pieces import SIZE_SPREAD, outside_points, piece_ends, sample_piece
from synthetic.sample_welds import crown_limit_mm
from synthetic.scene import Finish, Piece, Scene, scene_from_json


def plain_only(value: Any) -> bool:
    """Whether a value is made of JSON's own types alone (a numpy number is none)."""
    if isinstance(value, dict):
        return all(type(k) is str and plain_only(v) for k, v in value.items())
    if isinstance(value, list):
        return all(plain_only(v) for v in value)
    return type(value) in (str, float, int, bool)


@given(st.integers(0, 2**63), st.integers(0, 2**31), st.booleans())
def test_json_there_and_back(seed: int, index: int, held_out: bool) -> None:
    scene = sample_scene(np.random.default_rng([seed, index]), held_out=held_out)
    data = scene.as_json()
    assert plain_only(data)
    assert scene_from_json(json.loads(json.dumps(data, allow_nan=False))) == scene
    rows = pack([(scene, piece) for piece in scene.pieces or (None,)])
    assert rows.shape[1] == len(NAMES)
    assert np.isfinite(rows).all()


@pytest.mark.parametrize("version", ["0", "1", "2", "4", None, 3])
def test_other_versions_are_refused(version: object) -> None:
    with pytest.raises(ValueError, match="version"):
        scene_from_json(Scene().as_json() | {"version": version})


@pytest.mark.parametrize("room", ["", "light", "camera", "ground", "effects"])
def test_unknown_names_are_refused(room: str) -> None:
    data = Scene().as_json()
    (data[room] if room else data)["weather"] = 1.0
    with pytest.raises(ValueError, match="weather"):
        scene_from_json(data)


def test_unknown_words_are_refused() -> None:
    data = Scene(pieces=(Piece(),)).as_json()
    data["pieces"][0]["kind"] = "flange"
    with pytest.raises(ValueError, match="flange"):
        scene_from_json(data)


@pytest.mark.parametrize("noise_seed", [-1.0, 280.0, float("nan")])
def test_a_noise_seed_out_of_range_is_refused(noise_seed: float) -> None:
    with pytest.raises(ValueError, match="noise_seed"):
        Scene(noise_seed=noise_seed)


def test_the_same_generator_gives_the_same_scene_whatever_the_global_seeds() -> None:
    first = [sample_scene(np.random.default_rng([0, i])) for i in range(20)]
    np.random.seed(99)  # noqa: NPY002 - the global state is what must not matter
    random.seed(99)
    assert [sample_scene(np.random.default_rng([0, i])) for i in range(20)] == first
    assert len({json.dumps(scene.as_json()) for scene in first}) == 20


def test_the_kinds_asked_for_are_drawn() -> None:
    for kinds in [(), (Kind.TEE,), (Kind.ELBOW, Kind.REDUCER, Kind.ELBOW)]:
        scene = sample_scene(np.random.default_rng([0, 0]), kinds)
        assert tuple(piece.kind for piece in scene.pieces) == kinds
    drawn = [sample_kinds(np.random.default_rng([1, i])) for i in range(300)]
    assert {len(kinds) for kinds in drawn} == {0, 1, 2, 3, 4}
    assert {kind for kinds in drawn for kind in kinds} == set(PIECE_KINDS)


def pieces(kind: Kind, construction: Construction, count: int = 60) -> list[Piece]:
    return [sample_piece(np.random.default_rng([2, i]), kind, construction) for i in range(count)]


MAKES = [(kind, make) for kind in PIECE_KINDS for make in Construction]


@pytest.mark.parametrize(("kind", "make"), MAKES)
def test_constructions_carry_their_own_welds(kind: Kind, make: Construction) -> None:
    for piece in pieces(kind, make):
        assert piece.construction is make
        assert (piece.cross_weld.present == 1.0) == (make is Construction.FABRICATED)
        if make is not Construction.FABRICATED:
            assert (piece.along_weld.present == 1.0) == (make is Construction.WELDED)
        if kind is Kind.ELBOW:
            assert (piece.cut_deg > 0) == (make is Construction.FABRICATED)


# ASME B31.3 Table 341.3.2 (criterion L), height of reinforcement by wall thickness.
LIMITS_MM = ((6.0, 1.5), (13.0, 3.0), (25.0, 4.0), (float("inf"), 5.0))


@pytest.mark.parametrize(
    ("wall_mm", "limit_mm"), [(6.0, 1.5), (6.1, 3.0), (13.0, 3.0), (13.1, 4.0), (25, 4), (25.1, 5)]
)
def test_crown_limits_are_those_of_the_code(wall_mm: float, limit_mm: float) -> None:
    assert crown_limit_mm(wall_mm) == limit_mm


@pytest.mark.parametrize(("kind", "make"), MAKES)
def test_crowns_stay_within_the_code(kind: Kind, make: Construction) -> None:
    for piece in pieces(kind, make):
        limit = next(limit for wall, limit in LIMITS_MM if piece.wall_mm <= wall)
        assert piece.along_weld.crown_mm <= limit
        if kind is not Kind.TEE:  # a tee's cross weld is a fillet: `crown_mm` is its radius
            assert piece.cross_weld.crown_mm <= limit
        else:
            assert 0 <= piece.cross_weld.crown_mm <= 1.1 * piece.second_wall_mm


def test_elbows_are_rows_of_the_tables() -> None:
    rows = set()
    for table, radius in (
        (SizeTable.ELBOW_LONG_90, ElbowRadius.LONG),
        (SizeTable.ELBOW_SHORT_90, ElbowRadius.SHORT),
    ):
        for (nps,) in dimensions.listed_sizes(table):
            for angle in (90,) if radius is ElbowRadius.SHORT else (90, 45):
                row = dimensions.elbow(nps, radius, angle)
                rows.add((row.od_mm / 2, row.bend_radius_mm, float(angle)))
    for piece in pieces(Kind.ELBOW, Construction.SEAMLESS):
        assert (piece.radius_mm, piece.length_mm, piece.bend_deg) in rows


def test_tees_are_rows_of_the_tables() -> None:
    rows = set()
    for run, outlet in (
        *dimensions.listed_sizes(SizeTable.STRAIGHT_TEE),
        *dimensions.listed_sizes(SizeTable.REDUCING_TEE),
    ):
        row = dimensions.tee(run, outlet)
        outlet_mm = min(row.outlet_od_mm / 2, 0.999 * row.run_od_mm / 2)  # equal ones: see _tee
        rows.add((row.run_od_mm / 2, outlet_mm, row.run_c_mm, row.outlet_m_mm))
    for piece in pieces(Kind.TEE, Construction.SEAMLESS):
        sizes = piece.radius_mm, piece.second_radius_mm, piece.length_mm, piece.second_length_mm
        assert sizes in rows


def test_reducers_are_rows_of_the_table() -> None:
    rows = set()
    for large, small in dimensions.listed_sizes(SizeTable.REDUCER):
        row = dimensions.reducer(large, small)
        rows.add((row.large_od_mm / 2, row.small_od_mm / 2, row.end_to_end_mm))
    for piece in pieces(Kind.REDUCER, Construction.WELDED):
        assert (piece.radius_mm, piece.second_radius_mm, piece.length_mm) in rows


def share(flags: list[bool]) -> float:
    return sum(flags) / len(flags)


def test_fabricated_pieces_are_of_every_make_that_the_trade_knows() -> None:
    tees = pieces(Kind.TEE, Construction.FABRICATED, 300)
    assert 0.08 < share([tee.pad_width_mm > 0 for tee in tees]) < 0.4
    for tee in tees:
        if tee.pad_width_mm > 0:
            assert tee.second_radius_mm + tee.pad_width_mm < tee.radius_mm
            assert tee.pad_width_mm >= 3 * tee.cross_weld.half_width_mm
            assert tee.label.endswith("with a pad")
    assert 0.25 < share([tee.root_shift_mm > 0 for tee in tees]) < 0.45
    assert 0.25 < share([tee.root_shift_mm < 0 for tee in tees]) < 0.45
    reducers = pieces(Kind.REDUCER, Construction.FABRICATED, 300)
    gores = [piece.long_count > 3 and piece.along_weld.present > 0 for piece in reducers]
    assert 0.15 < share(gores) < 0.4
    cones = [piece.steps == 1 and piece.long_count == 1 for piece in reducers]
    assert 0.25 < share(cones) < 0.55
    for found in (reducers, pieces(Kind.ELBOW, Construction.FABRICATED, 300)):
        whole = [piece.kinked == 0 for piece in found if piece.pieces != 2]
        assert 0.08 < share(whole) < 0.22


@pytest.mark.parametrize("kind", PIECE_KINDS)
def test_hard_pairs_share_their_proportions(kind: Kind) -> None:
    found = [sample_piece(np.random.default_rng([3, i]), kind, hard=True) for i in range(120)]
    makes = {piece.construction for piece in found}
    assert makes == {Construction.SEAMLESS, Construction.FABRICATED}
    welded = [piece for piece in found if piece.construction is Construction.FABRICATED]
    assert {piece.cross_weld.finish for piece in welded} == {
        Finish.GROUND_FLUSH, Finish.PAINTED_OVER,
    }  # fmt: skip
    if kind is Kind.TEE:
        assert all(0.7 <= piece.crotch_radius_mm / piece.wall_mm <= 1.3 for piece in found)
        assert all(piece.pad_width_mm == 0 for piece in found)
    if kind is Kind.REDUCER:
        assert all(piece.bell >= 0.85 for piece in found)


def test_pieces_that_lie_together_are_mostly_alike_in_size() -> None:
    kinds = (Kind.ELBOW, Kind.TEE, Kind.REDUCER)
    near = []
    for index in range(80):
        scene = sample_scene(np.random.default_rng([4, index]), kinds)
        radii = [piece.radius_mm for piece in scene.pieces]
        near.append(max(radii) / min(radii) <= SIZE_SPREAD**2 + 1e-9)
    assert share(near) > 0.85


def test_what_is_about_a_piece_is_drawn_in_its_share() -> None:
    scenes = [sample_scene(np.random.default_rng([5, i]), (Kind.ELBOW,)) for i in range(400)]
    spools = [
        any(prop.wall_mm == scene.pieces[0].wall_mm for prop in scene.props) for scene in scenes
    ]
    hands = [sum(p.shape == 3 and p.half_height_mm == 0 for p in s.props) > 4 for s in scenes]
    assert 0.12 < share(spools) < 0.3
    assert 0.03 < share(hands) < 0.2
    shapes = {prop.shape for scene in scenes for prop in scene.props}
    assert shapes == {0.0, 1.0, 2.0, 3.0, 4.0, 5.0}


@pytest.mark.parametrize("kind", PIECE_KINDS)
def test_ends_lie_where_the_outside_ends(kind: Kind) -> None:
    """Outside points reach the end planes and no further; an elbow's short straight ends are
    taken there as a bit more arc, hence the tolerance."""
    for piece in pieces(kind, Construction.SEAMLESS, 15):
        points = outside_points(piece)
        for centre, out, radius in piece_ends(piece):
            assert np.linalg.norm(out) == pytest.approx(1.0)
            beyond = (points - centre) @ out
            near = np.linalg.norm(points - centre, axis=1) < 1.05 * radius
            assert beyond[near].max() == pytest.approx(0.0, abs=0.1 * radius)


def test_scenes_are_frozen() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        Scene().noise_seed = 2.0  # type: ignore[misc]
