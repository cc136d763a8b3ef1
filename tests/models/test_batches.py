"""Training batches on the CPU: their shares, and collages for all that is no fitting."""

from __future__ import annotations

import numpy as np
import pytest
import torch

from fittings.words import Kind
from models.batches import (
    GROUP,
    Photographs,
    collage_places,
    draw,
    draw_collages,
    fixed_arrays,
    render_drawn,
    shares,
    stages_on,
)
from synthetic.packing import NAMES
from synthetic.sample import PIECE_KINDS

CPU = torch.device("cpu")
SIZE = (64, 96)
SEED = (5, 0, 0)


@pytest.fixture(scope="module")
def batches() -> tuple[dict, dict]:
    """The same 32 pictures without and with collages."""
    drawn = {name: torch.from_numpy(value) for name, value in draw(SEED, 32).items()}
    collages = torch.from_numpy(draw_collages(SEED, 32, *SIZE, Photographs()))
    run, fixed = stages_on(CPU), fixed_arrays(CPU)
    with torch.no_grad():
        plain = render_drawn(drawn, *SIZE, run, fixed)
        collaged = render_drawn(drawn | {"collages": collages}, *SIZE, run, fixed)
    return plain, collaged


def test_collages_leave_the_truth_and_the_pieces_alone(batches: tuple[dict, dict]) -> None:
    plain, collaged = batches
    for name in ("part", "along", "around_cos", "around_sin", "kind"):
        assert torch.equal(plain[name], collaged[name]), name
    # What is asked of a seam follows from the contrast in the finished picture, where the blur
    # mixes in what lies behind: at the thresholds it may change.
    differs = (plain["seam_weight"] != collaged["seam_weight"]).flatten(1).any(1)
    assert int(differs.sum()) <= 2
    at = collage_places(32)
    changed = (plain["image"] - collaged["image"]).abs().mean(1)  # (B, h, w)
    others = np.setdiff1d(np.arange(32), at)
    assert float(changed[others].max()) == 0.0
    for i in at:
        piece = plain["part"][i] > 0
        assert float(changed[i][~piece].mean()) > 0.05, i
        if int(piece.sum()) > 400:  # blur and JPEG carry a little of the surroundings into it
            assert float(changed[i][piece].median()) < 0.03, i


def test_collages_alone_are_pictures_without_a_fitting(batches: tuple[dict, dict]) -> None:
    share = shares(32)
    alone = collage_places(32)[-(share.items // 2) :]
    assert (batches[1]["kind"][alone] == Kind.NONE.label).all()
    assert (batches[1]["part"][alone] == 0).all()
    behind = set(collage_places(32)) - set(alone)
    assert max(behind) < GROUP * share.singles


def test_plain_scenes_are_asked_for_by_share() -> None:
    some, plain, again = (draw(SEED, 32, share) for share in (0.0, 1.0, 1.0))
    assert not np.array_equal(some["rows_elbow"], plain["rows_elbow"])
    assert np.array_equal(plain["rows_elbow"], again["rows_elbow"])
    assert np.array_equal(some["rows_none"], plain["rows_none"])


def test_wound_things_change_the_marks_of_single_pieces_alone() -> None:
    without, wound = draw(SEED, 32), draw(SEED, 32, wound_share=1.0)
    singles = shares(32).singles
    names = list(NAMES)
    opacity = NAMES["piece.marks.0.opacity"]
    for kind in PIECE_KINDS:
        a, b = without[f"rows_{kind.value}"], wound[f"rows_{kind.value}"]
        changed = {names[i] for i in np.flatnonzero((a != b).any(0))}
        assert changed
        assert all(name.startswith("piece.marks.0.") for name in changed)
        assert (b[:singles, opacity] > 0.6).all()
        assert np.array_equal(a[singles:], b[singles:])
    assert np.array_equal(without["rows_none"], wound["rows_none"])
