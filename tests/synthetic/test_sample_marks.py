"""Marks: on every class of piece alike, where they say they are, and never in the truth."""

from __future__ import annotations

from dataclasses import fields, replace
from functools import cache

import numpy as np
import pytest

from fittings.words import Construction, Kind, Part
from synthetic import held_out
from synthetic.render import Picture
from synthetic.sample import PIECE_KINDS
from synthetic.sample_marks import MARK_NAMES, MARKS, mark_named
from synthetic.sample_pieces import sample_piece
from synthetic.scene import Mark, Piece, Scene
from tests.synthetic.scenes import MATT, drawn, hits, small

NONE = (Mark(), Mark(), Mark())


def with_mark(scene: Scene, piece: Piece, mark: Mark) -> Scene:
    return replace(scene, pieces=(replace(piece, marks=(mark, Mark(), Mark())),))


def bare(kind: Kind, seed: int) -> tuple[Scene, Piece]:
    scene, piece = drawn(kind, Construction.SEAMLESS, seed)
    piece = replace(piece, skin=MATT, marks=NONE)
    return replace(scene, pieces=(piece,)), piece


def changed(a: Picture, b: Picture, least: float = 0.02) -> np.ndarray:
    """(H, W): where two pictures of one scene differ, but for what sharpening and blur spread."""
    return np.asarray(np.abs(a.rgb - b.rgb).max(axis=1)[0] > least)


def test_half_of_the_pieces_bear_no_mark_whatever_their_make() -> None:
    for number, make in enumerate(Construction):
        pieces = [
            sample_piece(np.random.default_rng([8, number, i]), PIECE_KINDS[i % 3], make)
            for i in range(600)
        ]
        clean = np.mean([all(mark.name == "none" for mark in piece.marks) for piece in pieces])
        assert 0.43 < clean < 0.57
        names = [mark.name for piece in pieces for mark in piece.marks if mark.name != "none"]
        for common in ("die lines", "end band", "chalk"):
            assert 0.04 < np.mean([name == common for name in names]) < 0.18, (make, common)


def test_every_mark_is_drawn_and_none_that_is_held_out() -> None:
    names = {
        mark.name
        for i in range(900)
        for mark in sample_piece(np.random.default_rng([9, i]), PIECE_KINDS[i % 3]).marks
    }
    assert names == {*MARK_NAMES, "none"}
    assert not names & set(held_out.MARKS)


@cache
def unmarked(seed: int) -> tuple[Scene, Piece, Picture]:
    scene, piece = bare(PIECE_KINDS[seed % 3], seed)
    return scene, piece, small(scene)


@pytest.mark.parametrize("name", MARKS)
def test_marks_change_the_picture_and_not_the_truth(name: str) -> None:
    """Of eight views some always show the outside where the mark is, and not just the bore."""
    seen = 0
    for seed in range(8):
        scene, piece, a = unmarked(seed)
        mark = mark_named(np.random.default_rng([10, seed]), piece, name)
        b = small(with_mark(scene, piece, mark))
        for field in fields(a.truth):
            assert np.array_equal(getattr(a.truth, field.name), getattr(b.truth, field.name))
        seen += int((np.abs(a.rgb - b.rgb).max(axis=1) > 0.004).sum())
    assert seen > 10


def bold(**place: float) -> Mark:
    return Mark(
        name="line", half_width_mm=3.0, rgb=(0.9, 0.0, 0.0), opacity=1.0, gate_offset_mm=-1.0e5,
        **place,
    )  # type: ignore[arg-type]  # fmt: skip


@pytest.mark.parametrize("kind", PIECE_KINDS)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_marks_lie_where_surface_coordinates_say(kind: Kind, seed: int) -> None:
    scene, piece = bare(kind, seed)
    scene = replace(scene, effects=replace(scene.effects, blur_px=0.0, motion_px=0.0))
    plain = small(scene)
    truth = plain.truth
    surface = (truth.part[0] > 0) & (truth.part[0] < Part.FACE.label)
    pixel = hits(scene, plain).footprint_mm
    length = {
        Kind.ELBOW: np.radians(piece.bend_deg) * piece.length_mm + 2 * piece.stub_mm,
        Kind.TEE: 2 * piece.length_mm,
        Kind.REDUCER: piece.length_mm,
    }[kind]
    length = np.where(truth.part[0] == Part.OUTLET.label, piece.second_length_mm, length)
    axial = truth.along[0] * length
    ends = np.where(
        truth.part[0] == Part.OUTLET.label, length - axial, np.minimum(axial, length - axial)
    )
    round_it = changed(plain, small(with_mark(scene, piece, bold(follow=2.0, at=0.6)))) & surface
    allowed = 4.0 + 3.0 * pixel
    assert (np.abs(axial - 0.6 * length) <= allowed)[round_it].all()
    at_ends = with_mark(scene, piece, bold(follow=3.0, offset_mm=0.1 * piece.second_radius_mm))
    off = np.abs(ends - 0.1 * piece.second_radius_mm)
    assert (off <= allowed)[changed(plain, small(at_ends)) & surface].all()
    if kind is Kind.ELBOW:
        around = np.arctan2(truth.around_sin[0], truth.around_cos[0])
        along = changed(plain, small(with_mark(scene, piece, bold(follow=1.0, turn_deg=40.0))))
        turn = around - np.radians(40.0)
        turn = np.abs(turn - 2 * np.pi * np.round(turn / (2 * np.pi)))
        assert (turn * piece.radius_mm <= allowed)[along & surface].all()
        short = bold(follow=1.0, turn_deg=40.0, at=0.5, reach_mm=0.1 * float(length[0, 0]))
        short_here = changed(plain, small(with_mark(scene, piece, short))) & surface
        assert (np.abs(truth.along[0] - 0.5) <= 0.1 + 3 * pixel / length)[short_here].all()


def test_repeated_lines_lie_side_by_side() -> None:
    scene, piece = bare(Kind.ELBOW, 2)
    one = changed(small(scene), small(with_mark(scene, piece, bold(follow=2.0, at=0.5))))
    many = bold(follow=2.0, at=0.5, repeats=2.0, pitch_mm=0.3 * piece.radius_mm)
    five = changed(small(scene), small(with_mark(scene, piece, many)))
    assert five[one].mean() > 0.9
    assert five.sum() > 1.5 * one.sum()


FACTORS: dict[str, float] = {
    "half_width_mm": 9.0, "opacity": 0.4, "patchiness": 0.9, "wobble_mm": 20.0, "dashes": 1.0,
    "roughness": 0.05, "metallic": 1.0, "follow": 1.0, "at": 0.3, "reach_mm": 30.0,
    "repeats": 2.0, "raised": 0.8, "rim": 0.8,
}  # fmt: skip


@pytest.mark.parametrize("name", FACTORS)
def test_every_factor_of_a_mark_changes_the_picture(name: str) -> None:
    scene, piece = bare(Kind.ELBOW, 2)
    base = replace(bold(follow=2.0, at=0.5), half_width_mm=0.08 * piece.radius_mm)
    other = replace(base, **{name: FACTORS[name]})  # type: ignore[arg-type]
    difference = np.abs(
        small(with_mark(scene, piece, base)).rgb - small(with_mark(scene, piece, other)).rgb
    )
    assert difference.max() > 0.01
