"""Parts of photographs that stand for what is no fitting."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from models.batches import Photographs, collage_places, draw_collages
from models.photographs import NoPhotographs, list_photographs, sample_photograph


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    ramp = np.linspace(0, 255, 90, dtype=np.uint8)[None, :, None].repeat(60, 0).repeat(3, 2)
    Image.fromarray(ramp).save(tmp_path / "wide.png")
    (tmp_path / "deeper").mkdir()
    Image.fromarray(ramp.swapaxes(0, 1).copy()).save(tmp_path / "deeper" / "tall.jpg")
    return tmp_path


def test_every_sample_has_the_size_asked_for_and_the_same_seed_gives_it_again(folder: Path) -> None:
    files = list_photographs(folder)
    assert [f.name for f in files] == ["tall.jpg", "wide.png"]
    for seed in range(20):
        first, again = (
            sample_photograph(np.random.default_rng(seed), files, 48, 64) for _ in range(2)
        )
        assert first.shape == (48, 64, 3)
        assert first.dtype == np.uint8
        assert np.array_equal(first, again)


def test_a_part_keeps_what_the_photograph_shows(folder: Path) -> None:
    wide = (folder / "wide.png",)
    part = sample_photograph(np.random.default_rng(3), wide, 48, 64).astype(float)
    across = part.mean(axis=(0, 2))
    assert abs(np.corrcoef(across, np.arange(64))[0, 1]) > 0.9  # still a ramp, mirrored or not
    assert part.std(axis=0).max() < 2.0  # and the same in every row


def test_photographs_take_their_share_of_the_collages(folder: Path) -> None:
    seed, files = (1, 0, 0), list_photographs(folder)
    none, half, every = (
        draw_collages(seed, 32, 48, 64, Photographs(files, share)) for share in (0.0, 0.5, 1.0)
    )
    assert len(none) == len(collage_places(32))
    like_every = (half == every).all(axis=(1, 2, 3))
    like_none = (half == none).all(axis=(1, 2, 3))
    assert not (none == every).all(axis=(1, 2, 3)).any()
    assert 0 < like_every.sum() < len(half)
    assert like_every.sum() + like_none.sum() == len(half)


def test_a_folder_without_pictures_and_a_spoilt_picture_are_named(tmp_path: Path) -> None:
    with pytest.raises(NoPhotographs, match=tmp_path.name):
        list_photographs(tmp_path)
    spoilt = tmp_path / "spoilt.jpg"
    spoilt.write_bytes(b"no picture")
    with pytest.raises(NoPhotographs, match=r"spoilt\.jpg"):
        sample_photograph(np.random.default_rng(0), (spoilt,), 8, 8)
