"""Real surfaces on rendered pieces."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import torch
from PIL import Image

from models import textures
from models.batches import (
    draw,
    draw_textures,
    fixed_arrays,
    render_drawn,
    shares,
    stages_on,
    texture_places,
)
from models.photographs import NoPhotographs
from models.textures import STEPS, STRENGTH, sample_texture

SEED = (5, 0, 0)
SIZE = (64, 96)


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, ...]:
    folder = tmp_path_factory.mktemp("surfaces")
    spots = np.random.default_rng(1).integers(40, 200, (80, 80, 3)).astype(np.uint8)
    Image.fromarray(spots).resize((240, 240)).save(folder / "spots.png")
    Image.new("RGB", (64, 64), (90, 80, 70)).save(folder / "even.png")
    return (folder / "spots.png", folder / "even.png")


def test_a_texture_changes_light_by_a_bounded_factor_whose_mean_is_none(
    files: tuple[Path, ...],
) -> None:
    for seed in range(30):
        packed = sample_texture(np.random.default_rng(seed), files[:1], *SIZE)
        assert packed.shape == (*SIZE, 3)
        depth = (packed.astype(float) - 128.0) / STEPS
        assert abs(depth.mean()) < 0.02
        assert 0.5 * STRENGTH[0] < depth.mean(2).std() < 1.1 * STRENGTH[1]
    even = sample_texture(np.random.default_rng(0), files[1:], *SIZE)
    assert (even == 128).all()  # nothing is made out of nothing


def test_textures_change_the_pieces_they_lie_on_and_no_truth(
    files: tuple[Path, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Strong ones: of a faint texture a greasy lens or noise may leave next to nothing."""
    monkeypatch.setattr(textures, "STRENGTH", (STRENGTH[1], STRENGTH[1]))
    drawn = {name: torch.from_numpy(value) for name, value in draw(SEED, 32).items()}
    laid = {
        name: torch.from_numpy(value)
        for name, value in draw_textures(SEED, 32, *SIZE, files[:1]).items()
    }
    cpu = torch.device("cpu")
    run, fixed = stages_on(cpu), fixed_arrays(cpu)
    with torch.no_grad():
        plain = render_drawn(drawn, *SIZE, run, fixed)
        textured = render_drawn(drawn | laid, *SIZE, run, fixed)
    for name in ("part", "along", "around_cos", "around_sin", "kind"):
        assert torch.equal(plain[name], textured[name]), name
    changed = (plain["image"] - textured["image"]).abs().mean(1)
    at = texture_places(32)
    others = np.setdiff1d(np.arange(32), at)
    assert float(changed[others].max()) == 0.0
    pieces = [i for i in at if int((plain["part"][i] > 0).sum()) > 200]
    assert len(pieces) >= 3
    for i in pieces:
        assert float(changed[i][plain["part"][i] > 0].mean()) > 0.003, i


def test_every_sort_of_picture_gets_textures() -> None:
    share, at = shares(96), set(texture_places(96).tolist())
    for first, count in (
        (0, share.singles),
        (share.singles, share.singles),
        (3 * share.singles, share.groups),
        (96 - share.items, share.items),
    ):
        assert 0 < len(at & set(range(first, first + count))) < count


def test_a_spoilt_file_is_named(tmp_path: Path) -> None:
    spoilt = tmp_path / "spoilt.jpg"
    spoilt.write_bytes(b"no picture")
    with pytest.raises(NoPhotographs, match=r"spoilt\.jpg"):
        sample_texture(np.random.default_rng(0), (spoilt,), 8, 8)
