"""The teacher says at first what the small network says, and its trunk stays what it was."""

from __future__ import annotations

from pathlib import Path

import pytest
import torch

from models.checkpoints import CheckpointError
from models.lite_trunk import CHANNELS, EMBEDDING, LiteTrunk, load_lite_trunk
from models.network import SeamNetwork
from models.teacher import Teacher, taught_loss

PICTURE = torch.rand(2, 3, 64, 96, generator=torch.Generator().manual_seed(3))


def test_the_trunk_has_the_published_size_and_strides() -> None:
    """4.7 M parameters with the classifier of 1000 classes (Liu, "Higher accuracy on vision models
    with EfficientNet-Lite", 2020; from memory)."""
    trunk = LiteTrunk()
    classifier = 1000 * (EMBEDDING + 1)
    assert sum(p.numel() for p in trunk.parameters()) + classifier == pytest.approx(4.7e6, rel=0.02)
    features, embedding = trunk(PICTURE)
    sizes = [tuple(f.shape[1:]) for f in features]
    assert sizes == [(c, 64 // s, 96 // s) for c, s in zip(CHANNELS, (8, 16, 32), strict=True)]
    assert embedding.shape == (2, EMBEDDING)


def test_the_trunk_is_read_in_order_and_other_files_are_refused(tmp_path: Path) -> None:
    trunk = LiteTrunk()
    torch.nn.init.normal_(next(trunk.parameters()))
    theirs = {f"their.{i}": value for i, value in enumerate(trunk.state_dict().values())}
    path = tmp_path / "lite.pth"
    torch.save({**theirs, "_fc.weight": torch.zeros(1000, EMBEDDING)}, path)
    again = load_lite_trunk(path)
    assert torch.equal(again(PICTURE)[1], trunk(PICTURE)[1])
    torch.save(dict(list(theirs.items())[1:]), path)
    with pytest.raises(CheckpointError, match=r"lite\.pth"):
        load_lite_trunk(path)


def test_a_teacher_begins_as_the_small_network_and_leaves_its_trunk_alone() -> None:
    torch.manual_seed(0)
    small = SeamNetwork().eval()
    teacher = Teacher()
    teacher.load_state_dict({**teacher.state_dict(), **small.state_dict()})
    with torch.no_grad():
        for ours, theirs in zip(small(PICTURE), teacher.eval()(PICTURE), strict=True):
            torch.testing.assert_close(ours, theirs)
    trunk = {name: value.clone() for name, value in teacher.photo.state_dict().items()}
    teacher.train()
    output = teacher(PICTURE)
    torch.stack([o.float().square().mean() for o in output]).sum().backward()
    moved = [n for n, p in teacher.named_parameters() if p.grad is not None]
    assert any(name.startswith("wide2") for name in moved)
    assert not any(name.startswith("photo.") for name in moved)
    assert all(torch.equal(trunk[n], value) for n, value in teacher.photo.state_dict().items())


def test_what_a_teacher_says_is_matched_best_by_saying_the_same() -> None:
    torch.manual_seed(1)
    network = SeamNetwork().eval()
    targets = {"part": torch.full((2, 32, 48), 2)}
    with torch.no_grad():
        taught = network(PICTURE)
    at_home = taught_loss(taught, taught, targets)
    for name in taught._fields:
        other = taught._replace(**{name: getattr(taught, name) + torch.randn(1, 1) * 0.0})
        assert taught_loss(other, taught, targets) == pytest.approx(float(at_home), abs=1e-6)
        noise = torch.randn_like(getattr(taught, name))
        other = taught._replace(**{name: getattr(taught, name) + noise})
        if name == "surface":  # learnt only where the teacher knows the place
            sure = taught._replace(surface=taught.surface + 2.0)
            assert taught_loss(taught, sure, targets) > taught_loss(sure, sure, targets)
        else:
            assert taught_loss(other, taught, targets) > at_home
