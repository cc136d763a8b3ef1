"""The compiled renderer against the numpy one."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fittings.words import Kind
from synthetic import native
from synthetic.render import Stages, render
from synthetic.sample import sample_scene
from synthetic.scene import Piece

WIDTH, HEIGHT = 96, 64


@pytest.fixture(scope="module")
def stages() -> Stages:
    if not any(map(shutil.which, ("cc", "gcc", "clang"))):
        pytest.skip("no C compiler here")
    found = native.native_stages()
    assert found is not None
    return found


def _thick(piece: Piece) -> Piece:
    return replace(
        piece,
        wall_mm=max(piece.wall_mm, 0.06 * piece.radius_mm),
        second_wall_mm=max(piece.second_wall_mm, 0.06 * piece.second_radius_mm),
    )


@pytest.mark.parametrize(
    "kinds", [(Kind.ELBOW,), (Kind.TEE,), (Kind.REDUCER,), (), (Kind.TEE, Kind.ELBOW)]
)
def test_compiled_pictures_are_those_of_numpy(stages: Stages, kinds: tuple[Kind, ...]) -> None:
    """On walls that are a pixel thick or more. Normals are taken over 0.35 of a pixel, and across a
    thinner wall they hang on where the march stopped, which each way does at a step of its own."""
    part_equal, seam_equal, close, along = [], [], [], []
    for index in range(3):
        scene = sample_scene(np.random.default_rng([33, index]), kinds)
        # JPEG turns a difference in the last bit into one of a whole step.
        quiet = replace(scene.effects, jpeg_quality=0.0, first_jpeg_quality=0.0)
        pieces = tuple(_thick(piece) for piece in scene.pieces)
        scene = replace(scene, effects=quiet, pieces=pieces)
        a, b = render(scene, WIDTH, HEIGHT), render(scene, WIDTH, HEIGHT, stages)
        part_equal.append(np.mean(a.truth.part == b.truth.part))
        seam_equal.append(np.mean(a.truth.seam == b.truth.seam))
        difference = np.abs(a.rgb - b.rgb).max(axis=1)
        close.append(np.mean(difference < 0.05))
        along.append(np.mean(np.abs(a.truth.along - b.truth.along) < 0.01))
        assert difference.mean() < 0.004
    # House tolerance for labels: 99.5 % equal. Pixels differ where a ray just grazes an edge.
    assert min(part_equal) >= 0.995
    assert min(seam_equal) >= 0.995
    assert min(close) >= 0.985
    assert min(along) >= 0.995


def test_loading_leaves_small_numbers_alone(stages: Stages) -> None:
    """Linking with -ffast-math would flush denormal numbers to zero in the whole process."""
    assert stages
    assert np.float64(1e-310) * np.float64(0.5) > 0.0


def test_without_a_compiler_there_is_one_line_and_no_stages(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    monkeypatch.setattr(native, "cache_folder", lambda: tmp_path)
    monkeypatch.setattr(shutil, "which", lambda _: None)
    native.native_stages.cache_clear()
    try:
        assert native.native_stages() is None
        assert native.native_stages() is None
    finally:
        native.native_stages.cache_clear()
    err = capsys.readouterr().err
    assert len(err.splitlines()) == 1
    assert "no C compiler" in err
    assert "numpy" in err


def test_a_compiler_that_fails_is_named(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    monkeypatch.setattr(native, "cache_folder", lambda: tmp_path)
    monkeypatch.setattr(native, "c_source", lambda _: "this is no C")
    native.native_stages.cache_clear()
    try:
        assert native.native_stages() is None
    finally:
        native.native_stages.cache_clear()
    assert "failed" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_the_cache_follows_the_users_setting(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert native.cache_folder() == tmp_path / "seamtriage" / "render"
    monkeypatch.delenv("XDG_CACHE_HOME")
    assert native.cache_folder().is_relative_to(Path.home())
